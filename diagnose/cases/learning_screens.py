"""What the commands that learn from cases print."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from rich.console import Console

from diagnose.cases.learn import Learnt
from diagnose.cases.proposal import counted, learnt_changes, rounded
from diagnose.cases.propose import Draft
from diagnose.cases.replay import Outcome, Placed, Replayed, mean_place, mean_score
from diagnose.model import Model
from diagnose.overlay import Change
from diagnose.records import Cause, Knowledge, State
from diagnose.screens import bullet, heading, line, percent, printable, shortened

LISTED = 12
"""So many of the largest changes are listed."""

KEYS = {"how_common": "how common"}


def show_own(console: Console, changes: Sequence[Change]) -> None:
    """What a shop's knowledge changes, and where the built-in one has moved since."""
    if not changes:
        line(console, "Nothing is changed from the built-in knowledge.")
        return
    for one in changes:
        bullet(console, "*", f"{_named(one)}: {_difference(one)}")
        line(console, str(one.place), 2)
    apart = [one for one in changes if one.disagrees]
    if apart:
        heading(console, "Where the built-in knowledge has changed since")
        for one in apart:
            says = (
                f"{_named(one)}: it was {_or_nothing(one.was or '')} when yours was "
                f"written, it is {_or_nothing(one.before)} now; yours is "
                f"{_or_nothing(one.after)}."
            )
            bullet(console, "*", says)
    line(console)
    added = sum(not one.part for one in changes)
    line(console, f"{len(changes) - added} changed, {added} added.")


def own_data(changes: Sequence[Change]) -> list[dict[str, object]]:
    """The same as plain data."""
    return [
        {
            "kind": one.kind,
            "id": one.id,
            "part": one.part,
            "from": one.before,
            "to": one.after,
            "was": one.was,
            "disagrees": one.disagrees,
            "cases": one.cases,
            "place": str(one.place),
        }
        for one in changes
    ]


def _named(one: Change) -> str:
    part = KEYS.get(one.part, one.part)
    return f"{one.id}, {part}" if part else f"{one.id} ({one.kind})"


def _difference(one: Change) -> str:
    cases = f"; {one.cases}" if one.cases else ""
    if not one.part:
        return f"added: {shortened(one.after)}{cases}"
    if not one.before:
        return f"added: {shortened(one.after)}{cases}"
    return f"{shortened(one.before)} → {shortened(one.after)}{cases}"


def _or_nothing(text: str) -> str:
    return f"“{shortened(text)}”" if text else "not there"


def show_learnt(console: Console, learnt: Learnt, prior: Knowledge) -> int:
    """The largest changes; how many there are."""
    causes, links = learnt_changes(learnt, prior)
    line(
        console,
        f"{counted(learnt.confirmed)} with a confirmed cause"
        + (f", and {learnt.unconfirmed} without one" if learnt.unconfirmed else "")
        + ".",
    )
    for says in learnt.left_out[:LISTED]:
        bullet(console, "!", says)
    if len(learnt.left_out) > LISTED:
        line(console, f"and {len(learnt.left_out) - LISTED} more left out.", 2)
    names: dict[str, Cause | State] = {**prior.causes, **prior.states}
    if causes:
        heading(console, "How common")
        far = sorted(
            causes, key=lambda c: -abs(_logit(causes[c].after, causes[c].before))
        )
        for cause in far[:LISTED]:
            one = causes[cause]
            name = prior.scales.not_covered_name
            if cause in prior.causes:
                name = prior.causes[cause].name
            says = f"{one.before:g} → {rounded(one.after):g}; {counted(one.cases)}"
            bullet(console, "*", f"{name}: {says}")
        _and_more(console, len(causes))
    if links:
        heading(console, "How strong")
        moved = sorted(
            links, key=lambda key: -abs(links[key].after - links[key].before)
        )
        for owner, target, value in moved[:LISTED]:
            one = links[owner, target, value]
            end = target if value in ("", "yes") else f"{target}={value}"
            says = f"{one.before:g} → {rounded(one.after):g}; {counted(one.cases)}"
            bullet(console, "*", f"{names[owner].name} → {end}: {says}")
        _and_more(console, len(links))
    return len(causes) + len(links)


def _logit(after: float, before: float) -> float:
    return math.log(after / (1 - after)) - math.log(before / (1 - before))


def _and_more(console: Console, count: int) -> None:
    if count > LISTED:
        line(console, f"and {count - LISTED} more, in the file.", 2)


def show_effect(
    console: Console, outcome: Outcome, model: Model, *, every: bool = False
) -> None:
    """Which past cases get better and which worse.

    Args:
        console: where it goes.
        outcome: the cases before and after.
        model: what the causes are called.
        every: list all that move, not the first few only.
    """
    heading(console, "The past cases, ranked again")
    moved = [("better", outcome.better), ("worse", outcome.worse)]
    for word, cases in moved:
        far = sorted(cases, key=lambda one: -abs(one.after.place - one.before.place))
        for one in far if every else far[:LISTED]:
            bullet(console, f"{word:>6}", _moved(one, model), 2)
        if not every and len(far) > LISTED:
            line(console, f"and {len(far) - LISTED} more that get {word}.", 9)
    if not outcome.cases:
        line(console, "There is no case with a confirmed cause to rank.")
        return
    same = len(outcome.cases) - len(outcome.better) - len(outcome.worse)
    before = [one.before for one in outcome.cases]
    after = [one.after for one in outcome.cases]
    line(
        console,
        f"{len(outcome.better)} better, {len(outcome.worse)} worse, {same} the same. "
        f"First: {_first(before)} → {_first(after)}. Mean place: "
        f"{mean_place(before):.2f} → {mean_place(after):.2f}. Mean log of the chance: "
        f"{mean_score(before):.2f} → {mean_score(after):.2f} (0 is best).",
    )
    if outcome.passed_over:
        says = f"{outcome.passed_over} passed over: no confirmed cause that is known."
        line(console, says)


def _moved(one: Replayed, model: Model) -> str:
    name = one.cause
    if one.cause in model.knowledge.causes:
        name = model.cause_name(one.cause)
    return f"{one.id}  {_place(one.before)} → {_place(one.after)}  {printable(name)}"


def _place(one: Placed) -> str:
    return f"{one.place} ({percent(one.chance)})" if one.ranked else "not ranked"


def _first(cases: Sequence[Placed]) -> str:
    return percent(sum(one.place == 1 for one in cases) / len(cases))


def effect_data(outcome: Outcome) -> dict[str, object]:
    """The same as plain data."""

    def data(one: Placed) -> dict[str, object]:
        return {"place": one.place if one.ranked else None, "chance": one.chance}

    return {
        "better": len(outcome.better),
        "worse": len(outcome.worse),
        "passed_over": outcome.passed_over,
        "cases": [
            {
                "id": one.id,
                "cause": one.cause,
                "before": data(one.before),
                "after": data(one.after),
            }
            for one in outcome.cases
        ],
    }


def show_drafts(
    console: Console, drafts: Sequence[tuple[Draft, Path]], looked_at: int
) -> None:
    """What was drafted, and where it lies."""
    if not drafts:
        says = (
            f"{counted(looked_at)} looked at; they give no reason to change anything."
        )
        line(console, says)
        return
    for draft, path in drafts:
        bullet(console, "*", draft.says)
        line(console, str(path), 2)
    how_to_accept(console)


def how_to_accept(console: Console) -> None:
    """Nothing has changed yet."""
    line(console)
    line(
        console,
        "Nothing has changed yet. Read the file, mend it, and then: diagnose case "
        "accept FILE",
    )
