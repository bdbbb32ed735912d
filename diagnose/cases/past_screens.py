"""What is shown of past cases: those like the present one, and what they all cost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from rich.console import Console

from diagnose.cases.choose import NOTHING
from diagnose.cases.recall import Alike, recall
from diagnose.cases.record import plain
from diagnose.cases.screens import cause_name, print_line
from diagnose.cases.shop import Shop
from diagnose.cases.watch import HELD, SHORTEST, YEAR, Cost, Held, Span, Standard, Watch
from diagnose.consultation import Consultation
from diagnose.errors import DiagnoseError
from diagnose.records import Finding, Knowledge
from diagnose.screens import bullet, heading, line, shortened, time_it_takes
from diagnose.sheets import SOMEWHAT

TOLD = 3
"""So many findings are told that are the same in a past case, and that differ."""

LETTERS = "ABCDEF"
"""Causes with a letter of their own in a bar."""

OTHERS = "."
"""Stands for all other causes in a bar."""

LISTED = 10
"""So many causes, fixes and standards are listed."""

MONTHS = 24
"""So many months are drawn, the last ones."""

SPANS = 20
"""So many values of a group are drawn, the dearest ones."""

NUMBERS = 34
"""Columns for the numbers behind a bar."""


# past cases like this one


def show_recalled(
    console: Console, consultation: Consultation, folder: Path, most: int = 3
) -> None:
    """The past cases like a consultation; nothing where there are none."""
    try:
        alike = recall(Shop(folder), consultation, most)
    except DiagnoseError as error:
        line(console)
        line(console, str(error))
        return
    if alike:
        heading(console, "Your shop had this before")
        line(console, "Of the past cases these are most like it:")
        show_alike(console, alike, consultation.knowledge)


def show_alike(console: Console, alike: Sequence[Alike], knowledge: Knowledge) -> None:
    """Past cases: what it was, what is the same, what differs, what cured it."""
    for one in alike:
        case = one.kept.case
        names = " and ".join(cause_name(c, knowledge) for c in case.confirmed)
        invented = " (invented)" if case.invented else ""
        bullet(console, "*", f"{one.kept.id}: {names}{invented}")
        findings = knowledge.findings
        _few(console, "The same:", [says(findings[f], v) for f, v in one.same])
        differs = [says(findings[f], then) for f, _, then in one.differs]
        _few(console, "But then:", differs)
        if one.words:
            words = ", ".join(f"“{word}”" for word in one.words[:TOLD])
            bullet(console, "Both say:", words, 2)
        cured = [
            knowledge.fixes[fix].name if fix in knowledge.fixes else fix
            for fix in one.cured
        ]
        bullet(console, "It helped:", "; ".join(cured) or "that is not noted.", 2)
        cost = []
        if case.minutes is not None:
            cost.append(time_it_takes(case.minutes))
        if case.prints_lost is not None:
            cost.append(f"{case.prints_lost} prints lost")
        if cost:
            bullet(console, "It took:", ", ".join(cost), 2)


def _few(console: Console, label: str, told: Sequence[str]) -> None:
    if told:
        more = f" … and {len(told) - TOLD} more." if len(told) > TOLD else ""
        bullet(console, label, " ".join(told[:TOLD]) + more, 2)


def says(finding: Finding, value: str) -> str:
    """A finding's value as a sentence; a somewhat is one."""
    if value == SOMEWHAT:
        return f"Somewhat: {finding.sentence('yes')}"
    return finding.sentence(value)


def alike_data(alike: Sequence[Alike]) -> list[dict[str, Any]]:
    """The same as plain data."""
    return [
        {
            "id": one.kept.id,
            "bits": one.bits,
            "confirmed": plain(one.kept.case).get("confirmed", []),
            "same": dict(one.same),
            "differs": {f: {"now": now, "then": then} for f, now, then in one.differs},
            "words": list(one.words),
            "cured_by": list(one.cured),
        }
        for one in alike
    ]


# what they cost


def show_watch(console: Console, found: Watch, knowledge: Knowledge) -> None:
    """What costs most as a table, when or where as bars, what held, what to do."""
    total = found.total
    if not total.cases:
        line(console, "There is no case.")
        return
    of = f"{found.first} to {found.last}"
    line(console, f"{_cases(total)}, {of}: {_cost(total)}.")
    if total.unnoted:
        noted = f"{total.cases - total.unnoted:.0f} of {total.cases:.0f}"
        line(console, f"The time it took is noted for {noted} cases.")
    letters = _show_causes(console, found, knowledge)
    _show_bars(console, found, letters)
    _show_held(console, found.held, knowledge)
    _show_standards(console, found, knowledge)


def _cases(cost: Cost) -> str:
    number = f"{cost.cases:.0f}" if cost.cases % 1 < 0.05 else f"{cost.cases:.1f}"
    return f"{number} case{'' if number == '1' else 's'}"


def _cost(cost: Cost) -> str:
    prints = f"{cost.prints:.0f} prints lost"
    return f"{cost.minutes / 60:.1f} hours, {prints}"


def _name(name: str, knowledge: Knowledge) -> str:
    record = knowledge.causes.get(name)
    return "not found" if name == NOTHING else record.name if record else name


def _show_causes(
    console: Console, found: Watch, knowledge: Knowledge
) -> Mapping[str, str]:
    """The dearest causes; the letter of each that has one."""
    heading(console, "What costs most")
    wide = max(console.width - 3 - 30, 20)
    print_line(console, f"   {'cause':<{wide}}  cases   hours  prints lost")
    letters = {}
    for number, one in enumerate(found.causes[:LISTED]):
        letter = LETTERS[number] if number < len(LETTERS) else OTHERS
        if number < len(LETTERS):
            letters[one.name] = letter
        name = shortened(_name(one.name, knowledge), wide)
        cost = one.cost
        print_line(
            console,
            f"{letter}  {name:<{wide}}  {cost.cases:>5.4g}  {cost.minutes / 60:>6.1f}"
            f"  {cost.prints:>11.0f}",
        )
    rest = found.causes[LISTED:]
    if rest:
        cost = sum((one.cost for one in rest), Cost())
        name = f"{len(rest)} more"
        print_line(
            console,
            f"{OTHERS}  {name:<{wide}}  {cost.cases:>5.4g}  {cost.minutes / 60:>6.1f}"
            f"  {cost.prints:>11.0f}",
        )
    return letters


def _show_bars(console: Console, found: Watch, letters: Mapping[str, str]) -> None:
    """A bar for each month or value of the group, made up of its causes."""
    what = "Hours" if found.by_minutes else "Cases"
    heading(console, f"{what} by {shortened(found.by, 40)}")
    spans = found.spans
    left_out = 0
    if found.by == "month":
        spans, left_out = spans[-MONTHS:], len(spans) - len(spans[-MONTHS:])
    elif len(spans) > SPANS:
        spans, left_out = spans[:SPANS], len(spans) - SPANS
    wide = min(max(len(_span(one)) for one in spans), 20)
    room = max(console.width - wide - 2 - NUMBERS, 10)
    most = max(found.size(one.cost) for one in spans)
    for one in spans:
        cost = one.cost
        bar = stacked(found, one, letters, room, most)
        hours = f"{cost.minutes / 60:.1f} h"
        numbers = f"{hours:>8} {cost.prints:>8.0f} lost {_cases(cost):>10}"
        name = shortened(_span(one), wide)
        print_line(console, f"{name:<{wide}}  {bar:<{room}}{numbers}")
    if left_out:
        kind = "earlier months are" if found.by == "month" else "more are"
        line(console, f"({left_out} {kind} not drawn.)")
    line(console, f"Each letter is a cause of the table; {OTHERS} is any other.")


def _span(one: Span) -> str:
    return "not noted" if one.name == NOTHING else one.name


def stacked(
    found: Watch, span: Span, letters: Mapping[str, str], room: int, most: float
) -> str:
    """A bar of letters, as long as its cost is of the dearest; each cause has a share.

    Args:
        found: says what a cost is measured by.
        span: the month, or the value of a group.
        letters: the letter of each cause that has one.
        room: characters of the longest bar.
        most: what that one stands for.
    """
    total = found.size(span.cost)
    if not total or not most:
        return ""
    length = max(round(room * total / most), 1)
    parts: dict[str, float] = {}
    for cause, cost in span.causes.items():
        letter = letters.get(cause, OTHERS)
        parts[letter] = parts.get(letter, 0.0) + found.size(cost)
    order = sorted(parts, key=lambda letter: (letter == OTHERS, letter))
    bar, reached = "", 0.0
    for letter in order:
        reached += parts[letter]
        bar += letter * (round(length * reached / total) - len(bar))
    return bar


def _show_held(console: Console, held: Sequence[Held], knowledge: Knowledge) -> None:
    """Which fixes held, and what came back."""
    heading(console, f"Did it hold for {HELD} days?")
    if not held:
        line(console, "No case says that a fix worked.")
        return
    line(console, "Did the same cause come back in the same group after a fix worked?")
    returned = [one for one in held if one.back]
    for one in returned[:LISTED]:
        fix = knowledge.fixes.get(one.fix)
        name, moment = one.fix, ""
        if fix is not None:
            name, moment = fix.name, knowledge.moments[fix.moment].name.lower()
        times = "once" if one.worked == 1 else f"{one.worked} times"
        parts = [f"worked {times}", f"held {one.held}", f"came back {len(one.back)}"]
        if one.open:
            parts.append(f"too short ago to tell {one.open}")
        told = f" ({moment})" if moment else ""
        bullet(console, "*", f"{name}{told}: {', '.join(parts)}")
        for back in one.back[:TOLD]:
            days = "a day" if back.days == 1 else f"{back.days} days"
            cause = _name(back.cause, knowledge)
            bullet(console, "-", f"{cause}: {back.first}, {days} later {back.again}", 2)
        if len(one.back) > TOLD:
            line(console, f"and {len(one.back) - TOLD} more times", 4)
    if len(returned) > LISTED:
        line(console, f"and of {len(returned) - LISTED} more fixes.")
    others = [one for one in held if not one.back]
    if others:
        worked = sum(one.worked for one in others)
        kind = "other fixes" if returned else "fixes"
        still = sum(one.open for one in others)
        soon = f" ({still} too short ago to tell)" if still else ""
        says = f"Nothing came back after {len(others)} {kind}, which worked {worked}"
        line(console, f"{says} times in all{soon}.")


def _show_standards(console: Console, found: Watch, knowledge: Knowledge) -> None:
    """The fixes to make the rule, by what they would save a year."""
    heading(console, "What to standardise first")
    if not found.standards:
        line(console, "None of these causes has a fix that keeps it from coming back.")
        return
    line(
        console,
        "What each would save a year, after those above it, going by "
        f"{_length(found.years)}:",
    )
    for number, one in enumerate(found.standards[:LISTED], 1):
        _show_standard(console, number, one, knowledge)


def _length(years: float) -> str:
    days = years * YEAR
    if days < SHORTEST + 0.5:
        return f"{SHORTEST} days"
    return f"{days:.0f} days" if years < 1 else f"{years:.1f} years"


def _show_standard(
    console: Console, number: int, one: Standard, knowledge: Knowledge
) -> None:
    causes = [_name(cause, knowledge) for cause in one.causes]
    against = ", ".join(causes[:TOLD])
    more = f" and {len(causes) - TOLD} more" if len(causes) > TOLD else ""
    saves = f"{one.saves.minutes / 60:.1f} hours and {one.saves.prints:.0f} prints"
    bullet(console, f"{number:>2}.", f"{knowledge.fixes[one.fix].name}: {saves}")
    bullet(console, "against", f"{against}{more}", 4)
