"""What readings have to be before anything is worked out from them."""

from __future__ import annotations

from collections.abc import Sequence

from diagnose.errors import CalculationError

SMALLEST, LARGEST = 1e-9, 1e9
"""Nothing that is measured here is smaller or larger, in the units of these modules."""


def amount(value: float, unit: str) -> str:
    """A value with its unit, in four figures: '58.82 µm', '120 %', '3'."""
    return f"{value:.4g} {unit}".strip()


def above_zero(what: str, value: float, unit: str = "") -> None:
    """Raise CalculationError unless the value is a possible number above 0."""
    if not SMALLEST <= value <= LARGEST:
        raise CalculationError(
            f"{what} can't be {amount(value, unit)}; it has to be a number above 0."
        )


def readings(what: str, values: Sequence[float], least: int) -> None:
    """Raise CalculationError unless there are `least` values, all possible numbers."""
    if len(values) < least:
        raise CalculationError(
            f"{what}: at least {least} wanted, and {len(values)} given."
        )
    for value in values:
        if not abs(value) <= LARGEST:
            raise CalculationError(f"{what}: {amount(value, '')} can't have been read.")


def within(value: float, low: float, high: float, name: str, unit: str = "") -> None:
    """Let a value from low to high pass, both included.

    Raises:
        CalculationError: it lies outside, or is no number.
    """
    if not low <= value <= high:
        behind = f" {unit}" if unit else ""
        raise CalculationError(
            f"{name} is {value:g}{behind}; it has to lie between {low:g} and "
            f"{high:g}{behind}."
        )
