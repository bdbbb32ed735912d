"""Where a page goes: a new file, whole or not at all, or the standard output."""

from __future__ import annotations

from itertools import count
from pathlib import Path

from diagnose.errors import AnswerError, quoted
from diagnose.sheets import write_new


def put(page: str, file: Path | None, name: str) -> str:
    """Write a page; without a file beside what is there already, under a new name.

    Args:
        page: the HTML.
        file: where to.
        name: what the file is called where none is named, without its ending.

    Returns:
        The file's name.

    Raises:
        FolderError: the file is there already, or can't be written.
    """
    if file is None:
        names = (f"{name}{f'-{n}' if n > 1 else ''}.html" for n in count(1))
        file = next(path for path in map(Path, names) if not path.exists())
    elif file.suffix.lower() not in (".html", ".htm"):
        raise AnswerError(f"{quoted(str(file))}: name a file that ends in .html")
    write_new(file, page)
    return str(file)
