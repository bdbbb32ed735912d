"""From a sheet of answers to the chances of the causes, on the whole way."""

from __future__ import annotations

import dataclasses
import random
from statistics import NormalDist
from typing import Any

import msgspec
import pytest

from diagnose import Consultation
from diagnose.explanations import Explanations
from diagnose.look import Look, take_a_look
from diagnose.model import model_of
from diagnose.network import NOT_COVERED
from diagnose.records import Finding, Knowledge, Rule
from diagnose.sheets import DONT_KNOW, Sheet

EXACT = 1e-12
replace = msgspec.structs.replace


def look_at(knowledge: Knowledge, answers: dict[str, str]) -> Look:
    """What follows from answers to findings, readings among them."""
    sheet = Sheet()
    for id, value in answers.items():
        sheet.group(knowledge.findings[id])[id] = value
    return take_a_look(model_of(knowledge), sheet)


def takes(finding: Finding) -> list[str]:
    """Answers that a finding takes; for a reading, some across its range."""
    if finding.kind == "reading":
        low, high = finding.lowest or 0.0, finding.highest or 0.0
        spread = [low + (high - low) * n / 8 for n in range(9)]
        return [*(f"{value:g}" for value in spread), DONT_KNOW]
    some = ["somewhat"] if finding.kind == "yes-no" else []
    return [*finding.values(), *some, DONT_KNOW]


def random_answers(
    knowledge: Knowledge, pick: random.Random, count: int
) -> list[tuple[str, str]]:
    """Answers to that many findings."""
    findings = pick.sample(list(knowledge.recorded().values()), count)
    return [(finding.id, pick.choice(takes(finding))) for finding in findings]


def with_rules(knowledge: Knowledge, *records: dict[str, Any]) -> Knowledge:
    """The knowledge with these rules in place of its own."""
    usual = {
        "status": "tried",
        "sources": ["common practice"],
        "name": "a rule",
        "because": "So it is.",
        "fires_on": {"stairs": "yes"},
        "silent_on": {"stairs": "no"},
        "misleads": "Never.",
    }
    rules = [msgspec.convert({**usual, **record}, Rule) for record in records]
    return replace(knowledge, rules={rule.id: rule for rule in rules})


BELOW_TEN = {"reading": "thickness", "below": 10}
LOW = {"conclude": [{"finding": "thickness-low"}]}


# --- readings ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("reading", "value", "degree"),
    [
        ("9", "yes", NormalDist(9, 2).cdf(10)),
        ("9 ± 3 %", "yes", NormalDist(9, 3).cdf(10)),
        ("12", "no", 1 - NormalDist(12, 2).cdf(10)),
        ("10", "yes", 0.5),
        ("3", "yes", 0.99),  # no reading is surer than that
        ("60", "no", 0.99),
    ],
)
def test_a_reading_speaks_as_surely_as_it_was_read(
    small: Knowledge, reading: str, value: str, degree: float
) -> None:
    """The chance that the true value is under the limit of 10 %, the doubt normal."""
    known = look_at(small, {"thickness": reading}).known["thickness-low"]
    assert known.value == value
    assert known.degree == pytest.approx(degree, abs=EXACT)
    assert known.by == "thin-by-gauge"


def test_a_reading_enters_as_soft_evidence(small: Knowledge) -> None:
    """A reading weighs as (P(below), P(not below)) on the two values."""
    look = look_at(small, {"stairs": "yes", "thickness": "9"})
    below = NormalDist(9, 2).cdf(10)
    evidence = {"stairs": [1.0, 0.0], "thickness-low": [below, 1 - below]}
    weights = {"slack": 2.5}  # the rule on a suspected state
    rows = Explanations(look.model.network, look.chances)
    wanted = rows.weigh(evidence, weights).causes()
    assert look.chances == pytest.approx(wanted, abs=EXACT)


@pytest.mark.parametrize("cause", ["few-coats"])
def test_a_lower_reading_never_speaks_less_for_thin(
    small: Knowledge, cause: str
) -> None:
    """From 20 % down to 0 %, the chance of too few coats does not fall."""
    chances = [
        look_at(small, {"stairs": "yes", "thickness": f"{value}"}).chances[cause]
        for value in range(20, -1, -1)
    ]
    assert chances == sorted(chances)
    assert chances[-1] > 2 * chances[0]


def test_a_reading_at_its_limit_says_nothing(small: Knowledge) -> None:
    """Half under the limit and half over it leaves the chances as they are."""
    without = look_at(small, {"stairs": "yes"})
    at_limit = look_at(small, {"stairs": "yes", "thickness": "10"})
    assert at_limit.chances == pytest.approx(without.chances, abs=EXACT)


# --- rules -------------------------------------------------------------------------


def test_an_answer_stands_before_a_conclusion(small: Knowledge) -> None:
    """What the person said of a finding is not overruled by a rule."""
    look = look_at(small, {"thickness": "5", "thickness-low": "no"})
    known = look.known["thickness-low"]
    assert (known.value, known.degree, known.by) == ("no", 1.0, "answer")


def test_exclusions(small: Knowledge) -> None:
    """A cause that a rule excludes is not ranked, and the rule is named."""
    answers = {"stairs": "yes", "bands": "yes", "nick-felt": "yes"}
    assert set(look_at(small, answers).chances) == {*small.causes, NOT_COVERED}
    look = look_at(small, {**answers, "stencil": "film"})
    assert set(look.chances) == {"slack", NOT_COVERED}
    assert look.table.ruled_out == {
        "few-coats": ("film-no-trough",),
        "nick": ("film-no-trough",),
    }
    assert sum(chance for _, chance in look.weighed.sets(9)) == pytest.approx(1)


@pytest.mark.parametrize(
    ("words", "factor"),
    [
        (["more likely"], 2.5),
        (["much less likely"], 0.17),
        (["more likely", "much more likely", "less likely"], 2.5 * 6.0 * 0.4),
    ],
)
def test_weights_multiply_the_odds(
    small: Knowledge, words: list[str], factor: float
) -> None:
    """Each rule that fired multiplies the odds of its causes, and of no others."""
    weighing = [
        {
            "id": f"rule-{n}",
            "when": {"all": [{"finding": "bands"}]},
            "then": {"weigh": [{"causes": ["nick"], "how_much": word}]},
        }
        for n, word in enumerate(words)
    ]
    answers = {"stairs": "yes", "bands": "yes"}
    before = dict(look_at(with_rules(small), answers).weighed.sets(99))
    after = dict(look_at(with_rules(small, *weighing), answers).weighed.sets(99))
    total = sum(p * (factor if "nick" in names else 1) for names, p in before.items())
    for names, chance in before.items():
        wanted = chance * (factor if "nick" in names else 1) / total
        assert after[names] == pytest.approx(wanted, abs=EXACT)


def conclusion(knowledge: Knowledge, answers: dict[str, str]) -> tuple[str, Any, str]:
    """What is known of 'thickness-low'."""
    known = look_at(knowledge, answers).known["thickness-low"]
    return known.value, known.degree, known.by


def test_conclusion_is_as_sure_as_its_least_sure_condition(small: Knowledge) -> None:
    """A reading of 9 (0.69 under 10) and a plain answer: 0.69."""
    rules = with_rules(
        small,
        {
            "id": "both",
            "when": {"all": [BELOW_TEN, {"finding": "stairs"}]},
            "then": LOW,
        },
    )
    below = pytest.approx(NormalDist(9, 2).cdf(10))
    answers = {"thickness": "9", "stairs": "yes"}
    assert conclusion(rules, answers) == ("yes", below, "both")


def test_conclusion_from_any_is_as_sure_as_its_surest_condition(
    small: Knowledge,
) -> None:
    """A reading of 9 alone: 0.69; with a plain answer that is enough too: 1."""
    rules = with_rules(
        small,
        {
            "id": "either",
            "when": {"any": [BELOW_TEN, {"finding": "stairs"}]},
            "then": LOW,
        },
    )
    below = pytest.approx(NormalDist(9, 2).cdf(10))
    assert conclusion(rules, {"thickness": "9"}) == ("yes", below, "either")
    both = {"thickness": "9", "stairs": "yes"}
    assert conclusion(rules, both) == ("yes", 1.0, "either")


def test_doubt_goes_on_through_conclusions(small: Knowledge) -> None:
    """What follows from a doubtful conclusion is no surer than that."""
    rules = with_rules(
        small,
        {"id": "first", "when": {"all": [BELOW_TEN]}, "then": LOW},
        {
            "id": "second",
            "when": {"all": [{"finding": "thickness-low"}]},
            "then": {"conclude": [{"finding": "gives"}]},
        },
        {  # leads back; it adds nothing
            "id": "third",
            "when": {"all": [{"finding": "gives"}]},
            "then": LOW,
        },
    )
    known = look_at(rules, {"thickness": "9"}).known
    below = pytest.approx(NormalDist(9, 2).cdf(10))
    assert known["thickness-low"].degree == below
    assert known["gives"].degree == below
    assert known["gives"].by == "second"
    surer = look_at(rules, {"thickness": "9", "gives": "yes"}).known
    assert surer["thickness-low"].degree == 1.0
    assert surer["thickness-low"].by == "third"


def test_the_surest_of_conclusions_that_differ_counts(small: Knowledge) -> None:
    """A plain answer concludes no, a reading of 9 yes: the plain one counts."""
    no = {"conclude": [{"finding": "thickness-low", "value": "no"}]}
    rules = with_rules(
        small,
        {"id": "by-gauge", "when": {"all": [BELOW_TEN]}, "then": LOW},
        {"id": "by-eye", "when": {"all": [{"finding": "bands"}]}, "then": no},
    )
    answers = {"thickness": "9", "bands": "yes"}
    assert conclusion(rules, answers) == ("no", 1.0, "by-eye")


# --- answers -----------------------------------------------------------------------


def test_nothing_on_the_table(small: Knowledge) -> None:
    """Without answers, or with none that raises a cause, 'not covered' is all."""
    assert look_at(small, {}).chances == {NOT_COVERED: 1.0}
    assert look_at(small, {"stairs": "no"}).chances == {NOT_COVERED: 1.0}


def test_leader_of_equals_is_the_first_by_id(small: Knowledge) -> None:
    """Which of two equal causes leads does not depend on the order of the files."""
    look = look_at(small, {"stairs": "yes"})
    for chances in ({"b": 0.4, "a": 0.4, "c": 0.2}, {"a": 0.4, "b": 0.4, "c": 0.2}):
        assert dataclasses.replace(look, chances=chances).leader == "a"


def test_somewhat_is_a_soft_yes(small: Knowledge) -> None:
    """It puts the causes on the table, and weighs as a yes of 0.75."""
    look = look_at(small, {"stairs": "somewhat"})
    assert set(look.chances) == {*small.causes, NOT_COVERED}
    rows = Explanations(look.model.network, look.chances)
    wanted = rows.weigh({"stairs": [0.75, 0.25]}, {"slack": 2.5}).causes()
    assert look.chances == pytest.approx(wanted, abs=EXACT)
    yes = look_at(small, {"stairs": "yes"})
    assert look.chances["few-coats"] < yes.chances["few-coats"]


def test_dont_know_is_no_evidence(small: Knowledge) -> None:
    """'Don't know' leaves everything as if it had not been asked."""
    answers = {"stairs": "yes", "coats": "one"}
    plain = look_at(small, answers)
    unsure = {id: DONT_KNOW for id in small.findings if id not in answers}
    look = look_at(small, {**unsure, **answers})
    assert look.chances == plain.chances
    assert look.known == plain.known
    assert look.table == plain.table


@pytest.mark.parametrize("seed", range(6))
def test_the_close_look_is_near(built_in: Knowledge, seed: int) -> None:
    """The likeliest sets by themselves give every cause nearly the same chance."""
    look = look_at(built_in, dict(random_answers(built_in, random.Random(seed), 12)))
    close = look.close.causes()
    assert close.keys() == look.chances.keys()
    assert max(abs(close[c] - chance) for c, chance in look.chances.items()) < 0.05


# --- order -------------------------------------------------------------------------


def whole_result(knowledge: Knowledge, answers: list[tuple[str, str]]) -> list[Any]:
    """All that a consultation comes to, the answers given in this order."""
    consultation = Consultation(knowledge)
    for finding, value in answers:
        consultation.answer(finding, value)
    return [
        consultation.chances(),
        consultation.ranking(),
        consultation.next_question(),
        consultation.nothing_to_ask(),
        consultation.plan(),
    ]


@pytest.mark.parametrize("seed", range(40))
def test_order_of_answers_does_not_matter(small: Knowledge, seed: int) -> None:
    """The same answers in any order: the same ranking, question and plan."""
    pick = random.Random(seed)
    answers = random_answers(small, pick, 6)
    result = whole_result(small, answers)
    for _ in range(3):
        pick.shuffle(answers)
        assert whole_result(small, answers) == result


@pytest.mark.parametrize("seed", range(3))
def test_order_of_answers_does_not_matter_in_the_built_in(
    built_in: Knowledge, seed: int
) -> None:
    """So it is with the built-in knowledge, thirty answers at a time."""
    pick = random.Random(seed)
    answers = random_answers(built_in, pick, 30)
    result = whole_result(built_in, answers)
    pick.shuffle(answers)
    assert whole_result(built_in, answers) == result
