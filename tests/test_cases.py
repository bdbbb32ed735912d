"""The invented sheets in cases/: each ranks first what its shop found in the end."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose import Consultation
from diagnose.records import Knowledge
from diagnose.sheets import read_sheet

CASES = Path(__file__).parent.parent / "cases"

FOUND = {
    "stairs-on-the-crest": "coats-too-few",
    "gone-by-noon": "exposed-damp",
    "ghost-of-the-regatta": "ink-left-in-mesh",
}


def test_every_case_is_checked() -> None:
    """No sheet lies in the folder without a word on what was found."""
    assert {path.stem for path in CASES.glob("*.yaml")} == set(FOUND)


@pytest.mark.parametrize(("case", "cause"), FOUND.items())
def test_the_cause_that_was_found_comes_first(
    built_in: Knowledge, case: str, cause: str
) -> None:
    """What the invented shop found out is what the sheet's answers point to."""
    path = CASES / f"{case}.yaml"
    assert "Invented" in path.read_text("utf-8").splitlines()[0]
    consultation = Consultation(built_in, read_sheet(path, built_in))
    assert consultation.chances()[0][0] == cause
