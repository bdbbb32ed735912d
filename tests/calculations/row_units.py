"""Inputs of a published row in the units of the calculations, and its check."""

from __future__ import annotations

import pytest
from published_rows import Row

MICROMETRES = {"um": 1.0, "mm": 1000.0, "in": 25400.0, "mil": 25.4}
SHARES = {"-": 100.0, "%": 1.0}


def number(row: Row, name: str) -> float:
    """An input as it is printed."""
    return float(row.given[name])


def numbers(row: Row, name: str) -> list[float]:
    """An input that is a list, as it is printed."""
    return [float(value) for value in row.given[name]]


def micrometres(row: Row, name: str) -> float:
    """An input that is a length, in µm."""
    return number(row, name) * MICROMETRES[row.units[name]]


def percent(row: Row, name: str) -> float:
    """An input that is a share, in %."""
    return number(row, name) * SHARES[row.units[name]]


def check(row: Row, worked_out: float) -> None:
    """The value worked out, in the row's unit, against the published one."""
    wanted = pytest.approx(row.expected, abs=row.tolerance, rel=1e-12)
    assert worked_out == wanted, str(row)
