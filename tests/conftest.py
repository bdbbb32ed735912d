"""Knowledge to test on."""

from __future__ import annotations

from pathlib import Path

import pytest
from knowledge_copy import KnowledgeCopy

from diagnose import load_knowledge
from diagnose.records import Knowledge


@pytest.fixture(scope="session")
def small() -> Knowledge:
    """The small knowledge of the tests: three causes, two states."""
    return load_knowledge(Path(__file__).parent / "small")


@pytest.fixture(scope="session")
def built_in() -> Knowledge:
    """The knowledge that comes with the program."""
    return load_knowledge()


@pytest.fixture
def copy(tmp_path: Path) -> KnowledgeCopy:
    """A copy of the small knowledge that the test may spoil."""
    return KnowledgeCopy.of_small(tmp_path / "knowledge")
