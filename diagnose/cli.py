"""The commands. They parse and print, and decide nothing."""

from __future__ import annotations

import io
import os
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

import cyclopts
from cyclopts import App, Parameter
from rich.console import Console

from diagnose import __version__
from diagnose.errors import AnswerError, DiagnoseError, KnowledgeError, quoted

BAD_INPUT = 2
WIDTH = 80
"""No line of help is wider, however wide the terminal is."""

app = App(
    name="diagnose",
    version=__version__,
    help_flags=["-h", "--help"],
    console=Console(width=min(Console().width, WIDTH)),
    help="Find out why a screen print, or a screen, came out wrong.\n\n"
    "Without a command it asks, question by question, and ranks the causes.\n\n"
    "Example: diagnose\n\n"
    'Example: diagnose "the edges look like little stairs"',
)

KnowledgeFolder = Annotated[
    Path | None,
    Parameter(help="A knowledge folder to use in place of the built-in one."),
]


@app.default
def interview(
    *said: str,
    knowledge: KnowledgeFolder = None,
    keep_in: Annotated[
        Path | None,
        Parameter(help="The folder that consultations are kept in."),
    ] = None,
) -> int:
    """Ask about a fault, question by question, and rank the causes.

    Every answer is on disk before the next question; start again to go on.

    Example: diagnose "the edges look like little stairs"

    Parameters
    ----------
    said
        What you see, in your own words (may be left out).
    """
    from diagnose.knowledge import load_knowledge
    from diagnose.terminal import Interview, consultations_folder

    folder = keep_in if keep_in is not None else consultations_folder()
    return Interview(load_knowledge(knowledge), folder).run(" ".join(said))


@app.command
def rank(
    sheet: Path,
    /,
    *,
    json: Annotated[
        bool, Parameter(negative="", help="Print one JSON object.")
    ] = False,
    knowledge: KnowledgeFolder = None,
) -> int:
    """Rank the causes for a filled-in answer sheet.

    Example: diagnose rank my-screen.yaml

    A sheet is YAML with any of: said (free text), set_up, answers, readings.

    Parameters
    ----------
    sheet
        The answer sheet.
    """
    from diagnose.consultation import Consultation
    from diagnose.knowledge import load_knowledge
    from diagnose.sheets import read_sheet

    known = load_knowledge(knowledge)
    filled = read_sheet(sheet, known)
    said = "\n".join(filled.said)
    filled.said = []
    consultation = Consultation(known, filled)
    understood = consultation.describe(said) if said.strip() else None
    if json:
        from json import dumps

        from diagnose.result import result

        print(dumps(result(consultation, understood), indent=2, ensure_ascii=False))
        return 0
    from diagnose import screens

    console = screens.new_console()
    if understood is not None:
        screens.show_understood(console, known, understood)
    screens.show_result(console, consultation)
    question = consultation.next_question()
    screens.heading(console, "What would tell most now")
    if question is None:
        screens.line(console, consultation.nothing_to_ask())
    else:
        screens.line(console, f"{question.text} ({question.id})")
        screens.bullet(console, "How:", question.how, 2)
    return 0


@app.command
def show(id: str, /, *, knowledge: KnowledgeFolder = None) -> int:
    """Show one record of the knowledge as a page.

    Example: diagnose show coats-too-few

    Parameters
    ----------
    id
        The id of a cause, state, finding, fix, rule, caution or source.
    """
    from diagnose.knowledge import load_knowledge
    from diagnose.model import model_of
    from diagnose.pages import show_page
    from diagnose.screens import new_console

    show_page(new_console(), model_of(load_knowledge(knowledge)), id)
    return 0


@app.command
def find(*words: str, knowledge: KnowledgeFolder = None) -> int:
    """Find records of the knowledge by a printer's words.

    Example: diagnose find blocky edges

    Parameters
    ----------
    words
        What you would call it.
    """
    from diagnose import screens
    from diagnose.knowledge import load_knowledge
    from diagnose.pages import find as find_records

    said = " ".join(words).strip()
    if not said:
        raise AnswerError("Write what to look for, such as: diagnose find blocky edges")
    found = find_records(load_knowledge(knowledge), said)
    console = screens.new_console()
    if not found:
        says = f"Nothing here comes near {quoted(said)}. Try fewer or other words."
        screens.line(console, says)
    for one in found:
        text = f"{one.name} ({one.kind})"
        screens.bullet(console, f"{one.id}:", text)
        if one.words != one.name:
            screens.line(console, f"“{screens.shortened(one.words, 68)}”", 4)
    return 0


@app.command
def check(
    folder: Path | None = None,
    /,
    *,
    table: Annotated[
        bool, Parameter(negative="", help="Count the records by stage.")
    ] = False,
) -> int:
    """Check the knowledge, and name what is wrong by file and line.

    Example: diagnose check my-knowledge/

    Parameters
    ----------
    folder
        The knowledge folder; the built-in knowledge where left out.
    """
    from diagnose.examiner import coverage, examine
    from diagnose.knowledge import load_knowledge

    try:
        known = load_knowledge(folder)
    except KnowledgeError as error:
        print(error)
        print(f"{_faults(error)} What takes a closer look is looked at after these.")
        return BAD_INPUT
    problems = examine(known)
    for problem in problems:
        print(problem)
    if table:
        for row in coverage(known):
            print(row)
    count = {
        kind: len(getattr(known, kind))
        for kind in ("causes", "states", "findings", "fixes", "rules", "cautions")
    }
    listed = ", ".join(f"{number} {kind}" for kind, number in count.items())
    faults = sum(not problem.warning for problem in problems)
    print(f"{listed}; {faults} faults, {len(problems) - faults} warnings.")
    return BAD_INPUT if faults else 0


def _faults(error: KnowledgeError) -> str:
    count = len(error.problems)
    return f"{count} fault{'s' if count > 1 else ''}."


def _plain(error: cyclopts.CycloptsError) -> str:
    """What is wrong with the command line, in a sentence."""
    command = " ".join(["diagnose", *(error.command_chain or ())])
    if isinstance(error, cyclopts.UnusedCliTokensError) and error.unused_tokens:
        says = f"{quoted(error.unused_tokens[0])} is one word too many."
    elif isinstance(error, cyclopts.MissingArgumentError) and error.argument:
        name = error.argument.name
        what = f"A value after {name}" if name.startswith("-") else name
        says = f"{what} is missing."
    elif isinstance(error, cyclopts.CoercionError) and error.token:
        says = f"{error.token.keyword} does not take {quoted(error.token.value)}."
    else:
        says = " ".join(str(error).split())
    return f"{says} Try: {command} -h"


def main(tokens: Sequence[str] | None = None) -> int:
    """Run a command.

    Returns:
        The exit code: 0, or 2 where something has to be put right.
    """
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        code = app(
            list(tokens) if tokens is not None else None,
            exit_on_error=False,
            print_error=False,
            result_action="return_value",
        )
        sys.stdout.flush()
    except KnowledgeError as error:
        print(error, _faults(error), sep="\n", file=sys.stderr)
        return BAD_INPUT
    except DiagnoseError as error:
        print(error, file=sys.stderr)
        return BAD_INPUT
    except cyclopts.CycloptsError as error:
        print(_plain(error), file=sys.stderr)
        return BAD_INPUT
    except BrokenPipeError:
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())
        return 0
    return code if isinstance(code, int) else 0


def run() -> None:
    """The `diagnose` command."""
    sys.exit(main())
