"""Readings that follow from other readings: count and thread give the opening.

A working whose inputs and output stand for findings is a way from one to the other.
What a person read themselves always counts before what follows.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from diagnose.errors import AnswerError, CalculationError
from diagnose.readings import Reading
from diagnose.records import Finding, Knowledge, Working
from diagnose.sheets import DONT_KNOW, Sheet
from diagnose.workings import Worked, work_out


@dataclass(frozen=True, slots=True)
class Derived:
    """What follows from the readings of a sheet."""

    worked: Mapping[str, Worked]
    """For each reading that follows, how it was worked out."""
    faults: tuple[str, ...]
    """Why nothing follows from some readings, in sentences."""

    def reading(self, finding: str) -> Reading:
        """A reading that follows."""
        worked = self.worked[finding]
        return next(
            one.reading() for one in worked.amounts if one.output.finding == finding
        )


NOTHING = Derived({}, ())


def ways(knowledge: Knowledge) -> dict[str, tuple[Working, ...]]:
    """For each reading, the workings that give it from other readings."""
    found: dict[str, list[Working]] = {}
    for working in knowledge.workings.values():
        needed = [one for one in working.inputs if one.usual is None or one.finding]
        if all(one.finding for one in needed):
            for output in working.gives:
                if output.finding:
                    found.setdefault(output.finding, []).append(working)
    return {finding: tuple(workings) for finding, workings in found.items()}


def derive(
    ways_to: Mapping[str, tuple[Working, ...]], own: Mapping[str, Reading]
) -> Derived:
    """All that follows from these readings, in as many steps as it takes."""
    if not own:
        return NOTHING
    known = dict(own)
    found: dict[str, Worked] = {}
    faults: dict[str, None] = {}
    changed = True
    while changed:
        changed = False
        for finding, workings in ways_to.items():
            if finding in known:
                continue
            for working in workings:
                given = _given(working, known)
                if given is None:
                    continue
                try:
                    found[finding] = work_out(working, given)
                except (AnswerError, CalculationError) as error:
                    faults[str(error)] = None
                    continue
                known[finding] = Derived(found, ()).reading(finding)
                changed = True
                break
    return Derived(found, tuple(faults))


def _given(working: Working, known: Mapping[str, Reading]) -> dict[str, Reading] | None:
    """The inputs of a working among the readings; None where one is missing."""
    given = {}
    for one in working.inputs:
        if one.finding in known:
            given[one.id] = known[one.finding or ""]
        elif one.usual is None:
            return None
    return given


def to_be_read(
    knowledge: Knowledge,
    ways_to: Mapping[str, tuple[Working, ...]],
    sheet: Sheet,
    known: Mapping[str, Reading],
    reading: Finding,
    asking: frozenset[str] = frozenset(),
) -> list[Finding]:
    """What has to be read for a reading: the inputs of the first way that is open.

    A way is closed where an input is not known to the person or its tool is not to
    hand, or where it leads back to a reading that is `asking` for it. With no way open
    it is the reading itself.
    """
    if reading.id in asking:
        return [reading]
    asking = asking | {reading.id}
    for working in ways_to.get(reading.id, ()):
        missing: list[Finding] = []
        for one in working.inputs:
            if one.finding is None or one.finding in known or one.usual is not None:
                continue
            inner = knowledge.findings[one.finding]
            missing += to_be_read(knowledge, ways_to, sheet, known, inner, asking)
        closed = any(
            one.id in asking
            or sheet.readings.get(one.id) == DONT_KNOW
            or any(sheet.to_hand.get(tool) == "no" for tool in one.needs)
            for one in missing
        )
        if missing and not closed:
            return missing
    return [reading]
