"""Plays the simulated consultations of every cause and writes tests/simulated.yaml.

    python tests/simulate.py [runs a cause] [processes]

Each cause is drawn `runs` times (50), a third of the questions is left unanswered, and
what counts is whether it ends in the first three. The causes found in fewer than nine
of ten are listed with what they were taken for, and what there is to tell them by.
"""

from __future__ import annotations

import statistics
import sys
from collections import Counter
from concurrent.futures import ProcessPoolExecutor
from pathlib import Path

import yaml
from simulated import Told, consult, played

from diagnose.knowledge import load_knowledge
from diagnose.model import Model, model_of

RESULT = Path(__file__).parent / "simulated.yaml"
STRONG = 0.5
HARD = 0.9


def play(cause: str, runs: int) -> list[Told]:
    """All consultations of one cause."""
    global MODEL
    if MODEL is None:
        MODEL = model_of(load_knowledge())
    told = []
    for run in range(runs):
        world, stage, signs = played(MODEL, (cause,), run)
        told.append(consult(world, stage, signs, unknown=1 / 3))
    print(cause, sum(one.places[0] <= 3 for one in told) / runs, flush=True)
    return told


MODEL: Model | None = None


def why(model: Model, cause: str, told: list[Told]) -> str:
    """What the cause was taken for, and how little of its own it shows."""
    taken = Counter(one.first for one in told if one.places[0] > 3)
    names = [f"“{model.cause_name(id)}”" for id, _ in taken.most_common(2)]
    own = []
    for id in model.knowledge.recorded():
        if id not in model.network.outcomes:
            continue
        chances = model.chances_alone(cause, id)
        anyway = model.chances_anyway(id)
        own += [
            id
            for value, chance in chances.items()
            if value != "no" and chance >= STRONG and chance > 2 * anyway[value]
        ]
    common = model.knowledge.causes[cause].how_common
    return (
        f"It is {common} and shows {len(own)} findings more often than not; without "
        f"the checks that settle it, it is taken for {' or '.join(names)}."
    )


def main() -> None:
    runs = int(sys.argv[1]) if len(sys.argv) > 1 else 50
    processes = int(sys.argv[2]) if len(sys.argv) > 2 else 2
    knowledge = load_knowledge()
    model = model_of(knowledge)
    causes = sorted(knowledge.causes)
    with ProcessPoolExecutor(processes) as pool:
        every = dict(
            zip(
                causes,
                pool.map(play, causes, [runs] * len(causes), chunksize=1),
                strict=True,
            )
        )
    told = [one for group in every.values() for one in group]
    shares = {
        cause: sum(one.places[0] <= 3 for one in group) / runs
        for cause, group in every.items()
    }
    result = {
        "runs": runs,
        "causes": len(causes),
        "first": round(sum(one.places[0] == 1 for one in told) / len(told), 3),
        "in_first_three": round(statistics.fmean(shares.values()), 3),
        "nine_of_ten_or_more": sum(share >= HARD for share in shares.values()),
        "median_questions": statistics.median(one.questions for one in told),
        "median_minutes": round(statistics.median(one.minutes for one in told), 1),
        "under": [
            {
                "cause": cause,
                "in_first_three": round(share, 2),
                "why": why(model, cause, every[cause]),
            }
            for cause, share in sorted(shares.items(), key=lambda item: item[1])
            if share < HARD
        ],
    }
    head = "# Written by tests/simulate.py; see there.\n"
    text = yaml.safe_dump(result, sort_keys=False, allow_unicode=True, width=84)
    RESULT.write_text(head + text, encoding="utf-8")
    print(text)


if __name__ == "__main__":
    main()
