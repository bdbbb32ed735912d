"""What the commands on cases print."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from typing import TYPE_CHECKING

from rich.console import Console

from diagnose.cases.choose import NOTHING, Tally
from diagnose.cases.record import Case, Confirmed
from diagnose.cases.shop import Broken, Kept
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
    return " and ".join(names) or "not found"


def show_list(console: Console, kept: Sequence[Kept], knowledge: Knowledge) -> None:
    """A line for each case: id, cause, and the first words of what was seen."""
    for one in kept:
        case = one.case
        cause = shortened(causes_of(case, knowledge), CAUSE)
        room = max(console.width - len(one.id) - CAUSE - 4, 12)
        seen = shortened(_seen(case, knowledge), room)
        line(console, f"{one.id}  {cause:<{CAUSE}}  {seen}")
    line(console, f"{_counted(len(kept), 'case')}.")


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


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
        line(console, "The knowledge lacks something that a case names:")
        for says in told[:TOLD]:
            line(console, says, 2)
        if len(told) > TOLD:
            line(console, f"and {len(told) - TOLD} more.", 2)
    if broken:
        one_only = "1 file is no case, and is left as it was:"
        several = f"{len(broken)} files are no cases, and are left as they were:"
        line(console, one_only if len(broken) == 1 else several)
    for one in broken:
        for says in one.says.splitlines():
            line(console, says, 2)


def show_case(console: Console, kept: Kept, knowledge: Knowledge) -> None:
    """One case as a page."""
    case = kept.case
    line(console, f"Case {kept.id}", style="bold")
    if case.invented:
        line(console, "Invented: made up to show how it is done.")
    groups = [f"{label}: {value}" for label, value in case.groups.items()]
    facts = [case.date, *([f"traced by {case.who}"] if case.who else []), *groups]
    line(console, "; ".join(map(printable, facts)))
    for text in case.said:
        bullet(console, "Said:", f"“{printable(text)}”")
    _show_answers(console, case, knowledge)
    heading(console, "What it was")
    if not case.confirmed:
        line(console, "No cause was confirmed.", 2)
    for one in case.confirmed:
        lacks = "" if one.cause in knowledge.causes or not one.cause else " (unknown)"
        id = f" ({one.cause})" if one.cause in knowledge.causes else lacks
        how = f": {one.how}" if one.how else ""
        bullet(console, "*", f"{cause_name(one, knowledge)}{id}{how}", 2)
    for was in case.corrected:
        before = ", ".join(was.was) or "no cause"
        says = (
            f"until {was.on}: {before}. Corrected: {was.because or 'no reason given'}"
        )
        bullet(console, "-", says, 2)
    _show_ranking(console, case, knowledge)
    _show_cost(console, case, knowledge)
    for says in kept.told:
        bullet(console, "!", says)


def _show_answers(console: Console, case: Case, knowledge: Knowledge) -> None:
    if case.given():
        heading(console, "What was found")
    for id, value in case.given().items():
        record = knowledge.findings.get(id)
        says = f"{id}: {value}" if record is None else _as_sentence(record, value)
        bullet(console, "*", printable(says), 2)
    for words in case.not_understood:
        bullet(console, "?", f"not understood: “{printable(words)}”", 2)


def _as_sentence(finding: Finding, value: str) -> str:
    if value == DONT_KNOW:
        return f"not known: {finding.name}."
    if finding.kind == "reading":
        return f"{finding.name}: {value}"
    if value == SOMEWHAT:
        return f"Somewhat: {finding.sentence('yes')}"
    return finding.sentence(value)


def _show_ranking(console: Console, case: Case, knowledge: Knowledge) -> None:
    if not case.ranking:
        return
    heading(console, "What was ranked then")
    right = {one.cause for one in case.confirmed}
    names = {
        **{id: cause.name for id, cause in knowledge.causes.items()},
        "not-covered": knowledge.scales.not_covered_name,
    }
    for number, one in enumerate(case.ranking, 1):
        mark = "  <- this it was" if one.cause in right else ""
        chance = f"{percent(one.chance):>5} {bar(one.chance)}"
        name = names.get(one.cause, one.cause)
        bullet(console, f"{number:>2}. {chance}", f"{name}{mark}", 2)


def _show_cost(console: Console, case: Case, knowledge: Knowledge) -> None:
    heading(console, "What was done, and what it cost")
    for id, worked in case.tried.items():
        fix = knowledge.fixes.get(id)
        result = "it worked" if worked == "yes" else "it did not work"
        bullet(console, "*", f"{fix.name if fix else id}: {result}", 2)
    minutes = "not noted" if case.minutes is None else time_it_takes(case.minutes)
    prints = "not noted" if case.prints_lost is None else f"{case.prints_lost}"
    line(console, f"Time to trace and mend it: {minutes}. Prints lost: {prints}.", 2)
    if case.notes:
        for text in case.notes.splitlines():
            line(console, printable(text), 2)


def show_tally(
    console: Console, tallies: Sequence[Tally], by: str, knowledge: Knowledge
) -> None:
    """How many cases of each, with a bar, the hours and the prints they cost."""
    if not tallies:
        line(console, "There is no case.")
        return
    most = max(one.cases for one in tallies)
    wide = max(console.width - 41, 20)
    print_line(console, f"{by:<{wide}}  cases{'':12}  hours  prints lost")
    for one in tallies:
        name = one.name
        if by == "cause":
            name = "not found" if name == NOTHING else name
            record = knowledge.causes.get(name)
            name = record.name if record is not None else name
        name = shortened(name, wide)
        full = "#" * max(round(10 * one.cases / most), 1)
        hours = f"{one.minutes / 60:.1f}"
        print_line(
            console,
            f"{name:<{wide}}  {one.cases:>5} {full:<11}  {hours:>5}  "
            f"{one.prints_lost:>11}",
        )


def print_line(console: Console, text: str) -> None:
    """A line of a table, which is not wrapped."""
    console.print(text.rstrip()[: console.width], soft_wrap=True)


def show_import(console: Console, report: Report, *, dry_run: bool) -> None:
    """What was taken, what was there already, and every row that was not taken."""
    for says in [*report.notes, *report.told]:
        line(console, says)
    would = "would be taken" if dry_run else "taken"
    line(console, f"{_counted(len(report.taken), 'case')} {would}.")
    if report.twice:
        rows = ", ".join(map(str, report.twice[:12]))
        more = f" and {len(report.twice) - 12} more" if len(report.twice) > 12 else ""
        line(console, f"{len(report.twice)} there already (row {rows}{more}).")
    if report.left:
        line(console, f"{_counted(len(report.left), 'row')} not taken; see above.")
