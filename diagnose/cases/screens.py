"""What the commands on cases print."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from rich.console import Console

from diagnose.cases.choose import NOTHING, Tally
from diagnose.cases.record import Case, Confirmed
from diagnose.cases.shop import Broken, Kept
from diagnose.language import listed, tr, trn
from diagnose.records import Finding, Knowledge
from diagnose.screens import (
    bar,
    bullet,
    heading,
    line,
    percent,
    printable,
    shortened,
    time_it_takes,
)
from diagnose.sheets import DONT_KNOW, SOMEWHAT

if TYPE_CHECKING:
    from diagnose.cases.exchange import Report

CAUSE = 28
"""Columns for a cause's name in a list."""

TOLD = 5
"""So many sentences on what the knowledge lacks are shown with a list."""


def cause_name(one: Confirmed, knowledge: Knowledge) -> str:
    """The name of a cause; its id where the knowledge lacks it, or the free words."""
    record = knowledge.causes.get(one.cause)
    return record.name if record is not None else one.name()


def causes_of(case: Case, knowledge: Knowledge) -> str:
    """The confirmed causes after one another."""
    names = [cause_name(one, knowledge) for one in case.confirmed]
    return listed(names) or tr("not found")


def show_list(console: Console, kept: Sequence[Kept], knowledge: Knowledge) -> None:
    """A line for each case: id, cause, and the first words of what was seen."""
    for one in kept:
        case = one.case
        cause = shortened(causes_of(case, knowledge), CAUSE)
        room = max(console.width - len(one.id) - CAUSE - 4, 12)
        seen = shortened(_seen(case, knowledge), room)
        line(console, f"{one.id}  {cause:<{CAUSE}}  {seen}")
    line(console, trn("{n} case.", "{n} cases.", len(kept)))


def _seen(case: Case, knowledge: Knowledge) -> str:
    if case.said:
        return case.said[0]
    yes = [id for id, value in case.answers.items() if value == "yes"]
    for id in yes:
        if id in knowledge.findings:
            return knowledge.findings[id].sentence("yes")
    return case.notes or ", ".join(yes)


def show_broken(
    console: Console, broken: Sequence[Broken], kept: Iterable[Kept] = ()
) -> None:
    """The files that can't be read, and what the knowledge lacks of the others."""
    told = [says for one in kept for says in one.told]
    if told:
        line(console, tr("The knowledge lacks something that a case names:"))
        for says in told[:TOLD]:
            line(console, says, 2)
        if len(told) > TOLD:
            line(console, tr("and {count} more.", count=len(told) - TOLD), 2)
    if broken:
        line(
            console,
            trn(
                "{n} file is no case, and is left as it was:",
                "{n} files are no cases, and are left as they were:",
                len(broken),
            ),
        )
    for one in broken:
        for says in one.says.splitlines():
            line(console, says, 2)


def show_case(console: Console, kept: Kept, knowledge: Knowledge) -> None:
    """One case as a page."""
    case = kept.case
    line(console, tr("Case {id}", id=kept.id), style="bold")
    if case.invented:
        line(console, tr("Invented: made up to show how it is done."))
    groups = [f"{label}: {value}" for label, value in case.groups.items()]
    who = [tr("traced by {who}", who=case.who)] if case.who else []
    facts = [case.date, *who, *groups]
    line(console, "; ".join(map(printable, facts)))
    for text in case.said:
        bullet(console, tr("Said:"), f"“{printable(text)}”")
    _show_answers(console, case, knowledge)
    heading(console, tr("What it was"))
    if not case.confirmed:
        line(console, tr("No cause was confirmed."), 2)
    for one in case.confirmed:
        lacks = tr(" (unknown)") if one.cause else ""
        id = f" ({one.cause})" if one.cause in knowledge.causes else lacks
        how = f": {one.how}" if one.how else ""
        bullet(console, "*", f"{cause_name(one, knowledge)}{id}{how}", 2)
    for was in case.corrected:
        says = tr(
            "until {day}: {before}. Corrected: {because}",
            day=was.on,
            before=", ".join(was.was) or tr("no cause"),
            because=was.because or tr("no reason given"),
        )
        bullet(console, "-", says, 2)
    _show_ranking(console, case, knowledge)
    _show_cost(console, case, knowledge)
    for says in kept.told:
        bullet(console, "!", says)


def _show_answers(console: Console, case: Case, knowledge: Knowledge) -> None:
    if case.given():
        heading(console, tr("What was found"))
    for id, value in case.given().items():
        record = knowledge.findings.get(id)
        says = f"{id}: {value}" if record is None else _as_sentence(record, value)
        bullet(console, "*", printable(says), 2)
    for words in case.not_understood:
        bullet(console, "?", tr("not understood: “{words}”", words=printable(words)), 2)


def _as_sentence(finding: Finding, value: str) -> str:
    if value == DONT_KNOW:
        return tr("not known: {name}.", name=finding.name)
    if finding.kind == "reading":
        return f"{finding.name}: {value}"
    if value == SOMEWHAT:
        return tr("Somewhat: {says}", says=finding.sentence("yes"))
    return finding.sentence(value)


def _show_ranking(console: Console, case: Case, knowledge: Knowledge) -> None:
    if not case.ranking:
        return
    heading(console, tr("What was ranked then"))
    right = {one.cause for one in case.confirmed}
    names = {
        **{id: cause.name for id, cause in knowledge.causes.items()},
        "not-covered": knowledge.scales.not_covered_name,
    }
    for number, one in enumerate(case.ranking, 1):
        mark = tr("  <- this it was") if one.cause in right else ""
        chance = f"{percent(one.chance):>5} {bar(one.chance)}"
        name = names.get(one.cause, one.cause)
        bullet(console, f"{number:>2}. {chance}", f"{name}{mark}", 2)


def _show_cost(console: Console, case: Case, knowledge: Knowledge) -> None:
    heading(console, tr("What was done, and what it cost"))
    for id, worked in case.tried.items():
        fix = knowledge.fixes.get(id)
        result = tr("it worked") if worked == "yes" else tr("it did not work")
        bullet(console, "*", f"{fix.name if fix else id}: {result}", 2)
    nothing = tr("not noted")
    says = tr(
        "Time to trace and mend it: {minutes}. Prints lost: {prints}.",
        minutes=nothing if case.minutes is None else time_it_takes(case.minutes),
        prints=nothing if case.prints_lost is None else case.prints_lost,
    )
    line(console, says, 2)
    if case.notes:
        for text in case.notes.splitlines():
            line(console, printable(text), 2)


def show_tally(
    console: Console, tallies: Sequence[Tally], by: str, knowledge: Knowledge
) -> None:
    """How many cases of each, with a bar, the hours and the prints they cost."""
    if not tallies:
        line(console, tr("There is no case."))
        return
    most = max(one.cases for one in tallies)
    wide = max(console.width - 41, 20)
    cases, hours, prints = tr("cases"), tr("hours"), tr("prints lost")
    by_what = counted_by(by)
    print_line(console, f"{by_what:<{wide}}  {cases:<17}  {hours:>5}  {prints:>11}")
    for one in tallies:
        name = one.name
        if by == "cause":
            name = tr("not found") if name == NOTHING else name
            record = knowledge.causes.get(name)
            name = record.name if record is not None else name
        name = shortened(name, wide)
        full = "#" * max(round(10 * one.cases / most), 1)
        time = f"{one.minutes / 60:.1f}"
        print_line(
            console,
            f"{name:<{wide}}  {one.cases:>5} {full:<11}  {time:>5}  "
            f"{one.prints_lost:>11}",
        )


def counted_by(by: str) -> str:
    """What cases are counted by, as it is read: a cause, a month, or a label."""
    return {"cause": tr("cause"), "month": tr("month")}.get(by, by)


def print_line(console: Console, text: str) -> None:
    """A line of a table, which is not wrapped."""
    console.print(text.rstrip()[: console.width], soft_wrap=True)


def show_import(console: Console, report: Report, *, dry_run: bool) -> None:
    """What was taken, what was there already, and every row that was not taken."""
    for says in [*report.notes, *report.told]:
        line(console, says)
    count = len(report.taken)
    if dry_run:
        says = trn("{n} case would be taken.", "{n} cases would be taken.", count)
    else:
        says = trn("{n} case taken.", "{n} cases taken.", count)
    line(console, says)
    if report.twice:
        rows = ", ".join(map(str, report.twice[:12]))
        left = len(report.twice) - 12
        more = tr(" and {count} more", count=left) if left > 0 else ""
        line(
            console,
            tr(
                "{count} there already (row {rows}{more}).",
                count=len(report.twice),
                rows=rows,
                more=more,
            ),
        )
    if report.left:
        line(
            console,
            trn(
                "{n} row not taken; see above.",
                "{n} rows not taken; see above.",
                len(report.left),
            ),
        )
