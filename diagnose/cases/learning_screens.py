"""What the commands that learn from cases print."""

from __future__ import annotations

import math
from collections.abc import Sequence
from pathlib import Path

from rich.console import Console

from diagnose.cases.learn import Learnt
from diagnose.cases.proposal import learnt_changes, rounded
from diagnose.cases.propose import Draft
from diagnose.cases.replay import Outcome, Placed, Replayed, mean_place, mean_score
from diagnose.language import mark, tr, trn
from diagnose.model import Model
from diagnose.overlay import Change
from diagnose.records import Cause, Knowledge, State
from diagnose.screens import (
    bullet,
    heading,
    line,
    percent,
    printable,
    shortened,
    time_it_takes,
)

LISTED = 12
"""So many of the largest changes are listed."""

KEYS = {"how_common": mark("how common")}


def show_own(console: Console, changes: Sequence[Change]) -> None:
    """What a shop's knowledge changes, and where the built-in one has moved since."""
    if not changes:
        line(console, tr("Nothing is changed from the built-in knowledge."))
        return
    for one in changes:
        bullet(console, "*", f"{_named(one)}: {_difference(one)}")
        line(console, str(one.place), 2)
    apart = [one for one in changes if one.disagrees]
    if apart:
        heading(console, tr("Where the built-in knowledge has changed since"))
        for one in apart:
            says = tr(
                "{name}: it was {was} when yours was written, it is {now} now; yours "
                "is {yours}.",
                name=_named(one),
                was=_or_nothing(one.was or ""),
                now=_or_nothing(one.before),
                yours=_or_nothing(one.after),
            )
            bullet(console, "*", says)
    line(console)
    added = sum(not one.part for one in changes)
    changed = len(changes) - added
    line(
        console,
        tr("{changed} changed, {added} added.", changed=changed, added=added),
    )


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
    part = tr(KEYS[one.part]) if one.part in KEYS else one.part
    return f"{one.id}, {part}" if part else f"{one.id} ({one.kind})"


def _difference(one: Change) -> str:
    cases = f"; {one.cases}" if one.cases else ""
    if not (one.part and one.before):
        return tr("added: {text}", text=shortened(one.after)) + cases
    return f"{shortened(one.before)} → {shortened(one.after)}{cases}"


def _or_nothing(text: str) -> str:
    return f"“{shortened(text)}”" if text else tr("not there")


def show_learnt(console: Console, learnt: Learnt, prior: Knowledge) -> int:
    """The largest changes; how many there are."""
    causes, links = learnt_changes(learnt, prior)
    without = ""
    if learnt.unconfirmed:
        without = tr(", and {count} without one", count=learnt.unconfirmed)
    says = trn(
        "{n} case with a confirmed cause{without}.",
        "{n} cases with a confirmed cause{without}.",
        round(learnt.confirmed),
        without=without,
    )
    line(console, says)
    for says in learnt.left_out[:LISTED]:
        bullet(console, "!", says)
    if len(learnt.left_out) > LISTED:
        left = len(learnt.left_out) - LISTED
        line(console, tr("and {count} more left out.", count=left), 2)
    names: dict[str, Cause | State] = {**prior.causes, **prior.states}
    if causes:
        heading(console, tr("How common"))
        far = sorted(
            causes, key=lambda c: -abs(_logit(causes[c].after, causes[c].before))
        )
        for cause in far[:LISTED]:
            one = causes[cause]
            name = prior.scales.not_covered_name
            if cause in prior.causes:
                name = prior.causes[cause].name
            says = f"{one.before:g} → {rounded(one.after):g}; {_counted(one.cases)}"
            bullet(console, "*", f"{name}: {says}")
        _and_more(console, len(causes))
    if links:
        heading(console, tr("How strong"))
        moved = sorted(
            links, key=lambda key: -abs(links[key].after - links[key].before)
        )
        for owner, target, value in moved[:LISTED]:
            one = links[owner, target, value]
            end = target if value in ("", "yes") else f"{target}={value}"
            says = f"{one.before:g} → {rounded(one.after):g}; {_counted(one.cases)}"
            bullet(console, "*", f"{names[owner].name} → {end}: {says}")
        _and_more(console, len(links))
    return len(causes) + len(links)


def _counted(cases: float) -> str:
    return trn("{n} case", "{n} cases", round(cases))


def _logit(after: float, before: float) -> float:
    return math.log(after / (1 - after)) - math.log(before / (1 - before))


def _and_more(console: Console, count: int) -> None:
    if count > LISTED:
        line(console, tr("and {count} more, in the file.", count=count - LISTED), 2)


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
    heading(console, tr("The past cases, ranked again"))
    moved = [
        (tr("better"), outcome.better, mark("and {count} more that get better.")),
        (tr("worse"), outcome.worse, mark("and {count} more that get worse.")),
    ]
    for word, cases, others in moved:
        far = sorted(cases, key=lambda one: -abs(one.after.place - one.before.place))
        for one in far if every else far[:LISTED]:
            bullet(console, f"{word:>6}", _moved(one, model), 2)
        if not every and len(far) > LISTED:
            line(console, tr(others, count=len(far) - LISTED), 9)
    if not outcome.cases:
        line(console, tr("There is no case with a confirmed cause to rank."))
        return
    same = len(outcome.cases) - len(outcome.better) - len(outcome.worse)
    before = [one.before for one in outcome.cases]
    after = [one.after for one in outcome.cases]
    line(
        console,
        tr(
            "{better} better, {worse} worse, {same} the same. First: {first_before} → "
            "{first_after}. Mean place: {place_before:.2f} → {place_after:.2f}. Mean "
            "log of the chance: {log_before:.2f} → {log_after:.2f} (0 is best).",
            better=len(outcome.better),
            worse=len(outcome.worse),
            same=same,
            first_before=_first(before),
            first_after=_first(after),
            place_before=mean_place(before),
            place_after=mean_place(after),
            log_before=mean_score(before),
            log_after=mean_score(after),
        ),
    )
    if outcome.passed_over:
        says = tr(
            "{count} passed over: no confirmed cause that is known.",
            count=outcome.passed_over,
        )
        line(console, says)


def show_left(console: Console, outcome: Outcome, path: Path) -> None:
    """On how many cases the effect was seen, and how to see it on all."""
    done = len({one.id for one in outcome.cases}) + outcome.passed_over
    every = done + outcome.left
    minutes = outcome.seconds / max(done, 1) * every / 60
    line(
        console,
        tr(
            "This was checked on {done:,} of the {every:,} cases, drawn at random, as "
            "all would take {time}. To check it on all of them:",
            done=done,
            every=every,
            time=time_it_takes(minutes),
        ),
    )
    whole(console, f"diagnose case replay --with {path}", 2)


def _moved(one: Replayed, model: Model) -> str:
    name = one.cause
    if one.cause in model.knowledge.causes:
        name = model.cause_name(one.cause)
    return f"{one.id}  {_place(one.before)} → {_place(one.after)}  {printable(name)}"


def _place(one: Placed) -> str:
    return f"{one.place} ({percent(one.chance)})" if one.ranked else tr("not ranked")


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
        says = trn(
            "{n} case looked at; they give no reason to change anything.",
            "{n} cases looked at; they give no reason to change anything.",
            looked_at,
        )
        line(console, says)
        return
    for draft, path in drafts:
        bullet(console, "*", draft.says)
        whole(console, str(path), 2)
    how_to_accept(console)


def whole(console: Console, text: str, indent: int = 0) -> None:
    """A path or a command on a line of its own, in one piece, to be copied."""
    console.print(" " * indent + printable(text), soft_wrap=True)


def how_to_accept(console: Console) -> None:
    """Nothing has changed yet."""
    line(console)
    line(
        console,
        tr(
            "Nothing has changed yet. Read the file, mend it, and then: diagnose case "
            "accept FILE"
        ),
    )
