"""A text cut into words, and how things are said in it: denied, doubted, softened."""

from __future__ import annotations

import re
from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from diagnose.english import (
    ASKING,
    BREAKS,
    DOUBTS,
    HARMLESS,
    HEDGES,
    NEGATORS,
    NEGATORS_OF,
    OR,
    PRESENT,
    SENSED,
    SMALL,
    STOP,
    SUBJECTS,
    WH,
    plainly,
)
from diagnose.language import small_word

WORD = re.compile(r"\d+(?:[.,:/x]\d+)*|[^\W\d_]+(?:['’ʼ][^\W\d_]+)*")
HARD = re.compile(r"[.!?;…\n]")
SOFT = re.compile(r"[,()–—]|\s-+\s")
SCOPE = 12
"""How many words a doubt or a denial reaches."""


@dataclass(slots=True)
class Word:
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
class Tone:
    """How something is said."""

    denied: bool
    doubted: bool
    softened: bool


def cut(text: str) -> list[Word]:
    """The words of a text, with the clauses and commas they stand in."""
    words: list[Word] = []
    clause, end = 0, 0
    for found in WORD.finditer(text):
        between = text[end : found.start()]
        apart = between != " "
        hard = HARD.search(between) if apart else None
        wrapped = hard and hard[0] == "\n" and words and words[-1].text in STOP
        word = small_word(plainly(found[0]))
        if words and ((hard and not wrapped) or word in BREAKS):
            clause += 1
        comma = apart and SOFT.search(between) is not None
        end = found.end()
        if word:
            words.append(Word(word, found.start(), end, clause, comma))
    return words


def text_at(words: list[Word], at: int) -> str:
    return words[at].text if 0 <= at < len(words) else ""


def denies(words: list[Word], at: int) -> bool:
    """Whether the word there denies what follows ('no', but not in 'no idea')."""
    word, following = words[at].text, text_at(words, at + 1)
    if word in NEGATORS_OF:
        return following in NEGATORS_OF[word]
    if following in ("get", "go") and text_at(words, at + 2) in HARMLESS:
        return False
    return word in NEGATORS and following not in HARMLESS


def doubts(words: list[Word], at: int) -> bool:
    """Whether the word there says that what follows is supposed, or was so once."""
    if words[at].text == "used" and text_at(words, at + 1) == "to":
        return True
    return words[at].text in DOUBTS and text_at(words, at + 1) not in SENSED


def softens(words: list[Word], at: int) -> bool:
    word, before = words[at].text, text_at(words, at - 1)
    if word in ("kind", "sort"):
        return text_at(words, at + 1) == "of" and before not in WH
    compared = text_at(words, at - 2) == "like"
    return word in HEDGES or (word in SMALL and before == "a" and not compared)


def denied_near(words: list[Word], at: tuple[int, ...]) -> bool:
    """Whether something is denied among these words, just before or right after."""
    clause, end = words[at[0]].clause, at[-1] + 1
    while end < len(words) and not words[end].roots:
        end += 1
    return any(
        denies(words, n) and words[n].clause == clause
        for n in range(max(0, at[0] - 6), end)
    )


def tone_of(
    words: list[Word],
    at: tuple[int, ...],
    taken: set[int],
    before: tuple[int, Tone] | None,
) -> Tone:
    """Look for denials, doubts and hedges before, among and after some words.

    `before` is where and how the thing before was said: in 'no streaks or specks'
    the denial goes for both.
    """
    first, last, clause = at[0], at[-1], words[at[0]].clause
    inside = [n for n in range(first, last) if n not in at or denies(words, n)]
    ahead: list[int] = []
    behind: list[int] = []
    doubted, reached = any(doubts(words, n) for n in inside), False
    for n in range(first - 1, max(-1, first - SCOPE), -1):
        joint = words[n].text == "and"
        if words[n].clause != clause or words[n + 1].comma:
            break
        if joint and words[n + 1].text in SUBJECTS:
            break
        doubted |= doubts(words, n)
        meaning = [k for k in ahead if words[k].roots]
        reached |= n in taken or joint or len(meaning) > 3
        if not reached:
            ahead.append(n)
    for n in range(last + 1, min(len(words), last + SCOPE)):
        joint = words[n].text == "and" or words[n].text in WH
        if words[n].clause != clause or words[n].comma or joint:
            break
        if n in taken:
            behind.clear()
            break
        behind.append(n)
    denials = sum(denies(words, n) for n in (*ahead, *inside))
    among = [n for n in inside if words[n].text != "few"]
    softened = any(softens(words, n) for n in (*ahead[:5], *among, *behind[:3]))
    where = any(words[n].text in WH for n in inside)
    if not any(words[n].roots and words[n].text not in PRESENT for n in behind):
        denials += 0 if where else any(denies(words, n) for n in behind)
        doubted |= any(doubts(words, n) for n in behind)
    if before and words[before[0]].clause == clause:
        between = words[before[0] + 1 : first]
        ors = OR & {word.text for word in between}
        if words[first].comma and not between:
            ors = OR & {word.text for word in words[last : last + SCOPE]}
        if ors and not any(word.roots for word in between):
            denials += before[1].denied and "nor" not in ors
            doubted |= before[1].doubted
        elif [word.text for word in between] == ["and"]:
            doubted |= before[1].denied
    return Tone(denials % 2 == 1, doubted, softened)


def asked_clauses(text: str, words: list[Word]) -> set[int]:
    """The clauses that ask whether it is so ('is it slack?'); 'why is it' does not."""
    clauses: dict[int, list[Word]] = defaultdict(list)
    for word in words:
        clauses[word.clause].append(word)
    asked: set[int] = set()
    for clause, said in clauses.items():
        end = HARD.search(text, said[-1].end)
        texts = [word.text for word in said if word.text not in ("and", "so", "ok")]
        opening = texts[0] if texts else ""
        asks = opening in ASKING or text[: said[0].start].endswith("¿")
        if end and end[0] == "?" and asks and not WH & set(texts):
            asked.add(clause)
    return asked


def left_over(text: str, words: list[Word], taken: set[int]) -> Iterator[str]:
    """Stretches of words with a meaning that were not understood."""
    run: list[Word] = []
    for n, word in enumerate(words):
        breaks = n in taken or word.comma or (run and run[-1].clause != word.clause)
        if run and breaks:
            yield text[run[0].start : run[-1].end]
            run = []
        if n not in taken and word.text not in STOP | HEDGES | SMALL:
            run.append(word)
    if run:
        yield text[run[0].start : run[-1].end]
