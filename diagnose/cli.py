"""The commands. They parse and print, and decide nothing."""

from __future__ import annotations

import difflib
import io
import os
import shutil
import sys
import textwrap
from collections.abc import Sequence
from contextlib import nullcontext, suppress
from importlib import import_module
from pathlib import Path
from typing import TYPE_CHECKING, Annotated, Any

import cyclopts
from cyclopts import App, Parameter, Token
from rich.console import Console

from diagnose import __version__
from diagnose.errors import (
    AnswerError,
    DiagnoseError,
    KnowledgeError,
    quoted,
    unknown,
)
from diagnose.language import tr

if TYPE_CHECKING:
    from diagnose.records import Knowledge

BAD_INPUT = 2
INTERRUPTED = 130
NEAR = 0.7
"""A word so much like a command is taken for that command, mistyped."""
WIDTH = 80
"""No line of help is wider, however wide the terminal is."""

app = App(
    name="diagnose",
    version=__version__,
    help_flags=["-h", "--help"],
    console=Console(width=min(Console().width, WIDTH)),
    default_parameter=Parameter(show_default=False),
    help="Find out why a screen print, or a screen, came out wrong.\n\n"
    "Without a command it asks, question by question, and ranks the causes.\n\n"
    "Example: diagnose\n\n"
    'Example: diagnose "the edges look like little stairs"\n\n'
    "Consultations are kept in the folder that --keep-in or the environment variable "
    "DIAGNOSE_FOLDER names, or else in your own data folder.\n\n"
    "Exit codes: 0 done, 2 something has to be put right, 130 stopped by control-C.",
)


def path_named(_: Any, tokens: Sequence[Token]) -> Path:
    """The file or folder that a word names; an empty word would be the current one."""
    token = tokens[0]
    if not token.value:
        raise AnswerError(f"{token.keyword or quoted('')}: the name is empty.")
    return Path(token.value)


KeptIn = Annotated[
    Path | None,
    Parameter(converter=path_named, help="The folder that consultations are kept in."),
]

KnowledgeFolder = Annotated[
    Path | None,
    Parameter(
        converter=path_named,
        help="A knowledge folder to use in place of the built-in one.",
    ),
]

ShopFolder = Annotated[
    Path | None,
    Parameter(
        converter=path_named,
        help="The shop folder, with the shop's cases and its own knowledge; the one "
        "that DIAGNOSE_SHOP names where left out.",
    ),
]

case_app = App(
    name="case",
    help_flags=["-h", "--help"],
    help="Keep the shop's past faults as cases, and learn from them.\n\n"
    "The shop folder is named by --shop or the environment variable DIAGNOSE_SHOP.",
)
"""Its commands are in `cases.commands`, which is imported when one is called."""
app.command(case_app)


@app.default
def interview(
    *said: str,
    knowledge: KnowledgeFolder = None,
    keep_in: KeptIn = None,
    shop: ShopFolder = None,
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
    from diagnose.shelf import shop_folder
    from diagnose.terminal import Interview, consultations_folder

    if said[:1] == ("help",) and set(said[1:]) <= set(_commands()):
        app.help_print(list(said[1:]))
        return 0

    def load() -> Knowledge:
        return load_knowledge(knowledge, shop_folder(shop))

    known = load()
    _refuse_a_mistyped_command(said, known)
    folder = consultations_folder(keep_in)
    interview = Interview(known, folder, shop=shop_folder(shop), load=load)
    return interview.run(" ".join(said))


@app.command(name="open")
def open_(
    number: int | None = None,
    /,
    *,
    knowledge: KnowledgeFolder = None,
    keep_in: KeptIn = None,
    shop: ShopFolder = None,
) -> int:
    """List the consultations that are not ended, or go on with one of them.

    Example: diagnose open

    Example: diagnose open 2

    Parameters
    ----------
    number
        Which one to go on with, as they are listed; the list where left out.
    """
    from diagnose.knowledge import load_knowledge
    from diagnose.shelf import shop_folder
    from diagnose.terminal import Interview, consultations_folder

    def load() -> Knowledge:
        return load_knowledge(knowledge, shop_folder(shop))

    folder = consultations_folder(keep_in)
    interview = Interview(load(), folder, shop=shop_folder(shop), load=load)
    if number is None:
        return interview.show_open()
    return interview.run(go_on=number)


@app.command
def rank(
    sheet: Annotated[Path, Parameter(converter=path_named)],
    /,
    *,
    json: Annotated[
        bool, Parameter(negative="", help="Print one JSON object.")
    ] = False,
    knowledge: KnowledgeFolder = None,
    shop: ShopFolder = None,
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
    from diagnose.shelf import shop_folder

    known = load_knowledge(knowledge, shop_folder(shop))
    filled = read_sheet(sheet, known)
    said = ""
    if not filled.begun:  # what was said in a consultation was heard in it
        said = "\n".join(filled.said)
        filled.said = []
    consultation = Consultation(known, filled)
    understood = consultation.describe(said) if said.strip() else None
    if json:
        from diagnose.result import result
        from diagnose.screens import print_json

        told = result(consultation, understood)
        if (folder := shop_folder(shop)) is not None:
            from diagnose.cases.past_screens import alike_data
            from diagnose.cases.recall import recall
            from diagnose.cases.shop import Shop
            from diagnose.cases.waits import reading

            past = recall(Shop(folder, reading), consultation)
            told["past_cases"] = alike_data(past)
        print_json(told)
        return 0
    from diagnose import screens

    console = screens.new_console()
    if understood is not None:
        screens.show_understood(console, known, understood)
        for unclear in understood.unclear:
            screens.line(
                console,
                tr(
                    "“{words}” can mean several things; write one of these under "
                    "answers: {findings}",
                    words=screens.shortened(unclear.words),
                    findings=", ".join(unclear.findings),
                ),
            )
    if not consultation.look.known:
        says = tr("Nothing was said of what went wrong, so nothing can be ranked.")
        screens.line(console, says)
        return 0
    screens.show_result(console, consultation, shop=shop_folder(shop))
    question = consultation.next_question()
    screens.heading(console, tr("What would tell most now"))
    if question is None:
        screens.line(console, consultation.nothing_to_ask())
    else:
        screens.line(console, f"{question.text} ({question.id})")
        screens.bullet(console, tr("How:"), question.how, 2)
    return 0


@app.command
def show(
    id: str,
    /,
    *,
    knowledge: KnowledgeFolder = None,
    shop: ShopFolder = None,
) -> int:
    """Show one record of the knowledge as a page.

    Example: diagnose show coats-too-few

    Parameters
    ----------
    id
        The id of a cause, state, finding, fix, rule, caution or source; or a word of
        the trade.
    """
    from diagnose.knowledge import load_knowledge
    from diagnose.model import model_of
    from diagnose.pages import show_page
    from diagnose.screens import new_console
    from diagnose.shelf import shop_folder

    show_page(new_console(), model_of(load_knowledge(knowledge, shop_folder(shop))), id)
    return 0


@app.command
def picture(
    finding: str,
    /,
    *words: str,
    knowledge: KnowledgeFolder = None,
    shop: ShopFolder = None,
) -> int:
    """Show a picture of a fault beside the same without it, or write it as SVG.

    Example: diagnose picture edges-sawtooth

    Example: diagnose picture edges-sawtooth edge.svg mesh-count=43/cm

    Parameters
    ----------
    finding
        The id of the finding.
    words
        The SVG file to write, and numbers of the picture as name=value.
    """
    from diagnose import fault_pictures
    from diagnose.knowledge import load_knowledge
    from diagnose.screens import new_console
    from diagnose.shelf import shop_folder

    known = load_knowledge(knowledge, shop_folder(shop))
    shown = fault_pictures.pictured(known, finding, words)
    if shown.file is not None:
        fault_pictures.write_svg(shown, shown.file)
    fault_pictures.show(new_console(), shown)
    return 0


@app.command
def chart(
    id: str,
    file: Annotated[Path | None, Parameter(converter=path_named)] = None,
    /,
    *,
    knowledge: KnowledgeFolder = None,
    shop: ShopFolder = None,
) -> int:
    """Show what leads to a cause, state or finding, and what it leads to.

    Example: diagnose chart edges-sawtooth

    Parameters
    ----------
    id
        The id of a cause, state or finding.
    file
        An SVG file to draw it into as well.
    """
    from diagnose import charts
    from diagnose.knowledge import load_knowledge
    from diagnose.screens import new_console
    from diagnose.shelf import shop_folder

    drawn = charts.chart_of(load_knowledge(knowledge, shop_folder(shop)), id)
    if file is not None:
        charts.write_svg(drawn, file)
    charts.show(new_console(), drawn)
    return 0


@app.command
def find(
    *words: str, knowledge: KnowledgeFolder = None, shop: ShopFolder = None
) -> int:
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
    from diagnose.shelf import shop_folder

    said = " ".join(words).strip()
    if not said:
        raise AnswerError(
            tr("Write what to look for, such as: diagnose find blocky edges")
        )
    found = find_records(load_knowledge(knowledge, shop_folder(shop)), said)
    console = screens.new_console()
    if not found:
        says = tr(
            "Nothing here comes near {said}. Try fewer or other words.",
            said=quoted(said),
        )
        screens.line(console, says)
    for one in found:
        text = f"{one.name} ({one.kind})"
        screens.bullet(console, f"{one.id}:", text)
        if one.words != one.name:
            screens.line(console, f"“{screens.shortened(one.words, 68)}”", 4)
    return 0


@app.command
def terms(
    *words: str, knowledge: KnowledgeFolder = None, shop: ShopFolder = None
) -> int:
    """Explain the words of the trade: all from A to Z, or the one that you name.

    Example: diagnose terms

    Example: diagnose terms print side

    Parameters
    ----------
    words
        The word to explain; the whole list where left out.
    """
    from diagnose import newcomer_screens as screens
    from diagnose.knowledge import load_knowledge
    from diagnose.screens import new_console
    from diagnose.shelf import shop_folder

    known = load_knowledge(knowledge, shop_folder(shop))
    if words:
        screens.show_terms(new_console(), [screens.term_named(known, " ".join(words))])
    else:
        screens.show_glossary(new_console(), known)
    return 0


@app.command
def guide(
    *words: str,
    whole: Annotated[
        bool, Parameter(name="--all", negative="", help="Print every step.")
    ] = False,
    knowledge: KnowledgeFolder = None,
    shop: ShopFolder = None,
) -> int:
    """Walk through the making of a screen, and what goes wrong at each step.

    Example: diagnose guide

    Example: diagnose guide 7

    Example: diagnose guide --all

    Parameters
    ----------
    words
        The number or the name of a step; the list of steps where left out.
    """
    from diagnose import making_screens as screens
    from diagnose.knowledge import load_knowledge
    from diagnose.making import step_named
    from diagnose.model import model_of
    from diagnose.screens import new_console
    from diagnose.shelf import shop_folder

    known = load_knowledge(knowledge, shop_folder(shop))
    console = new_console()
    if whole and words:
        raise AnswerError(tr("--all prints every step; leave out the name of one."))
    if whole:
        with console.pager() if console.is_terminal else nullcontext():
            screens.show_guide(console, model_of(known))
    elif words:
        step = step_named(known, " ".join(words))
        screens.show_guide_step(console, model_of(known), step)
    else:
        screens.show_steps_of_guide(console, known)
    return 0


@app.command
def reckon(
    *words: str,
    json: Annotated[
        bool, Parameter(negative="", help="Print one JSON object.")
    ] = False,
    svg: Annotated[
        Path | None,
        Parameter(converter=path_named, help="Draw it into this SVG file as well."),
    ] = None,
    knowledge: KnowledgeFolder = None,
    shop: ShopFolder = None,
) -> int:
    """Work something out from readings: a setting, a range, what a number means.

    Example: diagnose reckon

    Example: diagnose reckon emulsion-over-mesh

    Example: diagnose reckon mesh-geometry mesh-count=120/cm thread-diameter=34um

    Example: diagnose reckon meshes

    Two tables are kept as well: meshes, and lights.

    Parameters
    ----------
    words
        What to work out, then each input as name=reading; without them the list.
    """
    from diagnose import reckon as reckoning
    from diagnose.knowledge import load_knowledge
    from diagnose.screens import new_console
    from diagnose.shelf import shop_folder

    known = load_knowledge(knowledge, shop_folder(shop))
    console = new_console()
    name, *given = words or ("",)
    if not given and svg is not None:
        raise AnswerError(
            tr("--svg draws a result; write the readings behind the name.")
        )
    if not given and json:
        from diagnose.screens import print_json

        told = reckoning.asked_data(known, name if words else None)
        print_json(told)
        return 0
    if not given:
        reckoning.show_asked(console, known, name if words else None)
        return 0
    worked = reckoning.reckoned(known, name, given)
    if svg is not None:
        reckoning.write_svg(known, worked, svg)
    if json:
        from diagnose.screens import print_json

        print_json(reckoning.worked_data(known, worked))
    else:
        reckoning.show_worked(console, known, worked)
    return 0


@app.command
def foresee(
    *recipe: str,
    json: Annotated[
        bool, Parameter(negative="", help="Print one JSON object.")
    ] = False,
    knowledge: KnowledgeFolder = None,
    shop: ShopFolder = None,
) -> int:
    """Say which faults a recipe makes likely, before the screen is made.

    Example: diagnose foresee my-recipe.yaml

    Example: diagnose foresee eom=5% tension=12N/cm coats-put-on=one

    Parameters
    ----------
    recipe
        An answer sheet with set-up, habits and readings; or each as name=value.
    """
    from diagnose import foresee as forward
    from diagnose import foresee_screens as screens
    from diagnose.knowledge import load_knowledge
    from diagnose.model import model_of
    from diagnose.screens import new_console
    from diagnose.shelf import shop_folder

    known = load_knowledge(knowledge, shop_folder(shop))
    outcome = forward.foresee(model_of(known), forward.recipe_of(known, recipe))
    if json:
        from diagnose.screens import print_json

        print_json(screens.foreseen_data(outcome))
    else:
        screens.show_foreseen(new_console(), known, outcome)
    return 0


@app.command
def practise(
    *,
    stage: Annotated[
        str, Parameter(help="Draw faults that come from that stage of the work only.")
    ] = "",
    level: Annotated[
        int,
        Parameter(
            help="1 common causes with loud signs, 2 all causes, 3 two causes at once."
        ),
    ] = 1,
    progress: Annotated[
        bool,
        Parameter(
            negative="", help="Show what was right so far, and what comes again."
        ),
    ] = False,
    knowledge: KnowledgeFolder = None,
    keep_in: KeptIn = None,
    shop: ShopFolder = None,
) -> int:
    """Practise: find out what is wrong with a fault that the tool plays.

    What was got wrong comes again after some days.

    Example: diagnose practise

    Example: diagnose practise --stage coating --level 2

    Example: diagnose practise --progress
    """
    from diagnose.errors import nearest
    from diagnose.knowledge import load_knowledge
    from diagnose.practice_screen import Practice
    from diagnose.practise import LEVELS
    from diagnose.shelf import consultations_folder, shop_folder

    known = load_knowledge(knowledge, shop_folder(shop))
    if level not in LEVELS:
        raise AnswerError(tr("--level takes 1, 2 or 3, and not {level}.", level=level))
    if stage and stage not in known.stages:
        raise AnswerError(
            tr(
                "there is no stage {stage}{hint}; the stages are {stages}.",
                stage=quoted(stage),
                hint=nearest(stage, known.stages),
                stages=", ".join(known.stages),
            )
        )
    folder = consultations_folder(keep_in)
    practice = Practice(known, folder, level, stage)
    return practice.show_progress() if progress else practice.run()


@app.command
def report(
    sheet: Annotated[Path | None, Parameter(converter=path_named)] = None,
    file: Annotated[Path | None, Parameter(converter=path_named)] = None,
    /,
    *,
    knowledge: KnowledgeFolder = None,
    keep_in: KeptIn = None,
    shop: ShopFolder = None,
) -> int:
    """Write a report to print: what was seen, the causes and why, what to do.

    Example: diagnose report my-screen.yaml report.html

    Parameters
    ----------
    sheet
        An answer sheet, a kept consultation, a case or a case's id; the newest kept
        consultation where left out.
    file
        The HTML file to write; a new one here where left out.
    """
    return _on_paper("report", sheet, file, knowledge, keep_in, shop)


@app.command
def ticket(
    sheet: Annotated[Path | None, Parameter(converter=path_named)] = None,
    file: Annotated[Path | None, Parameter(converter=path_named)] = None,
    /,
    *,
    knowledge: KnowledgeFolder = None,
    keep_in: KeptIn = None,
    shop: ShopFolder = None,
) -> int:
    """Write half a page to hang on the screen: the cause, and what to do first.

    Example: diagnose ticket my-screen.yaml ticket.html

    Parameters
    ----------
    sheet
        An answer sheet, a kept consultation, a case or a case's id; the newest kept
        consultation where left out.
    file
        The HTML file to write; a new one here where left out.
    """
    return _on_paper("ticket", sheet, file, knowledge, keep_in, shop)


def _on_paper(
    kind: str,
    sheet: Path | None,
    file: Path | None,
    knowledge: Path | None,
    keep_in: Path | None,
    shop: Path | None,
) -> int:
    """Write a report or a ticket."""
    from diagnose.knowledge import load_knowledge
    from diagnose.paper import report as paper
    from diagnose.paper.write import put
    from diagnose.shelf import consultations_folder, shop_folder

    if sheet is not None and file is None and sheet.suffix in (".html", ".htm"):
        sheet, file = None, sheet
    if sheet is None:
        sheet = paper.newest(consultations_folder(keep_in))
    folder = shop_folder(shop)
    told = paper.told_in(sheet, load_knowledge(knowledge, folder), folder)
    page = paper.report(told) if kind == "report" else paper.ticket(told)
    return _written(put(page, file, f"{told.name}-{kind}"))


@app.command
def procedure(
    stage: str,
    file: Annotated[Path | None, Parameter(converter=path_named)] = None,
    /,
    *,
    knowledge: KnowledgeFolder = None,
    shop: ShopFolder = None,
) -> int:
    """Write the standard procedure of a stage to print: numbers, ways, checks.

    Example: diagnose procedure drying drying.html

    Parameters
    ----------
    stage
        A stage of the work, such as coating, drying or exposure.
    file
        The HTML file to write; a new one here where left out.
    """
    from diagnose.knowledge import load_knowledge
    from diagnose.paper import procedure as paper
    from diagnose.paper.write import put
    from diagnose.shelf import shop_folder

    folder = shop_folder(shop)
    known = load_knowledge(knowledge, folder)
    before = load_knowledge(knowledge).windows if folder is not None else None
    page = paper.procedure(known, stage, before=before, shop=folder)
    return _written(put(page, file, f"{'-'.join(stage.split())}-procedure"))


def _written(name: str) -> int:
    from diagnose import screens

    screens.show_written(screens.new_console(), name)
    return 0


@app.command
def check(
    folder: Annotated[Path | None, Parameter(converter=path_named)] = None,
    /,
    *,
    table: Annotated[
        bool, Parameter(negative="", help="Count the records by stage.")
    ] = False,
    shop: ShopFolder = None,
) -> int:
    """Check the knowledge, and name what is wrong by file and line.

    Example: diagnose check my-knowledge/

    Parameters
    ----------
    folder
        The knowledge folder; the built-in knowledge where left out.
    """
    from diagnose.examiner import coverage, examine
    from diagnose.home import built_in_folder
    from diagnose.knowledge import load_knowledge
    from diagnose.language_check import reports
    from diagnose.shelf import shop_folder

    try:
        known = load_knowledge(folder, shop_folder(shop))
    except KnowledgeError as error:
        print(error)
        print(f"{_faults(error)} Mend this first; more may be found then.")
        return BAD_INPUT
    told = list(reports(folder or built_in_folder()))
    problems = [*examine(known), *(one for report in told for one in report.problems)]
    for problem in problems:
        print(problem)
    for report in told:
        print(report)
    if table:
        for row in coverage(known):
            print(row)
    count = {
        "causes": len(known.causes),
        "states": len(known.states),
        "findings": len(known.recorded()),
        "fixes": len(known.fixes),
        "rules": len(known.rules),
        "workings": len(known.workings),
        "cautions": len(known.cautions),
    }
    listed = ", ".join(f"{number} {kind}" for kind, number in count.items())
    faults = sum(not problem.warning for problem in problems)
    print(f"{listed}.\n{faults} faults, {len(problems) - faults} warnings.")
    return BAD_INPUT if faults else 0


@app.command
def own(
    *,
    json: Annotated[
        bool, Parameter(negative="", help="Print one JSON object.")
    ] = False,
    knowledge: KnowledgeFolder = None,
    shop: ShopFolder = None,
) -> int:
    """List what your shop has changed from the built-in knowledge.

    It also says where the built-in knowledge is another one now than when a change of
    yours was made.

    Example: diagnose own --shop our-shop
    """
    from diagnose.cases import learning_screens as screens
    from diagnose.home import built_in_folder
    from diagnose.overlay import own_changes
    from diagnose.shelf import SHOP_VARIABLE, shop_folder

    folder = shop_folder(shop)
    if folder is None:
        raise AnswerError(
            tr(
                "No shop folder is named: name it with --shop FOLDER or the "
                "environment variable {variable}.",
                variable=SHOP_VARIABLE,
            )
        )
    changes = own_changes(knowledge or built_in_folder(), folder)
    if json:
        from diagnose.screens import print_json

        print_json(screens.own_data(changes))
    else:
        from diagnose.screens import new_console

        screens.show_own(new_console(), changes)
    return 0


@app.command
def demo(
    folder: Annotated[Path | None, Parameter(converter=path_named)] = None, /
) -> int:
    """Show, on an invented shop, how a shop's cases make the ranking better.

    Example: diagnose demo

    Parameters
    ----------
    folder
        A new folder for the copy of the shop; a temporary one where left out.
    """
    from diagnose.cases.demo import copied, show
    from diagnose.screens import new_console

    return show(new_console(), copied(folder), main)


@app.command
def settings(*changes: str) -> int:
    """Show or change what you have chosen: the language, and metric or inch units.

    Example: diagnose settings

    Example: diagnose settings language=es units=inch

    Parameters
    ----------
    changes
        What is to be changed, as name=value; the settings are shown where left out.
    """
    from diagnose import settings as chosen
    from diagnose.screens import new_console

    if changes:
        chosen.change(changes)
    chosen.take_up()
    chosen.show(new_console())
    return 0


def _faults(error: KnowledgeError) -> str:
    count = len(error.problems)
    return f"{count} fault{'s' if count > 1 else ''}."


def _plain(error: cyclopts.CycloptsError) -> str:
    """What is wrong with the command line, in a sentence."""
    command = " ".join(["diagnose", *(error.command_chain or ())])
    if isinstance(error, cyclopts.UnusedCliTokensError) and error.unused_tokens:
        says = tr(
            "{word} is one word too many.",
            word=quoted(error.unused_tokens[0]),
        )
    elif isinstance(error, cyclopts.MissingArgumentError) and error.argument:
        name = error.argument.name
        what = tr("A value after {name}", name=name) if name.startswith("-") else name
        says = tr("{what} is missing.", what=what)
    elif isinstance(error, cyclopts.CoercionError) and error.token:
        name = error.token.keyword or (
            error.argument.name if error.argument else tr("It")
        )
        says = tr(
            "{name} does not take {value}.", name=name, value=quoted(error.token.value)
        )
    elif isinstance(error, cyclopts.UnknownCommandError) and error.unused_tokens:
        says = unknown("command", error.unused_tokens[0], _commands(case_app))
        says = says[0].upper() + says[1:]
    else:
        says = " ".join(str(error).split())
    return tr("{says} Try: {command} -h", says=says, command=command)


def _commands(of: App = app) -> list[str]:
    return [name for name in of if not name.startswith("-")]


def _refuse_a_mistyped_command(said: Sequence[str], known: Knowledge) -> None:
    """Refuse a first word that is nearly a command, and no word of a description."""
    if not said or len(said[0].split()) != 1:
        return
    described = {
        word
        for finding in known.recorded().values()
        for text in (finding.name, *finding.phrases)
        for word in text.lower().split()
    }
    word = said[0].lower()
    near = difflib.get_close_matches(word, _commands(), n=1, cutoff=NEAR)
    if near and (word == near[0] or word not in described):
        raise AnswerError(
            tr(
                "There is no command {said} (did you mean {near!r}?). Write "
                'what you see between quotes, such as: diagnose "the edges are '
                'blocky"',
                said=quoted(said[0]),
                near=near[0],
            )
        )


def _tell(says: object) -> None:
    """Print on the standard error, where there is one; on a terminal between words."""
    if sys.stderr is not None:
        with suppress(OSError):
            lines = str(says).splitlines()
            if sys.stderr.isatty():
                lines = [part for line in lines for part in _cut(line)]
            print("\n".join(lines), file=sys.stderr, flush=True)


def _cut(line: str) -> list[str]:
    """A line in parts that fit the terminal; a name or a path is never cut."""
    width = min(shutil.get_terminal_size().columns, WIDTH)
    parts = textwrap.wrap(line, width, break_long_words=False, break_on_hyphens=False)
    return parts or [""]


def _drop_output() -> None:
    """Let what was not yet written go nowhere."""
    with suppress(OSError, ValueError):
        os.dup2(os.open(os.devnull, os.O_WRONLY), sys.stdout.fileno())


def main(tokens: Sequence[str] | None = None) -> int:
    """Run a command.

    Returns:
        The exit code: 0, or 2 where something has to be put right.
    """
    if sys.stdout is None:  # closed by whoever started this
        return BAD_INPUT
    for stream in (sys.stdout, sys.stderr):
        if isinstance(stream, io.TextIOWrapper):
            stream.reconfigure(errors="replace")
    try:
        code = _code(tokens)
        sys.stdout.flush()
    except SystemExit as error:
        if not isinstance(error.__context__, BrokenPipeError):
            raise
        return 0  # rich has met the closed pipe, and would end with 1
    except BrokenPipeError:
        _drop_output()
        return 0
    except OSError as error:
        _drop_output()
        _tell(
            tr(
                "Nothing more can be read or written here: {what}.",
                what=error.strerror or error,
            )
        )
        return BAD_INPUT
    return code


def _code(tokens: Sequence[str] | None) -> int:
    """The exit code of a command that is run; what is to be put right is told."""
    from diagnose.settings import take_up

    words = [*(sys.argv[1:] if tokens is None else tokens)]
    if case_app.name[0] in words[:2]:  # 'case …' or 'help case'
        import_module("diagnose.cases.commands")
        import_module("diagnose.cases.learning")
    try:
        if words[:1] != ["settings"]:  # they can be put right whatever is wrong
            take_up()
        code = app(
            list(tokens) if tokens is not None else None,
            exit_on_error=False,
            print_error=False,
            result_action="return_value",
        )
    except KnowledgeError as error:
        _tell(f"{error}\n{_faults(error)}")
        return BAD_INPUT
    except DiagnoseError as error:
        _tell(error)
        return BAD_INPUT
    except cyclopts.CycloptsError as error:
        _tell(_plain(error))
        return BAD_INPUT
    return code if isinstance(code, int) else 0


def run() -> None:
    """The `diagnose` command."""
    try:
        code = main()
    except KeyboardInterrupt:
        code = INTERRUPTED
    sys.exit(code)
