"""The slower looks at the knowledge that `diagnose check` takes: is it whole?

Each check is one small generator; its first line says what has to hold.
"""

from __future__ import annotations

import functools
from collections.abc import Callable, Iterator
from itertools import combinations

import numpy as np
from msgspec import to_builtins
from numpy.typing import NDArray

from diagnose.checks import conditions
from diagnose.errors import DiagnoseError, Problem
from diagnose.look import take_a_look
from diagnose.model import Model, model_of
from diagnose.records import Knowledge
from diagnose.sheets import Sheet
from diagnose.terms import glossary_of, plain, words_of
from diagnose.workings import work_out

Found = Iterator[tuple[str, str, tuple[str | int, ...], str]]
"""Kind of record, its id, the path of the part inside it, what is wrong."""

APART = 0.25
"""Two causes are told apart by a finding whose values they make this differently
likely (total variation distance)."""

CONTRADICTS = 0.75
"""A strength contradicts another that is so much greater: this share of it is more."""

PHRASES = 4
"""So many ways of saying it has every sign and check."""

TERMS_STAND_IN = (
    *("causes", "states", "findings", "fixes", "rules", "windows", "workings"),
    *("cautions", "tools", "guide"),
)
"""Kinds of records whose texts the terms explain."""


def examine(knowledge: Knowledge) -> list[Problem]:
    """Every fault that `load_knowledge` does not look for; none in good knowledge."""
    model = model_of(knowledge)
    return sorted(
        Problem(knowledge.place(kind, id, *path), id, name, says)
        for name, check in CHECKS.items()
        for kind, id, path, says in check(model)
    )


def coverage(knowledge: Knowledge) -> list[str]:
    """How many records each stage of the work has, as the rows of a table."""
    kinds = ("causes", "states", "findings", "fixes")
    rows = [f"{'stage':<38}" + "".join(f"{kind:>10}" for kind in kinds)]
    for stage in knowledge.stages.values():
        own = {
            cause.id for cause in knowledge.causes.values() if cause.stage == stage.id
        }
        own |= {
            state.id for state in knowledge.states.values() if state.stage == stage.id
        }
        count = {
            "causes": len(own & knowledge.causes.keys()),
            "states": len(own & knowledge.states.keys()),
            "findings": sum(stage.id in f.stages for f in knowledge.findings.values()),
            "fixes": sum(
                any(cure.target() in own for cure in fix.cures)
                for fix in knowledge.fixes.values()
            ),
        }
        rows.append(f"{stage.name:<38}" + "".join(f"{count[k]:>10}" for k in kinds))
    return rows


def _examples(model: Model) -> Found:
    """Each rule fires on its example, and not on its counter-example."""
    for rule in model.knowledge.rules.values():
        for part, wanted in (("fires_on", True), ("silent_on", False)):
            example = getattr(rule, part)
            if (rule.id in _fired(model, example)) is not wanted:
                says = (
                    "the rule does not fire on this."
                    if wanted
                    else ("the rule must not fire on this, but it does.")
                )
                yield "rules", rule.id, (part,), says


def _fired(model: Model, example: dict[str, str]) -> set[str]:
    """The rules (not their 'otherwise') that fire on an example's answers."""
    sheet = Sheet()
    for id, value in example.items():
        sheet.group(model.knowledge.findings[id])[id] = value
    fired = take_a_look(model, sheet).table.fired
    return {id.split("#")[0] for id in fired if not id.endswith("#otherwise")}


def _reached(model: Model) -> Found:
    """Each record leads somewhere and is led to: nothing stands by itself."""
    knowledge = model.knowledge
    recorded = knowledge.recorded().keys()
    made = {link.target for link in model.rules.links.values()}
    asked_by_rules = {
        condition.finding or condition.reading
        for rule in knowledge.rules.values()
        for _, _, condition in conditions(rule)
    }
    for cause in knowledge.causes.values():
        if not cause.makes and not {s.finding for s in cause.shows} & recorded:
            yield (
                "causes",
                cause.id,
                (),
                "the cause makes nothing and shows in nothing.",
            )
    for state in knowledge.states.values():
        if state.id not in made:
            yield "states", state.id, (), "no cause brings this state about."
        if not state.makes and not state.shows:
            yield "states", state.id, (), "the state shows in nothing."
    asked_by_rules |= leading(knowledge)
    for finding in knowledge.findings.values():
        if finding.id not in made and finding.id not in asked_by_rules:
            says = "no cause or state shows so, and no rule asks for it."
            yield "findings", finding.id, (), says
    used = {tool for finding in knowledge.findings.values() for tool in finding.needs}
    used |= {
        tool
        for cause in knowledge.causes.values()
        for check in cause.settled_by
        for tool in check.needs
    }
    used |= {
        tool
        for working in knowledge.workings.values()
        for one in working.inputs
        for tool in one.needs
    }
    for tool in knowledge.tools:
        if tool not in used:
            yield "tools", tool, (), "nothing needs this tool."
    for caution in knowledge.cautions:
        if not any(caution in cautions for cautions in _cautions(knowledge)):
            yield "cautions", caution, (), "nothing shows this caution."


def _cautions(knowledge: Knowledge) -> Iterator[list[str]]:
    for fix in knowledge.fixes.values():
        yield fix.cautions
    for finding in knowledge.findings.values():
        yield finding.cautions
    for cause in knowledge.causes.values():
        for check in cause.settled_by:
            yield check.cautions
    for rule in knowledge.rules.values():
        yield rule.then.cautions
    for working in knowledge.workings.values():
        yield working.cautions
    for step in knowledge.guide.values():
        yield step.cautions


def _termed(model: Model) -> Found:
    """No word is explained by two terms; each term is met somewhere."""
    knowledge = model.knowledge
    owners: dict[str, str] = {}
    for term in knowledge.terms.values():
        for word in words_of(term):
            first = owners.setdefault(plain(word), term.id)
            if first != term.id:
                yield "terms", term.id, (), f"{word!r} is a word of {first!r} already."
    records = (
        record
        for kind in TERMS_STAND_IN
        for record in getattr(knowledge, kind).values()
    )
    text = " / ".join(part for one in records for part in _texts(to_builtins(one)))
    glossary = glossary_of(knowledge)
    met = {term.id for term in glossary.standing_in(text)}
    for term in knowledge.terms.values():
        if term.id not in met:
            yield "terms", term.id, (), "no word of it stands anywhere."


def _texts(part: object) -> Iterator[str]:
    """The texts of a record that is plain data."""
    if isinstance(part, str):
        yield part
    elif isinstance(part, list):
        for one in part:
            yield from _texts(one)
    elif isinstance(part, dict):
        for key, one in part.items():
            if key not in ("id", "sources"):
                yield from _texts(one)


def _cured(model: Model) -> Found:
    """Each cause has a fix for each moment, by itself or by a state that it makes."""
    knowledge = model.knowledge
    for cause in knowledge.causes.values():
        ends = _leads_to(knowledge, cause.id)
        for moment in knowledge.moments.values():
            if not any(
                cure.target() in ends
                for fix in knowledge.fixes.values()
                if fix.moment == moment.id
                for cure in fix.cures
            ):
                says = f"no fix for the moment {moment.id!r}."
                yield "causes", cause.id, (), says


def _leads_to(knowledge: Knowledge, cause: str) -> set[str]:
    """A cause and all the states that it can bring about."""
    ends = {cause}
    todo = [makes.state for makes in knowledge.causes[cause].makes]
    while todo:
        state = todo.pop()
        if state not in ends:
            ends.add(state)
            todo += [makes.state for makes in knowledge.states[state].makes]
    return ends


def _told_apart(model: Model) -> Found:
    """Some question tells each cause from each other, or the pair is listed."""
    knowledge = model.knowledge
    listed = {frozenset(pair.causes): pair for pair in knowledge.not_apart.values()}
    for one, other in combinations(knowledge.causes, 2):
        apart = told_apart_by(model, one, other)
        pair = listed.get(frozenset((one, other)))
        if not apart and pair is None:
            says = f"no question tells it from {other!r}."
            yield "causes", one, (), says
        if apart and pair is not None:
            says = f"the pair is told apart by {apart!r} after all."
            yield "not_apart", pair.id, (), says


def told_apart_by(model: Model, one: str, other: str) -> str | None:
    """The finding that tells two causes apart best; None where none does enough.

    The checks that settle a cause do not count: they are no signs.
    """
    findings, starts, counts = _layout(model)
    apart = np.abs(model.all_alone[one] - model.all_alone[other])
    distance = np.add.reduceat(apart, starts) / 2 * counts
    best = int(distance.argmax())
    return findings[best] if distance[best] >= APART else None


@functools.lru_cache(maxsize=4)
def _layout(
    model: Model,
) -> tuple[list[str], NDArray[np.intp], NDArray[np.bool_]]:
    """The findings, where the values of each start in `all_alone`, and whether each
    stands in the files."""
    findings = list(model.network.outcomes)
    sizes = [len(model.network.values(finding)) for finding in findings]
    starts = np.cumsum([0, *sizes[:-1]])
    recorded = model.knowledge.recorded()
    return findings, starts, np.array([finding in recorded for finding in findings])


def _worded(model: Model) -> Found:
    """Each record says what it has to: look-alikes, phrases, a check for a rule."""
    knowledge = model.knowledge
    for kind in ("causes", "states"):
        for record in getattr(knowledge, kind).values():
            if not record.looks_like:
                yield kind, record.id, (), "no look-alike is named."
    useful = leading(knowledge)
    for finding in knowledge.recorded().values():
        if finding.role in ("sign", "check") and len(finding.phrases) < PHRASES:
            says = f"{len(finding.phrases)} phrases; write {PHRASES} or more."
            yield "findings", finding.id, ("phrases",), says
        if finding.kind == "reading" and finding.id not in useful:
            says = "no rule draws a conclusion from this reading."
            yield "findings", finding.id, (), says


def leading(knowledge: Knowledge) -> set[str]:
    """The readings that lead somewhere.

    A rule looks at them, a fix is set by them, or another such reading follows from
    them.
    """
    found = {
        condition.reading
        for rule in knowledge.rules.values()
        for _, _, condition in conditions(rule)
        if condition.reading is not None
    }
    workings = knowledge.workings
    used = {id for fix in knowledge.fixes.values() for id in fix.works_out}
    found |= {one.finding for id in used for one in workings[id].inputs if one.finding}
    more = True
    while more:
        follows = {
            one.finding
            for working in workings.values()
            if any(output.finding in found for output in working.gives)
            for one in working.inputs
            if one.finding is not None
        }
        more = not follows <= found
        found |= follows
    return found


def _cautioned(model: Model) -> Found:
    """A fix that names what can hurt shows the caution that belongs to it."""
    knowledge = model.knowledge
    for fix in knowledge.fixes.values():
        text = " ".join([fix.name, fix.how, *fix.materials]).lower()
        for caution in knowledge.cautions.values():
            named = [word for word in caution.named_by if word.lower() in text]
            if named and caution.id not in fix.cautions:
                says = f"it names {named[0]!r}; show the caution {caution.id!r}."
                yield "fixes", fix.id, ("how",), says


def _reckoned(model: Model) -> Found:
    """The example of each working works, and each window is looked at."""
    knowledge = model.knowledge
    for working in knowledge.workings.values():
        try:
            work_out(working, working.example)
        except DiagnoseError as error:
            yield "workings", working.id, ("example",), str(error)
    looked_at = {
        condition.window
        for rule in knowledge.rules.values()
        for _, _, condition in conditions(rule)
    }
    looked_at |= {
        output.window
        for working in knowledge.workings.values()
        for output in working.gives
    }
    for window in knowledge.windows:
        if window not in looked_at:
            yield "windows", window, (), "no rule and no working looks at this window."


def _agreed(model: Model) -> Found:
    """What a record says of a finding is no less than what its states bring about."""
    knowledge, strengths = model.knowledge, model.knowledge.scales.strengths
    for kind in ("causes", "states"):
        for record in getattr(knowledge, kind).values():
            for i, link in enumerate(record.shows):
                by_states = max(
                    (
                        strengths[makes.strength]
                        * _comes(model, makes.state, link.finding, link.value)
                        for makes in record.makes
                    ),
                    default=0.0,
                )
                if strengths[link.strength] < CONTRADICTS * by_states:
                    says = (
                        f"'{link.strength}' contradicts its states, which bring this "
                        f"about in {100 * by_states:.0f} of 100."
                    )
                    yield kind, record.id, ("shows", i, "strength"), says


def _comes(model: Model, state: str, finding: str, value: str) -> float:
    """How often a state brings a finding about along its strongest way."""
    record, strengths = model.knowledge.states[state], model.knowledge.scales.strengths
    direct = [
        strengths[link.strength]
        for link in record.shows
        if (link.finding, link.value) == (finding, value)
    ]
    further = [
        strengths[makes.strength] * _comes(model, makes.state, finding, value)
        for makes in record.makes
    ]
    return max([*direct, *further], default=0.0)


CHECKS: dict[str, Callable[[Model], Found]] = {
    "example": _examples,
    "reach": _reached,
    "term": _termed,
    "cure": _cured,
    "apart": _told_apart,
    "wording": _worded,
    "caution": _cautioned,
    "working": _reckoned,
    "strength": _agreed,
}
