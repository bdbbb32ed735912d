"""Answer sheets: read with every fault named, and written so that nothing is lost."""

from __future__ import annotations

import os
import random
import signal
import stat
import time
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest
import yaml
from filelock import FileLock
from hypothesis import given, settings
from hypothesis import strategies as st
from knowledge_copy import marked

from diagnose import AnswerError, FolderError, SheetError, sheets, yamltext
from diagnose.records import Knowledge
from diagnose.sheets import DONT_KNOW, Sheet, read_sheet, sheet_text, tidy, write_sheet

PARTS = "stage, said, set_up, answers, readings, to_hand, tried, begun, ended"


def fault(path: Path, knowledge: Knowledge) -> str:
    """What is said of a sheet."""
    with pytest.raises(SheetError) as raised:
        read_sheet(path, knowledge)
    return str(raised.value)


# what is read


def test_a_sheet_filled_in_by_hand_is_read(tmp_path: Path, small: Knowledge) -> None:
    """Answers in any spelling and under any heading come to where they belong."""
    path = tmp_path / "s.yaml"
    path.write_text(
        "stage: press\n"
        "said: The edges look odd.\n"
        "answers:\n  stairs: Yes\n  bands: a little\n  gives: '?'\n  stencil: Film\n"
        "  thickness: 9 ± 3 %\n  nick-felt:\n"
        "set_up:\n  coats: one coat\n"
        "readings:\n"
        "to_hand:\n  gauge: Y\n"
        "tried:\n  coat-again: No\n"
    )
    assert read_sheet(path, small) == Sheet(
        stage="press",
        said=["The edges look odd."],
        set_up={"stencil": "film", "coats": "one"},
        answers={"stairs": "yes", "bands": "somewhat", "gives": DONT_KNOW},
        readings={"thickness": "9 ± 3 %"},
        to_hand={"gauge": "yes"},
        tried={"coat-again": "no"},
    )


@pytest.mark.parametrize(
    "written", ["[9, 10, 11]", "9; 10; 11", "9 10 11 %", "\n  - 9\n  - 10\n  - 11"]
)
def test_several_readings_are_taken_in_any_form(
    written: str, tmp_path: Path, small: Knowledge
) -> None:
    """A list of readings is as good as a line of them."""
    path = tmp_path / "s.yaml"
    path.write_text(f"readings:\n  thickness: {written}\n")
    kept = read_sheet(path, small).readings["thickness"]
    assert kept.replace(";", "").replace(" %", "") == "9 10 11"


def test_what_was_left_blank_is_not_answered(tmp_path: Path, small: Knowledge) -> None:
    """A form with empty lines in it is a form."""
    path = tmp_path / "s.yaml"
    path.write_text("stage:\nsaid:\nset_up:\nanswers:\n  stairs:\nreadings: ''\n")
    assert read_sheet(path, small) == Sheet()


ANSWERS = [
    ("stairs", "yes", "yes"),
    ("stairs", " YES ", "yes"),
    ("stairs", "y", "yes"),
    ("stairs", "True", "yes"),
    ("stairs", "n", "no"),
    ("stairs", "a bit", "somewhat"),
    ("stairs", "don’t  know", DONT_KNOW),
    ("stairs", "I can't", DONT_KNOW),
    ("stairs", "?", DONT_KNOW),
    ("coats", "one", "one"),
    ("coats", "One coat", "one"),
    ("coats", "more", "many"),
    ("coats", "not sure", DONT_KNOW),
    ("thickness", "9 %", "9 %"),
    ("thickness", "9\n10", "9 10"),
    ("thickness", "can't", DONT_KNOW),
]


@pytest.mark.parametrize(("finding", "typed", "kept"), ANSWERS)
def test_an_answer_is_kept_in_one_form(
    finding: str, typed: str, kept: str, small: Knowledge
) -> None:
    """Many ways to type it, one way it stands in the sheet; kept again, the same."""
    record = small.findings[finding]
    assert tidy(record, typed) == kept
    assert tidy(record, kept) == kept


@pytest.mark.parametrize(
    ("finding", "typed", "says"),
    [
        (
            "stairs",
            "yess",
            "'stairs' does not take 'yess' (did you mean 'yes'?); it takes 'yes', "
            "'no', 'somewhat', \"don't know\".",
        ),
        (
            "stairs",
            "",
            "'stairs' does not take ''; it takes 'yes', 'no', 'somewhat', "
            '"don\'t know".',
        ),
        (
            "coats",
            "somewhat",
            "'coats' does not take 'somewhat'; it takes 'one', 'two', 'many', "
            '"don\'t know".',
        ),
        (
            "coats",
            "yes",
            "'coats' does not take 'yes'; it takes 'one', 'two', 'many', "
            '"don\'t know".',
        ),
    ],
)
def test_an_answer_that_is_none_says_what_would_be(
    finding: str, typed: str, says: str, small: Knowledge
) -> None:
    with pytest.raises(AnswerError) as raised:
        tidy(small.findings[finding], typed)
    assert str(raised.value) == says


# what is refused

# the sheet, with the mark ¦ in the line that the message has to name; what is said
FAULTS: dict[str, tuple[str, str]] = {
    "a misspelt id": (
        "answers:\n  bands: no\n  ¦stiars: yes\n",
        "answers: there is no finding 'stiars' (did you mean 'stairs'?).",
    ),
    "an unknown key": (
        "stage: press\n¦color: red\n",
        f"color: there is no key 'color' (one of: {PARTS}).",
    ),
    "a misspelt key": (
        "stage: press\n\n¦answrs:\n  stairs: yes\n",
        "answrs: there is no key 'answrs' (did you mean 'answers'?).",
    ),
    "a stage that is none": (
        "said: x\nstage: ¦pres\n",
        "stage: there is no stage 'pres' (did you mean 'press'?).",
    ),
    "a stage that is near none": (
        "stage: ¦lunch\n",
        "stage: there is no stage 'lunch' (one of: coating, drying, wash-out, "
        "touch-up, press, reclaiming).",
    ),
    "a wrong answer": (
        "answers:\n  stairs: ¦maybe\n",
        "answers: 'stairs' does not take 'maybe'; it takes 'yes', 'no', 'somewhat', "
        '"don\'t know".',
    ),
    "a choice that is none": (
        "set_up:\n  coats: ¦tow\n",
        "set_up: 'coats' does not take 'tow' (did you mean 'two'?); it takes 'one', "
        "'two', 'many', \"don't know\".",
    ),
    "a wrong unit": (
        "readings:\n  thickness: ¦9 µm\n",
        "readings: '9 µm': 'µm' does not fit thickness over mesh, which is read in %, "
        "for example '20 %'.",
    ),
    "a reading out of range": (
        "readings:\n\n  thickness: ¦-1 %\n",
        "readings: '-1 %': thickness over mesh lies between 0 and 100 %, for example "
        "'20 %'.",
    ),
    "a reading that is no number": (
        "readings:\n  thickness: ¦thin\n",
        "readings: 'thin' is not a reading of thickness over mesh; write a number and "
        "its unit, for example '20 %'.",
    ),
    "one finding answered under two headings": (
        "set_up:\n  stairs: no\nanswers:\n  ¦stairs: yes\n",
        "answers: 'stairs' is answered a second time.",
    ),
    "a key for the second time": (
        "answers:\n  stairs: no\n  ¦stairs: yes\n",
        "the key 'stairs' stands here a second time.",
    ),
    "a list where words belong": (
        "answers:\n  stairs: ¦[yes]\n",
        "answers: a text belongs here, not a list of 1.",
    ),
    "keys where a word belongs": (
        "answers:\n  ¦stairs:\n    yes: no\n",
        "answers: a text belongs here, not keys.",
    ),
    "a word where answers belong": (
        "said: x\nanswers: ¦yes\n",
        "answers: lines 'name: value' belong here, not the text 'yes'.",
    ),
    "a list where answers belong": (
        "said: x\n¦answers:\n- stairs\n",
        "answers: lines 'name: value' belong here, not a list of 1.",
    ),
    "a word where readings belong": (
        "readings: ¦14\n",
        "readings: lines 'name: value' belong here, not the text '14'.",
    ),
    "a list where readings belong": (
        "readings: ¦[14]\n",
        "readings: lines 'name: value' belong here, not a list of 1.",
    ),
    "keys where sayings belong": (
        "said: ¦{a: b}\n",
        "said: a list belongs here, not keys.",
    ),
    "a list of lists": (
        "said:\n- x\n- ¦[y]\n",
        "said: a text belongs here, not a list of 1.",
    ),
    "a list for a sheet": (
        "¦- stairs\n- bands\n",
        "keys belong here, such as 'stage:', not a list of 2.",
    ),
    "a word for a sheet": (
        "¦stairs\n",
        "keys belong here, such as 'stage:', not the text 'stairs'.",
    ),
    "a tool that is none": (
        "to_hand:\n  ¦gage: yes\n",
        "to_hand: there is no tool 'gage' (did you mean 'gauge'?).",
    ),
    "a tool that is neither here nor not": (
        "to_hand:\n  gauge: ¦perhaps\n",
        "to_hand: 'gauge' takes 'yes' or 'no', not 'perhaps'.",
    ),
    "a fix that is none": (
        "tried:\n  ¦coat-agan: yes\n",
        "tried: there is no fix 'coat-agan' (did you mean 'coat-again'?).",
    ),
    "a tab": (
        "answers:\n¦\tstairs: yes\n",
        "a tab stands here; indent with spaces.",
    ),
    "a colon in a saying": (
        "stage: press\nsaid: it¦: blurs\n",
        "this ':' can't stand here; put a text with ': ' in it between quotes, or mend "
        "the indent.",
    ),
    "a quote that is not closed": (
        'said: ¦"it blurs\nanswers:\n  stairs: yes\n',
        "the quote opened here is never closed.",
    ),
    "an anchor": (
        "said: ¦&a [x, x]\nanswers: *a\n",
        "names for parts (& and *) are not read here; put a text that starts so "
        "between quotes.",
    ),
    "a NUL byte": (
        "said: x¦\0\n",
        "a character that can't be printed stands here (number 0); take it out.",
    ),
    "too deep a nesting": (
        "said: [[[[[[[[[[[[[[[[[[[¦[\n",
        "too many lists and keys stand inside one another here.",
    ),
}


@pytest.mark.parametrize("what", FAULTS)
def test_a_fault_in_a_sheet_is_named_by_line_and_part(
    what: str, tmp_path: Path, small: Knowledge
) -> None:
    """One sentence: file, line, part, what is wrong, what would be right."""
    (text, line, column), says = marked(FAULTS[what][0]), FAULTS[what][1]
    path = tmp_path / "s.yaml"
    path.write_bytes(text.encode())
    # what is no YAML is named by its column too
    assert fault(path, small) in (
        f"{path}:{line}: {says}",
        f"{path}:{line}:{column}: {says}",
    )


def test_all_faults_of_a_sheet_are_named_at_once(
    tmp_path: Path, small: Knowledge
) -> None:
    """In the order of the lines, each in a line of its own."""
    path = tmp_path / "s.yaml"
    path.write_text(
        "stage: pres\ncolor: red\nreadings:\n  thickness: 9 µm\nanswers:\n"
        "  stiars: yes\n  bands: [no]\n  gives: never\ntried:\n  go-on: perhaps\n"
    )
    lines = fault(path, small).split("\n")
    assert [int(line.split(":")[1]) for line in lines] == [1, 2, 4, 6, 7, 8, 10]


def test_of_very_many_faults_the_first_are_told(
    tmp_path: Path, small: Knowledge
) -> None:
    """The rest are counted, and cost no time."""
    path = tmp_path / "s.yaml"
    ids = [f"  stiars-{n}: yes\n" for n in range(5000)]
    path.write_text("stage: lunch\nanswers:\n" + "".join(ids))
    start = time.perf_counter()
    lines = fault(path, small).split("\n")
    assert time.perf_counter() - start < 3
    assert len(lines) == 21
    assert lines[1].endswith("'stiars-0' (did you mean 'stairs'?).")
    assert lines[-1] == f"{path}: and 4981 more."


@pytest.mark.parametrize("text", ["", "\n", "# nothing yet\n", "---\n", "''\n"])
def test_an_empty_sheet_says_what_it_may_hold(
    text: str, tmp_path: Path, small: Knowledge
) -> None:
    path = tmp_path / "s.yaml"
    path.write_text(text)
    parts = "stage, said, set_up, answers, readings"
    assert fault(path, small) == f"{path}: the sheet is empty; it holds any of {parts}."


def test_a_binary_file_is_no_sheet(tmp_path: Path, small: Knowledge) -> None:
    path = tmp_path / "s.yaml"
    path.write_bytes(b"\x89PNG\r\n\x1a\n\0\0")
    says = "this is not text in UTF-8; save it as text in that coding."
    assert fault(path, small) == f"{path}:1:1: {says}"


def test_what_is_no_file_is_named(tmp_path: Path, small: Knowledge) -> None:
    """A missing file, a folder, 50 MB: each one sentence, and nothing is read."""
    huge = tmp_path / "huge.yaml"
    with huge.open("wb") as file:
        file.truncate(50_000_000)
    over = tmp_path / "over.yaml"
    with over.open("wb") as file:
        file.truncate(4_000_001)
    says = {
        tmp_path / "none.yaml": "there is no such file.",
        tmp_path: "this is a folder; name a file in it.",
        huge: "50 MB is too large; such a file holds at most 4 MB of text.",
        over: "5 MB is too large; such a file holds at most 4 MB of text.",
    }
    for path, expected in says.items():
        with pytest.raises(FolderError) as raised:
            read_sheet(path, small)
        assert str(raised.value) == f"{path}: {expected}"


@settings(deadline=None)
@given(st.text(st.sampled_from(list("sadie:-[]{}\"'#&*!| \n\tstairs\0é9"))))
def test_any_file_is_a_sheet_or_refused(
    small: Knowledge, tmp_path_factory: Any, text: str
) -> None:
    """No text brings anything but a sheet or a SheetError that names the file."""
    path = tmp_path_factory.getbasetemp() / "any.yaml"
    path.write_bytes(text.encode())
    said = f"{path}:"
    try:
        read_sheet(path, small)
    except SheetError as error:
        said = str(error)
    assert all(line.startswith(f"{path}:") for line in said.split("\n"))


# written and read back

ODD = ["no", "012", "1e3", "null", "~", "0x1F", "- a", "a: b", "# c", "🖨️🎽", "", " "]
ODD += ["\t", "a\nb\n\nc", "\r\n", "\x85\u2028", "\0\x1b[31m", "'\"\\", "\ufeff"]
ODD += ["x" * 5000, "é " * 2000]
texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
texts |= st.sampled_from(ODD)
yes_no = st.sampled_from(["yes", "no"])


@st.composite
def filled(draw: st.DrawFn, texts: st.SearchStrategy[str] = texts) -> Sheet:
    """Any sheet that fits the small knowledge."""
    signs = st.sampled_from(["yes", "no", "somewhat", DONT_KNOW])
    return Sheet(
        stage=draw(st.sampled_from(["", "press", "wash-out"])),
        said=draw(st.lists(texts, max_size=4)),
        set_up=draw(st.fixed_dictionaries({}, optional={"coats": st.just("two")})),
        answers=draw(st.dictionaries(st.sampled_from(["stairs", "bands"]), signs)),
        readings=draw(
            st.fixed_dictionaries(
                {}, optional={"thickness": st.sampled_from(["9 ± 3 %", "012", "1,5"])}
            )
        ),
        to_hand=draw(st.dictionaries(st.just("gauge"), yes_no)),
        tried=draw(st.dictionaries(st.sampled_from(["go-on", "coat-again"]), yes_no)),
        begun=draw(texts.filter(bool) | st.just("")),
        ended=draw(st.just("")),
    )


@pytest.mark.parametrize("loader", ["CBaseLoader", "BaseLoader"])
@settings(deadline=None)
@given(sheet=filled())
def test_any_sheet_that_is_written_is_read_back_equal(
    loader: str, small: Knowledge, tmp_path_factory: Any, sheet: Sheet
) -> None:
    """Whatever was said, in any script: nothing is lost, and nothing changes."""
    path = tmp_path_factory.getbasetemp() / "back.yaml"
    path.write_text(sheet_text(sheet), encoding="utf-8")
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(yamltext, "_Loader", getattr(yaml, loader))
        assert read_sheet(path, small) == sheet


def test_writing_twice_is_writing_the_last(tmp_path: Path, small: Knowledge) -> None:
    path = tmp_path / "new" / "folder" / "s.yaml"
    write_sheet(Sheet(said=["a" * 9000]), path)
    write_sheet(Sheet(said=["b"], answers={"stairs": "no"}), path)
    assert read_sheet(path, small) == Sheet(said=["b"], answers={"stairs": "no"})


def test_half_a_character_does_not_stop_the_writing(
    tmp_path: Path, small: Knowledge
) -> None:
    """A terminal may pass on a byte that is no text; the rest of the line is kept."""
    path = tmp_path / "s.yaml"
    write_sheet(Sheet(said=["blurs \udcff here"]), path)
    assert read_sheet(path, small).said == ["blurs ? here"]


# nothing is lost


def version(number: int) -> Sheet:
    """The sheet of a number; its parts belong together, its length jumps about."""
    name = str(number)
    return Sheet(begun=name, said=[name, "x" * (number * 977 % 9000)], ended=name)


def number_of(path: Path, knowledge: Knowledge) -> int:
    """The number of a sheet that has to be whole."""
    sheet = read_sheet(path, knowledge)
    assert sheet == version(int(sheet.begun))
    return int(sheet.begun)


def in_a_child(work: Callable[[], None]) -> int:
    """Do something in a process of its own; its id."""
    child = os.fork()
    if child == 0:
        status = 1
        try:
            work()
            status = 0
        finally:
            os._exit(status)
    return child


def write_on(path: Path, first: int) -> None:
    number = first
    while True:
        write_sheet(version(number), path)
        number += 1


needs_fork = pytest.mark.skipif(not hasattr(os, "fork"), reason="needs fork")
KILLS = 200
SECONDS = 15
"""The longest that killing goes on; on a busy machine there are fewer kills then."""


@needs_fork
def test_a_writer_killed_at_any_moment_leaves_a_whole_sheet(
    tmp_path: Path, small: Knowledge
) -> None:
    """Killed 200 times at random: always whole, never older, never left locked.

    Every other time the writer is let write once before its last moment is drawn.
    """
    path = tmp_path / "s.yaml"
    write_sheet(version(0), path)
    pick = random.Random(8)
    newest, kills = 0, 0
    end = time.monotonic() + SECONDS
    while kills < KILLS and time.monotonic() < end:
        before = path.stat().st_ino
        child = in_a_child(partial(write_on, path, newest + 1))
        while kills % 2 and path.stat().st_ino == before and time.monotonic() < end:
            time.sleep(0.001)
        time.sleep(pick.uniform(0, 0.02))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        found = number_of(path, small)
        assert found >= newest
        newest, kills = found, kills + 1
    assert newest >= kills // 2 >= 10  # they did write, and were killed
    write_sheet(version(1_000_000), path)  # no lock is left
    assert number_of(path, small) == 1_000_000
    assert sorted(os.listdir(tmp_path)) == ["s.yaml", "s.yaml.lock"]


@needs_fork
def test_two_writers_at_once_do_no_harm(tmp_path: Path, small: Knowledge) -> None:
    """Every reader meanwhile finds one whole sheet or another; the last one stays."""
    path = tmp_path / "s.yaml"
    write_sheet(version(0), path)

    def write_some(first: int) -> None:
        for number in range(first, first + 40):
            write_sheet(version(number), path)

    children = [in_a_child(partial(write_some, first)) for first in (1000, 2000)]
    for _ in range(150):
        number_of(path, small)
    for child in children:
        assert os.waitpid(child, 0)[1] == 0
    assert number_of(path, small) in (1039, 2039)


def test_what_a_killed_writer_left_does_no_harm(
    tmp_path: Path, small: Knowledge
) -> None:
    """Half a new file and a stale lock are written over."""
    path = tmp_path / "s.yaml"
    (tmp_path / ".s.yaml.new").write_text("said: [half of")
    (tmp_path / "s.yaml.lock").write_text("4711")
    write_sheet(version(3), path)
    assert number_of(path, small) == 3
    assert not (tmp_path / ".s.yaml.new").exists()


def refused(path: Path) -> str:
    with pytest.raises(FolderError) as raised:
        write_sheet(version(2), path)
    return str(raised.value)


def test_a_sheet_that_another_program_writes_is_waited_for(
    tmp_path: Path, monkeypatch: Any
) -> None:
    """A while, and then it is said."""
    monkeypatch.setattr(sheets, "LONGEST_WAIT", 0.05)
    path = tmp_path / "s.yaml"
    with FileLock(f"{path}.lock"):
        says = f"{path}: another program is writing this file; try again."
        assert refused(path) == says
    write_sheet(version(2), path)


def test_a_folder_that_can_not_be_written_is_named(tmp_path: Path) -> None:
    """A file stands where the folder should be, or a folder where the file should."""
    blocked = tmp_path / "file"
    blocked.write_text("x")
    path = blocked / "s.yaml"
    assert refused(path).startswith(f"{path}: the file can't be written: ")
    assert (
        refused(tmp_path) == f"{tmp_path}: the file can't be written: Is a directory."
    )
    assert refused(tmp_path / "a\0b").endswith("can't be written: embedded null byte.")


@pytest.mark.parametrize("call", ["replace", "fsync"])
def test_a_full_disk_loses_nothing(
    call: str, tmp_path: Path, small: Knowledge, monkeypatch: Any
) -> None:
    """The sheet stays as it was, and no half of the new one is left about."""
    path = tmp_path / "s.yaml"
    write_sheet(version(1), path)

    def full(*_: Any) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, call, full)
        says = f"{path}: the file can't be written: No space left on device."
        assert refused(path) == says
    assert number_of(path, small) == 1
    assert not (tmp_path / ".s.yaml.new").exists()


@needs_fork
def test_a_sheet_is_on_disk_before_it_takes_its_place(
    tmp_path: Path, monkeypatch: Any
) -> None:
    """First the new file is synced, then it is moved, then the folder is synced."""
    done: list[str] = []
    sync, move = os.fsync, os.replace

    def note_sync(handle: int) -> None:
        is_folder = stat.S_ISDIR(os.fstat(handle).st_mode)
        done.append("folder synced" if is_folder else "file synced")
        sync(handle)

    def note_move(one: Path, other: Path) -> None:
        done.append("moved")
        move(one, other)

    monkeypatch.setattr(os, "fsync", note_sync)
    monkeypatch.setattr(os, "replace", note_move)
    write_sheet(version(1), tmp_path / "s.yaml")
    assert done == ["file synced", "moved", "folder synced"]


def test_stopping_in_the_middle_of_writing_loses_nothing(
    tmp_path: Path, small: Knowledge, monkeypatch: Any
) -> None:
    """Control-C while a sheet is written leaves the one before."""
    path = tmp_path / "s.yaml"
    write_sheet(version(1), path)

    def stop(*_: Any) -> None:
        raise KeyboardInterrupt

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", stop)
        with pytest.raises(KeyboardInterrupt):
            write_sheet(version(2), path)
    assert number_of(path, small) == 1
    write_sheet(version(2), path)
    assert number_of(path, small) == 2
