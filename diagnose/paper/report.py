"""A consultation as a report for paper, and as a ticket to hang on the screen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from markupsafe import Markup

from diagnose.cases.record import Case, day_of, read_case, sheet_of, today
from diagnose.consultation import Consultation
from diagnose.drawings.readings import svg_of
from diagnose.errors import AnswerError, FolderError
from diagnose.paper.page import html, inlined
from diagnose.paper.trail import diagram
from diagnose.plan import PlannedFix
from diagnose.ranking import RankedCause
from diagnose.readings import Reading
from diagnose.records import Finding, Input, Knowledge, Output, Window, Working
from diagnose.screens import FULL, LEAST, LISTED, WORTH_NAMING, WORTH_REASONS, cited_as
from diagnose.sheets import DONT_KNOW, SOMEWHAT, Sheet, read_sheet
from diagnose.workings import Amount, Worked, judged
from diagnose.yamltext import YamlError, parse, read_text

FIXES = 3
"""So many fixes are spelled out in each part of the plan; the others are named."""

DRAWN = 0.25
"""The way to a cause that is less likely is drawn only where it leads."""

PICTURES, READINGS = 2, 8
"""So many pictures of findings, and of readings, are printed."""


@dataclass(frozen=True, slots=True)
class Told:
    """Where a report comes from: the answers, and what a case has besides."""

    consultation: Consultation
    name: str
    case: Case | None = None
    lacks: tuple[str, ...] = ()


def told_in(path: Path, knowledge: Knowledge) -> Told:
    """A sheet, a kept consultation or a case, as it stands in a file.

    Raises:
        SheetError, CaseError: all that is wrong with it.
        FolderError: there is no such file, or it can't be read.
    """
    if _is_case(path):
        read = read_case(path, knowledge)
        sheet = sheet_of(read.case, knowledge)
        held = Consultation(knowledge, sheet)
        return Told(held, path.stem, read.case, tuple(read.told))
    filled = read_sheet(path, knowledge)
    said = "" if filled.begun else "\n".join(filled.said)
    if said:
        filled.said = []
    held = Consultation(knowledge, filled)
    if said.strip():
        held.describe(said)
    return Told(held, path.stem)


def _is_case(path: Path) -> bool:
    try:
        data, _ = parse(read_text(path, str(path)), str(path))
    except YamlError:
        return False
    return isinstance(data, dict) and "date" in data


def newest(folder: Path) -> Path:
    """The newest kept consultation in which something was answered.

    Raises:
        FolderError: there is none.
    """
    try:
        kept = sorted(folder.glob("consultation-*.yaml"), reverse=True)
        found = next((one for one in kept if one.stat().st_size), None)
    except OSError as error:
        raise FolderError(
            f"{folder}: the folder can't be read: {error.strerror or error}."
        ) from None
    if found is None:
        raise FolderError(
            f"{folder}: no consultation is kept there; name an answer sheet, or begin "
            "one with: diagnose"
        )
    return found


def report(told: Told) -> str:
    """The whole report as one page of HTML.

    Raises:
        AnswerError: nothing was said of what went wrong.
    """
    return html("report.html", **_parts(told))


def ticket(told: Told) -> str:
    """Half a page to hang on the screen.

    Raises:
        AnswerError: nothing was said of what went wrong.
    """
    parts = _parts(told)
    first = {moment: part[0] for moment, part in parts["plan"].parts.items() if part}
    names = [
        parts["knowledge"].cautions[id].name
        for id in dict.fromkeys(c for one in first.values() for c in one.fix.cautions)
    ]
    likely = [one for one in parts["causes"] if one.probability >= WORTH_REASONS]
    return html(
        "ticket.html",
        **(parts | {"first": first, "care": names, "likely": likely[:2]}),
    )


def _parts(told: Told) -> dict[str, Any]:
    """All that the templates show."""
    held, case = told.consultation, told.case
    knowledge = held.knowledge
    if not held.look.known:
        raise AnswerError(
            f"{told.name}: nothing was said of what went wrong, so there is nothing to "
            "report."
        )
    ranking, plan = held.ranking(), held.plan()
    likely = [one for one in ranking.causes if one.probability >= LEAST]
    likely = likely or list(ranking.causes[:1])
    full = [
        one
        for number, one in enumerate(likely[:FULL])
        if number == 0 or one.probability >= WORTH_REASONS
    ]
    question = held.next_question()
    spelled = {
        moment: [
            one
            for number, one in enumerate(part)
            if number == 0 or one.chance >= WORTH_NAMING
        ][:FIXES]
        for moment, part in plan.parts.items()
    }
    rest = {
        moment: [one for one in part if one not in spelled[moment]][:FIXES]
        for moment, part in plan.parts.items()
    }
    checks = {
        one.cause: knowledge.causes[one.cause].settled_by
        for one in full
        if one.cause in knowledge.causes
    }
    cautions = dict.fromkeys(ranking.cautions) | dict.fromkeys(
        id
        for part in (*spelled.values(), *rest.values())
        for one in part
        for id in one.fix.cautions
    )
    cautions |= dict.fromkeys(
        id for every in checks.values() for one in every for id in one.cautions
    )
    if question is not None and question.id in knowledge.findings:
        cautions |= dict.fromkeys(knowledge.findings[question.id].cautions)
    return {
        "told": told,
        "case": case,
        "sheet": held.sheet,
        "knowledge": knowledge,
        "day": case.date if case else day_of(held.sheet.begun),
        "today": today(),
        "answers": _answers(held),
        "unknown": _unknown(held.sheet, knowledge),
        "ranking": ranking,
        "causes": likely[:LISTED],
        "full": full,
        "overlap": sum(one.probability for one in ranking.causes) > 1.01,
        "diagrams": {
            one.cause: drawn
            for number, one in enumerate(full)
            if (number == 0 or one.probability >= DRAWN)
            and (drawn := diagram(held.look, one)) is not None
        },
        "checks": checks,
        "readings": _readings(held),
        "pictures": _pictures(held, full),
        "plan": plan,
        "spelled": spelled,
        "rest": rest,
        "cautions": [knowledge.cautions[id] for id in cautions],
        "question": question,
        "nothing_to_ask": "" if question else held.nothing_to_ask(),
        "sources": _sources(knowledge, full, spelled),
        "confirmed": _confirmed(held, case),
    }


def _answers(held: Consultation) -> dict[str, list[str]]:
    """What was found, in sentences, by what kind of thing it is."""
    sheet, findings = held.sheet, held.knowledge.findings
    groups: dict[str, list[str]] = {
        "What is seen": [],
        "What was checked": [],
        "The set-up and what was done": [],
    }
    for id, value in {**sheet.answers, **sheet.set_up}.items():
        if value == DONT_KNOW:
            continue
        finding = findings[id]
        says = finding.sentence("yes" if value == SOMEWHAT else value)
        says = f"Somewhat: {says}" if value == SOMEWHAT else says
        title = {
            "sign": "What is seen",
            "timing": "What is seen",
            "check": "What was checked",
        }.get(finding.role, "The set-up and what was done")
        groups[title].append(says)
    return {title: said for title, said in groups.items() if said}


def _unknown(sheet: Sheet, knowledge: Knowledge) -> list[str]:
    return [
        knowledge.findings[id].name
        for id, value in sheet.given().items()
        if value == DONT_KNOW
    ]


def windows_of(
    knowledge: Knowledge, given: Mapping[str, str] | None = None
) -> dict[str, list[Window]]:
    """For each reading, the windows that workings or rules hold it against.

    Args:
        knowledge: what the tool knows.
        given: the answers; a rule that asks for others is left out. All rules count
            where left out.
    """
    found: dict[str, dict[str, None]] = {}
    for rule in knowledge.rules.values():
        others = [one for one in rule.when.all if one.finding]
        if given is not None and not all(
            given.get(one.finding or "") in one.wanted() for one in others
        ):
            continue
        for one in rule.when.all:
            if one.reading and one.window in knowledge.windows:
                found.setdefault(one.reading, {})[one.window or ""] = None
    for working in knowledge.workings.values():
        for output in working.gives:
            if output.finding and output.window in knowledge.windows:
                found.setdefault(output.finding, {})[output.window or ""] = None
    return {
        id: [knowledge.windows[name] for name in names] for id, names in found.items()
    }


def _readings(held: Consultation) -> list[dict[str, Any]]:
    """Each reading with its value, and its picture where it has a window."""
    look, knowledge = held.look, held.knowledge
    windows = windows_of(knowledge, held.sheet.given())
    found: list[dict[str, Any]] = []
    for id, reading in look.readings.items():
        finding = knowledge.findings[id]
        worked = look.derived.worked.get(id)
        picture = None
        fitting = [w for w in windows.get(id, []) if w.unit == finding.unit]
        if fitting and len([one for one in found if one["picture"]]) < READINGS:
            picture = _picture(finding, reading, fitting[0], knowledge, len(found))
        found.append(
            {
                "name": finding.name,
                "value": str(reading),
                "written": held.sheet.readings.get(id, ""),
                "follows": worked.working.name if worked else "",
                "picture": picture,
            }
        )
    return found


def _picture(
    finding: Finding, reading: Reading, window: Window, knowledge: Knowledge, n: int
) -> Markup:
    """A reading on the scale of its window, drawn as a working of one number is."""
    output = Output(
        id="value", name=finding.name, unit=finding.unit or "", window=window.id
    )
    doubt = 2 * reading.give_or_take
    amount = Amount(
        output,
        reading.value,
        reading.give_or_take,
        reading.value - doubt,
        reading.value + doubt,
    )
    working = Working(
        id=finding.id,
        status=finding.status,
        sources=finding.sources,
        name=finding.name,
        topic="",
        works="",
        what=finding.name,
        inputs=[
            Input(id="value", name=finding.name, lowest=0, highest=0, how=finding.how)
        ],
        gives=[output],
        formula="-",
        means=judged(reading, window).says,
        example={"value": "0"},
    )
    worked = Worked(working, {}, (), (amount,))
    return inlined(svg_of(worked, knowledge), f"reading-{n}")


def picture_of(knowledge: Knowledge, finding: Finding) -> str | None:
    """The SVG of a finding; None where none is drawn of it."""
    if finding.pictured is None:
        return None
    from diagnose.drawings.faults.sheet import svg_of as sheet_of
    from diagnose.fault_pictures import pictured

    return sheet_of(pictured(knowledge, finding.id))


def _pictures(
    held: Consultation, causes: Iterable[RankedCause]
) -> list[tuple[Finding, Markup]]:
    """Pictures of the findings that speak most for the causes."""
    findings = held.knowledge.findings
    ids = dict.fromkeys(
        voice.finding
        for cause in causes
        for voice in cause.speaks_for
        if voice.value != "no"
    )
    found: list[tuple[Finding, Markup]] = []
    for id in ids:
        svg = picture_of(held.knowledge, findings[id])
        if svg is not None and len(found) < PICTURES:
            found.append((findings[id], inlined(svg, f"picture-{len(found)}")))
    return found


def _confirmed(held: Consultation, case: Case | None) -> list[str]:
    """The causes that were confirmed, in words."""
    if case is not None and case.confirmed:
        causes = held.knowledge.causes
        return [
            (causes[one.cause].name if one.cause in causes else one.name())
            + (f" ({one.how})" if one.how else "")
            for one in case.confirmed
        ]
    return [name for _, name, chance in held.confirmed() if chance >= WORTH_REASONS]


def _sources(
    knowledge: Knowledge,
    causes: Iterable[RankedCause],
    plan: Mapping[str, list[PlannedFix]],
) -> list[str]:
    """What the printed causes, links and fixes rest on, each source once."""
    cited: dict[str, None] = {}
    for one in causes:
        if one.cause in knowledge.causes:
            cited |= dict.fromkeys(knowledge.causes[one.cause].sources)
        for voice in one.speaks_for:
            record = knowledge.findings[voice.finding]
            cited |= dict.fromkeys(record.sources)
    for part in plan.values():
        for fix in part:
            cited |= dict.fromkeys(fix.fix.sources)
    return listed(knowledge, cited)


def listed(knowledge: Knowledge, cited: Iterable[str]) -> list[str]:
    """Sources as they are listed, each publication once with its claims."""
    claims: dict[str, list[str]] = {}
    for text in cited:
        source, _, claim = text.partition("/")
        claims.setdefault(source, [])
        if claim and claim not in claims[source]:
            claims[source].append(claim)
    found = []
    for source, own in sorted(claims.items()):
        told = cited_as(knowledge, source)
        found.append(f"{told} ({', '.join(own)})" if own else told)
    return found
