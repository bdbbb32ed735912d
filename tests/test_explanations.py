"""Chances of causes and states, against a full sum and against pyAgrum."""

from __future__ import annotations

import math
import random
from collections.abc import Collection, Iterable, Mapping, Sequence
from unittest.mock import patch

import numpy as np
import pytest
from bayes_reference import (
    Agrum,
    differences,
    full_sum,
    random_cases,
    random_evidence,
    random_network,
)
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from diagnose.explanations import Explanations, Weighed, states_to_split
from diagnose.network import NOT_COVERED, Network, Outcome, build_network
from diagnose.records import Knowledge

EXACT = 1e-12
AS_PYAGRUM = 1e-6


@st.composite
def networks(draw: st.DrawFn) -> Network:
    """Any small network."""
    pick = draw(st.randoms(use_true_random=False))
    return random_network(
        pick,
        draw(st.integers(1, 4)),
        draw(st.integers(0, 4)),
        draw(st.integers(1, 4)),
    )


@st.composite
def answered(draw: st.DrawFn) -> tuple[Network, dict[str, list[float]]]:
    """Any small network with answers, plain and soft."""
    network = draw(networks())
    pick = draw(st.randoms(use_true_random=False))
    return network, random_evidence(pick, network)


def state_chances(weighed: Weighed) -> dict[str, float]:
    """The chance of every state of the network."""
    states = weighed.rows.network.states
    return {state: weighed.state(state) for state in states}


def set_chances(weighed: Weighed) -> dict[frozenset[str], float]:
    """The chance of every set of causes."""
    most = len(weighed.rows.sets)
    return {frozenset(names): chance for names, chance in weighed.sets(most)}


# --- against a full sum over the joint distribution --------------------------------


@settings(max_examples=100, deadline=None)
@given(
    case=answered(),
    sizes=st.sampled_from([(1, 2), (1,), (2,), (0, 1, 2), (0, 1, 2, 3, 4)]),
    factor=st.sampled_from([0.17, 0.4, 1.0, 2.5, 6.0]),
)
def test_same_as_full_sum(
    case: tuple[Network, dict[str, list[float]]], sizes: tuple[int, ...], factor: float
) -> None:
    """Causes, states, sets of causes and the chance of the answers are exact."""
    network, evidence = case
    assume(min(sizes) <= len(network.odds))
    weights = {"c0": factor}
    weighed = Explanations(network, network.odds, sizes).weigh(evidence, weights)
    exact = full_sum(network, network.odds, evidence, weights, sizes)
    assert differences(weighed.causes(), exact.causes) < EXACT
    assert differences(state_chances(weighed), exact.states) < EXACT
    sets = set_chances(weighed)
    assert sets.keys() == exact.sets.keys()
    assert max(abs(sets[key] - exact.sets[key]) for key in sets) < EXACT
    assert math.exp(weighed.log_total) == pytest.approx(exact.evidence, rel=1e-11)


def summed_out(
    network: Network,
    causes: Iterable[str],
    evidence: Mapping[str, Sequence[float]],
    weights: Mapping[str, float] | None = None,
    wanted: Collection[str] = (),
) -> Weighed:
    """The same chances by as few rows as will do."""
    causes = list(causes)
    split, summed = states_to_split(network, causes, evidence, wanted)
    rows = Explanations(network, causes, states=split)
    return rows.weigh(evidence, weights, summed=summed)


@settings(max_examples=200, deadline=None)
@given(case=answered(), data=st.data())
def test_summing_states_out_changes_nothing(
    case: tuple[Network, dict[str, list[float]]], data: st.DataObject
) -> None:
    """With states left out and summed out, causes and sets keep their chances."""
    network, evidence = case
    wanted = data.draw(st.sets(st.sampled_from(sorted(network.states) or ["none"])))
    every = Explanations(network, network.odds).weigh(evidence)
    lean = summed_out(network, network.odds, evidence, wanted=wanted)
    assert len(lean.weight) <= len(every.weight)
    assert differences(lean.causes(), every.causes()) < EXACT
    assert lean.by_set == pytest.approx(every.by_set, abs=EXACT)
    assert lean.log_total == pytest.approx(every.log_total, abs=1e-9)
    for state in wanted & set(lean.rows.states):
        assert lean.state(state) == pytest.approx(every.state(state), abs=EXACT)


@settings(max_examples=50, deadline=None)
@given(case=answered(), factor=st.floats(0.1, 10))
def test_only_the_ratio_of_an_answer_counts(
    case: tuple[Network, dict[str, list[float]]], factor: float
) -> None:
    """An answer that speaks so much more for every value alike says the same."""
    network, evidence = case
    more = {f: [factor * one for one in speaks] for f, speaks in evidence.items()}
    wanted = summed_out(network, network.odds, evidence).causes()
    assert differences(summed_out(network, network.odds, more).causes(), wanted) < EXACT


def test_the_heaviest_sets_keep_their_chances() -> None:
    """Looked at closely, the likeliest sets of causes keep the chances of all."""
    for network, evidence in random_cases(20, seed=5):
        every = Explanations(network, network.odds).weigh(evidence)
        with patch("diagnose.explanations.MOST_SETS", 2):
            heavy = every.heaviest()
        close = Explanations(network, network.odds, sets=heavy).weigh(evidence)
        kept = [every.by_set[every.rows.sets.index(members)] for members in heavy]
        assert len(heavy) <= 2
        assert close.by_set == pytest.approx(np.array(kept) / sum(kept), abs=1e-9)


@settings(max_examples=50, deadline=None)
@given(case=answered())
def test_sums_to_one(case: tuple[Network, dict[str, list[float]]]) -> None:
    """The chances of the sets sum to one; those of the causes to between 1 and 2."""
    network, evidence = case
    weighed = Explanations(network, network.odds).weigh(evidence)
    assert weighed.weight.sum() == pytest.approx(1, abs=EXACT)
    assert weighed.by_set.sum() == pytest.approx(1, abs=EXACT)
    assert all(0 <= chance <= 1 + EXACT for chance in weighed.causes().values())
    assert 1 - EXACT <= sum(weighed.causes().values()) <= 2 + EXACT


@settings(max_examples=50, deadline=None)
@given(case=answered(), data=st.data())
def test_order_does_not_matter(
    case: tuple[Network, dict[str, list[float]]], data: st.DataObject
) -> None:
    """Answers and causes in another order give the very same numbers."""
    network, evidence = case
    one = Explanations(network, network.odds).weigh(evidence)
    causes = data.draw(st.permutations(list(network.odds)))
    answers = data.draw(st.permutations(list(evidence.items())))
    other = Explanations(network, causes).weigh(dict(answers))
    assert other.causes() == one.causes()
    assert state_chances(other) == state_chances(one)
    assert other.sets(99) == one.sets(99)


@settings(max_examples=50, deadline=None)
@given(case=answered(), chance=st.floats(0.05, 1))
def test_answer_for_every_value_alike_says_nothing(
    case: tuple[Network, dict[str, list[float]]], chance: float
) -> None:
    """Evidence that speaks for every value alike leaves the chances as they are."""
    network, evidence = case
    silent = {f: [chance] * len(network.values(f)) for f in network.outcomes}
    rows = Explanations(network, network.odds)
    one, other = rows.weigh(evidence), rows.weigh({**silent, **evidence})
    assert differences(one.causes(), other.causes()) < EXACT
    assert differences(state_chances(one), state_chances(other)) < EXACT


@settings(max_examples=50, deadline=None)
@given(case=answered(), factor=st.floats(0.1, 10))
def test_weights_multiply_odds(
    case: tuple[Network, dict[str, list[float]]], factor: float
) -> None:
    """A weight multiplies the odds of each set that has the cause, and no other's."""
    network, evidence = case
    rows = Explanations(network, network.odds)
    before = set_chances(rows.weigh(evidence))
    after = set_chances(rows.weigh(evidence, {"c0": factor}))
    total = sum(p * (factor if "c0" in names else 1) for names, p in before.items())
    for names, chance in before.items():
        wanted = chance * (factor if "c0" in names else 1) / total
        assert after[names] == pytest.approx(wanted, abs=EXACT)


@settings(max_examples=50, deadline=None)
@given(case=answered())
def test_predicted_is_the_chance_of_the_next_answer(
    case: tuple[Network, dict[str, list[float]]],
) -> None:
    """P(value | answers) = P(value, answers) / P(answers), by the full sum."""
    network, evidence = case
    asked = next(iter(network.outcomes))
    evidence.pop(asked, None)
    predicted = Explanations(network, network.odds).weigh(evidence).predicted(asked)
    assert sum(predicted.values()) == pytest.approx(1, abs=EXACT)
    without = full_sum(network, network.odds, evidence).evidence
    values = network.values(asked)
    for n, value in enumerate(values):
        plain = [float(n == other) for other in range(len(values))]
        both = full_sum(network, network.odds, {**evidence, asked: plain}).evidence
        assert predicted[value] == pytest.approx(both / without, abs=1e-11)


@settings(max_examples=50, deadline=None)
@given(case=answered())
def test_split_is_the_joint_of_sets_and_values(
    case: tuple[Network, dict[str, list[float]]],
) -> None:
    """`split` gives P(set, value | answers)."""
    network, evidence = case
    asked = list(network.outcomes)
    weighed = Explanations(network, network.odds).weigh(evidence)
    used, shares = weighed.split(asked)
    names = [
        frozenset(weighed.rows.causes[n] for n in weighed.rows.sets[row])
        for row in used
    ]
    total = full_sum(network, network.odds, evidence).evidence
    for finding, share in zip(asked, shares, strict=True):
        # The evidence may hold the finding itself; the share is of asking it again,
        # so compare where it was not asked before.
        if finding in evidence:
            continue
        assert share.sum() == pytest.approx(1, abs=EXACT)
        count = len(network.values(finding))
        for column in range(count):
            plain = [float(column == other) for other in range(count)]
            exact = full_sum(network, network.odds, {**evidence, finding: plain})
            for row, members in enumerate(names):
                wanted = exact.sets[members] * exact.evidence / total
                assert share[row, column] == pytest.approx(wanted, abs=1e-9)


def test_unreachable_states_are_off() -> None:
    """A state that no cause on the table can bring about has no chance."""
    network = Network(
        {"a": 0.1, "b": 0.1},
        {"s": (("b", 0.9),), "t": (("s", 0.9),)},
        {"f": (Outcome("f", "yes", 0.1, (("t", 0.9),)),)},
    )
    weighed = Explanations(network, ["a"]).weigh({"f": [1, 0]})
    assert weighed.state("s") == weighed.state("t") == 0
    assert weighed.predicted("f")["yes"] == pytest.approx(0.1, abs=EXACT)


def test_more_states_than_a_word_has_bits() -> None:
    """Seventy states are told apart: each has its own maker and its own chance."""
    causes = [f"c{n:02}" for n in range(70)]
    network = Network(
        dict.fromkeys(causes, 0.01),
        {f"s{n:02}": ((cause, (n + 1) / 100),) for n, cause in enumerate(causes)},
        {},
    )
    rows = Explanations(network, causes, sizes=(1,))
    assert len(rows.set_of) == 140
    weighed = rows.weigh({})
    for n in range(70):
        assert weighed.state(f"s{n:02}") == pytest.approx((n + 1) / 7000, abs=EXACT)


def test_explained_is_the_chance_that_a_maker_did_it() -> None:
    """With strength 0.6 and 0.1 anyway: 0.6 / (1 - 0.4 * 0.9) = 0.9375."""
    network = Network(
        {"a": 0.1, "odd": 0.1},
        {},
        {"f": (Outcome("f", "yes", 0.1, (("a", 0.6), ("odd", 0.5))),)},
    )
    rows = Explanations(network, ["a", "odd"])
    assert rows.sets == [(0,), (1,), (0, 1)]
    both = 1 - 0.4 * 0.5
    wanted = [0.6 / 0.64, 0.0, 0.6 / (both + 0.1 * (1 - both))]
    assert rows.explained("f", "yes", leave_out="odd") == pytest.approx(wanted)
    assert rows.explained("f", "no", leave_out="odd") == pytest.approx([1, 1, 1])


# --- against pyAgrum ---------------------------------------------------------------


def test_same_as_pyagrum_on_random_networks() -> None:
    """Sixty random networks, plain and soft answers, weighted causes: 1e-6."""
    tried = 0
    for network, evidence in random_cases(60, seed=11):
        weights = {"c0": 2.5}
        weighed = Explanations(network, network.odds).weigh(evidence, weights)
        causes, states = Agrum(network, network.odds, weights).posterior(evidence)
        assert differences(weighed.causes(), causes) < AS_PYAGRUM
        lean = summed_out(network, network.odds, evidence, weights)
        assert differences(lean.causes(), causes) < AS_PYAGRUM
        assert differences(_reached(weighed), states) < AS_PYAGRUM
        tried += bool(evidence)
    assert tried > 50


def test_same_as_pyagrum_on_the_small_knowledge(small: Knowledge) -> None:
    """The small knowledge, with 'not covered' on the table: 1e-6."""
    network = build_network(small)
    agrum = Agrum(network, network.odds)
    rows = Explanations(network, network.odds)
    assert NOT_COVERED in rows.causes
    for seed in range(50):
        evidence = random_evidence(random.Random(seed), network)
        weighed = rows.weigh(evidence)
        causes, states = agrum.posterior(evidence)
        assert differences(weighed.causes(), causes) < AS_PYAGRUM
        assert differences(_reached(weighed), states) < AS_PYAGRUM


@pytest.mark.parametrize("seed", range(4))
def test_same_as_pyagrum_on_a_part_of_the_built_in(
    built_in: Knowledge, seed: int
) -> None:
    """Twelve causes of the built-in knowledge, and answers they might give: 1e-6."""
    network = build_network(built_in)
    pick = random.Random(seed)
    causes = [*pick.sample(sorted(built_in.causes), 11), NOT_COVERED]
    rows = Explanations(network, causes)
    evidence = likely_answers(pick, rows, count=12)
    weighed = rows.weigh(evidence)
    agrum = Agrum(network, causes, findings=evidence)
    cause_chances, states = agrum.posterior(evidence)
    assert differences(weighed.causes(), cause_chances) < AS_PYAGRUM
    assert differences(_reached(weighed), states) < AS_PYAGRUM
    lean = summed_out(network, causes, evidence)
    assert differences(lean.causes(), cause_chances) < AS_PYAGRUM
    assert len(states) >= 5


def likely_answers(
    pick: random.Random, rows: Explanations, count: int
) -> dict[str, list[float]]:
    """Answers to findings that a random explanation bears on, as it would make them."""
    network = rows.network
    row = pick.randrange(len(rows.set_of))
    nodes = {*rows.causes, *rows.states}
    near = [
        finding
        for finding, outcomes in network.outcomes.items()
        if any(maker in nodes for o in outcomes for maker, _ in o.makers)
    ]
    evidence = {}
    for finding in pick.sample(near, min(count, len(near))):
        values = len(network.values(finding))
        chances = rows.chances(finding)[row].tolist()
        value = pick.choices(range(values), chances)[0]
        sure = pick.choice([1.0, 1.0, 0.75])
        rest = (1 - sure) / (values - 1)
        evidence[finding] = [sure if n == value else rest for n in range(values)]
    return evidence


def _reached(weighed: Weighed) -> dict[str, float]:
    return {state: weighed.state(state) for state in weighed.rows.states}


def test_chances_of_each_value_sum_to_one(small: Knowledge) -> None:
    """For each explanation, the chances of a finding's values sum to one."""
    network = build_network(small)
    rows = Explanations(network, network.odds)
    for finding in network.outcomes:
        chances = rows.chances(finding)
        assert np.all(chances > 0)
        assert chances.sum(axis=1) == pytest.approx(np.ones(len(rows.set_of)))
