"""What is shown of past cases: those like the present one, and what they all cost."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from pathlib import Path
from typing import Any

from rich.console import Console

from diagnose.cases.choose import NOTHING
from diagnose.cases.recall import Alike, recall
from diagnose.cases.record import plain
from diagnose.cases.screens import cause_name, counted_by, print_line
from diagnose.cases.shop import Shop
from diagnose.cases.waits import reading
from diagnose.cases.watch import (
    HELD,
    SHORTEST,
    YEAR,
    Back,
    Cost,
    Held,
    Span,
    Standard,
    Watch,
)
from diagnose.consultation import Consultation
from diagnose.errors import DiagnoseError
from diagnose.language import listed, tr, trn
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
        alike = recall(Shop(folder, reading), consultation, most)
    except DiagnoseError as error:
        line(console)
        line(console, str(error))
        return
    if alike:
        heading(console, tr("Your shop had this before"))
        line(console, tr("Of the past cases these are most like it:"))
        show_alike(console, alike, consultation.knowledge)


def show_alike(console: Console, alike: Sequence[Alike], knowledge: Knowledge) -> None:
    """Past cases: what it was, what is the same, what differs, what cured it."""
    for one in alike:
        case = one.kept.case
        names = listed(cause_name(c, knowledge) for c in case.confirmed)
        invented = tr(" (invented)") if case.invented else ""
        bullet(console, "*", f"{one.kept.id}: {names}{invented}")
        findings = knowledge.findings
        _few(console, tr("The same:"), [says(findings[f], v) for f, v in one.same])
        differs = [says(findings[f], then) for f, _, then in one.differs]
        _few(console, tr("But then:"), differs)
        if one.words:
            words = ", ".join(f"“{word}”" for word in one.words[:TOLD])
            bullet(console, tr("Both say:"), words, 2)
        cured = [
            knowledge.fixes[fix].name if fix in knowledge.fixes else fix
            for fix in one.cured
        ]
        bullet(
            console, tr("It helped:"), "; ".join(cured) or tr("that is not noted."), 2
        )
        cost = []
        if case.minutes is not None:
            cost.append(time_it_takes(case.minutes))
        if case.prints_lost is not None:
            cost.append(tr("{prints_lost} prints lost", prints_lost=case.prints_lost))
        if cost:
            bullet(console, tr("It took:"), ", ".join(cost), 2)


def _few(console: Console, label: str, told: Sequence[str]) -> None:
    if told:
        more = (
            tr(" … and {count} more.", count=len(told) - TOLD)
            if len(told) > TOLD
            else ""
        )
        bullet(console, label, " ".join(told[:TOLD]) + more, 2)


def says(finding: Finding, value: str) -> str:
    """A finding's value as a sentence; a somewhat is one."""
    if value == SOMEWHAT:
        return tr("Somewhat: {says}", says=finding.sentence("yes"))
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
        line(console, tr("There is no case."))
        return
    says = tr(
        "{cases}, {first} to {last}: {hours:.1f} hours, {prints:.0f} prints lost.",
        cases=cases_in(total),
        first=found.first,
        last=found.last,
        hours=total.minutes / 60,
        prints=total.prints,
    )
    line(console, says)
    if total.unnoted:
        says = tr(
            "The time it took is noted for {noted:.0f} of {count:.0f} cases.",
            noted=total.cases - total.unnoted,
            count=total.cases,
        )
        line(console, says)
    letters = _show_causes(console, found, knowledge)
    _show_bars(console, found, letters)
    _show_held(console, found.held, knowledge)
    _show_standards(console, found, knowledge)


def cases_in(cost: Cost) -> str:
    """'12 cases', '1 case', '2.5 cases'."""
    number = f"{cost.cases:.0f}" if cost.cases % 1 < 0.05 else f"{cost.cases:.1f}"
    if number == "1":
        return tr("1 case")
    return tr("{number} cases", number=number)


def cause_called(name: str, knowledge: Knowledge) -> str:
    """What a cause is called, by its id; free words are their own name."""
    record = knowledge.causes.get(name)
    return tr("not found") if name == NOTHING else record.name if record else name


def _show_causes(
    console: Console, found: Watch, knowledge: Knowledge
) -> Mapping[str, str]:
    """The dearest causes; the letter of each that has one."""
    heading(console, tr("What costs most"))
    wide = max(console.width - 3 - 30, 20)
    cause, cases, hours = tr("cause"), tr("cases"), tr("hours")
    prints = tr("prints lost")
    print_line(console, f"   {cause:<{wide}}  {cases:>5}  {hours:>6}  {prints:>11}")
    letters = {}
    for number, one in enumerate(found.causes[:LISTED]):
        letter = LETTERS[number] if number < len(LETTERS) else OTHERS
        if number < len(LETTERS):
            letters[one.name] = letter
        name = shortened(cause_called(one.name, knowledge), wide)
        cost = one.cost
        print_line(
            console,
            f"{letter}  {name:<{wide}}  {cost.cases:>5.4g}  {cost.minutes / 60:>6.1f}"
            f"  {cost.prints:>11.0f}",
        )
    rest = found.causes[LISTED:]
    if rest:
        cost = sum((one.cost for one in rest), Cost())
        name = tr("{count} more", count=len(rest))
        print_line(
            console,
            f"{OTHERS}  {name:<{wide}}  {cost.cases:>5.4g}  {cost.minutes / 60:>6.1f}"
            f"  {cost.prints:>11.0f}",
        )
    return letters


def _show_bars(console: Console, found: Watch, letters: Mapping[str, str]) -> None:
    """A bar for each month or value of the group, made up of its causes."""
    by = shortened(counted_by(found.by), 40)
    hours = tr("Hours by {by}", by=by)
    heading(console, hours if found.by_minutes else tr("Cases by {by}", by=by))
    spans = found.spans
    left_out = 0
    if found.by == "month":
        spans, left_out = spans[-MONTHS:], len(spans) - len(spans[-MONTHS:])
    elif len(spans) > SPANS:
        spans, left_out = spans[:SPANS], len(spans) - SPANS
    wide = min(max(len(span_name(one)) for one in spans), 20)
    room = max(console.width - wide - 2 - NUMBERS, 10)
    most = max(found.size(one.cost) for one in spans)
    for one in spans:
        cost = one.cost
        bar = stacked(found, one, letters, room, most)
        hours = f"{cost.minutes / 60:.1f} h"
        lost = tr("{prints:>8.0f} lost", prints=cost.prints)
        numbers = f"{hours:>8} {lost} {cases_in(cost):>10}"
        name = shortened(span_name(one), wide)
        print_line(console, f"{name:<{wide}}  {bar:<{room}}{numbers}")
    if left_out:
        if found.by == "month":
            says = tr("({count} earlier months are not drawn.)", count=left_out)
        else:
            says = tr("({count} more are not drawn.)", count=left_out)
        line(console, says)
    says = tr("Each letter is a cause of the table; {sign} is any other.", sign=OTHERS)
    line(console, says)


def span_name(one: Span) -> str:
    """The month, or the value of a group."""
    return tr("not noted") if one.name == NOTHING else one.name


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
    heading(console, tr("Did it hold for {days} days?", days=HELD))
    if not held:
        line(console, tr("No case says that a fix worked."))
        return
    line(
        console,
        tr("Did the same cause come back in the same group after a fix worked?"),
    )
    returned = [one for one in held if one.back]
    for one in returned[:LISTED]:
        fix = knowledge.fixes.get(one.fix)
        name, moment = one.fix, ""
        if fix is not None:
            name, moment = fix.name, knowledge.moments[fix.moment].name.lower()
        told = f" ({moment})" if moment else ""
        bullet(console, "*", f"{name}{told}: {how_it_held(one)}")
        for back in one.back[:TOLD]:
            bullet(console, "-", came_back(back, knowledge), 2)
        if len(one.back) > TOLD:
            line(console, tr("and {count} more times", count=len(one.back) - TOLD), 4)
    if len(returned) > LISTED:
        line(console, tr("and of {count} more fixes.", count=len(returned) - LISTED))
    if says := nothing_came_back(held):
        line(console, says)


def nothing_came_back(held: Sequence[Held]) -> str:
    """After how many fixes nothing came back; '' where there is none."""
    others = [one for one in held if not one.back]
    if not others:
        return ""
    worked = sum(one.worked for one in others)
    still = sum(one.open for one in others)
    soon = tr(" ({count} too short ago to tell)", count=still) if still else ""
    if len(others) < len(held):
        return trn(
            "Nothing came back after {n} other fix, which worked {worked} times in "
            "all{soon}.",
            "Nothing came back after {n} other fixes, which worked {worked} times in "
            "all{soon}.",
            len(others),
            worked=worked,
            soon=soon,
        )
    return trn(
        "Nothing came back after {n} fix, which worked {worked} times in all{soon}.",
        "Nothing came back after {n} fixes, which worked {worked} times in all{soon}.",
        len(others),
        worked=worked,
        soon=soon,
    )


def how_it_held(one: Held) -> str:
    """'worked twice, held 1, came back 1'."""
    parts = [
        trn("worked once", "worked {n} times", one.worked),
        tr("held {count}", count=one.held),
        tr("came back {count}", count=len(one.back)),
    ]
    if one.open:
        parts.append(tr("too short ago to tell {count}", count=one.open))
    return ", ".join(parts)


def came_back(back: Back, knowledge: Knowledge) -> str:
    """Which cause came back, from when to when."""
    return trn(
        "{cause}: {first}, a day later {again}",
        "{cause}: {first}, {n} days later {again}",
        back.days,
        cause=cause_called(back.cause, knowledge),
        first=back.first,
        again=back.again,
    )


def _show_standards(console: Console, found: Watch, knowledge: Knowledge) -> None:
    """The fixes to make the rule, by what they would save a year."""
    heading(console, tr("What to standardise first"))
    if not found.standards:
        line(
            console,
            tr("None of these causes has a fix that keeps it from coming back."),
        )
        return
    says = tr(
        "What each would save a year, after those above it, going by {length}:",
        length=length(found.years),
    )
    line(console, says)
    for number, one in enumerate(found.standards[:LISTED], 1):
        _show_standard(console, number, one, knowledge)


def length(years: float) -> str:
    """'30 days', '1.5 years'."""
    days = max(years * YEAR, SHORTEST)
    if years < 1:
        return tr("{days:.0f} days", days=days)
    return tr("{years:.1f} years", years=years)


def _show_standard(
    console: Console, number: int, one: Standard, knowledge: Knowledge
) -> None:
    causes = [cause_called(cause, knowledge) for cause in one.causes]
    against = ", ".join(causes[:TOLD])
    left = len(causes) - TOLD
    more = tr(" and {count} more", count=left) if left > 0 else ""
    says = tr(
        "{name}: {hours:.1f} hours and {prints:.0f} prints",
        name=knowledge.fixes[one.fix].name,
        hours=one.saves.minutes / 60,
        prints=one.saves.prints,
    )
    bullet(console, f"{number:>2}.", says)
    bullet(console, tr("against"), f"{against}{more}", 4)
