"""What `diagnose foresee` prints: faults to expect, why, and what to change."""

from __future__ import annotations

from collections.abc import Collection
from typing import Any

from rich.console import Console

from diagnose.foresee import Change, Foreseen, Outcome, Reason
from diagnose.language import tr
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
        bullet(console, tr("Important:"), says)
    heading(console, tr("What this recipe makes likely"))
    if not outcome.likely:
        line(console, tr("No fault is likelier with this recipe than in any shop."))
    else:
        line(
            console,
            tr(
                "Chances are those of a job that ends on the bench; behind each stands "
                "the chance in a shop of which nothing is known."
            ),
        )
    told: set[str] = set()
    for number, one in enumerate(outcome.likely[:SPELLED], 1):
        console.print()
        bullet(console, f"{number}.", f"{one.says} {_chances(one)}")
        for reason in one.reasons:
            _show_reason(console, reason, told)
    if outcome.likely[SPELLED:LISTED]:
        console.print()
        line(console, tr("Also likelier:"))
        for one in outcome.likely[SPELLED:LISTED]:
            bullet(console, "-", f"{one.says} {_chances(one)}", 2)
    if outcome.changes:
        heading(console, tr("What to change first"))
    behind: set[str] = set()
    for number, change in enumerate(outcome.changes, 1):
        to = f"{change.name}: {change.now} → {change.to}"
        bullet(console, f"{number}.", to)
        for says, now, then in change.falls:
            fall = tr(
                "{says} From {now} to {then}.",
                says=says,
                now=percent(now),
                then=percent(then),
            )
            bullet(console, "-", fall, 3)
        _show_what_to_do(console, change, behind)
        behind.add(change.cause)
    if outcome.worked or outcome.faults:
        heading(console, tr("Worked out from the recipe"))
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
        heading(console, tr("Take care"))
    for id in outcome.cautions:
        show_caution(console, knowledge.cautions[id])


def _show_what_to_do(console: Console, change: Change, told: Collection[str]) -> None:
    """The cause that a change takes away, what is done against it, and its numbers;
    the cause alone where that was told."""
    now, then = change.cause_falls
    says = tr(
        "{cause}, from {now} to {then}.",
        cause=change.cause_name,
        now=percent(now),
        then=percent(then),
    )
    bullet(console, tr("Behind it:"), says, 3)
    if change.cause in told:
        return
    if change.how:
        bullet(console, tr("What to do:"), f"{change.how}.", 3)
    for says in change.numbers:
        line(console, says, 3)


def _chances(one: Foreseen) -> str:
    return tr(
        "[{chance}; in any shop {usual}]",
        chance=percent(one.chance),
        usual=percent(one.usual),
    )


def _show_reason(console: Console, reason: Reason, told: set[str]) -> None:
    """A cause with the answers that raise it and the way; told once, then named."""
    chance = tr(
        "{chance}; in any shop {usual}",
        chance=percent(reason.chance),
        usual=percent(reason.usual),
    )
    bullet(console, "+", f"{reason.name} [{chance}]", 3)
    if reason.cause not in told:
        for says in reason.answers:
            bullet(console, tr("Because:"), says, 5)
    told.add(reason.cause)
    for says in reason.steps:
        if says not in told:
            line(console, says, 5)
        told.add(says)


def foreseen_data(outcome: Outcome) -> dict[str, Any]:
    """The same as plain data for JSON; chances from 0 to 1."""

    def sign(one: Foreseen) -> dict[str, Any]:
        return {
            "finding": one.finding,
            "says": one.says,
            "chance": one.chance,
            "in_any_shop": one.usual,
        }

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
            {**sign(one), "reasons": [reason(why) for why in one.reasons]}
            for one in outcome.likely
        ],
        "every_sign": [sign(one) for one in outcome.every],
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
                "cause": one.cause,
                "cause_name": one.cause_name,
                "cause_now": one.cause_falls[0],
                "cause_then": one.cause_falls[1],
                "what_to_do": one.how,
                "in_numbers": list(one.numbers),
            }
            for one in outcome.changes
        ],
        "worked_out": [
            {
                "working": one.working.id,
                "means": one.means(),
                "amounts": [
                    {
                        "name": amount.output.name,
                        "finding": amount.output.finding,
                        "value": amount.value,
                        "unit": amount.output.unit,
                        "give_or_take": amount.give_or_take,
                    }
                    for amount in one.amounts
                ],
            }
            for one in outcome.worked
        ],
        "faults": list(outcome.faults),
        "important": list(outcome.tells),
        "cautions": list(outcome.cautions),
    }
