"""Foresee: every window that a recipe crosses raises its fault, and none else."""

from __future__ import annotations

import json
import math
import random
from pathlib import Path

import pytest

from diagnose.checks import conditions
from diagnose.cli import main
from diagnose.consultation import Consultation
from diagnose.errors import AnswerError
from diagnose.foresee import UNFIT, Forward, foresee, recipe_of
from diagnose.look import Given, what_is_given
from diagnose.model import Model, model_of
from diagnose.records import Condition, Finding, Knowledge, Proof, Rule
from diagnose.worlds import World


@pytest.fixture(scope="module")
def model(built_in: Knowledge) -> Model:
    return model_of(built_in)


@pytest.fixture(scope="module")
def forward(model: Model) -> Forward:
    return Forward(model)


NOT_MET = {
    "good-meter-reading-soft-mesh": "its other condition is a sign, known of no recipe",
    "solid-steps-yet-slimy": "its other condition is a sign, known of no recipe",
}
"""Rules with a limit that no recipe can meet, and why."""


OUTWEIGHED = {
    "tension-fifteen-to-twenty": "the same reading clears the limit of 15 N/cm, below "
    "which no source accepts a screen, and that counts for more",
    "humidity-forty-to-fifty": "the same reading clears the limit of 50 %",
    "black-two-to-two-and-a-half": "the same reading clears the limit of 2 D",
}
"""Rules that weigh causes up which are less likely than in any shop all the same."""


def far_enough(condition: Condition, reading: Finding) -> str:
    """A reading that meets a condition clearly."""
    margin = 4 * (reading.give_or_take or 0.0)
    low, high = reading.lowest or 0.0, reading.highest or 0.0
    if condition.below is not None:
        return f"{max(low, condition.below - margin):g}"
    if condition.above is not None:
        return f"{min(high, condition.above + margin):g}"
    first, last = condition.between or (low, high)
    return f"{(first + last) / 2:g}"


def met(knowledge: Knowledge, rule: Rule) -> Consultation:
    """A recipe in which a rule holds, and nothing else is said."""
    consultation = Consultation(knowledge)
    limits: dict[str, list[Condition]] = {}
    for group, place, condition in conditions(rule):
        if group == "none" or (group == "any" and place):
            continue
        if condition.reading is not None:
            limits.setdefault(condition.reading, []).append(condition)
        else:
            assert condition.finding is not None
            consultation.answer(condition.finding, sorted(condition.wanted())[0])
    for id, of in limits.items():
        consultation.answer(id, far_enough(of[0], knowledge.findings[id]))
    return consultation


def raising(knowledge: Knowledge) -> list[Rule]:
    """The rules with a limit that make a fault likelier: they conclude that something
    is so which a cause brings about, or weigh causes up."""
    found = []
    for rule in knowledge.rules.values():
        has_limit = any(c.reading for _, _, c in conditions(rule))
        up = [one for one in rule.then.weigh if one.how_much.endswith("more likely")]
        yes = [one for one in rule.then.conclude if one.value == "yes"]
        if has_limit and (up or yes):
            found.append(rule)
    return found


def test_every_limit_that_is_crossed_raises_its_fault(forward: Forward) -> None:
    """Each limit of a reading that a rule tests, in every window that one names: with
    all conditions of the rule met, each cause that it points to is likelier than in
    any shop, or one of them at least where it points to them by a finding; and a sign
    that they make is likelier than by the same recipe without the reading."""
    knowledge = forward.model.knowledge
    rules = raising(knowledge)
    assert len(rules) >= 30
    windows = set()
    for rule in rules:
        if rule.id in NOT_MET or rule.id in OUTWEIGHED:
            continue
        consultation = met(knowledge, rule)
        given = what_is_given(forward.model, consultation.sheet)
        assert rule.id in fired(forward, given, rule), rule.id
        run = forward.run(given)
        pointed = {
            cause
            for one in rule.then.conclude
            if one.value == "yes"
            for cause in forward.makers_of(one.finding)
        }
        weighed = {
            cause
            for one in rule.then.weigh
            if one.how_much.endswith("more likely")
            for cause in one.causes
        }
        assert pointed | weighed, rule.id
        risen = {c for c in pointed | weighed if run.causes[c] > forward.priors[c]}
        assert risen & pointed or not pointed, rule.id
        assert weighed <= risen | set(given.table.ruled_out), (rule.id, weighed - risen)
        for condition in (c for _, _, c in conditions(rule) if c.reading):
            consultation.withdraw(condition.reading or "")
            windows.add(condition.window)
        without = forward.run(what_is_given(forward.model, consultation.sheet))
        rise = run.signs(forward.anyway) - without.signs(forward.anyway)
        own = [
            place
            for place in range(len(forward.signs))
            if any(run.made[cause][place] > 0.01 for cause in risen)
        ]
        assert max(rise[place] for place in own) > 0, rule.id
    tested = {c.window for r in rules for _, _, c in conditions(r) if c.window}
    assert windows - {None} == tested - {
        c.window for id in NOT_MET for _, _, c in conditions(knowledge.rules[id])
    }


def fired(forward: Forward, given: Given, rule: Rule) -> set[str]:
    """Whether the rule fired: what it concludes is known, or its weights are there."""
    known = all(
        one.finding in given.known and given.known[one.finding].value == one.value
        for one in rule.then.conclude
    )
    words = {(cause, one.how_much) for one in rule.then.weigh for cause in one.causes}
    there = {
        (cause, word) for cause, made in given.table.weighed.items() for _, word in made
    }
    return {rule.id} if known and words <= there else set()


def test_windows_of_rules_that_raise_nothing_are_remarks(forward: Forward) -> None:
    """A window that a rule names and that raises no fault: the rule tells something,
    or says that all is well (within)."""
    knowledge = forward.model.knowledge
    raised = {
        c.window for r in raising(knowledge) for _, _, c in conditions(r) if c.window
    }
    for rule in knowledge.rules.values():
        for _, _, condition in conditions(rule):
            if condition.window is None or condition.window in raised:
                continue
            assert rule.then.tell or rule.then.weigh or condition.side == "within", (
                rule.id
            )


def good_recipe(forward: Forward) -> Consultation:
    """Every reading at its usual value, all habits good, and set-up that no cause of a
    fault is known by; what comes with the job is left open."""
    consultation = Consultation(forward.model.knowledge)
    for finding in forward.model.knowledge.findings.values():
        if isinstance(finding, Proof) or finding.role in UNFIT:
            continue
        if finding.kind == "reading":
            if finding.usual is not None:
                consultation.answer(finding.id, f"{finding.usual:g}")
        elif finding.given == "no" and finding.measured_by is None:
            usual = [
                value
                for value in finding.values()
                if forward.model.network.is_usual(finding.id, value)
            ]
            if usual:
                consultation.answer(finding.id, usual[-1])
    return consultation


def test_a_recipe_inside_all_windows_raises_nothing(forward: Forward) -> None:
    """All readings that have a usual value, which lies inside each window that a rule
    holds it against, with good habits and set-up."""
    model = forward.model
    consultation = good_recipe(forward)
    given = what_is_given(model, consultation.sheet)
    assert len(given.readings) >= 44
    run = forward.run(given)
    now, usual = run.signs(forward.anyway), forward.usual.signs(forward.anyway)
    risen = {
        sign: (float(a), float(b))
        for sign, a, b in zip(forward.signs, now, usual, strict=True)
        if a > b + 1e-9
    }
    assert not risen
    outcome = foresee(model, consultation.sheet)
    assert not outcome.likely


def test_readings_by_themselves_inside_all_windows_raise_nothing(
    forward: Forward,
) -> None:
    consultation = Consultation(forward.model.knowledge)
    for finding in forward.model.knowledge.findings.values():
        if finding.usual is not None:
            consultation.answer(finding.id, f"{finding.usual:g}")
    run = forward.run(what_is_given(forward.model, consultation.sheet))
    rise = run.signs(forward.anyway) - forward.usual.signs(forward.anyway)
    assert rise.max() <= 1e-9, forward.signs[int(rise.argmax())]


WORLDS = 2000

SIGNS = 10


@pytest.mark.parametrize(
    "cause", ["coats-too-few", "mesh-not-degreased", "room-too-humid"]
)
def test_what_one_cause_makes_is_what_is_counted_in_worlds(
    forward: Forward, cause: str
) -> None:
    """The chance of a sign where one cause is there, against 2,000 worlds drawn from
    the links, for its ten likeliest signs: within three standard deviations."""
    worlds = [World(forward.model, (cause,), f"b{run}") for run in range(WORLDS)]
    made = forward.usual.made[cause]
    for place in sorted(range(len(made)), key=lambda i: -made[i])[:SIGNS]:
        predicted = 1 - (1 - forward.anyway[place]) * (1 - made[place])
        sign = forward.signs[place]
        counted = sum(world.value(sign) == "yes" for world in worlds)
        sigma = math.sqrt(WORLDS * predicted * (1 - predicted))
        assert abs(counted - WORLDS * predicted) <= 3 * sigma, (
            sign,
            counted,
            predicted,
        )


def test_independent_causes_are_what_is_counted_in_worlds(forward: Forward) -> None:
    """The whole sum, in which each cause is there or not by itself: 2,000 worlds with
    every cause at its base rate, for the ten signs most often met."""
    draw = random.Random(3)
    counted = dict.fromkeys(forward.signs, 0)
    usual = forward.usual.signs(forward.anyway)
    often = sorted(range(len(usual)), key=lambda i: -usual[i])[:SIGNS]
    for run in range(WORLDS):
        there = tuple(c for c in forward.causes if draw.random() < forward.priors[c])
        world = World(forward.model, there, str(run))
        for place in often:
            sign = forward.signs[place]
            yes = world.is_made(sign) or draw.random() < forward.anyway[place]
            counted[sign] += yes
    for place in often:
        sign, predicted = forward.signs[place], float(usual[place])
        sigma = math.sqrt(WORLDS * predicted * (1 - predicted))
        off = (counted[sign] - WORLDS * predicted) / sigma
        assert -4.5 <= off <= 3, (sign, counted[sign], predicted, off)


def test_without_answers_the_chances_are_the_base_rates(forward: Forward) -> None:
    run = forward.run(
        what_is_given(forward.model, Consultation(forward.model.knowledge).sheet)
    )
    for cause, chance in run.causes.items():
        assert chance == pytest.approx(forward.priors[cause])


def test_a_single_cause_is_exact(forward: Forward) -> None:
    """With nothing but the cause and one sign, Bayes by hand says the same."""
    model = forward.model
    cause, finding = "coats-too-few", "edges-sawtooth"
    made = model.chances_alone(cause, finding)["yes"]
    anyway = model.chances_anyway(finding)["yes"]
    place = forward.signs.index(finding)
    by_hand = 1 - (1 - made) / (1 - anyway)
    assert forward.usual.made[cause][place] == pytest.approx(by_hand)


def test_changes_try_habits_and_set_up(model: Model) -> None:
    """Degreasing, the trough's edge and the lamp are put right, each with what it
    lowers, the cause behind it and what is done; what comes with the job stays."""
    words = ["not-degreased=yes", "trough-edge-used=sharp", "lamp-kind=bulb"]
    words += ["printed-on=paper", "stencil-kind=diazo"]
    outcome = foresee(model, recipe_of(model.knowledge, words), most=9)
    changes = {change.finding: change for change in outcome.changes}
    assert set(changes) == {"not-degreased", "trough-edge-used", "lamp-kind"}
    assert changes["not-degreased"].cause == "mesh-not-degreased"
    assert "round edge" in changes["trough-edge-used"].to
    for change in changes.values():
        assert change.falls
        assert all(then < now for _, now, then in change.falls)
        assert change.cause_falls[1] < change.cause_falls[0]
        assert change.how
    signs = [change.signs for change in outcome.changes]
    assert signs == sorted(signs, reverse=True)
    assert len(foresee(model, recipe_of(model.knowledge, words)).changes) == 3


def test_a_change_is_worked_out_in_numbers(model: Model) -> None:
    """A ruling too fine for its mesh: 3.75 threads a row are the limit (the window),
    so 43 threads/cm hold 11.5 lines/cm, and 18 lines/cm want 67.5 threads/cm."""
    words = ["ruling=18", "mesh-count=43", "thread-diameter=80 um"]
    outcome = foresee(model, recipe_of(model.knowledge, words))
    changes = {change.finding: change for change in outcome.changes}
    assert set(changes) == {"mesh-count", "ruling"}
    assert float(changes["mesh-count"].to.split()[0]) >= 67.5
    assert float(changes["ruling"].to.split()[0]) <= 11.5
    assert "11.5 lines/cm" in changes["ruling"].numbers[0]


def test_what_rules_tell_is_told_in_words(model: Model) -> None:
    outcome = foresee(model, recipe_of(model.knowledge, ["tension=17"]))
    (rule,) = (r for r in model.knowledge.rules if r == "tension-fifteen-to-twenty")
    assert outcome.tells == (model.knowledge.rules[rule].then.tell,)


def test_json_has_all_that_is_shown(
    model: Model, capsys: pytest.CaptureFixture[str]
) -> None:
    """Each number and sentence of the screen stands in the JSON too."""
    words = ["eom=4 %", "tension=17 N/cm", "mesh-count=43", "ruling=18"]
    outcome = foresee(model, recipe_of(model.knowledge, words))
    assert main(["foresee", *words, "--json"]) == 0
    data = json.loads(capsys.readouterr().out)
    assert data["important"] == list(outcome.tells)
    assert data["cautions"] == list(outcome.cautions)
    assert [one["finding"] for one in data["likely"]] == [
        one.finding for one in outcome.likely
    ]
    assert len(data["every_sign"]) == len(outcome.every) > len(data["likely"])
    for one, change in zip(data["changes"], outcome.changes, strict=True):
        assert one["what_to_do"] == change.how
        assert one["in_numbers"] == list(change.numbers)
        assert (one["cause"], one["cause_name"]) == (change.cause, change.cause_name)
        assert (one["cause_now"], one["cause_then"]) == change.cause_falls
        assert [list(fall.values()) for fall in one["falls"]] == [
            list(fall) for fall in change.falls
        ]
    (working,) = (one for one in data["worked_out"])
    assert working["amounts"][0]["value"] == pytest.approx(43 / 18)


def test_the_reasons_and_the_changes_name_what_was_given(model: Model) -> None:
    recipe = recipe_of(model.knowledge, ["eom=4%", "tension=12N/cm"])
    outcome = foresee(model, recipe)
    assert outcome.likely[0].finding == "edges-sawtooth"
    (reason, *_) = outcome.likely[0].reasons
    assert reason.answers[0].startswith("Less than 10 %")
    assert reason.steps
    assert {change.finding for change in outcome.changes} == {"eom", "tension"}
    assert all(change.signs > 0 for change in outcome.changes)


def test_a_file_and_words_say_the_same(
    model: Model, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "recipe.yaml"
    path.write_text("set_up: {coats-put-on: one}\nreadings: {eom: 4 %}\n")
    assert main(["foresee", str(path), "--json"]) == 0
    of_file = json.loads(capsys.readouterr().out)
    assert main(["foresee", "eom=4 %", "coats-put-on=one", "--json"]) == 0
    assert json.loads(capsys.readouterr().out) == of_file
    assert main(["foresee", str(path)]) == 0
    assert max(map(len, capsys.readouterr().out.splitlines())) <= 80


@pytest.mark.parametrize(
    "words",
    [
        [],
        [""],
        ["eom"],
        ["eom="],
        ["=5"],
        ["eom=x"],
        ["eom=5 kg"],
        ["tensoin=12"],
        ["edges-sawtooth=yes"],
        ["eom=" + "9" * 10_000],
        ["x" * 10_000 + "=1"],
        ["eom=5", "x" * 10_000],
        ["no-such-file.yaml"],
    ],
)
def test_bad_words_are_told(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["foresee", *words]) == 2
    told = capsys.readouterr().err
    assert "Traceback" not in told
    assert 10 < len(told) < 600
    assert len(told.strip().splitlines()) <= 8


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "recipe.yaml"),
        ("readings: {eom: 5 kg}", "recipe.yaml:1"),
        ("readings:\n  tensoin: 12", "recipe.yaml:2"),
        ("- a", "recipe.yaml"),
        ("a: [", "recipe.yaml"),
        ("answers: {edges-sawtooth: yes}", "edges-sawtooth"),
    ],
)
def test_a_bad_recipe_is_told_by_its_line(
    text: str, says: str, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    path = tmp_path / "recipe.yaml"
    path.write_text(text)
    assert main(["foresee", str(path)]) == 2
    told = capsys.readouterr().err
    assert says in told
    assert len(told.strip().splitlines()) <= 5


def test_nothing_known_is_no_recipe(built_in: Knowledge) -> None:
    with pytest.raises(AnswerError, match="says nothing"):
        recipe_of(built_in, ["eom=?"])
