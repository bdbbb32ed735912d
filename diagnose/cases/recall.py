"""Past cases like the present one: what is the same, what differs, what it was.

Two faults are alike as far as their answers speak for one cause behind both. With P(c)
how common each cause is, and P(v | c) the chance of an answer to a finding where that
cause is there, two answers v and u to it speak for one cause, rather than for two that
were drawn apart, by

    bits(v, u) = log2 of the sum over c of P(c) P(v | c) P(u | c) / (P(v) P(u))

That is above nothing where both answers point to the same causes, below nothing where
they point apart, and nothing where the finding does not tell causes apart. (It is the
log of a Bayes factor; findings are taken as if each stood for itself.) A part of the
set-up that is the same, and a word that was said of both, count a little by themselves.

All causes count, not only those that the answers have put on the table: with those
alone, what has put them there would tell nothing, and in drawn shops fewer cases of the
same cause came first.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Mapping
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from diagnose.cases.index import (
    CONFIRMED,
    Facts,
    Index,
    fact_key,
    said_roots,
    use,
    word_key,
    words_of,
)
from diagnose.cases.shop import Kept, Shop
from diagnose.consultation import Consultation
from diagnose.english import root_of
from diagnose.explanations import spread
from diagnose.look import speaks_for
from diagnose.model import Model, model_of
from diagnose.network import Network
from diagnose.sentences import cut
from diagnose.sheets import SOMEWHAT

Floats = NDArray[np.float64]

LEAST = 0.5
"""Bits; a case that is less alike than this is not told. Our judgement."""

SHARE = 0.5
"""Nor is one that is not so alike as this share of what an equal case would be. In
drawn shops hardly any of those below it had the same cause."""

SET_UP = 0.1
"""Bits for a part of the set-up that is the same, and against one that is not. Our
judgement: a cause that comes with a mesh or an ink shows in what follows from it."""

WORD = 0.1
"""So much of what a shared word tells (log2 of how rarely it is met) counts: it mostly
says once more what was answered. Our judgement."""

RAREST = 8.0
"""Bits; a word does not tell more, however rare it is."""

PLACES = 6
"""Digits of a likeness; cases that differ by less are equally alike."""


@dataclass(frozen=True, slots=True)
class Alike:
    """A past case that is like the present one.

    `bits` is how alike it is; `same` and `differs` name findings that both answered,
    those that tell most first: (finding, value) and (finding, value now, value then).
    `words` were said of both; `cured` are the fixes that worked then.
    """

    kept: Kept
    bits: float
    same: tuple[tuple[str, str], ...]
    differs: tuple[tuple[str, str, str], ...]
    words: tuple[str, ...]
    cured: tuple[str, ...]


class Likeness:
    """How alike other cases are to a consultation.

    `bits` has, for each finding that is known, what each answer to it in another case
    speaks for one cause behind both; `words` has the words that were said, by root.
    A case that is less alike than `least` is not worth telling.
    """

    def __init__(self, consultation: Consultation) -> None:
        self.facts = Facts(consultation.knowledge)
        self.now = self.facts.of(consultation.sheet)
        self.begun = consultation.sheet.begun
        self.bits = bits_of(model_of(consultation.knowledge), self.now)
        equal = sum(values[self.now[id]] for id, values in self.bits.items())
        self.least = max(LEAST, SHARE * equal)
        self.words = {
            root_of(word.text): word.text
            for text in consultation.sheet.said
            for word in cut(text)
            if root_of(word.text) in said_roots([text])
        }

    def compare(self, kept: Kept, bits: float) -> Alike:
        """What is the same in a case, and what differs."""
        then = self.facts.of(kept.case)
        both = sorted(
            (id for id in self.now if id in then and id in self.bits),
            key=lambda id: (-abs(self.bits[id][then[id]]), id),
        )
        said = said_roots(words_of(kept.case))
        return Alike(
            kept,
            bits,
            tuple((id, then[id]) for id in both if then[id] == self.now[id]),
            tuple(
                (id, self.now[id], then[id]) for id in both if then[id] != self.now[id]
            ),
            tuple(word for root, word in sorted(self.words.items()) if root in said),
            tuple(fix for fix, did in kept.case.tried.items() if did == "yes"),
        )


def recall(
    shop: Shop, consultation: Consultation, most: int = 3, but: Collection[str] = ()
) -> list[Alike]:
    """The past cases with a confirmed cause that are most like a consultation.

    Args:
        shop: whose cases.
        consultation: what was said and answered; the case that it was kept as is left
            out.
        most: no more than so many.
        but: the ids of cases that are left out.

    Returns:
        The most alike first, of equals the newest.

    Raises:
        FolderError: the shop folder can't be read.
    """
    if not (consultation.sheet.said or consultation.sheet.given()):
        return []
    likeness = Likeness(consultation)
    return use(
        shop,
        consultation.knowledge,
        lambda index: recall_from(index, likeness, most, but),
    )


def recall_from(
    index: Index, likeness: Likeness, most: int = 3, but: Collection[str] = ()
) -> list[Alike]:
    """The same from an index that is open."""
    weights = {
        fact_key(finding, value): bits
        for finding, values in likeness.bits.items()
        for value, bits in values.items()
    }
    met = index.met(map(word_key, likeness.words))
    cases = index.count()
    weights |= {key: word_bits(count, cases) for key, count in met.items()}
    score = index.add_up(weights)
    score[index.add_up({CONFIRMED: 1.0}) == 0] = -math.inf
    score[index.numbers_of(but, likeness.begun)] = -math.inf
    found = np.flatnonzero(score > likeness.least - 0.1)
    rounded = np.round(score[found], PLACES)
    enough = rounded >= likeness.least
    found, rounded = found[enough], rounded[enough]
    last = -math.inf
    if len(found) > most:
        last = np.partition(rounded, -most)[-most]
    above = index.kept(found[rounded > last].tolist(), most)
    level = index.kept(found[rounded == last].tolist(), most - len(above))
    bits = dict(zip(found.tolist(), rounded.tolist(), strict=True))
    order = sorted(above + level, key=lambda one: -bits[one[0]])
    return [likeness.compare(kept, bits[n]) for n, kept in order]


def word_bits(met: int, cases: int) -> float:
    """What a word that both say counts.

    Args:
        met: in how many cases it stands.
        cases: of how many.
    """
    return WORD * min(math.log2(cases / met), RAREST)


def bits_of(model: Model, now: Mapping[str, str]) -> dict[str, dict[str, float]]:
    """For each known finding, the bits of each answer to it in another case.

    Args:
        model: the knowledge.
        now: the findings that are known, with their values.
    """
    network = model.network
    causes = sorted(network.odds)
    odds = np.array([network.odds[cause] for cause in causes])
    prior = odds / odds.sum()
    place = {cause: row for row, cause in enumerate(causes)}
    there = _alone(network, causes)
    found = {}
    for id, value in now.items():
        if id not in network.outcomes:
            continue
        answers = list(network.values(id))
        chances = _chances(network, id, there, len(causes))
        for column, answer in enumerate(answers):
            for cause, factor in model.effects.get((id, answer), {}).items():
                chances[place[cause], column] *= factor
        if model.knowledge.findings[id].kind == "yes-no":
            answers.append(SOMEWHAT)
        speaks = np.array([speaks_for(model, id, answer) for answer in answers])
        given = chances @ speaks.T
        given /= prior @ given
        ours = given[:, answers.index(value)]
        bits = np.log2((prior * ours) @ given)
        set_up = model.knowledge.findings[id].role == "set-up"
        found[id] = {
            answer: float(b) + set_up * (SET_UP if answer == value else -SET_UP)
            for answer, b in zip(answers, bits, strict=True)
        }
    return found


def _alone(network: Network, causes: Collection[str]) -> dict[str, Floats]:
    """For each cause and state, how likely it is where each of the causes is alone.

    Makers of a state are taken as if they came and went apart.
    """
    there = dict(zip(causes, np.eye(len(causes)), strict=True))
    for state, makers in network.states.items():
        known = [(there[maker], s) for maker, s in makers if maker in there]
        if known:
            there[state] = 1 - _missed(known, len(causes))
    return there


def _chances(
    network: Network, finding: str, there: Mapping[str, Floats], count: int
) -> Floats:
    """The chance of each value (a column each) where each of the causes is alone."""
    outcomes = network.outcomes[finding]
    made = [
        1 - _missed([(there[m], s) for m, s in one.makers if m in there], count)
        for one in outcomes
    ]
    return spread(made, [one.anyway for one in outcomes])


def _missed(makers: Collection[tuple[Floats, float]], count: int) -> Floats:
    missed: Floats = np.ones(count)
    for chance, strength in makers:
        missed *= 1 - strength * chance
    return missed
