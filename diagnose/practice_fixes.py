"""The fixes to choose from at the end of a round: one that helps among likely ones.

The wrong ones are for causes that one could take for the true one: the one that was
named, its look-alikes, and those that still stand next by what was asked. All are of
one moment, and none of them helps too.
"""

from __future__ import annotations

import random
from collections.abc import Iterator
from itertools import chain

from diagnose.plan import causes_of
from diagnose.practise import Play
from diagnose.records import Fix

OFFERED = 5

LEAST = 4
"""A moment with fewer fixes to choose from gives way to the next one."""


def fixes_offered(play: Play) -> list[Fix]:
    """The fixes of a round, mixed; the same for the same round and looks."""
    fixes = play.model.knowledge.fixes.values()
    draw = random.Random(f"{play.round.seed}/fixes")
    helping = [fix for fix in fixes if play.cured_by(fix)]
    draw.shuffle(helping)
    moments = list(play.model.knowledge.moments)
    helping.sort(key=lambda fix: moments.index(fix.moment))
    best: list[Fix] = []
    for fix in helping:
        offered = [fix, *_wrong(play, fix.moment, OFFERED - 1)]
        if len(offered) > len(best):
            best = offered
        if len(best) >= LEAST:
            break
    draw.shuffle(best)
    return best


def near_stages(play: Play) -> set[str]:
    """The stages that the fault could plainly come from: where one was called to, and
    those of its causes and of their look-alikes."""
    causes = play.model.knowledge.causes
    alike = {one.id for cause in play.round.causes for one in causes[cause].looks_like}
    return {play.stage} | {
        causes[cause].stage for cause in {*play.round.causes, *alike}
    }


def stages_of(play: Play, fix: Fix) -> set[str]:
    """The stages that the causes which a fix is for come from."""
    causes = play.model.knowledge.causes
    for_them = {cure.cause for cure in fix.cures if cure.cause} | {
        cause for cause in causes_of(play.consultation.look, fix) if cause in causes
    }
    return {causes[cause].stage for cause in for_them}


def _wrong(play: Play, moment: str, most: int) -> list[Fix]:
    """Fixes of a moment that do not help, each for another cause, the likeliest first;
    one of them at most is for causes of a stage that is far from it."""
    near, found, far = near_stages(play), [], 0
    for cause in _rivals(play):
        for fix in _fixes_of(play, cause):
            if fix.moment != moment or fix in found or play.cured_by(fix):
                continue
            is_far = not stages_of(play, fix) & near
            if is_far and far:
                continue
            far += is_far
            found.append(fix)
            break
        if len(found) == most:
            break
    return found


def _fixes_of(play: Play, cause: str) -> list[Fix]:
    """The fixes for a cause, then those for what it brings about."""
    knowledge = play.model.knowledge
    states = {one.state for one in knowledge.causes[cause].makes}
    fixes = knowledge.fixes.values()
    own = [fix for fix in fixes if any(cure.cause == cause for cure in fix.cures)]
    return own + [
        fix for fix in fixes if any(cure.state in states for cure in fix.cures)
    ]


def _rivals(play: Play) -> Iterator[str]:
    """The causes that it could be taken for, those that are easiest to take first."""
    knowledge, true = play.model.knowledge, play.round.causes
    alike = [one.id for cause in true for one in knowledge.causes[cause].looks_like]
    alike += [
        cause.id
        for cause in knowledge.causes.values()
        if any(one.id in true for one in cause.looks_like)
    ]
    standing = [cause for cause, _, _ in play.consultation.chances()]
    taking_turns = [
        cause for pair in zip(alike, standing, strict=False) for cause in pair
    ]
    near = near_stages(play)
    rest = [c.id for c in knowledge.causes.values() if c.stage in near]
    every = chain(play.round.named, taking_turns, alike, standing, rest)
    for cause in dict.fromkeys(every):
        if cause in knowledge.causes and cause not in true:
            yield cause
