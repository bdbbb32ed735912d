"""Forward chaining. Where experta has a fault, a test shows that first."""

from __future__ import annotations

import gc
import logging
import os
import random
import re
import subprocess
import sys
import time
import weakref
from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

import pytest
from clips_reference import ClipsReference, clips_conclusions
from hypothesis import given, settings
from hypothesis import strategies as st

from diagnose import chaining
from diagnose.chaining import (
    Chainer,
    ChainingError,
    Conclusions,
    Fact,
    Pattern,
    Production,
    fact,
    pattern,
)

ROOT = Path(__file__).parent.parent
KINDS = {
    "answer": frozenset({"question", "value"}),
    "state": frozenset({"id", "by"}),
    "note": frozenset({"text"}),
    "bare": frozenset[str](),
}
experta: Any = sys.modules["experta"]  # which chaining has imported
MEND = "import collections, collections.abc as a; collections.Mapping = a.Mapping"


def production(
    name: str,
    when: Iterable[Any] = (),
    then: Iterable[Any] = (),
    unless: Iterable[Any] = (),
) -> Production:
    """A production, with a place made up from its name."""
    where = f"rules.yaml:{len(name)}"
    return Production(name, where, tuple(when), tuple(unless), tuple(then))


def answer(value: str, question: str = "q") -> Fact:
    """A given fact."""
    return fact("answer", question=question, value=value)


def note(text: str) -> Fact:
    """A derived fact."""
    return fact("note", text=text)


def run(productions: Iterable[Production], *facts: Fact) -> Conclusions:
    """Compile and run."""
    return Chainer(KINDS, productions).run(facts)


def plain_engine(*rules: Any) -> Any:
    """An engine of experta's own with these rules, after its reset."""
    names = {f"rule_{number}": rule for number, rule in enumerate(rules)}
    engine = type("Plain", (experta.KnowledgeEngine,), names)()
    engine.reset()
    return engine


def plain_rule(log: list[Any], name: Any, *conditions: Any) -> Any:
    """A rule of experta's own that writes its name into the log."""
    return experta.Rule(*conditions)(lambda engine: log.append(name))


def python(code: str, **environment: str) -> str:
    """Run code in a new Python; return what it prints."""
    done = subprocess.run(
        [sys.executable, "-c", code],
        cwd=ROOT,
        env={**os.environ, "PYTHONPATH": str(ROOT), **environment},
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return done.stdout.strip()


# --- importing ---------------------------------------------------------------------


def test_experta_alone_does_not_import() -> None:
    """The fault: on Python 3.10 and later experta's frozendict does not import."""
    code = "try: import experta\nexcept AttributeError as error: print(error)"
    assert python(code) == "module 'collections' has no attribute 'Mapping'"


def test_experta_alone_sets_a_root_handler() -> None:
    """The fault: importing experta sets a handler on the root logger."""
    code = f"{MEND}; import experta, logging; print(len(logging.root.handlers))"
    assert python(code) == "1"


WATCHED = """
import collections, collections.abc, logging
logging.root.setLevel(17)
before = set(vars(collections))
{code}
assert set(vars(collections)) == before, set(vars(collections)) - before
assert logging.root.handlers == [], logging.root.handlers
assert logging.root.level == 17
"""


@pytest.mark.parametrize(
    "code",
    [
        pytest.param("import diagnose.chaining", id="first"),
        pytest.param(
            "try: import experta\n"
            "except AttributeError: logging.root.handlers.clear()\n"
            "import diagnose.chaining\n",
            id="after experta failed",
        ),
        pytest.param(
            f"{MEND}; import frozendict; del collections.Mapping\n"
            "import diagnose.chaining\n",
            id="after frozendict",
        ),
        pytest.param(
            f"{MEND}; import experta; del collections.Mapping\n"
            "logging.root.handlers.clear()\n"
            "import diagnose.chaining as c\n"
            "assert c.experta is experta\n",
            id="after experta",
        ),
        pytest.param(
            "import sys; sys.modules['schema'] = None\n"
            "try: import diagnose.chaining\n"
            "except ImportError as error: pass\n"
            "else: raise AssertionError\n",
            id="it raises",
        ),
    ],
)
def test_import_leaves_no_trace(code: str) -> None:
    """`collections` and the root logger are as before, also where the import fails."""
    python(WATCHED.format(code=code))


def test_import_keeps_what_others_set() -> None:
    """Another's `collections.Mapping` and root handlers stay."""
    python(
        f"{MEND}; import logging; logging.basicConfig()\n"
        "kept = logging.root.handlers[:]\n"
        "import diagnose.chaining\n"
        "assert collections.Mapping is a.Mapping\n"
        "assert logging.root.handlers == kept\n"
    )


def test_only_chaining_imports_experta() -> None:
    """No other module of the package imports experta."""
    found = {
        path.name
        for path in (ROOT / "diagnose").rglob("*.py")
        if re.search(r"^\s*(import|from) experta\b", path.read_text("utf-8"), re.M)
    }
    assert found == {"chaining.py"}


def test_no_log_of_every_step(caplog: pytest.LogCaptureFixture) -> None:
    """A program that logs everything does not get experta's every step."""
    caplog.set_level(logging.DEBUG)
    log: list[Any] = []
    with caplog.at_level(logging.DEBUG, "experta"):
        engine = plain_engine(plain_rule(log, "r", experta.Fact("go")))
        engine.declare(experta.Fact("go"))
        assert caplog.records
    caplog.clear()
    run([production("r", [pattern("answer")], [note("x")])], answer("yes"))
    assert not caplog.records


# --- what a run comes to -----------------------------------------------------------


def test_chains() -> None:
    """Facts that are derived are matched in their turn; all facts are returned."""
    rules = [
        production("c", [pattern("note", text="b")], [note("c"), note("d")]),
        production("b", [pattern("state", id="a")], [note("b")]),
        production(
            "a", [pattern("answer", value="yes")], [fact("state", id="a", by="a")]
        ),
        production("no", [pattern("answer", value="no")], [note("no")]),
    ]
    assert run(rules, answer("yes")) == Conclusions(
        frozenset(
            {
                answer("yes"),
                fact("state", id="a", by="a"),
                note("b"),
                note("c"),
                note("d"),
            }
        ),
        frozenset("abc"),
    )


@pytest.mark.parametrize(
    ("when", "unless", "fires"),
    [
        ((), (), True),
        ((), (pattern("answer", value="no"),), True),
        ((), (pattern("answer", value="yes"),), False),
        ((pattern("answer"),), (), True),
        ((pattern("bare"),), (), True),
        ((), (pattern("bare"),), False),
        ((pattern("answer"), pattern("note")), (), False),
        ((pattern("answer"), pattern("answer")), (), True),
        ((pattern("answer"),), (pattern("answer"),), False),
        ((pattern("answer", value=frozenset({"yes"})),), (), True),
        ((pattern("answer", value=frozenset({"yes", "no"})),), (), True),
        ((pattern("answer", value=frozenset({"no", "some"})),), (), False),
        ((), (pattern("answer", value=frozenset({"yes", "no"})),), False),
    ],
)
def test_when_and_unless(
    when: tuple[Pattern, ...], unless: tuple[Pattern, ...], fires: bool
) -> None:
    """All of `when`, none of `unless`; either may be empty; CLIPS agrees."""
    rules = [production("r", when, [fact("state", id="s", by="r")], unless)]
    facts = [answer("yes"), fact("bare")]
    result = run(rules, *facts)
    assert (result.fired == {"r"}) is fires
    assert result.facts == clips_conclusions(KINDS, rules, facts)


def test_runs_do_not_touch_each_other() -> None:
    """A run knows nothing of the facts of the run before, nor of one that failed."""
    chainer = Chainer(
        KINDS,
        [production("r", [pattern("answer", value="yes")], [note("x")])],
    )
    first = chainer.run([answer("yes")])
    assert chainer.run([]) == Conclusions(frozenset(), frozenset())
    with pytest.raises(ChainingError):
        chainer.run([answer("yes"), fact("answer", value="yes")])
    assert chainer.run([answer("no")]).fired == frozenset()
    assert chainer.run([answer("yes")]) == first


def test_run_broken_off(monkeypatch: pytest.MonkeyPatch) -> None:
    """A run that is broken off halfway leaves nothing to the next."""
    chainer = Chainer(KINDS, [production("r", [pattern("answer")], [note("x")])])
    root = chainer._engine.matcher.root_node
    add = root.add

    def break_off(known: Any) -> None:
        add(known)
        if getattr(known, "ground", None) == answer("yes"):
            raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(root, "add", break_off)
        with pytest.raises(KeyboardInterrupt):
            chainer.run([answer("yes")])
    assert chainer.run([]) == Conclusions(frozenset(), frozenset())


# --- experta's faults --------------------------------------------------------------


def test_activation_that_went_does_not_fire() -> None:
    """No production fires after its `unless` is matched (experta misses removals)."""
    names = [f"r{number:02}" for number in range(20)]
    stopped = names[5:15]
    log: list[Any] = []
    engine = plain_engine(
        *(
            plain_rule(log, n, experta.InitialFact(), experta.NOT(experta.Fact(n)))
            for n in names
        )
    )
    engine.declare(*map(experta.Fact, stopped))
    engine.run()
    assert set(log) & set(stopped)

    rules = [production(n, (), [note(n)], [pattern("answer", value=n)]) for n in names]
    result = run(rules, *map(answer, stopped))
    assert result.fired == set(names) - set(stopped)


FIRING_ORDER = """
import logging, random
from diagnose.chaining import Chainer, Production, experta, fact, pattern
logging.disable(logging.NOTSET)
log = []
{code}
print(*log)
"""
PLAIN_ORDER = """
def rule(name):
    return experta.Rule(experta.Fact("go"))(lambda engine: log.append(name))
rules = {f"rule_{n}": rule(n) for n in range(20)}
engine = type("Plain", (experta.KnowledgeEngine,), rules)()
engine.reset()
engine.declare(experta.Fact("go"))
engine.run()
"""
CHAINER_ORDER = """
class Handler(logging.Handler):
    def emit(self, record):
        log.append(record.args[1])
logger = logging.getLogger("experta.watchers.RULES")
logger.setLevel(logging.INFO)
logger.addHandler(Handler())
logger.propagate = False
rules = [
    Production(f"{n:02}", "", (pattern("a", x="1"),), (), (fact("a", x="2"),))
    for n in range(20)
]
random.shuffle(rules)
Chainer({"a": frozenset({"x"})}, rules).run([fact("a", x="1")])
"""


def test_order_of_firing_is_fixed() -> None:
    """Productions fire in order of ids in every process (experta's order varies)."""

    def orders(code: str) -> set[str]:
        whole = FIRING_ORDER.format(code=code)
        return {python(whole, PYTHONHASHSEED=seed) for seed in ("1", "2", "3")}

    assert len(orders(PLAIN_ORDER)) > 1
    assert orders(CHAINER_ORDER) == {" ".join(f"{n:02}" for n in reversed(range(20)))}


def test_groups_of_patterns_are_refused() -> None:
    """A group is refused by name (experta looks at the first pattern of it only)."""
    log: list[Any] = []
    a, b = experta.Fact("a"), experta.Fact("b")
    engine = plain_engine(
        plain_rule(log, "not both", experta.InitialFact(), experta.NOT(a, b)),
        plain_rule(log, "exist both", experta.EXISTS(a, b)),
    )
    engine.declare(experta.Fact("a"))
    engine.run()
    assert log == ["exist both"]

    group = (pattern("answer"), pattern("note"))
    for rule in (production("r", [group]), production("r", unless=[group])):
        with pytest.raises(
            ChainingError, match=r"rules\.yaml:1: production 'r': .*sing"
        ):
            run([rule])


def test_actions_only_add() -> None:
    """A fact once there stays (experta crashes if an action takes one back)."""

    def add_and_take_back(engine: Any) -> None:
        engine.retract(engine.declare(experta.Fact("x")))

    engine = plain_engine(
        experta.Rule(experta.Fact("go"))(add_and_take_back),
        plain_rule([], "other", experta.Fact("x")),
    )
    engine.declare(experta.Fact("go"))
    with pytest.raises(KeyError):
        engine.run()
    changed = engine.declare(experta.Fact(x=1))
    engine.modify(changed, x=2)
    with pytest.raises(IndexError):  # what `declare` gave is dead after `modify`
        engine.retract(changed)

    rules = [
        production("a", [pattern("answer")], [note("x")]),
        production("b", [pattern("note", text="x")], [note("y")]),
    ]
    assert run(rules, answer("yes")).facts == {answer("yes"), note("x"), note("y")}


def test_duplicates() -> None:
    """A fact given or derived twice is one (experta returns None for the second)."""
    engine = plain_engine()
    assert engine.declare(experta.Fact("a")) is not None
    assert engine.declare(experta.Fact("a")) is None

    rules = [
        production("a", [pattern("answer")], [note("x"), note("x")]),
        production("b", [pattern("answer")], [note("x"), answer("yes")]),
        production("c", [pattern("note")], [note("x")]),
    ]
    result = run(rules, answer("yes"), note("x"), answer("yes"))
    assert result == Conclusions(
        frozenset({answer("yes"), note("x")}), frozenset("abc")
    )


@pytest.mark.parametrize("value", [1, 1.0, True, None, ("1",), b"1", ["1"]])
def test_values_are_strings(value: Any) -> None:
    """Other values are refused (to experta 1, 1.0 and True are the same)."""
    log: list[Any] = []
    engine = plain_engine(plain_rule(log, "r", experta.Fact(x=1)))
    engine.declare(experta.Fact(x=True))
    assert engine.declare(experta.Fact(x=1.0)) is None
    engine.run()
    assert log == ["r"]

    with pytest.raises(ChainingError, match=r"given fact: field 'text' of 'note' is "):
        run([], note(value))
    for rule in (
        production("r", then=[note(value)]),
        production("r", [Pattern("note", (("text", value),))]),
        production("r", unless=[Pattern("note", (("text", value),))]),
    ):
        with pytest.raises(
            ChainingError, match=r"rules\.yaml:1: production 'r'.*'text'"
        ):
            run([rule])


@pytest.mark.parametrize(
    "values",
    [frozenset[str](), frozenset({"a", 1}), {"a"}, ["a"], lambda value: True],
)
def test_alternatives_are_fixed_strings(values: Any) -> None:
    """Tests are pure: no function of a caller's, no set that may change, no others."""
    calls: list[Any] = []

    def test(x: Any) -> bool:
        calls.append(x)
        return True

    engine = plain_engine(
        experta.Rule(experta.Fact(x=experta.MATCH.x), experta.TEST(test))(
            lambda e: None
        )
    )
    engine.retract(engine.declare(experta.Fact(x=1)))
    assert len(calls) == 2  # experta asks again when the fact goes

    with pytest.raises(ChainingError, match=r"production 'r': .*frozenset of str"):
        run([production("r", [pattern("note", text=values)])])


def test_misspelt_names_are_refused() -> None:
    """A wrong kind or field is refused, the nearest named (experta is mute)."""
    seen: list[Any] = []

    def look_at(valeu: Any) -> None:
        seen.append(valeu)

    engine = plain_engine(
        experta.Rule(
            experta.Fact(value=experta.MATCH.value),
            experta.TEST(look_at),
        )(lambda engine: None),
        plain_rule(seen, "never", experta.Fact(valeu="yes")),
    )
    engine.declare(experta.Fact(value="yes"))
    engine.run()
    assert seen == [None]

    kind = r"no kind of fact is 'anser' \(did you mean 'answer'\?\)"
    field = r"no field 'valeu' \(did you mean 'value'\?\)"
    wrong_kind = fact("anser", question="q", value="yes")
    wrong_field = fact("answer", question="q", valeu="yes")
    for message, item in ((kind, wrong_kind), (field, wrong_field)):
        with pytest.raises(ChainingError, match=f"given fact: .*{message}"):
            run([], item)
        for rule in (
            production("r", then=[item]),
            production("r", [Pattern(*item)]),
            production("r", unless=[Pattern(*item)]),
        ):
            with pytest.raises(
                ChainingError, match=rf"rules\.yaml:1: production 'r': .*{message}"
            ):
                run([rule])


@pytest.mark.parametrize(
    "item",
    [
        fact("answer", value="yes"),
        Fact("answer", (("value", "yes"), ("question", "q"))),
    ],
)
def test_facts_have_all_fields_in_order(item: Fact) -> None:
    """A fact that lacks a field, or has them out of order, is refused."""
    message = r"kind 'answer' has the fields \('question', 'value'\) in this order"
    with pytest.raises(ChainingError, match=rf"given fact: .*{message}"):
        run([], item)
    with pytest.raises(ChainingError, match=rf"production 'r': .*{message}"):
        run([production("r", then=[item])])


def test_no_field_twice() -> None:
    """A field may stand once in a fact or a pattern."""
    twice = (("text", "x"), ("text", "y"))
    with pytest.raises(ChainingError, match=r"given fact: .*has a field twice"):
        run([], Fact("note", twice))
    for rule in (
        production("r", then=[Fact("note", twice)]),
        production("r", [Pattern("note", twice)]),
        production("r", unless=[Pattern("note", twice)]),
    ):
        with pytest.raises(ChainingError, match=r"production 'r': .*has a field twice"):
            run([rule])


def test_things_of_another_type_are_refused() -> None:
    """A pattern is no fact, nor a fact a pattern."""
    with pytest.raises(ChainingError, match=r"given fact: .*not a fact"):
        run([], pattern("note", text="x"))  # type: ignore[arg-type]
    with pytest.raises(ChainingError, match=r"production 'r': .*not a fact"):
        run([production("r", then=[pattern("note", text="x")])])
    with pytest.raises(ChainingError, match=r"production 'r': .*not a single pattern"):
        run([production("r", when=[note("x")])])


def test_same_conditions_and_facts_do_not_merge() -> None:
    """Two productions that differ in nothing but the id both fire (experta: one)."""
    log: list[Any] = []

    def action(engine: Any) -> None:
        log.append("fired")

    engine = plain_engine(*(experta.Rule(experta.Fact("a"))(action) for _ in range(2)))
    engine.declare(experta.Fact("a"))
    engine.run()
    assert log == ["fired"]

    rules = [production(name, [pattern("answer")], [note("x")]) for name in "ab"]
    assert run(rules, answer("yes")).fired == {"a", "b"}


def test_same_id_is_refused() -> None:
    """A second production of one id is refused, and both places named."""
    rules = [
        Production("r", "one.yaml:1", (), (), ()),
        Production("r", "two.yaml:2", (), (), ()),
    ]
    with pytest.raises(
        ChainingError, match=r"two\.yaml:2: production 'r': one\.yaml:1 has the same id"
    ):
        run(rules)
    with pytest.raises(ChainingError, match="same id"):
        run([rules[0], rules[0]])


def test_any_id_will_do() -> None:
    """No id replaces a part of the engine (in experta a rule called run does)."""
    names = {"run": experta.Rule(experta.Fact("a"))(lambda engine: None)}
    engine = type("Plain", (experta.KnowledgeEngine,), names)()
    engine.reset()
    engine.declare(experta.Fact("a"))
    engine.run()
    assert engine.agenda.activations  # nothing ran

    odd = [
        "",
        " ",
        "a b",
        "1",
        "__init__",
        "_declare_initial_fact",
        'ü"\\\n',
        "\0",
        "\ud800",
    ]
    ids = {*odd, *dir(chaining._Engine), *vars(Chainer(KINDS, [])._engine)}
    rules = [
        production(name, [pattern("answer")], [note(name)]) for name in sorted(ids)
    ]
    result = run(rules, answer("yes"))
    assert result.fired == ids
    assert result.facts == {answer("yes"), *map(note, ids)}
    assert result.facts == clips_conclusions(KINDS, rules, [answer("yes")])


@pytest.mark.parametrize(
    "name", ["a__b", "__bind__", "__factid__", "self", "_0", "kind"]
)
def test_any_field_name_will_do(name: str) -> None:
    """Field names that mean something to experta mean nothing here."""
    with pytest.raises(KeyError, match="double underscores"):
        plain_engine().declare(experta.Fact(a__b="x"))

    kinds = {"k": frozenset({name, "other"}), "out": frozenset({name})}
    rules = [
        production(
            value, [pattern("k", **{name: value})], [fact("out", **{name: value})]
        )
        for value in ("x", "y")
    ]
    facts = [fact("k", **{name: "x", "other": "y"})]
    result = Chainer(kinds, rules).run(facts)
    assert result.facts == {*facts, fact("out", **{name: "x"})}


def test_alternatives_do_not_multiply() -> None:
    """Alternatives are one test of a field (experta makes 4**4 rules of 4 in each)."""
    any_of_four = experta.L("a") | experta.L("b") | experta.L("c") | experta.L("d")
    rule = plain_rule([], "r", *(experta.Fact(n, x=any_of_four) for n in range(4)))
    (alternatives,) = experta.KnowledgeEngine.__matcher__.prepare_ruleset(
        type("Rules", (), {"get_rules": lambda self: [rule]})()
    )
    assert len(alternatives[0]) == 4**4

    values = frozenset("abcd")
    when = [pattern("answer", question=f"q{n}", value=values) for n in range(6)]
    start = time.perf_counter()
    chainer = Chainer(KINDS, [production("r", when, [note("x")])])
    assert time.perf_counter() - start < 0.2
    facts = [answer(value, f"q{n}") for n, value in enumerate("abcdab")]
    assert note("x") in chainer.run(facts).facts
    assert note("x") not in chainer.run(facts[1:]).facts


def test_many_matching_facts_do_not_multiply() -> None:
    """Six patterns matched by ten facts each are one activation (experta: 10**6)."""
    log: list[Any] = []
    conditions = [experta.Fact(x=n, y=experta.W()) for n in range(2)]
    engine = plain_engine(plain_rule(log, "r", *conditions))
    engine.declare(*(experta.Fact(x=x, y=y) for x in range(2) for y in range(10)))
    assert len(engine.agenda.activations) == 10**2

    when = [pattern("answer", question=f"q{n}") for n in range(6)]
    chainer = Chainer(KINDS, [production("r", when, [note("x")])])
    facts = [answer(f"v{m}", f"q{n}") for m in range(10) for n in range(6)]
    start = time.perf_counter()
    result = chainer.run(facts)
    assert time.perf_counter() - start < 0.5
    assert result == Conclusions(frozenset({*facts, note("x")}), frozenset("r"))


def test_facts_are_tested_where_they_may_pass(monkeypatch: pytest.MonkeyPatch) -> None:
    """A fact is not tested against all values of all rules (in experta it is)."""
    tests: list[Any] = []
    feature = experta.matchers.rete.check.FeatureCheck
    original = feature.__call__

    def count(self: Any, *arguments: Any) -> Any:
        tests.append(self)
        return original(self, *arguments)

    monkeypatch.setattr(feature, "__call__", count)
    names = [f"q{n}" for n in range(200)]
    conditions = [experta.Fact(question=name, value="yes") for name in names]
    plain_engine(*(plain_rule([], "r", c) for c in conditions)).declare(
        experta.Fact(question="q7", value="yes")
    )
    assert len(tests) >= len(names)

    rules = [
        production(name, [pattern("answer", question=name, value="yes")])
        for name in names
    ]
    chainer = Chainer(KINDS, rules)
    tests.clear()
    assert chainer.run([answer("yes", "q7")]).fired == {"q7"}
    assert len(tests) == 2


def test_no_production_fires_twice(monkeypatch: pytest.MonkeyPatch) -> None:
    """A second firing is an error with a name (experta would go on without end)."""

    def count(engine: Any, n: int) -> None:
        engine.declare(experta.Fact(n=n + 1))

    engine = plain_engine(experta.Rule(experta.Fact(n=experta.MATCH.n))(count))
    engine.declare(experta.Fact(n=0))
    engine.run(100)
    assert len(engine.facts) > 100

    def let_all_pass(self: Any, token: Any) -> None:
        for child in self.children:
            child.callback(token)

    rules = [production("r", [pattern("note")], [note("a"), note("b")])]
    assert run(rules, note("start")).fired == {"r"}
    chainer = Chainer(KINDS, rules)
    with monkeypatch.context() as patch:
        patch.setattr(chaining._First, "activate", let_all_pass)
        broken = Chainer(KINDS, rules)
        with pytest.raises(
            ChainingError, match=r"rules\.yaml:1: production 'r': .*fired"
        ):
            broken.run([note("start")])
    assert chainer.run([note("start")]).fired == {"r"}


def test_facts_of_an_earlier_run_are_freed() -> None:
    """No cache keeps a run's facts alive (experta's cache of keys does)."""
    engine = plain_engine(plain_rule([], "r", experta.Fact("kept")))
    kept = weakref.ref(engine.declare(experta.Fact("kept")))
    del engine
    gc.collect()
    assert kept() is not None

    chainer = Chainer(KINDS, [production("r", [pattern("answer")], [note("x")])])
    chainer.run([answer("yes")])
    freed = [weakref.ref(known) for known in chainer._engine.facts.values()]
    assert len(freed) == 3
    chainer.run([])
    gc.collect()
    assert [ref() for ref in freed[1:]] == [None, None]


def test_memory_does_not_grow() -> None:
    """Nothing piles up over thousands of runs, and next to nothing over compilations.

    Each compilation leaves an object or two in a cache of experta's own.
    """
    rules = [
        production("a", [pattern("answer", value=frozenset({"1", "2"}))], [note("x")]),
        production("b", [pattern("note")], [note("y")], [pattern("answer", value="3")]),
        production("c", (), [note("z")], [pattern("answer", value="4")]),
    ]
    chainer = Chainer(KINDS, rules)

    def run_often(times: int) -> int:
        for n in range(times):
            chainer.run([answer(str(n % 5)), answer("9", f"q{n}")])
        gc.collect()
        return len(gc.get_objects())

    assert -run_often(100) + run_often(3000) < 50

    def compile_often(times: int) -> int:
        together = [Chainer(KINDS, rules) for _ in range(times)]
        together.clear()
        gc.collect()
        return len(gc.get_objects())

    assert -compile_often(10) + compile_often(200) < 2 * 200 + 50


def test_unless_may_not_look_for_what_is_derived() -> None:
    """Refused, as the result would hang on who fires first; both are named."""

    def first_come(order: Sequence[int]) -> set[Any]:
        log: list[Any] = []

        def tell(engine: Any) -> None:
            log.append("derives")
            engine.declare(experta.Fact("x"))

        rules = [
            experta.Rule(experta.Fact("go"), salience=order[0])(tell),
            experta.Rule(
                experta.Fact("go"), experta.NOT(experta.Fact("x")), salience=order[1]
            )(lambda engine: log.append("unless")),
        ]
        engine = plain_engine(*rules)
        engine.declare(experta.Fact("go"))
        engine.run()
        return set(log)

    assert first_come([1, 2]) != first_come([2, 1])

    derives = production("derives", [pattern("answer")], [note("w"), note("x")])
    for looked_for in (pattern("note", text=frozenset({"x", "y"})), pattern("note")):
        looks = production("looks", unless=[pattern("answer", value="no"), looked_for])
        for rules in ([derives, looks], [looks, derives]):
            with pytest.raises(
                ChainingError,
                match=r"rules\.yaml:5: production 'looks': its unless 'note' .* "
                r"derived by rules\.yaml:7: production 'derives'",
            ):
                run(rules)
    given_only = production(
        "fine", unless=[pattern("note", text=frozenset({"y", "z"}))]
    )
    assert run([derives, given_only], note("z")).fired == frozenset()


# --- properties --------------------------------------------------------------------

SMALL = {"g": frozenset({"x", "y"}), "d": frozenset({"x"}), "e": frozenset({"x", "y"})}
VALUES = ["a", "b", "", '"\\', "ü \n"]
kinds = st.sampled_from(sorted(SMALL))
values = st.sampled_from(VALUES)
wanted = values | st.frozensets(values, min_size=1, max_size=3)


@st.composite
def facts(draw: st.DrawFn) -> Fact:
    """Any fact of a small vocabulary."""
    kind = draw(kinds)
    return fact(kind, **{name: draw(values) for name in SMALL[kind]})


@st.composite
def patterns(draw: st.DrawFn) -> Pattern:
    """Any pattern of a small vocabulary."""
    kind = draw(kinds)
    names = draw(st.sets(st.sampled_from(sorted(SMALL[kind]))))
    return pattern(kind, **{name: draw(wanted) for name in names})


def matches(item: Pattern, known: Fact) -> bool:
    """Whether the fact matches, in the plainest way."""
    return item.kind == known.kind and all(
        dict(known.fields)[name] in ([value] if isinstance(value, str) else value)
        for name, value in item.fields
    )


@st.composite
def programs(draw: st.DrawFn) -> list[Production]:
    """Productions, without what is refused: an `unless` for what is derived."""
    ids = draw(st.lists(st.text(max_size=5), unique=True, max_size=12))
    then = {name: draw(st.lists(facts(), max_size=2)) for name in ids}
    derived = [item for items in then.values() for item in items]
    return [
        production(
            name,
            draw(st.lists(patterns(), max_size=3)),
            then[name],
            [
                item
                for item in draw(st.lists(patterns(), max_size=2))
                if not any(matches(item, known) for known in derived)
            ],
        )
        for name in ids
    ]


def fixpoint(rules: Iterable[Production], given: Iterable[Fact]) -> Conclusions:
    """Fire whatever may fire until that adds nothing."""
    known, fired = set(given), set[str]()

    def any_match(item: Pattern) -> bool:
        return any(matches(item, k) for k in known)

    while ready := [
        rule
        for rule in rules
        if rule.id not in fired
        and all(map(any_match, rule.when))
        and not any(map(any_match, rule.unless))
    ]:
        for rule in ready:
            fired.add(rule.id)
            known.update(rule.then)
    return Conclusions(frozenset(known), frozenset(fired))


@settings(max_examples=150, deadline=None)
@given(rules=programs(), sets=st.lists(st.lists(facts(), max_size=6), max_size=4))
def test_same_as_fixpoint_and_clips(
    rules: list[Production], sets: list[list[Fact]]
) -> None:
    """A plain evaluator and CLIPS come to the same, run after run."""
    chainer, clips = Chainer(SMALL, rules), ClipsReference(SMALL, rules)
    for given_facts in sets:
        result = chainer.run(given_facts)
        assert result == fixpoint(rules, given_facts)
        assert result.facts == clips.conclusions(given_facts)


@settings(max_examples=50, deadline=None)
@given(rules=programs(), given_facts=st.lists(facts(), max_size=6), data=st.data())
def test_order_and_repetition_do_not_matter(
    rules: list[Production], given_facts: list[Fact], data: st.DataObject
) -> None:
    """Facts and productions in another order, and facts again, change nothing."""
    result = Chainer(SMALL, rules).run(given_facts)
    other = Chainer(SMALL, data.draw(st.permutations(rules)))
    assert other.run(data.draw(st.permutations(given_facts * 2))) == result
    assert other.run(result.facts) == result


def test_many_productions() -> None:
    """As many productions as the knowledge has are quick, and agree with CLIPS."""
    pick = random.Random(7)
    kinds = {
        "answer": KINDS["answer"],
        "state": KINDS["state"],
        "cause": KINDS["state"],
    }
    rules = []
    for n in range(700):
        name = f"p{n:03}"
        question = f"q{pick.randrange(60)}"
        if n % 2:
            values = frozenset(pick.sample(["yes", "no", "some", "unknown"], 2))
            when = [pattern("answer", question=question, value=values)]
            then = fact("state", id=f"s{pick.randrange(80)}", by=name)
        else:
            when = [
                pattern("state", id=f"s{pick.randrange(80)}") for _ in range(1 + n % 3)
            ]
            then = fact("cause", id=f"c{pick.randrange(100)}", by=name)
        unless = (
            [pattern("answer", question=question, value="no")] if n % 5 == 0 else []
        )
        rules.append(production(name, when, [then], unless))
    sheets = [
        [answer(pick.choice(["yes", "no", "some"]), f"q{q}") for q in range(40)]
        for _ in range(30)
    ]
    start = time.perf_counter()
    chainer = Chainer(kinds, rules)
    assert time.perf_counter() - start < 1  # about 0.03 s
    start = time.perf_counter()
    results = [chainer.run(sheet) for sheet in sheets]
    assert (time.perf_counter() - start) / len(sheets) < 0.1  # about 0.01 s
    clips = ClipsReference(kinds, rules)
    assert [r.facts for r in results] == [clips.conclusions(sheet) for sheet in sheets]
    assert min(len(r.fired) for r in results) > 100
