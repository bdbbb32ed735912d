"""From what a printer writes to findings.

Nothing about screens stands in here: what is understood comes from the names and
phrases of the findings. This module only knows some English: which words mean
little, which ones deny, doubt or soften, and how spelling varies.

A text is cut into words, and each word taken back to its root. Every phrase is a
pattern of roots; a root tells more the fewer findings use it and the more phrases
of its own finding do. A pattern is met where enough of its weight stands close
together; the heaviest patterns take their words first. Then denials and doubts
before, among and after those words are looked for.
"""

from __future__ import annotations

import re
import unicodedata
from bisect import bisect_left
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from functools import cache, lru_cache
from math import inf, log2
from typing import Any

from diagnose.readings import SAME
from diagnose.records import Finding, Knowledge

# How much is enough. Weights count in words that hardly any finding has (1.0).

WEAK = 0.8
"""A phrase that weighs less says nothing."""
ENOUGH, LEAST, MOST = 0.5, 1.4, 0.8
"""A phrase is met by half of its weight, but by at least so much, unless that is
more than the highest share asked for."""
ALONE, CHOSEN = 0.85, 0.6
"""The share asked for where one word stands for a phrase, or where it is denied; the
share of a choice's name."""
ENOUGH_OF_PAST = 0.7
DENIAL = 0.5
TELLING = 0.6
THIN = 1.4
THICK = ("sign",)
LOOSE = 0
SHARE_WHOLE = True
NUMS = False
MINE = 0.4
MINE_P = 0.4
SYN = True
"""A word that tells so much means something by itself."""
BASE, CORE = 0.7, 0.6
"""What a root tells by itself, and by the share of the finding's phrases it is in."""
SLIP, EXTRA, SPREAD = 0.85, 0.8, 0.3
"""What a word spelt wrongly tells, and a word close by that other phrases of the
finding have; how much words in between take away."""
FITS, ABOUT = 0.9, 0.33
"""Meanings stay that go nearly as well with the words around as the best; what the
words near a number have to tell of a reading."""
RARE = 2
"""A root of fewer findings counts as one of so many."""
SURE = 0.84
"""Where this share of a phrase is there, nothing is missing but a slip of the pen."""
SLACK, BESIDE, SCOPE, NEAR = 4, 1, 12, 8
"""Words in between; words beside; reach of a doubt; words around a number."""
FAR, HAIR = 1000, 1e-9


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


def _forms(groups: str) -> dict[str, str]:
    """'take took taken, …' → the first word of each group by the others."""
    split = [group.split() for group in groups.split(",")]
    return {form: first for first, *forms in split for form in forms}


NEGATORS = _set(
    "no not never none nor neither without cannot cant dont doesnt didnt isnt arent "
    "wasnt werent wont wouldnt couldnt hasnt havent hadnt aint nothing hardly barely "
    "skip skipped skips omit omitted lacks zero"
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
PRESENT = _set("present visible seen found noticed")
SUBJECTS = _set("the i my we it there they this our")
FILLERS = _set(
    "a about after again all also already always an and another any anything around "
    "as at bad badly be been before being both by completely damn during each eh ever "
    "every everywhere for from get gets getting go goes going got gotten hello help "
    "her here hey hi him his id im in into issue issues its ive just keep keeps kept "
    "let lets like look looked looking looks lot lots me much must mustnt need needs "
    "now of oh ok okay on only onto other own please pretty problem problems quite "
    "rather really said say says seem seemed seems shall she he shouldnt some "
    "something still such than thank thanks their them then theres these thing things "
    "those to too totally trouble um us very want wants well whats while with "
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
    "sharp point hang hanging stand roller lock use lamp led uv film one two three four"
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
WORD = re.compile(r"\d+(?:[.,:/x]\d+)*|[^\W\d_]+(?:['’ʼ][^\W\d_]+)*")
HARD = re.compile(r"[.!?;…\n]")
SOFT = re.compile(r"[,()–—]|\s-+\s")
VOWELS_AND_DOUBLES = re.compile(r"[aeiouy]|(.)(?=\1)")
PREPOSITION = re.compile(r"\b(?:in|on|at|along|across|from|inside|under|over)\b")
ALTERNATIVES = re.compile(r"[,;]|(?<!\bone )(?<!\btwo )(?<!\bthree )\bor\b")
NUMBER = r"(?>\d+(?:[.,]\d+)?)"
QUANTITY = re.compile(
    rf"(?<![\w.,/:+×-]){NUMBER}(?:\s*;\s*{NUMBER})*(?:\s*±\s*{NUMBER})?"
    r"(?!\s?[-–/:×x]\s?\d)"
)


@dataclass(frozen=True, slots=True)
class Heard:
    """One thing that was understood.

    `value` is 'yes', 'no' or 'somewhat', the id of a choice, or for a reading its
    number and unit ('14 N/cm'). `words` stands at `start` to `end` of the text.
    """

    finding: str
    value: str
    words: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Unclear:
    """Words that mean several findings: ask which."""

    words: str
    start: int
    end: int
    findings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Understood:
    """All that was made of a text; `left` are stretches nothing was made of."""

    heard: tuple[Heard, ...]
    unclear: tuple[Unclear, ...]
    left: tuple[str, ...]


@dataclass(slots=True)
class _Word:
    """A word of a text; `roots` is empty where it has no meaning of its own.

    `place` counts the words with a meaning, and jumps at commas and clause ends.
    """

    text: str
    start: int
    end: int
    clause: int
    comma: bool
    roots: tuple[str, ...] = ()
    trust: float = 1.0
    place: int = 0


@dataclass(frozen=True, slots=True)
class _Saying:
    """A name or a phrase; `value` is empty where it says no value."""

    value: str
    words: list[_Word]
    denied: bool

    def roots(self) -> set[str]:
        return {root for word in self.words for root in word.roots}


@dataclass(frozen=True, slots=True)
class _Pattern:
    """Roots that mean one value of a finding where `need` of their weight is met,
    or `alone` of it by one word, and one root at least of each of the `keys`."""

    finding: str
    value: str
    denied: bool
    weights: dict[str, float]
    need: float
    alone: float
    total: float
    keys: tuple[frozenset[str], ...] = ()


@dataclass(frozen=True, slots=True)
class _Match:
    """A pattern met at some words of the text; `share` is how much of it is there."""

    pattern: _Pattern
    at: tuple[int, ...]
    score: float
    share: float


@dataclass(frozen=True, slots=True)
class _Said:
    """Words that were given to a match, and what they mean alike; `share` is how
    much of the pattern they are."""

    at: tuple[int, ...]
    patterns: list[_Pattern]
    share: float


@dataclass(frozen=True, slots=True)
class _Tone:
    """How something is said."""

    denied: bool
    doubted: bool
    softened: bool


class Listener:
    """Understands free text by the names and phrases of the findings."""

    def __init__(self, knowledge: Knowledge) -> None:
        self._findings = knowledge.findings
        cut = [
            (finding.id, value, _cut(text))
            for finding in self._findings.values()
            for value, text in _sayings(finding)
        ]
        words = {word.text for _, _, said in cut for word in said}
        self._vocabulary = words - STOP
        if not NUMS: self._vocabulary = {w for w in self._vocabulary if not w[0].isdigit()}
        self._beginnings = {word[:6] for word in self._vocabulary if len(word) > 5}
        self._roots = {_root(word) for word in self._vocabulary}
        self._everyday = {_root(word) for word in EVERYDAY}
        self._known = {
            word: self._halves(word) or (_root(word),)
            for word in sorted(self._vocabulary)
        }
        self._sayings: dict[str, list[_Saying]] = {id: [] for id in self._findings}
        for id, value, said in cut:
            said = self._with_roots(said)
            denied = sum(_denies(said, at) for at in range(len(said))) % 2 == 1
            self._sayings[id].append(_Saying(value, said, denied))
        self._uses = {
            id: Counter(root for saying in said for root in saying.roots())
            for id, said in self._sayings.items()
        }
        self._uses_by = {
            (id, denied): Counter(
                root for one in said if one.denied == denied for root in one.roots()
            )
            for id, said in self._sayings.items()
            for denied in (True, False)
        }
        spread = Counter(root for uses in self._uses.values() for root in uses)
        self._totals = Counter[str]()
        for uses in self._uses.values():
            self._totals.update(uses)
        most = log2(1 + max(1, len(self._findings)) / RARE)
        self._rare = {
            root: log2(1 + len(self._findings) / max(RARE, uses)) / most
            for root, uses in spread.items()
        }
        self._patterns = [one for id in self._findings for one in self._patterns_of(id)]
        self._index: dict[str, list[int]] = defaultdict(list)
        for n, pattern in enumerate(self._patterns):
            for root in pattern.weights:
                self._index[root].append(n)
        self._learn_units()

    def listen(self, text: str) -> Understood:
        """What a text says, with the words that it was taken from."""
        words = self._with_roots(_cut(text))
        taken: set[int] = set()
        heard = list(self._readings(text, words, taken))
        unclear: list[Unclear] = []
        asked = _asked(text, words)
        before: tuple[int, _Tone] | None = None
        for said in self._settle(words, taken):
            tone = _tone(words, said.at, taken, before)
            before = (said.at[-1], tone)
            value = self._value(said, tone)
            if value is None or words[said.at[0]].clause in asked:
                continue
            start, end = words[said.at[0]].start, words[said.at[-1]].end
            ids = tuple(dict.fromkeys(pattern.finding for pattern in said.patterns))
            if len(ids) == 1:
                heard.append(Heard(ids[0], value, text[start:end], start, end))
            elif value != "no":
                unclear.append(Unclear(text[start:end], start, end, ids))
        latest: dict[str, Heard] = {}
        for one in sorted(heard, key=lambda h: h.start):
            earlier = latest.get(one.finding, one)
            between = text[earlier.start : one.start].lower().split()
            if earlier.value != one.value and OR & set(between):
                del latest[one.finding]
            else:
                latest[one.finding] = one
        return Understood(
            heard=tuple(
                one
                for id, one in latest.items()
                if self._findings[id].measured_by not in latest
            ),
            unclear=tuple(u for u in unclear if not latest.keys() & set(u.findings)),
            left=tuple(_left(text, words, taken)),
        )

    # from sayings to patterns

    def _rarity(self, root: str) -> float:
        """How much a root tells: the fewer findings use it, the more; at most 1."""
        return self._rare.get(root, 1.0)

    def _tells(self, root: str) -> bool:
        """Whether a root is rare enough to mean something by itself."""
        return self._rarity(root) >= TELLING

    def _weigh(self, id: str, words: Iterable[_Word]) -> dict[str, float]:
        """How much each root of a saying tells about its finding."""
        weights: dict[str, float] = {}
        for word in words:
            for root in word.roots:
                often = self._uses[id][root] / len(self._sayings[id])
                weights[root] = self._rarity(root) * (BASE + CORE * often)
        return weights

    def _patterns_of(self, id: str) -> Iterator[_Pattern]:
        """All patterns of a finding; a reading is understood by its numbers."""
        finding = self._findings[id]
        if finding.kind == "choice":
            yield from self._choices(id)
        elif finding.kind == "yes-no":
            for saying in self._sayings[id]:
                weights = self._weigh(id, saying.words)
                total = sum(weights.values()) + DENIAL * saying.denied
                enough = ENOUGH if finding.role in ("sign", "check") else ENOUGH_OF_PAST
                need = min(max(total * enough, LEAST), total * max(MOST,enough))
                if total >= WEAK or len(saying.words) == 1:
                    yield _Pattern(
                        id, "yes", saying.denied, weights, need, total * ALONE, total
                    )
            if finding.role == "sign":
                yield from self._head(finding)

    def _head(self, finding: Finding) -> Iterator[_Pattern]:
        """What a sign is first of all: the 'spots' of 'spots in the print'."""
        head, *rest = PREPOSITION.split(finding.name, maxsplit=1)
        for text in re.split(r"[()]|\bor\b", head) if rest else ():
            words = self._with_roots(_cut(text))
            weights = self._weigh(finding.id, words)
            total = sum(weights.values())
            if len(words) < 3 and total > TELLING:
                yield _Pattern(finding.id, "yes", False, weights, total, total, total)

    def _choices(self, id: str) -> Iterator[_Pattern]:
        """The patterns of a choice, from its names and the phrases that hold one."""
        about = self._sayings[id][0].roots()
        values: dict[str, set[str]] = defaultdict(set)
        meant: dict[frozenset[str], set[str]] = defaultdict(set)
        for saying in self._sayings[id]:
            if saying.value:
                meant[frozenset(saying.roots())].add(saying.value)
                for root in saying.roots():
                    values[root].add(saying.value)
        subjects = {root for root, count in self._uses[id].items() if count > 1}
        subjects = (subjects - values.keys() - self._everyday) | about
        for saying in self._sayings[id]:
            weights = self._weigh(id, saying.words)
            said = {v for root in weights.keys() - about for v in values[root]}
            value = saying.value or (said.pop() if len(said) == 1 else "")
            if not value or not weights or len(meant[frozenset(weights)]) > 1:
                continue
            plain = any(
                root in subjects or (root not in self._everyday and self._tells(root))
                for root in weights
            )
            enough = CHOSEN if len(weights) < 4 else SURE
            need = enough * sum(weights.values())
            alone = need if len(weights) == 1 else inf
            own = {_root(word) for word in value.split("-")} & weights.keys()
            others = any(map(self._tells, weights.keys() - own))
            if own and not own & self._everyday and not others:
                need = alone = sum(weights[root] for root in own)
            key = frozenset(root for root in weights if values[root] == {value})
            for root in [""] if plain else sorted(subjects):
                beside = {root: self._rarity(root)} if root else {}
                yield _Pattern(
                    finding=id,
                    value=value,
                    denied=saying.denied,
                    weights=weights | beside,
                    need=need + sum(beside.values()),
                    alone=inf if beside else alone,
                    total=sum((weights | beside).values()),
                    keys=tuple(one for one in (key, frozenset(beside)) if one),
                )

    # words and their roots

    def _with_roots(self, words: list[_Word]) -> list[_Word]:
        """The same words with their roots; known words written apart are joined."""
        made: list[_Word] = []
        for word in words:
            last = made[-1] if made else None
            if last and last.clause == word.clause and not word.comma:
                joined = last.text + word.text
                if joined[:6] in self._beginnings and not self._halves(joined):
                    root = _root(joined)
                    if root in self._roots:
                        last.text, last.end, last.roots = joined, word.end, (root,)
                        continue
            small = word.text in SMALL and last and last.text == "a"
            large = word.text[0].isdigit() and word.text not in self._vocabulary and word.text not in NUMBERS.values()
            if not (small or large or word.text in STOP):
                word.roots, word.trust = self._look_up(word.text)
            made.append(word)
        place = 0
        for n, word in enumerate(made):
            if word.comma or (n and word.clause != made[n - 1].clause):
                place += FAR
            word.place = place
            place += len(word.roots) > 0
        return made

    def _halves(self, word: str) -> tuple[str, ...]:
        """The roots of the two known words that a word is made of, if it is."""
        for at in range(3, len(word) - 2):
            if word[:at] in self._vocabulary and _root(word[at:]) in self._roots:
                return _root(word[:at]), _root(word[at:])
        return ()

    def _look_up(self, word: str) -> tuple[tuple[str, ...], float]:
        """The roots of a word and how sure they are; a slip of the pen is forgiven."""
        roots = self._known.get(word) or self._halves(word) or (_root(word),)
        if roots[0] in self._roots or not 4 <= len(word) <= 30:
            return roots, 1.0
        from rapidfuzz import process
        from rapidfuzz.distance import OSA

        for near, _, _ in process.extract(
            word,
            self._known.keys(),
            scorer=OSA.distance,
            score_cutoff=1 if len(word) < 8 else 2,
            limit=3,
        ):
            if _likely_slip(word, near):
                return self._known[near], SLIP
        return roots, 1.0

    # from words to what is said

    def _settle(self, words: list[_Word], taken: set[int]) -> list[_Said]:
        """Give the words to the heaviest matches, in the order of the text.

        Common words may serve several, and a choice may be named inside a phrase.
        Where the same words mean several findings alike, all of them stay, unless
        the words around go better with one.
        """
        matches = self._matches(words)
        same: dict[tuple[int, ...], list[_Match]] = defaultdict(list)
        for match in matches:
            same[match.at].append(match)
        common = {
            n for n, word in enumerate(words) if not any(map(self._tells, word.roots))
        }
        chosen = set(taken)
        settled: list[_Said] = []
        for match in matches:
            pattern = match.pattern
            mine = taken if pattern.value == "yes" else chosen
            at = tuple(n for n in match.at if n not in mine or n in common)
            if mine.issuperset(at):
                continue
            if at == match.at:
                alike = self._alike(match, same[at], words)
                settled.append(_Said(at, alike, match.share))
            else:
                roots = {root for n in at for root in words[n].roots}
                left = sum(pattern.weights.get(root, 0.0) for root in roots)
                if left < max(pattern.need, pattern.alone) - HAIR:
                    continue
                settled.append(_Said(at, [pattern], left / pattern.total))
            taken.update(at)
            if pattern.value != "yes":
                chosen.update(at)
        return sorted(settled, key=lambda said: said.at)

    def _matches(self, words: list[_Word]) -> list[_Match]:
        """Every pattern that is met, the heaviest first."""
        places: dict[int, list[tuple[int, str]]] = defaultdict(list)
        for at, word in enumerate(words):
            for root in word.roots:
                for n in self._index.get(root, ()):
                    places[n].append((at, root))
        found = [
            match
            for n, hits in places.items()
            for match in self._meet(self._patterns[n], hits, words)
        ]
        return sorted(found, key=lambda match: (-match.score, match.at))

    def _meet(
        self, pattern: _Pattern, hits: list[tuple[int, str]], words: list[_Word]
    ) -> Iterator[_Match]:
        """Where enough of a pattern stands close together."""
        for n, (first, _) in enumerate(hits):
            got: dict[str, int] = {}
            end = words[first].place + len(pattern.weights) + SLACK
            for hit, root in hits[n : n + 40]:
                if words[hit].place > end:
                    break
                got.setdefault(root, hit)
            hits_at = at = tuple(sorted(set(got.values())))
            if pattern.denied and not _denied_near(words, at):
                continue
            if not all(key & got.keys() for key in pattern.keys):
                continue
            weight = sum(
                pattern.weights[r] * words[hit].trust for r, hit in got.items()
            )
            weight += DENIAL * (pattern.denied and pattern.value == "yes")
            share = weight / pattern.total
            if share < (MINE if self._findings[pattern.finding].role in ("sign","check") else MINE_P):
                continue
            if pattern.value == "yes":
                beside = self._beside(pattern, words, at, set(got))
                weight += EXTRA * sum(beside.values())
                at = tuple(sorted({*at, *beside}))
            need = pattern.need
            whole = len(got) == len(pattern.weights)
            thin = pattern.total < THIN and self._findings[pattern.finding].role not in THICK
            if thin and not any(map(self._tells, pattern.weights)):
                span = words[hits_at[-1]].place - words[hits_at[0]].place
                if not whole or span >= len(hits_at) + LOOSE:
                    continue
            if len(at) == 1 and not (whole or any(map(self._tells, got))):
                need = inf
            elif len(at) == 1 and not whole:
                need = pattern.alone
            if weight >= need - HAIR:
                loose = (words[at[-1]].place - words[at[0]].place + 1) / len(at)
                score = weight * min(1.0, weight / pattern.total) / loose**SPREAD
                yield _Match(pattern, at, score, share)

    def _beside(
        self, pattern: _Pattern, words: list[_Word], at: tuple[int, ...], got: set[str]
    ) -> dict[int, float]:
        """Words close by that other phrases of the finding have, and what they tell."""
        least, most = words[at[0]].place - BESIDE, words[at[-1]].place + BESIDE
        uses, found = self._uses_by[pattern.finding, pattern.denied], {}
        for n in range(max(0, at[0] - SCOPE), min(len(words), at[-1] + SCOPE)):
            for root in words[n].roots if least <= words[n].place <= most else ():
                if root in uses and root not in got:
                    got.add(root)
                    share = uses[root] / self._totals[root]
                    found[n] = self._rarity(root) * share**0.4
        return found

    def _alike(
        self, match: _Match, rivals: list[_Match], words: list[_Word]
    ) -> list[_Pattern]:
        """The patterns that these words mean alike."""
        pattern = match.pattern
        alike = [pattern]
        for rival in rivals if match.share > SURE else ():
            same = rival.pattern.denied == pattern.denied and rival.pattern.value == pattern.value
            if rival.share > SURE and (same or rival.pattern.finding == pattern.finding):
                alike.append(rival.pattern)
        around = {
            root
            for word in words[max(0, match.at[0] - SCOPE) : match.at[-1] + SCOPE]
            for root in word.roots
        }
        fits = {
            id: sum(self._rarity(root) for root in around & self._uses[id].keys())
            for id in {pattern.finding for pattern in alike}
        }
        best = max(fits.values())
        return [one for one in alike if fits[one.finding] >= best * FITS]

    def _value(self, said: _Said, tone: _Tone) -> str | None:
        """What is said of the finding; None where it is doubted or says nothing."""
        pattern = said.patterns[0]
        denied = tone.denied != pattern.denied
        plain = pattern.value == "yes" and not pattern.denied and said.share >= ALONE
        if tone.doubted or (denied and not plain):
            return None
        if pattern.value != "yes":
            return pattern.value
        return "no" if denied else "somewhat" if tone.softened else "yes"

    # readings

    def _learn_units(self) -> None:
        """Note how units may be written, and the words that speak of readings."""
        readings = [one for one in self._findings.values() if one.kind == "reading"]
        self._units: dict[str, list[str]] = defaultdict(list)
        for finding in readings:
            for name in _unit_names(finding.unit or ""):
                self._units[name].append(finding.id)
        names = sorted(self._units, key=len, reverse=True)
        self._unit = re.compile(
            r"\s*(?:degrees?\s*|deg\.?\s*|[°º]\s*)?"
            rf"(?P<unit>{'|'.join(map(re.escape, names))})(?![^\W\d_])",
            re.IGNORECASE,
        )
        self._scaled = {one.id for one in readings if "°" in (one.unit or "")}
        measured = Counter[str]()
        for one in self._findings.values():
            if one.kind == "reading" or one.measured_by:
                measured.update(self._uses[one.id])
        self._about = {
            one.id: {
                root: self._rarity(root) * measured[root] / self._totals[root]
                for root in self._uses[one.id]
            }
            for one in readings
        }

    def _readings(
        self, text: str, words: list[_Word], taken: set[int]
    ) -> Iterator[Heard]:
        """Numbers with a unit, or right after the words of a reading."""
        starts = [word.start for word in words]
        for found in QUANTITY.finditer(text) if self._units else ():
            start, end = found.span()
            first = bisect_left(starts, start)
            written = ""
            if unit := self._unit.match(text, end):
                written, end = unit["unit"].lower(), unit.end()
            elif (named := self._unit_before(words, first)) is not None:
                first, start, written = named, words[named].start, words[named].text
            last = bisect_left(starts, end) - 1
            around = words[max(0, first - NEAR) : last + NEAR + 1]
            around = [word for word in around if word.clause == words[first].clause]
            before = [word for word in around if word.start < start]
            after = [word for word in around if word.start >= end]
            ids, near = self._units.get(written, []), [*before, *after]
            if not written and not (after and after[0].roots):
                near = [word for word in before[-4:] if word.roots][-1:]
                ids = [id for id in self._about if id not in self._scaled]
            about = {
                id: self._tell(id, near, words[first].place)
                for id in ids
                if _in_range(self._findings[id], found[0], written)
            }
            id = _most_about(about, written, found[0])
            doubted = any(_doubts(words, n) for n in range(first - len(before), first))
            if id is not None and not doubted:
                taken.update(range(first, last + 1))
                value = _reading(self._findings[id], found[0], written)
                yield Heard(id, value, text[start:end], start, end)

    def _tell(self, id: str, near: list[_Word], place: int) -> float:
        """How much words tell of a reading; half where a comma parts them from it."""
        told: dict[str, float] = {}
        for word in near:
            part = 1.0 if abs(word.place - place) < FAR / 2 else 0.5
            for root in word.roots:
                tells = self._about[id].get(root, 0.0) * part
                told[root] = max(tells, told.get(root, 0.0))
        return sum(told.values())

    def _unit_before(self, words: list[_Word], at: int) -> int | None:
        """Where a unit is named before its number: 'step 5', 'step is 5'."""
        for n in range(at - 1, max(-1, at - 4), -1):
            if words[n].clause != words[at].clause:
                break
            if len(words[n].text) > 2 and words[n].text in self._units:
                return n
            if words[n].roots:
                break
        return None


def _sayings(finding: Finding) -> Iterator[tuple[str, str]]:
    """What may be said for a finding, each with the value it means.

    The value is empty where the words only name what a choice or reading is about.
    """
    for text in (finding.name, *finding.phrases):
        yield "yes" if finding.kind == "yes-no" else "", text
    for choice in finding.choices:
        for text in ALTERNATIVES.split(re.sub(r"\([^)]*\)", "", choice.name)):
            yield choice.id, text


def _plain(word: str) -> str:
    """A word in lower case without accents, apostrophes or odd letter forms."""
    if not word.isascii():
        word = unicodedata.normalize("NFKD", word)
        word = "".join(c for c in word if not unicodedata.combining(c))
    return word.lower().translate(APOSTROPHES)


def _cut(text: str) -> list[_Word]:
    """The words of a text, with the clauses and commas they stand in."""
    words: list[_Word] = []
    clause, end = 0, 0
    for found in WORD.finditer(text):
        between = text[end : found.start()]
        hard = HARD.search(between)
        wrapped = hard and hard[0] == "\n" and words and words[-1].text in STOP
        word = _plain(found[0])
        if words and ((hard and not wrapped) or word in BREAKS):
            clause += 1
        comma = SOFT.search(between) is not None
        end = found.end()
        if word:
            words.append(_Word(word, found.start(), end, clause, comma))
    return words


@cache
def _stemmer() -> Any:
    from snowballstemmer import stemmer  # type: ignore[import-untyped]

    return stemmer("english")


@lru_cache(20_000)
def _root(word: str) -> str:
    """The root of a word, whatever its spelling and ending."""
    if word in NUMBERS or word[0].isdigit():
        return NUMBERS.get(word, word)
    word = IRREGULAR.get(word, word)
    if SYN: word = ALIKE.get(word, word)
    for pattern, to in SPELLINGS:
        word = pattern.sub(to, word)
    stem: str = _stemmer().stemWord(word)
    for ending in ENDINGS:
        short = stem.removesuffix(ending)
        if short != stem and len(short) >= 4 - (len(ending) == 1):
            stem = short[:-1] if short[-1] == short[-2] else short
            break
    return stem.removesuffix("ur") if stem.endswith("osur") else stem


def _likely_slip(word: str, meant: str) -> bool:
    """Whether one word may be a slip of the pen for another that is near it."""
    if len(word) < 7 and word[0] != meant[0]:
        return False
    if len(word) >= 6:
        word = VOWELS_AND_DOUBLES.sub("", word)
        meant = VOWELS_AND_DOUBLES.sub("", meant)
    elif len(word) == len(meant):
        return sorted(word) == sorted(meant)
    return len(word) != len(meant) or sorted(word) == sorted(meant)


def _text(words: list[_Word], at: int) -> str:
    return words[at].text if 0 <= at < len(words) else ""


def _denies(words: list[_Word], at: int) -> bool:
    """Whether the word there denies what follows ('no', but not in 'no idea')."""
    word, following = words[at].text, _text(words, at + 1)
    if word in NEGATORS_OF:
        return following in NEGATORS_OF[word]
    if following in ("get", "go") and _text(words, at + 2) in HARMLESS:
        return False
    return word in NEGATORS and following not in HARMLESS


def _doubts(words: list[_Word], at: int) -> bool:
    return words[at].text in DOUBTS and _text(words, at + 1) not in SENSED


def _softens(words: list[_Word], at: int) -> bool:
    word, before = words[at].text, _text(words, at - 1)
    if word in ("kind", "sort"):
        return _text(words, at + 1) == "of" and before not in WH
    return word in HEDGES or (word in SMALL and before == "a")


def _denied_near(words: list[_Word], at: tuple[int, ...]) -> bool:
    """Whether something is denied among these words, just before or right after."""
    clause, end = words[at[0]].clause, at[-1] + 1
    while end < len(words) and not words[end].roots:
        end += 1
    return any(
        _denies(words, n) and words[n].clause == clause
        for n in range(max(0, at[0] - 6), end)
    )


def _tone(
    words: list[_Word],
    at: tuple[int, ...],
    taken: set[int],
    before: tuple[int, _Tone] | None,
) -> _Tone:
    """Look for denials, doubts and hedges before, among and after some words.

    `before` is where and how the thing before was said: in 'no streaks or specks'
    the denial goes for both.
    """
    first, last, clause = at[0], at[-1], words[at[0]].clause
    inside = [n for n in range(first, last) if n not in at or _denies(words, n)]
    ahead: list[int] = []
    behind: list[int] = []
    doubted, reached = any(_doubts(words, n) for n in inside), False
    for n in range(first - 1, max(-1, first - SCOPE), -1):
        joint = words[n].text == "and"
        if words[n].clause != clause or words[n + 1].comma:
            break
        if joint and words[n + 1].text in SUBJECTS:
            break
        doubted |= _doubts(words, n)
        meaning = [k for k in ahead if words[k].roots]
        reached |= n in taken or joint or len(meaning) > 3
        if not reached:
            ahead.append(n)
    for n in range(last + 1, min(len(words), last + SCOPE)):
        joint = words[n].text == "and" or words[n].text in WH
        if n in taken:
            behind.clear()
        if words[n].clause != clause or words[n].comma or joint or n in taken:
            break
        behind.append(n)
    denials = sum(_denies(words, n) for n in (*ahead, *inside))
    among = [n for n in inside if words[n].text != "few"]
    softened = any(_softens(words, n) for n in (*ahead[:5], *among, *behind[:3]))
    where = any(words[n].text in WH for n in inside)
    if not any(words[n].roots and words[n].text not in PRESENT for n in behind):
        denials += 0 if where else any(_denies(words, n) for n in behind)
        doubted |= any(_doubts(words, n) for n in behind)
    if before and words[before[0]].clause == clause:
        between = words[before[0] + 1 : first]
        ors = OR & {word.text for word in between}
        if words[first].comma and not between:
            ors = OR & {word.text for word in words[last : last + SCOPE]}
        if ors and not any(word.roots for word in between):
            denials += before[1].denied
            doubted |= before[1].doubted
        elif [word.text for word in between] == ["and"]:
            doubted |= before[1].denied
    return _Tone(denials % 2 == 1, doubted, softened)


def _asked(text: str, words: list[_Word]) -> set[int]:
    """The clauses that ask whether it is so ('is it slack?'); 'why is it' does not."""
    clauses: dict[int, list[_Word]] = defaultdict(list)
    for word in words:
        clauses[word.clause].append(word)
    asked: set[int] = set()
    for clause, said in clauses.items():
        end = HARD.search(text, said[-1].end)
        texts = [word.text for word in said if word.text not in ("and", "so", "ok")]
        opening = texts[0] if texts else ""
        if end and end[0] == "?" and opening in ASKING and not WH & set(texts):
            asked.add(clause)
    return asked


def _left(text: str, words: list[_Word], taken: set[int]) -> Iterator[str]:
    """Stretches of words with a meaning that were not understood."""
    run: list[_Word] = []
    for n, word in enumerate(words):
        breaks = n in taken or word.comma or (run and run[-1].clause != word.clause)
        if run and breaks:
            yield text[run[0].start : run[-1].end]
            run = []
        if n not in taken and word.text not in STOP | HEDGES | SMALL:
            run.append(word)
    if run:
        yield text[run[0].start : run[-1].end]


def _unit_names(unit: str) -> Iterator[str]:
    """How a unit may be written, and what can be turned into it."""
    own = SAME.get(unit.lower(), unit)
    wanted = {own, "degF"} if own == "degC" else {own}
    names = {unit.lower(), *(name for name, plain in SAME.items() if plain in wanted)}
    for name in sorted(names):
        yield name
        if name.isalpha() and len(name) > 2 and f"{name}s" not in names:
            yield f"{name}s"


def _in_range(finding: Finding, numbers: str, unit: str) -> bool:
    """Whether a finding can have these values."""
    low = -inf if finding.lowest is None else finding.lowest
    high = inf if finding.highest is None else finding.highest
    values = [float(n.replace(",", ".")) for n in re.findall(NUMBER, numbers)]
    if SAME.get(unit) == "degF":
        values = [(value - 32) / 1.8 for value in values]
    return all(low <= value <= high for value in values)


def _most_about(about: dict[str, float], unit: str, number: str) -> str | None:
    """The reading that a number is of, by how much the words near it speak of each.

    Without such words the unit has to do, if it is a telling one.
    """
    best = max(about.values(), default=0.0)
    telling = SAME.get(unit, unit) not in ("", "%") and len(unit + number) > 2
    if best < ABOUT and not telling:
        return None
    ids = [id for id in about if best < ABOUT or about[id] == best]
    words = {id: set(id.split("-")) for id in ids}
    plainest = [id for id in ids if all(words[id] <= words[other] for other in ids)]
    return plainest[0] if plainest else None


def _reading(finding: Finding, numbers: str, unit: str) -> str:
    """A number and its unit, tidied: '14 N/cm'."""
    value = re.sub(r"\s*;\s*", "; ", numbers).replace(",", ".")
    if not unit:
        return value
    return f"{value} °F" if SAME.get(unit) == "degF" else f"{value} {finding.unit}"
