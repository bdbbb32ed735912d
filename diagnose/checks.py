"""Looks the knowledge over: is every reference good, does the whole make sense.

`references` is what has to hold before the knowledge can be used at all; it runs at
every start. `examiner` holds the slower looks that `diagnose check` takes.
"""

from __future__ import annotations

import re
from collections.abc import Callable, Collection, Iterator, Mapping
from dataclasses import dataclass
from typing import NamedTuple, get_args

from diagnose.drawings.faults.book import BUILDERS
from diagnose.errors import AnswerError, missing, quoted, unknown
from diagnose.functions import misfits
from diagnose.proofs import PREFIX
from diagnose.readings import read
from diagnose.records import (
    Cause,
    Condition,
    Finding,
    Input,
    Knowledge,
    Output,
    Proof,
    Record,
    Role,
    Rule,
    State,
    Then,
    Working,
)
from diagnose.sheets import SOMEWHAT
from diagnose.yamltext import Step


class Unknown(NamedTuple):
    """A word that names nothing: what it should name, the word, the valid names."""

    what: str
    word: str
    known: Collection[str]

    def __str__(self) -> str:
        return unknown(self.what, self.word, self.known)

    def in_short(self) -> str:
        """The same without the nearest valid name, which takes time to find."""
        return missing(self.what, self.word)

    @property
    def kind(self) -> str:
        """The kind of record, or the scale, that was looked in."""
        return _LOOKED_FOR.get(self.what, f"{self.what}s")


_LOOKED_FOR = {
    "word for how sure": "strengths",
    "word for how common": "how_common",
    "word for how often it is seen": "seen_anyway",
    "word for how much": "weights",
    "reading": "findings",
    "value": "findings",
    "claim": "sources",
    "rule that concludes it from the reading": "rules",
}

Found = Iterator[tuple[str, str, tuple[Step, ...], str | Unknown]]
"""Kind of record, its id, the path of the part inside it, what is wrong."""


@dataclass(frozen=True, slots=True)
class Unread:
    """What is in the files but could not be read: nothing is said about it here."""

    ids: frozenset[str] = frozenset()
    kinds: frozenset[str] = frozenset()
    """Kinds, and scales, that hold more than was read."""

    def hides(self, says: str | Unknown) -> bool:
        """Whether the fault may only be one because something was not read."""
        return isinstance(says, Unknown) and (
            says.word in self.ids or says.kind in self.kinds
        )


FORMULA = "formula: "
"""So a working names where its formula comes from."""

OUR_CASES = "our cases: "
"""So a shop's own record names the cases that it rests on."""

NO_SOURCE = ("common practice", "our judgement")
"""What a record writes where it has no published source."""

RECORDS = (
    "causes",
    "states",
    "findings",
    "fixes",
    "rules",
    "windows",
    "workings",
    "meshes",
    "lights",
    "pictures",
    "terms",
    "guide",
    "alike",
    "cautions",
)
"""Kinds of records that have a status and sources."""

BRACES = re.compile(r"{([^{}]*)}")
"""Where a number is put into a text."""

WINDOW = re.compile(r"\{window: ([^{}]*)\}")
"""Where the numbers of a window are put into a text of the guide."""

RULING_ROLES = ("set-up", "habit")
"""Only what a person knows of the set-up may rule a cause out."""


def references(
    knowledge: Knowledge,
) -> Iterator[tuple[str, str, str, tuple[Step, ...], str | Unknown]]:
    """Every fault that keeps the knowledge from being used.

    Yields:
        The name of the check; kind, id and part of the record; what is wrong.
    """
    for name, check in _REFERENCES.items():
        for kind, id, path, says in check(knowledge):
            yield name, kind, id, path, says


def records(knowledge: Knowledge) -> Iterator[tuple[str, Record]]:
    """Every record that has a status and sources, with the name of its kind."""
    for kind in RECORDS:
        for record in getattr(knowledge, kind).values():
            yield kind, record


def _sources(knowledge: Knowledge) -> Found:
    """Each source is a known one, or says that there is none."""
    for kind, record in records(knowledge):
        cited: list[tuple[tuple[Step, ...], str]] = [
            (("sources", n), s) for n, s in enumerate(record.sources)
        ]
        if isinstance(record, (Cause, State)):
            for part in ("makes", "shows"):
                for i, link in enumerate(getattr(record, part)):
                    cited += [
                        ((part, i, "sources", n), s) for n, s in enumerate(link.sources)
                    ]
        for path, text in cited:
            source, _, claim = text.partition("/")
            if text in NO_SOURCE or text.startswith((FORMULA, OUR_CASES)):
                continue
            if source not in knowledge.sources:
                says = Unknown("source", source, [*NO_SOURCE, *knowledge.sources])
                yield kind, record.id, path, says
            elif claim and claim not in knowledge.sources[source].claims:
                claims = knowledge.sources[source].claims
                yield kind, record.id, path, Unknown("claim", claim, claims)


def _links(knowledge: Knowledge) -> Found:
    """Links go to states and findings that exist, with a known strength."""
    says: str | Unknown
    strengths = knowledge.scales.strengths
    for kind in ("causes", "states"):
        for record in getattr(knowledge, kind).values():
            for i, link in enumerate(record.makes):
                if link.state not in knowledge.states:
                    says = Unknown("state", link.state, knowledge.states)
                    yield kind, record.id, ("makes", i, "state"), says
            for i, link in enumerate(record.shows):
                at: tuple[Step, ...] = ("shows", i, "finding")
                finding = knowledge.findings.get(link.finding)
                if finding is None:
                    says = Unknown("finding", link.finding, knowledge.findings)
                    yield kind, record.id, at, says
                elif finding.kind == "reading":
                    says = f"{link.finding!r} is a reading; link to what it decides."
                    yield kind, record.id, at, says
                elif finding.kind == "yes-no" and link.value != "yes":
                    says = "a link to a yes-no finding goes to its value 'yes'."
                    yield kind, record.id, ("shows", i, "value"), says
                elif link.value not in finding.values():
                    says = Unknown("value", link.value, finding.values())
                    yield kind, record.id, ("shows", i, "value"), says
            for part in ("makes", "shows"):
                for i, link in enumerate(getattr(record, part)):
                    if link.strength not in strengths:
                        says = Unknown("strength", link.strength, strengths)
                        yield kind, record.id, (part, i, "strength"), says
                targets = [
                    getattr(x, "state", None) or f"{x.finding}={x.value}"
                    for x in getattr(record, part)
                ]
                for i, target in enumerate(targets):
                    if target in targets[:i]:
                        says = f"a second link to {target!r}."
                        yield kind, record.id, (part, i), says


def _cycles(knowledge: Knowledge) -> Found:
    """No state leads back to itself; each link that closes a ring is named."""
    done: set[str] = set()
    for start in knowledge.states:
        trail = [start]
        todo = [_onward(knowledge, start)] if start not in done else []
        while todo:
            link = next(todo[-1], None)
            if link is None:
                todo.pop()
                done.add(trail.pop())
            elif link[1] in trail:
                ring = " → ".join([*trail[trail.index(link[1]) :], link[1]])
                at: tuple[Step, ...] = ("makes", link[0], "state")
                yield "states", trail[-1], at, f"states lead round in a ring: {ring}."
            elif link[1] not in done:
                trail.append(link[1])
                todo.append(_onward(knowledge, link[1]))


def _onward(knowledge: Knowledge, state: str) -> Iterator[tuple[int, str]]:
    """The known states that a state makes, each with the number of its link."""
    for number, link in enumerate(knowledge.states[state].makes):
        if link.state in knowledge.states:
            yield number, link.state


def _words(knowledge: Knowledge) -> Found:
    """Stages, tools, cautions, moments and scale words are known ones."""
    says: str | Unknown
    scales = knowledge.scales
    for kind in ("causes", "states"):
        for record in getattr(knowledge, kind).values():
            if record.stage not in knowledge.stages:
                says = Unknown("stage", record.stage, knowledge.stages)
                yield kind, record.id, ("stage",), says
    for cause in knowledge.causes.values():
        if cause.how_common not in scales.how_common:
            says = Unknown("word for how common", cause.how_common, scales.how_common)
            yield "causes", cause.id, ("how_common",), says
        for i, check in enumerate(cause.settled_by):
            here: tuple[Step, ...] = ("settled_by", i)
            yield from _listed(knowledge, "causes", cause.id, here, check)
    for finding in knowledge.findings.values():
        yield from _listed(knowledge, "findings", finding.id, (), finding)
        for i, stage in enumerate(finding.stages):
            if stage not in knowledge.stages:
                says = Unknown("stage", stage, knowledge.stages)
                yield "findings", finding.id, ("stages", i), says
        word = finding.seen_anyway
        if word is not None and word not in scales.seen_anyway:
            says = Unknown("word for how often it is seen", word, scales.seen_anyway)
            yield "findings", finding.id, ("seen_anyway",), says
    for window in knowledge.windows.values():
        for i, stage in enumerate(window.stages):
            if stage not in knowledge.stages:
                says = Unknown("stage", stage, knowledge.stages)
                yield "windows", window.id, ("stages", i), says
    for fix in knowledge.fixes.values():
        yield from _listed(knowledge, "fixes", fix.id, (), fix)
        if fix.moment not in knowledge.moments:
            says = Unknown("moment", fix.moment, knowledge.moments)
            yield "fixes", fix.id, ("moment",), says
        for i, stage in enumerate(fix.at):
            if stage not in knowledge.stages:
                says = Unknown("stage", stage, knowledge.stages)
                yield "fixes", fix.id, ("at", i), says
        for i, cure in enumerate(fix.cures):
            if (cure.cause is None) == (cure.state is None):
                says = "a cure names either a cause or a state."
                yield "fixes", fix.id, ("cures", i), says
            elif cure.cause is not None and cure.cause not in knowledge.causes:
                says = Unknown("cause", cure.cause, knowledge.causes)
                yield "fixes", fix.id, ("cures", i, "cause"), says
            elif cure.state is not None and cure.state not in knowledge.states:
                says = Unknown("state", cure.state, knowledge.states)
                yield "fixes", fix.id, ("cures", i, "state"), says
            if cure.sure not in scales.strengths:
                says = Unknown("word for how sure", cure.sure, scales.strengths)
                yield "fixes", fix.id, ("cures", i, "sure"), says


def _listed(
    knowledge: Knowledge,
    kind: str,
    record: str,
    path: tuple[Step, ...],
    part: object,
) -> Found:
    """The tools and cautions that a part names are known ones."""
    known: dict[str, Collection[str]] = {
        "needs": knowledge.tools,
        "cautions": knowledge.cautions,
    }
    for field, names in known.items():
        for i, word in enumerate(getattr(part, field, [])):
            if word not in names:
                what = "tool" if field == "needs" else "caution"
                yield kind, record, (*path, field, i), Unknown(what, word, names)


def _looks_like(knowledge: Knowledge) -> Found:
    """Look-alikes are records of the same kind, and not the record itself."""
    for kind in ("causes", "states", "findings"):
        same = getattr(knowledge, kind)
        for record in same.values():
            for i, alike in enumerate(record.looks_like):
                at: tuple[Step, ...] = ("looks_like", i, "id")
                if alike.id == record.id:
                    yield kind, record.id, at, "a record is not its own look-alike."
                elif alike.id not in same:
                    yield kind, record.id, at, Unknown(kind[:-1], alike.id, same)


def _findings(knowledge: Knowledge) -> Found:
    """A finding has the fields that its kind needs, and no others."""
    says: str | Unknown
    needed = {
        "yes-no": ("says_yes", "says_no", "seen_anyway"),
        "choice": ("choices",),
        "reading": ("unit", "lowest", "highest", "give_or_take"),
    }
    decided = _decided(knowledge)
    for finding in knowledge.findings.values():
        for kind, fields in needed.items():
            for field in fields:
                given = getattr(finding, field) not in (None, [])
                if kind == finding.kind and not given:
                    says = f"a finding of the kind {kind!r} needs the key {field!r}."
                    yield "findings", finding.id, (), says
                if kind != finding.kind and given:
                    says = (
                        f"{field!r} is for the kind {kind!r}; this finding's kind is "
                        f"{finding.kind!r}."
                    )
                    yield "findings", finding.id, (field,), says
        if finding.kind == "choice" and finding.choices:
            yield from _choices(finding)
        if finding.id.startswith(PREFIX) and not isinstance(finding, Proof):
            says = f"ids that start with {PREFIX!r} belong to the checks of causes."
            yield "findings", finding.id, ("id",), says
        if (
            finding.lowest is not None
            and finding.highest is not None
            and finding.lowest >= finding.highest
        ):
            says = f"'lowest' has to be below 'highest' ({finding.highest:g})."
            yield "findings", finding.id, ("lowest",), says
        if finding.usual is not None and finding.kind != "reading":
            says = f"'usual' is for a reading; this finding's kind is {finding.kind!r}."
            yield "findings", finding.id, ("usual",), says
        elif finding.usual is not None and not (
            (finding.lowest or 0.0) <= finding.usual <= (finding.highest or 0.0)
        ):
            says = "'usual' has to lie between 'lowest' and 'highest'."
            yield "findings", finding.id, ("usual",), says
        if finding.measured_by is not None:
            reading = knowledge.findings.get(finding.measured_by)
            at: tuple[Step, ...] = ("measured_by",)
            if reading is None or reading.kind != "reading":
                readings = [f.id for f in _readings(knowledge)]
                says = Unknown("reading", finding.measured_by, readings)
                yield "findings", finding.id, at, says
            elif not decided & {
                (finding.id, reading.id),
                (finding.id, None),
                (None, reading.id),
                (None, None),
            }:
                what = "rule that concludes it from the reading"
                yield "findings", finding.id, at, Unknown(what, reading.id, ())
        if finding.opening == "yes" and not finding.stages:
            says = "a sign of the opening list needs the stages it is listed in."
            yield "findings", finding.id, ("opening",), says
        if finding.opening == "yes" and finding.kind != "yes-no":
            says = "only a yes-no finding can stand in the opening list."
            yield "findings", finding.id, ("opening",), says


def _decided(knowledge: Knowledge) -> set[tuple[str | None, str | None]]:
    """The findings that rules conclude, each with a reading; None for an unknown id."""
    findings = knowledge.findings
    decided: set[tuple[str | None, str | None]] = set()
    for rule in knowledge.rules.values():
        read_here = [c.reading for c in rule.when.all if c.reading is not None]
        for part in rule.then.conclude:
            finding = findings.get(part.finding)
            known = finding is not None and finding.kind != "reading"
            for id in read_here:
                reading = findings.get(id)
                taken = reading is not None and reading.kind == "reading"
                decided.add((part.finding if known else None, id if taken else None))
    return decided


def _choices(finding: Finding) -> Found:
    """Two values or more, each with an id and a name of its own."""
    if len(finding.choices) < 2:
        says = "a choice needs two or more values."
        yield "findings", finding.id, ("choices",), says
    for i, choice in enumerate(finding.choices):
        at: tuple[Step, ...] = ("choices", i, "id")
        if choice.id == SOMEWHAT:
            says = f"{SOMEWHAT!r} is an answer of its own; take another id."
            yield "findings", finding.id, at, says
        for field in ("id", "name"):
            word = getattr(choice, field)
            if word in [getattr(other, field) for other in finding.choices[:i]]:
                says = f"a second choice has the {field} {quoted(word)}."
                yield "findings", finding.id, ("choices", i, field), says


def _readings(knowledge: Knowledge) -> list[Finding]:
    return [f for f in knowledge.findings.values() if f.kind == "reading"]


def conditions(rule: Rule) -> Iterator[tuple[str, int, Condition]]:
    """Each condition of a rule, with the group it is in and its number."""
    for group in ("all", "any", "none"):
        for i, condition in enumerate(getattr(rule.when, group)):
            yield group, i, condition


def concluded(knowledge: Knowledge) -> dict[str, str]:
    """The findings that rules conclude, each with the first rule that does."""
    found: dict[str, str] = {}
    for rule in knowledge.rules.values():
        for then in (rule.then, rule.otherwise):
            for part in then.conclude if then else []:
                found.setdefault(part.finding, rule.id)
    return found


def _rules(knowledge: Knowledge) -> Found:
    """A rule asks for what exists and brings about what may be brought about."""
    says: str | Unknown
    derived = concluded(knowledge)
    for rule in knowledge.rules.values():
        listed = list(conditions(rule))
        if not any(group in ("all", "any") for group, _, _ in listed):
            says = "a rule needs at least one condition under 'all' or 'any'."
            yield "rules", rule.id, ("when",), says
        rules_out = rule.then.rule_out or (rule.otherwise and rule.otherwise.rule_out)
        for group, i, condition in listed:
            at: tuple[Step, ...] = ("when", group, i)
            faults = list(_condition(knowledge, condition))
            for part, says in faults:
                yield "rules", rule.id, (*at, part), says
            if group == "none":
                if condition.finding in derived:
                    says = (
                        f"'none' can't name {condition.finding!r}: the rule "
                        f"{derived[condition.finding]!r} concludes it."
                    )
                    yield "rules", rule.id, at, says
                elif condition.finding is None:
                    yield "rules", rule.id, at, "'none' takes findings only."
            elif rules_out and not faults:
                finding = knowledge.findings.get(condition.finding or "")
                if finding is None or finding.role not in RULING_ROLES:
                    says = (
                        "only a set-up fact or a habit may rule a cause out; "
                        "'weigh' makes it less likely."
                    )
                    yield "rules", rule.id, at, says
        for part in ("then", "otherwise"):
            then = getattr(rule, part)
            if then is not None:
                yield from _brings_about(knowledge, rule, part, then)
        if rule.otherwise is not None and not (
            len(listed) == 1 and listed[0][2].reading and listed[0][0] == "all"
        ):
            says = "'otherwise' is for a rule with one reading under 'all' alone."
            yield "rules", rule.id, ("otherwise",), says
        for part in ("fires_on", "silent_on"):
            for id, value in getattr(rule, part).items():
                says = answer_fault(knowledge, id, value)
                if says:
                    yield "rules", rule.id, (part, id), says


def answer_fault(knowledge: Knowledge, id: str, value: str) -> str | Unknown:
    """What is wrong with an example's answer; '' where nothing is."""
    finding = knowledge.findings.get(id)
    if finding is None:
        return Unknown("finding", id, knowledge.findings)
    if finding.kind != "reading":
        allowed = finding.values()
        return "" if value in allowed else Unknown("value", value, allowed)
    if (finding.lowest or 0.0) >= (finding.highest or 0.0):
        return ""
    try:
        read(value, finding)
    except AnswerError as error:
        return str(error)
    return ""


def _condition(
    knowledge: Knowledge, condition: Condition
) -> Iterator[tuple[str, str | Unknown]]:
    """What is wrong with a condition, and the key it is at."""
    named = [condition.finding, condition.reading, condition.state]
    if sum(name is not None for name in named) != 1:
        yield "", "a condition names one finding, one reading or one state."
        return
    if condition.finding is not None:
        yield from _condition_on_finding(knowledge, condition, condition.finding)
    elif condition.value is not None:
        yield "value", "'value' is for a finding."
    limits = {
        key: limit
        for key in ("below", "above", "between")
        if (limit := getattr(condition, key)) is not None
    }
    if condition.window is not None or condition.side is not None:
        fault = _window(knowledge, condition)
        if fault is not None:
            yield fault
            return
    if condition.reading is not None:
        reading = knowledge.findings.get(condition.reading)
        if reading is None or reading.kind != "reading":
            known = [f.id for f in _readings(knowledge)]
            yield "reading", Unknown("reading", condition.reading, known)
        elif len(limits) == 1:
            yield from _limits(condition, reading)
        if len(limits) != 1:
            yield "", "a reading needs one of 'below', 'above' or 'between'."
    else:
        for key in limits:
            yield key, f"{key!r} is for a reading."
    if condition.state is not None and condition.state not in knowledge.states:
        yield "state", Unknown("state", condition.state, knowledge.states)


def _window(
    knowledge: Knowledge, condition: Condition
) -> tuple[str, str | Unknown] | None:
    """What is wrong with the window that a condition names."""
    reading = knowledge.findings.get(condition.reading or "")
    window = knowledge.windows.get(condition.window or "")
    if condition.reading is None:
        return "window", "'window' is for a reading."
    if condition.window is None or condition.side is None:
        return "", "'window' and 'side' (below, within or above) go together."
    if window is None:
        return "window", Unknown("window", condition.window, knowledge.windows)
    edge = {"below": window.low, "above": window.high}.get(condition.side, 0.0)
    if edge is None:
        return "side", f"the window {window.id!r} is open on that side."
    if reading is not None and reading.unit != window.unit:
        return "window", (
            f"the window {window.id!r} is in {window.unit!r}, the reading in "
            f"{reading.unit!r}."
        )
    return None


def _windows(knowledge: Knowledge) -> Found:
    """A window has an edge; the lower one comes first."""
    for window in knowledge.windows.values():
        if window.low is None and window.high is None:
            yield "windows", window.id, (), "a window needs 'low', 'high' or both."
        low, high = window.low, window.high
        if low is not None and high is not None and low >= high:
            yield "windows", window.id, ("low",), "'low' has to be below 'high'."
        for side, edge in (("below", "low"), ("above", "high")):
            if (getattr(window, side) is None) != (getattr(window, edge) is None):
                says = f"{edge!r} and {side!r} go together: the edge, and what is said."
                yield "windows", window.id, (), says


def _tables(knowledge: Knowledge) -> Found:
    """The threads of a mesh leave openings; a light's shares fit each other."""
    for mesh in knowledge.meshes.values():
        if mesh.thread >= (pitch := 10000 / mesh.count):
            says = (
                f"threads of {mesh.thread:g} µm fill the mesh; {pitch:.4g} is a pitch."
            )
            yield "meshes", mesh.id, ("thread",), says
    for light in knowledge.lights.values():
        if light.below_450 > light.below_500:
            says = "no more can lie below 450 nm than below 500 nm."
            yield "lights", light.id, ("below_450",), says


def _pictures(knowledge: Knowledge) -> Found:
    """A picture is one that can be drawn; what names its numbers names known ones."""
    says: str | Unknown
    for picture in knowledge.pictures.values():
        if picture.id not in BUILDERS:
            says = Unknown("drawing", picture.id, BUILDERS)
            yield "pictures", picture.id, ("id",), says
        numbers = [one.id for one in picture.numbers]
        for i, one in enumerate(picture.numbers):
            if one.usual is None or not one.lowest <= one.usual <= one.highest:
                says = "'usual' has to lie between 'lowest' and 'highest'."
                yield "pictures", picture.id, ("numbers", i), says
        for id in picture.sound:
            if id not in numbers:
                says = Unknown("number", id, numbers)
                yield "pictures", picture.id, ("sound", id), says
    for finding in knowledge.findings.values():
        drawn = knowledge.pictures.get(finding.pictured or "")
        if finding.pictured is not None and drawn is None:
            says = Unknown("picture", finding.pictured, knowledge.pictures)
            yield "findings", finding.id, ("pictured",), says
        if finding.pictured is None and finding.pictured_with:
            says = "'pictured_with' needs the key 'pictured'."
            yield "findings", finding.id, ("pictured_with",), says
        limits = {one.id: one for one in drawn.numbers} if drawn else {}
        for id, value in finding.pictured_with.items() if drawn else ():
            at: tuple[Step, ...] = ("pictured_with", id)
            if id not in limits:
                yield "findings", finding.id, at, Unknown("number", id, limits)
            elif not limits[id].lowest <= value <= limits[id].highest:
                says = (
                    f"{id} lies between {limits[id].lowest:g} and "
                    f"{limits[id].highest:g}."
                )
                yield "findings", finding.id, at, says


def _loosely(knowledge: Knowledge) -> Found:
    """What is said loosely is said of a finding, or of a value of a choice."""
    for one in knowledge.loosely.values():
        finding = knowledge.findings.get(one.id)
        if finding is None:
            says = Unknown("finding", one.id, knowledge.findings)
            yield "loosely", one.id, ("id",), says
            continue
        choices = [choice.id for choice in finding.choices]
        for value in one.values:
            if value not in choices:
                says = Unknown("choice", value, choices)
                yield "loosely", one.id, ("values", value), says
        if one.said and finding.kind != "yes-no":
            yield "loosely", one.id, ("said",), "only a yes-no finding has this."


def _guide(knowledge: Knowledge) -> Found:
    """A step of the guide names a stage, its causes, signs, cautions and windows."""
    for step in knowledge.guide.values():
        if step.stage not in knowledge.stages:
            says: str | Unknown = Unknown("stage", step.stage, knowledge.stages)
            yield "guide", step.id, ("stage",), says
        yield from _listed(knowledge, "guide", step.id, (), step)
        for i, sign in enumerate(step.signs):
            if sign not in knowledge.findings:
                says = Unknown("finding", sign, knowledge.findings)
                yield "guide", step.id, ("signs", i), says
        for i, id in enumerate(step.causes):
            cause = knowledge.causes.get(id)
            if cause is None:
                says = Unknown("cause", id, knowledge.causes)
                yield "guide", step.id, ("causes", i), says
            elif cause.stage != step.stage and cause.stage in knowledge.stages:
                says = f"this is a cause of {cause.stage!r}, not of {step.stage!r}."
                yield "guide", step.id, ("causes", i), says
        texts: list[tuple[tuple[Step, ...], str]] = [(("well",), step.well)]
        texts += [(("do", i), text) for i, text in enumerate(step.do)]
        for path, text in texts:
            for id in WINDOW.findall(text):
                if id not in knowledge.windows:
                    says = Unknown("window", id, knowledge.windows)
                    yield "guide", step.id, path, says
            if BRACES.search(WINDOW.sub("", text)):
                says = "in braces belongs a window, such as {window: mesh-tension}."
                yield "guide", step.id, path, says


def _workings(knowledge: Knowledge) -> Found:
    """What a working names is known, and what it fills in is one of its numbers."""
    says: str | Unknown
    for working in knowledge.workings.values():
        yield from _listed(knowledge, "workings", working.id, (), working)
        for path, fault in misfits(working):
            yield "workings", working.id, path, fault
        parts = [one.id for one in working.inputs]
        parts += [one.id for one in working.gives]
        for id in sorted({id for id in parts if parts.count(id) > 1}):
            yield "workings", working.id, (), f"{id!r} stands for two numbers."
        for i, one in enumerate(working.inputs):
            at: tuple[Step, ...] = ("inputs", i)
            yield from _listed(knowledge, "workings", working.id, at, one)
            if one.lowest >= one.highest:
                says = f"'lowest' has to be below 'highest' ({one.highest:g})."
                yield "workings", working.id, (*at, "lowest"), says
            yield from _stands_for(knowledge, working, at, one)
        for i, output in enumerate(working.gives):
            yield from _stands_for(knowledge, working, ("gives", i), output)
        for key in ("means", "check_next"):
            for id in BRACES.findall(getattr(working, key) or ""):
                if id not in parts:
                    says = Unknown("number", id, parts)
                    yield "workings", working.id, (key,), says
        own = [part.id for part in working.inputs]
        for id in working.example:
            if id not in own:
                yield "workings", working.id, ("example", id), Unknown("input", id, own)
    for fix in knowledge.fixes.values():
        for i, id in enumerate(fix.works_out):
            if id not in knowledge.workings:
                says = Unknown("working", id, knowledge.workings)
                yield "fixes", fix.id, ("works_out", i), says


def _stands_for(
    knowledge: Knowledge, working: Working, at: tuple[Step, ...], part: Input | Output
) -> Found:
    """The reading and the window of a number exist, and are in its unit."""
    says: str | Unknown
    readings = {one.id: one.unit for one in _readings(knowledge)}
    windows = {one.id: one.unit for one in knowledge.windows.values()}
    named: list[tuple[str, str | None, Mapping[str, str | None]]] = [
        ("finding", part.finding, readings)
    ]
    if isinstance(part, Output):
        named.append(("window", part.window, windows))
    for key, id, units in named:
        if id is not None and id not in units:
            what = "reading" if key == "finding" else key
            yield "workings", working.id, (*at, key), Unknown(what, id, units)
        elif id is not None and (units[id] or "") != part.unit:
            says = f"{id!r} is in {units[id]!r}, this is in {part.unit!r}."
            yield "workings", working.id, (*at, key), says


def _condition_on_finding(
    knowledge: Knowledge, condition: Condition, id: str
) -> Iterator[tuple[str, str | Unknown]]:
    finding = knowledge.findings.get(id)
    if finding is None:
        yield "finding", Unknown("finding", id, knowledge.findings)
    elif finding.kind == "reading":
        yield "finding", f"{id!r} is a reading; write 'reading:' and a limit."
    elif condition.value == []:
        yield "value", "the list is empty; one value at least belongs here."
    else:
        for value in sorted(condition.wanted()):
            if value not in finding.values():
                yield "value", Unknown("value", value, finding.values())


def _limits(condition: Condition, reading: Finding) -> Iterator[tuple[str, str]]:
    """The limits are within what the reading can be, the lower one first."""
    if condition.between is not None and condition.between[0] >= condition.between[1]:
        yield "between", "the first number has to be below the second."
    low, high = reading.lowest, reading.highest
    if low is None or high is None or low >= high:
        return
    for key in ("below", "above", "between"):
        limit = getattr(condition, key)
        for number in limit if isinstance(limit, tuple) else (limit,):
            if number is not None and not low <= number <= high:
                yield (
                    key,
                    f"{number:g} is out of range; {reading.id!r} lies between "
                    f"{low:g} and {high:g} {reading.unit}.",
                )


def _brings_about(knowledge: Knowledge, rule: Rule, part: str, then: Then) -> Found:
    if not any(getattr(then, field) for field in then.__struct_fields__):
        listed = ", ".join(then.__struct_fields__)
        says: str | Unknown = f"nothing is brought about; write any of {listed}."
        yield "rules", rule.id, (part,), says
    for i, conclusion in enumerate(then.conclude):
        finding = knowledge.findings.get(conclusion.finding)
        at: tuple[Step, ...] = (part, "conclude", i)
        if finding is None:
            says = Unknown("finding", conclusion.finding, knowledge.findings)
            yield "rules", rule.id, (*at, "finding"), says
        elif finding.kind == "reading":
            says = f"{finding.id!r} is a reading; a rule can't conclude it."
            yield "rules", rule.id, (*at, "finding"), says
        elif conclusion.value not in finding.values():
            says = Unknown("value", conclusion.value, finding.values())
            yield "rules", rule.id, (*at, "value"), says
    for i, cause in enumerate(then.rule_out):
        if cause not in knowledge.causes:
            says = Unknown("cause", cause, knowledge.causes)
            yield "rules", rule.id, (part, "rule_out", i), says
    for i, weigh in enumerate(then.weigh):
        for j, cause in enumerate(weigh.causes):
            if cause not in knowledge.causes:
                says = Unknown("cause", cause, knowledge.causes)
                yield "rules", rule.id, (part, "weigh", i, "causes", j), says
        if weigh.how_much not in knowledge.scales.weights:
            words = knowledge.scales.weights
            says = Unknown("word for how much", weigh.how_much, words)
            yield "rules", rule.id, (part, "weigh", i, "how_much"), says
    for i, caution in enumerate(then.cautions):
        if caution not in knowledge.cautions:
            says = Unknown("caution", caution, knowledge.cautions)
            yield "rules", rule.id, (part, "cautions", i), says


def _scales(knowledge: Knowledge) -> Found:
    """The scales name known sources, and roles that findings have."""
    scales = knowledge.scales
    for i, source in enumerate(scales.sources):
        if source.partition("/")[0] not in {*NO_SOURCE, *knowledge.sources}:
            titles = [*NO_SOURCE, *knowledge.sources]
            yield "scales", "scales", ("sources", i), Unknown("source", source, titles)
    if scales.check_finds not in scales.strengths:
        says = Unknown("word for how sure", scales.check_finds, scales.strengths)
        yield "scales", "scales", ("check_finds",), says
    if scales.check_misfinds not in scales.seen_anyway:
        what = "word for how often it is seen"
        says = Unknown(what, scales.check_misfinds, scales.seen_anyway)
        yield "scales", "scales", ("check_misfinds",), says
    for role in scales.not_covered_shows:
        if role not in get_args(Role):
            at: tuple[Step, ...] = ("not_covered_shows", role)
            yield "scales", "scales", at, Unknown("role", role, get_args(Role))


def _not_apart(knowledge: Knowledge) -> Found:
    """Pairs listed as not to be told apart are two causes that exist."""
    for pair in knowledge.not_apart.values():
        for i, cause in enumerate(pair.causes):
            if cause not in knowledge.causes:
                says = Unknown("cause", cause, knowledge.causes)
                yield "not_apart", pair.id, ("causes", i), says


_REFERENCES: dict[str, Callable[[Knowledge], Found]] = {
    "source": _sources,
    "link": _links,
    "ring": _cycles,
    "word": _words,
    "look-alike": _looks_like,
    "finding": _findings,
    "rule": _rules,
    "pair": _not_apart,
    "window": _windows,
    "working": _workings,
    "table": _tables,
    "picture": _pictures,
    "guide": _guide,
    "loosely": _loosely,
    "scale": _scales,
}
