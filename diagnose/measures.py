"""Metric or inch: what quantities in a text are rewritten to before a person reads it.

The knowledge is written in metric units. Where a person reads inches, '20 to 25 °C'
becomes '68 to 77 °F'. A sentence that gives both already is left as it is. Newtons per
centimetre stay: tension is read in them everywhere.
"""

from __future__ import annotations

import math
import re
from collections.abc import Mapping
from dataclasses import dataclass
from decimal import Decimal

METRIC = "metric"
INCH = "inch"
NEARLY = 0.1
"""A number is never off by a larger share than this, however it is rounded."""

SYSTEMS = (METRIC, INCH)


@dataclass(frozen=True, slots=True)
class _Unit:
    """What a unit becomes: y = x * factor + offset; `given` is how one tells that a
    sentence gives it already."""

    to: str
    factor: float
    given: str
    offset: float = 0.0


_LENGTH = r"\d ?(?:mils?|thou|in|inch|inches|ft|feet|″)\b|\b(?:an?|the|half an) inch"
_COUNT = r"(?:/in|[tld]pi|to the inch|an inch|per inch)\b"
_UNITS: Mapping[str, _Unit] = {
    "°C": _Unit("°F", 1.8, r"°F", 32.0),
    "µm": _Unit("mil", 1 / 25.4, _LENGTH),
    "mm": _Unit("in", 1 / 25.4, _LENGTH),
    "cm": _Unit("in", 1 / 2.54, _LENGTH),
    "m": _Unit("ft", 1 / 0.3048, _LENGTH),
    "threads/cm": _Unit("threads/in", 2.54, _COUNT),
    "lines/cm": _Unit("lines/in", 2.54, _COUNT),
    "dots/cm": _Unit("dots/in", 2.54, _COUNT),
    "ml": _Unit("fl oz", 1 / 29.5735295625, r"\d ?fl oz\b"),
    "litre": _Unit("gal", 1 / 3.785411784, r"\d ?gal(?:lons?)?\b"),
    "g": _Unit("oz", 1 / 28.349523125, r"\d ?oz\b"),
    "kg": _Unit("lb", 1 / 0.45359237, r"\d ?lb\b"),
}
"""The units that are rewritten; inch and pound by their definition, US gallons."""

_ALSO = {"μm": "µm", "litres": "litre", "l": "litre", "L": "litre"}

_NUMBER = r"\d+(?:\.\d+)?"
_JOINT = r" ?(?:to|and|or|a|y|o|e|–|-|×|,) ?"
_NAMES = "|".join(sorted(map(re.escape, (*_UNITS, *_ALSO)), key=len, reverse=True))
_QUANTITY = re.compile(
    rf"(?<![\w./,±-])(?P<numbers>-?{_NUMBER}(?:{_JOINT}{_NUMBER})*)"
    rf"(?: ?± ?(?P<doubt>{_NUMBER}))?(?P<gap> ?)(?P<unit>{_NAMES})(?![\w/²³^·*°])"
)
_DIFFERENCE = re.compile(
    r"(?:\bwithin|\bby|\bby about|difference of|by at least|[±+]) ?$"
)
"""Before a temperature: what it is more or less than something."""

_THAN = re.compile(
    r" (?:warmer|colder|cooler|hotter|higher|lower|more|less|apart|above the|below the)"
    r"\b"
)
"""Behind a temperature: the same."""

_SENTENCE = re.compile(r"(?<=[.;:!?]) +")

_system = METRIC


def use(system: str) -> None:
    """Take up 'metric' or 'inch' for all that is shown from now on."""
    global _system
    _system = system


def current() -> str:
    """The units in use."""
    return _system


def shown(text: str) -> str:
    """A text as it is to be read, its quantities in the units in use."""
    return text if _system == METRIC else in_inches(text)


def unit_shown(unit: str) -> str:
    """A unit as a person reads and types it."""
    return unit if _system == METRIC or unit not in _UNITS else _UNITS[unit].to


def with_unit(text: str, unit: str) -> str:
    """A number as it was typed for a reading, with the unit that was shown for it.

    Args:
        text: what was typed; it stays as it is where it has a unit of its own.
        unit: the unit of the reading.
    """
    if unit_shown(unit) == unit or re.search(r"[^\W\d_]|[°%″]", text):
        return text
    return f"{text} {unit_shown(unit)}"


def in_inches(text: str) -> str:
    """The text with inch units in place of metric ones, but for what gives both."""
    parts = _SENTENCE.split(text)
    gaps = [*_SENTENCE.findall(text), ""]
    return "".join(_sentence(part) + gap for part, gap in zip(parts, gaps, strict=True))


def _sentence(text: str) -> str:
    def rewritten(found: re.Match[str]) -> str:
        unit = _UNITS[_ALSO.get(found["unit"], found["unit"])]
        if re.search(unit.given, text):
            return found[0]
        before, behind = text[: found.start()], text[found.end() :]
        is_difference = bool(_DIFFERENCE.search(before) or _THAN.match(behind))
        offset = 0.0 if is_difference else unit.offset

        doubt = _rounded(found["doubt"], unit.factor) if found["doubt"] else ""
        least = len(doubt.partition(".")[2])

        def number(word: re.Match[str]) -> str:
            return _rounded(word[0], unit.factor, offset, least)

        said = re.sub(rf"(?<![\d.])-?{_NUMBER}", number, found["numbers"])
        said += f" ± {doubt}" if doubt else ""
        return f"{said}{found['gap'] or ' '}{unit.to}"

    return _QUANTITY.sub(rewritten, text)


def _rounded(word: str, factor: float, offset: float = 0.0, least: int = -9) -> str:
    """A number turned into another unit: the fewest figures that are off by no more
    than one step of the last figure that was written, and at least so many places."""
    value = float(word) * factor + offset
    step = 10.0 ** -len(word.partition(".")[2]) * factor
    if value == 0:
        return "0"
    place = max(-math.floor(math.log10(abs(value))), least)
    most = min(step, NEARLY * abs(value))
    while abs(round(value, place) - value) > most:
        place += 1
    return f"{Decimal(str(round(value, place))).normalize():f}"
