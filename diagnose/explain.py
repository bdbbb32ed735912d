"""Why: the way from an answer through a state to a cause, and what speaks against."""

from __future__ import annotations

import math
import re
from collections.abc import Sequence
from dataclasses import dataclass

from diagnose.language import listed, tr
from diagnose.look import Known, Look
from diagnose.model import Model
from diagnose.network import NOT_COVERED
from diagnose.plan import makers
from diagnose.records import Condition
from diagnose.rules import ANSWER, Link
from diagnose.sheets import SOMEWHAT
from diagnose.windows import edges
from diagnose.workings import Worked

PROBABLY = 0.8
"""A reading that is less sure to lie on its side of a limit lies about at the edge."""

COUNTED = re.compile(r"in ([\d.]+) of 100 cases")
"""A strength that a shop has counted; see `overlay.number_word`."""

SPEAKS = 0.2
"""Bits: an answer that moves the odds of a cause by less is not brought up."""


@dataclass(frozen=True, slots=True)
class Voice:
    """One answer speaking for or against a cause, and the way between the two.

    `bits` is by how much it moves the odds of the cause (log2), taken by itself.
    `way` leads from the finding to the cause; it is empty where no link does.
    """

    finding: str
    value: str
    says: str
    bits: float
    way: tuple[Link, ...]
    by: str


def voices(look: Look, cause: str) -> tuple[list[Voice], list[Voice]]:
    """What speaks for a cause and what against it, the strongest first."""
    spoken: list[Voice] = []
    if cause == NOT_COVERED:
        return [], []
    for id, known in look.known.items():
        if id not in look.model.network.outcomes:
            continue
        bits = _bits(look.model, cause, known)
        if abs(bits) >= SPEAKS:
            value = known.value if bits > 0 else _expected(look.model, cause, id)
            way = best_way(look.model, cause, id, value)
            says = said(look, known)
            spoken.append(Voice(id, known.value, says, bits, way, known.by))
    spoken.sort(key=lambda voice: (-abs(voice.bits), voice.finding))
    return (
        [voice for voice in spoken if voice.bits > 0],
        [voice for voice in spoken if voice.bits < 0],
    )


def said(look: Look, known: Known) -> str:
    """A known finding as a sentence; a reading comes with its number and limit."""
    knowledge = look.model.knowledge
    sentence = knowledge.findings[known.finding].sentence(known.value)
    if known.by == ANSWER:
        somewhat = look.sheet.given().get(known.finding) == SOMEWHAT
        return tr("Somewhat: {says}", says=sentence) if somewhat else sentence
    for condition in knowledge.rules[known.by].when.all:
        if condition.reading in look.readings:
            return f"{sentence} ({_read_as(look, condition, known.degree)})"
    return sentence


def _read_as(look: Look, condition: Condition, degree: float) -> str:
    """How a reading stands to a limit, in a sentence, and what it followed from."""
    id = condition.reading or ""
    reading = look.readings[id]
    worked = look.derived.worked.get(id)
    says = tr("Your reading, {reading}, is", reading=reading)
    if worked is not None:
        says = tr(
            "From {parts} follows {reading}, which is",
            parts=_parts(look, worked),
            reading=reading,
        )
    if degree < PROBABLY:
        return tr(
            "{says} about at the edge of {edge}: weak evidence.",
            says=says,
            edge=_edge(look, condition),
        )
    if condition.between is not None:
        low, high = condition.between
        limit = tr(
            "between {low:g} and {high:g} {unit}", low=low, high=high, unit=reading.unit
        )
    elif condition.below is not None:
        limit = tr("below {limit:g} {unit}", limit=condition.below, unit=reading.unit)
    else:
        limit = tr("above {limit:g} {unit}", limit=condition.above, unit=reading.unit)
    if reading.chance(condition) < 0.5:
        limit = tr("not {limit}", limit=limit)
    return f"{says} {how_sure(degree)} {limit}."


def _parts(look: Look, worked: Worked) -> str:
    """What a reading was worked out from, and what that followed from in its turn."""
    parts = []
    for one in worked.working.inputs:
        part = f"{one.name} {worked.inputs[one.id]}"
        if one.id in worked.assumed:
            part += tr(" (taken as usual)")
        elif (inner := look.derived.worked.get(one.finding or "")) is not None:
            part += tr(" (from {parts})", parts=_parts(look, inner))
        parts.append(part)
    return listed(parts)


def _edge(look: Look, condition: Condition) -> str:
    """The window that a condition is about, or its limit."""
    unit = look.readings[condition.reading or ""].unit
    window = look.model.knowledge.windows.get(condition.window or "")
    if window is not None:
        return tr("the window ({range})", range=edges(window))
    if condition.between is not None:
        low, high = condition.between
        return tr("the range {low:g} to {high:g} {unit}", low=low, high=high, unit=unit)
    limit = condition.below if condition.below is not None else condition.above
    return f"{limit:g} {unit}"


def how_sure(degree: float) -> str:
    """How far a reading speaks for its side of a limit, in a word; see `PROBABLY`."""
    if degree >= 0.95:
        return tr("clearly")
    return tr("probably")


def _bits(model: Model, cause: str, known: Known) -> float:
    """log2 of how much likelier the answer is with the cause than with none."""
    there = model.chances_alone(cause, known.finding)
    anyway = model.chances_anyway(known.finding)
    rest = (1 - known.degree) / (len(there) - 1)

    def likely(chances: dict[str, float]) -> float:
        return sum(
            chance * (known.degree if value == known.value else rest)
            for value, chance in chances.items()
        )

    return math.log2(likely(there) / likely(anyway))


def _expected(model: Model, cause: str, finding: str) -> str:
    """The value that the cause makes likelier than it is anyway, most of all."""
    there = model.chances_alone(cause, finding)
    anyway = model.chances_anyway(finding)
    return max(there, key=lambda value: there[value] / anyway[value])


def best_way(model: Model, cause: str, finding: str, value: str) -> tuple[Link, ...]:
    """The links from a finding back to a cause along the strongest way; () if none."""
    strengths = model.knowledge.scales.strengths
    best: tuple[float, tuple[Link, ...]] = (0.0, ())
    todo: list[tuple[str, float, tuple[Link, ...]]] = [(f"{finding}={value}", 1.0, ())]
    while todo:
        end, chance, way = todo.pop()
        for link in model.links_to.get(end, ()):
            further = chance * strengths[link.strength]
            longer = (*way, link)
            if link.owner == cause:
                if further > best[0]:
                    best = (further, longer)
            elif link.owner in model.knowledge.states and further > best[0]:
                todo.append((link.owner, further, longer))
    return best[1]


def trail(look: Look, voice: Voice) -> list[str]:
    """The way from an answer to a cause, in sentences, a step each.

    The first step is what was answered, and the rule that drew on it where one did.
    Then there is one step for each link of the way, with the reason of the link.
    """
    first = voice.says
    if voice.by != ANSWER:
        first += f" {look.model.knowledge.rules[voice.by].because}"
    return [first, *(_step(look.model, link) for link in voice.way)]


def _step(model: Model, link: Link) -> str:
    """One link read backwards, from what is seen to what is behind it."""
    name = owner_name(model, link)
    if owner_kind(model, link) == "cause":
        to = tr("to the cause “{name}”", name=name)
    else:
        to = tr("to the state “{name}”", name=name)
    is_seen = link.value is not None
    if model.knowledge.scales.strengths[link.strength] < 0.5:
        points = tr("This may point") if is_seen else tr("That may point")
    else:
        points = tr("This points") if is_seen else tr("That points")
    if link.value is None:
        leads = tr("leads to it")
    elif model.knowledge.findings[link.target].role in ("sign", "check"):
        leads = tr("shows like this")
    else:
        leads = tr("goes with it")
    return tr(
        "{points} {to}, which {strength} {leads}. {because}",
        points=points,
        to=to,
        strength=how_often(link.strength),
        leads=leads,
        because=link.because,
    )


def how_often(word: str) -> str:
    """A word of the scales, or the number of a shop, in the language in use."""
    counted = COUNTED.fullmatch(word)
    return tr("in {count} of 100 cases", count=counted[1]) if counted else tr(word)


def owner_kind(model: Model, link: Link) -> str:
    """Whether a link starts at a 'cause' or at a 'state'."""
    return "cause" if link.owner in model.knowledge.causes else "state"


def owner_name(model: Model, link: Link) -> str:
    """The name of the cause or the state that a link starts at."""
    knowledge = model.knowledge
    owner = knowledge.causes.get(link.owner) or knowledge.states[link.owner]
    return owner.name


def objection(look: Look, voice: Voice) -> str:
    """An answer that speaks against a cause, and what the cause would have made."""
    if not voice.way:
        return voice.says
    link = voice.way[0]
    name = owner_name(look.model, link)
    return tr(
        "{says} With “{name}” it is {strength} otherwise.",
        says=voice.says,
        name=name,
        strength=how_often(link.strength),
    )


def weighing(look: Look, cause: str, *, up: bool) -> list[str]:
    """The rules that made a cause more likely (`up`) or less likely, as sentences."""
    knowledge = look.model.knowledge
    return [
        tr(how_much).capitalize() + f": {knowledge.rules[rule].because}"
        for rule, how_much in look.table.weighed.get(cause, ())
        if (knowledge.scales.weights[how_much] > 1) == up
    ]


def tried_in_vain(look: Look, cause: str) -> list[str]:
    """The fixes for a cause that were tried and did not help, as sentences."""
    found = []
    for id, worked in look.sheet.tried.items():
        fix = look.model.knowledge.fixes[id]
        if worked == "no" and any(
            cure.cause == cause or (cure.state and cause in makers(look, cure.state))
            for cure in fix.cures
        ):
            found.append(tr("“{name}” was tried and did not help.", name=fix.name))
    return found


def why_out(look: Look, rules: Sequence[str]) -> str:
    """Why a cause was ruled out: the sentences of the rules that did."""
    return " ".join(look.model.knowledge.rules[rule].because for rule in rules)
