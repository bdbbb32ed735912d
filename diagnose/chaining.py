"""Forward chaining: from given facts to everything the productions conclude.

This is the only module that imports experta. experta matches the facts, joins the
conditions, keeps the agenda and fires. This module checks what it is given, puts
experta's nodes together so that they are quick, and keeps its faults out: values are
strings, every condition is one pattern, and actions only add facts.

A result does not depend on order, since facts are never taken back and no production
derives what an `unless` looks for.
"""

from __future__ import annotations

import bisect
import collections
import logging
from collections import defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from functools import cache
from typing import Any, NamedTuple

from diagnose.errors import nearest


@contextmanager
def _mended() -> Iterator[None]:
    """Let experta be imported, and leave no trace of what that took.

    The frozendict that experta needs asks for `collections.Mapping`, which Python 3.10
    dropped. experta also gives the root logger a handler where it has none.
    """
    missing = not hasattr(collections, "Mapping")
    handler = logging.NullHandler()
    logging.root.addHandler(handler)
    try:
        if missing:
            collections.Mapping = Mapping  # type: ignore[attr-defined]
        yield
    finally:
        if missing:
            del collections.Mapping  # type: ignore[attr-defined]
        logging.root.removeHandler(handler)


with _mended():
    import experta  # type: ignore[import-untyped]
    from experta.abstract import Strategy  # type: ignore[import-untyped]
    from experta.matchers import ReteMatcher  # type: ignore[import-untyped]
    from experta.matchers.rete import abstract, check, mixins, nodes  # type: ignore[import-untyped]
    from experta.matchers.rete.token import Token  # type: ignore[import-untyped]

# Else experta tells of its every step where a program logs everything.
logging.getLogger("experta").setLevel(logging.WARNING)


class Fact(NamedTuple):
    """A fact without variables; its fields stand in order of their names."""

    kind: str
    fields: tuple[tuple[str, str], ...]


class Pattern(NamedTuple):
    """Matches a fact of this kind if each field named is the value, or one of them."""

    kind: str
    fields: tuple[tuple[str, str | frozenset[str]], ...]


def fact(kind: str, /, **fields: str) -> Fact:
    """Write down a fact."""
    return Fact(kind, tuple(sorted(fields.items())))


def pattern(kind: str, /, **fields: str | frozenset[str]) -> Pattern:
    """Write down a pattern; a field that is not named may have any value."""
    return Pattern(kind, tuple(sorted(fields.items(), key=lambda item: item[0])))


@dataclass(frozen=True, slots=True)
class Production:
    """One when/then rule, without variables.

    Attributes:
        id: Its name, which no other production has.
        where: The file and line of the record it comes from, for messages.
        when: Every one of these must be matched.
        unless: None of these may be matched.
        then: The facts that are added when it fires.
    """

    id: str
    where: str
    when: tuple[Pattern, ...]
    unless: tuple[Pattern, ...]
    then: tuple[Fact, ...]

    def __str__(self) -> str:
        return f"{self.where}: production {self.id!r}"


@dataclass(frozen=True, slots=True)
class Conclusions:
    """What a run came to.

    Attributes:
        facts: All facts, those given and those derived.
        fired: The ids of the productions that fired.
    """

    facts: frozenset[Fact]
    fired: frozenset[str]


class ChainingError(Exception):
    """A production or a given fact that can't be used: which one, and why."""


class Chainer:
    """Draws conclusions with a fixed set of productions.

    It is compiled once and may run any number of times, in one thread at a time.
    """

    def __init__(
        self, kinds: Mapping[str, frozenset[str]], productions: Iterable[Production]
    ) -> None:
        """Check the productions and compile them.

        Args:
            kinds: The field names of each kind of fact. A fact has all of them, a
                pattern some.
            productions: The productions, in any order.

        Raises:
            ChainingError: If a production can't be used, or would make the result
                depend on order.
        """
        self._kinds = {kind: tuple(sorted(names)) for kind, names in kinds.items()}
        known: dict[str, Production] = {}
        for production in productions:
            if production.id in known:
                other = known[production.id].where
                raise ChainingError(f"{production}: {other} has the same id")
            known[production.id] = production
            self._check(production)
        _refuse_derived_unless(known.values())
        self._engine = _Engine([self._rule(p) for p in known.values()])

    def run(self, facts: Iterable[Fact]) -> Conclusions:
        """Draw every conclusion from the facts.

        Args:
            facts: The facts given, in any order; it does no harm to repeat one.

        Returns:
            The same for the same facts, whatever was run before.

        Raises:
            ChainingError: If a fact is not of a known kind with all its fields, or if
                a production fires twice.
        """
        given = list(facts)
        for item in given:
            self._check_fact(item, "given fact")
        engine = self._engine
        engine.fired = set()
        engine.reset()
        engine.declare(*map(_engine_fact, given))
        engine.run()
        return Conclusions(
            frozenset(f.ground for f in engine.facts.values() if hasattr(f, "ground")),
            frozenset(engine.fired),
        )

    def _check(self, production: Production) -> None:
        for item in (*production.when, *production.unless):
            if not isinstance(item, Pattern):
                raise ChainingError(f"{production}: {item!r} is not a single pattern")
            self._check_names(item, str(production))
            for name, value in item.fields:
                values = value if isinstance(value, frozenset) and value else [value]
                if not all(isinstance(v, str) for v in values):
                    raise ChainingError(
                        f"{production}: field {name!r} of {item.kind!r} is compared "
                        f"with {value!r}, which is not a str or a frozenset of str"
                    )
        for added in production.then:
            self._check_fact(added, str(production))

    def _check_fact(self, item: Fact, whose: str) -> None:
        if not isinstance(item, Fact):
            raise ChainingError(f"{whose}: {item!r} is not a fact")
        self._check_names(item, whose)
        names = tuple(name for name, _ in item.fields)
        if names != self._kinds[item.kind]:
            raise ChainingError(
                f"{whose}: a fact of kind {item.kind!r} has the fields "
                f"{self._kinds[item.kind]} in this order, not {names}"
            )
        for name, value in item.fields:
            if not isinstance(value, str):
                raise ChainingError(
                    f"{whose}: field {name!r} of {item.kind!r} is {value!r}, not a str"
                )

    def _check_names(self, item: Fact | Pattern, whose: str) -> None:
        names = self._kinds.get(item.kind)
        if names is None:
            near = nearest(item.kind, self._kinds)
            raise ChainingError(f"{whose}: no kind of fact is {item.kind!r}{near}")
        for name, _ in item.fields:
            if name not in names:
                raise ChainingError(
                    f"{whose}: facts of kind {item.kind!r} have no field "
                    f"{name!r}{nearest(name, names)}"
                )
        if len(dict(item.fields)) < len(item.fields):
            raise ChainingError(f"{whose}: {item!r} has a field twice")

    def _rule(self, production: Production) -> Any:
        """The experta rule of a production, with an action of its own.

        experta takes two rules with the same conditions and action for one.
        """

        def fire(engine: _Engine) -> None:
            if production.id in engine.fired:
                raise ChainingError(f"{production}: it has fired before in this run")
            engine.fired.add(production.id)
            engine.declare(*map(_engine_fact, production.then))

        fire.__name__ = production.id
        parts = [self._condition(item) for item in production.when]
        parts = parts or [experta.InitialFact()]
        parts += [experta.NOT(self._condition(item)) for item in production.unless]
        return experta.Rule(*parts)(fire)

    def _condition(self, item: Pattern) -> Any:
        names = self._kinds[item.kind]
        condition = _engine_type(item.kind).from_iter(
            (names.index(name), value if isinstance(value, str) else _among(value))
            for name, value in item.fields
        )
        # One name for all: else experta's cache has a new one for each pattern.
        condition.__bind__ = "fact"
        return condition


def _refuse_derived_unless(productions: Iterable[Production]) -> None:
    derived = defaultdict(list)
    for production in productions:
        for added in production.then:
            derived[added.kind].append((added, production))
    for production in productions:
        for item in production.unless:
            for added, source in derived[item.kind]:
                if _matches(item, added):
                    raise ChainingError(
                        f"{production}: its unless {item.kind!r} would look for what "
                        f"is derived by {source}"
                    )


def _matches(item: Pattern, known: Fact) -> bool:
    values = dict(known.fields)
    return all(
        values[name] in ({wanted} if isinstance(wanted, str) else wanted)
        for name, wanted in item.fields
    )


@cache
def _engine_type(kind: str) -> Any:
    """The class of experta fact that stands for a kind.

    There is one for good, as experta keeps every class it has seen.
    """
    return type(ascii(kind), (experta.Fact,), {})


@cache
def _among(values: frozenset[str]) -> Any:
    """One test for all alternatives, where experta would make a rule of each."""
    return experta.P(values.__contains__)


def _engine_fact(item: Fact) -> Any:
    """The experta fact for a fact; its fields are numbered, as experta minds names."""
    known = _engine_type(item.kind)(*(value for _, value in item.fields))
    known.ground = item
    return known


class _Switch(mixins.AnyChild, mixins.NoMemory, abstract.Node):  # type: ignore[misc]
    """Passes a fact only to those children whose test it may pass.

    experta asks one child after the other. Here the children that test for a type or
    for one value are looked up.
    """

    def __init__(self, children: Sequence[Any]) -> None:
        super().__init__()
        self.table: defaultdict[Any, list[Callable[[Any], None]]] = defaultdict(list)
        for node, callback in children:
            test, key = node.matcher, None
            if isinstance(test, check.TypeCheck):
                key = test.fact_type
            elif isinstance(test, check.FeatureCheck) and isinstance(
                test.how, experta.L
            ):
                key = (test.what, test.how.value)
            self.table[key].append(callback)

    def activate(self, token: Any) -> None:
        (known,) = token.data
        for key in (None, type(known), *known.items()):
            for callback in self.table.get(key, ()):
                callback(token)


class _First(mixins.AnyChild, abstract.Node):  # type: ignore[misc]
    """Passes on the first fact that matches a pattern, and no other.

    As facts are never taken back, that is enough; and so a production comes up for
    firing once, not once for every combination of facts.
    """

    def _reset(self) -> None:
        self.waiting = True

    def activate(self, token: Any) -> None:
        if self.waiting:
            self.waiting = False
            bare = Token.valid(token.data)
            for child in self.children:
                child.callback(bare)


class _Matcher(ReteMatcher):  # type: ignore[misc]
    """experta's network, which reports changes without asking every rule for them."""

    def build_network(self) -> None:
        """Let experta build the tests of single facts; then join them, rule by rule."""
        self.memories: list[Any] = []
        self.added: set[Any] = set()
        self.removed: set[Any] = set()
        same = check.SameContextCheck()
        rules = self.engine.get_rules()
        ends = self.build_alpha_part(set(rules), self.root_node)
        _add_switches(self.root_node)
        gates = {part: self._append(_First(), end) for part, end in ends.items()}
        for rule in rules:
            last = gates[rule[0]]
            for part in rule[1:]:
                if isinstance(part, experta.NOT):
                    join, right = nodes.NotNode(same), gates[part[0]]
                else:
                    join, right = nodes.OrdinaryMatchNode(same), gates[part]
                last.add_child(join, join.activate_left)
                right.add_child(join, join.activate_right)
                self.memories.append(join)
                last = join
            end = self._append(nodes.ConflictSetNode(rule), last)
            end.added, end.removed = self.added, self.removed

    def _append(self, node: Any, parent: Any) -> Any:
        parent.add_child(node, node.activate)
        self.memories.append(node)
        return node

    def changes(self, adding: Iterable[Any], _: Iterable[Any]) -> Any:
        """Take in new facts; return the activations that came and those that went."""
        for known in adding:
            self.root_node.add(known)
        came, went = list(self.added), list(self.removed)
        self.added.clear()
        self.removed.clear()
        return came, went

    def reset(self) -> None:
        """Forget all facts, each node once."""
        self.added.clear()
        self.removed.clear()
        for node in self.memories:
            node._reset()


def _add_switches(node: Any) -> None:
    for child in node.children:
        _add_switches(child.node)
    if len(node.children) > 1:
        switch = _Switch(node.children)
        node.children = [mixins.ChildNode(switch, switch.activate)]


class _ById(Strategy):  # type: ignore[misc]
    """Fires in order of the ids, the last one first, and removes exactly."""

    def _update_agenda(
        self, agenda: Any, added: Sequence[Any], removed: Sequence[Any]
    ) -> None:
        for activation in (*added, *removed):
            activation.key = activation.rule.__name__
        if removed:
            gone = set(removed)
            agenda.activations = [a for a in agenda.activations if a not in gone]
        for activation in added:
            bisect.insort(agenda.activations, activation)


class _Engine(experta.KnowledgeEngine):  # type: ignore[misc]
    """experta's engine, with its rules in a list and not among its attributes."""

    __matcher__ = _Matcher
    __strategy__ = _ById

    def __init__(self, rules: Sequence[Any]) -> None:
        self.rules = rules
        self.fired: set[str] = set()
        super().__init__()

    def get_rules(self) -> Sequence[Any]:
        """The rules, without a search."""
        return self.rules
