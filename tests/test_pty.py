"""The real program at a pseudo-terminal: commands, resizing, pasting, odd signs."""

from __future__ import annotations

from pathlib import Path

import pytest
from pseudo_terminal import at_a_terminal
from rich.cells import cell_len

from diagnose.records import Knowledge
from diagnose.sheets import Sheet, read_sheet

ROUTE = [
    ("Where are you in the work?", "5"),
    ("What do you see?", "1"),
    ("Are there bands?", "n"),
    ("Question 2", "back"),
    ("Which is to change?", "0"),
    ("Question 2", "say thickness 3 %"),
]
"""What is asked, and what is then typed; the next prompts depend on the knowledge."""

COMMANDS = [
    *("why", "where", "how", "change", "help", ""),
    *("why not 1", "why not slack mesh", "why not", "what if yes", "what if", "why 9"),
]


def kept(folder: Path, knowledge: Knowledge) -> Sheet:
    """The one consultation in a folder."""
    (path,) = folder.glob("consultation-*.yaml")
    return read_sheet(path, knowledge)


def test_every_command_at_every_prompt(
    tmp_path: Path, small_with_proofs: Knowledge
) -> None:
    """Each is answered, the question is shown again, and nothing is answered by it."""
    with at_a_terminal(tmp_path, NO_COLOR="1") as terminal:
        lines = [line for _, line in ROUTE] + ["n"] * 6
        last = terminal.screen
        for line in lines:
            asked = last.rstrip().removesuffix(">").rstrip().splitlines()[-1].strip()
            for command in COMMANDS:
                shown = terminal.type(command)
                assert "Traceback" not in shown
                assert asked in shown, command
                assert max(map(cell_len, shown.splitlines())) <= 80
            if "What did you try?" in last:
                break
            last = terminal.type(line)
        else:
            pytest.fail("it never came to what was tried")
        chosen = terminal.type("2")
        for command in COMMANDS:
            assert "Did it work?" in terminal.type(command)
        assert "Did it work?" in chosen
        terminal.send(b"y\n")
        assert terminal.end() == 0
        assert "Mended" in terminal.screen
    sheet = kept(tmp_path, small_with_proofs)
    assert sheet.tried == {"coat-again": "yes"}
    assert sheet.ended


def test_the_lines_follow_the_width_of_the_window(tmp_path: Path) -> None:
    """Wide, narrow and wide again: never wider than the window, nor than 80."""
    with at_a_terminal(tmp_path, columns=120) as terminal:
        assert max(map(cell_len, terminal.screen.splitlines())) in range(60, 81)
        for line in ("5", "1"):
            terminal.type(line)
        for columns in (40, 60, 200, 45, 80):
            terminal.resize(columns)
            shown = terminal.type("how").splitlines()[1:]
            assert max(map(cell_len, shown)) <= min(columns, 80)
            assert max(map(cell_len, shown)) > min(columns, 80) - 20
        terminal.resize(50)
        terminal.send(b"sto")
        terminal.resize(100)
        terminal.send(b"p\n")
        assert terminal.end() == 0
        assert "Traceback" not in terminal.screen


ODD = {
    "long": b"x" * 10_000,
    "words": b"patchy edges " * 800,
    "digits": b"7" * 10_000,
    "steering": b"\x1b[31mred\x1b[0m\x07\x01\x0b",
    "emoji": "🖨️🔥👩‍🏭 blank".encode(),
    "right-to-left": "\u202eשלום עולם\u202c مرحبا".encode(),
    "marks": ("e\u0301" * 300).encode(),
    "no text": b"\xff\xfe\xc3(",
}


@pytest.mark.parametrize("columns", [80, 40])
def test_odd_keys_do_no_harm(
    tmp_path: Path, columns: int, small_with_proofs: Knowledge
) -> None:
    """Pasted or typed at a question: it goes on, and nothing is answered by it."""
    with at_a_terminal(tmp_path, columns=columns) as terminal:
        for line in ("5", "1"):
            terminal.type(line)
        for name, keys in ODD.items():
            terminal.type(keys)
            terminal.type("\x15")  # wipe what the keys may have left on the line
            assert "Traceback" not in terminal.screen, name
        shown = terminal.type("where")
        assert "So far:" in shown
        terminal.send(b"stop\n")
        assert terminal.end() == 0
        last = terminal.screen.splitlines()[-1]
        assert last.endswith(("in the same way.", "again in the same way.", "way."))
    assert kept(tmp_path, small_with_proofs).given() == {"stairs": "yes"}


@pytest.mark.parametrize("lines", [[], ["5", "1"], ["5", "1", "back"]])
def test_the_end_of_input_leaves_cleanly(tmp_path: Path, lines: list[str]) -> None:
    """Control-D at the stage, at a question, and in a list."""
    with at_a_terminal(tmp_path) as terminal:
        for line in lines:
            terminal.type(line)
        terminal.send(b"\x04")
        assert terminal.end() == 0
        assert "Traceback" not in terminal.screen
        assert "start it again" in terminal.screen.replace("\n", " ").lower()
