"""Trace a bad screen print back to what was done in the screen room."""

from __future__ import annotations

from importlib import import_module
from typing import TYPE_CHECKING, Any

__version__ = "0.1.0"

if TYPE_CHECKING:
    from diagnose.consultation import Consultation
    from diagnose.errors import (
        AnswerError,
        CalculationError,
        CaseError,
        DiagnoseError,
        FolderError,
        KnowledgeError,
        SheetError,
    )
    from diagnose.knowledge import load_knowledge

__all__ = [
    "AnswerError",
    "CalculationError",
    "CaseError",
    "Consultation",
    "DiagnoseError",
    "FolderError",
    "KnowledgeError",
    "SheetError",
    "load_knowledge",
]

_HOMES = {"Consultation": "consultation", "load_knowledge": "knowledge"}


def __getattr__(name: str) -> Any:
    """The public names, fetched when first used: a command starts without them."""
    if name not in __all__:
        raise AttributeError(f"module 'diagnose' has no attribute {name!r}")
    home = import_module(f"diagnose.{_HOMES.get(name, 'errors')}")
    return getattr(home, name)
