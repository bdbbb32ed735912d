"""Readings as people write them: numbers, units, and how far they are to be trusted."""

from __future__ import annotations

import functools
import math
import statistics
import time
from typing import Any

import pint
import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from diagnose import AnswerError
from diagnose.readings import SURE, Reading, read
from diagnose.records import Condition, Finding


def reading(unit: str, lowest: float, highest: float, give_or_take: float) -> Finding:
    """A finding of the kind 'reading'."""
    return Finding(
        id="it",
        status="tried",
        sources=["common practice"],
        name="the thing",
        role="check",
        kind="reading",
        question="How much?",
        how="Measure it.",
        not_this="Not the other.",
        minutes=1,
        unit=unit,
        lowest=lowest,
        highest=highest,
        give_or_take=give_or_take,
    )


TENSION = reading("N/cm", 0, 60, 2)
SHARE = reading("%", 0, 100, 3)
WARMTH = reading("°C", -10, 120, 1)
THICKNESS = reading("µm", 0, 500, 1)
STEP = reading("step", 0, 21, 0.5)
DENSITY = reading("D", 0, 6, 0.1)
HOURS = reading("h", 0, 1000, 1)

# The inch is 25.4 mm exactly, so a mil (a thousandth of it) is 25.4 µm exactly; the
# pound-force is 0.45359237 kg times 9.80665 m/s², both exact; °C = (°F - 32) / 1.8.
# A. Thompson and B. N. Taylor, "Guide for the Use of the International System of
# Units (SI)", NIST Special Publication 811, 2008, appendix B.8,
# https://www.nist.gov/pml/special-publication-811 (values written from memory).
MIL = 25.4
POUND_AN_INCH = 0.45359237 * 9.80665 / 2.54
FAHRENHEIT = (110 - 32) / 1.8

AS_WRITTEN: list[tuple[Finding, str, float]] = [
    (TENSION, "14", 14),
    (TENSION, "14,5", 14.5),
    (TENSION, " 14.5 ", 14.5),
    (TENSION, ".5", 0.5),
    (TENSION, "+3", 3),
    (TENSION, "14 N/cm", 14),
    (TENSION, "14N/cm.", 14),
    (TENSION, "14 n/cm", 14),
    (TENSION, "14 N / cm", 14),
    (TENSION, "14\u00a0N/cm", 14),
    (TENSION, "14 N⋅cm⁻¹", 14),
    (TENSION, "14 newtons", 14),
    (TENSION, "14 Newton/cm", 14),
    (TENSION, "1.4 kN/m", 14),
    (TENSION, "8 lbf/in", 8 * POUND_AN_INCH),
    (TENSION, "8 lbs/in", 8 * POUND_AN_INCH),
    (TENSION, "8 pli", 8 * POUND_AN_INCH),
    (SHARE, "9", 9),
    (SHARE, "9 %", 9),
    (SHARE, "9 percent", 9),
    (SHARE, "45 % RH", 45),
    (SHARE, "0.06 fraction", 6),
    (TENSION, "14 newtons per cm", 14),
    (TENSION, "14 N cm^-1", 14),
    (SHARE, "45%rh", 45),
    (WARMTH, "43", 43),
    (WARMTH, "43 °C", 43),
    (WARMTH, "43 ° C", 43),
    (WARMTH, "43C", 43),
    (WARMTH, "43ºC", 43),
    (WARMTH, "43 ℃", 43),
    (WARMTH, "43 deg C", 43),
    (WARMTH, "43 celsius", 43),
    (WARMTH, "−5 °C", -5),
    (WARMTH, "110 F", FAHRENHEIT),
    (WARMTH, "110 °F", FAHRENHEIT),
    (WARMTH, "110 degrees F", FAHRENHEIT),
    (WARMTH, "110 Fahrenheit", FAHRENHEIT),
    (WARMTH, "300 K", 26.85),
    (THICKNESS, "58 µm", 58),  # the micro sign
    (THICKNESS, "58 μm", 58),  # the Greek letter
    (THICKNESS, "58 um", 58),
    (THICKNESS, "58 microns", 58),
    (THICKNESS, "0,058 mm", 58),
    (THICKNESS, "2.3 mil", 2.3 * MIL),
    (THICKNESS, "2.3 mils", 2.3 * MIL),
    (THICKNESS, "2.3 thou", 2.3 * MIL),
    (THICKNESS, "0.002 in", 2 * MIL),
    (STEP, "7", 7),
    (STEP, "7 step", 7),
    (STEP, "7 steps", 7),
    (DENSITY, "3.1 D", 3.1),
    (DENSITY, "3,1 d", 3.1),
    (DENSITY, "3.1 OD", 3.1),
    (HOURS, "90 min", 1.5),
    (HOURS, "2 days", 48),
]


@pytest.mark.parametrize(("finding", "text", "value"), AS_WRITTEN)
def test_a_reading_is_understood_as_people_write_it(
    finding: Finding, text: str, value: float
) -> None:
    """Comma or point, the unit in any common spelling or left out."""
    found = read(text, finding)
    assert found.value == pytest.approx(value, rel=1e-12)
    assert found.give_or_take == finding.give_or_take
    assert found.unit == finding.unit


def test_fahrenheit_and_mils_in_round_figures() -> None:
    """110 °F are 43.3 °C, and 2.3 mil are 58.4 µm."""
    assert str(read("110 F", WARMTH)) == "43.3 ± 1 °C"
    assert str(read("2.3 mil", THICKNESS)) == "58.4 ± 1 µm"


# give or take


def test_one_reading_is_as_sure_as_the_record_says() -> None:
    assert read("14", TENSION) == Reading(14, 2, "N/cm")


@pytest.mark.parametrize(
    ("text", "doubt"),
    [
        ("9 ± 3 %", 3),
        ("9±3", 3),
        ("9 +/- 0,5 %", 0.5),
        ("9 +- 3", 3),
        ("8; 10 ± 4 %", 4 / math.sqrt(2)),
    ],
)
def test_a_doubt_that_is_written_down_counts(text: str, doubt: float) -> None:
    """The person knows their gauge better than the record does."""
    found = read(text, SHARE)
    assert found.value == 9
    assert found.give_or_take == pytest.approx(doubt)


def test_a_doubt_is_a_difference_and_not_a_temperature() -> None:
    """Give or take 9 °F is give or take 5 °C, not 9 °F on the thermometer."""
    assert read("110 ± 9 F", WARMTH).give_or_take == pytest.approx(5)


@pytest.mark.parametrize(
    "text",
    [
        "14; 15; 16",
        "14;15 ; 16 N/cm",
        "14, 15, 16",
        "14 15 16 N/cm",
        "14 N/cm; 15 N/cm; 16 N/cm",
        "14,0; 15,0; 16,0",
    ],
)
def test_several_readings_narrow_the_doubt(text: str) -> None:
    """Their mean counts; three readings of ± 2 make ± 2/√3."""
    found = read(text, TENSION)
    assert found.value == pytest.approx(15)
    assert found.give_or_take == pytest.approx(2 / math.sqrt(3))


def test_scatter_beyond_the_gauge_counts_in_full() -> None:
    """Readings that lie far apart are as doubtful as they look."""
    values = [5.0, 15.0, 25.0]
    expected = statistics.stdev(values) / math.sqrt(3)
    assert expected > 2 / math.sqrt(3)
    assert read("5; 15; 25", TENSION).give_or_take == pytest.approx(expected)


def test_the_doubt_of_a_mean_is_that_of_the_guide() -> None:
    """Twenty temperatures: mean 100.14 °C, its standard uncertainty 0.33 °C.

    "Evaluation of measurement data - Guide to the expression of uncertainty in
    measurement", JCGM 100:2008, 4.4.3 and table 1,
    https://www.bipm.org/en/committees/jc/jcgm/publications (from memory; the mean,
    the scatter of 1.49 °C and the result agree with one another).
    """
    table = (
        "96.90; 98.18; 98.25; 98.61; 99.03; 99.49; 99.56; 99.74; 99.89; 100.07; "
        "100.33; 100.42; 100.68; 100.95; 101.11; 101.20; 101.57; 101.84; 102.36; "
        "102.72"
    )
    found = read(table, reading("°C", 0, 200, 0.1))
    assert found.value == pytest.approx(100.14, abs=0.006)
    assert found.give_or_take == pytest.approx(0.33, abs=0.005)


# what is refused


REFUSED: list[tuple[Finding, str, str]] = [
    (
        TENSION,
        "",
        "'' is not a reading of the thing; write a number and its unit, for example "
        "'12 N/cm'.",
    ),
    (
        TENSION,
        "tight",
        "'tight' is not a reading of the thing; write a number and its unit, for "
        "example '12 N/cm'.",
    ),
    (
        TENSION,
        "N/cm",
        "'N/cm' is not a reading of the thing; write a number and its unit, for "
        "example '12 N/cm'.",
    ),
    (
        TENSION,
        "14 (",
        "'14 (' is not a reading of the thing; write a number and its unit, for "
        "example '12 N/cm'.",
    ),
    (
        TENSION,
        "14 kg",
        "'14 kg': 'kg' does not fit the thing, which is read in N/cm, for example "
        "'12 N/cm'.",
    ),
    (
        TENSION,
        "14 N/cm²",
        "'14 N/cm²': 'N/cm²' does not fit the thing, which is read in N/cm, for "
        "example '12 N/cm'.",
    ),
    (
        THICKNESS,
        "58 furlongz",
        "'58 furlongz': 'furlongz' does not fit the thing, which is read in µm, for "
        "example '100 µm'.",
    ),
    (
        THICKNESS,
        "58 newtons",
        "'58 newtons': 'newtons' does not fit the thing, which is read in µm, for "
        "example '100 µm'.",
    ),
    (
        STEP,
        "7 m",
        "'7 m': 'm' does not fit the thing, which is read in step, for example '4 "
        "step'.",
    ),
    (
        TENSION,
        "-3",
        "'-3': the thing lies between 0 and 60 N/cm, for example '12 N/cm'.",
    ),
    (
        TENSION,
        "61",
        "'61': the thing lies between 0 and 60 N/cm, for example '12 N/cm'.",
    ),
    (
        TENSION,
        "14; 15; 140",
        "'140': the thing lies between 0 and 60 N/cm, for example '12 N/cm'.",
    ),
    (
        TENSION,
        "14 N/mm",
        "'14 N/mm': the thing lies between 0 and 60 N/cm, for example '12 N/cm'.",
    ),
    (
        DENSITY,
        "7",
        "'7': the thing lies between 0 and 6 D, for example '1 D'.",
    ),
    (
        SHARE,
        "1 000",
        "'1 000' may be one number or several; write '1000' or '1; 000'.",
    ),
    (
        THICKNESS,
        "80 150 155 µm",
        "'80 150 155 µm' may be one number or several; write '80150155' or '80; 150; "
        "155'.",
    ),
    (
        SHARE,
        "6 ± -2 %",
        "'6 ± -2 %' is not a reading of the thing; write a number and its unit, for "
        "example '20 %'.",
    ),
    (SHARE, "9 ± 0 %", "'9 ± 0 %': no reading is exact; leave the ± 0 out."),
]


@pytest.mark.parametrize(("finding", "text", "says"), REFUSED)
def test_what_is_no_reading_is_refused_with_the_right_form(
    finding: Finding, text: str, says: str
) -> None:
    """What was typed, what is wrong, and one reading that would be right."""
    with pytest.raises(AnswerError) as raised:
        read(text, finding)
    assert str(raised.value) == says


@pytest.mark.parametrize(
    ("finding", "text"),
    [
        (SHARE, "6 %%"),
        (SHARE, "6 % 7"),
        (SHARE, "6 N/N"),
        (SHARE, "5 km/lightyear"),
        (TENSION, "6 N/cm 7"),
        (TENSION, "14 N km/cm km"),
        (DENSITY, "3 debye"),
        (STEP, "7 m/m"),
    ],
)
def test_a_unit_that_nobody_writes_is_refused(finding: Finding, text: str) -> None:
    """Even where a table of units could make something of it."""
    with pytest.raises(AnswerError) as raised:
        read(text, finding)
    assert "does not fit the thing, which is read in" in str(raised.value)


def test_decimals_and_short_numbers_after_a_blank_are_several() -> None:
    """Only a group of three digits could be thousands."""
    assert read("8.5 150 12", THICKNESS).value == pytest.approx(170.5 / 3)
    assert read("150; 155; 160", THICKNESS).value == 155


@pytest.mark.parametrize("finding", [TENSION, SHARE, WARMTH, STEP, DENSITY])
def test_the_form_that_is_shown_is_read(finding: Finding) -> None:
    """The example in a message is itself a good reading."""
    with pytest.raises(AnswerError) as raised:
        read("?", finding)
    example = str(raised.value).split("for example '")[1].rstrip("'.")
    assert read(example, finding).unit == finding.unit


@pytest.mark.parametrize(
    "text", ["9" * 9999, "1 " * 5000, "1;" * 5000, "7 " + "m" * 9999]
)
def test_a_very_long_text_is_answered_quickly_and_shortly(text: str) -> None:
    start = time.perf_counter()
    with pytest.raises(AnswerError) as raised:
        read(text + "!", TENSION)
    assert time.perf_counter() - start < 2
    assert len(str(raised.value)) < 250


# laws

FEW = 60
"""Examples of a law that needs pint: enough, and quick."""

signs = st.sampled_from(list("0123456789.,;+-−± /*^()%°µNcmFC'\"\\_e\n²⁻¹"))


@settings(deadline=None)
@given(st.text(signs, max_size=12) | st.text(max_size=12))
def test_any_text_is_a_reading_in_range_or_refused(text: str) -> None:
    """Nothing but a reading within its limits, or one clear sentence."""
    says = "."
    try:
        found = read(text, TENSION)
    except AnswerError as error:
        says = str(error)
    else:
        assert 0 <= found.value <= 60
        assert found.give_or_take > 0
    assert says.endswith(".")
    assert "\n" not in says


UNITS = {
    "N/cm": (TENSION, ["N/m", "kN/m", "N/mm", "lbf/in", "newton/centimetre"]),
    "µm": (THICKNESS, ["mm", "mil", "in", "nm", "cm"]),
    "°C": (WARMTH, ["°F", "K", "degrees F"]),
    "h": (HOURS, ["min", "s", "days"]),
}


@functools.cache
def registry() -> Any:
    """pint's own units; no part of the program is used to get there."""
    return pint.UnitRegistry()


TO_PINT = {"°F": "degF", "degrees F": "degF", "mil": "thou", "°C": "degC", "µm": "um"}


@settings(deadline=None, max_examples=FEW)
@given(st.data())
def test_there_and_back_through_any_unit_is_the_same(data: st.DataObject) -> None:
    """A value turned into another unit, and read in that, is the value again."""
    own = data.draw(st.sampled_from(sorted(UNITS)))
    finding, others = UNITS[own]
    other = data.draw(st.sampled_from(others))
    value = data.draw(st.floats(finding.lowest or 0, finding.highest or 0))
    quantity = registry().Quantity(value, TO_PINT.get(own, own))
    there = quantity.to(TO_PINT.get(other, other)).magnitude
    assume(abs(there) > 1e-3 or there == 0)
    written = f"{there:.12f}"
    slack = 1e-9 * max(1.0, abs(finding.highest or 0))
    inside = (finding.lowest or 0) + slack <= value <= (finding.highest or 0) - slack
    assume(inside)
    back = read(f"{written} {other}", finding)
    assert back.value == pytest.approx(value, rel=1e-6, abs=1e-6)


limits = st.floats(0.5, 99.5)
doubts = st.floats(0.01, 200)


@st.composite
def conditions(draw: st.DrawFn) -> Condition:
    """A limit from below, from above, or two."""
    one, other = sorted((draw(limits), draw(limits)))
    assume(one < other)
    return draw(
        st.sampled_from(
            [
                Condition(below=one),
                Condition(above=one),
                Condition(between=(one, other)),
            ]
        )
    )


@settings(deadline=None, max_examples=300)
@given(st.floats(0, 100), doubts, doubts, conditions())
def test_uncertainty_never_makes_evidence_stronger(
    value: float, one: float, other: float, condition: Condition
) -> None:
    """With value and limits fixed, more doubt brings the chance nearer to a half.

    And it never brings it past a half: what spoke for a limit never speaks against.
    """
    small, large = sorted((one, other))
    sure = Reading(value, small, "%").chance(condition) - 0.5
    unsure = Reading(value, large, "%").chance(condition) - 0.5
    assert abs(unsure) <= abs(sure) + 1e-9
    assert unsure * sure >= -1e-9


@settings(deadline=None)
@given(st.floats(0, 100), doubts, limits)
def test_below_and_above_share_the_whole_chance(
    value: float, doubt: float, limit: float
) -> None:
    """What speaks for one side of a limit speaks as much against the other."""
    found = Reading(value, doubt, "%")
    below = found.chance(Condition(below=limit))
    above = found.chance(Condition(above=limit))
    assert below + above == pytest.approx(1)
    assert 1 - SURE <= below <= SURE


@settings(deadline=None)
@given(st.floats(0, 100), st.floats(0, 100), doubts, limits)
def test_a_lower_reading_speaks_more_for_being_below(
    one: float, other: float, doubt: float, limit: float
) -> None:
    low, high = sorted((one, other))
    chances = [
        Reading(v, doubt, "%").chance(Condition(below=limit)) for v in (low, high)
    ]
    assert chances[0] >= chances[1] - 1e-12


def test_a_reading_at_its_limit_speaks_for_neither_side() -> None:
    assert Reading(10, 2, "%").chance(Condition(below=10)) == pytest.approx(0.5)


def test_one_and_two_doubts_from_a_limit_are_those_of_the_normal_curve() -> None:
    """0.841 and 0.977: the normal distribution at one and two standard deviations."""
    below = Condition(below=10)
    assert Reading(8, 2, "%").chance(below) == pytest.approx(0.8413, abs=5e-5)
    assert Reading(6, 2, "%").chance(below) == pytest.approx(0.9772, abs=5e-5)


def test_no_reading_is_surer_than_a_gauge_can_be() -> None:
    """However far from a limit: 99 %, as a gauge may be read wrongly altogether."""
    assert Reading(1, 0.01, "%").chance(Condition(below=10)) == SURE
    assert Reading(99, 0.01, "%").chance(Condition(below=10)) == pytest.approx(1 - SURE)


@settings(deadline=None)
@given(st.lists(st.floats(0, 60).map(lambda x: round(x, 2)), min_size=1, max_size=8))
def test_more_of_the_same_reading_never_widens_the_doubt(values: list[float]) -> None:
    """The mean is theirs, in any order; all of them once more narrow the doubt."""
    text = "; ".join(map(str, values))
    once = read(text, TENSION)
    assert once.value == pytest.approx(statistics.fmean(values))
    backwards = read("; ".join(map(str, reversed(values))), TENSION)
    assert backwards.give_or_take == pytest.approx(once.give_or_take)
    assert read(f"{text}; {text}", TENSION).give_or_take < once.give_or_take
