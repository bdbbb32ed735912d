"""Reading a knowledge folder: each fault is named by file, line, column and record."""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterable
from copy import deepcopy as copy_of
from pathlib import Path
from typing import Any

import msgspec
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from knowledge_copy import SMALL, KnowledgeCopy

from diagnose import FolderError, KnowledgeError, knowledge, load_knowledge, yamltext
from diagnose.knowledge import FOLDERS, LISTS, MAY_BE_MISSING, SCALES, TABLES
from diagnose.records import Condition, Knowledge, Scales
from diagnose.shapes import fit

CAUSES, STATES = "causes/all.yaml", "states/all.yaml"
FINDINGS, FIXES, RULES = "findings/all.yaml", "fixes/all.yaml", "rules/all.yaml"
HOLDS = (
    "a knowledge folder holds causes, states, findings, fixes, rules, windows, "
    "workings, scales.yaml, stages.yaml, tools.yaml, sources.yaml, cautions.yaml, "
    "not-apart.yaml, meshes.yaml, lights.yaml, pictures.yaml, terms.yaml, guide.yaml, "
    "alike.yaml, loosely.yaml."
)
SOURCES = "sources: [common practice]"

# file, text → text with the mark ¦ where the message has to point, what is said
SHAPES: dict[str, tuple[str, str, str, str]] = {
    "a misspelt key": (
        CAUSES,
        "name: too few coats",
        "¦nmae: too few coats",
        "few-coats: shape: there is no key 'nmae' (did you mean 'name'?).",
    ),
    "an unknown key": (
        CAUSES,
        "name: too few coats",
        "name: too few coats\n  ¦brand: x",
        "few-coats: shape: there is no key 'brand'.",
    ),
    "a misspelt key in a link": (
        CAUSES,
        "- state: thin",
        "- ¦stat: thin",
        "few-coats: shape: there is no key 'stat' (did you mean 'state'?).",
    ),
    "a misspelt key in a choice": (
        FINDINGS,
        "usual: 0.15",
        "¦ususal: 0.15",
        "coats: shape: there is no key 'ususal' (did you mean 'usual'?).",
    ),
    "a missing key": (
        CAUSES,
        "- id: few-coats\n  status: tried\n  name: too few coats\n",
        "- ¦id: few-coats\n  status: tried\n",
        "few-coats: shape: the key 'name' is missing.",
    ),
    "a missing key in a link": (
        CAUSES,
        "- state: thin\n    strength: almost always\n",
        "- ¦state: thin\n",
        "few-coats: shape: the key 'strength' is missing.",
    ),
    "no id at all": (
        CAUSES,
        "- id: nick\n  status: tried\n",
        "- ¦status: tried\n",
        "causes number 3: shape: the key 'id' is missing.",
    ),
    "an id with capitals and blanks": (
        CAUSES,
        "- id: few-coats",
        "- id: ¦Few coats",
        "Few coats: shape: 'Few coats' is no id; an id is lower-case words with "
        "hyphens, such as 'few-coats'.",
    ),
    "not a number": (
        CAUSES,
        "minutes: 600",
        "minutes: ¦one",
        "few-coats: shape: 'one' is not a number.",
    ),
    "a decimal comma": (
        CAUSES,
        "minutes: 600",
        "minutes: ¦1,5",
        "few-coats: shape: '1,5' is not a number; write 1.5.",
    ),
    "a negative number of minutes": (
        CAUSES,
        "minutes: 600",
        "minutes: ¦-1",
        "few-coats: shape: -1 is out of range; a number from 0 up to 10080 belongs "
        "here.",
    ),
    "a number that is none": (
        FINDINGS,
        "lowest: 0",
        "lowest: ¦nan",
        "thickness: shape: nan is out of range; a number from -1000000 up to 1000000 "
        "belongs here.",
    ),
    "an endless number": (
        RULES,
        "below: 10",
        "below: ¦-inf",
        "thin-by-gauge: shape: -inf is out of range; a number from -1000000 up to "
        "1000000 belongs here.",
    ),
    "a share above one": (
        FINDINGS,
        "usual: 0.15",
        "usual: ¦1.5",
        "coats: shape: 1.5 is out of range; a number above 0 and up to 1 belongs here.",
    ),
    "a doubt of nothing": (
        FINDINGS,
        "give_or_take: 2",
        "give_or_take: ¦0",
        "thickness: shape: 0 is out of range; a number above 0 and up to 1000000 "
        "belongs here.",
    ),
    "a list where a number belongs": (
        CAUSES,
        "minutes: 600",
        "minutes: ¦[1]",
        "few-coats: shape: a number belongs here, not a list of 1.",
    ),
    "nothing where a number belongs": (
        CAUSES,
        "minutes: 600",
        "minutes:¦",
        "few-coats: shape: nothing stands here; a number belongs here.",
    ),
    "nothing after a key that may be left out": (
        FINDINGS,
        "lowest: 0",
        "lowest:¦",
        "thickness: shape: nothing stands here; leave the key out, or fill it in.",
    ),
    "a word where a list belongs": (
        CAUSES,
        SOURCES,
        "sources: ¦common practice",
        "few-coats: shape: a list belongs here, such as [common practice], not the "
        "text 'common practice'.",
    ),
    "nothing where a list belongs": (
        CAUSES,
        SOURCES,
        "sources:¦",
        "few-coats: shape: nothing stands here; a list belongs here.",
    ),
    "keys where a list belongs": (
        CAUSES,
        SOURCES,
        "sources: ¦{common: practice}",
        "few-coats: shape: a list belongs here, not keys.",
    ),
    "an empty list": (
        CAUSES,
        SOURCES,
        "sources: ¦[]",
        "few-coats: shape: the list is empty; one entry at least belongs here.",
    ),
    "a list where a word belongs": (
        CAUSES,
        "what: One coat only.",
        "what: ¦[One coat only.]",
        "few-coats: shape: a text belongs here, not a list of 1.",
    ),
    "nothing where a text belongs": (
        CAUSES,
        "what: One coat only.",
        "what:¦",
        "few-coats: shape: nothing stands here; a text belongs here.",
    ),
    "a very long text": (
        CAUSES,
        "what: One coat only.",
        f"what: ¦{'x' * 2001}",
        "few-coats: shape: the text has 2001 characters; 2000 at most belong here.",
    ),
    "a word where keys belong": (
        RULES,
        "- {finding: gives}",
        "- ¦gives",
        "tight-and-slack: shape: keys belong here, such as 'finding:', not the text "
        "'gives'.",
    ),
    "a word where an example belongs": (
        RULES,
        "fires_on: {stencil: film}",
        "fires_on: ¦film",
        "film-no-trough: shape: lines 'name: value' belong here, not the text 'film'.",
    ),
    "an empty example": (
        RULES,
        "fires_on: {stencil: film}",
        "fires_on: ¦{}",
        "film-no-trough: shape: one line 'name: value' at least belongs here.",
    ),
    "a bad id in an example": (
        RULES,
        "fires_on: {stencil: film}",
        "fires_on: {¦Stencil: film}",
        "film-no-trough: shape: 'Stencil' is no id; an id is lower-case words with "
        "hyphens, such as 'stencil'.",
    ),
    "one limit where two belong": (
        RULES,
        "below: 10",
        "between: ¦[10]",
        "thin-by-gauge: shape: a list of 2 belongs here, not a list of 1.",
    ),
    "a word that is none of the allowed ones": (
        FINDINGS,
        "role: sign",
        "role: ¦sing",
        "stairs: shape: 'sing' is not one of change, check, habit, set-up, sign, "
        "timing (did you mean 'sign'?).",
    ),
    "a misspelt kind": (
        FINDINGS,
        "kind: reading",
        "kind: ¦raeding",
        "thickness: shape: 'raeding' is not one of choice, reading, yes-no (did you "
        "mean 'reading'?).",
    ),
    "a list in place of an allowed word": (
        FINDINGS,
        "role: sign",
        "role: ¦[sign]",
        "stairs: shape: one of change, check, habit, set-up, sign, timing belongs "
        "here, not a list of 1.",
    ),
    "a scale above one": (
        SCALES,
        "almost always: 0.91",
        "almost always: ¦9.1",
        "scales: shape: 9.1 is out of range; a number above 0 and below 1 belongs "
        "here.",
    ),
    "a misspelt scale": (
        SCALES,
        "strengths:",
        "¦strenghts:",
        "scales: shape: there is no key 'strenghts' (did you mean 'strengths'?).",
    ),
    "a misspelt key over a list": (
        "stages.yaml",
        "moments:",
        "¦momnets:",
        "stages: shape: there is no key 'momnets' (did you mean 'moments'?).",
    ),
    "one cause in a pair": (
        "not-apart.yaml",
        "not_apart: []",
        "not_apart:\n- {id: a-b, causes: ¦[nick], because: x}",
        "a-b: shape: a list of 2 belongs here, not a list of 1.",
    ),
    "a tab": (
        CAUSES,
        "  name: too few coats",
        "¦\tname: too few coats",
        "few-coats: yaml: a tab stands here; indent with spaces.",
    ),
    "a key for the second time": (
        CAUSES,
        "  name: too few coats",
        "  name: too few coats\n  ¦name: one coat",
        "few-coats: yaml: the key 'name' stands here a second time.",
    ),
    "a colon in a text": (
        CAUSES,
        "what: One coat only.",
        "what: One¦: a coat.",
        "few-coats: yaml: this ':' can't stand here; put a text with ': ' in it "
        "between quotes, or mend the indent.",
    ),
    "an anchor": (
        CAUSES,
        "what: One coat only.",
        "what: ¦&one One coat only.",
        "few-coats: yaml: names for parts (& and *) are not read here; put a text "
        "that starts so between quotes.",
    ),
    "too deep a nesting": (
        CAUSES,
        "what: One coat only.",
        f"what: {'[' * 18}¦{'[' * 500}",
        "few-coats: yaml: too many lists and keys stand inside one another here.",
    ),
    "a NUL byte": (
        CAUSES,
        "what: One coat only.",
        "what: One¦\0 coat only.",
        "few-coats: yaml: a character that can't be printed stands here (number 0); "
        "take it out.",
    ),
    "a fault in a single file": (
        "tools.yaml",
        "- id: gauge\n  name: a thickness gauge",
        '- id: gauge\n  name: ¦"a thickness gauge',
        "tools: yaml: the quote opened here is never closed.",
    ),
}


def test_the_small_knowledge_is_read(small: Knowledge) -> None:
    """Good knowledge is read whole, each record by its id and in the files' order."""
    assert list(small.causes) == ["few-coats", "slack", "nick"]
    assert small.findings["thickness"].give_or_take == 2
    assert small.findings["coats"].values() == ("one", "two", "many")
    assert small.rules["thin-by-gauge"].when.all[0].below == 10
    place = small.place("causes", "few-coats", "makes", 0, "state")
    assert str(place) == f"{SMALL / CAUSES}:8:12"


@pytest.mark.parametrize("fault", SHAPES)
def test_a_fault_in_a_file_is_named_once_and_by_its_place(
    fault: str, copy: KnowledgeCopy
) -> None:
    """One fault, one sentence: place, record, check, what is wrong, what is right."""
    file, old, new, says = SHAPES[fault]
    place = copy.edit(file, old, new)
    assert copy.faults() == [f"{place}: {says}"]


def test_all_faults_are_named_in_one_pass(copy: KnowledgeCopy) -> None:
    """Faults of every kind in many files, two in one record: each is named, once."""
    edits = [
        (CAUSES, "- how: Count the coats.", "- ¦who: Count the coats."),
        (CAUSES, "- state: thin", "- state: ¦thinn"),
        (CAUSES, "what: The mesh is slack.", "what: The mesh¦: slack."),
        (CAUSES, "- finding: nick-felt", "- finding: ¦nick-fellt"),
        (FINDINGS, "role: sign", "role: ¦sing"),
        (FINDINGS, "seen_anyway: rarely", "seen_anyway: ¦seldom"),
        (FIXES, "moment: remake", "moment: ¦remakes"),
        (FIXES, "{cause: nick,", "{cause: ¦nic,"),
        (RULES, "how_much: more likely", "how_much: ¦more"),
        (RULES, "fires_on: {stencil: film}", "fires_on: ¦film"),
        (STATES, "state: thin", "state: ¦thine"),
        (SCALES, "somewhat: 0.75", "somewhat: ¦0.3"),
        ("tools.yaml", "name: a", "¦nam: a"),
        ("stages.yaml", "- id: ink", "- id: ¦Ink"),
        ("cautions.yaml", "cautions:", "¦caution:"),
    ]
    expected = [copy.edit(*edit) for edit in edits]
    expected += [copy.write("rules/more.yml", "¦[]"), copy.write("cause/a.yaml", "¦[]")]
    expected[-1] = f"{copy.folder / 'cause'}:1:1"
    found = [line.split(": ", 1)[0] for line in copy.faults()]
    assert sorted(found) == sorted(expected)


def test_faults_come_in_the_order_of_the_files(copy: KnowledgeCopy) -> None:
    """By file, and within a file by line and not by the digits of its number."""
    expected = [
        copy.edit(CAUSES, "stage: coating", "stage: ¦coat"),
        copy.edit(CAUSES, "how_common: fairly common", "how_common: ¦fairly"),
        copy.edit(CAUSES, "- finding: nick-felt", "- finding: ¦nick-fellt"),
        copy.edit(STATES, "- id: thin\n    tell", "- id: ¦thinn\n    tell"),
    ]
    assert [line.split(": ", 1)[0] for line in copy.faults()] == expected


def test_one_record_that_is_no_yaml_hides_no_other(copy: KnowledgeCopy) -> None:
    """The records around it are read, and links to it are no faults."""
    broken = copy.edit(CAUSES, "name: slack mesh", 'name: ¦"slack mesh')
    other = copy.edit(CAUSES, "- finding: nick-felt", "- finding: ¦nick")
    assert [line.split(": ", 2)[:2] for line in copy.faults()] == [
        [broken, "slack"],
        [other, "nick"],
    ]


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        (FINDINGS, "kind: reading", "kind: ¦graph"),
        (FINDINGS, "kind: choice", "kind: ¦[choice]"),
        (FINDINGS, "says: One coat", "¦syas: One coat"),
        (RULES, "- {finding: thickness-low}", "- {¦fnding: thickness-low}"),
        (RULES, "name: thin by the gauge", 'name: ¦"thin by the gauge'),
        (RULES, "- id: thin-by-gauge", "- ¦di: thin-by-gauge"),
        (RULES, "conclude:\n    - {finding: thickness-low}", "conclude: ¦thin"),
        (
            FINDINGS,
            "- id: thickness\n  status: tried",
            "- id: thickness\n  status: ¦new",
        ),
    ],
)
def test_nothing_is_said_of_what_only_follows_from_a_fault(
    file: str, old: str, new: str, copy: KnowledgeCopy
) -> None:
    """What a faulty record would have been is not missed elsewhere."""
    place = copy.edit(file, old, new)
    assert {line.split(": ")[0] for line in copy.faults()} == {place}


def test_a_quote_closed_too_late_is_told_by_the_lines_of_the_file(
    copy: KnowledgeCopy,
) -> None:
    """Both places count from the start of the file, not of the record."""
    place = copy.edit(RULES, "name: thin by the gauge", 'name: ¦"thin by the gauge')
    says = "the quote opened here is closed in line 27 only; close it where the text "
    assert copy.faults() == [f"{place}: thin-by-gauge: yaml: {says}ends."]


def test_a_file_that_is_no_yaml_at_all_is_one_fault(copy: KnowledgeCopy) -> None:
    """What the file would have held is not missed as well."""
    place = copy.write(CAUSES, "few coats\nslack¦: mesh: nick\n")
    assert [line.split(": ")[0] for line in copy.faults()] == [place]


def test_an_id_belongs_to_one_record_only(copy: KnowledgeCopy) -> None:
    """The second record of an id is named, with the place of the first."""
    text = copy.text(CAUSES).replace("few", "¦few", 1)
    place = copy.write("causes/more.yaml", text.replace("state: thin", "state: x"))
    again = [f"{place}: few-coats: id: this id is already taken at "]
    again[0] += f"{copy.path(CAUSES)}:1:3; each record has its own."
    assert copy.faults()[0] == again[0]
    assert [line.split(": ")[1:3] for line in copy.faults()] == [
        ["few-coats", "id"],
        ["slack", "id"],
        ["nick", "id"],
    ]


def test_records_of_two_kinds_share_no_id(copy: KnowledgeCopy) -> None:
    """A fix can't be called like a cause; nothing else is said about either."""
    place = copy.edit(FIXES, "- id: coat-again", "- id: ¦nick")
    says = f"this id is already taken at {copy.path(CAUSES)}:48:3; each record has its "
    assert copy.faults() == [f"{place}: nick: id: {says}own."]


def test_a_missing_scale_is_named(copy: KnowledgeCopy) -> None:
    """Every scale has to be there."""
    copy.edit(SCALES, "somewhat: 0.75\n", "¦")
    where = f"{copy.path(SCALES)}:8:1"
    assert copy.faults() == [f"{where}: scales: shape: the key 'somewhat' is missing."]


# files and folders


def test_a_missing_folder_is_named(tmp_path: Path) -> None:
    """One sentence: what is missing, and what such a folder holds."""
    where = tmp_path / "none"
    with pytest.raises(FolderError) as raised:
        load_knowledge(where)
    assert str(raised.value) == f"{where}: there is no such folder; {HOLDS}"


@pytest.mark.parametrize("name", ["x" * 300, "a\0b"])
def test_a_folder_with_an_impossible_name_is_named(name: str, tmp_path: Path) -> None:
    """No file system has such a name; that is said in one sentence."""
    with pytest.raises(FolderError) as raised:
        load_knowledge(tmp_path / name)
    assert str(raised.value).startswith(f"{tmp_path / name}: the")
    assert "\n" not in str(raised.value)


def test_a_file_is_no_knowledge_folder(tmp_path: Path) -> None:
    where = tmp_path / "a.yaml"
    where.write_text("[]")
    with pytest.raises(FolderError) as raised:
        load_knowledge(where)
    assert str(raised.value) == f"{where}: this is no folder; {HOLDS}"


@pytest.mark.parametrize("inside", [[], ["notes.txt"], ["things.yaml", "b/c.yaml"]])
def test_a_folder_without_knowledge_is_one_fault(
    inside: Iterable[str], tmp_path: Path
) -> None:
    """Eleven missing parts are not listed where nothing at all is there."""
    for name in inside:
        (tmp_path / name).parent.mkdir(exist_ok=True)
        (tmp_path / name).write_text("[]")
    with pytest.raises(FolderError) as raised:
        load_knowledge(tmp_path)
    assert str(raised.value) == f"{tmp_path}: this is no knowledge folder; {HOLDS}"


@pytest.mark.parametrize("kind", [k for k in FOLDERS if k not in MAY_BE_MISSING])
def test_a_missing_part_is_one_fault(kind: str, copy: KnowledgeCopy) -> None:
    """What the missing records would have been is not missed as well."""
    shutil.rmtree(copy.folder / kind)
    assert copy.faults() == [
        f"{copy.folder / kind}:1:1: {kind}: file: there is no such folder; the {kind} "
        "belong in it."
    ]


def test_calculations_may_be_missing(copy: KnowledgeCopy) -> None:
    """A knowledge without workings and tables is one all the same."""
    for kind in MAY_BE_MISSING:
        shutil.rmtree(copy.folder / kind)
    for kind in TABLES:
        copy.path(f"{kind}.yaml").unlink()
    found = load_knowledge(copy.folder)
    assert not any(getattr(found, kind) for kind in (*MAY_BE_MISSING, *TABLES))
    assert found.causes == load_knowledge(SMALL).causes


@pytest.mark.parametrize("kind", FOLDERS)
def test_an_empty_folder_of_records_is_one_fault(
    kind: str, copy: KnowledgeCopy
) -> None:
    (copy.folder / kind / "all.yaml").unlink()
    assert copy.faults() == [
        f"{copy.folder / kind}:1:1: {kind}: empty: the folder holds no file that ends "
        "in .yaml."
    ]


@pytest.mark.parametrize("file", [SCALES, *LISTS])
def test_a_missing_file_is_one_fault(file: str, copy: KnowledgeCopy) -> None:
    copy.path(file).unlink()
    name = file.removesuffix(".yaml")
    assert copy.faults() == [
        f"{copy.path(file)}:1:1: {name}: file: there is no such file."
    ]


@pytest.mark.parametrize("text", ["", "\n", "# later\n", "---\n"])
@pytest.mark.parametrize("kind", FOLDERS)
def test_an_empty_file_of_records_is_a_fault(
    kind: str, text: str, copy: KnowledgeCopy
) -> None:
    """Someone meant to write there; a list of no records is written []."""
    place = copy.write(f"{kind}/more.yaml", f"¦{text}")
    place = place.rsplit(":", 2)[0] + ":1:1"
    says = "more: empty: the file is empty; write its records, or [] for none."
    assert copy.faults() == [f"{place}: {says}"]
    copy.write(f"{kind}/more.yaml", "¦[]\n")
    assert load_knowledge(copy.folder).causes


@pytest.mark.parametrize("file", [SCALES, *LISTS])
def test_an_empty_single_file_is_a_fault(file: str, copy: KnowledgeCopy) -> None:
    """Empty files pass for nothing: all that they hold may have been lost."""
    place = copy.write(file, "¦# nothing\n")
    (fault,) = copy.faults()
    assert fault.startswith(f"{place}: {Path(file).stem}: empty: the file is empty; it")


def test_a_wrong_ending_is_named_and_not_passed_over(copy: KnowledgeCopy) -> None:
    """A file of records that is not read would be lost without a word."""
    place = copy.write("causes/more.yml", "¦[]")
    upper = copy.write("fixes/MORE.YAML", "¦[]")
    says = "file: the name of a file of records has to end in '.yaml'."
    assert copy.faults() == [f"{place}: more: {says}", f"{upper}: MORE: {says}"]


def test_a_misspelt_file_or_folder_is_named(copy: KnowledgeCopy) -> None:
    """With the nearest valid name; hidden files and other kinds of file are let be."""
    copy.write(".git/x.yaml", "¦[]")
    copy.write("README.md", "¦Read me.")
    copy.write("causes/.all.yaml.swp", "¦x")
    load_knowledge(copy.folder)
    tool = copy.write("tool.yaml", "¦tools: []")
    copy.write("cause/all.yaml", "¦[]")
    assert copy.faults() == [
        f"{copy.folder / 'cause'}:1:1: cause: file: nothing is read from here (did you "
        f"mean 'causes'?); {HOLDS}",
        f"{tool}: tool: file: nothing is read from here (did you mean 'tools.yaml'?); "
        f"{HOLDS}",
    ]


def test_a_folder_in_place_of_a_file_is_named(copy: KnowledgeCopy) -> None:
    (copy.folder / "causes" / "more.yaml").mkdir()
    copy.path("tools.yaml").unlink()
    copy.path("tools.yaml").mkdir()
    says = "file: this is a folder; name a file in it."
    assert copy.faults() == [
        f"{copy.path('causes/more.yaml')}:1:1: more: {says}",
        f"{copy.path('tools.yaml')}:1:1: tools: {says}",
    ]


def test_a_file_in_place_of_a_folder_is_named(copy: KnowledgeCopy) -> None:
    shutil.rmtree(copy.folder / "rules")
    (copy.folder / "rules").write_text("[]")
    assert copy.faults() == [
        f"{copy.folder / 'rules'}:1:1: rules: file: there is no such folder; the rules "
        "belong in it."
    ]


def test_a_binary_file_is_named_by_line_and_column(copy: KnowledgeCopy) -> None:
    """The line stands where lines stand, and not in the sentence."""
    path = copy.path("causes/more.yaml")
    path.write_bytes(b"- id: a\n  b: \x89PNG\r\n\x1a\x00\xff")
    assert copy.faults() == [
        f"{path}:2:6: more: file: this is not text in UTF-8; save it as text in that "
        "coding."
    ]


def test_a_huge_file_is_turned_away_by_its_size(
    copy: KnowledgeCopy, monkeypatch: Any
) -> None:
    """50 MB are never read; all other faults are still named."""
    path = copy.path("causes/huge.yaml")
    with path.open("wb") as file:
        os.truncate(file.fileno(), 50_000_000)
    other = copy.edit(CAUSES, "stage: coating", "stage: ¦coat")
    read = Path.read_bytes

    def read_small(self: Path) -> bytes:
        assert self != path, "the huge file was read"
        return read(self)

    monkeypatch.setattr(Path, "read_bytes", read_small)
    assert copy.faults() == [
        f"{other}: few-coats: word: there is no stage 'coat' (did you mean "
        "'coating'?).",
        f"{path}:1:1: huge: file: 50 MB is too large; such a file holds at most 4 MB "
        "of text.",
    ]


def test_a_folder_that_may_not_be_read_is_named(
    copy: KnowledgeCopy, monkeypatch: Any
) -> None:
    """The operating system's reason is passed on (root may read all: simulated)."""

    def refuse(self: Path) -> Iterable[Path]:
        raise PermissionError(13, "Permission denied")

    monkeypatch.setattr(Path, "iterdir", refuse)
    with pytest.raises(FolderError) as raised:
        load_knowledge(copy.folder)
    says = "the folder can't be read: Permission denied."
    assert str(raised.value) == f"{copy.folder}: {says}"


@pytest.mark.parametrize("may_not", ["lstat", "is_dir"])
def test_a_folder_that_may_be_listed_but_not_entered_is_named(
    may_not: str, copy: KnowledgeCopy, monkeypatch: Any
) -> None:
    """One sentence, whatever stands in it (root may enter all: simulated)."""
    copy.write("notes/x.txt", "¦x")
    real = getattr(Path, may_not)

    def refuse(self: Path) -> Any:
        if self.parent == copy.folder:
            raise PermissionError(13, "Permission denied", str(self))
        return real(self)

    monkeypatch.setattr(Path, may_not, refuse)
    with pytest.raises(FolderError) as raised:
        load_knowledge(copy.folder)
    says = "the folder can't be read: Permission denied."
    assert str(raised.value) == f"{copy.folder}: {says}"


@pytest.mark.parametrize("closed", ["causes", "causes/more"])
def test_a_folder_of_records_that_may_not_be_read_is_named(
    closed: str, copy: KnowledgeCopy, monkeypatch: Any
) -> None:
    """It is not said to be empty, nor passed over (simulated, as above)."""
    (copy.folder / "causes" / "more").mkdir()
    real = os.scandir

    def refuse(path: Any) -> Any:
        if Path(path) == copy.folder / closed:
            raise PermissionError(13, "Permission denied", str(path))
        return real(path)

    monkeypatch.setattr(os, "scandir", refuse)
    assert copy.faults() == [
        f"{copy.folder / closed}:1:1: causes: file: the folder can't be read: "
        "Permission denied."
    ]


def test_a_link_that_leads_nowhere_is_named(copy: KnowledgeCopy) -> None:
    """For a whole folder, a folder of records and a file."""
    for name in ("rules", "loop"):
        shutil.rmtree(copy.folder / name, ignore_errors=True)
        (copy.folder / name).symlink_to(copy.folder / name)
    assert copy.faults() == [
        f"{copy.folder / 'rules'}:1:1: rules: file: this is a link that leads nowhere; "
        "the rules belong in it."
    ]
    with pytest.raises(FolderError) as raised:
        load_knowledge(copy.folder / "loop")
    says = "this is a link that leads nowhere;"
    assert str(raised.value).startswith(f"{copy.folder / 'loop'}: {says}")


def test_near_names_are_looked_up_for_the_first_faults_only(
    copy: KnowledgeCopy, monkeypatch: Any
) -> None:
    """Thousands of unknown words are all named, and cost little time."""
    monkeypatch.setattr(knowledge, "HINTS", 1)
    copy.edit(CAUSES, "stage: coating", "stage: ¦coatin")
    copy.edit(CAUSES, "stage: mesh", "stage: ¦mehs")
    first, second = copy.faults()
    assert first.endswith("no stage 'coatin' (did you mean 'coating'?).")
    assert second.endswith("no stage 'mehs'.")


def test_a_name_in_a_message_is_short_and_has_no_controls(copy: KnowledgeCopy) -> None:
    """A word of a thousand letters is cut; what would steer a terminal is spelt out."""
    copy.edit(CAUSES, "- state: thin", f"- state: ¦{'a' * 50}-{'b' * 9}")
    copy.edit(CAUSES, "stage: mesh", f"stage: ¦{'a-' * 29}b")
    copy.edit(CAUSES, "how_common: common", f"how_common: ¦{'very ' * 300}")
    copy.edit(FIXES, "- id: go-on", '- id: ¦"go\\e[31m\\non"')
    assert all(len(line) < 400 and line.isprintable() for line in copy.faults())


# shapes in general

RECORDS: list[tuple[type[msgspec.Struct], Any]] = [
    (record, item)
    for kind, record in FOLDERS.items()
    for item in yamltext.parse((SMALL / kind / "all.yaml").read_text(), kind)[0]
] + [(Scales, yamltext.parse((SMALL / SCALES).read_text(), SCALES)[0])]
anything = st.recursive(
    st.sampled_from(["", "yes", "no", "1", "-1", "nan", "0.5", "null", "a-b", "x y"]),
    lambda part: (
        st.lists(part, max_size=2)
        | st.dictionaries(
            st.sampled_from(["id", "name", "when", "all", "value", "between", "x"]),
            part,
            max_size=4,
        )
    ),
    max_leaves=6,
)


@settings(deadline=None, max_examples=300)
@given(st.sampled_from(RECORDS), anything, st.data())
def test_faults_are_found_just_where_a_record_can_not_be_made(
    sound: tuple[type[msgspec.Struct], Any], part: Any, draw: st.DataObject
) -> None:
    """With any part replaced: what fits makes the record, what does not is named."""
    record, data = sound[0], copy_of(sound[1])
    here = data
    while True:
        key = draw.draw(
            st.sampled_from(list(here) if isinstance(here, dict) else range(len(here)))
        )
        if not here[key] or isinstance(here[key], str) or draw.draw(st.booleans()):
            break
        here = here[key]
    here[key] = part
    fitting, misfits = fit(data, record)
    made = msgspec.convert(fitting, record, strict=False)
    if not misfits:
        assert made == msgspec.convert(data, record, strict=False)
        return
    with pytest.raises(msgspec.ValidationError):
        msgspec.convert(data, record, strict=False)
    for misfit in misfits:
        assert misfit.says.endswith(".")
        assert not set(misfit.says) & set("$`<>"), misfit.says


def test_null_is_a_text_but_no_number() -> None:
    """Where a number may be left out, `null` leaves it out."""
    data = {"below": "null", "finding": "null", "between": "null", "value": ["x"]}
    assert fit(data, Condition)[1] == []
    made = msgspec.convert(data, Condition, strict=False)
    assert (made.below, made.finding, made.between) == (None, "null", None)


def test_every_fault_of_the_table_is_plain_english() -> None:
    """No words of Python, no paths in its manner, no names of classes."""
    for _, _, _, says in SHAPES.values():
        words = set(says.replace("'", " ").replace(",", " ").split())
        assert not words & {"str", "float", "int", "bool", "None", "dict", "array"}
        assert "$" not in says
        assert "object" not in says


def test_knowledge_in_many_files_and_folders_is_the_same(copy: KnowledgeCopy) -> None:
    """Records may be spread over files and folders below each kind's folder."""
    records = copy.text(CAUSES).split("\n- ")
    copy.path(CAUSES).unlink()
    for number, record in enumerate(records):
        lead = "" if number == 0 else "- "
        copy.write(f"causes/deep/{number}/one.yaml", f"¦{lead}{record}\n")
    assert load_knowledge(copy.folder).causes == load_knowledge(SMALL).causes


def test_an_error_holds_each_problem_for_programs(copy: KnowledgeCopy) -> None:
    """`problems` has place, record, check and sentence apart."""
    copy.edit(CAUSES, "- state: thin", "- state: ¦thinn")
    with pytest.raises(KnowledgeError) as raised:
        load_knowledge(copy.folder)
    (problem,) = raised.value.problems
    assert problem.place.file == str(copy.path(CAUSES))
    assert (problem.place.line, problem.place.column) == (8, 12)
    assert (problem.record, problem.check) == ("few-coats", "link")
    assert problem.says == "there is no state 'thinn' (did you mean 'thin'?)."


def test_the_fallback_loader_reads_the_same(monkeypatch: Any) -> None:
    """Without libyaml the knowledge is the same, more slowly."""
    import yaml

    fast = load_knowledge(SMALL)
    monkeypatch.setattr(yamltext, "_Loader", yaml.BaseLoader)
    slow = load_knowledge(SMALL)
    for field in ("scales", "causes", "findings", "rules", "sources", "places"):
        assert getattr(slow, field) == getattr(fast, field)
