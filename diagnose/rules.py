"""Knowledge → one forward-chaining engine, and what it concludes from answers.

Links and rules become ground productions over these kinds of fact:

    finding(finding, value, by)     an answer, or what a rule concluded from answers
    reading(reading, test, holds)   a reading was taken and meets a test, or doesn't
    suspected(state, by)            a state that could have made a finding or a state
    candidate(cause, by)            a cause that could have made a state or a finding
    ruled_out(cause, by)            a cause that a rule excludes
    weighed(cause, how_much, by)    a cause made more or less likely
    caution(caution, by)            a danger to show
    contradiction(by), tell(by)     a rule's sentence to show

`by` is the id of the link or the rule that made the fact ('answer' for an answer),
so the way from an answer to a cause can be read back.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field

from diagnose.chaining import Chainer, Fact, Pattern, Production, fact, pattern
from diagnose.records import Cause, Condition, Knowledge, Rule, State, Then

KINDS: dict[str, frozenset[str]] = {
    "finding": frozenset({"finding", "value", "by"}),
    "reading": frozenset({"reading", "test", "holds"}),
    "suspected": frozenset({"state", "by"}),
    "candidate": frozenset({"cause", "by"}),
    "ruled_out": frozenset({"cause", "by"}),
    "weighed": frozenset({"cause", "how_much", "by"}),
    "caution": frozenset({"caution", "by"}),
    "contradiction": frozenset({"by"}),
    "tell": frozenset({"by"}),
}

ANSWER = "answer"
"""What stands in `by` for a finding that the person gave."""

SOMEWHAT = "somewhat"
"""A soft yes: raises suspicion, but meets no rule's condition."""


@dataclass(frozen=True, slots=True)
class Link:
    """One arrow of the knowledge: owner (cause or state) → state or finding value."""

    id: str
    owner: str
    target: str
    value: str | None
    strength: str
    because: str
    sources: tuple[str, ...]


def links_of(record: Cause | State) -> Iterator[Link]:
    """The links that start at a cause or a state."""
    for makes in record.makes:
        yield Link(
            f"{record.id}>{makes.state}",
            record.id,
            makes.state,
            None,
            makes.strength,
            makes.because,
            tuple(makes.sources),
        )
    for shows in record.shows:
        yield Link(
            f"{record.id}>{shows.finding}={shows.value}",
            record.id,
            shows.finding,
            shows.value,
            shows.strength,
            shows.because,
            tuple(shows.sources),
        )


def all_links(knowledge: Knowledge) -> dict[str, Link]:
    """Every link by its id."""
    owners: list[Cause | State] = [
        *knowledge.causes.values(),
        *knowledge.states.values(),
    ]
    return {link.id: link for owner in owners for link in links_of(owner)}


@dataclass(frozen=True, slots=True)
class Concluded:
    """A value that rules concluded for a finding, and the rules that did."""

    value: str
    by: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Table:
    """What is on the table after chaining; each entry names what made it."""

    concluded: Mapping[str, tuple[Concluded, ...]]
    suspected: Mapping[str, tuple[str, ...]]
    candidates: Mapping[str, tuple[str, ...]]
    ruled_out: Mapping[str, tuple[str, ...]]
    weighed: Mapping[str, tuple[tuple[str, str], ...]]
    cautions: Mapping[str, tuple[str, ...]]
    contradictions: tuple[str, ...]
    tells: tuple[str, ...]
    fired: frozenset[str] = field(default_factory=frozenset)


class RuleBase:
    """The knowledge's links and rules, compiled once."""

    def __init__(self, knowledge: Knowledge) -> None:
        self.knowledge = knowledge
        self.links = all_links(knowledge)
        self.productions = tuple(productions(knowledge))
        self._chainer = Chainer(KINDS, self.productions)

    def chain(self, given: Iterable[Fact]) -> Table:
        """Everything that follows from the given facts; order does not matter."""
        result = self._chainer.run(given)
        return read_table(result.facts, result.fired)


def read_table(facts: Iterable[Fact], fired: frozenset[str]) -> Table:
    """Sort derived facts into a table, each list in a fixed order."""
    made: dict[str, dict[str, set[str]]] = {
        kind: defaultdict(set)
        for kind in ("suspected", "candidate", "ruled_out", "caution")
    }
    concluded: dict[str, dict[str, set[str]]] = defaultdict(lambda: defaultdict(set))
    weighed: dict[str, set[tuple[str, str]]] = defaultdict(set)
    said: dict[str, set[str]] = {"contradiction": set(), "tell": set()}
    keys = {
        "suspected": "state",
        "candidate": "cause",
        "ruled_out": "cause",
        "caution": "caution",
    }
    for one in facts:
        values = dict(one.fields)
        if one.kind in keys:
            made[one.kind][values[keys[one.kind]]].add(values["by"])
        elif one.kind == "weighed":
            weighed[values["cause"]].add((values["by"], values["how_much"]))
        elif one.kind in said:
            said[one.kind].add(values["by"])
        elif one.kind == "finding" and values["by"] != ANSWER:
            concluded[values["finding"]][values["value"]].add(values["by"])

    def ordered(found: Mapping[str, set[str]]) -> dict[str, tuple[str, ...]]:
        return {key: tuple(sorted(found[key])) for key in sorted(found)}

    return Table(
        concluded={
            finding: tuple(
                Concluded(value, tuple(sorted(by)))
                for value, by in sorted(concluded[finding].items())
            )
            for finding in sorted(concluded)
        },
        suspected=ordered(made["suspected"]),
        candidates=ordered(made["candidate"]),
        ruled_out=ordered(made["ruled_out"]),
        weighed={cause: tuple(sorted(weighed[cause])) for cause in sorted(weighed)},
        cautions=ordered(made["caution"]),
        contradictions=tuple(sorted(said["contradiction"])),
        tells=tuple(sorted(said["tell"])),
        fired=fired,
    )


def finding_fact(finding: str, value: str) -> Fact:
    """An answer as a fact."""
    return fact("finding", finding=finding, value=value, by=ANSWER)


def reading_fact(reading: str, test: str, holds: bool) -> Fact:
    """A reading against one test as a fact."""
    return fact("reading", reading=reading, test=test, holds="yes" if holds else "no")


def productions(knowledge: Knowledge) -> Iterator[Production]:
    """Every link and every rule as ground productions."""
    for kind in ("causes", "states"):
        for record in getattr(knowledge, kind).values():
            for link in links_of(record):
                place = str(knowledge.place(kind, record.id))
                yield _link_production(link, kind, place)
    for rule in knowledge.rules.values():
        yield from _rule_productions(rule, str(knowledge.place("rules", rule.id)))


def _link_production(link: Link, kind: str, where: str) -> Production:
    if link.value is None:
        seen = pattern("suspected", state=link.target)
    else:
        present = frozenset(
            {link.value, SOMEWHAT} if link.value == "yes" else {link.value}
        )
        seen = pattern("finding", finding=link.target, value=present)
    if kind == "causes":
        raised = fact("candidate", cause=link.owner, by=link.id)
    else:
        raised = fact("suspected", state=link.owner, by=link.id)
    return Production(link.id, where, (seen,), (), (raised,))


def _rule_productions(rule: Rule, where: str) -> Iterator[Production]:
    """One production, or one for each of the 'any' conditions."""
    all_of = tuple(_pattern(condition) for condition in rule.when.all)
    unless = tuple(_pattern(condition) for condition in rule.when.none)
    then = tuple(_facts(rule.id, rule.then))
    if rule.when.any:
        for number, condition in enumerate(rule.when.any):
            when = (*all_of, _pattern(condition))
            yield Production(f"{rule.id}#{number}", where, when, unless, then)
    else:
        yield Production(rule.id, where, all_of, unless, then)
    if rule.otherwise is not None:
        condition = rule.when.all[0]
        when = (_pattern(condition, holds="no"),)
        facts = tuple(_facts(rule.id, rule.otherwise))
        yield Production(f"{rule.id}#otherwise", where, when, (), facts)


def _pattern(condition: Condition, holds: str = "yes") -> Pattern:
    if condition.finding is not None:
        return pattern("finding", finding=condition.finding, value=condition.wanted())
    if condition.state is not None:
        return pattern("suspected", state=condition.state)
    assert condition.reading is not None
    test = condition.test()
    return pattern("reading", reading=condition.reading, test=test, holds=holds)


def _facts(rule: str, then: Then) -> Iterator[Fact]:
    for part in then.conclude:
        yield fact("finding", finding=part.finding, value=part.value, by=rule)
    for cause in then.rule_out:
        yield fact("ruled_out", cause=cause, by=rule)
    for weigh in then.weigh:
        for cause in weigh.causes:
            yield fact("weighed", cause=cause, how_much=weigh.how_much, by=rule)
    for caution in then.cautions:
        yield fact("caution", caution=caution, by=rule)
    if then.contradiction:
        yield fact("contradiction", by=rule)
    if then.tell:
        yield fact("tell", by=rule)
