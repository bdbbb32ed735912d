"""Several questions on one screen, and answers that do not go together."""

from __future__ import annotations

from itertools import count
from pathlib import Path

import pytest
from held import TO_A_QUESTION, Held, Hold, holder
from hypothesis import given
from hypothesis import strategies as st

from diagnose import Consultation, typed
from diagnose.contrast import AtOdds
from diagnose.questions import Question
from diagnose.records import Knowledge

# what is typed


def yes_no(id: str) -> Question:
    takes = {"yes": "", "no": "", "somewhat": "", "don't know": ""}
    return Question(id, "finding", "?", "", "", takes, 1)


THREE = {number: yes_no(f"q{number}") for number in (1, 2, 3)}
DONT = "don't know"


@pytest.mark.parametrize(
    ("line", "answers"),
    [
        ("y n ?", {1: "yes", 2: "no", 3: DONT}),
        ("yn?", {1: "yes", 2: "no", 3: DONT}),
        ("Y, N, S.", {1: "yes", 2: "no", 3: "somewhat"}),
        ("yes no", {1: "yes", 2: "no"}),
        ("y", {1: "yes"}),
        ("I don't know", {1: DONT}),
        ("a little", {1: "somewhat"}),
        ("2 n", {2: "no"}),
        ("2n", {2: "no"}),
        ("3: y, 1: n", {3: "yes", 1: "no"}),
        ("2 y n", {2: "yes", 1: "no"}),
        ("y n y n", None),
        ("4 y", None),
        ("2", None),
        ("2 3 y", None),
        ("y 1 n", None),
        ("maybe", None),
        ("yyyy", None),
        ("₂ y", None),
        ("", None),
    ],
)
def test_answers_to_several_questions_on_one_line(
    line: str, answers: dict[int, str] | None
) -> None:
    """In turn, or by number; a line that fits not wholly answers nothing."""
    assert typed.several(THREE, line) == answers


def test_only_what_is_still_open_is_answered() -> None:
    """The first answer without a number is for the first that is open."""
    left = {2: THREE[2], 3: THREE[3]}
    assert typed.several(left, "y") == {2: "yes"}
    assert typed.several(left, "1 y") is None


@given(st.text(max_size=30))
def test_any_line_is_answers_or_none(line: str) -> None:
    """Whatever is typed: each answer is one that its question takes."""
    found = typed.several(THREE, typed.one_line(line))
    for number, value in (found or {}).items():
        assert value in THREE[number].takes


# the interview


@pytest.fixture
def glance(hold: Hold, monkeypatch: pytest.MonkeyPatch) -> Hold:
    """Hold an interview in which bands, give and nick are seen in one glance."""

    def together(self: Consultation, most: int = 3) -> list[Question]:
        ids = ("bands", "gives", "nick-felt")
        left = [id for id in ids if id not in self.sheet.given()]
        return [self.question(id) for id in left]

    monkeypatch.setattr(Consultation, "next_questions", together)

    fresh = map(str, count())

    def glance(lines: list[str]) -> Held:
        return hold([*TO_A_QUESTION, *lines], folder=next(fresh))

    return glance


SCREEN = """
Questions 1 to 3  (together about 3 min)
  1 Are there bands?
    How: Look.
    Not this: Not streaks.
  2 Does the mesh give?
    How: Press.
    Not this: Not the frame.
  3 Can a nick be felt?
    How: Feel.
    Not this: Not dirt.
  for each: y yes   n no   s somewhat   ? don't know
  all on one line (y n ?), or one at a time
  (any time: why  steps  terms  where  back  say …  stop  help)
> n y ?
Noted: There are no bands.
Noted: The mesh gives.
Noted: Don't know: nick felt.
"""


def test_several_questions_stand_on_one_screen(glance: Hold) -> None:
    """Numbered, each with how to look; one line answers them all."""
    held = glance(["n y ?"])
    assert SCREEN in held.screen
    assert held.sheet["gives"] == "yes"


def test_they_may_be_answered_one_at_a_time(glance: Hold) -> None:
    """What is left is shown again with its own number."""
    held = glance(["2 y"])
    again = held.after("2 y")
    assert again.startswith("Noted: The mesh gives.\n\n  1 Are there bands?\n  3 Can")
    held = glance(["2 y", "n", "n"])
    assert held.sheet == {
        "stairs": "yes",
        "gives": "yes",
        "bands": "no",
        "nick-felt": "no",
    }


def test_why_is_told_for_each_or_for_one(glance: Hold) -> None:
    """'why 2' is for the second alone."""
    both = glance(["why"]).after("why")
    assert both.startswith("1 Are there bands?\nIt separates ")
    assert "\n2 Does the mesh give?\nIt " in both
    one = glance(["why 2"]).after("why 2").split("\n\n")[0]
    assert "slack mesh" in one.replace("\n", " ")
    assert "Are there bands?" not in one
    wrong = glance(["why 4"]).after("why 4")
    assert wrong.startswith("? There is no question 4 here; write why 1, 2 or 3.")


def test_what_if_takes_a_line_of_answers(glance: Hold) -> None:
    """Nothing is answered by it."""
    held = glance(["what if n y"])
    assert "   now    then\n" in held.after("what if n y")
    assert held.sheet == {"stairs": "yes"}


def test_back_and_own_words_work_there_too(glance: Hold) -> None:
    held = glance(["n", "back", "1", "y", "say the mesh is loose", "n"])
    assert held.sheet["bands"] == "yes"
    assert held.sheet["gives"] == "yes"
    assert held.sheet["nick-felt"] == "no"


def test_only_yes_no_questions_share_a_screen(
    hold: Hold, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A choice or a reading stands by itself."""

    def together(self: Consultation, most: int = 3) -> list[Question]:
        ids = ("coats", "bands", "gives")
        left = [id for id in ids if id not in self.sheet.given()]
        return [self.question(id) for id in left]

    monkeypatch.setattr(Consultation, "next_questions", together)
    held = hold([*TO_A_QUESTION, "one coat", "y n"])
    assert "\nQuestion 1  " in held.screen
    assert "\nQuestions 2 to 3  " in held.screen


# answers at odds


def odds(self: Consultation) -> list[AtOdds]:
    """Bands and a tight mesh do not go together."""
    given = self.sheet.given()
    if given.get("bands") == "yes" and given.get("gives") == "no":
        return [AtOdds("You say bands, and a tight mesh.", ("bands", "gives"), "x")]
    return []


@pytest.fixture
def at_odds(hold: Hold, monkeypatch: pytest.MonkeyPatch) -> Hold:
    """Hold an interview in which bands and a tight mesh are at odds."""

    def one_by_one(self: Consultation, most: int = 3) -> list[Question]:
        ids = ("bands", "gives", "nick-felt", "coats", "stencil")
        left = [id for id in ids if id not in self.sheet.given()]
        return [self.question(id) for id in left][:1]

    monkeypatch.setattr(Consultation, "next_questions", one_by_one)
    monkeypatch.setattr(Consultation, "at_odds", odds)
    return hold


def test_what_is_at_odds_is_said_at_once_and_one_may_be_changed(at_odds: Hold) -> None:
    """Both answers are there to pick from, before anything else is asked."""
    held = at_odds([*TO_A_QUESTION, "y", "n", "2", "y"])
    assert (
        held.after("n")
        == """\
Noted: The mesh is tight.
At odds: You say bands, and a tight mesh.

These answers do not go together. Is one of them to change?
  1 There are bands.
  2 The mesh is tight.
  0 none, go on"""
    )
    assert held.after("2").startswith("\nOnce more  (about 1 min)\n  Does the mesh")
    assert held.sheet["gives"] == "yes"


@pytest.mark.parametrize("line", ["0", "?", "back", "none"])
def test_who_stays_with_both_is_not_asked_again(at_odds: Hold, line: str) -> None:
    """The contradiction stays in the result."""
    held = at_odds([*TO_A_QUESTION, "y", "n", line, "?", "?"])
    assert held.screen.count("These answers do not go together") == 1
    assert held.sheet["bands"] == "yes"
    assert held.sheet["gives"] == "no"


def test_what_comes_up_again_is_said_again(at_odds: Hold) -> None:
    """After it was put right, and made wrong once more."""
    lines = [*TO_A_QUESTION, "y", "n", "1", "n", "back", "1", "y"]
    held = at_odds(lines)
    assert held.screen.count("At odds: You say bands") == 2


def test_a_contradiction_of_the_knowledge_is_pointed_out_at_once(
    built_in: Knowledge, tmp_path: Path
) -> None:
    """One coat, and a stencil that measures thick: both answers are there to change."""
    begun = Consultation(built_in)
    begun.answer("edges-sawtooth", "yes")
    begun.answer("coats-put-on", "one")
    begun.save(tmp_path / "kept" / "consultation-2026-01-01-000000-1.yaml")
    held = holder(built_in, tmp_path)(["y", "say emulsion over mesh 34 %", "0"])
    shown = " ".join(held.after("say emulsion over mesh 34 %").split())
    assert "At odds: You say one coat went on, but the gauge reads more than" in shown
    assert "1 Only one coat, or one side, was coated. 2 " in shown
