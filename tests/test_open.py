"""The consultations that are not ended: listed, and gone on with."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from held import TO_A_QUESTION, TO_A_READING, Hold
from rich.console import Console

from diagnose import AnswerError
from diagnose.cli import main
from diagnose.records import Knowledge
from diagnose.terminal import Interview

SMALL = Path(__file__).parent / "small"


def listed(knowledge: Knowledge, folder: Path) -> str:
    """What `diagnose open` shows."""
    screen = io.StringIO()
    console = Console(file=screen, width=80, highlight=False, markup=False)
    assert Interview(knowledge, folder, console, lambda _: "").show_open() == 0
    return screen.getvalue()


def test_none_is_unfinished(small: Knowledge, tmp_path: Path) -> None:
    """Whether or not there is a folder."""
    assert listed(small, tmp_path) == "No consultation is unfinished.\n"
    assert listed(small, tmp_path / "none") == "No consultation is unfinished.\n"


def test_the_unfinished_ones_are_listed_newest_first(
    hold: Hold, small: Knowledge, tmp_path: Path
) -> None:
    """When, what was seen, and what leads; those that were ended are not there."""
    hold(TO_A_QUESTION)
    hold(["n", "5"])  # puts the first away
    hold(["n", "5", "2"])
    hold([], said="blocky edges")
    rows = listed(small, tmp_path / "kept").splitlines()
    assert rows[0] == "Unfinished consultations, the newest first:"
    assert rows[1].endswith("  The edges look like stairs.")
    assert rows[2] == "    first so far: too few coats (63 %)"
    assert rows[3].endswith("  There are bands.")
    assert rows[4].startswith("    first so far: ")
    assert rows[5:] == ["To go on with the first: diagnose open 1"]


def test_one_is_gone_on_with_by_its_number(hold: Hold, small: Knowledge) -> None:
    """It is not asked whether; the newest one stays as it is."""
    older = hold(["5", "2"])
    newer = hold([], said="blocky edges")
    again = hold(["y"], go_on=2)
    assert "Go on from there?" not in again.screen
    assert again.interview.path == older.interview.path != newer.interview.path
    assert again.sheet["bands"] == "yes"
    assert len(again.sheet) == 2


@pytest.mark.parametrize("number", [0, -1, 2, 99])
def test_a_number_that_there_is_not(hold: Hold, number: int) -> None:
    """One sentence, and how many there are."""
    hold(TO_A_QUESTION)
    with pytest.raises(
        AnswerError, match=f"no unfinished consultation {number}; there"
    ):
        hold([], go_on=number)


def test_an_open_outcome_is_listed_and_asked_for_first(
    hold: Hold, small: Knowledge, tmp_path: Path
) -> None:
    hold([*TO_A_READING, "5", "2", "not yet"])
    shown = listed(small, tmp_path / "kept")
    assert "    taken up, outcome open: Coat again\n" in shown
    again = hold([], go_on=1)
    asked = again.screen.split("\n\n")[1]
    assert asked.startswith("Did it work? “Coat again”\n")


def test_one_that_somebody_is_in_is_not_listed(
    hold: Hold, small: Knowledge, tmp_path: Path
) -> None:
    """Nor one that can't be read, which is named."""
    seen: list[str] = []

    def read_line(prompt: str) -> str:
        seen.append(listed(small, tmp_path))
        return "5" if len(seen) == 1 else "stop"

    console = Console(file=io.StringIO())
    Interview(small, tmp_path, console, read_line).run()
    assert seen == ["No consultation is unfinished.\n"] * 2
    (tmp_path / "consultation-2999-01-01-000000-1.yaml").write_text("answers: [\n")
    shown = listed(small, tmp_path)
    assert shown.startswith("\nThis one can't be gone on with:\n")
    assert "Unfinished consultations, the newest first:" in shown


def test_the_command(
    hold: Hold, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """`diagnose open` lists; a number that there is not ends with 2."""
    hold(TO_A_QUESTION)
    where = ["--knowledge", str(SMALL), "--keep-in", str(tmp_path / "kept")]
    assert main(["open", *where]) == 0
    assert "The edges look like stairs." in capsys.readouterr().out
    assert main(["open", "7", *where]) == 2
    error = capsys.readouterr().err
    assert error == (
        "There is no unfinished consultation 7; there is one. 'diagnose open' lists "
        "them.\n"
    )
    assert main(["open", "first", *where]) == 2
    assert "does not take 'first'" in capsys.readouterr().err
