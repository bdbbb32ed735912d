"""What a shop's faults cost, as a page to print and hang up."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from diagnose.cases.past_screens import (
    LETTERS,
    LISTED,
    MONTHS,
    SPANS,
    TOLD,
    came_back,
    cases_in,
    cause_called,
    how_it_held,
    length,
    nothing_came_back,
    span_name,
)
from diagnose.cases.record import today
from diagnose.cases.screens import counted_by
from diagnose.cases.shop import Kept
from diagnose.cases.watch import HELD, Cost, Watch, watch
from diagnose.language import tr
from diagnose.paper.page import html
from diagnose.records import Fix, Knowledge

MONTH = "month"

WIDE = 100.0
"""Units that the longest bar is wide."""

LETTER = 4.0
"""Units that a letter needs in a bar."""

COMMON = 0.5
"""A group is drawn where so much of the cases has its label."""


@dataclass(frozen=True, slots=True)
class Part:
    """A stretch of a bar: where it begins, how wide it is, and its letter ('' for all
    causes without one)."""

    begin: float
    wide: float
    letter: str

    @property
    def shows_letter(self) -> bool:
        """Whether the letter fits in."""
        return bool(self.letter) and self.wide >= LETTER


@dataclass(frozen=True, slots=True)
class Bar:
    """A month, or a value of a group: its bar, and the same in words."""

    name: str
    parts: tuple[Part, ...]
    cost: Cost
    most: str


@dataclass(frozen=True, slots=True)
class Chart:
    """The bars by month or by a group, and how many are left out."""

    by: str
    bars: tuple[Bar, ...]
    left_out: int


@dataclass(frozen=True, slots=True)
class Rule:
    """A fix to make the rule: what it is against, and what it saves a year."""

    fix: Fix
    against: str
    saves: Cost


def watch_page(
    kept: Sequence[Kept], knowledge: Knowledge, by: str = MONTH, shop: str = ""
) -> str:
    """The page: what costs most, when and where, what held, what to standardise.

    Args:
        kept: the cases.
        knowledge: what is known of causes and fixes.
        by: 'month', or the label of a group; by month every group is drawn that most
            cases are labelled with.
        shop: its name.

    Raises:
        AnswerError: no case has such a label.
    """
    found = watch(kept, knowledge, by)
    groups = [by] if by != MONTH else _groups(kept)
    letters = {
        one.name: letter for one, letter in zip(found.causes, LETTERS, strict=False)
    }
    charts = [_chart(watch(kept, knowledge, one), letters) for one in [MONTH, *groups]]
    rest = sum((one.cost for one in found.causes[LISTED:]), Cost())
    rules = [
        Rule(knowledge.fixes[one.fix], _against(one.causes, knowledge), one.saves)
        for one in found.standards[:LISTED]
    ]
    cautions = dict.fromkeys(id for one in rules for id in one.fix.cautions)
    return html(
        "watch.html",
        shop=shop,
        today=today(),
        found=found,
        knowledge=knowledge,
        causes=[
            (letters.get(one.name, ""), cause_called(one.name, knowledge), one.cost)
            for one in found.causes[:LISTED]
        ],
        rest=rest if rest.cases else None,
        more=len(found.causes[LISTED:]),
        charts=charts if found.causes else [],
        letters=letters,
        back=[one for one in found.held if one.back][:LISTED],
        nothing_back=nothing_came_back(found.held),
        rules=rules,
        cautions=[knowledge.cautions[id] for id in cautions],
        days=HELD,
        told=TOLD,
        span=length(found.years),
        cases_in=cases_in,
        came_back=lambda back: came_back(back, knowledge),
        how_it_held=how_it_held,
        counted_by=counted_by,
    )


def _groups(kept: Sequence[Kept]) -> list[str]:
    """The labels that tell cases apart and that most of them have."""
    labelled = Counter(label for one in kept for label in one.case.groups)
    values = {
        label: {one.case.groups[label] for one in kept if label in one.case.groups}
        for label in labelled
    }
    return sorted(
        label
        for label, count in labelled.items()
        if 1 < len(values[label]) <= SPANS and count >= COMMON * len(kept)
    )


def _chart(found: Watch, letters: Mapping[str, str]) -> Chart:
    spans = found.spans[-MONTHS:] if found.by == MONTH else found.spans[:SPANS]
    most = max((found.size(one.cost) for one in spans), default=0.0) or 1.0
    bars = []
    for one in spans:
        shares: dict[str, float] = {}
        for cause, cost in one.causes.items():
            letter = letters.get(cause, "")
            shares[letter] = shares.get(letter, 0.0) + found.size(cost)
        parts, begin = [], 0.0
        order = sorted(shares, key=lambda letter: (letter == "", letter))
        for letter in order:
            wide = WIDE * shares[letter] / most
            if wide > 0:
                parts.append(Part(begin, wide, letter))
            begin += wide
        named = sorted((o for o in order if o), key=lambda letter: -shares[letter])
        told = [_size(found, letter, shares[letter]) for letter in named[:TOLD]]
        bars.append(Bar(span_name(one), tuple(parts), one.cost, ", ".join(told)))
    return Chart(found.by, tuple(bars), len(found.spans) - len(spans))


def _size(found: Watch, letter: str, size: float) -> str:
    """'A 2.4 h', or 'A 3' where no time is noted."""
    return f"{letter} {size / 60:.1f} h" if found.by_minutes else f"{letter} {size:.3g}"


def _against(causes: Sequence[str], knowledge: Knowledge) -> str:
    named = [cause_called(cause, knowledge) for cause in causes]
    left = len(named) - TOLD
    more = tr(" and {count} more", count=left) if left > 0 else ""
    return "; ".join(named[:TOLD]) + more
