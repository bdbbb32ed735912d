"""The way from a fault to a better ranking, shown on a copy of the invented shop.

The steps stand in a file beside the shop's cases. Every command is really run; of a
long output a part is shown.
"""

from __future__ import annotations

import io
import os
import shlex
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import chdir, contextmanager, redirect_stdout, suppress
from pathlib import Path

import msgspec
from rich.console import Console

from diagnose.cases.shop import Shop
from diagnose.consultation import Consultation
from diagnose.errors import FolderError
from diagnose.home import examples_folder
from diagnose.knowledge import load_knowledge
from diagnose.language import tr
from diagnose.screens import line, percent
from diagnose.sheets import read_sheet
from diagnose.shelf import INDEX, SHOP_VARIABLE
from diagnose.yamltext import parse, read_text

SHOP = "harbour-street"
FAULT = "new-lamp"
SHEET = "next-screen.yaml"
STEPS = "steps.yaml"

CUT = "[…]"
"""Stands where output is left out."""

Run = Callable[[Sequence[str]], int]


class Step(msgspec.Struct, forbid_unknown_fields=True):
    """What is said, the command that is run, and which part of its output is shown.

    The `first` lines are shown, from the line on that starts with `from_`, and then the
    `last` ones; then the `file` that was written. `place` names a cause whose place in
    the ranking of the sheet is told afterwards.
    """

    says: str
    run: str
    first: int = 20
    last: int = 0
    file: str = ""
    from_: str = msgspec.field(default="", name="from")
    place: str = ""


def steps() -> list[Step]:
    """The steps as they are written down."""
    path = examples_folder() / FAULT / STEPS
    data, _ = parse(read_text(path), str(path))
    return msgspec.convert(data, list[Step], strict=False)


def copied(folder: Path | None) -> Path:
    """A copy of the invented shop with the fault that it has next.

    Args:
        folder: where to; it may not be there yet. A new one among those that are there
            for a while where left out.

    Raises:
        FolderError: the folder is there already, or can't be made.
    """
    if folder is not None and os.path.lexists(folder):
        raise FolderError(f"{folder}: this is there already; name a new folder.")
    examples = examples_folder()
    try:
        if folder is None:
            folder = Path(tempfile.mkdtemp(prefix=f"{SHOP}-"))
        else:
            folder.mkdir(parents=True)
        made_anew = shutil.ignore_patterns(f"{INDEX}*", ".lock")
        shutil.copytree(examples / SHOP, folder / "shop", ignore=made_anew)
        for path in (examples / FAULT).iterdir():
            if path.name != STEPS:
                shutil.copy(path, folder / path.name)
    except OSError as error:
        reason = error.strerror or str(error)
        raise FolderError(f"{folder}: the copy can't be made: {reason}.") from None
    return folder


@contextmanager
def _at_home_in(folder: Path) -> Iterator[None]:
    """Work in the copy, as a person would who has gone there."""
    before = os.environ.get(SHOP_VARIABLE)
    with chdir(folder):
        os.environ[SHOP_VARIABLE] = "shop"
        try:
            yield
        finally:
            del os.environ[SHOP_VARIABLE]
            if before is not None:
                os.environ[SHOP_VARIABLE] = before


def show(console: Console, folder: Path, run: Run) -> int:
    """Go through the steps in a copy, waiting for Enter at a terminal.

    Args:
        console: where it goes.
        folder: the copy.
        run: runs a command of the program, and gives its exit code.

    Returns:
        The exit code: 0, or that of the command that went wrong.
    """
    every = steps()
    code = 0
    line(console, tr("All of this is invented, and works on a copy:"))
    _typed(console, f"cd {shlex.quote(str(folder))}")
    _typed(console, f"export {SHOP_VARIABLE}=shop      " + tr("(Windows: set …)"))
    with _at_home_in(folder):
        for number, step in enumerate(every, 1):
            line(console)
            says = tr(
                "{number} of {count}. {says}",
                number=number,
                count=len(every),
                says=tr(step.says),
            )
            line(console, says, style="bold")
            line(console)
            code = _shown(console, step, run)
            if code or (number < len(every) and not _goes_on(console)):
                break
    line(console)
    line(console, tr("The copy stays where it is; delete it when you are done:"))
    console.print(f"  {folder}", soft_wrap=True)
    line(
        console,
        tr(
            "Look further there: diagnose case list, diagnose case show ID, diagnose "
            "own, diagnose case watch FILE.html. With a shop of your own: diagnose "
            "case add --shop FOLDER"
        ),
    )
    return code


def _shown(console: Console, step: Step, run: Run) -> int:
    """One command and what comes of it."""
    words = shlex.split(step.run)
    if "{" in step.run:
        names = _names(Shop("shop"))
        words = [word.format_map(names) for word in words]
    _typed(console, f"diagnose {shlex.join(words)}")
    caught = io.StringIO()
    with redirect_stdout(caught):
        code = run(words)
    for one in shortened(caught.getvalue().splitlines(), step):
        console.print(one, soft_wrap=True)
    if step.file and not code:
        path = step.file.format_map(_names(Shop("shop")))
        line(console)
        console.print(tr("{path} holds:", path=path), soft_wrap=True)
        for one in read_text(Path(path)).splitlines():
            console.print(one, soft_wrap=True)
    if step.place:
        _tell_place(console, step.place)
    return code


def _names(shop: Shop) -> Mapping[str, str]:
    """What the steps can't know beforehand: the newest case, and the drafts."""
    drafts = sorted(shop.proposals.glob("*.yaml"))
    return {
        "newest": shop.ids()[-1],
        "links": next((str(path) for path in drafts if "-links-" in path.name), ""),
        "learnt": next((str(path) for path in drafts if "-learnt" in path.name), ""),
    }


def shortened(lines: Sequence[str], step: Step) -> list[str]:
    """The part of an output that a step shows, with a mark for what is left out."""
    start = 0
    if step.from_:
        begins = tr(step.from_)
        with suppress(StopIteration):
            start = next(n for n, o in enumerate(lines) if o.startswith(begins))
    end = max(len(lines) - step.last, start)
    part = list(lines[start:end][: step.first])
    before = [CUT] if start else []
    after = [CUT] if start + step.first < end else []
    return [*before, *part, *after, *lines[end:]]


def _tell_place(console: Console, cause: str) -> None:
    """Where a cause comes in the ranking of the sheet, by the knowledge of the copy."""
    known = load_knowledge(None, "shop")
    ranked = Consultation(known, read_sheet(Path(SHEET), known)).chances()
    for place, (id, name, chance) in enumerate(ranked, 1):
        if id == cause:
            line(console)
            says = tr(
                "“{name}” comes at place {place}, with {chance}.",
                name=name,
                place=place,
                chance=percent(chance),
            )
            line(console, says)


def _typed(console: Console, command: str) -> None:
    console.print(f"$ {command}", soft_wrap=True)


def _goes_on(console: Console) -> bool:
    """Wait for Enter at a terminal; whether the person wants to go on."""
    if not (sys.stdin.isatty() and sys.stdout.isatty()):
        return True
    line(console)
    try:
        return console.input(tr("(Enter goes on, q stops) ")).strip().lower() != "q"
    except (EOFError, KeyboardInterrupt):
        line(console)
        return False
