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
from dataclasses import dataclass, field
from typing import Any, Protocol

from diagnose.errors import AnswerError, quoted
from diagnose.language import tr
from diagnose.records import Condition

UNSIGNED = r"(?:\d+(?:[.,]\d+)?|[.,]\d+)"
NUMBER = rf"[+-]?{UNSIGNED}"
UNIT = r"(?:[A-Za-zµμ%°℃℉/*·⋅^²³⁻¹.\- ]|(?<=[A-Za-z])[23](?=[/ ]))*[²³⁻¹\d]?"
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
    "°": "deg",
    "degree": "deg",
    "degrees": "deg",
    "t": "threads/cm",
    "t/cm": "threads/cm",
    "tpi": "threads/in",
    "t/in": "threads/in",
    "l/cm": "lines/cm",
    "lpcm": "lines/cm",
    "lpi": "lines/in",
    "l/in": "lines/in",
    "dpi": "dots/in",
    "ppi": "dots/in",
}
"""How units are written by hand, in lower case, in the form that pint reads.

Tension gauges are read out as 'newtons' where newtons per centimetre are meant, and
as pounds an inch where the force is meant. pint's own 'mil' is an angle. Mesh is sold
by the centimetre as '120 T', and by the inch as '305 tpi'.
"""

PLAIN = frozenset(
    "N kN newton newtons lbf m cm mm um nm metre metres meter meters centimetre "
    "centimetres centimeter centimeters millimetre millimetres millimeter millimeters "
    "micrometre micrometres micrometer micrometers in inch inches ft foot feet thou "
    "degC degF K kelvin s sec second seconds min minute minutes h hr hour hours day "
    "days week weeks g kg mg gram grams ml l litre litres liter liters Pa kPa bar psi "
    "J mJ W mW lx lux lm lumen lumens Hz kHz deg mN dyn kgf mmHg thread threads line "
    "lines dot dots".lower().split()
)
"""Units that are turned into one another, in lower case.

pint knows many more, and any product of them: km/lightyear is a share to it.
"""

WORD = r"([^\W\d_]+)(?:\^?[23])?"
PLAIN_UNIT = re.compile(
    rf"{WORD}(?: ?(?:/|\bper\b) ?{WORD}| ?[*·⋅ ] ?([^\W\d_]+)(?:⁻¹|\^-1))?"
)
"""A unit, or one unit by another."""

COUNTED = re.compile(r"(threads|lines|dots)/\w+")
"""A unit of things counted along a length; '120/cm' is as clear then as '120 T'."""

RATIO = re.compile(rf"(?<![\d.,:/])({UNSIGNED}) ?[:/] ?({UNSIGNED})(?![\d.,:/])")
"""Two numbers that make one: '1:20'."""

GROUPED = re.compile(r"(?<![\d.,])\d{1,3}(?: \d{3})+(?!\d)")
"""One number in groups of three digits, or several numbers."""

LONGEST = 1000
"""Characters that a reading, or several of them, may have."""

SURE = 0.99
"""No reading speaks more surely than this for one side of a limit."""


class Measured(Protocol):
    """What is read: a finding, or the input of a working."""

    @property
    def name(self) -> str: ...
    @property
    def unit(self) -> str | None: ...
    @property
    def lowest(self) -> float | None: ...
    @property
    def highest(self) -> float | None: ...
    @property
    def give_or_take(self) -> float | None: ...


@dataclass(frozen=True, slots=True)
class Reading:
    """A reading in the finding's unit, with one standard uncertainty."""

    value: float
    give_or_take: float
    unit: str
    each: tuple[float, ...] = field(default=(), compare=False, repr=False)
    """The readings that it is the mean of."""
    alone: float = field(default=0.0, compare=False, repr=False)
    """One standard uncertainty of one of them."""

    def __str__(self) -> str:
        """The doubt to two figures, and the value to the same place."""
        if not self.give_or_take:
            return f"{self.value:.4g} {self.unit}".rstrip()
        place = 1 - math.floor(math.log10(self.give_or_take))
        value = f"{round(self.value, place):.6g}"
        return f"{value} ± {self.give_or_take:.2g} {self.unit}".rstrip()

    def chance(self, condition: Condition) -> float:
        """The chance that the true value meets a limit, the doubt being normal.

        Of two limits the one that is less sure to be met counts, so that a greater
        doubt always brings the chance nearer to 0.5, which speaks for nothing. Kept
        within 1 % and 99 %: a gauge can be read wrongly altogether.
        """
        if condition.below is not None:
            chance = self.chance_below(condition.below)
        elif condition.above is not None:
            chance = 1 - self.chance_below(condition.above)
        else:
            low, high = condition.between or (-math.inf, math.inf)
            chance = min(1 - self.chance_below(low), self.chance_below(high))
        return min(max(chance, 1 - SURE), SURE)

    def chance_below(self, limit: float) -> float:
        """The chance that the true value is below a limit."""
        if not self.give_or_take:
            return float(self.value < limit)
        return statistics.NormalDist(self.value, self.give_or_take).cdf(limit)


def read(text: str, finding: Measured, shown: str | None = None) -> Reading:
    """A reading as written → a value in the finding's unit.

    Several numbers are taken as readings of the same thing: their mean counts, and
    its uncertainty is the larger of the instrument's (one reading's, by the record)
    divided by the root of their number and the standard error of their scatter.
    An uncertainty may be written: '9 ± 3 %'. A pure number, which has no unit, may be
    written as a ratio: '1:20'. A refusal gives `shown` as the right form.

    Raises:
        AnswerError: no number, a unit that does not fit, or a value that can't be.
    """
    unit = finding.unit or ""
    shown = _example(finding) if shown is None else shown
    example = tr("for example '{shown}'", shown=shown)
    found = None
    if len(text) <= LONGEST:
        found = _matched(text if unit else RATIO.sub(_divided, text))
    if found is None:
        wanted = tr("a number and its unit") if unit else tr("a number")
        if (slip := _slip(text)) is not None:
            raise AnswerError(
                tr(
                    "{slip} among the readings of {name} is no number; put that "
                    "one right and leave the others as they are.",
                    slip=quoted(slip),
                    name=finding.name,
                )
            )
        raise AnswerError(
            tr(
                "{text} is not a reading of {name}; write {wanted}, {example}.",
                text=quoted(text),
                name=finding.name,
                wanted=wanted,
                example=example,
            )
        )
    if grouped := GROUPED.search(found["numbers"]):
        one_number, several = (grouped[0].replace(" ", to) for to in ("", "; "))
        raise AnswerError(
            tr(
                "{text} may be one number or several; write {one_number} or {several}.",
                text=quoted(text),
                one_number=quoted(one_number),
                several=quoted(several),
            )
        )
    written = found["unit"].strip().rstrip(".")
    words = re.findall(NUMBER, found["numbers"])
    values = [_convert(_number(word), written, text, finding, shown) for word in words]
    low = -math.inf if finding.lowest is None else finding.lowest
    high = math.inf if finding.highest is None else finding.highest
    for word, value in zip(words, values, strict=True):
        if not low <= value <= high:
            between = tr(
                "between {low:g} and {high:g} {unit}", low=low, high=high, unit=unit
            ).rstrip()
            wrong = text if len(words) == 1 else f"{word} {written}".rstrip()
            raise AnswerError(
                tr(
                    "{wrong}: {name} lies {between}, {example}.",
                    wrong=quoted(wrong),
                    name=finding.name,
                    between=between,
                    example=example,
                )
            )
    one = finding.give_or_take or 0.0
    if found["doubt"]:
        zero = _convert(0.0, written, text, finding, shown)
        doubt = _number(found["doubt"])
        one = abs(_convert(doubt, written, text, finding, shown) - zero)
        if one == 0:
            raise AnswerError(
                tr("{text}: no reading is exact; leave the ± 0 out.", text=quoted(text))
            )
    doubt = one / math.sqrt(len(values))
    if len(values) > 1:
        doubt = max(doubt, statistics.stdev(values) / math.sqrt(len(values)))
    return Reading(statistics.fmean(values), doubt, unit, tuple(values), one)


def _slip(text: str) -> str | None:
    """The one of several readings that is no number; None where it is not only one."""
    parts = [part.strip() for part in re.split(r";|,\s", text[:LONGEST])]
    last = _matched(parts[-1])
    unit = re.escape(last["unit"].strip()) if last else UNIT
    form = re.compile(rf"{NUMBER} ?(?:{unit})?")
    wrong = [part for part in parts if form.fullmatch(part) is None]
    if len(parts) == 1:  # parted by blanks, the unit perhaps behind the last
        parts = text[:LONGEST].split()
        wrong = [
            part
            for part in parts[:-1]
            if re.fullmatch(NUMBER, part) is None and re.search(r"\d", part)
        ]
    return wrong[0] if len(parts) > 2 and len(wrong) == 1 and wrong[0] else None


def _matched(text: str) -> re.Match[str] | None:
    """The parts of a reading as written: numbers, doubt and unit."""
    plain = " ".join(text.split()).replace("−", "-").replace("º", "°")
    plain = plain.replace("+/-", "±").replace("+-", "±")
    unit = re.search(rf"[^\W\d_.]{UNIT}$|[%°/]{UNIT}$", plain)
    if unit is not None:
        plain = re.sub(rf" ?{re.escape(unit[0])} ?(?=[;,] ?{NUMBER})", "", plain)
    return re.fullmatch(
        rf"(?P<numbers>{NUMBER}(?:(?: ?; ?|, | ){NUMBER})*)"
        rf" ?(?:± ?(?P<doubt>{UNSIGNED}))? ?(?P<unit>{UNIT})",
        plain,
    )


def _example(finding: Measured) -> str:
    """A reading a fifth up the range; the middle is seldom one that is met with."""
    low, high = finding.lowest or 0.0, finding.highest or 0.0
    value = low + (high - low) / 5
    number = value if high - low < 5 else int(value)
    return f"{number:g} {finding.unit or ''}".rstrip()


def _divided(ratio: re.Match[str]) -> str:
    """A ratio as one number; as it was where nothing can be divided by."""
    part, whole = map(_number, ratio.groups())
    return f"{part / whole:.15f}" if whole else ratio[0]


def _number(word: str) -> float:
    return float(word.replace(",", "."))


def _convert(
    value: float, written: str, text: str, finding: Measured, shown: str
) -> float:
    """A value in the unit as written → the value in the finding's unit."""
    unit = finding.unit or ""
    word, own = _plain_unit(written), _plain_unit(unit)
    if not word or word.lower() in (own.lower(), f"{own}s".lower()):
        return value
    if own == "%" and word.lower() == "fraction":
        return value * 100
    if (counted := COUNTED.fullmatch(own)) and (by := re.match(r"(/|per ) ?", word)):
        word = f"{counted[1]}/{word[by.end() :]}"
    from pint.errors import PintError

    plain = _is_plain(word) and _is_plain(own)
    for spelt in (word, word.lower()) if plain else ():
        try:
            units = _registry()
            there = units.Quantity(value, _powers(spelt)).to(_powers(own))
            return float(there.magnitude)
        except (PintError, ValueError, TypeError, AttributeError, AssertionError):
            continue
    read_in = tr("read in {unit}", unit=unit) if unit else tr("a number without a unit")
    raise AnswerError(
        tr(
            "{text}: {written} does not fit {name}, which is {read_in}, "
            "for example '{shown}'.",
            text=quoted(text),
            written=quoted(written),
            name=finding.name,
            read_in=read_in,
            shown=shown,
        )
    )


def _is_plain(unit: str) -> bool:
    """Whether it is one that people write, or one such by another."""
    parts = PLAIN_UNIT.fullmatch(unit)
    return parts is not None and all(
        part is None or part.lower() in PLAIN for part in parts.groups()
    )


def _plain_unit(unit: str) -> str:
    """A unit as pint reads it."""
    word = " ".join(unit.split()).replace("²", "2").replace("³", "3")
    word = re.sub(r"^(°|deg(rees?)?\b\.?) ?(?=[cfCF])", "°", word)
    return SAME.get(word.lower(), word)


def _powers(unit: str) -> str:
    """'mJ/cm2' → 'mJ/cm**2', which pint asks for."""
    return re.sub(r"(?<=[A-Za-z])\^?([23])(?![\w])", r"**\1", unit)


@functools.cache
def _registry() -> Any:
    """pint's units, read in at the first reading that needs them (0.3 s)."""
    from pint import UnitRegistry

    units: Any = UnitRegistry(autoconvert_offset_to_baseunit=True, cache_folder=None)
    units.define("thread = [thread]")
    units.define("line = [line]")
    return units
