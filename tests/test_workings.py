"""What is worked out: values, ranges by two other ways, verdicts, refusals."""

from __future__ import annotations

import math
from collections.abc import Callable, Mapping
from typing import Any

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from msgspec.structs import replace
from uncertainties import ufloat  # type: ignore[import-untyped]
from uncertainties.umath import exp, sqrt  # type: ignore[import-untyped]

from diagnose.errors import AnswerError, CalculationError, DiagnoseError
from diagnose.readings import Reading
from diagnose.records import Input, Knowledge, Output, Window, Working
from diagnose.workings import (
    Amount,
    Worked,
    figure,
    form,
    judged,
    verdict,
    work_out,
)

FRACTILES = (2.275, 97.725)
"""Per cent of a normal law below and above two standard uncertainties."""


def working(
    works: str, inputs: Mapping[str, tuple[str, float]], gives: Mapping[str, str]
) -> Working:
    """A record: the function, each input's unit and doubt, each result's unit."""
    return Working(
        id="test",
        status="tried",
        sources=["common practice"],
        name="a test",
        topic="test",
        works=works,
        what="It tests.",
        inputs=[
            Input(
                id=id,
                name=id.replace("-", " "),
                unit=unit,
                lowest=-1e5,
                highest=1e5,
                give_or_take=doubt,
                how="Read it.",
            )
            for id, (unit, doubt) in inputs.items()
        ],
        gives=[Output(id=id, name=id, unit=unit) for id, unit in gives.items()],
        formula="x",
        means=" ".join(f"{{{id}}}" for id in (*inputs, *gives)),
        example={id: f"1 {unit}" for id, (unit, _) in inputs.items()},
    )


WEDGE = working(
    "step_wedge.corrected_time",
    {
        "exposure-time": ("s", 1),
        "held-step": ("step", 0.5),
        "target-step": ("step", 0.1),
        "step-density": ("D", 0.005),
    },
    {"time": "s"},
)
GEOMETRY = working(
    "mesh.geometry",
    {"mesh-count": ("threads/cm", 1), "thread-diameter": ("µm", 1)},
    {"opening": "µm", "open-area": "%", "ink-volume": "cm3/m2"},
)
THICKNESS = working(
    "working_curve.time_for_thickness",
    {
        "exposure-time": ("s", 2),
        "stencil-thickness": ("µm", 2),
        "new-thickness": ("µm", 2),
        "penetration-depth": ("µm", 1),
    },
    {"time": "s"},
)
DISTANCE = working(
    "lamp.least_distance",
    {
        "lamp-distance": ("cm", 1),
        "image-width": ("cm", 1),
        "image-length": ("cm", 1.5),
    },
    {"least": "cm", "diagonals": ""},
)


def amounts(worked: Worked) -> dict[str, Amount]:
    return {one.output.id: one for one in worked.amounts}


# --- ranges by drawing lots ----------------------------------------------------------

DRAWN: dict[str, tuple[Working, dict[str, float], Callable[..., Any], str]] = {
    "step wedge": (
        WEDGE,
        {"exposure-time": 60, "held-step": 5, "target-step": 7, "step-density": 0.15},
        lambda t, held, target, density: t * 10 ** (density * (target - held)),
        "time",
    ),
    "opening": (
        GEOMETRY,
        {"mesh-count": 120, "thread-diameter": 34},
        lambda count, thread: 10000 / count - thread,
        "opening",
    ),
    "open area": (
        GEOMETRY,
        {"mesh-count": 120, "thread-diameter": 34},
        lambda count, thread: 100 * (1 - count * thread / 10000) ** 2,
        "open-area",
    ),
    "another thickness": (
        THICKNESS,
        {
            "exposure-time": 60,
            "stencil-thickness": 70,
            "new-thickness": 85,
            "penetration-depth": 30,
        },
        lambda t, now, new, depth: t * np.exp((new - now) / depth),
        "time",
    ),
}


@pytest.mark.parametrize("case", DRAWN)
def test_a_range_holds_what_lots_drawn_hold(case: str) -> None:
    """Against 200 000 lots of the formula, written out anew: both ends of the range.

    They agree to 4 % of its width; what several doubts make together, each bent its
    own way, is not just the root of their squares.
    """
    record, values, formula, output = DRAWN[case]
    doubts = {one.id: one.give_or_take for one in record.inputs}
    lots = np.random.default_rng(1)
    drawn = [lots.normal(value, doubts[id], 200_000) for id, value in values.items()]
    low, high = np.percentile(formula(*drawn), FRACTILES)
    given = {id: Reading(value, doubts[id], "") for id, value in values.items()}
    found = amounts(work_out(record, given))[output]
    assert found.low == pytest.approx(low, abs=0.04 * (high - low))
    assert found.high == pytest.approx(high, abs=0.04 * (high - low))
    assert found.value == pytest.approx(formula(*values.values()))


def test_the_range_of_a_wedge_is_wider_above() -> None:
    """With doubt in the step alone: one step either way, 10^0.15 (by hand).

    60 s, step 5 of 7: 60 × 10^0.30 = 119.7 s, from 84.8 to 169.1 s.
    """
    given = {
        "exposure-time": Reading(60, 0, "s"),
        "held-step": Reading(5, 0.5, "step"),
        "target-step": Reading(7, 0, "step"),
        "step-density": Reading(0.15, 0, "D"),
    }
    time = amounts(work_out(WEDGE, given))["time"]
    assert time.value == pytest.approx(60 * 10**0.30)
    assert time.low == pytest.approx(60 * 10**0.15)
    assert time.high == pytest.approx(60 * 10**0.45)
    assert time.high - time.value > 1.4 * (time.value - time.low)
    assert time.give_or_take == pytest.approx(60 * (10**0.375 - 10**0.30))
    assert str(time) == "120 s"


# --- ranges by first order ----------------------------------------------------------


def by_first_order(case: str) -> tuple[Worked, Any, str]:
    if case == "another thickness":
        given = {
            "exposure-time": Reading(60, 0.6, "s"),
            "stencil-thickness": Reading(70, 0.2, "µm"),
            "new-thickness": Reading(85, 0.3, "µm"),
            "penetration-depth": Reading(30, 0.3, "µm"),
        }
        t, now, new, depth = (ufloat(r.value, r.give_or_take) for r in given.values())
        return work_out(THICKNESS, given), t * exp((new - now) / depth), "time"
    if case == "distance":
        given = {
            "lamp-distance": Reading(90, 0.5, "cm"),
            "image-width": Reading(40, 0.1, "cm"),
            "image-length": Reading(50, 0.2, "cm"),
        }
        far, wide, long = (ufloat(r.value, r.give_or_take) for r in given.values())
        return work_out(DISTANCE, given), far / sqrt(wide**2 + long**2), "diagonals"
    given = {
        "mesh-count": Reading(90, 0.2, "threads/cm"),
        "thread-diameter": Reading(40, 0.1, "µm"),
    }
    count, thread = (ufloat(r.value, r.give_or_take) for r in given.values())
    cover = count * thread / 10000
    share = (1 - cover) ** 2
    formulas = {
        "opening": 10000 / count - thread,
        "open-area": 100 * share,
        "ink-volume": share * thread * (1.2 + 0.75 * cover),
    }
    return work_out(GEOMETRY, given), formulas[case], case


@pytest.mark.parametrize(
    "case", ["opening", "open-area", "ink-volume", "another thickness", "distance"]
)
def test_small_doubts_add_up_as_the_textbook_says(case: str) -> None:
    """Against the library uncertainties (linear, by derivatives), to 1.5 %."""
    worked, wanted, output = by_first_order(case)
    found = amounts(worked)[output]
    assert found.value == pytest.approx(wanted.nominal_value)
    assert found.give_or_take == pytest.approx(wanted.std_dev, rel=0.015)
    assert found.high - found.low == pytest.approx(4 * wanted.std_dev, rel=0.015)


@given(st.floats(0, 3), st.floats(0, 3))
def test_more_doubt_never_makes_a_range_narrower(one: float, other: float) -> None:
    small, large = sorted((one, other))
    ranges = [
        amounts(
            work_out(
                GEOMETRY,
                {
                    "mesh-count": Reading(90, 1, "threads/cm"),
                    "thread-diameter": Reading(40, doubt, "µm"),
                },
            )
        )["opening"]
        for doubt in (small, large)
    ]
    assert ranges[0].low >= ranges[1].low
    assert ranges[0].high <= ranges[1].high


def test_more_readings_make_the_range_narrower() -> None:
    """Four readings that agree halve the doubt of one (standard error of a mean)."""
    thick = replace(
        working(
            "stencil.emulsion_over_mesh",
            {"stencil-thickness": ("µm", 2), "mesh-thickness": ("µm", 0)},
            {"emulsion": "µm"},
        )
    )
    inputs = [replace(one, several="yes") for one in thick.inputs]
    thick = replace(thick, inputs=inputs)
    one, four = (
        amounts(work_out(thick, {"stencil-thickness": text, "mesh-thickness": "60"}))
        for text in ("70", "70; 70; 70; 70 µm")
    )
    assert one["emulsion"].give_or_take == pytest.approx(2)
    assert four["emulsion"].give_or_take == pytest.approx(1)


def test_a_slope_is_in_doubt_by_each_of_its_readings(built_in: Knowledge) -> None:
    """Readings that are all off alike leave a slope as it is; each by itself bends it.

    Against 20 000 lots of numpy's least-squares line through doubtful readings.
    """
    record = built_in.workings["working-curve"]
    doses, depths = [50.0, 100.0, 200.0, 400.0], [20.0, 40.0, 60.0, 80.0]
    doubts = {one.id: one.give_or_take for one in record.inputs}
    given = {
        one.id: "; ".join(f"{value:g}" for value in each) + f" {one.unit}"
        for one, each in zip(record.inputs, (doses, depths), strict=True)
    }
    found = work_out(record, given).amounts[0]
    lots = np.random.default_rng(2)
    dose_doubt, depth_doubt = doubts.values()
    slopes = [
        np.polyfit(
            np.log(lots.normal(doses, dose_doubt)),
            lots.normal(depths, depth_doubt),
            1,
        )[0]
        for _ in range(20_000)
    ]
    assert found.give_or_take == pytest.approx(np.std(slopes), rel=0.15)


def test_where_one_way_is_closed_the_other_counts_for_both() -> None:
    """A thread of 82 ± 2 µm can't be moved up to its doubt at 120/cm (83.3 µm)."""
    given = {
        "mesh-count": Reading(120, 0, "threads/cm"),
        "thread-diameter": Reading(82, 2, "µm"),
    }
    opening = amounts(work_out(GEOMETRY, given))["opening"]
    assert opening.value == pytest.approx(1.3333, abs=1e-3)
    assert opening.give_or_take == pytest.approx(2)
    assert opening.high - opening.value == pytest.approx(4)
    assert opening.value - opening.low == pytest.approx(4)


# --- what is said -------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "give_or_take", "says"),
    [
        (79.8, 12.0, "80 s"),
        (0.8284, 0.03, "0.83 s"),
        (1234.5, 3.0, "1234 s"),
        (1234.5, 0.0, "1234 s"),
        (0.00004567, 0.0, "4.57e-05 s"),
        (0.000456, 0.0, "0.000456 s"),
        (0.0, 0.0, "0 s"),
    ],
)
def test_a_result_is_rounded_to_its_doubt(
    value: float, give_or_take: float, says: str
) -> None:
    """To the place of the first figure of the doubt; else to three figures."""
    output = Output(id="x", name="x", unit="s")
    assert str(Amount(output, value, give_or_take, value, value)) == says


def test_lists_and_words_are_written_out() -> None:
    assert figure([7.5, 22.5], "°") == "7.5, 22.5 °"
    assert figure(True) == "yes"
    assert figure("plain") == "plain"


def test_what_is_left_out_is_taken_as_usual() -> None:
    """The usual value counts with its doubt, and is named among what was assumed."""
    inputs = [
        replace(one, usual=7.0) if one.id == "target-step" else one
        for one in WEDGE.inputs
    ]
    record = replace(WEDGE, inputs=inputs)
    given = {"exposure-time": "60 s", "held-step": "5", "step-density": "0.15 D"}
    worked = work_out(record, given)
    assert worked.assumed == ("target-step",)
    assert worked.inputs["target-step"] == Reading(7.0, 0.1, "step")
    told = work_out(record, {**given, "target-step": "7 step"})
    assert told.assumed == ()
    assert told.amounts == worked.amounts


def test_the_sentence_holds_the_numbers() -> None:
    """Inputs as they were read, results as they are printed."""
    given = {"mesh-count": "305 tpi", "thread-diameter": "34 µm"}
    worked = work_out(GEOMETRY, given)
    assert worked.means() == "120 threads/cm 34 µm 49 µm 35 % 17.9 cm3/m2"
    assert worked.check_next() == ""


def test_several_readings_are_told_by_their_ends(small: Knowledge) -> None:
    """Four or more of a list: from the lowest to the highest. Of one thing the mean."""
    record = replace(
        small.workings["over-mesh"], means="{stencil-thickness}, {mesh-thickness}"
    )
    given = {"stencil-thickness": "68; 72; 70; 71 µm", "mesh-thickness": "60; 62 µm"}
    assert work_out(record, given).means() == "68 to 72 µm, 61 µm"
    given = {"mesh-count": "118; 120; 119; 121 /cm", "thread-diameter": "34 µm"}
    assert work_out(GEOMETRY, given).means().startswith("120 threads/cm 34 µm")


def test_what_is_chosen_of_a_few_has_no_range() -> None:
    """A whole number of coats, say: its neighbours are other choices."""
    chosen = [replace(one, chosen="yes") for one in GEOMETRY.gives]
    given = {"mesh-count": "90", "thread-diameter": "40"}
    worked = work_out(replace(GEOMETRY, gives=chosen), given)
    for one in worked.amounts:
        assert (one.has_range, one.range(), one.give_or_take) == (False, "", 0)


# --- windows ------------------------------------------------------------------------

BOTH = Window(
    id="both",
    status="tried",
    sources=["common practice"],
    name="x",
    unit="%",
    low=10,
    high=20,
    below="Thin.",
    within="Right.",
    above="Thick.",
    because="x",
)
FLOOR = replace(BOTH, high=None, above=None)
CEILING = replace(BOTH, low=None, below=None)


@pytest.mark.parametrize(
    ("value", "doubt", "window", "side", "says"),
    [
        (5, 0, BOTH, "below", "That is below the window (10 to 20 %). Thin."),
        (15, 0, BOTH, "within", "That is inside the window (10 to 20 %). Right."),
        (25, 0, BOTH, "above", "That is above the window (10 to 20 %). Thick."),
        (10, 0, BOTH, "within", "That is inside the window (10 to 20 %). Right."),
        (7, 1, BOTH, "below", "That is below the window (10 to 20 %). Thin."),
        (
            8.8,
            1,
            BOTH,
            "below",
            "That is probably below the window (10 to 20 %). Thin.",
        ),
        (
            11.2,
            1,
            BOTH,
            "within",
            "That is probably inside the window (10 to 20 %). Right.",
        ),
        (
            10,
            1,
            BOTH,
            "edge",
            "That is about at the edge of the window (10 to 20 %), so it settles "
            "little.",
        ),
        (
            15,
            20,
            BOTH,
            "edge",
            "That is about at the edge of the window (10 to 20 %), so it settles "
            "little.",
        ),
        (99, 1, FLOOR, "within", "That is inside the window (from 10 %). Right."),
        (5, 1, FLOOR, "below", "That is below the window (from 10 %). Thin."),
        (-9, 1, CEILING, "within", "That is inside the window (up to 20 %). Right."),
        (25, 1, CEILING, "above", "That is above the window (up to 20 %). Thick."),
    ],
)
def test_a_verdict_by_a_window(
    value: float, doubt: float, window: Window, side: str, says: str
) -> None:
    """Plain with 95 in 100, probable with 75; else it settles little."""
    found = judged(Reading(value, doubt, "%"), window)
    assert (found.side, found.says) == (side, says)


@given(st.floats(-5, 35), st.floats(0.01, 20), st.floats(0.01, 20))
def test_doubt_never_makes_a_verdict_plainer(
    value: float, one: float, other: float
) -> None:
    """What is about at the edge with a little doubt stays so with more.

    On one side of one edge; inside a window both edges come nearer together.
    """
    small, large = sorted((one, other))
    if judged(Reading(value, small, "%"), FLOOR).side == "edge":
        assert judged(Reading(value, large, "%"), FLOOR).side == "edge"


def test_a_result_without_window_has_no_verdict(small: Knowledge) -> None:
    given = {"stencil-thickness": "66; 70 µm", "mesh-thickness": "60 µm"}
    worked = work_out(small.workings["over-mesh"], given)
    emulsion, share = worked.amounts
    assert verdict(emulsion, small) is None
    found = verdict(share, small)
    assert found is not None
    assert (found.window.id, found.side) == ("build", "within")


# --- refusals -----------------------------------------------------------------------

REFUSED: dict[str, tuple[dict[str, str], str]] = {
    "nothing": (
        {},
        "'mesh-count' is missing: mesh count, for example \"mesh-count=1 threads/cm\".",
    ),
    "one of two": (
        {"mesh-count": "90"},
        "'thread-diameter' is missing: thread diameter, for example "
        '"thread-diameter=1 µm".',
    ),
    "an unknown one": (
        {"mesh-cout": "90"},
        "there is no input 'mesh-cout' (did you mean 'mesh-count'?).",
    ),
    "another unit": (
        {"mesh-count": "90 kg", "thread-diameter": "40"},
        "mesh-count: '90 kg': 'kg' does not fit mesh count, which is read in "
        "threads/cm, for example '1 threads/cm'.",
    ),
}


@pytest.mark.parametrize("case", REFUSED)
def test_what_can_not_be_read_is_refused(case: str) -> None:
    """One sentence, with the name of the input and the right form."""
    given, says = REFUSED[case]
    with pytest.raises(AnswerError) as raised:
        work_out(GEOMETRY, given)
    assert str(raised.value) == says


def test_numbers_that_can_not_be_are_refused() -> None:
    with pytest.raises(CalculationError, match="would fill the mesh"):
        work_out(GEOMETRY, {"mesh-count": "170", "thread-diameter": "60 µm"})


def test_one_number_is_wanted_where_nothing_scatters() -> None:
    """A setting is no reading that may be taken several times."""
    inputs = [replace(one, give_or_take=0) for one in GEOMETRY.inputs]
    record = replace(GEOMETRY, inputs=inputs)
    with pytest.raises(AnswerError) as raised:
        work_out(record, {"mesh-count": "90; 91", "thread-diameter": "40"})
    assert str(raised.value) == (
        "mesh-count: '90; 91' is several numbers; write one, for example "
        "'1 threads/cm'."
    )


def test_a_time_needs_its_unit_where_it_is_asked_for() -> None:
    given = {
        "exposure-time": "60",
        "held-step": "5",
        "target-step": "7",
        "step-density": "0.15",
    }
    assert work_out(WEDGE, given).inputs["exposure-time"].value == 60
    with pytest.raises(AnswerError) as raised:
        work_out(WEDGE, given, times_need_units=True)
    says = "exposure-time: '60' has no unit; write '60 s' or '60 min'."
    assert str(raised.value) == says


def test_the_form_of_an_input_is_fit_for_a_shell() -> None:
    """Quoted where it has a blank or a sign that a shell would read."""
    record = replace(GEOMETRY, example={"mesh-count": "120/cm"})
    count, thread = record.inputs
    assert form(record, count) == "mesh-count=120/cm"
    assert form(record, thread) == '"thread-diameter=-100000 µm"'


# --- all that is built in -----------------------------------------------------------


def test_every_example_works_and_says_what_it_found(built_in: Knowledge) -> None:
    """Numbers that are numbers, a range about each, and no brace left over."""
    assert built_in.workings
    for record in built_in.workings.values():
        worked = work_out(record, record.example, times_need_units=True)
        assert not set(worked.assumed) & set(record.example), record.id
        for one in worked.amounts:
            if one.is_number:
                assert math.isfinite(one.value), record.id
            if one.has_range:
                assert one.low <= one.value <= one.high, (record.id, one.output.id)
        for says in (worked.means(), worked.check_next()):
            assert not set(says) & set("{}"), record.id


def test_every_window_judges_its_own_middle_as_right(built_in: Knowledge) -> None:
    for window in built_in.windows.values():
        low, high = window.low, window.high
        if low is None:
            value = (high or 0.0) - 1
        else:
            value = low + 1 if high is None else (low + high) / 2
        found = judged(Reading(value, 0, window.unit), window)
        assert (found.side, found.window) == ("within", window)


@settings(max_examples=300, deadline=None)
@given(st.data())
def test_whatever_is_given_it_works_or_says_why_not(
    built_in: Knowledge, data: st.DataObject
) -> None:
    """The ends of what each input may be, and anything between: never a crash."""
    record = built_in.workings[data.draw(st.sampled_from(list(built_in.workings)))]
    given = {}
    for one in record.inputs:
        ends = st.sampled_from([one.lowest, one.highest])
        value = ends | st.floats(one.lowest, one.highest)
        most = 4 if one.several == "yes" else 1
        each = data.draw(st.lists(value, min_size=1, max_size=most))
        doubt = data.draw(st.sampled_from([0.0, 1e-6, one.give_or_take, 1e4]))
        given[one.id] = Reading(sum(each) / len(each), doubt, one.unit, tuple(each))
    try:
        worked = work_out(record, given)
    except DiagnoseError as error:
        refused = str(error)
    else:
        refused = ""
        for found in worked.amounts:
            assert str(found)
            assert not (found.is_number and math.isnan(found.value))
            assert found.has_range == (found.is_number and found.output.chosen == "no")
        assert worked.means()
    assert refused == "" or refused.endswith(".")
    assert "\n" not in refused
