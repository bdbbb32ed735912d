"""Compares ways of asking on simulated consultations; writes tests/policies.yaml.

    python tests/simulate_policies.py [runs] [processes]

Random order takes as long as all the others together, so it is asked of every fifth
fault.

Faults are drawn by how common they are, one cause or two; 15 % of the questions get no
answer and 3 % of the answers are wrong. The person tells nine of ten of the signs that
the fault made where they stand. Compared are the interview as it is (a few questions
to a screen, or one by one), questions in random order, and a fixed list: the checks
that settle each cause, the commonest cause first. Then, how long mending takes: fixes
in the order of the plan, by how likely they help alone, and by the fixed list.
"""

from __future__ import annotations

import random
import statistics
import sys
from collections.abc import Callable, Sequence
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path
from typing import Any

import numpy as np
import yaml
from simulated import Ask, Told, World, consult, one_at_a_time, played

from diagnose import Consultation
from diagnose.knowledge import load_knowledge
from diagnose.model import Model, model_of
from diagnose.network import NOT_COVERED
from diagnose.plan import SHORTEST, PlannedFix
from diagnose.proofs import proofs_of
from diagnose.questions import Question, _worths
from diagnose.worlds import NoSuchWorldError

RESULT = Path(__file__).parent / "policies.yaml"
UNKNOWN, WRONG, TOLD = 0.15, 0.03, 0.9
EVERY = 5
"""Of so many faults one is asked about in random order."""
TWO = 0.2
"""The share of the consultations with two causes at once."""
LONGEST = 60


def several(consultation: Consultation) -> list[Question]:
    """The interview as it is: up to three questions that one glance answers."""
    return consultation.next_questions(3)


def in_random_order(seed: str) -> Ask:
    """Any question that bears on the causes on the table, until the interview would
    stop."""

    def ask(consultation: Consultation) -> list[Question]:
        if consultation.next_question() is None:
            return []
        _, worths = _worths(consultation.look)
        open_ones = sorted({worth.asked.id for worth in worths})
        chance = random.Random(f"{seed}/{len(consultation.sheet.given())}")
        return [consultation.question(chance.choice(open_ones))] if open_ones else []

    return ask


def by_the_list(model: Model) -> Ask:
    """The checks that settle each cause, the commonest first, until one says yes."""
    order = sorted(model.knowledge.causes, key=lambda c: (-model.network.odds[c], c))
    checks = [
        next(iter(proofs_of(model.knowledge.causes[cause])))[0] for cause in order
    ]

    def ask(consultation: Consultation) -> list[Question]:
        given = consultation.sheet.given()
        if any(given.get(id) == "yes" for id in checks):
            return []
        left = [
            id
            for id in checks
            if id not in given
            and id.removeprefix("proof-of-") not in consultation.look.table.ruled_out
            and id.removeprefix("proof-of-") in consultation.look.chances
        ]
        return [consultation.question(left[0])] if left else []

    return ask


def each_has_a_sign(world: World, signs: Sequence[str]) -> bool:
    """Whether each cause made a sign that the person told and no other cause can have
    made."""
    reaches = []
    for cause in world.causes:
        reach = {cause}
        for state, makes in world.model.network.states.items():
            if state in world.on and reach & {maker for maker, _ in makes}:
                reach.add(state)
        reaches.append(reach)
    made_by = []
    for sign in signs:
        (outcome,) = world.model.network.outcomes[sign]
        makers = {maker for maker, _ in outcome.makers}
        made_by.append([bool(makers & reach) for reach in reaches])
    return all(
        any(made[n] and sum(made) == 1 for made in made_by) for n in range(len(reaches))
    )


def mended_after(world: World, fixes: Sequence[PlannedFix]) -> float:
    """Minutes until the first fix that cures, trying one after the other.

    Where none does, an hour is added: someone has to be asked.
    """
    minutes = 0.0
    strengths = world.model.knowledge.scales.strengths
    for one in fixes:
        minutes += max(one.fix.minutes, SHORTEST)
        misses = 1.0
        for cure in one.fix.cures:
            if cure.target() in world.on:
                misses *= 1 - strengths[cure.sure]
        if world.asked(f"fix {one.fix.id}").random() < 1 - misses:
            return minutes
    return minutes + 60


def play(run: int) -> dict[str, Any] | None:
    """One fault, with every way of asking; None where the causes that were drawn can't
    be there together."""
    try:
        return _play(run)
    except NoSuchWorldError:
        return None


def _play(run: int) -> dict[str, Any]:
    model = model_of(load_knowledge()) if MODEL is None else MODEL
    globals()["MODEL"] = model
    draw = random.Random(f"policies/{run}")
    names = list(model.knowledge.causes)
    odds = [model.network.odds[cause] for cause in names]
    causes = [draw.choices(names, odds)[0]]
    if draw.random() < TWO:
        causes.append(draw.choices(names, odds)[0])
    world, stage, signs = played(model, tuple(dict.fromkeys(causes)), run, TOLD)
    ways: dict[str, Ask] = {
        "several to a screen": several,
        "one by one": one_at_a_time,
        "fixed list": by_the_list(model),
    }
    if run % EVERY == 0:
        ways["random order"] = in_random_order(str(run))
    told: dict[str, Told] = {
        name: consult(world, stage, signs, UNKNOWN, WRONG, LONGEST, ask)
        for name, ask in ways.items()
    }
    apart = each_has_a_sign(world, signs)
    return {"told": told, "apart": apart, **_start_and_mend(world, stage, signs)}


MODEL: Model | None = None


def _start_and_mend(world: World, stage: str, signs: Sequence[str]) -> dict[str, Any]:
    """Bits of doubt after the description; minutes to mend after the interview."""
    consultation = Consultation(world.model.knowledge)
    consultation.at_stage(stage)
    for sign in signs:
        consultation.answer(sign, "yes")
    chances = np.array([chance for _, chance in consultation.look.close.sets(10**6)])
    chances = chances / chances.sum()
    doubt = float(-(chances * np.log2(chances)).sum())
    while asked := several(consultation):
        for question in asked:
            if question.kind == "tool":
                consultation.have(question.id, False)
            else:
                consultation.answer(question.id, world.answer(question))
        if len(consultation.sheet.given()) > LONGEST:
            break
    parts = consultation.plan().parts
    planned = [one for id, part in parts.items() if id != "prevent" for one in part]
    orders: dict[str, Callable[[PlannedFix], Any]] = {
        "chance a minute": lambda one: (-one.worth, one.fix.id),
        "chance alone": lambda one: (-one.chance, one.fix.id),
        "quickest first": lambda one: (one.fix.minutes, one.fix.id),
    }
    minutes = {
        name: mended_after(world, sorted(planned, key=key))
        for name, key in orders.items()
    }
    return {"doubt": doubt, "mended": minutes}


def calibration(told: Sequence[Told]) -> tuple[float, list[list[float]]]:
    """Expected calibration error of the leader's chance, and the table by tenths."""
    rows = []
    error = 0.0
    for tenth in range(10):
        group = [one for one in told if min(int(one.chance * 10), 9) == tenth]
        if not group:
            continue
        said = statistics.fmean(one.chance for one in group)
        right = statistics.fmean(one.first in one.causes for one in group)
        rows.append([tenth / 10, len(group), round(said, 3), round(right, 3)])
        error += abs(said - right) * len(group) / len(told)
    return error, rows


def summary(told: Sequence[Told], apart: Sequence[Told]) -> dict[str, Any]:
    """The figures of one way of asking; `apart` are those with two causes that each
    had a sign of its own."""
    single = [one for one in told if len(one.causes) == 1]
    double = [one for one in told if len(one.causes) == 2]
    error, rows = calibration(told)
    return {
        "runs": len(told),
        "first": round(statistics.fmean(one.places[0] == 1 for one in single), 3),
        "in_first_three": round(
            statistics.fmean(one.places[0] <= 3 for one in single), 3
        ),
        "two_both_in_first_four": round(
            statistics.fmean(max(one.places) <= 4 for one in double), 3
        ),
        "two_each_with_a_sign_of_its_own": len(apart),
        "those_both_in_first_four": round(
            statistics.fmean(max(one.places) <= 4 for one in apart), 3
        ),
        "median_screens": statistics.median(one.screens for one in told),
        "median_questions": statistics.median(one.questions for one in told),
        "median_minutes": round(statistics.median(one.minutes for one in told), 1),
        "mean_minutes": round(statistics.fmean(one.minutes for one in told), 1),
        "calibration_error": round(error, 3),
        "not_covered_first": round(
            statistics.fmean(one.first == NOT_COVERED for one in told), 3
        ),
        "reliability": rows,
    }


def compared(played_ones: Sequence[dict[str, Any]]) -> dict[str, Any]:
    """All figures, of what `play` gave."""
    apart = [
        one
        for one in played_ones
        if one["apart"] and len(one["told"]["one by one"].causes) == 2
    ]
    return {
        "runs": len(played_ones),
        "bits_of_doubt_after_the_description": round(
            statistics.fmean(one["doubt"] for one in played_ones), 2
        ),
        "ways_of_asking": {
            name: summary(
                [one["told"][name] for one in played_ones if name in one["told"]],
                [one["told"][name] for one in apart if name in one["told"]],
            )
            for name in played_ones[0]["told"]
        },
        "mean_minutes_until_mended": {
            name: round(statistics.fmean(one["mended"][name] for one in played_ones), 1)
            for name in played_ones[0]["mended"]
        },
    }


def main() -> None:
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 1000
    processes = int(sys.argv[2]) if len(sys.argv) > 2 else 2
    with ProcessPoolExecutor(processes) as pool:
        result = compared(
            [one for one in pool.map(play, range(runs), chunksize=5) if one]
        )
    text = yaml.safe_dump(result, sort_keys=False, default_flow_style=None, width=84)
    RESULT.write_text("# Written by tests/simulate_policies.py; see there.\n" + text)
    print(text)


if __name__ == "__main__":
    main()
