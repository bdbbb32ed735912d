"""Every past case ranked again, with the knowledge as it is and as it would be.

The checks that settle a cause are left out of the answers: what counts is where the
ranking stood without them.
"""

from __future__ import annotations

import math
import random
import time
from collections.abc import Callable, Iterable, Sequence
from dataclasses import dataclass

from diagnose.cases.record import Case, sheet_of
from diagnose.look import chances_of_causes
from diagnose.model import Model
from diagnose.records import Proof

FAINTEST = 1e-4
"""A cause that is not on the table counts as this likely in a score."""


@dataclass(frozen=True, slots=True)
class Placed:
    """Where a cause stands in a ranking, and its chance.

    `place` is 1 for the first; one more than there are causes on the table where it is
    not among them (`ranked` is then false).
    """

    place: int
    chance: float
    ranked: bool


@dataclass(frozen=True, slots=True)
class Replayed:
    """One confirmed cause of a case, before and after."""

    id: str
    cause: str
    before: Placed
    after: Placed


@dataclass(frozen=True, slots=True)
class Outcome:
    """All cases before and after; `passed_over` are those with nothing to place.

    `left` are those for which the time did not suffice, `seconds` is what the others
    took.
    """

    cases: tuple[Replayed, ...]
    passed_over: int
    left: int = 0
    seconds: float = 0.0

    @property
    def better(self) -> list[Replayed]:
        """Those whose cause comes further up."""
        return [one for one in self.cases if one.after.place < one.before.place]

    @property
    def worse(self) -> list[Replayed]:
        """Those whose cause comes further down."""
        return [one for one in self.cases if one.after.place > one.before.place]


def replay(
    before: Model,
    after: Model,
    cases: Sequence[tuple[str, Case]],
    *,
    within: float = math.inf,
    told: Callable[[Sequence[int]], Iterable[int]] = iter,
) -> Outcome:
    """Rank each case with the one and with the other knowledge.

    Args:
        before: the knowledge as it is.
        after: the knowledge as it would be.
        cases: their ids and the cases. One without a confirmed cause that either
            knowledge has is passed over.
        within: seconds; when they are up, the cases that are left are left out. Which
            these are is drawn at random, the same each time.
        told: goes through the numbers of the cases, and tells how far that has come.
    """
    order = list(range(len(cases)))
    if within < math.inf:
        random.Random(0).shuffle(order)
    found: dict[int, list[Replayed]] = {}
    passed_over, done = 0, 0
    start = time.monotonic()
    for number in told(order):
        if done and time.monotonic() - start > within:
            break
        done += 1
        id, case = cases[number]
        causes = [
            one.cause
            for one in case.confirmed
            if one.cause in before.knowledge.causes
            or one.cause in after.knowledge.causes
        ]
        if not causes:
            passed_over += 1
            continue
        first, second = chances(before, case), chances(after, case)
        found[number] = [
            Replayed(id, cause, placed(first, cause), placed(second, cause))
            for cause in dict.fromkeys(causes)
        ]
    every = tuple(one for number in sorted(found) for one in found[number])
    took = time.monotonic() - start
    return Outcome(every, passed_over, len(cases) - done, took)


def chances(model: Model, case: Case) -> dict[str, float]:
    """The chance of each cause on the table, without the checks that settle one."""
    sheet = sheet_of(case, model.knowledge, then=True)
    sheet.answers = {
        id: value
        for id, value in sheet.answers.items()
        if not isinstance(model.knowledge.findings[id], Proof)
    }
    return chances_of_causes(model, sheet)


def placed(chances: dict[str, float], cause: str) -> Placed:
    """Where a cause stands among these."""
    if cause not in chances:
        return Placed(len(chances) + 1, 0.0, False)
    own = chances[cause]
    ahead = sum((-c, id) < (-own, cause) for id, c in chances.items())
    return Placed(ahead + 1, own, True)


def mean_place(cases: Sequence[Placed]) -> float:
    """The mean place; 1 is the best there is."""
    return sum(one.place for one in cases) / len(cases)


def mean_score(cases: Sequence[Placed]) -> float:
    """The mean log (base e) of the chance of the cause that it was; 0 is the best.

    It is the logarithmic score (Good, "Rational decisions", J. R. Statist. Soc. B 14,
    1952).
    """
    return sum(math.log(max(one.chance, FAINTEST)) for one in cases) / len(cases)
