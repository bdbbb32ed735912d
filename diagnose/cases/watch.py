"""What the faults of a shop cost, whether fixes held, and what to standardise first."""

from __future__ import annotations

import datetime
from collections import defaultdict
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace

from diagnose.cases.choose import NOTHING
from diagnose.cases.record import Case, today
from diagnose.cases.shop import Kept
from diagnose.errors import AnswerError, nearest, quoted
from diagnose.language import tr
from diagnose.records import Fix, Knowledge

HELD = 30
"""Days; a fault that comes back later counts as a new one."""

YEAR = 365.25
"""Days."""

SHORTEST = 30
"""Days; the cost of a year is not reckoned from a shorter time."""

PREVENT = "prevent"
"""The moment whose fixes keep a fault from coming back."""

WORTH = 0.01
"""Hours or prints a year; what saves less of both is not told."""


@dataclass(frozen=True, slots=True)
class Cost:
    """What cases cost: how many there were, minutes to trace and mend, prints lost.

    A case with several confirmed causes is shared out evenly among them, so that the
    costs of all causes add up to those of all cases. `unnoted` counts the cases for
    which no minutes are noted.
    """

    cases: float = 0.0
    minutes: float = 0.0
    prints: float = 0.0
    unnoted: float = 0.0

    def __add__(self, other: Cost) -> Cost:
        return Cost(
            self.cases + other.cases,
            self.minutes + other.minutes,
            self.prints + other.prints,
            self.unnoted + other.unnoted,
        )

    def __mul__(self, share: float) -> Cost:
        return Cost(
            self.cases * share,
            self.minutes * share,
            self.prints * share,
            self.unnoted * share,
        )


@dataclass(frozen=True, slots=True)
class CauseCost:
    """What one cause cost; `name` is its id, the free words, or `choose.NOTHING`."""

    name: str
    cost: Cost


@dataclass(frozen=True, slots=True)
class Span:
    """What one month, or one value of a group, cost, and each cause in it."""

    name: str
    cost: Cost
    causes: Mapping[str, Cost]


@dataclass(frozen=True, slots=True)
class Back:
    """A fault that was mended and came back: the cause, the two cases, the days."""

    cause: str
    first: str
    again: str
    days: int


@dataclass(frozen=True, slots=True)
class Held:
    """Whether a fix held: of so many times that it worked, how often its cause was
    confirmed again within `HELD` days; `open` are too short ago to tell."""

    fix: str
    worked: int
    held: int
    open: int
    back: tuple[Back, ...]


@dataclass(frozen=True, slots=True)
class Standard:
    """A fix that keeps faults away, and what it would save a year.

    What the fixes before it in the list save is taken off.
    """

    fix: str
    causes: tuple[str, ...]
    saves: Cost


@dataclass(frozen=True, slots=True)
class Watch:
    """All that is told of the cases: from the first day to the last one."""

    by: str
    first: str
    last: str
    years: float
    total: Cost
    causes: tuple[CauseCost, ...]
    spans: tuple[Span, ...]
    held: tuple[Held, ...]
    standards: tuple[Standard, ...]

    @property
    def by_minutes(self) -> bool:
        """Whether causes go by minutes: where none are noted, they go by cases."""
        return self.total.minutes > 0

    def size(self, cost: Cost) -> float:
        """What a cost is measured by here."""
        return cost.minutes if self.by_minutes else cost.cases


def watch(
    kept: Iterable[Kept], knowledge: Knowledge, by: str = "month", now: str = ""
) -> Watch:
    """What costs most, by cause and by month or group; what held; what to do first.

    Args:
        kept: the cases.
        knowledge: what is known of causes and fixes.
        by: 'month', or the label of a group.
        now: the day that it is; today where left out.

    Raises:
        AnswerError: no case has such a label.
    """
    every = sorted(kept, key=lambda one: (one.case.date, one.id))
    used = {label for one in every for label in one.case.groups}
    if by not in {"month", *used} and every:
        known = ["month", *sorted(used)]
        raise AnswerError(
            tr(
                "cases can't be watched by {text}{hint}; they can by {known}.",
                text=quoted(by),
                hint=nearest(by, known),
                known=", ".join(known),
            )
        )
    causes: dict[str, Cost] = defaultdict(Cost)
    spans: dict[str, dict[str, Cost]] = defaultdict(lambda: defaultdict(Cost))
    totals: dict[str, Cost] = defaultdict(Cost)
    for one in every:
        case = one.case
        name = case.date[:7] if by == "month" else case.groups.get(by, NOTHING)
        totals[name] += _cost(case)
        for cause, cost in _shares(case).items():
            causes[cause] += cost
            spans[name][cause] += cost
    if by == "month" and every:
        names = months(every[0].case.date[:7], every[-1].case.date[:7])
    else:
        names = sorted(totals)
    first, last = (every[0].case.date, every[-1].case.date) if every else ("", "")
    years = _days(first, last) / YEAR if every else 0.0
    total = sum(totals.values(), Cost())
    found = Watch(
        by,
        first,
        last,
        years,
        total,
        (),
        tuple(Span(name, totals[name], dict(spans[name])) for name in names),
        _held(every, by, now or today()),
        (),
    )
    listed_causes = [CauseCost(name, cost) for name, cost in causes.items()]
    listed_causes.sort(
        key=lambda one: (-found.size(one.cost), -one.cost.prints, one.name)
    )
    if by != "month":
        spans_by_cost = sorted(
            found.spans, key=lambda one: (-found.size(one.cost), one.name)
        )
        found = replace(found, spans=tuple(spans_by_cost))
    standards = _standards(found, causes, knowledge)
    return replace(found, causes=tuple(listed_causes), standards=standards)


def _cost(case: Case) -> Cost:
    return Cost(1, case.minutes or 0.0, case.prints_lost or 0, case.minutes is None)


def _shares(case: Case) -> dict[str, Cost]:
    """What a case cost, shared out among its causes."""
    names = list(dict.fromkeys(one.name() for one in case.confirmed)) or [NOTHING]
    return dict.fromkeys(names, _cost(case) * (1 / len(names)))


def _days(first: str, last: str) -> int:
    """The days from one to the other, both counted; no fewer than `SHORTEST`."""
    return max(_between(first, last) + 1, SHORTEST)


def _between(first: str, last: str) -> int:
    day = datetime.date.fromisoformat
    return (day(last) - day(first)).days


def months(first: str, last: str) -> list[str]:
    """Every month from one to the other: '2025-11', '2025-12', '2026-01'."""
    begin, end = (int(m[:4]) * 12 + int(m[5:]) - 1 for m in (first, last))
    return [f"{n // 12:04}-{n % 12 + 1:02}" for n in range(begin, end + 1)]


def _held(every: Sequence[Kept], by: str, now: str) -> tuple[Held, ...]:
    """For each fix that worked, how often the fault came back."""
    later: dict[str, list[Kept]] = defaultdict(list)
    worked: dict[str, list[tuple[bool, list[Back]]]] = defaultdict(list)
    for one in reversed(every):  # the newest first, so that `later` is what came after
        causes = {confirmed.name() for confirmed in one.case.confirmed}
        if causes:
            back = [b for cause in sorted(causes) for b in _back(one, cause, later, by)]
            is_open = not back and _between(one.case.date, now) <= HELD
            for fix, did in one.case.tried.items():
                if did == "yes":
                    worked[fix].append((is_open, back[:1]))
        for cause in causes:
            later[cause].append(one)
    found = []
    for fix, times in worked.items():
        again = tuple(b for _, back in reversed(times) for b in back)
        still_open = sum(is_open for is_open, _ in times)
        held = len(times) - still_open - len(again)
        found.append(Held(fix, len(times), held, still_open, again))
    return tuple(sorted(found, key=lambda one: (-len(one.back), -one.worked, one.fix)))


def _back(
    one: Kept, cause: str, later: Mapping[str, Sequence[Kept]], by: str
) -> list[Back]:
    """The next case of that cause in the same group, where it came soon enough."""
    for other in reversed(later.get(cause, ())):
        days = _between(one.case.date, other.case.date)
        if days > HELD:
            break
        if days and _same_group(one.case, other.case, by):
            return [Back(cause, one.id, other.id, days)]
    return []


def _same_group(one: Case, other: Case, by: str) -> bool:
    """Whether two cases share the label that is watched by.

    By month no label is named, and the whole shop is one group.
    """
    return by == "month" or (
        by in one.groups and one.groups[by] == other.groups.get(by)
    )


def _standards(
    found: Watch, causes: Mapping[str, Cost], knowledge: Knowledge
) -> tuple[Standard, ...]:
    """The fixes that keep faults away, each time the one that saves most of the rest.

    A fix saves the cost of each cause that it cures times its chance to cure it.
    """
    if not found.years:
        return ()
    strengths = knowledge.scales.strengths
    left = {name: cost * (1 / found.years) for name, cost in causes.items()}
    fixes = [one for one in knowledge.fixes.values() if one.moment == PREVENT]
    cures = {
        fix.id: {
            cure.cause: strengths[cure.sure]
            for cure in fix.cures
            if cure.cause is not None and cure.cause in left
        }
        for fix in fixes
    }

    def saved(fix: Fix) -> Cost:
        parts = (left[cause] * sure for cause, sure in cures[fix.id].items())
        return sum(parts, Cost())

    standards = []
    while fixes:
        gains = {fix.id: saved(fix) for fix in fixes}
        best = min(
            fixes,
            key=lambda fix: (
                -found.size(gains[fix.id]),
                -gains[fix.id].prints,
                fix.id,
            ),
        )
        gain = gains[best.id]
        if max(gain.minutes / 60, gain.prints, gain.cases) < WORTH:
            break
        by_cost = sorted(
            cures[best.id], key=lambda cause: (-found.size(left[cause]), cause)
        )
        standards.append(Standard(best.id, tuple(by_cost), gain))
        for cause, sure in cures[best.id].items():
            left[cause] *= 1 - sure
        fixes.remove(best)
    return tuple(standards)
