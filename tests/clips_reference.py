"""The same productions run by CLIPS, an independent rule engine, to compare with.

Every string - a kind, a field, a value, a production's id - becomes a numbered
symbol, so no string needs escaping and any character will do.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping

import clips  # type: ignore[import-untyped]

from diagnose.chaining import Fact, Pattern, Production


class ClipsReference:
    """A CLIPS environment with some productions, built once for many sets of facts."""

    def __init__(
        self, kinds: Mapping[str, frozenset[str]], productions: Iterable[Production]
    ) -> None:
        self._kinds = {kind: f"k{number}" for number, kind in enumerate(kinds)}
        self._fields = {kind: sorted(names) for kind, names in kinds.items()}
        self._kind_of = {name: kind for kind, name in self._kinds.items()}
        self._symbols: dict[str, str] = {}
        self._values: dict[str, str] = {}
        self._environment = clips.Environment()
        for kind, name in self._kinds.items():
            slots = " ".join(f"(slot f{n})" for n in range(len(self._fields[kind])))
            self._environment.build(f"(deftemplate {name} {slots})")
        for number, production in enumerate(productions):
            self._environment.build(self._rule(f"p{number}", production))

    def conclusions(self, facts: Iterable[Fact]) -> frozenset[Fact]:
        """All facts, given and derived, that CLIPS ends with."""
        self._environment.reset()
        for item in facts:
            self._environment.assert_string(self._text(item))
        self._environment.run()
        return frozenset(self._fact(found) for found in self._environment.facts())

    def _rule(self, name: str, production: Production) -> str:
        # (exists ...), as else a rule is put on the agenda once for every combination.
        when = [f"(exists {self._text(item)})" for item in production.when]
        unless = [f"(not {self._text(item)})" for item in production.unless]
        then = [f"(assert {self._text(item)})" for item in production.then]
        return " ".join([f"(defrule {name}", *when, *unless, "=>", *then, ")"])

    def _text(self, item: Fact | Pattern) -> str:
        slots = (
            f"(f{self._fields[item.kind].index(name)} {self._alternatives(value)})"
            for name, value in item.fields
        )
        return f"({self._kinds[item.kind]} {' '.join(slots)})"

    def _alternatives(self, value: str | frozenset[str]) -> str:
        values = [value] if isinstance(value, str) else sorted(value)
        return "|".join(self._symbol(v) for v in values)

    def _symbol(self, value: str) -> str:
        symbol = self._symbols.setdefault(value, f"v{len(self._symbols)}")
        self._values[symbol] = value
        return symbol

    def _fact(self, found: clips.TemplateFact) -> Fact:
        kind = self._kind_of[found.template.name]
        values = dict(found)
        return Fact(
            kind,
            tuple(
                (name, self._values[values[f"f{number}"]])
                for number, name in enumerate(self._fields[kind])
            ),
        )


def clips_conclusions(
    kinds: Mapping[str, frozenset[str]],
    productions: Iterable[Production],
    facts: Iterable[Fact],
) -> frozenset[Fact]:
    """All facts, given and derived, that CLIPS draws from the facts."""
    return ClipsReference(kinds, productions).conclusions(facts)
