"""A shop folder that is none is told in every command that takes one, and not made."""

from __future__ import annotations

from pathlib import Path

import pytest

from diagnose.cases.record import Case
from diagnose.cases.shop import Shop
from diagnose.cli import main
from diagnose.errors import FolderError
from diagnose.shelf import shop_folder

COMMANDS = [
    [],
    ["open"],
    ["rank", "sheet.yaml"],
    ["show", "coats-too-few"],
    ["find", "stairs"],
    ["check"],
    ["reckon"],
    ["report", "sheet.yaml"],
    ["case", "watch", "year.html"],
    ["ticket", "sheet.yaml"],
    ["procedure", "drying"],
    ["foresee", "eom=5%"],
    ["practise"],
    ["picture", "edges-sawtooth"],
    ["chart", "edges-sawtooth"],
    ["own"],
    ["case", "list"],
    ["case", "accept", "draft.yaml"],
]


@pytest.fixture
def beside(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A folder with a shop in it, which is worked in."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.delenv("DIAGNOSE_SHOP", raising=False)
    Shop("our-shop").add(Case(date="2026-03-14"))
    return tmp_path


@pytest.mark.parametrize("words", COMMANDS, ids=" ".join)
def test_a_mistyped_folder_is_told_with_the_nearest(
    words: list[str], beside: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One sentence and exit code 2; nothing is printed and nothing made."""
    assert main([*words, "--shop", "our-shpo"]) == 2
    told = capsys.readouterr()
    assert told.out == ""
    assert told.err.startswith(
        "our-shpo: there is no such shop folder (did you mean 'our-shop'?); "
    )
    assert sorted(path.name for path in beside.iterdir()) == ["our-shop"]


def test_the_variable_is_named_where_it_names_none(
    beside: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """So that a person knows where the name came from."""
    monkeypatch.setenv("DIAGNOSE_SHOP", str(beside / "our-shpo"))
    assert main(["find", "stairs"]) == 2
    told = capsys.readouterr().err
    assert told.startswith(f"DIAGNOSE_SHOP: {beside}/our-shpo: there is no such")
    assert "our-shop'?" in told


def test_what_is_no_shop_folder(beside: Path) -> None:
    """A file, a dead link, and a folder that holds other things; an empty one will do,
    and one that is new where that is allowed."""
    (beside / "file").write_text("x")
    (beside / "link").symlink_to("gone")
    for name, says in [
        ("file", "this is no folder"),
        ("link", "leads nowhere"),
        (".", "this is no shop folder .did you mean 'our-shop'"),
    ]:
        with pytest.raises(FolderError, match=says):
            shop_folder(Path(name))
    (beside / "empty").mkdir()
    assert shop_folder(Path("empty")) == Path("empty")
    assert shop_folder(Path("fresh"), new=True) == Path("fresh")
    assert shop_folder() is None


def test_a_new_folder_is_told_before_it_is_made(
    beside: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """An import may make one; it says so, and that there is one of nearly that name."""
    Path("log.csv").write_text("date\n2026-03-14\n")
    assert main(["case", "import", "log.csv", "--shop", "our-shpo"]) == 0
    told = " ".join(capsys.readouterr().out.split())
    assert told.startswith("our-shpo is a new shop folder; it is made when the first")
    assert "did you mean 'our-shop'?" in told
    assert Path("our-shpo/cases").is_dir()
