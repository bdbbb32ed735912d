"""Moist air: published figures, PsychroLib, laws, and what is refused."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

import psychrolib  # type: ignore[import-untyped]
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from published_rows import Row, rows

from diagnose.calculations import air
from diagnose.errors import CalculationError

psychrolib.SetUnitSystem(psychrolib.SI)

PASCAL = {"Pa": 1.0, "hPa": 100.0, "kPa": 1000.0, "mmHg": 133.322387415}
"""Pa in one of each; mmHg by definition 13.5951 * 9.80665 Pa (NIST SP 811, 2008)."""


# --- published rows ----------------------------------------------------------------


def saturation(given: Mapping[str, Any]) -> float:
    return air.saturation_pressure(given["t"])


def damp(given: Mapping[str, Any]) -> tuple[float, float]:
    """Temperature and humidity; of the example with a wet bulb, from that."""
    if "wet_bulb" in given:
        wet = air.humidity_from_wet_bulb(given["dry_bulb"], given["wet_bulb"])
        return given["dry_bulb"], wet
    return given["t"], given.get("RH", 100)


def ratio(given: Mapping[str, Any]) -> float:
    if "e" in given:
        return air.humidity_ratio(given["e"], given["p"])
    return air.humidity_ratio(air.vapour_pressure(*damp(given)))


def volume(given: Mapping[str, Any]) -> float:
    """m³ of air to a kg of dry air: the water in a kg by the water in a m³."""
    return ratio(given) / air.absolute_humidity(*damp(given))


def mean_of_day(given: Mapping[str, Any]) -> float:
    return sum(air.saturation_pressure(given[name]) for name in ("tmin", "tmax")) / 2


def hot_against_room(given: Mapping[str, Any]) -> float:
    """The article's two airs, in °F and %."""
    assert given == {"hot": ["100 F", "20 % RH"], "room": ["70 F", "50 % RH"]}
    hot, room = (100 - 32) / 1.8, (70 - 32) / 1.8
    return air.drying_time(hot, 20, room, 50, 60).speed


WORKED: dict[str, Callable[[Mapping[str, Any]], float]] = {
    "psy-ashrae-pws": saturation,
    "psy-ashrae-ws": ratio,
    "psy-ashrae-ex1-humidity-ratio": ratio,
    "psy-ashrae-ex1-dew-point": lambda given: air.dew_point(*damp(given)),
    "psy-ashrae-ex1-specific-volume": volume,
    "psy-ashrae-w-": ratio,
    "psy-fao-es-24": saturation,
    "psy-fao-es-mean": mean_of_day,
    "psy-fao-ea-tdew": lambda given: air.saturation_pressure(given["tdew"]),
    "psy-sat-ah": lambda given: air.absolute_humidity(*damp(given)),
    "psy-sat-mmhg": saturation,
    "psy-pl-pws": saturation,
    "psy-pl-dew": lambda given: air.dew_point(*damp(given)),
    "psy-pl-ah": lambda given: air.absolute_humidity(*damp(given)),
    "psy-pl-vpd": lambda given: air.vapour_pressure_deficit(*damp(given)),
    "psy-pl-w-": ratio,
    "psy-vaisala-pws": saturation,
    "psy-vaisala-td": lambda given: air.dew_point(*damp(given)),
    "psy-wmo-pws": saturation,
    "psy-wmo-td": lambda given: air.dew_point(*damp(given)),
    "psy-carnot-ah": lambda given: air.absolute_humidity(*damp(given)),
    "psy-orr-vpd-ratio": hot_against_room,
}


@pytest.mark.parametrize("row", rows("psychrometrics"), ids=lambda row: row.id)
def test_published(row: Row) -> None:
    """The program gives the published value, within the tolerance of its row."""
    (work,) = [work for start, work in WORKED.items() if row.id.startswith(start)]
    found = work(row.given) / PASCAL.get(row.unit, 1.0)
    assert found == pytest.approx(row.expected, abs=row.tolerance, rel=0), str(row)


# --- against PsychroLib (D. Meyer and D. Thevenard, 2019) --------------------------

temperatures = st.floats(1, 60)
humidities = st.floats(5, 99)


@settings(deadline=None)
@given(temperatures, humidities)
def test_psychrolib_finds_the_same_air(temperature: float, humidity: float) -> None:
    """Both take ASHRAE's equations; its dew point and wet bulb stop at 0.001 °C."""
    share = humidity / 100
    found = air.moist_air(temperature, humidity)
    exactly = air.saturation_pressure(temperature)
    assert exactly == pytest.approx(psychrolib.GetSatVapPres(temperature), rel=1e-9)
    wanted = psychrolib.GetHumRatioFromRelHum(temperature, share, 101325)
    assert found.ratio == pytest.approx(1000 * wanted, rel=1e-6)
    deficit = psychrolib.GetVaporPressureDeficit(temperature, wanted, 101325)
    assert found.deficit == pytest.approx(deficit, rel=1e-6, abs=1e-6)
    volume = psychrolib.GetMoistAirVolume(temperature, wanted, 101325)
    assert found.water == pytest.approx(1000 * wanted / volume, rel=1e-4)
    dew = psychrolib.GetTDewPointFromRelHum(temperature, share)
    if dew > 0.1:  # below freezing it counts over ice, this over water
        assert found.dew_point == pytest.approx(dew, abs=0.003)
    wet = psychrolib.GetTWetBulbFromRelHum(temperature, share, 101325)
    if wet > 0.1:
        assert air.wet_bulb(temperature, humidity) == pytest.approx(wet, abs=0.003)


@pytest.mark.parametrize("temperature", range(0, 61, 5))
def test_magnus_forms_agree_to_a_third_of_a_per_cent(temperature: int) -> None:
    """6.112 hPa e^(17.62 t / (243.12 + t)): WMO-No. 8, annex 4.B (from memory)."""
    magnus = 611.2 * 2.718281828459045 ** (17.62 * temperature / (243.12 + temperature))
    assert air.saturation_pressure(temperature) == pytest.approx(magnus, rel=0.003)


@pytest.mark.parametrize(("temperature", "pressure"), [(-40, 18.91), (-20, 125.5)])
def test_over_supercooled_water(temperature: float, pressure: float) -> None:
    """To 1 %: D. M. Murphy and T. Koop, Review of the vapour pressures of ice and
    supercooled water, 2005, eq. 10 (formula from memory, evaluated with numpy)."""
    assert air.saturation_pressure(temperature) == pytest.approx(pressure, rel=0.01)


# --- laws --------------------------------------------------------------------------


@settings(deadline=None)
@given(temperatures, humidities)
def test_the_dew_point_is_never_above_the_air(
    temperature: float, humidity: float
) -> None:
    """And at the dew point the air is full: its vapour is the saturation pressure."""
    dew = air.dew_point(temperature, humidity)
    assert dew <= temperature
    full = air.saturation_pressure(dew)
    assert full == pytest.approx(air.vapour_pressure(temperature, humidity), rel=1e-9)


@settings(deadline=None)
@given(st.floats(-30, 99), st.floats(0, 100), st.floats(0, 100))
def test_the_deficit_is_not_below_0_and_falls_with_humidity(
    temperature: float, one: float, other: float
) -> None:
    dry, damp = sorted((one, other))
    deficits = [air.vapour_pressure_deficit(temperature, h) for h in (dry, damp)]
    assert deficits[0] >= deficits[1] >= 0


@settings(deadline=None)
@given(temperatures, humidities, st.floats(1, 600))
def test_a_day_against_itself_dries_as_fast(
    temperature: float, humidity: float, time: float
) -> None:
    found = air.drying_time(temperature, humidity, temperature, humidity, time)
    assert found.speed == pytest.approx(1)
    assert found.time == pytest.approx(time)
    assert found.soonest < found.time < found.latest


@settings(deadline=None)
@given(temperatures, humidities, temperatures, humidities)
def test_two_days_there_and_back(
    one: float, damp: float, other: float, drier: float
) -> None:
    """A time turned into another day's, and back, is the time again."""
    there = air.drying_time(one, damp, other, drier, 60).time
    back = air.drying_time(other, drier, one, damp, there).time
    assert back == pytest.approx(60)


@settings(deadline=None)
@given(st.floats(10, 60), st.floats(30, 100))
def test_a_wet_thermometer_there_and_back(temperature: float, humidity: float) -> None:
    """The wet bulb lies between dew point and air, and gives the humidity back."""
    wet = air.wet_bulb(temperature, humidity)
    assert air.dew_point(temperature, humidity) <= wet + 1e-9 <= temperature + 2e-9
    back = air.humidity_from_wet_bulb(temperature, min(wet, temperature))
    assert back == pytest.approx(humidity, abs=1e-6)


@settings(deadline=None)
@given(temperatures, humidities, st.floats(0, 35))
def test_warmed_air_keeps_its_water(
    temperature: float, humidity: float, warmer: float
) -> None:
    """Its dew point stays, its humidity falls, and a wet coat is cooler than a dry."""
    hot = temperature + warmer
    found = air.humidity_when_warmed(temperature, humidity, hot)
    assert found.warm_humidity <= humidity + 1e-9
    if found.warm_humidity > 2:
        dew = air.dew_point(hot, found.warm_humidity)
        assert dew == pytest.approx(air.dew_point(temperature, humidity), abs=1e-6)
    assert found.wet_coat <= found.dry_coat == hot


def test_a_cold_bucket_gets_wet_and_a_warm_one_does_not() -> None:
    """25 °C and 50 %: dew point 13.86 °C (computed, PsychroLib 2.5.0, 2019)."""
    cold = air.condensation(25, 50, 5)
    assert cold.dew_point == pytest.approx(13.86, abs=0.01)
    assert cold.margin == pytest.approx(5 - 13.86, abs=0.01)
    assert air.condensation(25, 50, 20).margin > 0


def test_a_printed_pair_of_drying_times_lies_in_the_range() -> None:
    """60 min at 21 °C and 50 %, 15 to 20 min at 100 °F and 20 %.

    M. Orr, How to dry a screen, 2002,
    http://screenweb.com/content/how-dry-a-screen?page=0%2C3
    """
    found = air.drying_time((100 - 32) / 1.8, 20, 21, 50, 60)
    assert found.soonest < 15
    assert found.latest > 20


# --- what is refused ---------------------------------------------------------------

REFUSED: list[tuple[Callable[[], object], str]] = [
    (
        lambda: air.saturation_pressure(101),
        "the temperature is 101 °C; it has to lie between -40 and 100 °C.",
    ),
    (
        lambda: air.saturation_pressure(float("nan")),
        "the temperature is nan °C; it has to lie between -40 and 100 °C.",
    ),
    (
        lambda: air.vapour_pressure(20, 101),
        "the humidity is 101 %; it has to lie between 0 and 100 %.",
    ),
    (
        lambda: air.dew_point(20, 0),
        "air of 20 °C and 0 % has its dew point below -40 °C, where this is not "
        "worked out; check the hygrometer.",
    ),
    (
        lambda: air.humidity_ratio(101325),
        "vapour of 101325 Pa does not fit into air of 101325 Pa; it has to be less.",
    ),
    (
        lambda: air.humidity_from_wet_bulb(20, 21),
        "the wet thermometer is 21 °C; it has to lie between 0 and 20 °C.",
    ),
    (
        lambda: air.humidity_from_wet_bulb(-1, -2),
        "the temperature is -1 °C; it has to lie between 0 and 99 °C.",
    ),
    (
        lambda: air.humidity_from_wet_bulb(30, 5),
        "a wet thermometer of 5 °C is colder than the driest air of 30 °C would make "
        "it; wet the sock and read both again.",
    ),
    (
        lambda: air.wet_bulb(-5, 50),
        "the temperature is -5 °C; it has to lie between 0 and 99 °C.",
    ),
    (
        lambda: air.humidity_when_warmed(20, 50, 15),
        "the warmed air is 15 °C; it has to lie between 20 and 99 °C.",
    ),
    (
        lambda: air.humidity_when_warmed(-5, 50, 15),
        "the temperature is -5 °C; it has to lie between 0 and 99 °C.",
    ),
    (
        lambda: air.drying_time(20, 100, 20, 50, 60),
        "air of 100 % takes up no water, so nothing dries in it; it has to be drier "
        "than 100 %.",
    ),
    (
        lambda: air.drying_time(20, 50, 20, 100, 60),
        "air of 100 % takes up no water, so nothing dries in it; it has to be drier "
        "than 100 %.",
    ),
    (
        lambda: air.drying_time(20, 50, 20, 50, -1),
        "the time in the reference air is -1; it has to lie between 0 and 100000.",
    ),
    (
        lambda: air.condensation(20, 50, 300),
        "the surface is 300 °C; it has to lie between -40 and 100 °C.",
    ),
]


@pytest.mark.parametrize(("work", "says"), REFUSED)
def test_what_can_not_be_is_refused_in_a_sentence(
    work: Callable[[], object], says: str
) -> None:
    with pytest.raises(CalculationError) as raised:
        work()
    assert str(raised.value) == says
