"""Where the knowledge and the examples that come with the program are."""

from __future__ import annotations

from pathlib import Path


def built_in_folder() -> Path:
    """The knowledge that comes with the program."""
    package = Path(__file__).parent
    installed = package / "built_in"
    return installed if installed.is_dir() else package.parent / "knowledge"


def examples_folder() -> Path:
    """The invented shop and sheets that come with the program."""
    package = Path(__file__).parent
    installed = package / "examples"
    return installed if installed.is_dir() else package.parent / "cases"
