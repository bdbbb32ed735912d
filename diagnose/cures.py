"""How likely a fix cures what is wrong, for each explanation."""

from __future__ import annotations

import numpy as np
from numpy.typing import NDArray

from diagnose.explanations import Explanations
from diagnose.model import Model
from diagnose.records import Fix

GONE_ANYWAY = 0.05
"""How often a fault goes away whatever was done about it. Our judgement."""


def help_chances(model: Model, rows: Explanations, fix: Fix) -> NDArray[np.float64]:
    """The chance that the fix puts right at least one thing that is there."""
    strengths = model.knowledge.scales.strengths
    by_set = np.ones(len(rows.sets))
    for cure in fix.cures:
        if cure.cause in rows.causes:
            there = rows.members[:, rows.causes.index(cure.cause)]
            by_set[there] *= 1 - strengths[cure.sure]
    fails: NDArray[np.float64] = by_set[rows.set_of]
    for cure in fix.cures:
        if cure.state in rows.states:
            fails[rows.is_on(cure.state)] *= 1 - strengths[cure.sure]
    return 1 - fails


def cure_chances(model: Model, rows: Explanations, fix: Fix) -> NDArray[np.float64]:
    """The chance that the person sees the fault gone after the fix.

    For a fix of causes it is the mean over the causes that are there: where there
    are two and the fix is for one of them, the other may still show.
    """
    if any(cure.state in rows.states for cure in fix.cures):
        return help_chances(model, rows, fix)
    sure = np.zeros(len(rows.causes))
    for cure in fix.cures:
        if cure.cause in rows.causes:
            strength = model.knowledge.scales.strengths[cure.sure]
            sure[rows.causes.index(cure.cause)] = strength
    size = np.maximum(rows.members.sum(axis=1), 1)
    cured: NDArray[np.float64] = rows.members @ sure / size
    return cured[rows.set_of]
