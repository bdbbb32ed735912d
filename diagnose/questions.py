"""The next question: what its answer is expected to tell, a minute of asking."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

import numpy as np

from diagnose.derived import to_be_read
from diagnose.explanations import information
from diagnose.language import listed, tr
from diagnose.look import Look
from diagnose.network import NOT_COVERED
from diagnose.records import Finding, Proof, Tool
from diagnose.sheets import DONT_KNOW, SOMEWHAT

LIKELY_ENOUGH = 0.05
"""An answer less likely than this is not reckoned with when deciding to stop."""

NEARLY = 0.6
"""A question that is worth this share of the best may be asked in the same glance."""

GLANCE = 1.0
"""Minutes; what takes longer is no glance."""

KNOWN_BY_HEART = ("set-up", "habit", "change", "timing")
"""Roles of findings that are answered without looking."""

IN_DOUBT = 0.3
"""A second cause between this and `enough_chance` is worth asking on for."""


@dataclass(frozen=True, slots=True)
class Question:
    """One question to the person.

    kind 'finding' asks for an answer, 'reading' for a number with its unit, 'tool'
    whether something is to hand. `takes` maps each answer to what it means.
    """

    id: str
    kind: Literal["finding", "reading", "tool"]
    text: str
    how: str
    not_this: str
    takes: Mapping[str, str]
    minutes: float
    unit: str = ""
    needs: tuple[str, ...] = ()
    cautions: tuple[str, ...] = ()
    information: float = 0.0


@dataclass(frozen=True, slots=True)
class Next:
    """The next question, or the reason why there is none."""

    question: Question | None
    because: str
    beside: tuple[Question, ...] = ()
    """Further questions that the same glance answers."""


@dataclass(frozen=True, slots=True)
class _Worth:
    finding: Finding
    asked: Finding
    bits: float
    a_minute: float
    share: np.ndarray
    missing_tools: tuple[str, ...]


def next_question(look: Look, beside: int = 0) -> Next:
    """The question most worth asking now; none where nothing is worth asking.

    Args:
        look: what is known.
        beside: so many more questions at most that are answered in the same glance.
    """
    scales = look.model.knowledge.scales
    if not look.known:
        return Next(None, tr("Nothing has been said yet of what went wrong."))
    used, worths = _worths(look)
    worths = [worth for worth in worths if worth.bits >= scales.least_information]
    if settled := _settled(look, used, worths):
        names = listed(f"“{look.model.cause_name(one)}”" for one in settled)
        return Next(
            None,
            tr("No likely answer could put another cause before {names}.", names=names),
        )
    if not worths:
        return Next(
            None, tr("Nothing that could still be asked tells the causes apart.")
        )
    best = min(worths, key=lambda worth: (-worth.a_minute, worth.finding.id))
    if best.a_minute < scales.least_worth:
        return Next(None, tr("No question left is worth the minutes it takes."))
    if best.missing_tools:
        tool = look.model.knowledge.tools[best.missing_tools[0]]
        return Next(_tool_question(tool, best), "")
    others = sorted(worths, key=lambda worth: (-worth.a_minute, worth.finding.id))
    with_it = [
        _question(worth.asked, worth.bits)
        for worth in others
        if worth is not best
        and worth.a_minute >= max(scales.least_worth, NEARLY * best.a_minute)
        and _at_a_glance(best, worth)
    ]
    return Next(_question(best.asked, best.bits), "", tuple(with_it[:beside]))


def _at_a_glance(one: _Worth, other: _Worth) -> bool:
    """Whether two questions are answered together: both from memory, or both by a
    short look at the same place."""
    for worth in (one, other):
        quick = worth.finding.minutes <= GLANCE and not worth.finding.needs
        if not quick or worth.finding.kind == "reading" or worth.missing_tools:
            return False
        if isinstance(worth.finding, Proof) or worth.asked is not worth.finding:
            return False
    if one.finding.role in KNOWN_BY_HEART:
        return other.finding.role in KNOWN_BY_HEART
    places = set(one.finding.stages) & set(other.finding.stages)
    return other.finding.role not in KNOWN_BY_HEART and bool(places)


def question_for(look: Look, finding_id: str) -> Question:
    """A finding as a question, whether or not it is the one most worth asking.

    One that is known from a reading is asked as that, unless it was answered itself.
    """
    finding = look.model.knowledge.findings[finding_id]
    if finding_id in look.sheet.given() or finding.kind == "reading":
        return _question(finding)
    return _question(look.model.asked_as(finding))


def _askable(look: Look) -> list[tuple[Finding, list[Finding]]]:
    """Findings that bear on the causes on the table, and what is asked for each.

    A reading that follows from others takes several questions.
    """
    knowledge, network = look.model.knowledge, look.model.network
    sheet = look.sheet
    answered = {*sheet.set_up, *sheet.answers, *sheet.readings}
    nodes = {*look.close.rows.causes, *look.close.rows.states} - {NOT_COVERED}
    moved = {
        finding
        for (finding, _), effect in look.model.effects.items()
        if nodes & effect.keys()
    }
    found = []
    for id, outcomes in network.outcomes.items():
        finding = knowledge.findings[id]
        if id in answered or id in look.table.concluded:
            continue
        asked = look.model.asked_as(finding)
        if asked.id in answered:
            continue
        if id not in moved and not any(
            maker in nodes for outcome in outcomes for maker, _ in outcome.makers
        ):
            continue
        steps = [asked]
        if asked.kind == "reading":
            ways = look.model.ways_to
            steps = to_be_read(knowledge, ways, sheet, look.readings, asked)
        if any(sheet.to_hand.get(tool) == "no" for one in steps for tool in one.needs):
            continue
        found.append((finding, steps))
    return found


def _worths(look: Look) -> tuple[list[int], list[_Worth]]:
    """What each askable question is worth, and the sets of causes it is about."""
    pairs = _askable(look)
    scales, tools = look.model.knowledge.scales, look.model.knowledge.tools
    if not pairs:
        return [], []
    used, shares = look.close.split([finding.id for finding, _ in pairs])
    members = look.close.rows.members[used]
    shares = [
        _with_effects(look, finding, share, members)
        for (finding, _), share in zip(pairs, shares, strict=True)
    ]
    found = []
    told = information(shares).tolist()
    for (finding, steps), share, bits in zip(pairs, shares, told, strict=True):
        missing = tuple(
            tool
            for one in steps
            for tool in one.needs
            if tools[tool].asked == "yes" and tool not in look.sheet.to_hand
        )
        minutes = sum(minutes_for(look, one) for one in steps)
        chance = scales.tool_to_hand if missing else 1.0
        found.append(
            _Worth(finding, steps[0], bits, bits * chance / minutes, share, missing)
        )
    return used, found


def told_by(look: Look) -> dict[str, float]:
    """The bits that each thing that can be asked now is expected to tell.

    What is decided by a reading stands under that reading.
    """
    found: dict[str, float] = {}
    for worth in _worths(look)[1]:
        asked = look.model.asked_as(worth.finding).id
        found[asked] = max(found.get(asked, 0.0), worth.bits)
    return found


def minutes_for(look: Look, asked: Finding) -> float:
    """What asking costs the person, where they stand: at the press, a coat that was
    dried yesterday has to be remembered, or another one looked at."""
    scales = look.model.knowledge.scales
    minutes = asked.minutes + scales.asking_minutes
    stage = look.sheet.stage
    seen = asked.role in ("sign", "check")
    if seen and stage and asked.stages and stage not in asked.stages:
        minutes += scales.elsewhere_minutes
    return minutes


def _with_effects(
    look: Look, finding: Finding, share: np.ndarray, members: np.ndarray
) -> np.ndarray:
    """Let the rules on that finding alone count: what they exclude, what they weigh."""
    causes = look.close.rows.causes
    effects = [
        (column, effect)
        for column, value in enumerate(look.model.network.values(finding.id))
        if (effect := look.model.effects.get((finding.id, value)))
    ]
    if not effects:
        return share
    for column, effect in effects:
        for cause, factor in effect.items():
            if cause in causes:
                there = members[:, causes.index(cause)]
                share[there, column] *= factor
    total = share.sum()
    return share / total if total else share


def _settled(look: Look, used: list[int], worths: list[_Worth]) -> list[str]:
    """The causes that are sure, if they stay in front whatever is answered next.

    None are while a finding is not explained, nor while a further cause may well be
    there beside them.
    """
    enough = look.model.knowledge.scales.enough_chance
    causes = look.close.rows.causes
    chances = np.array([look.chances[cause] for cause in causes])
    sure = chances >= enough
    settled = [cause for cause in causes if look.chances[cause] >= enough]
    if not settled or NOT_COVERED in settled:
        return []
    if chances[~sure].max(initial=0) > IN_DOUBT or unexplained(look):
        return []
    members = look.close.rows.members[used].astype(float)
    for worth in worths:
        for column in worth.share.T:
            if column.sum() >= LIKELY_ENOUGH:
                chances = column @ members
                if chances[sure].min() < chances[~sure].max(initial=0):
                    return []
    return settled


def unexplained(look: Look) -> list[str]:
    """Findings that are there and that no cause on the table accounts for.

    A finding counts as accounted for where, over all explanations, the chance that
    a cause other than 'not covered' brought it about is one half or more.
    """
    rows, network = look.close.rows, look.model.network
    found = []
    for id, known in sorted(look.known.items()):
        role = look.model.knowledge.findings[id].role
        if role in ("set-up", "habit") or network.is_usual(id, known.value):
            continue
        share = rows.explained(id, known.value, leave_out=NOT_COVERED)
        if float((look.close.weight * share).sum()) < 0.5:
            found.append(id)
    return found


def _question(asked: Finding, bits: float = 0.0) -> Question:
    return Question(
        id=asked.id,
        kind="reading" if asked.kind == "reading" else "finding",
        text=asked.question,
        how=asked.how,
        not_this=asked.not_this,
        takes=answers_of(asked),
        minutes=asked.minutes,
        unit=asked.unit or "",
        needs=tuple(asked.needs),
        cautions=tuple(asked.cautions),
        information=bits,
    )


def answers_of(finding: Finding) -> dict[str, str]:
    """Each answer that a finding takes, and what it means."""
    if finding.kind == "reading":
        takes = {}
    elif finding.kind == "yes-no":
        takes = {
            "yes": finding.sentence("yes"),
            "no": finding.sentence("no"),
            SOMEWHAT: tr("A little, or I think so."),
        }
    else:
        takes = {choice.id: choice.name for choice in finding.choices}
    return {**takes, DONT_KNOW: tr("I don't know, or can't look.")}


def _tool_question(tool: Tool, worth: _Worth) -> Question:
    instead = (
        tr(" If not, use {instead}.", instead=tool.instead) if tool.instead else ""
    )
    return Question(
        id=tool.id,
        kind="tool",
        text=tr("Do you have {name} to hand?", name=tool.name),
        how=tr(
            "It is needed to look at this: {name}.{instead}",
            name=worth.asked.name,
            instead=instead,
        ),
        not_this="",
        takes={"yes": tr("It is here."), "no": tr("It is not here; don't ask for it.")},
        minutes=0.0,
        information=worth.bits,
    )
