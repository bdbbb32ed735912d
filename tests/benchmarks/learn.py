"""How near what is learnt comes to the truth, how it ranks, and how long it takes.

    nice -n 19 python tests/benchmarks/learn.py [30 100 300 …]

Cases of an imagined shop are drawn from the built-in links with other numbers
(tests/shop_draws.py). Printed for each count of cases: the mean error of a strength,
each counted as often as it is met; and on cases that were not seen the share that is
ranked first, the mean place, and the mean log of the chance of the cause that it was.
The first row has the numbers as written, the last one the shop's own.
"""

from __future__ import annotations

import os
import resource
import sys
import time
from pathlib import Path

import numpy as np

sys.path.insert(0, str(Path(__file__).parent.parent))

from shop_draws import Draws, as_learnt, shaken, with_network

from diagnose.cases.learn import Learnt, learn
from diagnose.cases.replay import chances, mean_place, mean_score, placed
from diagnose.knowledge import load_knowledge
from diagnose.model import Model
from diagnose.network import NOT_COVERED, Network

COUNTS = (30, 100, 300, 1000, 3000, 10_000, 100_000)
UNSEEN = 200
SHOPS = 2
BAR = 40


def strengths(network: Network) -> dict[tuple[str, str, str], float]:
    """Every strength of a network, but for what is not covered."""
    found = {(m, s, ""): x for s, makers in network.states.items() for m, x in makers}
    found |= {
        (maker, finding, one.value): strength
        for finding, outcomes in network.outcomes.items()
        for one in outcomes
        for maker, strength in one.makers
    }
    return {key: s for key, s in found.items() if key[0] != NOT_COVERED}


def main() -> None:
    counts = [int(word) for word in sys.argv[1:]] or list(COUNTS)
    knowledge = load_knowledge()
    model = Model(knowledge)
    rows: dict[str, list[tuple[float, ...]]] = {}
    for shop in range(SHOPS):
        rng = np.random.default_rng(shop)
        truth = shaken(model.network, rng)
        wanted = strengths(truth)
        draws = Draws(model, truth)
        unseen = [case for _, case in draws.cases(UNSEEN, rng)]
        learnt: dict[str, tuple[Network, float]] = {"as written": (model.network, 0.0)}
        last: Learnt | None = None
        for count in counts:
            cases = draws.cases(count, rng)
            start = time.perf_counter()
            last = learn(model, cases)
            took = time.perf_counter() - start
            learnt[f"{count:,}"] = as_learnt(model.network, last), took
        learnt["the truth"] = truth, 0.0
        assert last is not None
        met = {key: last.links[key].cases for key in wanted}
        for name, (network, took) in learnt.items():
            own = strengths(network)
            far = sum(met[key] * abs(own[key] - s) for key, s in wanted.items())
            ranking = with_network(knowledge, network)
            ranking.__dict__["rules"] = model.rules
            found = [placed(chances(ranking, c), c.confirmed[0].cause) for c in unseen]
            first = sum(one.place == 1 for one in found) / len(found)
            row = (
                far / sum(met.values()),
                first,
                mean_place(found),
                mean_score(found),
                took,
            )
            rows.setdefault(name, []).append(row)
            print(shop, name, *(f"{number:.3f}" for number in row), flush=True)
    print(f"\n{SHOPS} shops, {UNSEEN} cases each that were not seen")
    print("| cases | error of a strength | first | place | log | seconds |")
    print("| --- | --- | --- | --- | --- | --- |")
    means = {name: np.mean(found, axis=0) for name, found in rows.items()}
    for name, (far, first, place, score, took) in means.items():
        print(
            f"| {name} | {far:.3f} | {100 * first:.0f} % | {place:.1f} | {score:.2f} | "
            f"{f'{took:.1f}' if took else ''} |"
        )
    print("\nError of a strength")
    worst = max(row[0] for row in means.values())
    for name, row in means.items():
        bar = "#" * round(BAR * row[0] / worst)
        print(f"{name:>12} {bar:<{BAR}} {row[0]:.3f}")
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"\nPeak memory {peak:.0f} MB; load at the end {os.getloadavg()[0]:.1f}.")


if __name__ == "__main__":
    main()
