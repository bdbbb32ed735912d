"""Practice: what is drawn, what is compared, and that nothing of it is lost."""

from __future__ import annotations

import io
import os
import random
import signal
import time
from collections import Counter
from collections.abc import Iterable, Iterator
from datetime import date
from pathlib import Path

import pytest
from rich.console import Console
from scipy.stats import chisquare  # type: ignore[import-untyped]

from diagnose.cli import main
from diagnose.errors import AnswerError, SheetError
from diagnose.model import Model, model_of
from diagnose.practice_screen import Practice
from diagnose.practise import (
    Again,
    Play,
    Record,
    Round,
    best_line,
    draw_round,
    due,
    ended,
    pool,
    read_record,
)
from diagnose.records import Knowledge
from diagnose.worlds import World, draw_causes

ROUNDS = 10_000
UNLIKELY = 0.001
"""A p-value below this shows that draws and model differ; seeds are fixed."""


@pytest.fixture(scope="module")
def model(built_in: Knowledge) -> Model:
    return model_of(built_in)


def held(
    knowledge: Knowledge, folder: Path, lines: Iterable[str], **more: int
) -> tuple[Practice, str]:
    """A practice with the lines given; after them the input ends."""
    screen = io.StringIO()
    console = Console(file=screen, width=80, highlight=False, markup=False)
    waiting = iter(lines)

    def read_line(prompt: str) -> str:
        text = next(waiting, None)
        if text is None:
            raise EOFError
        screen.write(f"{prompt}{text}\n")
        return text

    day = date(2026, 1, 5)
    practice = Practice(
        knowledge,
        folder,
        console=console,
        read_line=read_line,
        seed=more.get("seed", 1),
        level=more.get("level", 2),
        today=day,
    )
    assert practice.run() == 0
    return practice, screen.getvalue()


def test_causes_are_drawn_as_often_as_the_model_has_them(model: Model) -> None:
    draw, causes = random.Random(4), pool(model, 2)
    counts = Counter(draw_causes(model, causes, 1, draw)[0] for _ in range(ROUNDS))
    odds = {cause: model.network.odds[cause] for cause in causes}
    total = sum(odds.values())
    expected = [ROUNDS * odds[cause] / total for cause in causes]
    drawn = [counts[cause] for cause in causes]
    assert chisquare(drawn, expected).pvalue > UNLIKELY


def test_pairs_are_drawn_by_the_product_of_their_odds(model: Model) -> None:
    causes, draw = pool(model, 2)[:5], random.Random(5)
    counts = Counter(draw_causes(model, causes, 2, draw) for _ in range(ROUNDS))
    odds = model.network.odds
    weights = {
        (one, other): odds[one] * odds[other]
        for one in causes
        for other in causes
        if one < other
    }
    total = sum(weights.values())
    expected = [ROUNDS * weight / total for weight in weights.values()]
    drawn = [counts[pair] for pair in weights]
    assert chisquare(drawn, expected).pvalue > UNLIKELY


def test_what_is_seen_has_the_chances_of_the_model(model: Model) -> None:
    cause = "coats-too-few"
    findings = ["edges-sawtooth", "coats-put-on", "print-side-feels-woven"]
    seen: dict[str, Counter[str]] = {finding: Counter() for finding in findings}
    for run in range(ROUNDS):
        world = World(model, (cause,), str(run))
        for finding in findings:
            seen[finding][world.value(finding)] += 1
    for finding in findings:
        chances = model.chances_alone(cause, finding)
        effects = {
            value: model.effects.get((finding, value), {}).get(cause, 1.0)
            for value in chances
        }
        total = sum(chances[value] * effects[value] for value in chances)
        values = [value for value in chances if effects[value] > 0]
        expected = [
            ROUNDS * chances[value] * effects[value] / total for value in values
        ]
        drawn = [seen[finding][value] for value in values]
        assert chisquare(drawn, expected).pvalue > UNLIKELY, finding


def test_the_best_line_is_the_interviews_own(model: Model) -> None:
    for seed in range(3):
        play = Play(model, draw_round(model, 2, "", random.Random(seed)))
        line, _ = best_line(play)
        consultation = play.begun()
        for told in line:
            question = consultation.next_question()
            while question is not None and question.kind == "tool":
                consultation.have(question.id, True)
                question = consultation.next_question()
            assert question is not None
            assert question.id == told.question.id
            assert told.bits == pytest.approx(question.information)
            consultation.answer(question.id, told.answer)
        assert consultation.next_question() is None


def test_level_one_has_common_causes_with_loud_signs(model: Model) -> None:
    knowledge = model.knowledge
    easy = pool(model, 1)
    assert 3 <= len(easy) < len(pool(model, 2)) == len(knowledge.causes)
    common = knowledge.scales.practise.common
    assert all(knowledge.causes[cause].how_common in common for cause in easy)


def test_level_three_has_two_causes(model: Model) -> None:
    assert len(draw_round(model, 3, "", random.Random(2)).causes) == 2


def test_the_same_round_reads_the_same(model: Model) -> None:
    one = draw_round(model, 2, "", random.Random(8))
    first, again = Play(model, one), Play(model, one)
    assert first.signs == again.signs
    told = first.ask("tension")
    assert told.answer == Play(model, one).told[-1].answer
    assert told.answer.endswith("N/cm")
    assert first.ask("tension-low") is told, "what was asked before costs nothing"


def test_boxes_widen_and_end() -> None:
    record, days = Record(), [1, 3, 7]
    wrong = Round(causes=["a"], seed="1", right="no")
    right = Round(causes=["a"], seed="1", right="yes")
    ended(record, right, date(2026, 1, 1), days)
    assert record.again == [], "what was right at once does not come again"
    ended(record, wrong, date(2026, 1, 1), days)
    assert record.again == [Again(causes=["a"], box=0, due="2026-01-02")]
    ended(record, right, date(2026, 1, 2), days)
    assert record.again == [Again(causes=["a"], box=1, due="2026-01-05")]
    ended(record, wrong, date(2026, 1, 5), days)
    assert record.again[0].box == 0
    for _ in days:
        ended(record, right, date(2026, 1, 6), days)
    assert record.again == []


def test_what_is_due_comes_first(model: Model) -> None:
    again = [
        Again(causes=["coats-too-few"], box=0, due="2026-01-04"),
        Again(causes=["no-such-cause"], box=0, due="2026-01-01"),
    ]
    record = Record(again=again)
    assert due(record, model, 2, "", date(2026, 1, 3)) is None
    assert due(record, model, 2, "", date(2026, 1, 5)) == ["coats-too-few"]
    assert due(record, model, 2, "mesh", date(2026, 1, 5)) is None


def test_bad_input_at_every_prompt_is_told_and_harms_nothing(
    built_in: Knowledge, tmp_path: Path
) -> None:
    bad = [
        "",
        "?",
        "qqqqqqqqqq",
        "99",
        "\x00\x1b[2J",
        "x" * 5000,
        "it is",
        "it is zzzz",
    ]
    one, screen = held(built_in, tmp_path, bad)
    assert one.record.rounds[-1].named == []
    lines = ["give up", "", "99", "qqqqqqqq", "\x07", "1", "maybe", ""]
    one, screen = held(built_in, tmp_path, lines)
    assert one.record.rounds[-1].right == "no"
    assert "It was:" in screen
    assert "The best line:" in screen
    assert "Take y for another one, or stop." in screen
    assert max(map(len, screen.splitlines())) <= 5002


def test_the_right_cause_and_a_fix_that_is_for_it(
    built_in: Knowledge, model: Model, tmp_path: Path
) -> None:
    one, _ = held(built_in, tmp_path, [])
    causes = one.record.rounds[-1].causes
    play = Play(model, one.record.rounds[-1])
    fix = next(f for f in built_in.fixes.values() if play.cured_by(f))
    name = built_in.causes[causes[0]].name
    one, screen = held(built_in, tmp_path, [f"it is {name}", fix.name, "stop"])
    assert one.record.rounds[-1].right == "yes", screen
    assert "1 of 1 rounds right." in screen
    assert one.record.again == []


def test_stopped_after_any_line_it_goes_on(built_in: Knowledge, tmp_path: Path) -> None:
    lines = ["look tension", "look humidity in the room", "give up", "1"]
    for stop in range(len(lines)):
        folder = tmp_path / str(stop)
        before, _ = held(built_in, folder, lines[:stop], seed=3)
        kept = read_record(folder)
        assert kept == before.record
        after, screen = held(built_in, folder, [], seed=99)
        assert "in the middle of this one" in screen
        assert after.record == before.record


def test_killed_at_any_moment_it_keeps_what_was_shown(
    built_in: Knowledge, tmp_path: Path
) -> None:
    """The process is killed a moment after a line; the record is whole, and holds
    each look that an answer was shown for."""
    chance, lines = random.Random(6), ["look tension", "settle too few coats", "hint"]
    for number in range(12):
        folder, typed = tmp_path / str(number), chance.randint(0, len(lines))
        shown, asks = tmp_path / f"shown-{number}", os.pipe()
        child = os.fork()
        if child == 0:
            screen = shown.open("w", buffering=1)
            waiting = iter(lines[:typed])

            def read_line(
                _: str, waiting: Iterator[str] = waiting, into: int = asks[1]
            ) -> str:
                text = next(waiting, None)
                if text is None:
                    os.write(into, b".")
                    time.sleep(60)
                return text or ""

            console = Console(file=screen, width=80, markup=False)
            Practice(built_in, folder, 2, "", console, read_line, seed=1).run()
            os._exit(0)
        if number % 2:  # it stands and waits; otherwise it is in the middle of things
            os.read(asks[0], 1)
        else:
            time.sleep(chance.uniform(0, 0.3))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        record = read_record(folder)
        asked = record.rounds[-1].asked if record.rounds else []
        told = shown.read_text() if shown.exists() else ""
        assert ("tension" in asked) or ("mesh tension in the middle" not in told)
        if number % 2:
            assert len(asked) == min(typed, 2)


def test_a_record_that_is_none_is_told(tmp_path: Path) -> None:
    for text in ("rounds: 5", "rounds:\n- {causes: [a]}", "- a", "again: [{due: x}]"):
        (tmp_path / "practice.yaml").write_text(text)
        with pytest.raises(SheetError):
            read_record(tmp_path)


@pytest.mark.parametrize(
    "words", [["--level", "4"], ["--level", "x"], ["--stage", "nowhere"], ["--stage"]]
)
def test_bad_words_are_told(words: list[str], tmp_path: Path) -> None:
    assert main(["practise", "--keep-in", str(tmp_path), *words]) == 2


def test_a_stage_without_a_fault_is_told(built_in: Knowledge, tmp_path: Path) -> None:
    practice = Practice(built_in, tmp_path, stage="", read_line=lambda _: "stop")
    practice.stage = "none-such"
    with pytest.raises(AnswerError, match="another stage"):
        practice.run()
