"""Plain YAML: text stays text, each part knows its place, and bad files say why."""

from __future__ import annotations

import os
import time
from pathlib import Path
from typing import Any

import pytest
import yaml
from hypothesis import given, settings
from hypothesis import strategies as st
from knowledge_copy import marked

from diagnose import FolderError, yamltext
from diagnose.errors import DiagnoseError
from diagnose.yamltext import DEEPEST, LARGEST, YamlError, parse, read_text

LOADERS = {"in C": "CBaseLoader", "in Python": "BaseLoader"}


@pytest.fixture(params=[n for n in LOADERS if hasattr(yaml, LOADERS[n])])
def _each_loader(request: pytest.FixtureRequest, monkeypatch: Any) -> None:
    """PyYAML's loader in C, and the one it falls back on."""
    monkeypatch.setattr(yamltext, "_Loader", getattr(yaml, LOADERS[request.param]))


def data(text: str) -> Any:
    return parse(text, "a.yaml")[0]


# what is read


@pytest.mark.parametrize(
    "word",
    [
        "no",
        "yes",
        "012",
        "1e3",
        "null",
        "~",
        "0x10",
        "1_000",
        "2024-01-01",
        "=",
        ".inf",
    ],
)
@pytest.mark.usefixtures("_each_loader")
def test_every_scalar_stays_the_text_that_was_written(word: str) -> None:
    """`no` is not false and `012` is not 10 (a plain loader says so)."""
    assert data(f"a: {word}\nb: [{word}]\n") == {"a": word, "b": [word]}


@pytest.mark.usefixtures("_each_loader")
def test_parts_know_their_places() -> None:
    """Line and column of each value and key; a missing part is at what is above it."""
    text = "- id: one\n  list: [x, y z]\n  deep:\n  - k: >-\n      long\n      text\n"
    found, places = parse(text, "a.yaml")
    long = [{"k": "long text"}]
    assert found == [{"id": "one", "list": ["x", "y z"], "deep": long}]
    assert places.values == {
        (): (1, 1),
        (0,): (1, 3),
        (0, "id"): (1, 7),
        (0, "list"): (2, 9),
        (0, "list", 0): (2, 10),
        (0, "list", 1): (2, 13),
        (0, "deep"): (4, 3),
        (0, "deep", 0): (4, 5),
        (0, "deep", 0, "k"): (4, 8),
    }
    assert places.at((0, "deep", 0, "k"), key=True) == (4, 5)
    assert places.at((0, "deep", 0, "none", 3)) == (4, 5)
    assert parse(text, "a.yaml", first_line=11)[1].at((0, "list", 1)) == (12, 13)


@pytest.mark.parametrize("text", ["", "\n\n", "# only a remark\n", "---\n"])
@pytest.mark.usefixtures("_each_loader")
def test_an_empty_text_holds_nothing(text: str) -> None:
    """Blank lines and remarks are no data, and no fault here."""
    assert data(text) in (None, "")


def test_line_ends_and_a_byte_order_mark_change_nothing(tmp_path: Path) -> None:
    """A file from an editor on Windows reads like any other, places too."""
    text = "- id: one\n  name: ä b\n"
    path = tmp_path / "a.yaml"
    path.write_bytes(b"\xef\xbb\xbf" + text.replace("\n", "\r\n").encode("utf-8"))
    assert parse(read_text(path), "a.yaml") == parse(text, "a.yaml")


leaves = st.text(
    st.characters(codec="utf-8", exclude_categories=["Cc", "Cs", "Cn", "Co"]),
    max_size=8,
)
nested = st.recursive(
    leaves,
    lambda part: st.lists(part, max_size=3) | st.dictionaries(leaves, part, max_size=3),
    max_leaves=8,
)


@settings(deadline=None)
@given(nested)
def test_what_a_dumper_writes_is_read_back(value: Any) -> None:
    """Lists, keys and texts of any kind come through unchanged."""
    assert data(yaml.safe_dump(value, allow_unicode=True)) == value


# what is refused

FAULTS = {
    "a colon in a text": (
        "- how: Look¦: there\n  a: b\n",
        "this ':' can't stand here; put a text with ': ' in it between quotes, or "
        "mend the indent.",
    ),
    "a line indented too far": (
        "- id: a\n   name¦: b\n",
        "this ':' can't stand here; put a text with ': ' in it between quotes, or "
        "mend the indent.",
    ),
    "a line not indented enough": (
        "- id: a\n  b: c\n ¦d: e\n",
        "this line belongs to no item of the list above; start it with '- ' or mend "
        "its indent.",
    ),
    "a line indented between two levels": (
        "a:\n    b: c\n  ¦d: e\n",
        "this does not fit what stands before it; mend the indent, or put the whole "
        "text between quotes.",
    ),
    "a key without a colon": ("a: b\n¦name\nc: d\n", "a ':' is missing after this."),
    "an unclosed double quote": (
        'a: b\nc: ¦"d\ne: f\n',
        "the quote opened here is never closed.",
    ),
    "an unclosed single quote": (
        "a: b\nc: ¦'d\ne: f\n",
        "the quote opened here is never closed.",
    ),
    "a quote that the next quote closes": (
        'a: ¦"b\nc: d\ne: "f"\n',
        "the quote opened here is closed in line 3 only; close it where the text ends.",
    ),
    "text after a quote": (
        'a: "b" ¦c\n',
        "this does not fit what stands before it; mend the indent, or put the whole "
        "text between quotes.",
    ),
    "an unclosed bracket": (
        "a: b\nc: ¦[d, e\nf: g\n",
        "the '[' here is not closed before the next line, or a comma is missing.",
    ),
    "an unclosed brace": (
        "- ¦{a: b, c: d\n- e\n",
        "the '{' here is not closed before the next line, or a comma is missing.",
    ),
    "a stray bracket": (
        "a: b\nc: ¦]\n",
        "something is missing before this sign, or it should be between quotes.",
    ),
    "two commas": (
        "a: [b,¦,c]\n",
        "something is missing before this sign, or it should be between quotes.",
    ),
    "a tab as indent": ("a:\n¦\tb: c\n", "a tab stands here; indent with spaces."),
    "an at sign": (
        "a: ¦@b\n",
        "a text can't start with '@'; put it between quotes.",
    ),
    "a per cent sign": (
        "a: b\nc: ¦% of it\n",
        "a text can't start with '%'; put it between quotes.",
    ),
    "a lone star": (
        "a: ¦* b\n",
        "a text can't start with '*'; put it between quotes.",
    ),
    "a lone ampersand": (
        "a: ¦& b\n",
        "a text can't start with '&'; put it between quotes.",
    ),
    "a backslash": (
        'a: "b¦\\q"\n',
        "a backslash stands in a text between double quotes; use single quotes.",
    ),
    "a list on the line of its key": (
        "a: ¦- b\n",
        "a list can't start here; start it on a line of its own, below the key.",
    ),
    "text behind the sign of a block": (
        "a: |¦x\n  b\n",
        "after '|' or '>' the text starts on the next line.",
    ),
    "an anchor": (
        "a: ¦&x b\n",
        "names for parts (& and *) are not read here; put a text that starts so "
        "between quotes.",
    ),
    "an alias": (
        "a: ¦*x\n",
        "names for parts (& and *) are not read here; put a text that starts so "
        "between quotes.",
    ),
    "a tag": (
        "a: b\nc: ¦!!int 3\n",
        "tags (!) are not read here; put a text that starts so between quotes.",
    ),
    "a key for the second time": (
        "a: b\nc: d\n¦a: b\n",
        "the key 'a' stands here a second time.",
    ),
    "a list for a key": (
        "? ¦[a]\n: b\n",
        "a word belongs before the ':', not a list.",
    ),
    "a second document": (
        "a: b\n¦---\na: c\n",
        "a second document starts here; keep one a file.",
    ),
    "text after the end": (
        "a: b\n...\n¦c: d\n",
        "this does not belong to what stands above; mend the indent, or take it out.",
    ),
    "a NUL byte": (
        "a: é\nb: é¦\0\n",
        "a character that can't be printed stands here (number 0); take it out.",
    ),
    "an escape character": (
        "a: b¦\x1b[31m\n",
        "a character that can't be printed stands here (number 27); take it out.",
    ),
}


@pytest.mark.parametrize("fault", FAULTS)
@pytest.mark.usefixtures("_each_loader")
def test_a_fault_is_named_with_its_line_and_column(fault: str) -> None:
    """One plain sentence, at the place that has to be mended."""
    (text, line, column), says = marked(FAULTS[fault][0]), FAULTS[fault][1]
    with pytest.raises(YamlError) as raised:
        parse(text, "a.yaml")
    assert str(raised.value) == f"a.yaml:{line}:{column}: {says}"


def test_a_yaml_bomb_is_refused_at_its_first_anchor() -> None:
    """Nine lines that would unfold to a billion texts are refused in no time."""
    lines = ["a0: &a0 [lol, lol, lol, lol, lol, lol, lol, lol, lol]"]
    for n in range(1, 10):
        row = ", ".join([f"*a{n - 1}"] * 9)
        lines.append(f"a{n}: &a{n} [{row}]")
    start = time.perf_counter()
    with pytest.raises(YamlError, match=r"^a\.yaml:1:5: names for parts"):
        parse("\n".join(lines), "a.yaml")
    assert time.perf_counter() - start < 0.5


@pytest.mark.parametrize("opening", ["[", "{a: ", "- ", "? "])
@pytest.mark.usefixtures("_each_loader")
def test_deep_nesting_is_refused(opening: str) -> None:
    """A million brackets overflow nothing; what the records need goes through."""
    start = time.perf_counter()
    with pytest.raises(YamlError) as raised:
        parse(opening * (1_000_000 // len(opening)), "a.yaml")
    assert str(raised.value).startswith("a.yaml:1:")
    assert time.perf_counter() - start < 2
    deep = "[" * DEEPEST + "a" + "]" * DEEPEST
    assert data(deep) is not None
    with pytest.raises(YamlError, match=rf":1:{DEEPEST + 1}: too many lists and keys"):
        parse(f"[{deep}]", "a.yaml")


@settings(deadline=None)
@given(
    st.text(st.sampled_from(list("ab:-?[]{},&*!|>'\"%@`# \n\t\\.\x00\x85é1~<=")))
    | st.text()
)
def test_any_text_is_read_or_refused_with_a_place(text: str) -> None:
    """No text brings anything but data or a YamlError with a place inside the text."""
    fault: YamlError | None = None
    try:
        parse(text, "a.yaml")
    except YamlError as error:
        fault = error
    if fault is not None:
        assert 1 <= fault.place.line <= len(text.splitlines()) + 1
        assert fault.says.endswith(".")
        assert "\n" not in str(fault)


# files


def message(path: Path) -> str:
    with pytest.raises(DiagnoseError) as raised:
        read_text(path)
    return str(raised.value)


def test_a_missing_file_is_named(tmp_path: Path) -> None:
    """No traceback, and the kind of error that says 'folder or file'."""
    path = tmp_path / "none.yaml"
    with pytest.raises(FolderError):
        read_text(path)
    assert message(path) == f"{path}: there is no such file."


def test_a_link_that_leads_nowhere_is_named(tmp_path: Path) -> None:
    """A ring of links, or one to what is gone."""
    for name, to in {"ring": "ring", "gone": "none.yaml"}.items():
        (tmp_path / name).symlink_to(tmp_path / to)
        says = "this is a link that leads nowhere."
        assert message(tmp_path / name) == f"{tmp_path / name}: {says}"


def test_a_folder_in_place_of_a_file_is_named(tmp_path: Path) -> None:
    assert message(tmp_path) == f"{tmp_path}: this is a folder; name a file in it."


def test_a_pipe_is_not_waited_for(tmp_path: Path) -> None:
    """What is no ordinary file is not opened: reading it might never end."""
    path = tmp_path / "pipe.yaml"
    os.mkfifo(path)
    assert message(path) == f"{path}: this is not an ordinary file."


def test_a_huge_file_is_not_read(tmp_path: Path, monkeypatch: Any) -> None:
    """50 MB are turned away by their size alone; the largest size allowed is read."""
    path = tmp_path / "huge.yaml"
    with path.open("wb") as file:
        file.truncate(50_000_000)

    def refuse(self: Path) -> bytes:
        raise AssertionError("the file was read")

    with monkeypatch.context() as patch:
        patch.setattr(Path, "read_bytes", refuse)
        expected = (
            f"{path}: 50 MB is too large; such a file holds at most 4 MB of text."
        )
        assert message(path) == expected
    os.truncate(path, LARGEST)
    assert len(read_text(path)) == LARGEST


def test_a_binary_file_is_no_text(tmp_path: Path) -> None:
    """The first byte that is no UTF-8 is named by line and column."""
    path = tmp_path / "a.yaml"
    path.write_bytes("a: é\nbé: ".encode() + b"\xff\xfe\x00")
    says = "this is not text in UTF-8; save it as text in that coding."
    assert message(path) == f"{path}:2:5: {says}"


def test_a_file_that_may_not_be_read_is_named(tmp_path: Path, monkeypatch: Any) -> None:
    """The operating system's reason is passed on (root may read all: simulated)."""
    path = tmp_path / "a.yaml"
    path.write_text("a: b")

    def refuse(self: Path) -> bytes:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "read_bytes", refuse)
    assert message(path) == f"{path}: the file can't be read: Permission denied."


@pytest.mark.parametrize("name", ["a\0b.yaml", "x" * 300])
def test_an_impossible_name_is_an_answer_too(tmp_path: Path, name: str) -> None:
    """A name that no file can have is refused in one sentence."""
    assert "\n" not in message(tmp_path / name)
