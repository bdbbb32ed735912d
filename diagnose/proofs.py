"""The checks that settle a cause, as findings that can be asked for.

A cause says in `settled_by` how to prove or disprove it. Each such check becomes a
yes-no finding, which that cause alone shows: how often the check
finds the cause where it is, and where it is not, stand in the scales.
"""

from __future__ import annotations

from collections.abc import Iterator

from msgspec.structs import replace

from diagnose.language import tr
from diagnose.records import Cause, Check, Knowledge, Proof, Shows

PREFIX = "proof-of-"


def with_proofs(knowledge: Knowledge) -> Knowledge:
    """The knowledge with a finding, and the link to it, for each settling check."""
    scales = knowledge.scales
    causes, findings = {}, dict(knowledge.findings)
    for cause in knowledge.causes.values():
        links = []
        for id, check in proofs_of(cause):
            findings[id] = _proof(id, cause, check, scales.check_misfinds)
            links.append(
                Shows(
                    finding=id,
                    strength=scales.check_finds,
                    because=tr("It is the check that settles this cause."),
                    sources=list(cause.sources),
                )
            )
        causes[cause.id] = replace(cause, shows=[*cause.shows, *links])
    return replace(knowledge, causes=causes, findings=findings)


def proofs_of(cause: Cause) -> Iterator[tuple[str, Check]]:
    """The settling checks of a cause, each with the id of its finding."""
    for number, check in enumerate(cause.settled_by, 1):
        ending = "" if number == 1 else f"-{number}"
        yield f"{PREFIX}{cause.id}{ending}", check


def _proof(id: str, cause: Cause, check: Check, seen_anyway: str) -> Proof:
    alike = cause.looks_like[0].tell_apart if cause.looks_like else cause.what
    return Proof(
        id=id,
        status=cause.status,
        sources=list(cause.sources),
        name=tr("the check for {name}", name=cause.name),
        role="check",
        kind="yes-no",
        question=tr("Make this check. Is it {name}?", name=cause.name),
        how=check.how,
        not_this=alike,
        minutes=check.minutes,
        needs=list(check.needs),
        cautions=list(check.cautions),
        says_yes=tr("It was checked and found: {name}.", name=cause.name),
        says_no=tr("It was checked and is not so: {name}.", name=cause.name),
        seen_anyway=seen_anyway,
    )
