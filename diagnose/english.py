"""Some English: which words mean little, deny, doubt or soften; how spelling varies.

Nothing of any trade stands in here.
"""

from __future__ import annotations

import re
import unicodedata
from functools import cache, lru_cache
from typing import Any

from diagnose.language import words


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


def _forms(groups: str) -> dict[str, str]:
    """'take took taken, …' → the first word of each group by the others."""
    split = [group.split() for group in groups.split(",")]
    return {form: first for first, *forms in split for form in forms}


NEGATORS = _set(
    "no not never none nor neither without cannot cant dont doesnt didnt isnt arent "
    "wasnt werent wont wouldnt couldnt hasnt havent hadnt aint nothing nobody hardly "
    "barely skip skipped skips omit omitted lacks zero"
)
NEGATORS_OF = {
    "free": ("of", "from"),
    "instead": ("of",),
    "forget": ("to",),
    "forgot": ("to",),
    "forgotten": ("to",),
}
HARMLESS = _set(
    "matter idea sure clue doubt wonder only just know fix stop help rid avoid away "
    "understand good right ok okay nice happy normal why explain"
)
"""Words that take the denial off a negator before them: 'no idea', 'can't stop'."""
DOUBTS = _set(
    "thought maybe perhaps might may could should if whether wonder wondering "
    "wondered suspect suspected suspects guess guessed guessing assume assumed "
    "suppose supposed possibly unsure blame blamed blames blaming worry worried "
    "afraid expect expected hope hoped hoping theory"
)
SENSED = _set("see feel hear smell count read tell you we i one")
"""After 'could' or 'if', these say that something was seen, not supposed."""
HEDGES = _set(
    "slight slightly somewhat kinda sorta partly partially occasional occasionally "
    "mildly mild minor some think believe probably"
)
SMALL = _set("bit little few touch tad")
"""Hedges where 'a' stands before them."""
OR = _set("or nor")
BREAKS = _set("but however although though except because since whereas yet unless so")
ASKING = _set(
    "is are was were do does did could can should has have had will would may might am"
)
WH = _set("why how what which where when who that")
COMPARING = _set("same unlike otherwise elsewhere formerly previously")
"""In a clause with these, something else is held beside what is spoken of."""
BEGAN = _set(
    "since began begin begun start starts started ever after until till now only "
    "different change changed changing switch switched swap swapped another other "
    "others same time still"
)
"""What speaks of a beginning: 'a new lamp' is none by itself."""
OTHER = _set("other others another")
"""A number after these is of something beside what is spoken of."""
PRESENT = _set("present visible seen found noticed")
SUBJECTS = _set("the i my we it there they this our")
FILLERS = _set(
    "a about after all also already an and another any anything around "
    "as at bad badly be been before being both by completely damn during each eh ever "
    "every everywhere for from get gets getting go goes going got gotten hello help "
    "her here hey hi him his id im in into issue issues its ive just keep keeps kept "
    "let lets like look looked looking looks lot lots me much must mustnt need needs "
    "now of oh ok okay on onto other own please pretty problem problems quite "
    "rather really said say says seem seemed seems shall she he shouldnt some "
    "something such than thank thanks their them then theres these thing things "
    "those to totally trouble um us very want wants well whats while with "
    "you your"
)
STOP = NEGATORS | DOUBTS | BREAKS | ASKING | WH | OR | SUBJECTS | FILLERS
NUMBERS = {
    word: str(number)
    for number, word in enumerate(
        ("one", "two", "three", "four", "five", "six", "seven", "eight", "nine", "ten"),
        start=1,
    )
}
EVERYDAY = _set(
    "white yellow orange black red green blue sun paper flood machine hand flat round "
    "sharp point hang hanging stand lay laid paint painted roller lock use lamp led uv "
    "film plastic glass metal wood wooden board solvent one two three four more way "
    "kind number side"
)
"""Words too common to mean a choice without a word on what it is a choice of."""
IRREGULAR = _forms(
    "bend bent, bite bitten, bleed bled, blow blew blown, break broke broken, come "
    "came, eat ate eaten, fall fell fallen, feel felt, fluid runny, freeze froze "
    "frozen, give gave given, grow grew grown, hang hung, hold held, lay laid, leave "
    "left, light lit, lose lost, make made, run ran, shine shone, shrink shrank "
    "shrunk, sink sank sunk, slide slid, stand stood, stick stuck, swell swollen, take "
    "took taken, tear tore torn, through thru, tooth teeth, wear wore worn"
)
ALIKE = _forms(
    "dull blunt, shut closed close, middle centre center, patchy blotchy, "
    "begin start, hard difficult, small tiny little, vanish disappear, "
    "entire whole, big large huge, loose slack floppy baggy, edge border"
)
"""Words that mean the same."""
SPELLINGS = [
    (re.compile(pattern), to)
    for pattern, to in (
        (r"(?<=[a-z]{3})our(?=(s|ed|ing|less|y)?$)", "or"),
        (r"(?<=[a-z]{3})is(?=(e|ed|es|er|ers|ing|ation)$)", "iz"),
        (r"(?<=[a-z][bt])re(?=s?$)", "er"),
        (r"^mould", "mold"),
        (r"^grey", "gray"),
        (r"^aluminium", "aluminum"),
        (r"^gauge", "gage"),
        (r"^draught", "draft"),
    )
]
ENDINGS = ("iest", "ier", "est", "er", "en", "i", "e")
APOSTROPHES = {ord(mark): None for mark in "'’ʼ"}
SPELT = re.compile(r"our|is|[bt]re|^(?:mould|grey|alumin|gauge|draught)")
"""What is in all words that are spelt in two ways."""
STEMMED = re.compile(r"(?:[aeo]l|[eo]r|a?nt|ent|ed|ful|ic|ing|ion|ism|ll|[seyi])$")
"""The endings that a stemmer takes off or changes; it is slow, so others are kept."""
VOWELS_AND_DOUBLES = re.compile(r"[aeiouy]|(.)(?=\1)")


@lru_cache(20_000)
def plainly(word: str) -> str:
    """A word in lower case without accents, apostrophes or odd letter forms."""
    if not word.isascii():
        word = unicodedata.normalize("NFKD", word)
        word = "".join(c for c in word if not unicodedata.combining(c))
    return word.lower().translate(APOSTROPHES)


@cache
def _stemmer(name: str) -> Any:
    from snowballstemmer import stemmer  # type: ignore[import-untyped]

    return stemmer(name)


def root_of(word: str) -> str:
    """The root of a word, whatever its spelling and ending.

    Where the language in use has a stemmer, it takes the place of the English one.
    """
    return _root_of(word, words().stemmer)


@lru_cache(20_000)
def _root_of(word: str, stemmer: str) -> str:
    if word in NUMBERS or word[0].isdigit():
        return NUMBERS.get(word, word)
    word = IRREGULAR.get(word, word)
    word = ALIKE.get(word, word)
    if SPELT.search(word):
        for pattern, to in SPELLINGS:
            word = pattern.sub(to, word)
    if stemmer:
        return str(_stemmer(stemmer).stemWord(word))
    stem: str = _stemmer("english").stemWord(word) if STEMMED.search(word) else word
    for ending in ENDINGS:
        short = stem.removesuffix(ending)
        if short != stem and len(short) >= 4 - (len(ending) == 1):
            stem = short[:-1] if short[-1] == short[-2] else short
            break
    return stem.removesuffix("ur") if stem.endswith("osur") else stem


def likely_slip(word: str, meant: str) -> bool:
    """Whether one word may be a slip of the pen for another that is near it."""
    if len(word) < 7 and word[0] != meant[0]:
        return False
    if len(word) >= 6:
        word = VOWELS_AND_DOUBLES.sub("", word)
        meant = VOWELS_AND_DOUBLES.sub("", meant)
    elif len(word) == len(meant):
        return sorted(word) == sorted(meant)
    return len(word) != len(meant) or sorted(word) == sorted(meant)
