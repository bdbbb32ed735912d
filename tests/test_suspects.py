"""Causes that a person names: told where they stand, and never taken for an answer."""

from __future__ import annotations

from pathlib import Path

import pytest
from held import holder

from diagnose.records import Knowledge
from diagnose.suspects import suspected


@pytest.mark.parametrize(
    ("text", "causes"),
    [
        ("I'm sure it's underexposed", ["underexposed"]),
        ("must be too short an exposure. Or an old bulb", ["lamp-aged"]),
        ("it is not overexposed, the mesh tension is low", ["mesh-lost-tension"]),
        (
            "either bad vacuum or dirty glass",
            ["poor-contact", "positive-or-glass-dirty"],
        ),
        ("the edges look like little stairs", []),
        ("", []),
    ],
)
def test_the_causes_that_are_named(
    built_in: Knowledge, text: str, causes: list[str]
) -> None:
    """In the order in which they are said; what is denied is not suspected."""
    assert suspected(built_in, text) == causes


def test_a_suspect_is_told_where_it_stands_and_weighs_nothing(
    built_in: Knowledge, tmp_path: Path
) -> None:
    """The same standing with and without the belief."""
    hold = holder(built_in, tmp_path)
    seen = "the stencil breaks down on press"
    with_it = hold(["5"], f"{seen}, I am sure it's underexposed", folder="a")
    without = hold(["5"], seen, folder="b")
    shown = " ".join(with_it.screen.split())
    assert "You suspect: “an exposure that was too short”. It stands at" in shown
    assert with_it.sheet == without.sheet
    chances = [one.interview.consultation.chances() for one in (with_it, without)]
    assert chances[0] == chances[1]


def test_a_belief_alone_asks_for_what_is_seen(
    built_in: Knowledge, tmp_path: Path
) -> None:
    """Nothing is seen yet, so nothing points to it."""
    held = holder(built_in, tmp_path)([], "I am sure it is underexposed")
    shown = " ".join(held.screen.split())
    assert "You suspect: “an exposure that was too short”. Nothing said so far" in shown


def test_no_two_causes_are_called_alike(built_in: Knowledge) -> None:
    """A name that means two causes would suspect both."""
    names = [name for cause in built_in.causes.values() for name in cause.called]
    assert len(names) == len(set(names))
