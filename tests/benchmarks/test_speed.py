"""How fast the program is, and how much memory it takes; see README.md beside it."""

from __future__ import annotations

import random
import resource
import statistics
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import pytest
from bayes_reference import Agrum
from clips_reference import ClipsReference

from diagnose import Consultation
from diagnose.explanations import Explanations
from diagnose.model import model_of
from diagnose.network import NOT_COVERED, build_network
from diagnose.records import Knowledge
from diagnose.rules import KINDS, RuleBase, finding_fact

ROOT = Path(__file__).parent.parent.parent
Table = list[tuple[str, str, str]]


@pytest.fixture(scope="module")
def table(request: pytest.FixtureRequest) -> Iterator[Table]:
    """Figures by name, with their limits; printed when all are there."""
    rows: Table = []
    yield rows
    capture: Any = request.config.pluginmanager.getplugin("capturemanager")
    with capture.global_and_fixture_disabled():
        print("\n")
        for name, figure, limit in [("figure", "measured", "limit"), *rows]:
            print(f"{name:<34} {figure:>24}   {limit}")


def run(*arguments: str) -> str:
    """Run Python in a process of its own with nothing on its input."""
    done = subprocess.run(
        [sys.executable, *arguments],
        cwd=ROOT,
        stdin=subprocess.DEVNULL,
        capture_output=True,
        text=True,
        timeout=60,
        check=True,
    )
    return done.stdout


def seconds(work: Callable[[], object]) -> float:
    """How long it takes."""
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


def of_children() -> float:
    """Processor time of the processes that were run and have ended."""
    used = resource.getrusage(resource.RUSAGE_CHILDREN)
    return used.ru_utime + used.ru_stime


def test_start_to_first_question(benchmark: Any, table: Table, tmp_path: Path) -> None:
    """A whole process of `python -m diagnose`, to the first question: 0.8 s."""
    command = ("-m", "diagnose", "--keep-in", str(tmp_path))
    assert "Where are you in the work?" in run(*command)
    before = of_children()
    benchmark.pedantic(lambda: run(*command), rounds=7)
    processor = (of_children() - before) / 7
    median = benchmark.stats.stats.median
    shown = f"{median:.2f} s (processor {processor:.2f})"
    table.append(("start to first question", shown, "0.8 s"))
    assert median <= 0.8


def consultations(
    knowledge: Knowledge, count: int, each: Callable[[Callable[[], object]], None]
) -> None:
    """Whole consultations, each as a random cause would answer; `each` runs a step.

    A step is one answer taken in and the next question found.
    """
    opening = [f.id for f in knowledge.findings.values() if f.opening == "yes"]
    for seed in range(count):
        pick = random.Random(seed)
        model_of.cache_clear()
        consultation = Consultation(knowledge)
        chances_alone = model_of(knowledge).chances_alone
        cause = pick.choice(list(knowledge.causes))
        signs = [chances_alone(cause, sign)["yes"] for sign in opening]
        (sign,) = pick.choices(opening, signs)
        take: Callable[[], object] = partial(consultation.answer, sign, "yes")
        while True:
            each(partial(_step, consultation, take))
            question = consultation.next_question()
            if question is None:
                break
            take = _answer(knowledge, consultation, question, cause, pick)


def _step(consultation: Consultation, take: Callable[[], object]) -> None:
    take()
    consultation.next_question()


def _answer(
    knowledge: Knowledge,
    consultation: Consultation,
    question: Any,
    cause: str,
    pick: random.Random,
) -> Callable[[], object]:
    """What takes in an answer to the question as that cause would make it."""
    if question.kind == "tool":
        return partial(consultation.have, question.id, True)
    if question.kind == "reading":
        finding = knowledge.findings[question.id]
        value = pick.uniform(finding.lowest or 0, finding.highest or 0)
        return partial(consultation.answer, question.id, f"{value:.3g}")
    chances = model_of(knowledge).chances_alone(cause, question.id)
    (word,) = pick.choices(list(chances), list(chances.values()))
    return partial(consultation.answer, question.id, word)


def test_answer_to_next_question(
    benchmark: Any, table: Table, built_in: Knowledge
) -> None:
    """95 in 100 answers have their next question within 100 ms."""
    times: list[float] = []
    processor: list[float] = []

    def step_of(step: Callable[[], object]) -> None:
        before = time.process_time()
        times.append(seconds(step))
        processor.append(time.process_time() - before)

    benchmark.pedantic(lambda: consultations(built_in, 40, step_of), rounds=1)
    p95, used = (
        statistics.quantiles(all_of, n=20)[-1] for all_of in (times, processor)
    )
    shown = f"{p95 * 1000:.0f} ms (processor {used * 1000:.0f})"
    table.append((f"next question, p95 of {len(times)}", shown, "100 ms"))
    assert p95 <= 0.1


MEMORY = """
import random, resource
from pathlib import Path
from diagnose import Consultation, load_knowledge
knowledge = load_knowledge()
opening = [f.id for f in knowledge.findings.values() if f.opening == "yes"]
asked = most = 0
for seed in range(5):
    pick = random.Random(seed)
    consultation = Consultation(knowledge)
    consultation.describe("the edges print like little stairs; pinholes in the screen")
    for sign in pick.sample(opening, 4):
        consultation.answer(sign, "yes")
    while (question := consultation.next_question()) is not None:
        asked += 1
        if question.kind == "tool":
            consultation.have(question.id, True)
        elif question.kind == "reading":
            highest = knowledge.findings[question.id].highest
            consultation.answer(question.id, str(highest))
        else:
            consultation.answer(question.id, pick.choice(list(question.takes)))
        most = max(most, len(consultation.look.chances))
    consultation.ranking()
    consultation.plan()
peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
status = Path("/proc/self/status")
if status.exists():  # ru_maxrss may be that of the process which started this one
    lines = status.read_text().splitlines()
    (peak,) = [int(line.split()[1]) for line in lines if line.startswith("VmHWM")]
print(asked, most, peak / 1024)
"""


def test_memory_of_a_consultation(benchmark: Any, table: Table) -> None:
    """Five in a row: four opening signs at once, then every answer at random."""
    printed = benchmark.pedantic(lambda: run("-c", MEMORY), rounds=1)
    asked, causes, megabytes = map(float, printed.split())
    table.append(("memory of a consultation", f"{megabytes:.0f} MB", "250 MB"))
    assert asked > 10
    assert causes > 80
    assert megabytes <= 250


def test_rules_against_clips(benchmark: Any, table: Table, built_in: Knowledge) -> None:
    """Facts in, conclusions out: experta and CLIPS in turns on the same sheets."""
    pick = random.Random(5)
    rules = RuleBase(built_in)
    chainer, clips = rules._chainer, ClipsReference(KINDS, rules.productions)
    findings = [f for f in built_in.findings.values() if f.kind != "reading"]
    sheets = [
        [finding_fact(f.id, pick.choice(f.values())) for f in pick.sample(findings, 15)]
        for _ in range(50)
    ]
    for facts in sheets:
        assert chainer.run(facts).facts == clips.conclusions(facts)
    ours, theirs = in_turns(
        lambda: [chainer.run(facts) for facts in sheets],
        lambda: [clips.conclusions(facts) for facts in sheets],
    )
    benchmark.pedantic(lambda: chainer.run(sheets[0]), rounds=20)
    shown = f"{ours / theirs:.1f} x ({ours / len(sheets) * 1000:.1f} ms)"
    table.append(("rules, experta ÷ CLIPS", shown, ""))


def test_chances_against_pyagrum(
    benchmark: Any, table: Table, built_in: Knowledge
) -> None:
    """Answers in, chances of causes and states out, for the same twelve causes."""
    network = build_network(built_in)
    pick = random.Random(7)
    causes = [*pick.sample(sorted(built_in.causes), 11), NOT_COVERED]
    rows = Explanations(network, causes)
    near = [
        id
        for id, outcomes in network.outcomes.items()
        if {m for outcome in outcomes for m, _ in outcome.makers} & {*causes}
    ]
    asked = pick.sample(near, 12)
    evidence = {}
    for id in asked:
        count = len(network.values(id))
        evidence[id] = [float(n == 0) for n in range(count)]
    agrum = Agrum(network, causes, findings=evidence)

    def weigh() -> dict[str, float]:
        fresh = Explanations(network, causes)
        weighed = fresh.weigh(evidence)
        return {**weighed.causes(), **{s: weighed.state(s) for s in fresh.states}}

    def infer() -> dict[str, float]:
        cause_chances, states = agrum.posterior(evidence)
        return {**cause_chances, **states}

    assert weigh() == pytest.approx(infer(), abs=1e-6)
    ours, theirs = in_turns(weigh, infer)
    benchmark.pedantic(weigh, rounds=20)
    shown = f"{ours / theirs:.2f} x ({ours * 1000:.1f} ms)"
    table.append(("chances, explanations ÷ pyAgrum", shown, ""))
    assert rows.causes == tuple(sorted(causes))


def in_turns(
    one: Callable[[], object], other: Callable[[], object], rounds: int = 9
) -> tuple[float, float]:
    """The median time of each, taken in turns so that both meet the same machine."""
    times = [(seconds(one), seconds(other)) for _ in range(rounds)]
    return (
        statistics.median(first for first, _ in times),
        statistics.median(second for _, second in times),
    )
