"""Writes whole consultations of invented people to cases/consultations.

    python tests/record_consultations.py

Who they are and what is so in their shop stands in tests/consultations.yaml.
"""

from __future__ import annotations

import tempfile
from pathlib import Path
from typing import Any

import yaml
from people import Person, tidy

from diagnose.knowledge import load_knowledge
from diagnose.records import Knowledge

PEOPLE = Path(__file__).parent / "consultations.yaml"
RECORDED = Path(__file__).parent.parent / "cases" / "consultations"


def people() -> list[dict[str, Any]]:
    """The invented people."""
    found: list[dict[str, Any]] = yaml.safe_load(PEOPLE.read_text())
    return found


def recorded(knowledge: Knowledge, one: dict[str, Any]) -> str:
    """A whole consultation, as it stood on the screen."""
    with tempfile.TemporaryDirectory() as kept:
        screen = tidy(Person(knowledge, one, Path(kept)).consult())
    said = f'$ diagnose "{one["says"]}"\n' if one.get("says") else "$ diagnose\n"
    return f"INVENTED. {one['about']}\n\n{said}{screen}"


def main() -> None:
    knowledge = load_knowledge()
    RECORDED.mkdir(exist_ok=True)
    for one in people():
        (RECORDED / f"{one['id']}.txt").write_text(recorded(knowledge, one))
        print(one["id"])


if __name__ == "__main__":
    main()
