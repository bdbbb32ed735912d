"""Stories told by printers and beginners: how often the fault is found.

Each story of `stories.yaml` is told as a person would tell it: at a stage, in their
own words, with the signs that they pick from the list. Then up to `QUESTIONS`
questions are answered, most of them with "don't know".

Run as a script, it prints what came of every story.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Any

import pytest

from diagnose import Consultation, load_knowledge
from diagnose.records import Knowledge
from diagnose.sheets import DONT_KNOW
from diagnose.words import Understood
from diagnose.yamltext import parse

PATH = Path(__file__).parent / "stories.yaml"
QUESTIONS = 15

# The aim of the project (our judgement): the accepted cause in the first three in
# 90 % of the stories with one fault; both causes in the first four in 75 % of those
# with two.
AIM_FIRST_THREE = 0.90
AIM_BOTH_IN_FOUR = 0.75

# Asserted is what was measured last (57, 60 of 60; 8, 10 of 10), less two stories, and
# the aims at least: floors to be raised, never lowered. The measure flatters, for words
# of these stories stand among the phrases by now: of 26 stories told anew in other
# words 23 came out in the first three when they were first heard.
FLOOR_FIRST = 54 / 60
FLOOR_FIRST_THREE = 57 / 60
FLOOR_BOTH_IN_FOUR = 6 / 10
FLOOR_ONE_IN_THREE = 9 / 10


@dataclass(frozen=True, slots=True)
class Story:
    """One story, and what its teller would answer."""

    id: str
    stage: str
    told_by: str
    blames: str
    text: str
    faults: tuple[frozenset[str], ...]
    signs: tuple[str, ...]
    kit: dict[str, str]
    tools: frozenset[str]
    answers: dict[str, str]

    def answer(self, finding: str) -> str:
        """What the teller says when asked for a finding."""
        return self.answers.get(finding, self.kit.get(finding, DONT_KNOW))


@dataclass(frozen=True, slots=True)
class Told:
    """What came of a story: the causes in order, and how they were come by."""

    story: Story
    causes: tuple[str, ...]
    heard: tuple[str, ...]
    asked: tuple[str, ...]

    @property
    def places(self) -> tuple[int, ...]:
        """The place of each fault: that of its best accepted cause, 1 the first."""
        last = len(self.causes) + 1
        return tuple(
            min(
                (n for n, cause in enumerate(self.causes, 1) if cause in f),
                default=last,
            )
            for f in self.story.faults
        )


@cache
def stories() -> tuple[Story, ...]:
    """The stories of the file."""

    def story(record: dict[str, Any]) -> Story:
        return Story(
            id=record["id"],
            stage=record["stage"],
            told_by=record["told_by"],
            blames=record.get("blames", ""),
            text=record["story"],
            faults=tuple(frozenset(fault) for fault in record["faults"]),
            signs=tuple(record["signs"]),
            kit=record["kit"],
            tools=frozenset(record.get("tools", ())),
            answers=record["answers"],
        )

    read, _ = parse(PATH.read_text("utf-8"), PATH.name)
    return tuple(story(record) for record in read)


def tell(knowledge: Knowledge, story: Story, most: int = QUESTIONS) -> Told:
    """Tell a story and answer the questions that it leads to."""
    consultation = Consultation(knowledge)
    consultation.at_stage(story.stage)
    understood = consultation.describe(story.text)
    for sign in story.signs:
        consultation.answer(sign, "yes")
    asked: list[str] = []
    while len(asked) < most and (question := consultation.next_question()):
        asked.append(question.id)
        if question.kind == "tool":
            consultation.have(question.id, question.id in story.tools)
        else:
            consultation.answer(question.id, story.answer(question.id))
    return told_of(story, consultation, understood, tuple(asked))


def tell_all(knowledge: Knowledge, story: Story) -> Told:
    """Tell a story with all that its teller knows, and ask nothing."""
    consultation = Consultation(knowledge)
    consultation.at_stage(story.stage)
    understood = consultation.describe(story.text)
    for sign in story.signs:
        consultation.answer(sign, "yes")
    for finding, value in {**story.kit, **story.answers}.items():
        consultation.answer(finding, value)
    return told_of(story, consultation, understood, ())


def told_of(
    story: Story,
    consultation: Consultation,
    understood: Understood,
    asked: tuple[str, ...],
) -> Told:
    """What has come of a story so far."""
    return Told(
        story=story,
        causes=tuple(cause for cause, _, _ in consultation.chances()),
        heard=tuple(f"{heard.finding}={heard.value}" for heard in understood.heard),
        asked=asked,
    )


@pytest.fixture(scope="module")
def told(built_in: Knowledge) -> tuple[Told, ...]:
    """Every story, told once."""
    return tuple(tell(built_in, story) for story in stories())


def share(told: list[Told], holds: Callable[[Told], bool]) -> float:
    """The share of the stories of which it holds."""
    return sum(map(holds, told)) / len(told)


def of_faults(told: tuple[Told, ...], faults: int) -> list[Told]:
    """The stories with so many faults."""
    return [one for one in told if len(one.story.faults) == faults]


def missed(told: list[Told], holds: Callable[[Told], bool]) -> str:
    """The stories of which it does not hold, and what came first in them."""
    lines = (
        f"  {one.story.id}: places {one.places}, first {', '.join(one.causes[:3])}"
        for one in told
        if not holds(one)
    )
    return "missed:\n" + "\n".join(lines)


def first(one: Told) -> bool:
    """An accepted cause of a single fault is the first."""
    return one.places[0] == 1


def first_three(one: Told) -> bool:
    """An accepted cause of a single fault is in the first three."""
    return one.places[0] <= 3


def both_in_four(one: Told) -> bool:
    """Both of two faults are in the first four."""
    return max(one.places) <= 4


def one_in_three(one: Told) -> bool:
    """At least one of two faults is in the first three."""
    return min(one.places) <= 3


def test_the_accepted_cause_comes_first(told: tuple[Told, ...]) -> None:
    """One fault: as often as was measured, an accepted cause is the first."""
    single = of_faults(told, 1)
    assert share(single, first) >= FLOOR_FIRST, missed(single, first)


def test_the_accepted_cause_is_in_the_first_three(told: tuple[Told, ...]) -> None:
    """One fault: as often as was measured, an accepted cause is in the first three."""
    single = of_faults(told, 1)
    assert share(single, first_three) >= FLOOR_FIRST_THREE, missed(single, first_three)


def test_both_of_two_faults_are_in_the_first_four(told: tuple[Told, ...]) -> None:
    """Two faults: as often as was measured, both come out in the first four."""
    double = of_faults(told, 2)
    assert share(double, both_in_four) >= FLOOR_BOTH_IN_FOUR, missed(
        double, both_in_four
    )


def test_one_of_two_faults_is_in_the_first_three(told: tuple[Told, ...]) -> None:
    """Two faults: as often as was measured, one of them is in the first three."""
    double = of_faults(told, 2)
    assert share(double, one_in_three) >= FLOOR_ONE_IN_THREE, missed(
        double, one_in_three
    )


def test_all_that_the_teller_knows_meets_the_aims(built_in: Knowledge) -> None:
    """With every answer of the teller given, the ranking meets the project's aims."""
    told = tuple(tell_all(built_in, story) for story in stories())
    single, double = of_faults(told, 1), of_faults(told, 2)
    assert share(single, first_three) >= AIM_FIRST_THREE, missed(single, first_three)
    assert share(double, both_in_four) >= AIM_BOTH_IN_FOUR, missed(double, both_in_four)


def test_the_stories_fit_the_knowledge(built_in: Knowledge) -> None:
    """Each cause, sign, answer, tool and stage that a story names is there, and each
    answer is one that its finding takes."""
    assert len({story.id for story in stories()}) == len(stories())
    for story in stories():
        consultation = Consultation(built_in)
        consultation.at_stage(story.stage)
        assert all(fault and fault <= built_in.causes.keys() for fault in story.faults)
        assert 1 <= len(story.signs) <= 3, story.id
        for sign in story.signs:
            assert consultation.finding(sign).opening == "yes", (story.id, sign)
        for tool in story.tools:
            consultation.have(tool, True)
        for finding, value in {**story.kit, **story.answers}.items():
            consultation.answer(finding, value)
            asked = consultation.question(finding).id
            assert asked == finding, f"{story.id}: {finding} is asked as {asked}"
        assert 3 <= len(story.answers) <= 10, story.id


def test_the_stories_are_spread_over_the_trade() -> None:
    """Enough stories, of every stage, kit and teller."""
    told = stories()
    assert len(told) >= 44
    assert sum(len(story.faults) == 2 for story in told) >= 8
    assert sum(story.told_by == "beginner" for story in told) >= 10
    assert sum(bool(story.blames) for story in told) >= 5
    spread = {
        "stencil-kind": 5,
        "lamp-kind": 5,
        "ink-kind": 4,
        "printed-on": 5,
    }
    for finding, kinds in spread.items():
        met = {story.answer(finding) for story in told} - {DONT_KNOW}
        assert len(met) >= kinds, finding
    stages = load_knowledge().stages.values()
    assert {story.stage for story in told} == {s.id for s in stages if s.here}
    causes = {cause for story in told for fault in story.faults for cause in fault}
    met_stages = {load_knowledge().causes[cause].stage for cause in causes}
    assert met_stages == {stage.id for stage in stages}


def report() -> None:  # pragma: no cover - for a person to read
    """Print what came of every story, and the shares by kind."""
    knowledge = load_knowledge()
    told = tuple(tell(knowledge, story) for story in stories())
    for one in told:
        print(f"{one.story.id}: places {one.places}, {len(one.asked)} questions")
        print(f"  first: {', '.join(one.causes[:4])}")
        print(f"  heard: {', '.join(one.heard)}")
        print(
            "  asked: "
            + ", ".join(f"{asked}={one.story.answer(asked)}" for asked in one.asked)
        )
    single, double = of_faults(told, 1), of_faults(told, 2)
    print(f"one fault, {len(single)}: first {share(single, first):.0%},", end=" ")
    print(f"first three {share(single, first_three):.0%}")
    print(f"two faults, {len(double)}: both in the first four", end=" ")
    print(f"{share(double, both_in_four):.0%}, one in the first three", end=" ")
    print(f"{share(double, one_in_three):.0%}")
    kinds: Counter[str] = Counter()
    firsts: Counter[str] = Counter()
    threes: Counter[str] = Counter()
    for one in single:
        for kind in (
            f"told by a {one.story.told_by}",
            "blames the wrong thing" if one.story.blames else "blames nothing",
            f"at {one.story.stage}",
            f"stencil {one.story.answer('stencil-kind')}",
            f"ink {one.story.answer('ink-kind')}",
            f"on {one.story.answer('printed-on')}",
        ):
            kinds[kind] += 1
            firsts[kind] += first(one)
            threes[kind] += first_three(one)
    for kind in sorted(kinds):
        print(f"  {kind}: first {firsts[kind]}, three {threes[kind]} of {kinds[kind]}")


if __name__ == "__main__":  # pragma: no cover
    report()
