"""Trace a bad screen print back to what was done in the screen room."""

__version__ = "0.1.0"

from diagnose.consultation import Consultation
from diagnose.errors import (
    AnswerError,
    DiagnoseError,
    FolderError,
    KnowledgeError,
    SheetError,
)
from diagnose.knowledge import load_knowledge

__all__ = [
    "AnswerError",
    "Consultation",
    "DiagnoseError",
    "FolderError",
    "KnowledgeError",
    "SheetError",
    "load_knowledge",
]
