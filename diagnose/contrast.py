"""One cause against what stands: why it is not first, and what would change that."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass

import msgspec
import numpy as np

from diagnose.explain import best_way, objection, tried_in_vain, voices, weighing
from diagnose.look import Look, take_a_look
from diagnose.network import NOT_COVERED
from diagnose.records import Finding, Proof
from diagnose.rules import ANSWER
from diagnose.sheets import Sheet

MOVES = 0.03
"""A question is about the causes whose chance its answers move by at least this."""

TRIED_OUT = 12
"""So many answers are tried out in full before it is said that none would do."""

SPARE = 2
"""So many more than are wanted are tried out in full, as their order may change."""

NEARLY = 0.05
"""An answer that, reckoned roughly, leaves another cause this close behind the leading
one is tried out in full."""


@dataclass(frozen=True, slots=True)
class Turn:
    """An answer that was not given yet, and what it would make of one cause.

    `says` is the answer as a sentence, `likely` the chance that it would be the
    answer, and `chance` that of the cause then; `is_first` is whether the cause would
    then lead.
    """

    finding: str
    value: str
    question: str
    says: str
    likely: float
    cause: str
    name: str
    chance: float
    is_first: bool


@dataclass(frozen=True, slots=True)
class WhyNot:
    """Why a cause is not the first.

    `place` counts from 1 and is 0 where the cause is not on the table; `ruled_out` is
    why rules exclude it, and `because_of` the answers that they drew on. `against` is
    all that speaks against it, and `leaves_open` what it would not account for.
    `needs` are the answers that would raise it most; for a cause that nothing points
    to, the signs that would bring it up. `apart` tells it from the leading cause.
    """

    cause: str
    name: str
    what: str
    chance: float
    place: int
    leader: str
    leader_chance: float
    against: tuple[str, ...]
    leaves_open: tuple[str, ...]
    ruled_out: tuple[str, ...]
    because_of: tuple[str, ...]
    needs: tuple[Turn, ...]
    apart: str


@dataclass(frozen=True, slots=True)
class AtOdds:
    """Answers that do not go together: why, which, and the rule that says so.

    `between` holds the answers of the person that it rests on, by finding; `rule` is
    '' where it comes from readings that nothing can be worked out from.
    """

    says: str
    between: tuple[str, ...]
    rule: str


def why_not(look: Look, cause: str, most: int = 2) -> WhyNot:
    """Why a cause is not the first, and what would bring it there.

    Args:
        look: what stands.
        cause: the cause, on the table or not.
        most: how many answers that would raise it are named.
    """
    knowledge, leader = look.model.knowledge, look.leader
    out = look.table.ruled_out.get(cause, ())
    order = sorted(look.chances, key=lambda one: (-look.chances[one], one))
    if cause == NOT_COVERED:
        what, apart = knowledge.scales.not_covered_what, ""
    else:
        record = knowledge.causes[cause]
        what = record.what
        told = {one.id: one.tell_apart for one in record.looks_like}
        back = knowledge.causes.get(leader)
        if leader not in told and back is not None:
            told = {o.id: o.tell_apart for o in back.looks_like}
            told[leader] = told.get(cause, "")
        apart = told.get(leader, "")
    against = [objection(look, voice) for voice in voices(look, cause)[1]]
    against += [*weighing(look, cause, up=False), *tried_in_vain(look, cause)]
    return WhyNot(
        cause=cause,
        name=look.model.cause_name(cause),
        what=what,
        chance=look.chances.get(cause, 0.0),
        place=order.index(cause) + 1 if cause in order else 0,
        leader=look.model.cause_name(leader),
        leader_chance=look.chances[leader],
        against=tuple(against),
        leaves_open=tuple(_not_of(look, cause)),
        ruled_out=tuple(knowledge.rules[rule].because for rule in out),
        because_of=tuple(dict.fromkeys(f for rule in out for f in behind(look, rule))),
        needs=tuple([] if out else _raising(look, cause, most)),
        apart=apart,
    )


def turning(look: Look, most: int = 2) -> list[Turn]:
    """The answers that would each put another cause first.

    Those come first that are likely and would put it well in front: the chance of the
    answer times the lead that it would give. Only what was not asked yet counts, and
    one answer to each question. The checks that settle a cause are named only where
    nothing else would do.
    """
    pairs = [pair for pair in _open_answers(look) if _may_turn(look, pair)]
    pairs.sort(key=lambda one: (-one.likely * _lead(look, one.chances), one.finding.id))
    found: list[tuple[float, Turn]] = []
    for is_proof in (False, True):
        some = [one for one in pairs if isinstance(one.finding, Proof) == is_proof]
        for one in some[:TRIED_OUT]:
            if len({turn.finding for _, turn in found}) >= most + SPARE:
                break
            then = after(look, one.finding, one.value)
            if then.leader != look.leader:
                lead = one.likely * _lead(look, then.chances)
                found.append((lead, _turn(look, one, then, then.leader)))
        if found:
            break
    found.sort(key=lambda pair: (-pair[0], pair[1].finding))
    best: dict[str, Turn] = {}
    for _, turn in found:
        best.setdefault(turn.finding, turn)
    return list(best.values())[:most]


def moved(
    now: dict[str, float], then: Sequence[dict[str, float]], most: int = 3
) -> list[list[str]]:
    """The causes that the answers to a question move most, by the answer that raises.

    Args:
        now: the chance of each cause as it stands.
        then: the chances after each of the answers.
        most: no more causes than that.

    Returns:
        A group for each answer that raises one of them; the cause that is moved most
        is in the first group.
    """
    apart: dict[str, float] = {}
    for cause in now:
        chances = [one.get(cause, 0.0) for one in then]
        apart[cause] = max(chances) - min(chances)
    chosen = sorted(apart, key=lambda cause: (-apart[cause], cause))[:most]
    groups: dict[int, list[str]] = {}
    for cause in chosen:
        if apart[cause] >= MOVES:
            chances = [one.get(cause, 0.0) for one in then]
            groups.setdefault(chances.index(max(chances)), []).append(cause)
    return list(groups.values())


def at_odds(look: Look) -> list[AtOdds]:
    """The answers that do not go together."""
    rules = look.model.knowledge.rules
    found = [
        AtOdds(rules[rule].then.contradiction or "", tuple(behind(look, rule)), rule)
        for rule in look.table.contradictions
    ]
    return [*found, *(AtOdds(says, (), "") for says in look.derived.faults)]


def behind(look: Look, rule: str) -> list[str]:
    """The person's own answers that a rule which fired rests on, by finding."""
    record = look.model.knowledge.rules[rule]
    found: dict[str, None] = {}
    for condition in (*record.when.all, *record.when.any):
        if condition.reading is not None:
            found |= dict.fromkeys(_read_for(look, condition.reading))
        elif condition.finding is not None:
            known = look.known.get(condition.finding)
            if known is None or known.value not in condition.wanted():
                continue
            if known.by == ANSWER:
                found[known.finding] = None
            elif known.by != rule:
                found |= dict.fromkeys(behind(look, known.by))
    return list(found)


def _read_for(look: Look, reading: str) -> Iterator[str]:
    """The readings that were taken for one: itself, or what it was worked out from."""
    if reading in look.sheet.readings:
        yield reading
        return
    worked = look.derived.worked.get(reading)
    if worked is not None:
        for one in worked.working.inputs:
            if one.finding in look.readings and one.finding != reading:
                yield from _read_for(look, one.finding or "")


def after(look: Look, finding: Finding, value: str) -> Look:
    """What would stand with one more answer."""
    sheet = msgspec.convert(msgspec.to_builtins(look.sheet), Sheet)
    sheet.group(finding)[finding.id] = value
    return take_a_look(look.model, sheet)


@dataclass(frozen=True, slots=True)
class _Answer:
    """An answer that may come: how likely it is, and the chances it would leave."""

    finding: Finding
    value: str
    likely: float
    chances: dict[str, float]


def _open_answers(look: Look) -> list[_Answer]:
    """Every answer that is not given yet, with what it would come to, roughly.

    Roughly: on the likeliest sets of causes, and with no rule but those that look at
    that one answer.
    """
    ids = [finding.id for finding in _open(look) if _bears(look, finding.id)]
    used, shares = look.close.split(ids)
    members = look.close.rows.members[used].astype(float)
    place = {cause: number for number, cause in enumerate(look.close.rows.causes)}
    findings, network = look.model.knowledge.findings, look.model.network
    found = []
    for id, share in zip(ids, shares, strict=True):
        for value, column in zip(network.values(id), share.T, strict=True):
            likely = float(column.sum())
            if likely <= 0:
                continue
            weight = column.copy()
            for cause, factor in look.model.effects.get((id, value), {}).items():
                if cause in place:
                    weight[members[:, place[cause]] > 0] *= factor
            total = max(float(weight.sum()), 1e-12)
            then = np.asarray(weight @ members) / total
            chances = dict(zip(look.close.rows.causes, then.tolist(), strict=True))
            found.append(_Answer(findings[id], value, likely, chances))
    return found


def _open(look: Look) -> Iterator[Finding]:
    """The findings that nothing is known of yet, and that can be looked at."""
    given, here = look.sheet.given(), look.sheet.to_hand
    for id in look.model.network.outcomes:
        finding = look.model.knowledge.findings[id]
        asked = look.model.asked_as(finding)
        if id in look.known or id in given or asked.id in given:
            continue
        if not any(here.get(tool) == "no" for tool in asked.needs):
            yield finding


def _bears(look: Look, finding: str) -> bool:
    """Whether the causes on the table, or rules about them, bear on a finding."""
    rows, network = look.close.rows, look.model.network
    there = {*rows.causes, *rows.states} - {NOT_COVERED}
    return any(
        maker in there
        for outcome in network.outcomes[finding]
        for maker, _ in outcome.makers
    ) or any(
        there & look.model.effects.get((finding, value), {}).keys()
        for value in network.values(finding)
    )


def _may_turn(look: Look, one: _Answer) -> bool:
    """Whether to try it out in full: it puts another cause first, or nearly."""
    lead = _lead(look, one.chances)
    return lead > -NEARLY and lead > _lead(look, look.chances) + 0.01


def _lead(look: Look, chances: Mapping[str, float]) -> float:
    """By how much the best of the other causes leads the one that is first now."""
    others = [chance for cause, chance in chances.items() if cause != look.leader]
    return max(others, default=0.0) - chances.get(look.leader, 0.0)


def _raising(look: Look, cause: str, most: int) -> list[Turn]:
    """The answers that would raise a cause most; signs before checks that settle it.

    What is worth naming is likely with the cause and unlikely without it.
    """
    scored = []
    for finding in _open(look):
        there = look.model.chances_alone(cause, finding.id)
        anyway = look.model.chances_anyway(finding.id)
        for value in look.model.network.values(finding.id):
            tells = there[value] * np.log2(there[value] / anyway[value])
            if tells > 0 and best_way(look.model, cause, finding.id, value):
                is_proof = isinstance(finding, Proof)
                is_set_up = finding.role not in ("sign", "check")
                off_table = cause not in look.chances
                late = (is_proof, off_table and is_set_up, -tells, finding.id)
                scored.append((late, finding, value))
    scored.sort(key=lambda one: one[0])
    likely = {(a.finding.id, a.value): a.likely for a in _open_answers(look)}
    found: list[Turn] = []
    for _, finding, value in scored:
        if any(turn.finding == finding.id for turn in found):
            continue
        if len(found) == most or (found and isinstance(finding, Proof)):
            break
        one = _Answer(finding, value, likely.get((finding.id, value), 0.0), {})
        turn = _turn(look, one, after(look, finding, value), cause)
        if turn.chance > look.chances.get(cause, 0.0):
            found.append(turn)
    return sorted(found, key=lambda turn: (-turn.chance, turn.finding))


def _turn(look: Look, one: _Answer, then: Look, cause: str) -> Turn:
    return Turn(
        finding=one.finding.id,
        value=one.value,
        question=one.finding.question,
        says=one.finding.sentence(one.value),
        likely=one.likely,
        cause=cause,
        name=look.model.cause_name(cause),
        chance=then.chances.get(cause, 0.0),
        is_first=then.leader == cause,
    )


def _not_of(look: Look, cause: str) -> Iterable[str]:
    """What is there that a cause by itself would not bring about, in sentences."""
    if cause == NOT_COVERED:
        return
    for id, known in sorted(look.known.items()):
        finding = look.model.knowledge.findings[id]
        if finding.role in ("set-up", "habit") or id not in look.model.network.outcomes:
            continue
        if look.model.network.is_usual(id, known.value):
            continue
        if not best_way(look.model, cause, id, known.value):
            yield finding.sentence(known.value)
