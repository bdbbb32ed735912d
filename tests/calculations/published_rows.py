"""Published check rows of a topic, each with its source beside the figure."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import yaml

FOLDER = Path(__file__).parent.parent / "published"


@dataclass(frozen=True, slots=True)
class Row:
    """One published value; `given` are the inputs as they are printed."""

    id: str
    given: Mapping[str, Any]
    units: Mapping[str, str]
    expected: float
    unit: str
    tolerance: float
    cited: str

    def __str__(self) -> str:
        return f"{self.id}: {self.cited}"


def rows(topic: str) -> list[Row]:
    """The rows of tests/published/TOPIC.yaml."""
    published = yaml.safe_load((FOLDER / f"{topic}.yaml").read_text("utf-8"))
    sources = {source["id"]: source for source in published["sources"]}
    assert {row["source"] for row in published["rows"]} == set(sources)
    return [
        Row(
            id=row["id"],
            given={name: one["value"] for name, one in row["inputs"].items()},
            units={name: one["unit"] for name, one in row["inputs"].items()},
            expected=row["expected"]["value"],
            unit=row["expected"]["unit"],
            tolerance=row.get("allow", row["expected"]["tolerance"]),
            cited="{title} ({year}), {url}".format(**sources[row["source"]]),
        )
        for row in published["rows"]
    ]
