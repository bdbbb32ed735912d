"""Repeats: when a fault that was got wrong comes again.

A published rule for spaced repetition, FSRS with its published parameters (Ye, Su and
Cao, A stochastic shortest path algorithm for optimizing spaced repetition scheduling,
KDD 2022, and what came of it), says on which day it would still be got right with a
chance that is set. It is worked out anew from the rounds each time, so that nothing but
the rounds is kept. No input or output.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, time
from typing import Protocol

from fsrs import Card, Rating, Scheduler

from diagnose.records import Practise


class Played(Protocol):
    """A round, as far as it counts here."""

    causes: list[str]
    right: str
    day: str


@dataclass(frozen=True, slots=True)
class Repeat:
    """A fault that comes again on a day; how often it was played since, and right."""

    causes: tuple[str, ...]
    due: date
    rounds: int
    right: int


def comes_again(rounds: Iterable[Played], how: Practise) -> list[Repeat]:
    """The faults that come again, the first one first.

    A fault is put down when it is got wrong, and leaves once its next day would be
    further off than `how.known` days.
    """
    rule = Scheduler(
        desired_retention=how.remembered,
        learning_steps=(),
        relearning_steps=(),
        enable_fuzzing=False,
    )
    cards: dict[tuple[str, ...], Card] = {}
    results: dict[tuple[str, ...], list[bool]] = {}
    for one in rounds:
        causes, is_right = tuple(sorted(one.causes)), one.right == "yes"
        if not one.right or not one.day or (is_right and causes not in cards):
            continue
        day = datetime.combine(date.fromisoformat(one.day), time(), UTC)
        card = cards.get(causes) or Card(card_id=0, due=day)
        rating = Rating.Good if is_right else Rating.Again
        cards[causes], _ = rule.review_card(card, rating, day)
        results.setdefault(causes, []).append(is_right)
        if is_right and (cards[causes].due - day).days > how.known:
            del cards[causes], results[causes]
    repeats = [
        Repeat(causes, card.due.date(), len(results[causes]), sum(results[causes]))
        for causes, card in cards.items()
    ]
    return sorted(repeats, key=lambda one: (one.due, one.causes))
