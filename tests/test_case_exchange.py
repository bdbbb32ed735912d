"""Cases in and out: nothing lost, nothing twice, every row that is left out named."""

from __future__ import annotations

import json
import random
import re
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from knowledge_copy import marked
from test_case_record import FULL, cases

from diagnose.cases.exchange import Report, export_cases, import_cases
from diagnose.cases.record import Case, Confirmed, correct_case
from diagnose.cases.shop import Shop
from diagnose.errors import CaseError, FolderError
from diagnose.records import Knowledge


def taken(
    knowledge: Knowledge, folder: Path, text: str | bytes, mapping: str = ""
) -> tuple[Report, list[Case]]:
    """What comes of a table, and the cases."""
    shop = Shop(folder / "shop")
    file = folder / "log.csv"
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    columns = None
    if mapping:
        columns = folder / "log.yaml"
        columns.write_text(mapping, encoding="utf-8")
    report = import_cases(shop, knowledge, file, columns)
    found = [shop.read(id, knowledge).case for id in report.taken]
    return report, found


def refused(knowledge: Knowledge, folder: Path, text: str, mapping: str = "") -> str:
    with pytest.raises(CaseError) as raised:
        taken(knowledge, folder, text, mapping)
    return str(raised.value).replace(f"{folder}/", "")


# JSON Lines


@settings(deadline=None, max_examples=40)
@given(several=st.lists(cases(), max_size=4))
def test_json_lines_lose_nothing(
    small: Knowledge, tmp_path_factory: Any, several: list[Case]
) -> None:
    """Out and into an empty shop: the same cases under the same ids."""
    folder = tmp_path_factory.mktemp("lines")
    one, other = Shop(folder / "one"), Shop(folder / "other")
    ids = [one.add(case) for case in several]
    export_cases(one.all(small).kept, folder / "c.jsonl")
    report = import_cases(other, small, folder / "c.jsonl")
    assert sorted(report.taken) == sorted(ids)
    assert not report.told
    assert dict(zip(ids, several, strict=True)) == {
        kept.id: kept.case for kept in other.all(small).kept
    }
    again = import_cases(other, small, folder / "c.jsonl")
    assert len(again.twice) == len(several)
    assert not again.taken


@pytest.mark.parametrize(
    ("line", "says"),
    [
        ("{", "this is no JSON: Expecting property name enclosed in double quotes"),
        ("[1]", "keys belong here, such as 'date:', not a list of 1."),
        ('{"who": "Meg"}', "date: the key 'date' is missing."),
        ('{"date": "2026-03-14", "minutes": NaN}', "NaN is no number."),
        ('{"date": "2026-03-14", "date": "x"}', "the key 'date' stands twice."),
        ('{"date": "2026-03-14", "id": ["x"]}', "id: a text belongs here."),
        ('{"date": "2026-03-14", "minutes": "x"}', "minutes: 'x' is not a number."),
        ("[" * 90_000, "this can't be read: too deep."),
    ],
)
def test_a_line_that_is_no_case_is_named(
    line: str, says: str, tmp_path: Path, small: Knowledge
) -> None:
    """The others are taken; numbers, true and null are as good as text."""
    good = (
        '{"date": "2026-03-14", "minutes": 5, "who": null, "answers": {"stairs": true}}'
    )
    file = tmp_path / "c.jsonl"
    file.write_text(f"{good}\n\n{line}\n")
    report = import_cases(Shop(tmp_path / "shop"), small, file)
    assert len(report.taken) == 1
    (told,) = report.told
    assert told.startswith(f"{file}:3: ")
    assert says in told
    (kept,) = Shop(tmp_path / "shop").all(small).kept
    assert kept.case == Case(date="2026-03-14", minutes=5, answers={"stairs": "yes"})


def test_a_line_that_is_no_text_is_named(tmp_path: Path, small: Knowledge) -> None:
    file = tmp_path / "c.jsonl"
    file.write_bytes(b'{"date": "2026-03-14"}\n\xff\n')
    report = import_cases(Shop(tmp_path / "shop"), small, file)
    assert report.told == [f"{file}:2: this line is not text in UTF-8."]
    assert len(report.taken) == 1


def test_a_line_that_names_what_the_knowledge_lacks_is_taken(
    tmp_path: Path, small: Knowledge
) -> None:
    """It comes from a shop with other knowledge; that is told."""
    file = tmp_path / "c.jsonl"
    file.write_text('{"date": "2026-03-14", "answers": {"stars": "yes"}}\n')
    report = import_cases(Shop(tmp_path / "shop"), small, file)
    assert len(report.taken) == 1
    assert report.notes == [
        f"{file}:1: answers: there is no finding 'stars' (did you mean 'stairs'?)."
    ]


# tables

MAPPING = """
columns:
  Day: date
  Seen: said
  Steps?: stairs
  Coats: coats
  Press: group line
  It was: cause
  Proof: how
  Time: minutes
  Waste: prints_lost
  By: who
  Fix: tried coat-again
  Gauge: thickness
values:
  Coats:
    single: one
  It was:
    too thin: few-coats
  Steps?:
    x: "yes"
    n/a: leave out
dates: day.month.year
between: ;
"""
HEAD = "Day;Seen;Steps?;Coats;Press;It was;Proof;Time;Waste;By;Fix;Gauge;Colour\n"


def test_a_table_is_taken_by_its_mapping(tmp_path: Path, small: Knowledge) -> None:
    """Headings, words and dates in the shop's own way; what is not mapped is told."""
    rows = (
        '14.03.2026;"a crest,\nall steps";X;Single;2;Too  thin;gauge;1 h 20;12;Meg;'
        "yes;4 ± 1 %;red\n"
        "2026-03-15;;n/a;;;nick;;;;;;;\n"
        ";;;;;;;;;;;;\n"
    )
    report, found = taken(small, tmp_path, HEAD + rows, MAPPING)
    assert not report.told
    assert report.notes == [
        f"{tmp_path}/log.csv:1: the column 'Colour' is not mapped, and is left out."
    ]
    first, second = sorted(found, key=lambda case: case.date)
    assert first == Case(
        date="2026-03-14",
        said=["a crest,", "all steps"],
        set_up={"coats": "one"},
        answers={"stairs": "yes"},
        readings={"thickness": "4 ± 1 %"},
        groups={"line": "2"},
        confirmed=[Confirmed("few-coats", how="gauge")],
        minutes=80,
        prints_lost=12,
        who="Meg",
        tried={"coat-again": "yes"},
    )
    assert second == Case(date="2026-03-15", confirmed=[Confirmed("nick")])


def test_what_was_said_is_heard_where_that_is_wanted(
    tmp_path: Path, small: Knowledge
) -> None:
    text = "date,said\n2026-03-14,the edges have stairs and smell of plumbago\n"
    mapping = "columns:\n  date: date\n  said: said\nlisten: yes\n"
    _, (case,) = taken(small, tmp_path, text, mapping)
    assert case.answers == {"stairs": "yes"}
    assert case.said == ["the edges have stairs and smell of plumbago"]
    assert case.not_understood


def test_what_was_exported_needs_no_mapping(tmp_path: Path, small: Knowledge) -> None:
    """A table out of a shop is a table into another, and nothing twice into its own."""
    shop = Shop(tmp_path / "one")
    id = shop.add(FULL)
    corrected = shop.add(Case(date="2026-01-01", confirmed=[Confirmed("nick")]))
    new = Confirmed("few-coats")
    shop.change(corrected, small, lambda case: correct_case(case, new, "no", small))
    export_cases(shop.all(small).kept, tmp_path / "c.csv")
    other = Shop(tmp_path / "other")
    report = import_cases(other, small, tmp_path / "c.csv")
    assert set(report.taken) == {id, corrected}
    case = other.read(id, small).case
    for part in ("said", "answers", "readings", "tried", "groups", "confirmed", "date"):
        assert getattr(case, part) == getattr(FULL, part)
    again = import_cases(other, small, tmp_path / "c.csv")
    assert (again.taken, again.twice) == ([], [2, 3])


def test_a_row_is_not_taken_twice(tmp_path: Path, small: Knowledge) -> None:
    """Not in the same file, not the next time, not after the case was corrected."""
    text = "date,cause\n2026-03-14,nick\n2026-03-14,nick\n2026-03-15,nick\n"
    report, _ = taken(small, tmp_path, text)
    assert (len(report.taken), report.twice) == (2, [3])
    shop = Shop(tmp_path / "shop")
    new = Confirmed("few-coats")
    for id in report.taken:
        shop.change(id, small, lambda case: correct_case(case, new, "x", small))
    report, _ = taken(small, tmp_path, text)
    assert (report.taken, report.twice) == ([], [2, 3, 4])


def test_an_id_that_is_taken_is_not_written_over(
    tmp_path: Path, small: Knowledge
) -> None:
    text = "id,date,who\n2026-03-14-7f3a,2026-03-14,{}\n"
    taken(small, tmp_path, text.format("Meg"))
    report, (case,) = taken(small, tmp_path, text.format("Tom"))
    assert case.who == "Tom"
    (note,) = report.notes
    assert note.endswith("as there is another 2026-03-14-7f3a.")
    assert Shop(tmp_path / "shop").read("2026-03-14-7f3a", small).case.who == "Meg"


def test_a_dry_run_takes_nothing(tmp_path: Path, small: Knowledge) -> None:
    file = tmp_path / "log.csv"
    file.write_text("date\n2026-03-14\n2026-99-14\n")
    shop = Shop(tmp_path / "shop")
    report = import_cases(shop, small, file, dry_run=True)
    assert (len(report.taken), report.left) == (1, [3])
    assert not shop.folder.exists()


ROWS = [
    ("2026-13-01,,,", "date: '2026-13-01' is no day as year-month-day; the order can"),
    (",Meg,,", "there is no date in this row."),
    ("2026-03-14,Meg,", "this row has 3 cells, and there are 4 headings;"),
    ("2026-03-14,Meg,,,", "this row has 5 cells, and there are 4 headings;"),
    ('2026-03-14,"Meg,,', "a quote is opened in this row and not closed."),
    ('2026-03-14,"Meg" x,,', "a quote is closed in the middle of a cell;"),
    ("2026-03-14,,perhaps,", "stairs: 'stairs' does not take 'perhaps'"),
    ("2026-03-14,,,niick", "cause: there is no cause 'niick' (did you mean 'nick'?)."),
    ("2026-03-14,M\udcffg,,", "there is a byte in this row that is no text"),
]


@pytest.mark.parametrize(("row", "says"), ROWS)
def test_a_faulty_row_is_named_and_spoils_no_other(
    row: str, says: str, tmp_path: Path, small: Knowledge
) -> None:
    """By file and row, as a spreadsheet counts; the rows around it are taken."""
    text = f'date,who,stairs,cause\n2026-01-01,"a, b",yes,\n{row}\n2026-01-02,"x",no,\n'
    raw = text.encode("utf-8", "surrogateescape")
    report, found = taken(small, tmp_path, raw)
    assert [case.date for case in found] == ["2026-01-01", "2026-01-02"]
    assert report.left == [3]
    assert report.told[0].startswith(f"{tmp_path}/log.csv:3: {says}")


TABLES = [
    ("", "log.csv:1: no headings of columns are here."),
    (
        "who\nMeg\n",
        "log.csv:1: no column is the date; without a date there is no case.",
    ),
    ("date,dat\n", "log.csv:1: 'dat' is no part of a case (did you mean 'date'?);"),
    ("date,date\n", "log.csv:1: the heading 'date' stands twice."),
    ('date,"who\n', "log.csv:1: a quote is opened in this row and not closed."),
    ("date,tried x\n", "log.csv:1: there is no tried 'x'"),
]


@pytest.mark.parametrize(("text", "says"), TABLES)
def test_a_table_that_makes_no_sense_is_refused(
    text: str, says: str, tmp_path: Path, small: Knowledge
) -> None:
    assert refused(small, tmp_path, text).startswith(says)


MAPPINGS = [
    ("¦", "the mapping is empty; it holds 'columns:' at least."),
    ("columns:\n  ¦Day: dat\n", "columns: 'dat' is no part of a case (did you mean"),
    ("¦column:\n  Day: date\n", "column: there is no key 'column' (did you mean"),
    (
        "columns:\n  Day: date\n¦dates: month\n",
        "dates: 'month' is not one of day.month.year, ",
    ),
    (
        "columns:\n  A: stairs\nvalues:\n  A:\n    ¦x: maybe\n",
        "values: 'stairs' does not take 'maybe'",
    ),
    (
        "columns:\n  A: cause\nvalues:\n  ¦B:\n    x: nick\n",
        "values: there is no column 'B'",
    ),
    ("columns:\n  A: cause\n¦between: x\n", "between: one of ',', ';'"),
    ("columns:\n  A: ¦[x\n", "the '[' here is not closed"),
]


@pytest.mark.parametrize(("text", "says"), MAPPINGS)
def test_a_faulty_mapping_is_named_by_line(
    text: str, says: str, tmp_path: Path, small: Knowledge
) -> None:
    plain, line, _ = marked(text)
    told = refused(small, tmp_path, "Day,A\n", plain or " ")
    start = "log.yaml:" if not plain else f"log.yaml:{line}:"
    assert told.startswith(start)
    assert says in told


def test_other_codings_are_read_where_they_are_named(
    tmp_path: Path, small: Knowledge
) -> None:
    text = "date,who\n2026-03-14,Zoë\n"
    columns = "columns: {date: date, who: who}\ncoding: "
    for coding, codec in [("windows-1252", "cp1252"), ("utf-16", "utf-16")]:
        folder = tmp_path / coding
        folder.mkdir()
        _, (case,) = taken(small, folder, text.encode(codec), columns + coding)
        assert case.who == "Zoë"
    (tmp_path / "log.csv").write_bytes(text.encode("utf-16"))
    with pytest.raises(CaseError, match="this is text in UTF-16; save it in UTF-8"):
        import_cases(Shop(tmp_path / "s"), small, tmp_path / "log.csv")


def test_files_that_can_not_be_read_are_named(tmp_path: Path, small: Knowledge) -> None:
    shop = Shop(tmp_path / "shop")
    for path in (tmp_path / "none.csv", tmp_path):
        with pytest.raises(FolderError, match=str(path)):
            import_cases(shop, small, path)
    with pytest.raises(CaseError, match="need no mapping"):
        import_cases(shop, small, tmp_path / "a.jsonl", tmp_path / "m.yaml")


# damage

DAMAGED = 500


def test_damaged_rows_are_named_and_spoil_no_other(
    tmp_path: Path, small: Knowledge
) -> None:
    """500 rows struck at random among whole ones: each is taken, or told by number."""
    pick = random.Random(6)
    header = "id,date,who,said,stairs,coats,cause,minutes,group line"
    good = '2026-{m:02}-{d:02}-{n:04x},2026-{m:02}-{d:02},Meg {n},"odd, ""edges""",yes,'
    good += "one,nick,35,2"
    lines, struck, whole = [header], [], set()
    for n in range(2 * DAMAGED):
        row = good.format(m=n % 12 + 1, d=n % 28 + 1, n=n)
        if n % 2:
            at = pick.randrange(len(row) - 1)
            row = pick.choice(
                [
                    row[:at] + row[at + 1 :],
                    row[:at] + pick.choice('",\x00é;\udcff') + row[at:],
                    row[:at],
                    row[:at] + chr(pick.randrange(32, 127)) + row[at + 1 :],
                    row.replace(",yes,", ",yess,"),
                    row.replace(",nick,", ",nik,"),
                    row.replace("Meg", '"Meg'),
                ]
            )
            struck.append(len(lines) + 1)
        else:
            whole.add(row[:15])
        lines.append(row)
    text = "\n".join(lines) + "\n"
    file = tmp_path / "log.csv"
    file.write_bytes(text.encode("utf-8", "surrogateescape"))
    report = import_cases(Shop(tmp_path / "shop"), small, file, dry_run=True)
    assert whole <= set(report.taken)
    assert set(report.left) | set(report.twice) <= set(struck)
    assert len(report.taken) + len(report.left) + len(report.twice) >= 2 * DAMAGED - 2
    assert len(report.left) > DAMAGED / 2
    for says in report.told:
        place, _, why = says.partition(": ")
        assert int(place.rpartition(":")[2]) in struck
        assert why


# out


def test_names_are_left_out_where_that_is_wanted(
    tmp_path: Path, small: Knowledge
) -> None:
    """Who traced it, the notes, and the labels that are named."""
    shop = Shop(tmp_path / "shop")
    shop.add(FULL)
    kept = shop.all(small).kept
    for name in ("c.csv", "c.jsonl"):
        file = tmp_path / name
        export_cases(kept, file, without_names=True, without_groups=["line"])
        text = file.read_text("utf-8")
        for word in ("Meg", "wet afternoon", "line"):
            assert word not in text
        assert "012" in text
    assert shop.all(small).kept == kept
    data = json.loads((tmp_path / "c.jsonl").read_text("utf-8"))
    assert data["groups"] == {"no": "012"}


@pytest.mark.parametrize("name", ["c.csv", "c.jsonl"])
def test_no_name_survives_anywhere(name: str, tmp_path: Path, small: Knowledge) -> None:
    """Those who traced a case are named in what others said, in how a cause was found,
    in corrections and in labels; in any capitals, and by one of two names."""
    shop = Shop(tmp_path / "shop")
    shop.add(Case(date="2026-03-01", who="Will and Meg Hart"))
    shop.add(Case(date="2026-03-02", who="joe"))
    case = Case(
        date="2026-03-14",
        who="Zoë",
        said=["Meg's stairs; MEG and Joe saw them, it will not open", "ask hart"],
        not_understood=["zoë said so"],
        groups={"line": "2", "Joe's rack": "Will"},
        confirmed=[Confirmed("nick", how="JOE felt it"), Confirmed(other="Zoë's cat")],
        notes="Joe again.",
    )
    id = shop.add(case)
    new = Confirmed("few-coats", how="Meg looked")
    shop.change(id, small, lambda c: correct_case(c, new, "Hart was wrong", small))
    kept = shop.all(small).kept
    file = tmp_path / name
    everybody = [one.case.who for one in kept]
    export_cases(kept[-1:], file, without_names=True, people=everybody)
    text = file.read_text("utf-8")
    for person in ("Meg", "Hart", "Joe", "Zoë", "Will"):
        found = re.search(rf"\b{person}\b", text, 0 if person == "Will" else re.I)
        assert found is None, (person, text)
    assert "it will not open" in text
    assert "(someone)'s stairs" in text
    assert "few-coats" in text
    other = Shop(tmp_path / "other")
    report = import_cases(other, small, file)
    assert len(report.taken) == 1, report.told
    assert not other.read(report.taken[0], small).case.who


def test_an_invented_case_stays_one(tmp_path: Path, small: Knowledge) -> None:
    """A table out and in again loses the mark no more than JSON does."""
    shop = Shop(tmp_path / "shop")
    shop.add(Case(date="2026-03-01", invented="yes"))
    shop.add(Case(date="2026-03-02"))
    export_cases(shop.all(small).kept, tmp_path / "c.csv")
    import_cases(other := Shop(tmp_path / "other"), small, tmp_path / "c.csv")
    assert [one.case.invented for one in other.all(small).kept] == ["yes", ""]


def test_an_export_writes_over_nothing(tmp_path: Path, small: Knowledge) -> None:
    file = tmp_path / "c.csv"
    file.write_text("dear")
    with pytest.raises(CaseError, match="there already"):
        export_cases([], file)
    assert file.read_text() == "dear"
    with pytest.raises(CaseError, match=r"ends in .csv or in .jsonl"):
        export_cases([], tmp_path / "c.txt")
    with pytest.raises(CaseError, match="there is no group 'line'"):
        export_cases([], tmp_path / "d.csv", without_groups=["line"])
