"""The standard procedure of a stage of the work, made from what the knowledge holds."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from statistics import median

from diagnose.cases.index import all_cases
from diagnose.cases.record import today
from diagnose.cases.shop import Shop
from diagnose.cases.waits import reading
from diagnose.errors import AnswerError, DiagnoseError, quoted, unknown
from diagnose.paper.page import html
from diagnose.paper.report import listed, windows_of
from diagnose.readings import read
from diagnose.records import Cause, Fix, Knowledge, Window
from diagnose.sheets import DONT_KNOW
from diagnose.windows import edges
from diagnose.workings import figure

MOST = 8
"""So many ways of working are printed: those that keep most faults away."""


@dataclass(frozen=True, slots=True)
class Read:
    """What past cases read of one thing, written with units."""

    name: str
    lowest: str
    highest: str
    middle: str
    count: int


@dataclass(frozen=True, slots=True)
class Number:
    """A window of the stage; `old` has its built-in edges where they were changed."""

    window: Window
    edges: str
    own: bool
    old: str
    read: Read | None


def procedure(
    knowledge: Knowledge,
    stage: str,
    *,
    before: Mapping[str, Window] | None = None,
    shop: Path | None = None,
) -> str:
    """The page of a stage: its numbers, ways of working, readings and checks.

    Args:
        knowledge: what is printed, with the shop's own knowledge laid on.
        stage: its id, or its name.
        before: the windows without the shop's changes, to tell which are its own.
        shop: its folder; the readings of its past cases stand beside the windows.

    Raises:
        AnswerError: there is no such stage.
    """
    record = next(
        (s for s in knowledge.stages.values() if stage.lower() in (s.id, s.name)), None
    )
    if record is None:
        if not stage.strip():
            raise AnswerError(f"{quoted(stage)} names no stage.")
        ids = list(knowledge.stages)
        listed_ids = f" The stages are: {', '.join(ids)}."
        raise AnswerError(unknown("stage", stage, knowledge.stages, []) + listed_ids)
    causes = [one for one in knowledge.causes.values() if one.stage == record.id]
    common = knowledge.scales.how_common
    causes.sort(key=lambda one: (-common[one.how_common], one.id))
    ways = _ways(knowledge, causes)
    past = _read_in(knowledge, shop) if shop is not None else {}
    numbers = [
        _number(window, before, past.get(window.id))
        for window in knowledge.windows.values()
        if record.id in window.stages
    ]
    readings = [
        one
        for one in knowledge.recorded().values()
        if one.kind == "reading" and record.id in one.stages
    ]
    named = [fix.cautions for fix, _ in ways]
    named += [cause.settled_by[0].cautions for cause in causes]
    named += [one.cautions for one in readings]
    cautions = dict.fromkeys(id for ids in named for id in ids)
    cited = [
        source
        for sources in (
            *(fix.sources for fix, _ in ways),
            *(one.window.sources for one in numbers),
            *(one.sources for one in causes),
        )
        for source in sources
    ]
    return html(
        "procedure.html",
        stage=record,
        shop=shop.name if shop else "",
        today=today(),
        knowledge=knowledge,
        numbers=numbers,
        ways=ways,
        readings=readings,
        causes=causes,
        cautions=[knowledge.cautions[id] for id in cautions],
        sources=listed(knowledge, cited),
    )


def _ways(knowledge: Knowledge, causes: Sequence[Cause]) -> list[tuple[Fix, list[str]]]:
    """The fixes that stop causes of the stage from coming back, most useful first."""
    scales = knowledge.scales
    last = list(knowledge.moments)[-1]
    found = []
    for fix in knowledge.fixes.values():
        sure = {one.cause: scales.strengths[one.sure] for one in fix.cures if one.cause}
        kept_away = [one for one in causes if one.id in sure]
        if fix.moment == last and kept_away:
            worth = sum(scales.how_common[c.how_common] * sure[c.id] for c in kept_away)
            found.append((worth, fix, [one.name for one in kept_away]))
    found.sort(key=lambda one: (-one[0], one[1].id))
    return [(fix, names) for _, fix, names in found[:MOST]]


def _number(
    window: Window, before: Mapping[str, Window] | None, read: Read | None
) -> Number:
    old = before.get(window.id) if before is not None else None
    return Number(
        window,
        edges(window),
        before is not None and old != window,
        edges(old) if old is not None else "",
        read,
    )


def _read_in(knowledge: Knowledge, shop: Path) -> dict[str, Read]:
    """For each window what the shop's past cases read, if anything."""
    kept = all_cases(Shop(shop, reading), knowledge).kept
    found: dict[str, Read] = {}
    for id, windows in windows_of(knowledge).items():
        finding = knowledge.findings[id]
        values = []
        for one in kept:
            text = one.case.readings.get(id, DONT_KNOW)
            try:
                values.append(read(text, finding).value)
            except DiagnoseError:
                continue
        if values:
            says = Read(
                finding.name,
                figure(min(values)),
                figure(max(values), finding.unit or ""),
                figure(median(values), finding.unit or ""),
                len(values),
            )
            found |= {window.id: says for window in windows}
    return found
