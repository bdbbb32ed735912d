"""What words that were not understood may mean: asked, never taken."""

from __future__ import annotations

from pathlib import Path

import pytest
from held import holder

from diagnose import Consultation
from diagnose.guesses import ASKED, OFFERED
from diagnose.records import Knowledge


def test_what_is_said_loosely_is_asked(small: Knowledge, tmp_path: Path) -> None:
    """A way of saying it that stands in `loosely.yaml`; the answer is the person's."""
    text = "there are zebra rows"
    understood = Consultation(small).understand(text)
    assert understood.heard == ()
    (maybe,) = understood.maybe
    assert (maybe.words, maybe.meanings) == ("zebra rows", (("bands", "yes"),))
    assert text[maybe.start : maybe.end] == maybe.words
    assert understood.left == ()
    hold = holder(small, tmp_path)
    asked = "“zebra rows”: is it one of these?"
    for line, kept in (("1", {"bands": "yes"}), ("0", {}), ("?", {})):
        held = hold(["5", text, line], folder=f"kept-{line == '1'}-{line == '0'}")
        assert asked in held.screen
        assert held.sheet == kept


def test_a_guess_by_itself_answers_nothing(small: Knowledge) -> None:
    """Described to the programming interface: it is told, and weighs nothing."""
    consultation = Consultation(small)
    consultation.describe("zebra rows")
    assert consultation.sheet.given() == {}


@pytest.mark.parametrize(
    "text",
    ["no zebra rows", "are there zebra rows?", "zebra", "", "the the the"],
)
def test_what_is_not_asked(small: Knowledge, text: str) -> None:
    """What is denied, what is a question, and a word that says too little."""
    assert Consultation(small).understand(text).maybe == ()


def test_much_that_is_not_understood_is_asked(built_in: Knowledge) -> None:
    """A way of saying it that is in no phrase: the right meaning is offered."""
    text = "2 pulls on evry shirt, ticket says 1"
    meanings = [
        finding
        for maybe in Consultation(built_in).understand(text).maybe[:ASKED]
        for finding, _ in maybe.meanings
    ]
    assert "strokes-many" in meanings
    assert len(meanings) <= ASKED * OFFERED
