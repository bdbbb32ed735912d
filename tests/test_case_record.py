"""Cases: read with every fault named, kept readable, written so that none is lost."""

from __future__ import annotations

import random
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from knowledge_copy import marked
from test_sheets import ODD, filled

from diagnose import Consultation
from diagnose.cases.record import (
    Case,
    Confirmed,
    Corrected,
    Ranked,
    case_of,
    case_text,
    correct_case,
    is_date,
    minutes_in,
    read_case,
    sheet_of,
    write_case,
)
from diagnose.cases.shop import Broken, Kept, Shop
from diagnose.errors import AnswerError, CaseError
from diagnose.records import Knowledge
from diagnose.sheets import Sheet

FULL = Case(
    stage="press",
    said=["The edges step."],
    set_up={"coats": "one"},
    answers={"stairs": "yes"},
    readings={"thickness": "9 ± 3 %"},
    tried={"coat-again": "yes", "go-on": "no"},
    begun="2026-03-14T08:00:00+00:00",
    date="2026-03-14",
    who="Meg",
    groups={"line": "2", "no": "012"},
    ranking=[Ranked("few-coats", 0.82), Ranked("nick", 0.1)],
    confirmed=[Confirmed("few-coats", how="looked"), Confirmed(other="the cat")],
    minutes=80.5,
    prints_lost=12,
    notes="All redone, and it took a whole wet afternoon to find that out: a lot",
    not_understood=["wobbles"],
    corrected=[Corrected("2026-03-20", ["nick"], "no nick was felt")],
    invented="yes",
)

numbers = st.floats(0, 1e6, allow_nan=False) | st.sampled_from([0.0, 35.0, 1e-5])
long = "a long text, such as a person writes: " * 9
texts = st.text(st.characters(exclude_categories=["Cs"]), max_size=30)
texts |= st.sampled_from([one for one in ODD if len(one) < 99] + [long, long.strip()])


@st.composite
def cases(draw: st.DrawFn) -> Case:
    """Any case that fits the small knowledge."""
    sheet = draw(filled(texts))
    fields = {name: getattr(sheet, name) for name in Sheet.__struct_fields__}
    day = st.dates().map(lambda date: date.isoformat())
    cause = st.sampled_from(["few-coats", "nick"])
    one = st.builds(Confirmed, cause, how=texts) | st.builds(
        Confirmed, other=texts.filter(bool), how=texts
    )
    return Case(
        **fields,
        date=draw(day),
        who=draw(texts),
        groups=draw(st.dictionaries(texts, texts.filter(bool), max_size=3)),
        ranking=draw(st.lists(st.builds(Ranked, texts, st.floats(0, 1)), max_size=3)),
        confirmed=draw(st.lists(one, max_size=2)),
        minutes=draw(st.none() | numbers),
        prints_lost=draw(st.none() | st.integers(0, 10**9)),
        notes=draw(texts),
        not_understood=draw(st.lists(texts, max_size=2)),
        corrected=draw(
            st.lists(st.builds(Corrected, day, st.lists(texts), texts), max_size=2)
        ),
        invented=draw(st.sampled_from(["", "yes"])),
    )


@settings(deadline=None)
@given(case=cases())
def test_any_case_that_is_written_is_read_back_equal(
    small: Knowledge, tmp_path_factory: Any, case: Case
) -> None:
    """In any script, with any sign: nothing is lost, and nothing changes."""
    path = tmp_path_factory.getbasetemp() / "case.yaml"
    path.write_text(case_text(case), encoding="utf-8", newline="")
    assert read_case(path, small) == (case, [])


def test_a_case_file_is_for_reading() -> None:
    """The sheet first, numbers bare, short records on a line, long text folded."""
    assert case_text(FULL) == (
        "stage: press\nsaid:\n- The edges step.\nset_up:\n  coats: one\n"
        "answers:\n  stairs: 'yes'\nreadings:\n  thickness: 9 ± 3 %\n"
        "tried:\n  coat-again: 'yes'\n  go-on: 'no'\n"
        "begun: '2026-03-14T08:00:00+00:00'\ndate: '2026-03-14'\nwho: Meg\n"
        "groups:\n  line: '2'\n  'no': '012'\n"
        "ranking:\n- {cause: few-coats, chance: 0.82}\n"
        "- {cause: nick, chance: 0.1}\n"
        "confirmed:\n- cause: few-coats\n  how: looked\n- other: the cat\n"
        "minutes: 80.5\nprints_lost: 12\nnotes: >-\n"
        "  All redone, and it took a whole wet afternoon to find that out: a "
        "lot\nnot_understood:\n- wobbles\ncorrected:\n- 'on': '2026-03-20'\n"
        "  was:\n  - nick\n  because: no nick was felt\ninvented: 'yes'\n"
    )


def test_a_case_by_hand_is_read(tmp_path: Path, small: Knowledge) -> None:
    """A cause may stand by itself, blanks are left out, answers in any spelling."""
    path = tmp_path / "c.yaml"
    path.write_text(
        "date: 2026-03-14\nsaid: odd edges\nanswers:\n  stairs: Y\n"
        "confirmed: few-coats\nminutes:\nnotes: ''\ngroups:\n  line: 2\n  screen:\n"
    )
    case = Case(
        date="2026-03-14",
        said=["odd edges"],
        answers={"stairs": "yes"},
        confirmed=[Confirmed("few-coats")],
        groups={"line": "2"},
    )
    assert read_case(path, small) == (case, [])


FAULTS = [
    ("¦who: Meg\n", "date: the key 'date' is missing."),
    (
        "¦date: 2026-02-30\n",
        "date: '2026-02-30' is no day; write it as 2026-03-14.",
    ),
    (
        "date: 2026-03-14\n¦minutes: 1 h\n",
        "minutes: '1 h' is not a number.",
    ),
    (
        "date: 2026-03-14\n¦prints_lost: -3\n",
        "prints_lost: -3 is out of range; a whole number from 0 up to 1000000000 "
        "belongs here.",
    ),
    (
        "date: 2026-03-14\n¦note: x\n",
        "note: there is no key 'note' (did you mean 'notes'?).",
    ),
    (
        "date: 2026-03-14\nconfirmed:\n- cause: few-coats\n- ¦how: looked\n",
        "confirmed: no cause is named; write its id under 'cause', or 'other: …'.",
    ),
    (
        "date: 2026-03-14\nranking:\n- {cause: x, ¦chance: 1.2}\n",
        "ranking: 1.2 is out of range; a number from 0 up to 1 belongs here.",
    ),
    (
        "date: 2026-03-14\ncorrected:\n- ¦on: March\n",
        "corrected: 'March' is no day; write it as 2026-03-14.",
    ),
    (
        "date: 2026-03-14\n¦invented: perhaps\n",
        "invented: 'perhaps' can't stand here; write yes, or leave it out.",
    ),
]


@pytest.mark.parametrize(("text", "says"), FAULTS)
def test_a_faulty_case_is_named_by_file_and_line(
    text: str, says: str, tmp_path: Path, small: Knowledge
) -> None:
    """Each fault: where, what is wrong, what would be right."""
    plain, line, _ = marked(text)
    path = tmp_path / "c.yaml"
    path.write_text(plain)
    with pytest.raises(CaseError) as raised:
        read_case(path, small)
    assert str(raised.value) == f"{path}:{line}: {says}"


def test_what_the_knowledge_lacks_is_told_and_kept(
    tmp_path: Path, small: Knowledge
) -> None:
    """An old id, or a value that is no longer taken: the case is read all the same."""
    path = tmp_path / "c.yaml"
    path.write_text(
        "date: 2026-03-14\nstage: presss\nanswers:\n  stars: yes\n  stairs: maybe\n"
        "  bands: no\ntried:\n  coat-twice: yes\nconfirmed: few-coat\n"
    )
    case, told = read_case(path, small)
    assert case.answers == {"stars": "yes", "stairs": "maybe", "bands": "no"}
    assert case.confirmed == [Confirmed("few-coat")]
    assert [says.split(": ")[0].removeprefix(f"{path}:") for says in told] == [
        "2",
        "4",
        "5",
        "8",
        "9",
    ]
    assert told[-1].endswith(
        "there is no cause 'few-coat' (did you mean 'few-coats'?)."
    )
    assert sheet_of(case, small) == Sheet(answers={"bands": "no"})


def test_the_sheet_as_it_was_then_knows_no_cure(small: Knowledge) -> None:
    """A fix that worked came after the ranking; one that failed was known before."""
    assert sheet_of(FULL, small).tried == FULL.tried
    assert sheet_of(FULL, small, then=True).tried == {"go-on": "no"}


def test_a_consultation_becomes_a_case(small: Knowledge) -> None:
    """With the ranking as it is now, and the words that nothing was made of."""
    consultation = Consultation(small)
    consultation.describe("stairs on the edges, and it smells of plumbago")
    consultation.sheet.begun = "2026-03-14T12:00:00+00:00"
    case = case_of(
        consultation, confirmed=[Confirmed("few-coats")], minutes=5, groups={"a": "b"}
    )
    assert case.date == "2026-03-14"
    assert case.said == consultation.sheet.said
    ranked = [(one.cause, one.chance) for one in case.ranking]
    assert ranked == [(id, round(c, 4)) for id, _, c in consultation.chances()][:10]
    assert any("plumbago" in words for words in case.not_understood)
    assert case.place() == [one.cause for one in case.ranking].index("few-coats") + 1
    assert case_of(Consultation(small), date="2026-01-01") == Case(date="2026-01-01")


def test_a_correction_keeps_what_was_there(small: Knowledge) -> None:
    case = Case(date="2026-03-14", confirmed=[Confirmed("few-coats")])
    correct_case(case, Confirmed("nick"), " felt it ", small)
    assert case.confirmed == [Confirmed("nick")]
    assert case.corrected[0].was == ["few-coats"]
    assert case.corrected[0].because == "felt it"
    for found, because, says in [
        (Confirmed("nikc"), "x", "did you mean 'nick'"),
        (Confirmed(), "x", "Name what it was"),
        (Confirmed("few-coats", "both"), "x", "Name what it was"),
        (Confirmed("few-coats"), " ", "Give the reason"),
        (Confirmed("nick"), "x", "says already"),
    ]:
        with pytest.raises(AnswerError, match=says):
            correct_case(case, found, because, small)


@pytest.mark.parametrize(
    ("text", "minutes"),
    [
        ("35", 35),
        ("35 min", 35),
        ("1 h 20 min", 80),
        ("1.5 h", 90),
        ("1,5h", 90),
        ("2 hours", 120),
        ("", None),
        ("soon", None),
        ("-3", None),
        ("9" * 40, None),
    ],
)
def test_a_length_of_time_is_read(text: str, minutes: float | None) -> None:
    assert minutes_in(text) == minutes


def test_a_day_is_one_of_the_calendar() -> None:
    assert is_date("2024-02-29")
    for text in ("2026-02-29", "20260214", "2026-W07-1", "2026-2-14", "", "x"):
        assert not is_date(text)


# damage

DAMAGED = 500


def damaged(text: str, pick: random.Random) -> bytes:
    """The text with something broken off, doubled, swapped or struck by chance."""
    raw = text.encode()
    at = pick.randrange(len(raw))
    lines = text.splitlines(keepends=True)
    row = pick.randrange(len(lines))
    ways: list[Callable[[], bytes]] = [
        lambda: raw[:at],
        lambda: raw[:at] + bytes([pick.randrange(256)]) + raw[at + 1 :],
        lambda: raw[:at] + raw[at + pick.randrange(1, 30) :],
        lambda: raw[:at] + pick.randbytes(4) + raw[at:],
        lambda: "".join([*lines[:row], *lines[row + 1 :]]).encode(),
        lambda: "".join([*lines[:row], lines[row], *lines[row:]]).encode(),
        lambda: "".join([*lines[:row], " " + lines[row], *lines[row + 1 :]]).encode(),
        lambda: text.replace("date:", "dat:").encode(),
        lambda: text.replace("minutes: ", "minutes: about ").encode(),
        lambda: text.replace("chance: 0.82", "chance: nan").encode(),
        lambda: text.replace("few-coats", "[few-coats").encode(),
        lambda: b"",
    ]
    return pick.choice(ways)()


def test_damaged_files_are_named_and_hide_no_other(
    tmp_path: Path, small: Knowledge
) -> None:
    """500 files struck at random among whole ones: each is read, or told with its name.

    What is told names the file and a line; nothing is changed on disk.
    """
    pick = random.Random(5)
    shop = Shop(tmp_path)
    whole = [shop.add(FULL) for _ in range(20)]
    struck = {}
    for number in range(DAMAGED):
        path = shop.path(f"2026-01-01-{number:04x}")
        struck[path.stem] = damaged(case_text(FULL), pick)
        path.write_bytes(struck[path.stem])
    cases = shop.all(small)
    assert {one.id for one in cases.kept} >= set(whole)
    assert len(cases.kept) + len(cases.broken) == len(whole) + DAMAGED
    assert len(cases.broken) > DAMAGED / 3
    for broken in cases.broken:
        assert isinstance(broken, Broken)
        for says in broken.says.splitlines():
            assert says.startswith(f"{broken.path}:")
            assert says.endswith(".")
    for kept in cases.kept:
        assert isinstance(kept, Kept)
        if kept.id in struck:
            write_case(kept.case, tmp_path / "again.yaml")
            assert read_case(tmp_path / "again.yaml", small).case == kept.case
    for id, raw in struck.items():
        assert shop.path(id).read_bytes() == raw
