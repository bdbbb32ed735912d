"""Faults and causes as published: each claim's symptom leads to what it blames.

The claims and where they were printed stand in published/claims.yaml.
"""

from __future__ import annotations

from collections import Counter
from functools import cache
from pathlib import Path

import msgspec
import pytest
from msgspec import Struct
from oracle import reading_as, strongest

from diagnose import Consultation
from diagnose.model import model_of
from diagnose.records import Knowledge

FIRST = 10
STRONG = 0.5


class Source(Struct, frozen=True, forbid_unknown_fields=True):
    """Where a claim was printed."""

    id: str
    title: str
    publication: str
    url: str
    year: int | None = None
    author: str = ""


class Claim(Struct, frozen=True, forbid_unknown_fields=True):
    """What a source says, and the records that say the same."""

    id: str
    source: str
    symptom: str
    blames: str
    finding: dict[str, str]
    stage: str
    cause: list[str]


class Published(Struct, frozen=True, forbid_unknown_fields=True):
    """The whole file."""

    sources: list[Source]
    claims: list[Claim]


PUBLISHED = msgspec.yaml.decode(
    (Path(__file__).parent / "published" / "claims.yaml").read_bytes(), type=Published
)
SOURCES = {source.id: source for source in PUBLISHED.sources}

each_claim = pytest.mark.parametrize(
    "claim", PUBLISHED.claims, ids=[claim.id for claim in PUBLISHED.claims]
)


def told(claim: Claim) -> str:
    """The claim and where it was printed, for the message of a failure."""
    source = SOURCES[claim.source]
    year = source.year or "no year"
    return (
        f"{claim.id}: {claim.symptom}; blamed: {claim.blames} "
        f"({source.id}, '{source.title}', {source.publication}, {year}, {source.url})"
    )


@cache
def strong_findings(knowledge: Knowledge, cause: str) -> dict[str, str]:
    """What the cause alone makes at least as likely as not, as it is answered."""
    model = model_of(knowledge)
    found = {}
    for finding in model.network.outcomes.keys() & knowledge.recorded():
        chances = model.chances_alone(cause, finding)
        *others, (value, chance) = sorted(chances.items(), key=lambda item: item[1])
        if value == "no" or chance < STRONG or others[-1][1] == chance:
            continue
        asked = model.asked_as(knowledge.findings[finding])
        if asked.kind == "reading":
            value = reading_as(
                model, lambda id: strongest(model.chances_alone(cause, id)), asked
            )
        found[asked.id] = value
    return found


@cache
def ranked(
    knowledge: Knowledge, answers: frozenset[tuple[str, str]], stage: str = ""
) -> list[str]:
    """The causes from the first to the last, with these answers."""
    consultation = Consultation(knowledge)
    if stage:
        consultation.at_stage(stage)
    for finding, value in sorted(answers):
        consultation.answer(finding, value)
    return [cause for cause, _, _ in consultation.chances()]


@each_claim
def test_the_symptom_alone_brings_what_is_blamed_into_the_first_ten(
    built_in: Knowledge, claim: Claim
) -> None:
    """The fault as it is seen, and the stage, before any question is asked."""
    order = ranked(built_in, frozenset(claim.finding.items()), claim.stage)[:FIRST]
    assert set(order) & set(claim.cause), f"{told(claim)}: {order}"


@each_claim
def test_with_all_that_it_mostly_shows_what_is_blamed_comes_first(
    built_in: Knowledge, claim: Claim
) -> None:
    """The symptom, and each finding that the cause makes at least as likely as not."""
    for cause in claim.cause:
        answers = {**strong_findings(built_in, cause), **claim.finding}
        order = ranked(built_in, frozenset(answers.items()))
        assert order[0] == cause, f"{told(claim)}: {cause} after {order[:3]}"


def test_every_claim_can_be_looked_up(built_in: Knowledge) -> None:
    """Each stands here once and has a source, the one that the knowledge cites."""
    assert {claim.source for claim in PUBLISHED.claims} == set(SOURCES)
    assert len(SOURCES) == len(PUBLISHED.sources)
    assert max(Counter(claim.id for claim in PUBLISHED.claims).values()) == 1
    for source in PUBLISHED.sources:
        assert built_in.sources[source.id].url == source.url
        assert built_in.sources[source.id].title == source.title


def test_the_claims_are_spread_over_the_work(built_in: Knowledge) -> None:
    """At least 65 claims, some from every stage that a person can be at."""
    assert len(PUBLISHED.claims) >= 65
    asked = {stage.id for stage in built_in.stages.values() if stage.here}
    assert asked <= {claim.stage for claim in PUBLISHED.claims}
