"""Long work says that it goes on, stops in time, and says on how much it was done."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import pytest
from knowledge_copy import SMALL

from diagnose import load_knowledge
from diagnose.cases import learning, propose, waits
from diagnose.cases.record import Case, Confirmed
from diagnose.cases.replay import replay
from diagnose.cases.shop import Shop
from diagnose.cli import main
from diagnose.model import Model


def case(number: int, cause: str = "nick") -> Case:
    answers = {"bands": "yes", "nick-felt": "no" if number % 3 else "yes"}
    return Case(date="2026-01-01", confirmed=[Confirmed(cause)], answers=answers)


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    """Thirty cases of one cause."""
    shop = Shop(tmp_path / "shop")
    for number in range(30):
        shop.add(case(number))
    return shop


@pytest.fixture
def words(shop: Shop) -> list[str]:
    return ["--shop", str(shop.folder), "--knowledge", str(SMALL)]


class Terminal(io.StringIO):
    """A standard error that is a terminal."""

    def isatty(self) -> bool:
        return True


def test_many_cases_that_are_read_are_told_once(
    words: list[str],
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """On the standard error, so that the output is the same."""
    monkeypatch.setattr(waits, "MANY", 30)
    assert main(["case", "count", *words]) == 0
    first = capsys.readouterr()
    assert first.err == "Reading 30 cases; next time only those that have changed …\n"
    assert main(["case", "count", *words]) == 0
    assert capsys.readouterr() == (first.out, "")


def test_few_cases_are_read_without_a_word(
    words: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["case", "list", *words]) == 0
    assert capsys.readouterr().err == ""


def test_progress_is_for_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """There it shows after a while and is wiped away; elsewhere nothing is written.
    What is gone through is the same."""
    for patience, terminal, shows in [(0.0, True, True), (9.0, True, False), (0, 0, 0)]:
        monkeypatch.setattr(waits, "PATIENCE", patience)
        error = Terminal() if terminal else io.StringIO()
        monkeypatch.setattr(sys, "stderr", error)
        assert list(waits.told("Ranking", [1, 2, 3])) == [1, 2, 3]
        assert ("Ranking" in error.getvalue()) == bool(shows)


def test_a_replay_stops_in_time_and_says_what_is_left() -> None:
    """Which cases are taken is drawn, the same each time; they come in their order."""
    model = Model(load_knowledge(SMALL))
    cases = [(f"{n:02}", case(n)) for n in range(12)]
    every = replay(model, model, cases)
    assert [one.id for one in every.cases] == [id for id, _ in cases]
    assert every.left == 0
    one = replay(model, model, cases, within=0)
    assert (len(one.cases), one.left) == (1, 11)
    assert one.cases[0].id != "00"
    assert replay(model, model, cases, within=0).cases == one.cases
    assert replay(model, model, cases, within=99).cases == every.cases


def test_learn_says_on_how_many_cases_it_was_checked(
    shop: Shop,
    words: list[str],
    capsys: pytest.CaptureFixture[str],
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """All where the time suffices, and not a word of it; else how many, and how to
    check all."""
    assert main(["case", "learn", *words]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "This was checked on" not in told
    assert "30 the same" in told or "better" in told
    monkeypatch.setattr(learning, "WITHIN", 0)
    assert main(["case", "learn", *words]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert "checked on 1 of the 30 cases, drawn at random" in told
    draft = max(shop.proposals.iterdir(), key=lambda path: len(path.name))
    assert f"diagnose case replay --with {draft}" in told
    assert main(["case", "replay", "--with", str(draft), *words]) == 0
    assert "checked on" not in capsys.readouterr().out


def test_the_newest_cases_of_each_cause_are_ranked_again(
    monkeypatch: pytest.MonkeyPatch,
) -> None:
    """A case of two causes counts for both; one without a cause for none."""
    monkeypatch.setattr(propose, "NEWEST", 2)
    both = case(3)
    both.confirmed.append(Confirmed("slack"))
    cases = [
        ("a", case(0)),
        ("b", case(1, "slack")),
        ("c", case(2, "slack")),
        ("d", both),
        ("e", Case(date="2026-01-02")),
        ("f", case(4)),
    ]
    assert [id for id, _ in propose._newest(cases)] == ["c", "d", "f"]
