"""What a fix comes to in numbers, worked out from the readings on the sheet."""

from __future__ import annotations

from diagnose.errors import AnswerError, CalculationError
from diagnose.language import listed, tr
from diagnose.look import Look
from diagnose.records import Fix
from diagnose.workings import Worked, work_out


def in_numbers(look: Look, fix: Fix) -> tuple[str, ...]:
    """The settings of a fix, a sentence or two for each of its workings.

    Where readings are missing the sentence says which, and how to work it out.
    """
    said = []
    for id in fix.works_out:
        working = look.model.knowledge.workings[id]
        given, missing = {}, []
        for one in working.inputs:
            if one.finding in look.readings:
                given[one.id] = look.readings[one.finding or ""]
            elif one.usual is None:
                missing.append(one.name)
        if missing:
            wanted = listed(missing[:3])
            said.append(
                tr(
                    "In numbers, from {wanted}: diagnose reckon {id}",
                    wanted=wanted,
                    id=id,
                )
            )
            continue
        try:
            said.append(correction(work_out(working, given)))
        except (AnswerError, CalculationError) as error:
            said.append(str(error))
    return tuple(said)


def correction(worked: Worked) -> str:
    """What is to be changed to what, its range, and what to check next."""
    first = worked.amounts[0]
    doubt = ""
    if first.range():
        doubt = tr(
            "By the readings' doubt: {name} {range}.",
            name=first.output.name,
            range=first.range(),
        )
    parts = [worked.means(), doubt, worked.check_next()]
    return " ".join(part for part in parts if part)
