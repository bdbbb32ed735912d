"""Knowledge to test on."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from held import Hold, holder
from knowledge_copy import KnowledgeCopy
from msgspec.structs import replace

from diagnose import load_knowledge
from diagnose.proofs import PREFIX
from diagnose.records import Knowledge

SMALL = Path(__file__).parent / "small"


@pytest.fixture(autouse=True, scope="session")
def _nobodys_own(tmp_path_factory: pytest.TempPathFactory) -> None:
    """A shop folder, a language and settings of whoever runs the tests have no part
    in them."""
    os.environ.pop("DIAGNOSE_SHOP", None)
    os.environ["DIAGNOSE_LANGUAGE"] = "en"
    settings = tmp_path_factory.mktemp("settings") / "settings.yaml"
    os.environ["DIAGNOSE_SETTINGS"] = str(settings)


@pytest.fixture(scope="session")
def small() -> Knowledge:
    """The small knowledge of the tests: three causes, two states.

    Without the checks that settle its causes, which would outshine all else.
    """
    knowledge = load_knowledge(SMALL)
    causes = {
        cause.id: replace(
            cause, shows=[s for s in cause.shows if not s.finding.startswith(PREFIX)]
        )
        for cause in knowledge.causes.values()
    }
    return replace(knowledge, causes=causes, findings=knowledge.recorded())


@pytest.fixture(scope="session")
def small_with_proofs() -> Knowledge:
    """The small knowledge as it is loaded."""
    return load_knowledge(SMALL)


@pytest.fixture(scope="session")
def built_in() -> Knowledge:
    """The knowledge that comes with the program."""
    return load_knowledge()


@pytest.fixture
def copy(tmp_path: Path) -> KnowledgeCopy:
    """A copy of the small knowledge that the test may spoil."""
    return KnowledgeCopy.of_small(tmp_path / "knowledge")


@pytest.fixture
def hold(small: Knowledge, tmp_path: Path) -> Hold:
    """Hold an interview with these lines typed; after them the input ends."""
    return holder(small, tmp_path)
