"""Foresee: every window that a recipe crosses raises its fault, and none else."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from diagnose.checks import conditions
from diagnose.cli import main
from diagnose.consultation import Consultation
from diagnose.errors import AnswerError
from diagnose.foresee import Forward, foresee, recipe_of
from diagnose.look import what_is_given
from diagnose.model import Model, model_of
from diagnose.records import Condition, Knowledge


@pytest.fixture(scope="module")
def model(built_in: Knowledge) -> Model:
    return model_of(built_in)


@pytest.fixture(scope="module")
def forward(model: Model) -> Forward:
    return Forward(model)


def crossings(knowledge: Knowledge) -> list[tuple[str, str, str]]:
    """Each reading well beyond an edge of its window, and the fault that follows."""
    found = []
    for rule in knowledge.rules.values():
        if len(list(conditions(rule))) != 1:
            continue
        condition = rule.when.all[0] if rule.when.all else Condition()
        if not condition.window or condition.side == "within":
            continue
        reading = knowledge.findings[condition.reading or ""]
        margin = 4 * (reading.give_or_take or 0.0)
        if condition.below is not None:
            value = max(reading.lowest or 0.0, condition.below - margin)
        else:
            assert condition.above is not None
            value = min(reading.highest or 0.0, condition.above + margin)
        faults = [one.finding for one in rule.then.conclude if one.value == "yes"]
        found += [(reading.id, f"{value:g}", fault) for fault in faults]
    return found


def test_every_window_that_is_crossed_raises_its_fault(forward: Forward) -> None:
    model, crossed = forward.model, crossings(forward.model.knowledge)
    assert len(crossed) >= 15
    usual = forward.usual.signs(forward.anyway)
    for reading, value, fault in crossed:
        consultation = Consultation(model.knowledge)
        consultation.answer(reading, value)
        run = forward.run(what_is_given(model, consultation.sheet))
        causes = list(forward.makers_of(fault))
        if not causes:
            continue
        raised = [c for c in causes if run.causes[c] > forward.priors[c]]
        assert raised, (reading, value, fault)
        signs = run.signs(forward.anyway) - usual
        assert signs.max() > 0, (reading, value, fault)


def test_a_recipe_inside_all_windows_raises_nothing(forward: Forward) -> None:
    model = forward.model
    consultation = Consultation(model.knowledge)
    inside = {
        "eom": "17 %",
        "tension": "23 N/cm",
        "tension-spread": "1 N/cm",
        "room-humidity": "40 %",
        "drying-temperature": "35 degC",
        "film-density": "3.8 D",
        "stencil-rz": "6 um",
        "off-contact": "3.5 mm",
    }
    for reading, value in inside.items():
        consultation.answer(reading, value)
    run = forward.run(what_is_given(model, consultation.sheet))
    now, usual = run.signs(forward.anyway), forward.usual.signs(forward.anyway)
    risen = {
        sign: (float(a), float(b))
        for sign, a, b in zip(forward.signs, now, usual, strict=True)
        if a > b + 1e-9
    }
    assert not risen


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
    [[], [""], ["eom"], ["eom="], ["=5"], ["eom=x"], ["zz=1"], ["edges-sawtooth=yes"]],
)
def test_bad_words_are_told(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["foresee", *words]) == 2
    assert "Traceback" not in capsys.readouterr().err


def test_nothing_known_is_no_recipe(built_in: Knowledge) -> None:
    with pytest.raises(AnswerError, match="says nothing"):
        recipe_of(built_in, ["eom=?"])
