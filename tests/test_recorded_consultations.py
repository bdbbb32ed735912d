"""The recorded consultations are what the program shows, at any width of a terminal."""

from __future__ import annotations

from typing import Any

import pytest
from record_consultations import RECORDED, people, recorded

from diagnose.records import Knowledge
from diagnose.screens import WIDTH

AGAIN = "It is no longer what is shown; python tests/record_consultations.py"


@pytest.mark.parametrize("one", people(), ids=lambda one: one["id"])
def test_a_recorded_consultation_is_what_is_shown(
    built_in: Knowledge, one: dict[str, Any], monkeypatch: pytest.MonkeyPatch
) -> None:
    """At 80 columns and at 120 alike, each line no wider than 80, without colour."""
    monkeypatch.setenv("COLUMNS", "80")
    told = recorded(built_in, one)
    monkeypatch.setenv("COLUMNS", "120")
    assert told == recorded(built_in, one)
    assert max(map(len, told.splitlines()[3:])) <= WIDTH
    assert "\x1b" not in told
    assert (RECORDED / f"{one['id']}.txt").read_text() == told, AGAIN
