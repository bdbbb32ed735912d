"""What `from diagnose import …` offers; a change here is a change for every user."""

from __future__ import annotations

import inspect

import diagnose
from diagnose import errors

PUBLIC = {
    "AnswerError",
    "CalculationError",
    "CaseError",
    "Consultation",
    "DiagnoseError",
    "FolderError",
    "KnowledgeError",
    "SheetError",
    "load_knowledge",
}

CONSULTATION = {
    "answer": ["finding", "value"],
    "at_odds": [],
    "at_stage": ["stage"],
    "chances": [],
    "confirmed": [],
    "copy": [],
    "describe": ["text"],
    "finding": ["id"],
    "finish": [],
    "have": ["tool", "is_here"],
    "look": [],
    "next_question": [],
    "next_questions": ["most"],
    "not_tried": ["fix"],
    "nothing_to_ask": [],
    "opening_signs": ["stage", "most"],
    "outlook": ["question", "most"],
    "plan": [],
    "question": ["finding"],
    "ranking": [],
    "resume": ["path", "knowledge"],
    "save": ["path"],
    "separates": ["question", "most"],
    "sides": ["reading"],
    "suspected": ["text"],
    "tried": ["fix", "worked"],
    "turning": ["most"],
    "understand": ["text"],
    "what_if": ["finding", "value"],
    "why_not": ["cause"],
    "withdraw": ["finding"],
}


def test_the_public_names_are_these() -> None:
    """No more and no fewer, and all of them are there."""
    assert set(diagnose.__all__) == PUBLIC
    assert all(hasattr(diagnose, name) for name in PUBLIC)


def test_the_version_is_three_numbers() -> None:
    """The version is written as a.b.c."""
    assert [part.isdigit() for part in diagnose.__version__.split(".")] == [True] * 3


def test_a_consultation_can_do_this() -> None:
    """Its public methods and their arguments are pinned."""
    found: dict[str, list[str]] = {}
    for name, member in inspect.getmembers(diagnose.Consultation):
        if name.startswith("_"):
            continue
        if isinstance(member, property):
            found[name] = []
            continue
        names = list(inspect.signature(member).parameters)
        found[name] = [argument for argument in names if argument != "self"]
    assert found == CONSULTATION


def test_every_public_name_is_documented() -> None:
    """Each has a docstring, and so has each method of a consultation."""
    documented = [getattr(diagnose, name) for name in PUBLIC]
    documented += [getattr(diagnose.Consultation, name) for name in CONSULTATION]
    assert all(inspect.getdoc(one) for one in documented)


def test_every_error_can_be_caught_as_one() -> None:
    """All that is raised on purpose is a DiagnoseError, and can be imported."""
    made = {
        name
        for name, one in vars(errors).items()
        if inspect.isclass(one) and issubclass(one, Exception)
    }
    assert made <= PUBLIC
    assert all(issubclass(getattr(diagnose, n), diagnose.DiagnoseError) for n in made)


def test_errors_that_are_documented_are_raised_by_name() -> None:
    """A method that says 'Raises:' names one of the public errors."""
    for name in CONSULTATION:
        text = inspect.getdoc(getattr(diagnose.Consultation, name)) or ""
        if "Raises:" in text:
            raised = text.split("Raises:")[1].split(":")[0].strip()
            assert raised in PUBLIC
