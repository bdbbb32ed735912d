"""Past cases like the present one: in the order of a plain reference; what is shown."""

from __future__ import annotations

import io
import json
import math
import os
from pathlib import Path

import numpy as np
import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from knowledge_copy import SMALL
from rich.console import Console
from shop_draws import Draws

from diagnose import Consultation, cli
from diagnose.cases.index import said_roots, words_of
from diagnose.cases.past_screens import show_recalled
from diagnose.cases.recall import PLACES, Likeness, recall, word_bits
from diagnose.cases.record import Case, Confirmed, case_text, sheet_of
from diagnose.cases.shop import Kept, Shop
from diagnose.model import model_of
from diagnose.records import Knowledge
from diagnose.sheets import Sheet, write_sheet
from diagnose.terminal import Interview

SAID = ["gummy corners", "stairs on the curve", "corners tear", "", "stairs, gummy"]


def slow(
    cases: list[Kept], likeness: Likeness, most: int, but: set[str]
) -> list[tuple[str, float]]:
    """What recall is to find, case by case, by its definition."""
    said = {one.id: said_roots(words_of(one.case)) for one in cases}
    found = []
    for one in cases:
        then = likeness.facts.of(one.case)
        bits = sum(
            values[then[finding]]
            for finding, values in likeness.bits.items()
            if finding in then
        )
        for root in likeness.words:
            met = sum(root in roots for roots in said.values())
            if root in said[one.id]:
                bits += word_bits(met, len(cases))
        bits = round(bits, PLACES)
        own = likeness.begun and one.case.begun == likeness.begun
        if (
            one.case.confirmed
            and bits >= likeness.least
            and one.id not in but
            and not own
        ):
            found.append((bits, one.case.date, one.id))
    found.sort(reverse=True)
    return [(id, bits) for bits, _, id in found[:most]]


def keep(shop: Shop, cases: list[tuple[str, Case]]) -> None:
    shop.cases.mkdir(parents=True, exist_ok=True)
    for id, case in cases:
        shop.path(id).write_text(case_text(case))


def same_order(shop: Shop, consultation: Consultation, most: int, but: set[str]) -> int:
    """Recall and the reference agree; how many were found."""
    cases = list(shop.all(consultation.knowledge).kept)
    wanted = slow(cases, Likeness(consultation), most, but)
    found = recall(shop, consultation, most, but)
    assert [one.kept.id for one in found] == [id for id, _ in wanted]
    for one, (_, bits) in zip(found, wanted, strict=True):
        assert math.isclose(one.bits, bits, abs_tol=2 * 10**-PLACES)
    return len(found)


@pytest.fixture(scope="module")
def drawn(
    built_in: Knowledge, tmp_path_factory: pytest.TempPathFactory
) -> tuple[Shop, list[tuple[str, Case]]]:
    """A shop of 150 drawn cases, each with words; a tenth without a cause."""
    rng = np.random.default_rng(7)
    cases = Draws(model_of(built_in), model_of(built_in).network).cases(150, rng)
    for number, (_, case) in enumerate(cases):
        case.said = [SAID[number % len(SAID)]]
        if number % 10 == 0:
            case.confirmed = []
    shop = Shop(tmp_path_factory.mktemp("drawn") / "shop")
    keep(shop, cases)
    return shop, cases


def test_the_order_is_that_of_the_reference(
    drawn: tuple[Shop, list[tuple[str, Case]]], built_in: Knowledge
) -> None:
    """On cases drawn from the built-in links: the same cases, in the same order."""
    shop, cases = drawn
    found = 0
    for number, (id, case) in enumerate(cases[:25]):
        consultation = Consultation(built_in, sheet_of(case, built_in, then=True))
        but = {id} if number % 2 else set[str]()
        found += same_order(shop, consultation, 1 + number % 5, but)
    assert found > 25


def test_a_case_is_most_like_itself(
    drawn: tuple[Shop, list[tuple[str, Case]]], built_in: Knowledge
) -> None:
    """Where it is alike enough to be told, and had a cause."""
    shop, cases = drawn
    first = 0
    for id, case in cases[1:10]:
        found = recall(shop, Consultation(built_in, sheet_of(case, built_in)), 1)
        assert found
        first += found[0].kept.id == id
    assert first >= 8


def test_cases_of_the_same_cause_come_first(
    drawn: tuple[Shop, list[tuple[str, Case]]], built_in: Knowledge
) -> None:
    """Far more often than chance: of 155 causes few cases share one."""
    shop, cases = drawn
    causes = [case.confirmed[0].cause for _, case in cases if case.confirmed]
    right = told = chance = 0.0
    for id, case in cases:
        if case.confirmed and causes.count(cause := case.confirmed[0].cause) > 1:
            consultation = Consultation(built_in, sheet_of(case, built_in))
            if found := recall(shop, consultation, 1, [id]):
                told += 1
                right += found[0].kept.case.confirmed[0].cause == cause
                chance += (causes.count(cause) - 1) / len(causes)
    assert told > 20
    assert right > 5 * chance


VALUES = st.sampled_from(["yes", "no", "somewhat", "don't know"])
COATS = st.sampled_from(["one", "two", "many", "don't know"])
ANSWERS = st.fixed_dictionaries(
    {},
    optional={"stairs": VALUES, "bands": VALUES, "gives": VALUES, "nick-felt": VALUES},
)
SET_UP = st.fixed_dictionaries({}, optional={"coats": COATS})
READINGS = st.fixed_dictionaries(
    {}, optional={"thickness": st.sampled_from(["2 %", "9 ± 3 %", "20 %", "30 %"])}
)
TEXT = st.lists(st.sampled_from(SAID), max_size=2)
MOMENTS = st.sampled_from(
    ["", "2026-01-01T00:00:00+00:00", "2026-01-02T00:00:00+00:00"]
)
CAUSES = st.lists(
    st.sampled_from([Confirmed("few-coats"), Confirmed(other="a ghost")]), max_size=1
)
DATES = st.sampled_from(["2026-01-01", "2026-02-01"])
CASES = st.builds(
    lambda date, said, set_up, answers, readings, begun, confirmed: Case(
        date=date,
        said=said,
        set_up=set_up,
        answers=answers,
        readings=readings,
        begun=begun,
        confirmed=confirmed,
    ),
    DATES,
    TEXT,
    SET_UP,
    ANSWERS,
    READINGS,
    MOMENTS,
    CAUSES,
)


@settings(
    max_examples=60,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(
    cases=st.lists(CASES, max_size=12),
    now=CASES,
    most=st.integers(1, 4),
    but=st.sets(st.sampled_from(["2026-01-01-0000", "2026-01-01-0001"])),
)
def test_any_cases(
    cases: list[Case],
    now: Case,
    most: int,
    but: set[str],
    small: Knowledge,
    tmp_path: Path,
) -> None:
    """Equal cases, cases without a cause, readings, words, cases that are left out."""
    shop = Shop(tmp_path / "shop")
    for id in shop.ids():
        shop.path(id).unlink()
    keep(shop, [(f"2026-01-01-{n:04x}", case) for n, case in enumerate(cases)])
    consultation = Consultation(small, sheet_of(now, small))
    if now.said or now.given():
        same_order(shop, consultation, most, but)
    else:
        assert recall(shop, consultation) == []


def test_what_bits_mean(small: Knowledge) -> None:
    """Of two causes as likely as each other, told apart by one sure finding, an answer
    that is the same speaks for one cause, the other one against it.

    With P(c) = 1/2 and answers that are 98 % sure, the same answer is worth
    log2(2 (0.98^2 + 0.02^2)) = 0.943 bits, an opposite one log2(4 × 0.98 × 0.02).
    """
    consultation = Consultation(small)
    for finding in ("stairs", "bands", "gives"):
        consultation.answer(finding, "yes")
    bits = Likeness(consultation).bits
    for values in bits.values():
        assert values["yes"] > 0 > values["no"]
        assert values["yes"] > values["somewhat"] > values["no"]
    assert math.isclose(math.log2(2 * (0.98**2 + 0.02**2)), 0.943, abs_tol=0.001)


def alike_shop(folder: Path) -> Shop:
    """Two cases of stairs after one coat, and one of bands."""
    shop = Shop(folder / "shop")
    answers = {"stairs": "yes", "bands": "no"}
    few = [Confirmed("few-coats", how="counted")]
    keep(
        shop,
        [
            (
                "2026-03-01-0001",
                Case(
                    date="2026-03-01",
                    said=["the edges look like stairs on the gull"],
                    answers=answers,
                    set_up={"coats": "one"},
                    confirmed=few,
                    tried={"coat-again": "yes"},
                    minutes=70,
                    prints_lost=12,
                    invented="yes",
                ),
            ),
            (
                "2026-03-02-0002",
                Case(
                    date="2026-03-02",
                    answers={**answers, "bands": "somewhat"},
                    set_up={"coats": "one"},
                    confirmed=few,
                ),
            ),
            (
                "2026-03-03-0003",
                Case(date="2026-03-03", answers={"bands": "yes", "stairs": "no"}),
            ),
        ],
    )
    return shop


def stairs(knowledge: Knowledge) -> Consultation:
    consultation = Consultation(knowledge)
    consultation.describe("the edges look like stairs, on a gull")
    consultation.answer("stairs", "yes")
    consultation.answer("bands", "no")
    consultation.answer("coats", "one")
    return consultation


def test_what_is_told(small: Knowledge, tmp_path: Path) -> None:
    """What is the same, what differs, what it was and what cured it."""
    shop = alike_shop(tmp_path)
    first, second = recall(shop, stairs(small))
    assert first.kept.id == "2026-03-01-0001"
    assert dict(first.same) == {"stairs": "yes", "coats": "one", "bands": "no"}
    assert first.differs == ()
    assert "gull" in first.words
    assert first.cured == ("coat-again",)
    assert ("bands", "no", "somewhat") in second.differs
    screen = io.StringIO()
    show_recalled(Console(file=screen, width=80), stairs(small), shop.folder)
    text = " ".join(screen.getvalue().split())
    assert "Your shop had this before" in text
    assert "2026-03-01-0001: too few coats" in text
    assert "(invented)" in text
    assert "The edges look like stairs." in text
    assert "But then: Somewhat: There are bands." in text
    assert "about 70 min, 12 prints lost" in text
    assert max(map(len, screen.getvalue().splitlines())) <= 80


def test_nothing_to_go_by(small: Knowledge, tmp_path: Path) -> None:
    """Nothing said, no shop folder, a folder that is a file: no traceback."""
    shop = alike_shop(tmp_path)
    assert recall(shop, Consultation(small)) == []
    screen = io.StringIO()
    console = Console(file=screen, width=80)
    show_recalled(console, stairs(small), tmp_path / "none")
    assert screen.getvalue() == ""
    (tmp_path / "file").write_text("")
    show_recalled(console, stairs(small), tmp_path / "file")
    assert "can't be kept or read there" in " ".join(screen.getvalue().split())
    assert sorted(os.listdir(tmp_path)) == ["file", "shop"]


def test_in_rank(
    small: Knowledge, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """'rank' shows them where a shop is named, and has them in its JSON."""
    shop = alike_shop(tmp_path)
    sheet = Sheet(answers={"stairs": "yes", "bands": "no"}, set_up={"coats": "one"})
    write_sheet(sheet, tmp_path / "sheet.yaml")
    tokens = ["rank", str(tmp_path / "sheet.yaml"), "--knowledge", str(SMALL)]
    assert cli.main(tokens) == 0
    assert "had this before" not in capsys.readouterr().out
    tokens += ["--shop", str(shop.folder)]
    assert cli.main(tokens) == 0
    out = capsys.readouterr().out
    assert out.index("What to do") < out.index("Your shop had this before")
    assert cli.main([*tokens, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)["past_cases"]
    assert [one["id"] for one in told] == ["2026-03-01-0001", "2026-03-02-0002"]
    assert told[0]["cured_by"] == ["coat-again"]


def test_the_command(
    small: Knowledge, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """'case like' leaves the case itself out, and says where none is like it."""
    shop = alike_shop(tmp_path)
    rest = ["--shop", str(shop.folder), "--knowledge", str(SMALL)]
    assert cli.main(["case", "like", "2026-03-02-0002", *rest]) == 0
    out = capsys.readouterr().out
    assert "2026-03-01-0001" in out
    assert "2026-03-02-0002" not in out
    assert cli.main(["case", "like", "2026-03-03-0003", *rest]) == 0
    assert "No other case" in capsys.readouterr().out
    assert cli.main(["case", "like", "2026-03-02-0003", *rest]) == 2
    assert "did you mean" in capsys.readouterr().err
    assert cli.main(["case", "like", "2026-03-02-0002", "--most", "0", *rest]) == 2
    assert "1 or more" in capsys.readouterr().err
    assert cli.main(["case", "like", "2026-03-02-0002", "--json", *rest]) == 0
    told = json.loads(capsys.readouterr().out)
    assert [one["id"] for one in told["past_cases"]] == ["2026-03-01-0001"]


@pytest.mark.parametrize("named", [True, False])
def test_in_the_interview(small: Knowledge, tmp_path: Path, named: bool) -> None:
    """They stand in the result where a shop is named, before what is left in view."""
    shop = alike_shop(tmp_path)
    screen, lines = io.StringIO(), iter(["5", "1", "n", "stop"])
    interview = Interview(
        small,
        tmp_path / "kept",
        Console(file=screen, width=80),
        lambda prompt: next(lines),
        shop=shop.folder if named else None,
    )
    assert interview.run() == 0
    text = screen.getvalue()
    assert ("had this before" in text) == named
    if named:
        assert text.index("had this before") < text.index("In short")
        assert "2026-03-01-0001" in text
