"""Readings that follow from other readings, in chains, and what has to be read."""

from __future__ import annotations

from collections.abc import Mapping

import pytest
from msgspec.structs import replace

from diagnose.derived import NOTHING, derive, to_be_read, ways
from diagnose.readings import Reading
from diagnose.records import Finding, Input, Knowledge, Output, Working
from diagnose.sheets import DONT_KNOW, Sheet

READ = {
    "count": "threads/cm",
    "thread": "µm",
    "opening": "µm",
    "pitch": "µm",
    "open-area": "%",
}


def finding(id: str, unit: str, needs: tuple[str, ...] = ()) -> Finding:
    return Finding(
        id=id,
        status="tried",
        sources=["common practice"],
        name=id,
        role="check",
        kind="reading",
        question=f"What is the {id}?",
        how="Read it.",
        not_this="x",
        minutes=1,
        needs=list(needs),
        unit=unit,
        lowest=0,
        highest=10000,
        give_or_take=1,
    )


def working(
    id: str, works: str, takes: Mapping[str, str], gives: Mapping[str, str]
) -> Working:
    """Inputs and outputs by the reading that each stands for."""
    return Working(
        id=id,
        status="tried",
        sources=["common practice"],
        name=id,
        topic="test",
        works=works,
        what="It tests.",
        inputs=[
            Input(
                id=name,
                name=name,
                unit=READ.get(stands, ""),
                lowest=0,
                highest=10000,
                give_or_take=1,
                how="Read it.",
                finding=stands or None,
            )
            for name, stands in takes.items()
        ],
        gives=[
            Output(id=name, name=name, unit=READ[stands], finding=stands)
            for name, stands in gives.items()
        ],
        formula="x",
        means="x",
        example=dict.fromkeys(takes, "1"),
    )


GEOMETRY = working(
    "geometry",
    "mesh.geometry",
    {"mesh-count": "count", "thread-diameter": "thread"},
    {"opening": "opening", "pitch": "pitch"},
)
SHARE = working(
    "share",
    "mesh.open_area",
    {"opening": "opening", "pitch": "pitch"},
    {"open-area": "open-area"},
)


@pytest.fixture(scope="module")
def knowledge(small: Knowledge) -> Knowledge:
    """Count and thread give opening and pitch, and these the open area."""
    needs = {"count": ("gauge",)}
    own = {id: finding(id, unit, needs.get(id, ())) for id, unit in READ.items()}
    return replace(
        small,
        findings={**small.findings, **own},
        workings={one.id: one for one in (SHARE, GEOMETRY)},
    )


def asked(knowledge: Knowledge, id: str, sheet: Sheet, known: str = "") -> list[str]:
    """The ids of what has to be read, where these readings are known."""
    readings = {one: Reading(1, 1, "") for one in known.split()}
    reading = knowledge.findings[id]
    found = to_be_read(knowledge, ways(knowledge), sheet, readings, reading)
    return [one.id for one in found]


def test_a_reading_follows_in_two_steps(knowledge: Knowledge) -> None:
    """By hand: 90/cm with 40 µm, pitch 111.1, opening 71.1 µm, open area 40.96 %."""
    own = {"count": Reading(90, 1, "threads/cm"), "thread": Reading(40, 1, "µm")}
    found = derive(ways(knowledge), own)
    assert set(found.worked) == {"opening", "pitch", "open-area"}
    assert found.faults == ()
    assert found.reading("opening").value == pytest.approx(71.111, abs=1e-3)
    assert found.reading("pitch").value == pytest.approx(111.111, abs=1e-3)
    share = found.reading("open-area")
    assert share.value == pytest.approx(40.96)
    assert share.unit == "%"
    assert share.give_or_take > 0
    assert found.worked["open-area"].working is SHARE


def test_doubt_goes_along_the_chain(knowledge: Knowledge) -> None:
    """More doubt in the thread is more doubt in what follows from what follows."""
    shares = [
        derive(
            ways(knowledge),
            {"count": Reading(90, 1, ""), "thread": Reading(40, doubt, "")},
        ).reading("open-area")
        for doubt in (0.1, 1, 4)
    ]
    doubts = [one.give_or_take for one in shares]
    assert doubts == sorted(set(doubts))
    assert len({one.value for one in shares}) == 1


def test_what_was_read_counts_before_what_follows(knowledge: Knowledge) -> None:
    """An opening that was measured is not worked out, and what follows goes by it."""
    own = {
        "count": Reading(90, 1, "threads/cm"),
        "thread": Reading(40, 1, "µm"),
        "opening": Reading(60, 1, "µm"),
    }
    found = derive(ways(knowledge), own)
    assert "opening" not in found.worked
    share = 100 * (60 / (10000 / 90)) ** 2
    assert found.reading("open-area").value == pytest.approx(share)


@pytest.mark.parametrize("own", [{}, {"count": Reading(90, 1, "threads/cm")}])
def test_too_little_gives_nothing(
    own: dict[str, Reading], knowledge: Knowledge
) -> None:
    found = derive(ways(knowledge), own)
    assert (found.worked, found.faults) == (NOTHING.worked, ())


def test_readings_that_can_not_be_are_a_fault_and_no_crash(
    knowledge: Knowledge,
) -> None:
    """One sentence for threads that overlap, however many results they would give."""
    own = {"count": Reading(170, 1, ""), "thread": Reading(60, 1, "µm")}
    found = derive(ways(knowledge), own)
    assert found.worked == {}
    assert found.faults == (
        "Threads of 60 µm at 170 threads/cm would fill the mesh; the thread is thinner "
        "than 10000 / count = 58.82 µm.",
    )


def test_a_working_with_an_input_that_nobody_reads_is_no_way(
    knowledge: Knowledge,
) -> None:
    """Unless the input has a usual value."""
    thread = replace(GEOMETRY.inputs[1], finding=None)
    closed = replace(GEOMETRY, inputs=[GEOMETRY.inputs[0], thread])
    assert ways(replace(knowledge, workings={"geometry": closed})) == {}
    usual = replace(GEOMETRY, inputs=[closed.inputs[0], replace(thread, usual=40)])
    found = derive(
        ways(replace(knowledge, workings={"geometry": usual})),
        {"count": Reading(90, 1, "threads/cm")},
    )
    assert found.reading("opening").value == pytest.approx(71.111, abs=1e-3)
    assert found.worked["opening"].assumed == ("thread-diameter",)


def test_workings_in_a_ring_come_to_an_end(knowledge: Knowledge) -> None:
    """Each gives what the other takes: neither turns for ever."""
    back = working(
        "back",
        "mesh.threads_per_inch",
        {"mesh-count": "opening"},
        {"result": "count"},
    )
    ring = replace(knowledge, workings={"geometry": GEOMETRY, "back": back})
    known = {"count": Reading(90, 1, ""), "thread": Reading(40, 1, "")}
    assert set(derive(ways(ring), known).worked) == {"opening", "pitch"}
    assert set(derive(ways(ring), {"opening": Reading(71, 1, "µm")}).worked) == {
        "count"
    }
    assert asked(ring, "opening", Sheet()) == ["count", "thread"]
    assert asked(ring, "count", Sheet()) == ["opening"]


# --- what has to be read ------------------------------------------------------------


def test_the_inputs_are_asked_for_one_by_one(knowledge: Knowledge) -> None:
    """Down to what is really read; each is asked for once it is missing."""
    assert asked(knowledge, "opening", Sheet()) == ["count", "thread"]
    assert asked(knowledge, "opening", Sheet(), known="count") == ["thread"]
    assert set(asked(knowledge, "open-area", Sheet())) == {"count", "thread"}
    assert asked(knowledge, "thread", Sheet()) == ["thread"]


@pytest.mark.parametrize("closed", ["count", "thread"])
def test_a_way_is_closed_by_what_the_person_does_not_know(
    closed: str, knowledge: Knowledge
) -> None:
    """Then the reading itself is asked for."""
    sheet = Sheet(readings={closed: DONT_KNOW})
    assert asked(knowledge, "opening", sheet) == ["opening"]


def test_a_way_is_closed_by_a_tool_that_is_not_to_hand(knowledge: Knowledge) -> None:
    """Not where the count is known already."""
    sheet = Sheet(to_hand={"gauge": "no"})
    assert asked(knowledge, "opening", sheet) == ["opening"]
    assert asked(knowledge, "opening", sheet, known="count") == ["thread"]
    assert asked(knowledge, "opening", Sheet(to_hand={"gauge": "yes"})) == [
        "count",
        "thread",
    ]


def test_where_one_way_is_closed_the_next_is_taken(knowledge: Knowledge) -> None:
    """In the order of the files."""
    other = working(
        "other", "mesh.open_area", {"opening": "thread", "pitch": "pitch"}, {}
    )
    other = replace(
        other, gives=[Output(id="x", name="x", unit="µm", finding="opening")]
    )
    two = replace(knowledge, workings={"geometry": GEOMETRY, "other": other})
    sheet = Sheet(to_hand={"gauge": "no"})
    assert asked(two, "opening", sheet) == ["thread", "pitch"]


def test_every_built_in_way_is_of_readings(built_in: Knowledge) -> None:
    """Units agree, and no chain runs in a ring."""
    for id, workings in ways(built_in).items():
        assert built_in.findings[id].kind == "reading"
        found = asked(built_in, id, Sheet())
        assert found
        assert len(set(found)) == len(found), id
        assert workings
