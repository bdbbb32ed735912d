"""The index says what the files say, whatever happened to it or to them."""

from __future__ import annotations

import os
import shutil
import sqlite3
import time
from collections.abc import Callable, Iterator
from concurrent.futures import ThreadPoolExecutor
from contextlib import closing
from pathlib import Path
from typing import Any

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from knowledge_copy import KnowledgeCopy

from diagnose import load_knowledge
from diagnose.cases import index as indexes
from diagnose.cases.choose import searched
from diagnose.cases.index import BLOCK, Entry, Index, all_cases, search, use
from diagnose.cases.record import Case, Confirmed, case_text, read_case
from diagnose.cases.shop import Shop
from diagnose.errors import AnswerError, FolderError
from diagnose.records import Knowledge

WORDS = [
    "gummy corners",
    "stairs, on the curve",
    "naïve 10×12 screens",
    "it's 2.5 thick",
]


def case_number(number: int) -> Case:
    """The case of a number; equal numbers make equal cases."""
    pick = number % 4
    return Case(
        date=f"2026-0{1 + number % 3}-1{number % 7}",
        said=[WORDS[pick]],
        answers={"stairs": ("yes", "no", "somewhat", "don't know")[pick]},
        set_up={"coats": ("one", "usual")[number % 2]},
        readings={"thickness": f"{5 + number % 9} %"} if number % 5 == 0 else {},
        confirmed=[Confirmed("few-coats", how=f"seen {number}")] * (pick != 1),
        groups={"line": str(number % 3)},
        begun=f"2026-01-01T00:{number % 60:02}:00+00:00",
        tried={"coat-again": "yes"} if pick == 0 else {},
    )


def contents(index: Index) -> dict[str, Any]:
    """All that an index holds, by the ids of the cases."""
    ids = dict(index.connection.execute("SELECT n, id FROM cases").fetchall())
    select = index.connection.execute
    lists: dict[str, list[str]] = {}
    for name, block, cases in select(
        "SELECT name, block, cases FROM keys JOIN postings USING (key)"
    ):
        places = np.frombuffer(cases, np.uint16)
        assert (np.diff(places.astype(int)) > 0).all()
        numbers = places.astype(int) + (block << BLOCK)
        lists.setdefault(name, []).extend(ids[n] for n in numbers)
    return {
        "cases": sorted(select("SELECT id, date, begun FROM cases").fetchall()),
        "docs": {ids[n]: rest for n, *rest in select("SELECT * FROM docs")},
        "words": {ids[n]: r for n, r in select("SELECT rowid, roots FROM words")},
        "lists": {name: sorted(found) for name, found in lists.items()},
    }


def in_file(shop: Shop, knowledge: Knowledge) -> dict[str, Any]:
    """The same of the file as it stands."""
    with closing(sqlite3.connect(shop.index)) as connection:
        return contents(Index(connection, shop, knowledge))


def write(shop: Shop, id: str, text: str) -> None:
    shop.cases.mkdir(parents=True, exist_ok=True)
    shop.path(id).write_text(text)


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    """Twelve cases and two files that are none."""
    shop = Shop(tmp_path / "shop")
    for number in range(12):
        write(shop, f"2026-01-01-{number:04x}", case_text(case_number(number)))
    write(shop, "2026-01-02-0000", "date: never\nanswers: [1]\n")
    write(shop, "2026-01-02-0001", "a: [\n")
    write(shop, "2026-01-02-0002", "date: 2026-01-02\nanswers: {no-such: yes}\n")
    return shop


def same_as_files(shop: Shop, knowledge: Knowledge) -> bool:
    """Whether the index gives what the files give, in every way it is asked."""
    files = shop.all(knowledge)
    assert all_cases(shop, knowledge) == files
    yes = [one for one in files.kept if one.case.answers.get("stairs") == "yes"]
    count = len(yes) if "stairs" in knowledge.findings else 0
    total = use(shop, knowledge, lambda index: index.add_up({"stairs=yes": 1.0}))
    assert total.sum() == count
    for words in ("corner", "screen 10x12", "naive", "its", "2.5", "too few coats"):
        found, broken = search(shop, knowledge, words)
        assert found == searched(files.kept, words, knowledge), words
        assert tuple(broken) == files.broken
    return True


def test_it_gives_what_the_files_give(shop: Shop, small: Knowledge) -> None:
    """Cases in order, broken files, what the knowledge lacks; in words as well."""
    assert same_as_files(shop, small)
    assert shop.index.is_file()
    cases = all_cases(shop, small)
    assert len(cases.kept) == 13
    assert len(cases.broken) == 2
    assert str(shop.path("2026-01-02-0000")) in cases.broken[0].says
    assert any("no-such" in says for one in cases.kept for says in one.told)
    with pytest.raises(AnswerError, match="Write what to look for"):
        search(shop, small, "!")


def test_a_file_that_did_not_change_is_not_read_again(
    shop: Shop, small: Knowledge, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither all of them nor, after one has changed, the others."""
    read = []
    actual = read_case

    def counted(path: Path, knowledge: Knowledge) -> Any:
        read.append(path.stem)
        return actual(path, knowledge)

    monkeypatch.setattr(indexes, "read_case", counted)
    all_cases(shop, small)
    assert len(read) == 15
    all_cases(shop, small)
    assert len(read) == 15
    write(shop, "2026-01-01-0003", case_text(case_number(99)))
    os.utime(shop.path("2026-01-01-0005"))  # another time, the same content
    assert same_as_files(shop, small)
    assert read[15:] == ["2026-01-01-0003"]


def test_a_file_that_changed_under_the_same_time_and_size(
    shop: Shop, small: Knowledge, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A clock that stands still can't hide a change made just after the reading."""
    monkeypatch.setattr(indexes, "_stamps", lambda shop: dict.fromkeys(shop.ids(), 7))
    all_cases(shop, small)
    text = shop.path("2026-01-01-0000").read_text()
    assert "gummy" in text
    write(shop, "2026-01-01-0000", text.replace("gummy", "bumpy"))
    assert same_as_files(shop, small)
    assert search(shop, small, "bumpy")[0]
    monkeypatch.setattr(indexes, "DOUBT", -1e9)  # long after
    all_cases(shop, small)
    with closing(sqlite3.connect(shop.index)) as rows:
        doubtful = rows.execute("SELECT id FROM cases WHERE in_doubt").fetchall()
    assert doubtful == []


STEPS = st.lists(
    st.tuples(
        st.sampled_from(["add", "add", "edit", "break", "delete", "touch", "look"]),
        st.integers(0, 9),
        st.integers(0, 30),
    ),
    max_size=14,
)


@settings(
    max_examples=40,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(steps=STEPS)
def test_after_any_changes_it_equals_a_fresh_one(
    steps: list[tuple[str, int, int]], small: Knowledge, tmp_path: Path
) -> None:
    """Cases added, edited, broken, deleted and touched, looked at in between."""
    shutil.rmtree(tmp_path / "shop", ignore_errors=True)
    shop = Shop(tmp_path / "shop")
    shop.cases.mkdir(parents=True)
    for what, place, number in steps:
        path = shop.path(f"2026-01-01-{place:04x}")
        if what in ("add", "edit"):
            path.write_text(case_text(case_number(number)))
        elif what == "break":
            path.write_text(f"date: never {number}\n")
        elif what == "delete":
            path.unlink(missing_ok=True)
        elif what == "touch" and path.exists():
            os.utime(path)
        elif what == "look":
            all_cases(shop, small)
    assert all_cases(shop, small) == shop.all(small)
    changed = in_file(shop, small)
    shop.index.unlink()
    all_cases(shop, small)
    assert in_file(shop, small) == changed


def test_many_blocks(
    small: Knowledge, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Posting lists go over the end of a block, and each case stands in its own."""
    monkeypatch.setattr(indexes, "BLOCK", 3)
    monkeypatch.setattr(indexes, "MANY", 5)
    shop = Shop(tmp_path)
    index = Index(sqlite3.connect(":memory:", isolation_level=None), shop, small)
    cases = {f"{n:04}": case_number(n) for n in range(37)}
    index.fill(Entry(id, 0, False, b"", case) for id, case in cases.items())
    index.remove(["0003", "0036"])
    index.put([Entry("0004", 0, False, b"", case_number(5))])
    total = index.add_up({"stairs=yes": 1.0, "coats=one": 0.25})
    rows = index.connection.execute("SELECT n, id FROM cases").fetchall()
    assert len(rows) == 35
    for n, id in rows:
        number = 5 if id == "0004" else int(id)
        wanted = (number % 4 == 0) + 0.25 * (number % 2 == 0)
        assert total[n] == wanted, id
    assert index.met(["coats=one", "no-such"]) == {"coats=one": 17}


def spoil(path: Path, how: str) -> None:
    """Spoil an index file."""
    if how == "text":
        path.write_text("This is no database.\n" * 500)
    elif how == "cut":
        path.write_bytes(path.read_bytes()[: path.stat().st_size // 2])
    elif how == "empty":
        path.write_bytes(b"")
    elif how == "middle":
        whole = bytearray(path.read_bytes())
        whole[4096:] = os.urandom(len(whole) - 4096)
        path.write_bytes(whole)
    else:
        with closing(sqlite3.connect(path)) as rows:
            rows.executescript(how)


@pytest.mark.parametrize(
    "how",
    [
        "text",
        "cut",
        "empty",
        "middle",
        "PRAGMA user_version = 99",
        "UPDATE docs SET doc = '{' WHERE doc NOTNULL",
        "UPDATE knowledge SET print = 'another'",
        "DELETE FROM knowledge",
        "DROP TABLE words_data",
        "DROP TABLE postings",
        "ALTER TABLE cases RENAME COLUMN date TO day",
    ],
)
def test_a_broken_index_is_built_again(shop: Shop, small: Knowledge, how: str) -> None:
    """Whatever is wrong with the file, the answers are those of the case files."""
    all_cases(shop, small)
    before = in_file(shop, small)
    spoil(shop.index, how)
    assert same_as_files(shop, small)
    assert in_file(shop, small) == before


def test_a_deleted_index_is_built_again(shop: Shop, small: Knowledge) -> None:
    """Deleting it is always safe."""
    all_cases(shop, small)
    before = in_file(shop, small)
    shop.index.unlink()
    assert same_as_files(shop, small)
    assert in_file(shop, small) == before


def test_a_folder_in_its_place(shop: Shop, small: Knowledge) -> None:
    """The work is done in memory, and the folder left alone."""
    shop.index.mkdir()
    assert same_as_files(shop, small)
    assert shop.index.is_dir()


@pytest.fixture
def locked(
    shop: Shop, small: Knowledge, monkeypatch: pytest.MonkeyPatch
) -> Iterator[Callable[[str], None]]:
    """Locks the index as another program would."""
    monkeypatch.setattr(indexes, "LONGEST_WAIT", 0.05)
    all_cases(shop, small)
    with closing(sqlite3.connect(shop.index, isolation_level=None)) as other:

        def lock(how: str) -> None:
            other.execute(f"BEGIN {how}")

        yield lock


@pytest.mark.parametrize("how", ["EXCLUSIVE", "IMMEDIATE"])
def test_a_locked_index(
    shop: Shop, small: Knowledge, locked: Callable[[str], None], how: str
) -> None:
    """What has changed is seen all the same, and the file is not spoilt."""
    write(shop, "2026-01-01-0003", case_text(case_number(99)))
    shop.path("2026-01-01-0004").unlink()
    locked(how)
    start = time.monotonic()
    assert same_as_files(shop, small)
    assert time.monotonic() - start < 30


def test_a_read_only_folder(shop: Shop, small: Knowledge) -> None:
    """Without an index, and with one that is out of date, it works in memory."""
    if os.geteuid() == 0:
        pytest.skip("the administrator may write anywhere")
    shop.folder.chmod(0o555)
    try:
        assert same_as_files(shop, small)
        assert not shop.index.exists()
    finally:
        shop.folder.chmod(0o755)


@pytest.mark.parametrize("made", [False, True])
def test_an_index_that_may_not_be_written(
    shop: Shop, small: Knowledge, monkeypatch: pytest.MonkeyPatch, made: bool
) -> None:
    """SQLite refuses to write: nothing is written, and the answers are right."""
    if made:
        all_cases(shop, small)
        write(shop, "2026-01-01-0003", case_text(case_number(99)))
    before = shop.index.read_bytes() if made else b""

    def read_only(path: Path) -> sqlite3.Connection:
        return sqlite3.connect(
            f"{path.absolute().as_uri()}?mode=ro", uri=True, isolation_level=None
        )

    monkeypatch.setattr(indexes, "_connect", read_only)
    assert same_as_files(shop, small)
    assert made == shop.index.exists()
    assert not made or shop.index.read_bytes() == before


def test_other_knowledge(shop: Shop, small: Knowledge, copy: KnowledgeCopy) -> None:
    """What another knowledge makes of the cases is not taken for this one's."""
    all_cases(shop, small)
    path = next(copy.folder.glob("findings/*.yaml"))
    path.write_text(path.read_text().replace("id: stairs", "id: steps"))
    for path in copy.folder.rglob("*.yaml"):
        text = path.read_text().replace("finding: stairs", "finding: steps")
        path.write_text(text.replace("stairs: ", "steps: "))
    other = load_knowledge(copy.folder)
    assert same_as_files(shop, other)
    assert any("stairs" in says for c in all_cases(shop, other).kept for says in c.told)
    assert same_as_files(shop, small)


def test_several_at_once(shop: Shop, small: Knowledge) -> None:
    """Programs that build the same index at the same time all get the right answer."""
    with ThreadPoolExecutor(4) as pool:
        asked = [pool.submit(all_cases, shop, small) for _ in range(8)]
        found = [one.result() for one in asked]
    assert found == [shop.all(small)] * 8
    assert same_as_files(shop, small)


def test_no_folder(tmp_path: Path, small: Knowledge) -> None:
    """None is made; a file in its place is told."""
    shop = Shop(tmp_path / "none")
    assert all_cases(shop, small).kept == ()
    assert not shop.folder.exists()
    (tmp_path / "file").write_text("")
    with pytest.raises(FolderError, match="can't be kept or read there"):
        all_cases(Shop(tmp_path / "file"), small)


def test_what_it_is_used_for_may_fail(shop: Shop, small: Knowledge) -> None:
    """An error of the work itself comes through, and nothing is left open."""

    def work(index: Index) -> None:
        raise AnswerError("no")

    with pytest.raises(AnswerError, match="no"):
        use(shop, small, work)
    shop.index.unlink()
    assert same_as_files(shop, small)
