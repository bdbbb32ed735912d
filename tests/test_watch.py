"""What faults cost: the sums, whether fixes held, what to standardise, the screens."""

from __future__ import annotations

import datetime
import io
import json
import math
from itertools import pairwise
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from knowledge_copy import SMALL
from rich.console import Console

from diagnose import cli
from diagnose.cases.choose import NOTHING
from diagnose.cases.past_screens import LETTERS, show_watch, stacked
from diagnose.cases.record import Case, Confirmed, case_text
from diagnose.cases.shop import Kept, Shop
from diagnose.cases.watch import HELD, YEAR, Cost, Span, Watch, months, watch
from diagnose.errors import AnswerError
from diagnose.records import Knowledge

START = datetime.date(2026, 1, 1)


def day(number: int) -> str:
    return (START + datetime.timedelta(days=number)).isoformat()


def kept(number: int, case: Case) -> Kept:
    id = f"{case.date}-{number:04x}"
    return Kept(id, Path(f"{id}.yaml"), case)


def fault(
    on: int,
    *causes: str,
    minutes: float | None = 60,
    prints: int | None = 10,
    mended: bool = True,
    **groups: str,
) -> Kept:
    """A case of that day, mended by a coat more."""
    case = Case(
        date=day(on),
        confirmed=[Confirmed(cause) for cause in causes],
        minutes=minutes,
        prints_lost=prints,
        groups=groups,
        tried={"coat-again": "yes" if mended else "no"},
    )
    return kept(on, case)


def test_what_each_cause_cost(small: Knowledge) -> None:
    """By hand: a case with two causes is shared out; the dearest come first."""
    found = watch(
        [
            fault(0, "few-coats", "slack-mesh", minutes=90, prints=30),
            fault(40, "few-coats", minutes=None, prints=None),
            fault(41, "slack-mesh", minutes=30, prints=5),
            fault(70, minutes=10),
        ],
        small,
    )
    assert found.total == Cost(4, 130, 45, 1)
    assert [(one.name, one.cost) for one in found.causes] == [
        ("slack-mesh", Cost(1.5, 75, 20, 0)),
        ("few-coats", Cost(1.5, 45, 15, 1)),
        (NOTHING, Cost(1, 10, 10, 0)),
    ]
    assert [(one.name, one.cost.cases) for one in found.spans] == [
        ("2026-01", 1),
        ("2026-02", 2),
        ("2026-03", 1),
    ]
    assert math.isclose(found.years, 71 / YEAR)


CASES = st.lists(
    st.builds(
        fault,
        st.integers(0, 500),
        st.sampled_from(["few-coats", "slack-mesh", "nicked", "gone"]),
        minutes=st.none() | st.floats(0, 1000),
        prints=st.none() | st.integers(0, 1000),
        mended=st.booleans(),
        line=st.sampled_from(["1", "2"]),
    ),
    max_size=20,
)


@settings(deadline=None)
@given(cases=CASES, by=st.sampled_from(["month", "line"]))
def test_the_sums_agree(cases: list[Kept], by: str, small: Knowledge) -> None:
    """Causes, months and groups each add up to the whole; every fix that worked is
    told once; standards never save more than there is, the dearest first."""
    found = watch(cases, small, by, now=day(600))

    def near(one: Cost, other: Cost) -> bool:
        pairs = zip(
            (one.cases, one.minutes, one.prints, one.unnoted),
            (other.cases, other.minutes, other.prints, other.unnoted),
            strict=True,
        )
        return all(math.isclose(a, b, abs_tol=1e-6) for a, b in pairs)

    assert near(found.total, sum((one.cost for one in found.causes), Cost()))
    assert near(found.total, sum((one.cost for one in found.spans), Cost()))
    for span in found.spans:
        assert near(span.cost, sum(span.causes.values(), Cost()))
    assert found.total.cases == len(cases)
    for one in found.held:
        assert one.worked == one.held + one.open + len(one.back)
    assert sum(one.worked for one in found.held) == sum(
        one.case.tried["coat-again"] == "yes" for one in cases
    )
    sizes = [found.size(one.saves) for one in found.standards]
    assert all(a >= b - 1e-9 for a, b in pairwise(sizes))
    if found.years:
        saved = sum(one.saves.minutes for one in found.standards) * found.years
        assert saved <= found.total.minutes + 1e-6
    screen = io.StringIO()
    show_watch(Console(file=screen, width=80), found, small)
    assert max(map(len, screen.getvalue().splitlines())) <= 80


@pytest.mark.parametrize(
    ("cases", "by", "held", "back", "still_open"),
    [
        ([fault(0, "few-coats"), fault(HELD, "few-coats")], "month", 1, 1, 0),
        ([fault(0, "few-coats"), fault(HELD + 1, "few-coats")], "month", 2, 0, 0),
        ([fault(0, "few-coats"), fault(9, "slack-mesh")], "month", 2, 0, 0),
        (
            [fault(0, "few-coats", mended=False), fault(9, "few-coats")],
            "month",
            1,
            0,
            0,
        ),
        (
            [fault(0, "few-coats", line="1"), fault(9, "few-coats", line="2")],
            "line",
            2,
            0,
            0,
        ),
        (
            [
                fault(0, "few-coats", line="1"),
                fault(5, "few-coats", line="2"),
                fault(9, "few-coats", line="1"),
            ],
            "line",
            2,
            1,
            0,
        ),
        ([fault(0, "few-coats"), fault(9, "few-coats")], "line", 0, 0, 0),
        ([fault(300 - HELD, "few-coats")], "month", 0, 0, 1),
        ([fault(299 - HELD, "few-coats")], "month", 1, 0, 0),
        ([fault(0), fault(5)], "month", 0, 0, 0),
    ],
)
def test_whether_fixes_held(
    small: Knowledge, cases: list[Kept], by: str, held: int, back: int, still_open: int
) -> None:
    """The same cause, in the same group, within 30 days, after a fix that worked."""
    if by == "line" and not cases[0].case.groups:
        with pytest.raises(AnswerError, match="can't be watched by 'line'"):
            watch(cases, small, by, now=day(300))
        return
    found = watch(cases, small, by, now=day(300)).held
    assert sum(one.held for one in found) == held
    assert sum(len(one.back) for one in found) == back
    assert sum(one.open for one in found) == still_open


def test_what_came_back(small: Knowledge) -> None:
    """The next case of the cause is named, with the days between."""
    cases = [fault(0, "few-coats"), fault(12, "few-coats"), fault(20, "few-coats")]
    (one,) = watch(cases, small, now=day(300)).held
    assert [(b.first[:10], b.again[:10], b.days) for b in one.back] == [
        (day(0), day(12), 12),
        (day(12), day(20), 8),
    ]


def test_what_to_standardise(built_in: Knowledge) -> None:
    """Each fix saves the cost of its causes times its chance, less what went before."""
    cases = [
        fault(0, "coats-too-few", minutes=100),
        fault(100, "exposed-damp", minutes=300),
        fault(364, "coats-too-few", minutes=100),
    ]
    found = watch(cases, built_in)
    strengths = built_in.scales.strengths
    left = {"coats-too-few": 200 / found.years, "exposed-damp": 300 / found.years}
    assert len(found.standards) >= 2
    assert "exposed-damp" in found.standards[0].causes
    for one in found.standards:
        fix = built_in.fixes[one.fix]
        assert fix.moment == "prevent"
        saves = 0.0
        for cure in fix.cures:
            if cure.cause in left:
                saves += left[cure.cause] * strengths[cure.sure]
                left[cure.cause] *= 1 - strengths[cure.sure]
        assert math.isclose(one.saves.minutes, saves)


def test_the_months_between() -> None:
    """Also those in which nothing went wrong, over the turn of a year."""
    assert months("2025-11", "2026-02") == ["2025-11", "2025-12", "2026-01", "2026-02"]
    assert months("2026-02", "2026-02") == ["2026-02"]


@settings(deadline=None)
@given(
    parts=st.dictionaries(
        st.sampled_from(["a", "b", "c", "d"]), st.floats(0, 100), min_size=1
    ),
    room=st.integers(1, 60),
    more=st.floats(1, 5),
)
def test_a_bar(
    parts: dict[str, float], room: int, more: float, small: Knowledge
) -> None:
    """As long as its share of the longest; each letter within one of its own share."""
    found = watch([fault(0, "few-coats")], small)
    costs = {name: Cost(1, minutes) for name, minutes in parts.items()}
    span = Span("x", sum(costs.values(), Cost()), costs)
    letters = dict(zip("abc", LETTERS, strict=False))
    total = sum(parts.values())
    most = total * more
    bar = stacked(found, span, letters, room, most)
    if not total or not most:
        assert bar == ""
        return
    assert len(bar) == max(round(room * total / most), 1)
    for cause, minutes in parts.items():
        sign = letters.get(cause, ".")
        assert abs(bar.count(sign) - len(bar) * minutes / total) <= 1 + 1e-9


def in_shop(folder: Path, cases: list[Kept]) -> list[str]:
    shop = Shop(folder / "shop")
    shop.cases.mkdir(parents=True)
    for one in cases:
        shop.path(one.id).write_text(case_text(one.case))
    return ["--shop", str(shop.folder), "--knowledge", str(SMALL)]


def test_the_command(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A page, a JSON object, a label that is not there, a broken file."""
    rest = in_shop(
        tmp_path,
        [
            fault(0, "few-coats", line="1", minutes=120, prints=40),
            fault(12, "few-coats", line="1"),
            fault(100, "slack-mesh", line="2"),
        ],
    )
    assert cli.main(["case", "watch", *rest]) == 0
    out = capsys.readouterr().out
    assert "3 cases, 2026-01-01 to 2026-04-11: 4.0 hours, 60 prints lost." in out
    assert "Hours by month" in out
    assert "2026-02" in out
    assert "came back 1" in out
    assert max(map(len, out.splitlines())) <= 80
    assert cli.main(["case", "watch", "--by", "line", "--json", *rest]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [one["name"] for one in told["spans"]] == ["1", "2"]
    assert told["held"][0]["back"][0]["days"] == 12
    assert cli.main(["case", "watch", "--by", "lime", *rest]) == 2
    assert "did you mean 'line'" in capsys.readouterr().err
    assert cli.main(["case", "watch", "--since", "2026-04-01", *rest]) == 0
    assert "1 case, 2026-04-11" in capsys.readouterr().out
    (tmp_path / "shop" / "cases" / "2026-01-01-beef.yaml").write_text("date: never\n")
    assert cli.main(["case", "watch", *rest]) == 2
    assert "1 file is no case" in capsys.readouterr().out


def test_no_case(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """An empty shop says so."""
    rest = in_shop(tmp_path, [])
    assert cli.main(["case", "watch", *rest]) == 0
    assert capsys.readouterr().out == "There is no case.\n"
    assert cli.main(["case", "watch", "--json", *rest]) == 0
    assert json.loads(capsys.readouterr().out)["causes"] == []


def test_without_minutes_cases_count(small: Knowledge) -> None:
    """Where no time is noted, causes and bars go by the number of cases."""
    cases = [
        fault(0, "slack-mesh", minutes=None),
        fault(1, "few-coats", minutes=None, prints=0),
        fault(2, "few-coats", minutes=None, prints=0),
    ]
    found: Watch = watch(cases, small)
    assert [one.name for one in found.causes] == ["few-coats", "slack-mesh"]
    screen = io.StringIO()
    show_watch(Console(file=screen, width=80), found, small)
    assert "Cases by month" in screen.getvalue()
    assert "The time it took is noted for 0 of 3 cases." in screen.getvalue()
