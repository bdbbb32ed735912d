"""What is said while a person waits: on the standard error, so that no output changes.

A line where many cases are read for the first time; on a terminal, how far a long piece
of work has come, which is wiped away when it is done.
"""

from __future__ import annotations

import sys
import time
from collections.abc import Iterable, Iterator, Sized
from contextlib import suppress
from typing import Protocol, TypeVar

from diagnose.language import tr

T = TypeVar("T", covariant=True)

MANY = 1000
"""So many case files take a second or so to read."""

PATIENCE = 2.0
"""Seconds; what is done sooner shows nothing."""


class Several(Sized, Iterable[T], Protocol[T]):
    """What is gone through one by one, and has a length."""


def reading(count: int) -> None:
    """Say that so many cases are read, where that takes a while."""
    if count >= MANY and sys.stderr is not None:
        with suppress(OSError):
            says = tr(
                "Reading {count:,} cases; next time only those that have changed …",
                count=count,
            )
            print(says, file=sys.stderr, flush=True)


def told(what: str, several: Several[T]) -> Iterator[T]:
    """Go through several, and tell on a terminal how far that has come.

    Args:
        what: what is done to them: 'Ranking past cases again'.
        several: the things.
    """
    if sys.stderr is None or not sys.stderr.isatty():
        yield from several
        return
    from rich.console import Console
    from rich.progress import BarColumn, MofNCompleteColumn, Progress, TextColumn

    start = time.monotonic()
    count = len(several)
    progress = Progress(
        TextColumn("{task.description}"),
        BarColumn(20),
        MofNCompleteColumn(),
        console=Console(stderr=True),
        transient=True,
    )
    task = progress.add_task(what, total=count)
    shown = False
    try:
        for number, one in enumerate(several):
            if not shown and time.monotonic() - start > PATIENCE:
                progress.start()
                shown = True
            progress.update(task, completed=number)
            yield one
    finally:
        if shown:
            progress.stop()
