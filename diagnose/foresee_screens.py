"""What `diagnose foresee` prints: faults to expect, why, and what to change."""

from __future__ import annotations

from typing import Any

from rich.console import Console

from diagnose.foresee import Foreseen, Outcome, Reason
from diagnose.records import Knowledge
from diagnose.screens import bullet, heading, line, percent, show_caution
from diagnose.workings import verdict

SPELLED = 5
"""So many faults are told with their reasons; the others get a line."""

LISTED = 12
"""So many faults are listed at all."""


def show_foreseen(console: Console, knowledge: Knowledge, outcome: Outcome) -> None:
    """The faults that the recipe makes likely, the changes, the calculations."""
    for says in outcome.tells:
        bullet(console, "Important:", says)
    heading(console, "What this recipe makes likely")
    if not outcome.likely:
        line(console, "No fault is likelier with this recipe than in any shop.")
    else:
        line(
            console,
            "Chances are those of a job that ends on the bench; behind each stands "
            "the chance in a shop of which nothing is known.",
        )
    told: set[str] = set()
    for number, one in enumerate(outcome.likely[:SPELLED], 1):
        console.print()
        bullet(console, f"{number}.", f"{one.says} {_chances(one)}")
        for reason in one.reasons:
            _show_reason(console, reason, told)
    if outcome.likely[SPELLED:LISTED]:
        console.print()
        line(console, "Also likelier:")
        for one in outcome.likely[SPELLED:LISTED]:
            bullet(console, "-", f"{one.says} {_chances(one)}", 2)
    if outcome.changes:
        heading(console, "What to change first")
    for number, change in enumerate(outcome.changes, 1):
        to = f"{change.name}: {change.now} → {change.to}"
        bullet(console, f"{number}.", to)
        for says, now, then in change.falls:
            fall = f"{says} From {percent(now)} to {percent(then)}."
            bullet(console, "-", fall, 3)
    if outcome.worked or outcome.faults:
        heading(console, "Worked out from the recipe")
    for worked in outcome.worked:
        bullet(console, "*", f"{worked.working.name}: {worked.means()}", 2)
        line(console, worked.working.formula, 4)
        for amount in worked.amounts:
            verdict_of = verdict(amount, knowledge)
            if verdict_of is not None:
                line(console, verdict_of.says, 4)
    for says in outcome.faults:
        bullet(console, "*", says, 2)
    if outcome.cautions:
        heading(console, "Take care")
    for id in outcome.cautions:
        show_caution(console, knowledge.cautions[id])


def _chances(one: Foreseen) -> str:
    return f"[{percent(one.chance)}; in any shop {percent(one.usual)}]"


def _show_reason(console: Console, reason: Reason, told: set[str]) -> None:
    """A cause with the answers that raise it and the way; told once, then named."""
    chance = f"{percent(reason.chance)}; in any shop {percent(reason.usual)}"
    bullet(console, "+", f"{reason.name} [{chance}]", 3)
    if reason.cause not in told:
        for says in reason.answers:
            bullet(console, "Because:", says, 5)
    told.add(reason.cause)
    for says in reason.steps:
        if says not in told:
            line(console, says, 5)
        told.add(says)


def foreseen_data(outcome: Outcome) -> dict[str, Any]:
    """The same as plain data for JSON; chances from 0 to 1."""

    def reason(one: Reason) -> dict[str, Any]:
        return {
            "cause": one.cause,
            "name": one.name,
            "chance": one.chance,
            "in_any_shop": one.usual,
            "answers": list(one.answers),
            "steps": list(one.steps),
        }

    return {
        "likely": [
            {
                "finding": one.finding,
                "says": one.says,
                "chance": one.chance,
                "in_any_shop": one.usual,
                "reasons": [reason(why) for why in one.reasons],
            }
            for one in outcome.likely
        ],
        "changes": [
            {
                "finding": one.finding,
                "name": one.name,
                "now": one.now,
                "to": one.to,
                "fewer_signs": one.signs,
                "falls": [
                    {"says": says, "now": now, "then": then}
                    for says, now, then in one.falls
                ],
            }
            for one in outcome.changes
        ],
        "worked_out": [
            {"working": one.working.id, "means": one.means()} for one in outcome.worked
        ],
        "faults": list(outcome.faults),
        "important": list(outcome.tells),
        "cautions": list(outcome.cautions),
    }
