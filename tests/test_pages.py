"""A page for each record, and finding records by a printer's words."""

from __future__ import annotations

import io

import pytest

from diagnose.errors import AnswerError
from diagnose.examiner import coverage
from diagnose.model import model_of
from diagnose.pages import KINDS, find, records_of, show_page
from diagnose.records import Knowledge
from diagnose.screens import new_console

WIDTH = 80


def page(knowledge: Knowledge, id: str) -> str:
    """A record's page as it stands on a screen of 80 columns."""
    console = new_console(WIDTH)
    console.file = io.StringIO()
    show_page(console, model_of(knowledge), id)
    return console.file.getvalue()


@pytest.mark.parametrize("kind", KINDS)
def test_every_record_has_a_page(built_in: Knowledge, kind: str) -> None:
    """Each page names its record, fits 80 columns and has no escape codes."""
    for id in records_of(built_in, kind):
        record = getattr(built_in, kind)[id]
        text = page(built_in, id)
        assert f"({kind}: {id}" in text
        assert all(len(row) <= WIDTH for row in text.splitlines())
        assert "\x1b" not in text
        if kind != "sources":
            assert "Sources" in text
        name = record.title if kind == "sources" else record.name
        assert " ".join(name.split()[:2]) in text


def test_a_cause_says_what_it_makes_how_it_shows_and_what_to_do(
    small: Knowledge,
) -> None:
    """All that someone wants to know of a cause is on its page."""
    text = " ".join(page(small, "few-coats").split())
    for part in (
        "too few coats (causes: few-coats; tried)",
        "stencil too thin (thin): almost always. One coat is thin.",
        "One coat was put on. (coats)",
        "slack mesh (slack): Press it.",
        "Count the coats. (about 10 hours.)",
        "Coat again (coat-again; usually helps; about 20 min)",
        "s1/s1-c1: A source",
    ):
        assert part in text


def test_a_finding_says_what_brings_it_about(small: Knowledge) -> None:
    """Its makers, its other names, and what it needs."""
    text = " ".join(page(small, "stairs").split())
    assert "stencil too thin (thin): often. The threads shape the edge." in text
    assert "Also called: blocky edges; jagged edges" in text
    assert "a thickness gauge" in page(small, "thickness")


def test_a_rule_reads_as_when_and_then(small: Knowledge) -> None:
    """Conditions and what follows, in words."""
    text = " ".join(page(small, "tight-and-slack").split())
    assert "or The mesh gives. (gives)" in text
    assert "unless It is film. (stencil)" in text
    assert "more likely: slack mesh (slack)" in text
    assert "It misleads: Never." in text


def test_a_misspelt_id_names_the_nearest(small: Knowledge) -> None:
    """One sentence, with what would be right and another way to look."""
    with pytest.raises(AnswerError, match=r"'few-coat' \(did you mean 'few-coats'"):
        page(small, "few-coat")


@pytest.mark.parametrize(
    ("words", "id"),
    [
        ("blocky edges", "edges-sawtooth"),
        ("edge like stairs", "edges-sawtooth"),
        ("too few coats", "coats-too-few"),
        ("ghosting", "double-image"),
        ("ghosting", "old-image-in-mesh"),
        ("GHOSTING!", "set-off-on-back"),
        ("nicked trough", "trough-edge-nicked"),
        ("caustic haze remover", "caustic-haze-remover"),
        ("coats-too-few", "coats-too-few"),
    ],
)
def test_records_are_found_by_a_printers_words(
    built_in: Knowledge, words: str, id: str
) -> None:
    """common practice: what printers call these things."""
    assert id in {one.id for one in find(built_in, words)}


@pytest.mark.parametrize("words", ["", "   ", "!!", "🙂", "zzzz qqqq", "x" * 5000])
def test_words_that_mean_nothing_find_nothing(built_in: Knowledge, words: str) -> None:
    """No record is dragged in by nothing."""
    assert find(built_in, words) == []


def test_the_table_counts_each_stage(built_in: Knowledge) -> None:
    """Its causes add up to all causes, and so do its states."""
    rows = coverage(built_in)[1:]
    assert len(rows) == len(built_in.stages)
    counts = [[int(word) for word in row.split()[-4:]] for row in rows]
    assert sum(row[0] for row in counts) == len(built_in.causes)
    assert sum(row[1] for row in counts) == len(built_in.states)
    assert max(len(row) for row in rows) <= WIDTH


LEAST = {
    "mesh": 9,
    "cleaning": 7,
    "emulsion": 8,
    "coating": 12,
    "drying": 9,
    "room-light": 4,
    "positive": 10,
    "exposure": 12,
    "wash-out": 6,
    "touch-up": 3,
    "press": 11,
    "ink": 8,
    "substrate": 6,
    "reclaiming": 6,
}
"""The least number of causes that each stage of the work has to hold."""


@pytest.mark.parametrize(("stage", "least"), LEAST.items())
def test_no_stage_of_the_work_is_thin(
    built_in: Knowledge, stage: str, least: int
) -> None:
    """The breadth that the trade asks for, stage by stage."""
    causes = [c for c in built_in.causes.values() if c.stage == stage]
    assert len(causes) >= least
