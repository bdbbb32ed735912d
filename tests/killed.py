"""Kills interviews at random moments, and reports what each had asked by then.

    python killed.py FOLDER SEED MOMENTS

Everything is imported and compiled once; each interview is a fork of that, so that
hundreds can be killed in seconds. A line of JSON is printed for each: its folder, its
route, and how many prompts had appeared.
"""

from __future__ import annotations

import json
import os
import random
import select
import signal
import sys
import time
from pathlib import Path

from diagnose import Consultation, load_knowledge
from diagnose.records import Knowledge
from diagnose.terminal import Interview

SMALL = Path(__file__).parent / "small"

Step = tuple[str, dict[str, str]]
"""A line, and the answers (or fixes that were tried) that it gives."""

TO_QUESTIONS: list[Step] = [
    ("5", {}),
    ("1", {"stairs": "yes"}),
    ("n", {"bands": "no"}),
    ("why", {}),
    ("what if y", {}),
    ("n", {"gives": "no"}),
    ("emulsion", {"stencil": "emulsion"}),
    ("back", {}),
    ("2", {}),
    ("s", {"gives": "somewhat"}),
    ("say there is a dent in the trough", {}),
    ("?", {}),
]

TO_THE_END: list[Step] = [
    ("5", {}),
    ("1", {"stairs": "yes"}),
    ("say thickness 3 %", {"thickness": "3 %"}),
    ("n", {"bands": "no"}),
    ("n", {"gives": "no"}),
    ("change", {}),
    ("2", {"coat-again": "not yet"}),
    ("n", {"coat-again": "no"}),
    ("?", {}),
]

ROUTES = [TO_QUESTIONS, TO_THE_END]


def killed(
    knowledge: Knowledge, folder: Path, route: list[Step], typed: int, wait: float
) -> int:
    """Kill an interview a moment after a line was typed; the prompts that it showed."""
    from_us, into = os.pipe()
    out, from_it = os.pipe()
    child = os.fork()
    if child == 0:
        for ours in (into, out):
            os.close(ours)
        os.dup2(from_us, 0)
        os.dup2(from_it, 1)
        Interview(knowledge, folder).run()
        sys.stdout.flush()
        os._exit(0)
    os.close(from_us)
    os.close(from_it)
    screen = b"\n"

    def read(until: float, prompts: int = 10_000) -> None:
        nonlocal screen
        while (
            screen.count(b"\n> ") < prompts and (left := until - time.monotonic()) > 0
        ):
            if select.select([out], [], [], left)[0]:
                part = os.read(out, 65536)
                if not part:
                    return
                screen += part

    for number, (line, _) in enumerate(route[:typed], 1):
        read(time.monotonic() + 30, number)
        os.write(into, f"{line}\n".encode())
    read(time.monotonic() + wait)
    os.kill(child, signal.SIGKILL)
    os.waitpid(child, 0)
    while part := os.read(out, 65536):
        screen += part
    os.close(into)
    os.close(out)
    return screen.count(b"\n> ")


def main(folder: Path, seed: int, moments: int) -> None:
    """Kill that many interviews."""
    knowledge = load_knowledge(SMALL)
    warm = Consultation(knowledge)
    warm.describe("blocky edges")
    warm.next_question()
    chance = random.Random(seed)
    for number in range(moments):
        route = number % len(ROUTES)
        steps = ROUTES[route]
        kept = folder / f"{seed}-{number}"
        wait = chance.uniform(0, 0.015 if number % 4 < 2 else 0.06)
        prompts = killed(knowledge, kept, steps, chance.randint(1, len(steps)), wait)
        print(json.dumps([str(kept), route, prompts]), flush=True)


if __name__ == "__main__":
    os.environ["PYTHONIOENCODING"] = "utf-8"
    main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
