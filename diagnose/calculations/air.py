"""What the air of a screen room holds, and how fast a coating dries in it.

Temperatures in °C, humidities in % relative to saturation over water, pressures in
Pa. Everything is at the air pressure at sea level unless another is given.
"""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from math import exp, log

from diagnose.calculations.limits import within
from diagnose.errors import CalculationError

SEA_LEVEL = 101_325.0
"""Standard air pressure in Pa (ASHRAE Handbook, Fundamentals, 2017, chapter 1)."""

COLDEST = -40.0
HOTTEST = 100.0
"""°C; beyond them the formula of the saturation pressure is not used here."""

MOLAR_RATIO = 0.621945
"""Water's molar mass by that of dry air (ASHRAE Handbook, Fundamentals, 2017)."""

VAPOUR_CONSTANT = 8.314462618 / 0.018015268
"""Gas constant of water vapour in J/(kg K): R of the SI, 18.015268 g/mol of water."""

TIMES_LONGER = 2.0
"""Drying may take so many times longer or shorter than reckoned (our judgement).

By the deficit alone, air of 38 °C and 20 % dries 4.2 times as fast as air of 21 °C and
50 %; by the cooled wet surface (`wet_bulb`), 2.7 times; a printed pair of times says 3
to 4. Moving air, the thickness of the coat and a skin on it do as much.
"""


@dataclass(frozen=True, slots=True)
class MoistAir:
    """Dew point in °C, deficit in Pa, water in g/m³, ratio in g/kg of dry air."""

    dew_point: float
    deficit: float
    water: float
    ratio: float


@dataclass(frozen=True, slots=True)
class Drying:
    """Times in the reference's unit; speed as a share of its speed; deficit in Pa."""

    time: float
    soonest: float
    latest: float
    speed: float
    deficit: float


@dataclass(frozen=True, slots=True)
class Condensation:
    """Dew point in °C; how far the surface is above it, in °C (below: negative)."""

    dew_point: float
    margin: float


@dataclass(frozen=True, slots=True)
class WarmedAir:
    """Humidity in %, deficit in Pa, temperatures of a coat while wet and when dry."""

    warm_humidity: float
    deficit: float
    wet_coat: float
    dry_coat: float


def saturation_pressure(temperature: float) -> float:
    """Most vapour that air can hold, in Pa, over liquid water, at a temperature in °C.

    Over water below 0 °C too, as hygrometers count. Magnus forms agree to 0.3 %
    between 0 and 60 °C. Source: Hyland and Wexler's equation in ASHRAE Handbook,
    Fundamentals, 2017, chapter 1, eq. 6.

    Raises:
        CalculationError: the temperature lies outside -40 to 100 °C.
    """
    within(temperature, COLDEST, HOTTEST, "the temperature", "°C")
    kelvin = temperature + 273.15
    return exp(
        -5.8002206e3 / kelvin
        + 1.3914993
        - 4.8640239e-2 * kelvin
        + 4.1764768e-5 * kelvin**2
        - 1.4452093e-8 * kelvin**3
        + 6.5459673 * log(kelvin)
    )


def vapour_pressure(temperature: float, humidity: float) -> float:
    """Pressure of the vapour in Pa, of air at a temperature in °C and a humidity in %.

    Source: the definition of relative humidity, ASHRAE Handbook, Fundamentals, 2017.

    Raises:
        CalculationError: a humidity or a temperature that can't be.
    """
    within(humidity, 0, 100, "the humidity", "%")
    return humidity / 100 * saturation_pressure(temperature)


def vapour_pressure_deficit(temperature: float, humidity: float) -> float:
    """Vapour that the air could still take up, in Pa; from °C and %.

    Source: Allen, Pereira, Raes and Smith, Crop evapotranspiration (FAO paper 56),
    1998, chapter 3.

    Raises:
        CalculationError: a humidity or a temperature that can't be.
    """
    return saturation_pressure(temperature) - vapour_pressure(temperature, humidity)


def dew_point(temperature: float, humidity: float) -> float:
    """The temperature in °C at which the air's vapour settles as water; from °C and %.

    Source: the saturation pressure turned round (bisection).

    Raises:
        CalculationError: values that can't be, or air so dry that its dew point lies
            below -40 °C.
    """
    vapour = vapour_pressure(temperature, humidity)
    if vapour < saturation_pressure(COLDEST):
        raise CalculationError(
            f"air of {temperature:g} °C and {humidity:g} % has its dew point below "
            f"{COLDEST:g} °C, where this is not worked out; check the hygrometer."
        )
    return _root(lambda t: saturation_pressure(t) - vapour, COLDEST, temperature)


def humidity_ratio(vapour_pressure: float, air_pressure: float = SEA_LEVEL) -> float:
    """Grams of water to a kilogram of dry air; both pressures in Pa.

    Source: ASHRAE Handbook, Fundamentals, 2017, chapter 1, eq. 20 (ideal gas; the
    tables for real air are up to 1 % higher).

    Raises:
        CalculationError: a pressure of the vapour that is not below the air's.
    """
    if not 0 <= vapour_pressure < air_pressure:
        raise CalculationError(
            f"vapour of {vapour_pressure:g} Pa does not fit into air of "
            f"{air_pressure:g} Pa; it has to be less."
        )
    return 1000 * MOLAR_RATIO * vapour_pressure / (air_pressure - vapour_pressure)


def absolute_humidity(temperature: float, humidity: float) -> float:
    """Grams of water in a cubic metre of air; from °C and %.

    Source: the ideal gas law, as in P. Mander, How to convert relative humidity to
    absolute humidity, 2012.

    Raises:
        CalculationError: a humidity or a temperature that can't be.
    """
    vapour = vapour_pressure(temperature, humidity)
    return 1000 * vapour / (VAPOUR_CONSTANT * (temperature + 273.15))


def moist_air(temperature: float, humidity: float) -> MoistAir:
    """What air holds, and could still hold; from °C and %.

    Sources: those of the functions that it is made of.

    Raises:
        CalculationError: as these.
    """
    return MoistAir(
        dew_point(temperature, humidity),
        vapour_pressure_deficit(temperature, humidity),
        absolute_humidity(temperature, humidity),
        humidity_ratio(vapour_pressure(temperature, humidity)),
    )


def humidity_from_wet_bulb(temperature: float, wet_bulb: float) -> float:
    """Relative humidity in %, from a dry thermometer and one in a wet sock, in °C.

    Source: ASHRAE Handbook, Fundamentals, 2017, chapter 1, eq. 33.

    Raises:
        CalculationError: a wet bulb warmer than the dry one, one below 0 °C, or one
            colder than dry air would make it.
    """
    within(temperature, 0, HOTTEST - 1, "the temperature", "°C")
    within(wet_bulb, 0, temperature, "the wet thermometer", "°C")
    vapour = _vapour_over_wet_bulb(temperature, wet_bulb)
    if vapour < 0:
        raise CalculationError(
            f"a wet thermometer of {wet_bulb:g} °C is colder than the driest air of "
            f"{temperature:g} °C would make it; wet the sock and read both again."
        )
    return 100 * vapour / saturation_pressure(temperature)


def wet_bulb(temperature: float, humidity: float) -> float:
    """The temperature in °C that a wet thing takes in moving air; from °C and %.

    Source: ASHRAE Handbook, Fundamentals, 2017, chapter 1, eq. 33 turned round
    (bisection); over liquid water throughout.

    Raises:
        CalculationError: a humidity or a temperature that can't be.
    """
    within(temperature, 0, HOTTEST - 1, "the temperature", "°C")
    vapour = vapour_pressure(temperature, humidity)
    return _root(
        lambda t: _vapour_over_wet_bulb(temperature, t) - vapour, COLDEST, temperature
    )


def humidity_when_warmed(
    temperature: float, humidity: float, warmed_to: float
) -> WarmedAir:
    """Room air (°C, %) warmed in a drying cabinet to another temperature in °C.

    The water in it stays the same. A wet coat stays about as cool as a wet
    thermometer; a dry one gets as warm as the air. Sources: ASHRAE Handbook,
    Fundamentals, 2017, chapter 1; for the coat, our judgement.

    Raises:
        CalculationError: values that can't be, or a cabinet colder than the room.
    """
    within(temperature, 0, HOTTEST - 1, "the temperature", "°C")
    within(warmed_to, temperature, HOTTEST - 1, "the warmed air", "°C")
    vapour = vapour_pressure(temperature, humidity)
    warm = 100 * vapour / saturation_pressure(warmed_to)
    return WarmedAir(
        warm,
        vapour_pressure_deficit(warmed_to, warm),
        wet_bulb(warmed_to, warm),
        warmed_to,
    )


def drying_time(
    temperature: float,
    humidity: float,
    reference_temperature: float,
    reference_humidity: float,
    reference_time: float,
) -> Drying:
    """How long a coating dries in this air, from how long it took in other air.

    Temperatures in °C, humidities in %, times in the unit of the reference's. The
    speed is taken as proportional to the vapour-pressure deficit of the air: Dalton's
    law of evaporation, as in M. Orr, How to dry a screen, 2002. The range is our
    judgement (`TIMES_LONGER`).

    Raises:
        CalculationError: values that can't be, or air that takes up no water.
    """
    within(reference_time, 0, 100_000, "the time in the reference air")
    deficit = _drying_deficit(temperature, humidity)
    speed = deficit / _drying_deficit(reference_temperature, reference_humidity)
    time = reference_time / speed
    return Drying(time, time / TIMES_LONGER, time * TIMES_LONGER, speed, deficit)


def condensation(
    temperature: float, humidity: float, surface_temperature: float
) -> Condensation:
    """Whether a wall, frame or bucket gets wet in this air; from °C, % and °C.

    Source: the meaning of the dew point.

    Raises:
        CalculationError: values that can't be.
    """
    within(surface_temperature, COLDEST, HOTTEST, "the surface", "°C")
    dew = dew_point(temperature, humidity)
    return Condensation(dew, surface_temperature - dew)


def _drying_deficit(temperature: float, humidity: float) -> float:
    """The deficit of air that something can dry in, in Pa."""
    deficit = vapour_pressure_deficit(temperature, humidity)
    if deficit <= 0:
        raise CalculationError(
            f"air of {humidity:g} % takes up no water, so nothing dries in it; it has "
            "to be drier than 100 %."
        )
    return deficit


def _vapour_over_wet_bulb(temperature: float, wet_bulb: float) -> float:
    """Pressure of the vapour in Pa that goes with a wet thermometer, both in °C.

    Below 0 where no air can be so dry.
    """
    saturated = humidity_ratio(saturation_pressure(wet_bulb)) / 1000
    ratio = (
        (2501 - 2.326 * wet_bulb) * saturated - 1.006 * (temperature - wet_bulb)
    ) / (2501 + 1.86 * temperature - 4.186 * wet_bulb)
    return SEA_LEVEL * ratio / (MOLAR_RATIO + ratio)


def _root(rising: Callable[[float], float], low: float, high: float) -> float:
    """Where a rising function is 0, to some 1e-12 of the range."""
    for _ in range(60):
        middle = (low + high) / 2
        if rising(middle) < 0:
            low = middle
        else:
            high = middle
    return (low + high) / 2
