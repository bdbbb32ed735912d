"""What the answers come to: ranked causes with their reasons, states, and the rest."""

from __future__ import annotations

from dataclasses import dataclass

from diagnose.explain import (
    Voice,
    objection,
    trail,
    tried_in_vain,
    voices,
    weighing,
    why_out,
)
from diagnose.look import Look
from diagnose.network import NOT_COVERED
from diagnose.questions import unexplained

SHOWN_STATE = 0.05
"""A state less likely than this is not spoken of."""


@dataclass(frozen=True, slots=True)
class RankedCause:
    """A cause, its chance, and what speaks for and against it.

    `trails` has one trail for each voice in `speaks_for`, sentence by sentence.
    `weighed` are the rules that made the cause likelier. `objections` is all that
    speaks against it, in sentences: answers, rules, and fixes tried in vain.
    """

    cause: str
    name: str
    what: str
    probability: float
    speaks_for: tuple[Voice, ...]
    speaks_against: tuple[Voice, ...]
    trails: tuple[tuple[str, ...], ...]
    weighed: tuple[str, ...]
    objections: tuple[str, ...]
    settled_by: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class SuspectedState:
    """A state that the answers point to, and its chance."""

    state: str
    name: str
    probability: float
    by: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class RuledOut:
    """A cause that rules exclude, and why."""

    cause: str
    name: str
    because: str
    by: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Unexplained:
    """A finding that no cause on the table accounts for."""

    finding: str
    value: str
    says: str


@dataclass(frozen=True, slots=True)
class Ranking:
    """The whole result but for the plan."""

    causes: tuple[RankedCause, ...]
    together: tuple[tuple[tuple[str, ...], float], ...]
    states: tuple[SuspectedState, ...]
    ruled_out: tuple[RuledOut, ...]
    unexplained: tuple[Unexplained, ...]
    contradictions: tuple[str, ...]
    tells: tuple[str, ...]
    cautions: tuple[str, ...]


def rank(look: Look) -> Ranking:
    """Rank the causes on the table by their chance, likeliest first."""
    knowledge = look.model.knowledge
    order = sorted(look.chances, key=lambda cause: (-look.chances[cause], cause))
    states = [
        SuspectedState(state, knowledge.states[state].name, chance, by)
        for state, by in look.table.suspected.items()
        if (chance := look.close.state(state)) >= SHOWN_STATE
    ]
    states.sort(key=lambda one: (-one.probability, one.state))
    return Ranking(
        causes=tuple(_ranked(look, cause) for cause in order),
        together=tuple(
            (causes, chance) for causes, chance in look.close.sets() if len(causes) > 1
        ),
        states=tuple(states),
        ruled_out=tuple(
            RuledOut(cause, knowledge.causes[cause].name, why_out(look, rules), rules)
            for cause, rules in look.table.ruled_out.items()
            if cause in look.table.candidates
        ),
        unexplained=tuple(
            Unexplained(
                id,
                look.known[id].value,
                knowledge.findings[id].sentence(look.known[id].value),
            )
            for id in unexplained(look)
        ),
        contradictions=(
            *(
                knowledge.rules[rule].then.contradiction or ""
                for rule in look.table.contradictions
            ),
            *look.derived.faults,
        ),
        tells=tuple(knowledge.rules[rule].then.tell or "" for rule in look.table.tells),
        cautions=tuple(look.table.cautions),
    )


def _ranked(look: Look, cause: str) -> RankedCause:
    knowledge = look.model.knowledge
    if cause == NOT_COVERED:
        name, what = (
            knowledge.scales.not_covered_name,
            knowledge.scales.not_covered_what,
        )
        settled: tuple[str, ...] = ()
    else:
        record = knowledge.causes[cause]
        name, what = record.name, record.what
        settled = tuple(check.how for check in record.settled_by)
    speaks_for, against = voices(look, cause)
    return RankedCause(
        cause=cause,
        name=name,
        what=what,
        probability=look.chances[cause],
        speaks_for=tuple(speaks_for),
        speaks_against=tuple(against),
        trails=tuple(tuple(trail(look, voice)) for voice in speaks_for),
        weighed=tuple(weighing(look, cause, up=True)),
        objections=(
            *(objection(look, voice) for voice in against),
            *weighing(look, cause, up=False),
            *tried_in_vain(look, cause),
        ),
        settled_by=settled,
    )
