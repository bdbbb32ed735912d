"""The knowledge against itself: each cause is found, and told from each other."""

from __future__ import annotations

from itertools import combinations

import pytest
from oracle import consult_as

from diagnose.examiner import told_apart_by
from diagnose.knowledge import load_knowledge
from diagnose.model import model_of
from diagnose.records import Knowledge

CAUSES = sorted(load_knowledge().causes)


@pytest.mark.parametrize("cause", CAUSES)
def test_a_consultation_answered_as_the_cause_makes_it_ends_with_it_first(
    built_in: Knowledge, cause: str
) -> None:
    """The strongest findings yes, the rest no: the cause comes out on top."""
    consultation = consult_as(built_in, cause)
    assert consultation.chances()[0][0] == cause
    assert consultation.next_question() is None


def test_every_pair_of_causes_is_told_apart_or_listed(built_in: Knowledge) -> None:
    """Some finding tells each cause from each other; else the pair is listed, with
    the reason, in not-apart.yaml."""
    model = model_of(built_in)
    listed = {frozenset(pair.causes) for pair in built_in.not_apart.values()}
    together = {
        frozenset(pair)
        for pair in combinations(built_in.causes, 2)
        if told_apart_by(model, *pair) is None
    }
    assert together == listed


def test_there_is_enough_knowledge(built_in: Knowledge) -> None:
    """Nothing was lost on the way: the least number of records of each kind."""
    assert len(built_in.causes) >= 25
    assert len(built_in.states) >= 14
    assert len(built_in.findings) >= 60
    assert len(built_in.fixes) >= 40
    assert len(built_in.rules) >= 15
    assert len(built_in.cautions) >= 10
