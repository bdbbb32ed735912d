"""The shop folder: nothing is lost, overwritten or half written, whoever writes."""

from __future__ import annotations

import os
import random
import secrets
import signal
import time
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from filelock import FileLock
from test_sheets import in_a_child, needs_fork

from diagnose.cases import shop as shops
from diagnose.cases.record import Case, Confirmed
from diagnose.cases.shop import Kept, Shop
from diagnose.errors import CaseError, FolderError
from diagnose.records import Knowledge

KILLS = 200
SECONDS = 9
"""The longest that killing goes on; on a busy machine there are fewer kills then."""


def numbered(number: int) -> Case:
    """The case of a number; its parts belong together, its length jumps about."""
    name = str(number)
    notes = "x " * (number * 977 % 4000)
    return Case(date="2026-03-14", who=name, said=[name], notes=notes + name)


def whole(case: Case) -> int:
    """The number of a case that has to be whole."""
    assert case == numbered(int(case.who))
    return int(case.who)


def test_a_new_case_gets_an_id_of_its_day(tmp_path: Path, small: Knowledge) -> None:
    """The day and four digits; the files of the shop, and nothing else, are there."""
    shop = Shop(tmp_path / "new" / "shop")
    id = shop.add(numbered(3))
    day, digits = id.rsplit("-", 1)
    assert day == "2026-03-14"
    assert len(digits) == 4
    assert set(digits) <= set("0123456789abcdef")
    assert shop.read(id, small).case == numbered(3)
    assert sorted(os.listdir(shop.folder)) == [".gitignore", ".lock", "cases"]
    assert os.listdir(shop.cases) == [f"{id}.yaml"]


def test_an_id_that_is_taken_is_not_taken_again(
    tmp_path: Path, small: Knowledge, monkeypatch: Any
) -> None:
    """Neither one that is asked for nor one that chance throws up."""
    shop = Shop(tmp_path)
    drawn = iter(["00aa", "00aa", "00bb"])
    monkeypatch.setattr(secrets, "token_hex", lambda n: next(drawn))
    first = shop.add(numbered(1), "2025-01-01-7f3a")
    second = shop.add(numbered(2), first)
    third = shop.add(numbered(3))
    assert [first, second, third] == [
        "2025-01-01-7f3a",
        "2026-03-14-00aa",
        "2026-03-14-00bb",
    ]
    found = {kept.id: whole(kept.case) for kept in shop.all(small).kept}
    assert found == {first: 1, second: 2, third: 3}


@pytest.mark.parametrize("id", ["../evil", "x", "2026-03-14", "2026-03-14-zzzz", ""])
def test_an_id_that_is_none_is_not_used(id: str, tmp_path: Path) -> None:
    """No name from a file decides where something is written."""
    assert Shop(tmp_path).add(numbered(1), id).startswith("2026-03-14-")
    assert not (tmp_path / "evil.yaml").exists()


def test_a_day_of_many_cases_has_longer_ids(tmp_path: Path, monkeypatch: Any) -> None:
    """When the four digits are used up, six are taken."""
    shop = Shop(tmp_path)
    monkeypatch.setattr(secrets, "token_hex", lambda n: "ab" * n)
    assert [shop.add(numbered(1)) for _ in range(3)] == [
        "2026-03-14-abab",
        "2026-03-14-ababab",
        "2026-03-14-abababab",
    ]


def test_a_case_that_is_not_there_is_named(tmp_path: Path, small: Knowledge) -> None:
    shop = Shop(tmp_path)
    shop.add(numbered(1), "2026-03-14-7f3a")
    says = "there is no case '2026-03-14-7f3b' (did you mean '2026-03-14-7f3a'?)."
    with pytest.raises(CaseError) as raised:
        shop.read("2026-03-14-7f3b", small)
    assert str(raised.value) == says


def test_hidden_and_other_files_are_no_cases(tmp_path: Path, small: Knowledge) -> None:
    shop = Shop(tmp_path)
    id = shop.add(numbered(1))
    for name in (".x.yaml.new", ".x.yaml", "x.yml", "notes.txt"):
        (shop.cases / name).write_text("date: [")
    assert shop.ids() == [id]
    assert Shop(tmp_path / "none").ids() == []


def test_what_stands_in_the_way_is_named(tmp_path: Path) -> None:
    """A file where the folder belongs, a folder that may not be read, a dead link."""
    (tmp_path / "file").write_text("x")
    with pytest.raises(FolderError, match="a shop's cases can't be kept or read there"):
        Shop(tmp_path / "file").add(numbered(1))
    (tmp_path / "link").symlink_to(tmp_path / "gone")
    with pytest.raises(FolderError, match="leads nowhere"):
        Shop(tmp_path / "link").ids()


def test_a_folder_in_which_another_program_writes_is_waited_for(
    tmp_path: Path, monkeypatch: Any
) -> None:
    monkeypatch.setattr(shops, "LONGEST_WAIT", 0.05)
    shop = Shop(tmp_path)
    with (
        FileLock(tmp_path / ".lock"),
        pytest.raises(FolderError, match="another program is writing in this shop"),
    ):
        shop.add(numbered(1))
    shop.add(numbered(1))


def test_a_full_disk_loses_nothing(
    tmp_path: Path, small: Knowledge, monkeypatch: Any
) -> None:
    """A change that can't be written leaves the case as it was."""
    shop = Shop(tmp_path)
    id = shop.add(numbered(1))

    def full(*_: Any) -> None:
        raise OSError(28, "No space left on device")

    with monkeypatch.context() as patch:
        patch.setattr(os, "replace", full)
        with pytest.raises(FolderError, match="No space left on device"):
            shop.write(id, numbered(2))
        with pytest.raises(FolderError, match="No space left on device"):
            shop.add(numbered(3))
    assert [whole(kept.case) for kept in shop.all(small).kept] == [1]
    assert os.listdir(shop.cases) == [f"{id}.yaml"]


@needs_fork
def test_two_writers_at_once_lose_nothing(tmp_path: Path, small: Knowledge) -> None:
    """Each adds cases of its own, and both change one and the same."""
    shop = Shop(tmp_path)
    shared = shop.add(Case(date="2026-03-14"), "2026-03-14-0000")

    def note(name: str, case: Case) -> None:
        case.groups[name] = "x"

    def work(first: int) -> None:
        for number in range(first, first + 25):
            shop.add(numbered(number))
            shop.change(shared, small, partial(note, str(number)))

    children = [in_a_child(partial(work, first)) for first in (100, 200)]
    while any(os.waitpid(child, os.WNOHANG) == (0, 0) for child in children[:1]):
        assert not shop.all(small).broken
        time.sleep(0.01)
    os.waitpid(children[1], 0)
    cases = shop.all(small)
    assert not cases.broken
    numbers = {whole(kept.case) for kept in cases.kept if kept.id != shared}
    assert numbers == {*range(100, 125), *range(200, 225)}
    assert set(shop.read(shared, small).case.groups) == set(map(str, numbers))


@needs_fork
def test_killed_at_any_moment_no_case_is_lost_or_half_written(
    tmp_path: Path, small: Knowledge
) -> None:
    """SIGKILL at up to 200 random moments of adding and of writing anew."""
    shop = Shop(tmp_path)
    log = tmp_path / "log"
    log.touch()
    first = shop.add(numbered(0), "2026-03-14-0000")

    def write_on(start: int) -> None:
        with log.open("ab", buffering=0) as done:
            for number in range(start, start + 1000):
                id = shop.add(numbered(number))
                done.write(f"{id} {number}\n".encode())
                shop.write(first, numbered(number))

    pick = random.Random(8)
    kills, start = 0, 1
    end = time.monotonic() + SECONDS
    while kills < KILLS and time.monotonic() < end:
        child = in_a_child(partial(write_on, start))
        time.sleep(pick.uniform(0, 0.03))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        kills, start = kills + 1, start + 1000
    cases = shop.all(small)
    assert not cases.broken
    found = {kept.id: whole(kept.case) for kept in cases.kept}
    lines = log.read_text().split("\n")[:-1]
    told = {id: int(number) for id, number in map(str.split, lines)}
    assert told.items() <= found.items()
    assert kills >= 20
    assert len(told) >= kills // 10  # they did write
    shop.add(numbered(7))  # no lock is left


def test_what_a_killed_writer_left_is_no_case(tmp_path: Path, small: Knowledge) -> None:
    shop = Shop(tmp_path)
    id = shop.add(numbered(1))
    (shop.cases / f".{id}.yaml.new").write_text("date: 2026-")
    assert shop.ids() == [id]
    shop.write(id, numbered(2))
    assert os.listdir(shop.cases) == [f"{id}.yaml"]


def test_a_change_is_to_the_case_as_it_is(tmp_path: Path, small: Knowledge) -> None:
    """What another program wrote meanwhile stays."""
    shop = Shop(tmp_path)
    id = shop.add(numbered(1))
    other = numbered(1)
    other.confirmed = [Confirmed("nick")]
    shop.write(id, other)
    changed = shop.change(id, small, lambda case: setattr(case, "minutes", 5.0))
    kept: Kept = shop.read(id, small)
    assert kept.case == changed
    assert (kept.case.minutes, kept.case.confirmed) == (5.0, [Confirmed("nick")])


def test_when_cases_were_begun_is_seen_without_reading_them(tmp_path: Path) -> None:
    shop = Shop(tmp_path)
    one = shop.add(Case(date="2026-03-14", begun="2026-03-14T08:00:00+00:00"))
    two = shop.add(Case(date="2026-03-15", begun="x", ended="y"))
    (shop.cases / "2026-03-16-0000.yaml").write_bytes(b"\xff\n: [")
    assert shop.begun() == {
        one: ("2026-03-14T08:00:00+00:00", False),
        two: ("x", True),
        "2026-03-16-0000": ("", False),
    }
