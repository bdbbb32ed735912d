"""The making of a screen, step by step: what goes wrong at each step.

The guide tells what is done; what goes wrong is worked out from the causes of the
step's stage, so that it is written once.
"""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.checks import WINDOW
from diagnose.errors import AnswerError, near, quoted
from diagnose.language import tr
from diagnose.model import Model
from diagnose.records import Cause, Fix, GuideStep, Knowledge
from diagnose.windows import edges

SHOWS = 0.3
"""A sign that a cause makes at least this likely is told as one of it."""

SIGNS = 2
"""So many signs of a cause are told, before the print and in it."""


@dataclass(frozen=True, slots=True)
class Fault:
    """A cause that belongs to a step, and what becomes of it.

    `before` are sentences on what is seen in the screen room, `in_print` on what is
    seen at the press; `prevent` is the fix that keeps it from coming.
    """

    cause: Cause
    before: tuple[str, ...]
    in_print: tuple[str, ...]
    prevent: Fix | None


def step_named(knowledge: Knowledge, words: str) -> GuideStep:
    """The step that is meant: by its number, its id, or words of its name.

    Raises:
        AnswerError: there is no such step.
    """
    steps = list(knowledge.guide.values())
    said = " ".join(words.lower().split())
    if said.isascii() and said.isdigit():
        if 1 <= int(said[:4]) <= len(steps):
            return steps[int(said[:4]) - 1]
        raise AnswerError(
            tr(
                "There is no step {number}; the guide has steps 1 to {count}.",
                number=said[:4],
                count=len(steps),
            )
        )
    names = {step.id: step for step in steps}
    names |= {step.name.lower(): step for step in steps}
    if said in names:
        return names[said]
    inside = [step for step in steps if said and said in step.name.lower()]
    if len(inside) == 1:
        return inside[0]
    meant = near(said, names)
    hint = tr(" (did you mean {name}?)", name=quoted(meant)) if meant else ""
    raise AnswerError(
        tr(
            "The guide has no step {words}{hint}. 'diagnose guide' lists the steps.",
            words=quoted(words),
            hint=hint,
        )
    )


def with_numbers(knowledge: Knowledge, text: str) -> str:
    """A text of the guide with the numbers of the windows that it names."""
    return WINDOW.sub(lambda named: edges(knowledge.windows[named[1]]), text)


def causes_of(knowledge: Knowledge, step: GuideStep) -> list[Cause]:
    """What goes wrong at a step, the commonest first."""
    of_others = {
        cause
        for other in knowledge.guide.values()
        if other.stage == step.stage and other.id != step.id
        for cause in other.causes
    }
    found = [
        cause
        for cause in knowledge.causes.values()
        if cause.stage == step.stage
        and (cause.id in step.causes if step.causes else cause.id not in of_others)
    ]
    common = knowledge.scales.how_common
    return sorted(found, key=lambda cause: (-common[cause.how_common], cause.name))


def fault(model: Model, cause: Cause) -> Fault:
    """What becomes of a cause, and how it is kept from coming."""
    knowledge = model.knowledge
    late = {stage.id for stage in knowledge.stages.values() if stage.late == "yes"}
    before: list[str] = []
    in_print: list[str] = []
    for finding, says in signs_of(model, cause):
        seen_first = knowledge.findings[finding].stages[:1]
        (in_print if late & set(seen_first) else before).append(says)
    return Fault(
        cause, tuple(before[:SIGNS]), tuple(in_print[:SIGNS]), _prevents(model, cause)
    )


def signs_of(model: Model, cause: Cause) -> list[tuple[str, str]]:
    """The signs that a cause brings about by itself, and what they say.

    The likeliest comes first; where none is likely, it is the only one.
    """
    found = []
    for finding in model.knowledge.recorded().values():
        if finding.role != "sign" or finding.kind != "yes-no":
            continue
        chance = model.chances_alone(cause.id, finding.id)["yes"]
        if chance > 1.5 * model.chances_anyway(finding.id)["yes"]:
            found.append((chance, finding.id, finding.sentence("yes")))
    found.sort(key=lambda one: (-one[0], one[1]))
    likely = [one for one in found if one[0] >= SHOWS] or found[:1]
    return [(finding, says) for _, finding, says in likely]


def _prevents(model: Model, cause: Cause) -> Fix | None:
    """The fix that keeps a cause, or a state that it makes, from coming back."""
    knowledge = model.knowledge
    ends = {cause.id, *(makes.state for makes in cause.makes)}
    last = list(knowledge.moments)[-1]
    found = [
        (cure.cause == cause.id, knowledge.scales.strengths[cure.sure], fix.id)
        for fix in knowledge.fixes.values()
        if fix.moment == last
        for cure in fix.cures
        if cure.target() in ends
    ]
    return knowledge.fixes[max(found)[2]] if found else None
