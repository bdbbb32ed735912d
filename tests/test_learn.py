"""What is learnt from cases, against the truth that they were drawn from, against
another library and against a slow straightforward reckoning."""

from __future__ import annotations

import math
import random
from pathlib import Path

import numpy as np
import pytest
from knowledge_copy import SMALL
from msgspec.structs import replace
from shop_draws import Draws, as_learnt, shaken, with_network

from diagnose import load_knowledge
from diagnose.cases.learn import Evidence, Learnt, learn
from diagnose.cases.proposal import learnt_changes, learnt_text, rounded
from diagnose.cases.record import Case, Confirmed, Ranked
from diagnose.cases.replay import chances, mean_place, mean_score, placed
from diagnose.explanations import Explanations
from diagnose.model import Model
from diagnose.network import NOT_COVERED, Network
from diagnose.overlay import with_own
from diagnose.records import Knowledge, Learn
from diagnose.rules import all_links

Cases = list[tuple[str, Case]]


def weighing(knowledge: Knowledge, cause: float, link: float) -> Knowledge:
    """The knowledge with other weights for learning."""
    weights = Learn(cause_weight=cause, link_weight=link)
    return replace(knowledge, scales=replace(knowledge.scales, learn=weights))


def confirmed(cause: str, **answers: str) -> Case:
    """A case with these answers ('_' for '-')."""
    case = Case(date="2026-01-01", confirmed=[Confirmed(cause)])
    case.answers = {id.replace("_", "-"): value for id, value in answers.items()}
    return case


def numbered(cases: list[Case]) -> Cases:
    return [(f"2026-01-01-{n:04x}", case) for n, case in enumerate(cases)]


# by hand


def test_no_case_changes_nothing(small: Knowledge) -> None:
    """Every number stays as it is written."""
    learnt = learn(Model(small), [])
    assert all(one.after == one.before for one in learnt.links.values())
    for one in learnt.causes.values():
        assert one.after == pytest.approx(one.before)


def test_a_link_is_counted(small: Knowledge) -> None:
    """20 slack screens, 5 of which gave: (w s0 + expected) / (w + n), where a yes is
    the link's doing but for what is seen anyway. Solved here by bisection."""
    known = replace(small, scales=replace(small.scales, answer_sure=1.0))
    cases = [confirmed("slack", gives="yes") for _ in range(5)]
    cases += [confirmed("slack", gives="no") for _ in range(15)]
    learnt = learn(Model(known), numbered(cases))
    finding = known.findings["gives"]
    anyway = known.scales.seen_anyway[finding.seen_anyway or ""]
    first, weight = known.scales.strengths["usually"], known.scales.learn.link_weight

    def left(s: float) -> float:
        worked = 5 * s / (1 - (1 - s) * (1 - anyway))
        return (weight * first + worked) / (weight + 20) - s

    low, high = 0.0, 1.0
    for _ in range(60):
        middle = (low + high) / 2
        low, high = (middle, high) if left(middle) > 0 else (low, middle)
    assert learnt.links["slack", "gives", "yes"].after == pytest.approx(low, abs=2e-3)
    assert learnt.links["slack", "gives", "yes"].cases == pytest.approx(20)


def test_how_common_goes_by_what_was_expected(small: Knowledge) -> None:
    """odds = odds0 (a + cases) / (a + N share0)."""
    cases = [confirmed("nick") for _ in range(6)] + [confirmed("slack")] * 4
    model = Model(small)
    learnt = learn(model, numbered(cases))
    weight, odds = small.scales.learn.cause_weight, model.network.odds
    for cause, count in (("nick", 6), ("slack", 4), ("few-coats", 0)):
        share = odds[cause] / sum(odds.values())
        wanted = odds[cause] * (weight + count) / (weight + 10 * share)
        after = learnt.causes[cause].after
        assert after / (1 - after) == pytest.approx(wanted)


def test_three_cases_change_little_three_hundred_decide(small: Knowledge) -> None:
    """A strength of 0.77 whose finding never shows: above 0.6 after three cases, below
    0.1 after three hundred."""
    for count, low, high in ((3, 0.6, 0.77), (300, 0.0, 0.1)):
        cases = [confirmed("slack", gives="no") for _ in range(count)]
        after = (
            learn(Model(small), numbered(cases)).links["slack", "gives", "yes"].after
        )
        assert low < after < high


def test_what_was_not_answered_is_missing(small: Knowledge) -> None:
    """Cases without the answer leave the link as it was, and so does "don't know"."""
    cases = [confirmed("slack") for _ in range(50)]
    cases += [confirmed("slack", gives="don't know") for _ in range(50)]
    one = learn(Model(small), numbered(cases)).links["slack", "gives", "yes"]
    assert one.after == one.before
    assert one.cases == 0


def test_what_is_confirmed_in_free_words_is_not_covered(small: Knowledge) -> None:
    """It makes what the knowledge does not cover more common, and moves no link."""
    cases = [Case(date="2026-01-01", confirmed=[Confirmed(other="a cat")])] * 5
    learnt = learn(Model(small), numbered(cases))
    assert learnt.causes[NOT_COVERED].after > learnt.causes[NOT_COVERED].before
    assert all(one.after == one.before for one in learnt.links.values())


def test_a_cause_that_is_gone_is_told(small: Knowledge) -> None:
    """The case is left out, and named."""
    learnt = learn(Model(small), numbered([confirmed("gone"), confirmed("nick")]))
    assert learnt.confirmed == 1
    assert learnt.left_out == (
        "2026-01-01-0000: the knowledge has no cause 'gone'; left out.",
    )


def test_settling_checks_do_not_count(small_with_proofs: Knowledge) -> None:
    """The answer to a check that settles a cause is no evidence for its links."""
    case = confirmed("slack", gives="yes", proof_of_slack="yes")
    seen = dict(Evidence(Model(small_with_proofs)).of(case))
    assert set(seen) == {"gives"}


def test_a_reading_counts_as_softly_as_it_was_read(small: Knowledge) -> None:
    """What rules conclude from a reading is evidence like an answer."""
    model = Model(small)
    case = Case(date="2026-01-01", confirmed=[Confirmed("few-coats")])
    case.readings = {"thickness": "3"}
    seen = dict(Evidence(model).of(case))
    assert seen["thickness-low"][0] > 0.5
    link = learn(model, numbered([case] * 40)).links["thin", "thickness-low", "yes"]
    assert link.cases > 30


# against a slow straightforward reckoning


def random_cases(model: Model, seed: int, count: int) -> Cases:
    """Cases with one or two causes and any answers at all."""
    draw = random.Random(seed)
    made = []
    for _ in range(count):
        causes = draw.sample(sorted(model.knowledge.causes), draw.choice([1, 1, 1, 2]))
        case = Case(date="2026-01-01", confirmed=[Confirmed(c) for c in causes])
        for id in model.network.outcomes:
            if draw.random() < 0.7:
                finding = model.knowledge.findings[id]
                case.group(finding)[id] = draw.choice(finding.values())
        made.append(case)
    return numbered(made)


def with_strength(
    network: Network, key: tuple[str, str, str], strength: float
) -> Network:
    """The network with one other strength."""
    owner, target, value = key

    def put(makers: tuple[tuple[str, float], ...]) -> tuple[tuple[str, float], ...]:
        return tuple((m, strength if m == owner else s) for m, s in makers)

    states, outcomes = dict(network.states), dict(network.outcomes)
    if not value:
        states[target] = put(states[target])
    else:
        outcomes[target] = tuple(
            type(one)(one.finding, one.value, one.anyway, put(one.makers))
            if one.value == value
            else one
            for one in outcomes[target]
        )
    return Network(network.odds, states, outcomes)


def fits(model: Model, network: Network, cases: Cases) -> float:
    """log of the chance of all answers given the causes, summed over cases, by
    `Explanations.weigh`, which the learner does not use."""
    evidence, total = Evidence(model), 0.0
    for _, case in cases:
        causes = sorted({one.cause for one in case.confirmed})
        rows = Explanations(network, causes, sizes=(len(causes),))
        odds = sum(math.log(network.odds[cause]) for cause in causes)
        total += rows.weigh(dict(evidence.of(case))).log_total - odds
    return total


@pytest.mark.parametrize("seed", range(4))
def test_no_strength_near_by_fits_better(small: Knowledge, seed: int) -> None:
    """At what was learnt, the chance of all answers times that of the strengths
    (a Beta density with the written strength as w cases) falls to either side."""
    known = weighing(small, 3, 5)
    model = Model(known)
    cases = random_cases(model, seed, 60)
    learnt = learn(model, cases)
    network = as_learnt(model.network, learnt)

    def whole(key: tuple[str, str, str], s: float) -> float:
        first, weight = learnt.links[key].before, known.scales.learn.link_weight
        prior = weight * (first * math.log(s) + (1 - first) * math.log1p(-s))
        return fits(model, with_strength(network, key, s), cases) + prior

    for key, one in learnt.links.items():
        if key[0] == NOT_COVERED:
            assert one.after == one.before
            continue
        here = whole(key, one.after)
        for step in (-0.02, 0.02):
            assert whole(key, min(max(one.after + step, 0.001), 0.999)) < here + 1e-3


def test_the_order_of_the_cases_does_not_count(small: Knowledge) -> None:
    """The same numbers from the same cases, shuffled."""
    model = Model(small)
    cases = random_cases(model, 7, 40)
    shuffled = cases[:]
    random.Random(1).shuffle(shuffled)
    first, second = learn(model, cases), learn(model, shuffled)
    for key, one in first.links.items():
        assert second.links[key].after == pytest.approx(one.after, abs=1e-9)


# against another library


def test_the_same_as_a_general_library_where_all_is_observed(tmp_path: Path) -> None:
    """pyAgrum's learner on a cause with its findings, every one observed: with
    Laplace's rule its table is (k + w/2) / (n + w), ours with a written strength of a
    half, nothing seen anyway and no slip is the same."""
    gum = pytest.importorskip("pyagrum")
    known = load_knowledge(SMALL)
    shows = [one for one in known.causes["nick"].shows if one.finding == "nick-felt"]
    link = shows[0]
    tiny = dict.fromkeys(known.scales.seen_anyway, 1e-9)
    weight = 4.0
    scales = replace(
        known.scales,
        strengths={**known.scales.strengths, "half": 0.5},
        seen_anyway=tiny,
        answer_sure=1.0,
        learn=Learn(cause_weight=3, link_weight=weight),
    )
    ends = {
        "few-coats": ["nick-felt", "bands"],
        "slack": ["gives", "bands", "nick-felt"],
        "nick": ["gives", "bands", "nick-felt"],
    }
    causes = {
        id: replace(
            known.causes[id],
            makes=[],
            shows=[replace(link, finding=f, strength="half") for f in found],
        )
        for id, found in ends.items()
    }
    known = replace(known, scales=scales, causes=causes)
    findings = ["gives", "bands", "nick-felt"]
    draw = random.Random(3)
    rows, cases = [], []
    for _ in range(200):
        cause = draw.choice(sorted(ends))
        values = dict.fromkeys(findings, "no")
        values |= {f: draw.choice(["yes", "no", "no"]) for f in ends[cause]}
        rows.append([cause, *values.values()])
        cases.append(
            Case(date="2026-01-01", confirmed=[Confirmed(cause)], answers=values)
        )
    table = tmp_path / "cases.csv"
    lines = [["cause", *findings], *rows]
    table.write_text("\n".join(",".join(line) for line in lines), encoding="utf-8")
    net = gum.BayesNet()
    net.add(gum.LabelizedVariable("cause", "", sorted(ends)))
    for finding in findings:
        net.add(gum.LabelizedVariable(finding, "", ["no", "yes"]))
        net.addArc("cause", finding)
    learner = gum.BNLearner(str(table), net)
    learner.useSmoothingPrior(weight / 2)  # for each cell
    theirs = learner.learnParameters(net.dag())
    ours = learn(Model(known), numbered(cases))
    for cause, found in ends.items():
        for finding in found:
            share = theirs.cpt(finding)[{"cause": cause}]
            labels = theirs.variable(finding).labels()
            wanted = float(share[labels.index("yes")])
            assert ours.links[cause, finding, "yes"].after == pytest.approx(
                wanted, abs=2e-4
            )


# against the truth


def truth_of(network: Network) -> dict[tuple[str, str, str], float]:
    """Every strength of a network."""
    found = {(m, s, ""): x for s, makers in network.states.items() for m, x in makers}
    return found | {
        (maker, finding, one.value): strength
        for finding, outcomes in network.outcomes.items()
        for one in outcomes
        for maker, strength in one.makers
    }


def test_estimates_approach_the_truth(small: Knowledge) -> None:
    """The error of strengths falls about as one over the root of the cases."""
    model = Model(small)
    rng = np.random.default_rng(5)
    truth = shaken(model.network, rng, links=1.0)
    wanted = {k: s for k, s in truth_of(truth).items() if k[0] != NOT_COVERED}
    errors = []
    for count in (30, 1000, 30000):
        cases = Draws(model, truth, share=0.8).cases(count, rng)
        learnt = learn(model, cases)
        far = [abs(learnt.links[key].after - s) for key, s in wanted.items()]
        errors.append(sum(far) / len(far))
    assert errors[0] > errors[1] > errors[2]
    assert errors[2] < 0.03
    share = truth.odds["nick"] / sum(
        odds for cause, odds in truth.odds.items() if cause != NOT_COVERED
    )
    met = sum(c.after / (1 - c.after) for k, c in learnt.causes.items() if k != "")
    after = learnt.causes["nick"].after
    assert after / (1 - after) / met == pytest.approx(share, abs=0.01)


def test_unconfirmed_cases_help(small: Knowledge) -> None:
    """500 cases of which one in ten is confirmed: closer to the truth with the others
    than without them; alone they still move what is common the right way."""
    model = Model(small)
    rng = np.random.default_rng(11)
    truth = shaken(model.network, rng, common=1.5)
    cases = Draws(model, truth, share=1.0).cases(500, rng)
    for n, (_, case) in enumerate(cases):
        if n % 10:
            ranked = sorted(chances(model, case).items(), key=lambda one: -one[1])
            case.ranking = [Ranked(cause, chance) for cause, chance in ranked[:10]]
            case.confirmed = []

    def far(learnt: Learnt) -> float:
        odds = {k: c.after / (1 - c.after) for k, c in learnt.causes.items()}
        total, wanted = sum(odds.values()), sum(truth.odds.values())
        shares = [abs(odds[k] / total - truth.odds[k] / wanted) for k in odds]
        return sum(shares)

    without, with_them = learn(model, cases), learn(model, cases, unconfirmed=True)
    assert with_them.unconfirmed == 450
    assert far(with_them) < far(without)


def test_the_ranking_gets_better_on_cases_not_seen(
    built_in: Knowledge,
) -> None:
    """A shop whose numbers are others than the written ones: no worse after 30 cases,
    better after 300, by the mean log of the chance of the cause that it was."""
    model = Model(built_in)
    rng = np.random.default_rng(1)
    truth = shaken(model.network, rng)
    draws = Draws(model, truth)
    unseen = [case for _, case in draws.cases(50, rng)]

    def places(network: Network) -> tuple[float, float]:
        ranking = with_network(built_in, network)
        ranking.__dict__["rules"] = model.rules
        found = [placed(chances(ranking, c), c.confirmed[0].cause) for c in unseen]
        return mean_score(found), mean_place(found)

    score, place = places(model.network)
    few, place_few = places(
        as_learnt(model.network, learn(model, draws.cases(30, rng)))
    )
    many, place_many = places(
        as_learnt(model.network, learn(model, draws.cases(300, rng)))
    )
    assert few > score - 0.02
    assert place_few < place + 0.5
    assert many > score + 0.02
    assert place_many < place + 0.5


# the draft


def test_the_draft_says_what_is_learnt(
    small_with_proofs: Knowledge, tmp_path: Path
) -> None:
    """Read back as a change, it gives the numbers that were learnt, to two digits; each
    with the word that stood there, and the cases."""
    plain = load_knowledge(SMALL)
    model = Model(plain)
    cases = random_cases(model, 2, 200)
    learnt = learn(model, cases)
    text = learnt_text(learnt, plain, plain, cases, "shop/proposals/x.yaml")
    draft = tmp_path / "x.yaml"
    draft.write_text(text, encoding="utf-8")
    known = with_own(SMALL, tmp_path, also=[draft])
    links = {link.id: link for link in all_links(known).values()}
    causes, changed = learnt_changes(learnt, plain)
    assert causes
    assert changed
    for (owner, target, value), one in changed.items():
        link = links[f"{owner}>{target}" + (f"={value}" if value else "")]
        strength = known.scales.strengths[link.strength]
        assert strength == pytest.approx(rounded(one.after), abs=1e-9)
    for cause, one in causes.items():
        if cause != NOT_COVERED:
            word = known.causes[cause].how_common
            assert known.scales.how_common[word] == pytest.approx(rounded(one.after))
    assert "was:" in text
    assert "about " in text
    assert all(len(one) <= 88 for one in text.splitlines())
    untouched = set(all_links(plain)) - {
        f"{owner}>{target}" + (f"={value}" if value else "")
        for owner, target, value in changed
    }
    for id in untouched:
        assert links[id].strength == all_links(plain)[id].strength
