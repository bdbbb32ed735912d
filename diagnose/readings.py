"""What a person writes for a reading → a value in the finding's unit, with its doubt.

The unit may be left out; the finding's own is meant then. Several readings of one
thing are written one after the other, parted by ';', by a comma and a space, or
by blanks, the unit at the end or behind each: '14; 15,5; 16 N/cm'.
"""

from __future__ import annotations

import functools
import math
import re
import statistics
from dataclasses import dataclass
from typing import Any

from diagnose.errors import AnswerError, quoted
from diagnose.records import Condition, Finding

UNSIGNED = r"(?:\d+(?:[.,]\d+)?|[.,]\d+)"
NUMBER = rf"[+-]?{UNSIGNED}"
UNIT = r"[A-Za-zµμ%°℃℉/*·⋅^²³⁻¹.\- ]*[²³⁻¹\d]?"
SAME = {
    "°c": "degC",
    "c": "degC",
    "℃": "degC",
    "celsius": "degC",
    "°f": "degF",
    "f": "degF",
    "℉": "degF",
    "fahrenheit": "degF",
    "percent": "%",
    "per cent": "%",
    "pct": "%",
    "% rh": "%",
    "%rh": "%",
    "rh": "%",
    "n": "N/cm",
    "n/cm": "N/cm",
    "newton": "N/cm",
    "newtons": "N/cm",
    "lb/in": "lbf/in",
    "lbs/in": "lbf/in",
    "pli": "lbf/in",
    "µm": "um",
    "μm": "um",
    "micron": "um",
    "microns": "um",
    "mil": "thou",
    "mils": "thou",
    "od": "D",
}
"""How units are written by hand, in lower case, in the form that pint reads.

Tension gauges are read out as 'newtons' where newtons per centimetre are meant, and
as pounds an inch where the force is meant. pint's own 'mil' is an angle.
"""

PLAIN = frozenset(
    "N kN newton newtons lbf m cm mm um nm metre metres meter meters centimetre "
    "centimetres centimeter centimeters millimetre millimetres millimeter millimeters "
    "micrometre micrometres micrometer micrometers in inch inches ft foot feet thou "
    "degC degF K kelvin s sec second seconds min minute minutes h hr hour hours day "
    "days week weeks g kg mg gram grams ml l litre litres liter liters Pa kPa bar psi "
    "J mJ W mW lx lux".lower().split()
)
"""Units that are turned into one another, in lower case.

pint knows many more, and any product of them: km/lightyear is a share to it.
"""

WORD = r"([^\W\d_]+)(?:[²³]|\^?[23])?"
PLAIN_UNIT = re.compile(
    rf"{WORD}(?: ?(?:/|\bper\b) ?{WORD}| ?[*·⋅ ] ?([^\W\d_]+)(?:⁻¹|\^-1))?"
)
"""A unit, or one unit by another."""

GROUPED = re.compile(r"(?<![\d.,])\d{1,3}(?: \d{3})+(?!\d)")
"""One number in groups of three digits, or several numbers."""

LONGEST = 1000
"""Characters that a reading, or several of them, may have."""

SURE = 0.99
"""No reading speaks more surely than this for one side of a limit."""


@dataclass(frozen=True, slots=True)
class Reading:
    """A reading in the finding's unit, with one standard uncertainty."""

    value: float
    give_or_take: float
    unit: str

    def __str__(self) -> str:
        doubt = f" ± {self.give_or_take:.3g}" if self.give_or_take else ""
        return f"{self.value:.4g}{doubt} {self.unit}"

    def chance(self, condition: Condition) -> float:
        """The chance that the true value meets a limit, the doubt being normal.

        Of two limits the one that is less sure to be met counts, so that a greater
        doubt always brings the chance nearer to 0.5, which speaks for nothing. Kept
        within 1 % and 99 %: a gauge can be read wrongly altogether.
        """
        if condition.below is not None:
            chance = self._below(condition.below)
        elif condition.above is not None:
            chance = 1 - self._below(condition.above)
        else:
            low, high = condition.between or (-math.inf, math.inf)
            chance = min(1 - self._below(low), self._below(high))
        return min(max(chance, 1 - SURE), SURE)

    def _below(self, limit: float) -> float:
        return statistics.NormalDist(self.value, self.give_or_take).cdf(limit)


def read(text: str, finding: Finding) -> Reading:
    """A reading as written → a value in the finding's unit.

    Several numbers are taken as readings of the same thing: their mean counts, and
    its uncertainty is the larger of the instrument's (one reading's, by the record)
    divided by the root of their number and the standard error of their scatter.
    An uncertainty may be written: '9 ± 3 %'.

    Raises:
        AnswerError: no number, a unit that does not fit, or a value that can't be.
    """
    unit = finding.unit or ""
    example = f"for example '{_example(finding)}'"
    found = _matched(text) if len(text) <= LONGEST else None
    if found is None:
        raise AnswerError(
            f"{quoted(text)} is not a reading of {finding.name}; write a number and "
            f"its unit, {example}."
        )
    if grouped := GROUPED.search(found["numbers"]):
        one_number, several = (grouped[0].replace(" ", to) for to in ("", "; "))
        raise AnswerError(
            f"{quoted(text)} may be one number or several; write "
            f"{quoted(one_number)} or {quoted(several)}."
        )
    written = found["unit"].strip().rstrip(".")
    numbers = [_number(word) for word in re.findall(NUMBER, found["numbers"])]
    values = [_convert(number, written, text, finding) for number in numbers]
    low = -math.inf if finding.lowest is None else finding.lowest
    high = math.inf if finding.highest is None else finding.highest
    for value in values:
        if not low <= value <= high:
            raise AnswerError(
                f"{quoted(text)}: {finding.name} lies between {low:g} and {high:g} "
                f"{unit}, {example}."
            )
    one = finding.give_or_take or 0.0
    if found["doubt"]:
        zero = _convert(0.0, written, text, finding)
        one = abs(_convert(_number(found["doubt"]), written, text, finding) - zero)
        if one == 0:
            raise AnswerError(
                f"{quoted(text)}: no reading is exact; leave the ± 0 out."
            )
    doubt = one / math.sqrt(len(values))
    if len(values) > 1:
        doubt = max(doubt, statistics.stdev(values) / math.sqrt(len(values)))
    return Reading(statistics.fmean(values), doubt, unit)


def _matched(text: str) -> re.Match[str] | None:
    """The parts of a reading as written: numbers, doubt and unit."""
    plain = " ".join(text.split()).replace("−", "-").replace("º", "°")
    plain = plain.replace("+/-", "±").replace("+-", "±")
    unit = re.search(rf"[^\W\d_.]{UNIT}$|[%°]{UNIT}$", plain)
    if unit is not None:
        plain = re.sub(rf" ?{re.escape(unit[0])} ?(?=[;,] ?{NUMBER})", "", plain)
    return re.fullmatch(
        rf"(?P<numbers>{NUMBER}(?:(?: ?; ?|, | ){NUMBER})*)"
        rf" ?(?:± ?(?P<doubt>{UNSIGNED}))? ?(?P<unit>{UNIT})",
        plain,
    )


def _example(finding: Finding) -> str:
    """A reading a fifth up the range; the middle is seldom one that is met with."""
    low, high = finding.lowest or 0.0, finding.highest or 0.0
    value = low + (high - low) / 5
    return f"{value if high - low < 5 else int(value):g} {finding.unit}"


def _number(word: str) -> float:
    return float(word.replace(",", "."))


def _convert(value: float, written: str, text: str, finding: Finding) -> float:
    """A value in the unit as written → the value in the finding's unit."""
    unit = finding.unit or ""
    word, own = _plain_unit(written), _plain_unit(unit)
    if not word or word.lower() in (own.lower(), f"{own}s".lower()):
        return value
    if own == "%" and word.lower() == "fraction":
        return value * 100
    from pint.errors import PintError

    plain = _is_plain(word) and _is_plain(own)
    for spelt in (word, word.lower()) if plain else ():
        try:
            return float(_registry().Quantity(value, spelt).to(own).magnitude)
        except (PintError, ValueError, TypeError, AttributeError, AssertionError):
            continue
    raise AnswerError(
        f"{quoted(text)}: {quoted(written)} does not fit {finding.name}, which is read "
        f"in {unit}, for example '{_example(finding)}'."
    )


def _is_plain(unit: str) -> bool:
    """Whether it is one that people write, or one such by another."""
    parts = PLAIN_UNIT.fullmatch(unit)
    return parts is not None and all(
        part is None or part.lower() in PLAIN for part in parts.groups()
    )


def _plain_unit(unit: str) -> str:
    """A unit as pint reads it."""
    word = " ".join(unit.split())
    word = re.sub(r"^(°|deg(rees?)?\b\.?) ?(?=[cfCF])", "°", word)
    return SAME.get(word.lower(), word)


@functools.cache
def _registry() -> Any:
    """pint's units, read in at the first reading that needs them (0.3 s)."""
    from pint import UnitRegistry

    return UnitRegistry(autoconvert_offset_to_baseunit=True, cache_folder=None)
