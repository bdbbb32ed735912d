"""A consultation as a report for paper, and as a ticket to hang on the screen."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from itertools import chain
from pathlib import Path
from typing import Any

from markupsafe import Markup

from diagnose.cases.record import Case, day_of, read_case, sheet_of, today
from diagnose.cases.shop import Shop
from diagnose.consultation import Consultation
from diagnose.drawings.pictures import SIDES, scale_of
from diagnose.errors import AnswerError, FolderError
from diagnose.fault_pictures import Pictured, pictured
from diagnose.language import tr
from diagnose.paper.page import html, inlined
from diagnose.paper.trail import diagram
from diagnose.plan import Plan, PlannedFix
from diagnose.ranking import RankedCause
from diagnose.readings import Reading
from diagnose.records import Finding, Knowledge, Output, Window
from diagnose.screens import FULL, LEAST, WORTH_NAMING, WORTH_REASONS, cited_as
from diagnose.sheets import DONT_KNOW, SOMEWHAT, Sheet, read_sheet
from diagnose.workings import Amount, Verdict, judged
from diagnose.yamltext import YamlError, parse, read_text

FIRST_CAUSES = 5
"""So many causes stand on the first page."""

FIXES, NAMED = 2, 3
"""So many fixes of each moment are spelled out, and so many more are named."""

REASONS, FEWER = 2, 1
"""So many answers are led in sentences to the first cause, and to the others."""

DRAWN = 0.25
"""The way to a cause that is less likely is drawn only where it leads."""

PICTURES, READINGS = 2, 8
"""So many pictures of findings, and of readings, are printed."""


Fixes = dict[str, list[PlannedFix]]
"""Fixes by moment."""


@dataclass(frozen=True, slots=True)
class Told:
    """Where a report comes from: the answers, and what a case has besides."""

    consultation: Consultation
    name: str
    case: Case | None = None
    lacks: tuple[str, ...] = ()


def told_in(path: Path, knowledge: Knowledge, shop: Path | None = None) -> Told:
    """A sheet, a kept consultation or a case, as it stands in a file.

    Args:
        path: the file; or where there is none, and a shop, the id of one of its cases.
        knowledge: what the tool knows.
        shop: the folder of a shop.

    Raises:
        SheetError, CaseError: all that is wrong with it.
        FolderError: there is no such file or case, or it can't be read.
    """
    if shop is not None and not path.suffix and not path.exists():
        kept = Shop(shop).read(str(path), knowledge)
        held = Consultation(knowledge, sheet_of(kept.case, knowledge))
        return Told(held, kept.id, kept.case, tuple(kept.told))
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
    parts = _parts(told)
    held, knowledge = told.consultation, told.consultation.knowledge
    ranking, full = parts["ranking"], parts["full"]
    _, later, rest = _in_order(parts["plan"])
    question, pictures = held.next_question(), _pictures(held, full)
    named = [
        *(one.cautions for one in chain(*parts["checks"].values())),
        *(one.fix.cautions for one in chain(*later.values())),
        *(one.finding.cautions for one, _ in pictures),
        question.cautions if question is not None else (),
    ]
    beside = parts["beside"]
    care = dict.fromkeys([*ranking.cautions, *chain(*named)])
    more = {
        "answers": _answers(held),
        "unknown": _unknown(held.sheet, knowledge),
        "overlap": sum(one.probability for one in ranking.causes) > 1.01,
        "diagrams": {
            one.cause: drawn
            for number, one in enumerate(full)
            if (number == 0 or one.probability >= DRAWN)
            and (drawn := diagram(held.look, one)) is not None
        },
        "readings": _readings(held),
        "pictures": pictures,
        "later": later,
        "rest": rest,
        "care": [knowledge.cautions[id] for id in care if id not in beside],
        "question": question,
        "nothing_to_ask": "" if question else held.nothing_to_ask(),
        "reasons": [REASONS, *[FEWER] * FULL],
        "sides": SIDES,
        "sources": _sources(
            knowledge, full, [*parts["first"].values(), *chain(*later.values())]
        ),
        "confirmed": _confirmed(held, told.case),
    }
    return html("report.html", **parts, **more)


def ticket(told: Told) -> str:
    """Half a page to hang on the screen.

    Raises:
        AnswerError: nothing was said of what went wrong.
    """
    parts = _parts(told)
    check = parts["checks"].get(parts["causes"][0].cause, [None])[0]
    care = dict.fromkeys([*parts["beside"], *(check.cautions if check else ())])
    cautions = parts["knowledge"].cautions
    likely = [one for one in parts["causes"] if one.probability >= WORTH_REASONS]
    more = {
        "check": check,
        "care": [cautions[id].name for id in care],
        "likely": likely[:2],
    }
    return html("ticket.html", **parts, **more)


def _parts(told: Told) -> dict[str, Any]:
    """What the report and the ticket show."""
    held, case = told.consultation, told.case
    knowledge = held.knowledge
    if not held.look.known:
        raise AnswerError(
            tr(
                "{name}: nothing was said of what went wrong, so there is nothing to "
                "report.",
                name=told.name,
            )
        )
    ranking, plan = held.ranking(), held.plan()
    likely = [one for one in ranking.causes if one.probability >= LEAST]
    likely = likely or list(ranking.causes[:1])
    full = [
        one
        for number, one in enumerate(likely[:FULL])
        if number == 0 or one.probability >= WORTH_REASONS
    ]
    first, _, _ = _in_order(plan)
    return {
        "told": told,
        "case": case,
        "sheet": held.sheet,
        "knowledge": knowledge,
        "day": case.date if case else day_of(held.sheet.begun),
        "today": today(),
        "ranking": ranking,
        "causes": likely[:FIRST_CAUSES],
        "full": full,
        "checks": {
            one.cause: knowledge.causes[one.cause].settled_by
            for one in full
            if one.cause in knowledge.causes
        },
        "plan": plan,
        "first": first,
        "beside": list(
            dict.fromkeys(id for one in first.values() for id in one.fix.cautions)
        ),
    }


def _in_order(plan: Plan) -> tuple[dict[str, PlannedFix], Fixes, Fixes]:
    """For each moment the first fix, those spelled out later, and those only named.

    What was tried and helped comes first.
    """
    first, later, rest = {}, {}, {}
    for moment, part in plan.parts.items():
        order = sorted(part, key=lambda one: not one.tried)
        if order:
            first[moment] = order[0]
        later[moment] = [one for one in order[1:FIXES] if one.chance >= WORTH_NAMING]
        rest[moment] = [one for one in order[1:] if one not in later[moment]][:NAMED]
    return first, later, rest


def _answers(held: Consultation) -> dict[str, list[tuple[str, bool]]]:
    """What was found, in sentences, by what kind of thing it is; True for somewhat."""
    sheet, findings = held.sheet, held.knowledge.findings
    groups: dict[str, list[tuple[str, bool]]] = {"seen": [], "checked": [], "done": []}
    for id, value in {**sheet.answers, **sheet.set_up}.items():
        if value == DONT_KNOW:
            continue
        finding = findings[id]
        says = finding.sentence("yes" if value == SOMEWHAT else value)
        kind = {"sign": "seen", "timing": "seen", "check": "checked"}
        groups[kind.get(finding.role, "done")].append((says, value == SOMEWHAT))
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
    """Each reading with its value, and its scale where it has a window."""
    look, knowledge = held.look, held.knowledge
    windows = windows_of(knowledge, held.sheet.given())
    found: list[dict[str, Any]] = []
    for id, reading in look.readings.items():
        finding = knowledge.findings[id]
        worked = look.derived.worked.get(id)
        fitting = [w for w in windows.get(id, []) if w.unit == finding.unit]
        verdict = judged(reading, fitting[0]) if fitting else None
        scale = None
        if verdict is not None and len([r for r in found if r["scale"]]) < READINGS:
            scale = _scale(finding, reading, verdict, knowledge, len(found))
        found.append(
            {
                "name": finding.name,
                "value": str(reading),
                "verdict": verdict,
                "follows": worked.working.name if worked else "",
                "scale": scale,
            }
        )
    return found


def _scale(
    finding: Finding, reading: Reading, verdict: Verdict, knowledge: Knowledge, n: int
) -> Markup | None:
    """A reading on the scale of its window; None where it can't be drawn."""
    from diagnose.drawings.svg import scale_alone

    unit, window = finding.unit or "", verdict.window.id
    doubt = 2 * reading.give_or_take
    amount = Amount(
        Output(id="value", name=finding.name, unit=unit, window=window),
        reading.value,
        reading.give_or_take,
        reading.value - doubt,
        reading.value + doubt,
    )
    scale = scale_of(amount, knowledge)
    if scale is None:
        return None
    return inlined(scale_alone(scale, verdict.says), f"reading-{n}")


def _pictures(
    held: Consultation, causes: Iterable[RankedCause]
) -> list[tuple[Pictured, Markup]]:
    """Pictures of the findings that speak most for the causes."""
    from diagnose.drawings.faults.sheet import pair_of

    findings = held.knowledge.findings
    ids = dict.fromkeys(
        voice.finding
        for cause in causes
        for voice in cause.speaks_for
        if voice.value != "no" and findings[voice.finding].pictured
    )
    found = []
    for n, id in enumerate(list(ids)[:PICTURES]):
        shown = pictured(held.knowledge, id)
        found.append((shown, inlined(pair_of(shown), f"picture-{n}")))
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
    fixes: Iterable[PlannedFix],
) -> list[str]:
    """What the printed causes, links and fixes rest on, each source once."""
    cited: dict[str, None] = {}
    for one in causes:
        if one.cause in knowledge.causes:
            cited |= dict.fromkeys(knowledge.causes[one.cause].sources)
        for voice in one.speaks_for:
            record = knowledge.findings[voice.finding]
            cited |= dict.fromkeys(record.sources)
    for fix in fixes:
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
