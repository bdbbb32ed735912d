"""The demonstration: real commands on a copy, and what they do to the ranking."""

from __future__ import annotations

import io
import re
from collections.abc import Sequence
from pathlib import Path

import pytest
from rich.console import Console

from diagnose import Consultation, load_knowledge
from diagnose.cases import demo
from diagnose.cases.demo import CUT, Step, copied, shortened, steps
from diagnose.cases.replay import replay
from diagnose.cases.shop import Shop
from diagnose.cli import main
from diagnose.errors import FolderError
from diagnose.model import model_of
from diagnose.records import Knowledge
from diagnose.sheets import read_sheet

CAUSE = "light-spills-from-exposure"


def place(known: Knowledge, sheet: Path) -> int:
    """Where the cause comes in the ranking of a sheet."""
    ranked = Consultation(known, read_sheet(sheet, known)).chances()
    return [id for id, _, _ in ranked].index(CAUSE) + 1


def test_the_whole_demonstration(
    tmp_path: Path, built_in: Knowledge, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every command is run and goes well; what ranked fourth or lower ranks first
    afterwards, and no other case loses more than one place. On a third of the year's
    cases, to be quick; `replay` and `watch` are tested elsewhere."""
    monkeypatch.setenv("DIAGNOSE_SHOP", "elsewhere")
    folder = copied(tmp_path / "copy")
    shop = Shop(folder / "shop")
    for number, id in enumerate(shop.ids()):
        if number % 3:
            shop.path(id).unlink()
    assert place(built_in, folder / "next-screen.yaml") >= 4
    left = len(shop.ids())
    ran = []

    def run(words: Sequence[str]) -> int:
        ran.append(list(words))
        skipped = {"replay", "watch", "count"} & {*words}
        return 0 if skipped else main(words)

    screen = io.StringIO()
    console = Console(file=screen, width=80, highlight=False, markup=False)
    assert demo.show(console, folder, run) == 0
    told = screen.getvalue()
    commands = [words[1] if words[0] == "case" else words[0] for words in ran]
    wanted = ["import", "like", "propose", "accept", "learn", "accept", "rank"]
    assert [one for one in commands if one in wanted] == ["rank", *wanted]
    typed = re.findall(r"^\$ diagnose (.*)$", told, re.M)
    assert [one.split() for one in typed] == ran
    own = load_knowledge(None, shop.folder)
    assert place(own, folder / "next-screen.yaml") == 1
    kept = shop.all(own).kept
    assert len(kept) == left + 3
    assert all(one.case.invented == "yes" for one in kept)
    outcome = replay(
        model_of(built_in), model_of(own), [(one.id, one.case) for one in kept]
    )
    assert max(one.after.place - one.before.place for one in outcome.cases) <= 1
    before, after = re.findall(r"comes\s+at\s+place\s+(\d+)", told)
    assert int(before) >= 4
    assert int(after) == 1
    assert str(folder) in told.split("The copy stays")[1]
    long = [one for one in told.splitlines() if len(one) > 80]
    assert all(one.startswith(("$ ", "  ")) and "/" in one for one in long)


def test_a_folder_that_is_there_is_refused(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """And nothing in it is touched."""
    (tmp_path / "mine.txt").write_text("dear")
    assert main(["demo", str(tmp_path)]) == 2
    assert "this is there already; name a new folder." in capsys.readouterr().err
    assert [path.name for path in tmp_path.iterdir()] == ["mine.txt"]
    with pytest.raises(FolderError, match="the copy can't be made"):
        copied(tmp_path / "mine.txt" / "below")


def test_a_temporary_copy_is_kept_and_named(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A command that goes wrong ends it with its code; the copy is named even so."""
    monkeypatch.setattr("tempfile.tempdir", str(tmp_path))
    folder = copied(None)
    assert folder.parent == tmp_path
    screen = io.StringIO()
    code = demo.show(Console(file=screen, width=80), folder, lambda words: 2)
    assert code == 2
    assert screen.getvalue().count("$ diagnose") == 1
    assert str(folder) in screen.getvalue().split("The copy stays")[1]
    assert (folder / "shop" / "cases").is_dir()


def test_at_a_terminal_it_waits_and_can_be_left(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Enter goes on, q stops; the end of the input stops too."""
    for lines, ran in [("\n\nq\n", 3), ("\n", 2), ("", 1)]:
        typed = io.StringIO(lines)
        monkeypatch.setattr(typed, "isatty", lambda: True)
        monkeypatch.setattr("sys.stdin", typed)
        monkeypatch.setattr("sys.stdout.isatty", lambda: True)
        folder = copied(tmp_path / f"copy-{ran}")
        screen = io.StringIO()
        code = demo.show(Console(file=screen, width=80), folder, lambda words: 0)
        assert (code, screen.getvalue().count("$ diagnose")) == (0, ran)


@pytest.mark.parametrize(
    ("step", "shown"),
    [
        (Step("", "", first=2), ["a", "b", CUT]),
        (Step("", "", first=9), ["a", "b", "c", "d", "e"]),
        (Step("", "", first=1, last=2), ["a", CUT, "d", "e"]),
        (Step("", "", first=3, last=2), ["a", "b", "c", "d", "e"]),
        (Step("", "", first=2, from_="c"), [CUT, "c", "d", CUT]),
        (Step("", "", first=2, from_="x"), ["a", "b", CUT]),
    ],
)
def test_what_is_left_out_is_marked(step: Step, shown: list[str]) -> None:
    assert shortened(list("abcde"), step) == shown


def test_the_steps_have_a_command_each() -> None:
    """And say in a sentence what it does."""
    for step in steps():
        assert step.says.endswith((".", ")"))
        assert step.run
