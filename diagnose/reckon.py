"""What `diagnose reckon` prints: the list of workings, the form of one, its result."""

from __future__ import annotations

import difflib
import math
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from typing import Any

from rich.console import Console
from rich.text import Text

from diagnose.drawings.readings import svg_of, text_of
from diagnose.errors import LONGEST, AnswerError, nearest, quoted, shortened
from diagnose.language import listed, tr
from diagnose.records import Finding, Input, Knowledge, Output, Working
from diagnose.screens import WIDTH, bullet, heading, line, show_caution, show_sources
from diagnose.sheets import write_new
from diagnose.tables import SHOWN, table_data
from diagnose.windows import edges
from diagnose.workings import Amount, Worked, figure, form, verdict, work_out

SIGN = "="
"""Stands between the name of an input and what was read."""

LIST_THEM = "List them all with: diagnose reckon"


def find_working(knowledge: Knowledge, words: str) -> list[Working]:
    """The working of that id, or those of that topic, or those named by the words.

    Raises:
        AnswerError: nothing is called so.
    """
    workings = knowledge.workings
    if not words.strip():
        raise AnswerError(f"{quoted(words)} names nothing. {LIST_THEM}")
    wanted = "-".join(words.lower().split())
    if wanted in workings:
        return [workings[wanted]]
    of_topic = [one for one in workings.values() if one.topic == words.lower()]
    if of_topic:
        return of_topic
    named = [
        one
        for one in workings.values()
        if all(word in f"{one.id} {one.name}" for word in words.lower().split())
    ]
    if named:
        return named
    known = [*workings, *dict.fromkeys(one.topic for one in workings.values()), *SHOWN]
    raise AnswerError(
        f"there is nothing to work out called {quoted(words)}{nearest(wanted, known)}. "
        f"{LIST_THEM}"
    )


def given_inputs(working: Working, words: Sequence[str]) -> dict[str, str]:
    """'mesh-count=120/cm' and its like → what was given for each input.

    Raises:
        AnswerError: a word is no such pair, or an input is given twice.
    """
    own = {one.id: form(working, one) for one in working.inputs}
    first = next(iter(own.values()))
    given: dict[str, str] = {}
    for word in words:
        id, sign, text = word.partition(SIGN)
        id = id.strip().lower()
        if not sign or not id:
            raise AnswerError(
                tr(
                    "{word}: write the name of an input, '=' and what was read, "
                    "such as {example}.",
                    word=quoted(word),
                    example=own.get(id, first),
                )
            )
        if id not in own:
            meant = difflib.get_close_matches(id[:LONGEST], own, n=1, cutoff=0.5)
            hint = f" (did you mean {meant[0]!r}?)" if meant else ""
            raise AnswerError(
                tr(
                    "there is no input {id}{hint}; {working} takes {inputs}, such as "
                    "{example}.",
                    id=quoted(id),
                    hint=hint,
                    working=working.id,
                    inputs=", ".join(own),
                    example=own[meant[0]] if meant else first,
                )
            )
        if id in given:
            raise AnswerError(
                tr(
                    "{id!r} is given twice; write it once, as {example}.",
                    id=id,
                    example=own[id],
                )
            )
        if not text.strip():
            raise AnswerError(
                tr(
                    "nothing stands behind {id}{sign}; write what was read, such "
                    "as {example}.",
                    id=id,
                    sign=SIGN,
                    example=own[id],
                )
            )
        given[id] = text
    return given


def show_asked(console: Console, knowledge: Knowledge, name: str | None) -> None:
    """A table, the form of one working, or a list of several; all without a name.

    Raises:
        AnswerError: nothing is called so.
    """
    table = SHOWN.get((name or "").strip().lower())
    if table is not None:
        table(console, knowledge)
        return
    if name is None:
        show_list(console, list(knowledge.workings.values()))
        tables = listed((f"diagnose reckon {word}" for word in SHOWN), "or")
        line(console, tr("Two tables of what is in print: {tables}", tables=tables))
        return
    found = find_working(knowledge, name)
    if len(found) == 1:
        show_form(console, knowledge, found[0])
    else:
        show_list(console, found)


def asked_data(knowledge: Knowledge, name: str | None) -> list[dict[str, Any]]:
    """The same as plain data for JSON.

    Raises:
        AnswerError: nothing is called so.
    """
    word = (name or "").strip().lower()
    if word in SHOWN:
        return table_data(knowledge, word)
    workings = (
        list(knowledge.workings.values())
        if name is None
        else find_working(knowledge, name)
    )
    return [
        {
            "working": one.id,
            "name": one.name,
            "topic": one.topic,
            "inputs": {
                part.id: {
                    "name": part.name,
                    "unit": part.unit,
                    "lowest": part.lowest,
                    "highest": part.highest,
                    "usual": part.usual,
                    "several": part.several == "yes",
                }
                for part in one.inputs
            },
            "example": dict(one.example),
        }
        for one in workings
    ]


def show_list(console: Console, workings: Sequence[Working]) -> None:
    """What can be worked out, by topic."""
    topics = dict.fromkeys(one.topic for one in workings)
    for topic in topics:
        heading(console, topic[:1].upper() + topic[1:])
        for one in workings:
            if one.topic == topic:
                bullet(console, "-", f"{one.id}: {one.name}", 2)
    line(console)
    line(console, tr("What one needs, with an example: diagnose reckon NAME"))


def show_form(console: Console, knowledge: Knowledge, working: Working) -> None:
    """What a working is for, what it needs, and an example to copy."""
    line(console, working.what)
    heading(console, tr("It needs"))
    for one in working.inputs:
        needs = ", ".join(knowledge.tools[tool].name for tool in one.needs)
        extra = tr(" Needs {needs}.", needs=needs) if needs else ""
        left_out = (
            "" if one.usual is None else tr(" Left out: {usual}.", usual=_usual(one))
        )
        unit = f" [{one.unit}]" if one.unit else ""
        text = f"{one.id}{unit}: {one.name}. {one.how}{extra}{left_out}"
        bullet(console, "-", text, 2)
    heading(console, tr("For example"))
    line(console, example_of(working), 2)
    _cautions(console, knowledge, working)


def _usual(one: Input) -> str:
    return tr("{usual} is taken", usual=figure(one.usual, one.unit))


def example_of(working: Working) -> str:
    """The command of the working's example."""
    words = [form(working, one) for one in working.inputs if one.id in working.example]
    return " ".join(["diagnose reckon", working.id, *words])


def show_worked(console: Console, knowledge: Knowledge, worked: Worked) -> None:
    """The result, its range, its window, what it means, and where it comes from."""
    working = worked.working
    line(console, working.name, style="bold")
    for one in worked.amounts:
        reach = f"  ({one.range()})" if one.range() else ""
        line(console, f"{one.output.name}: {one}{reach}", 2)
        for says in _said_of(knowledge, one):
            line(console, says, 4)
    show_picture(console, knowledge, worked)
    line(console)
    line(console, worked.means())
    if worked.check_next():
        bullet(console, tr("Next:"), worked.check_next())
    inputs = {one.id: one for one in working.inputs}
    for id, reading in worked.inputs.items():
        if len(reading.each) > 1 and inputs[id].several == "no":
            mean = figure(reading.value, reading.unit)
            says = tr(
                "Of the {count} readings of {name} the mean,",
                count=len(reading.each),
                name=inputs[id].name,
            )
            line(console, tr("{says} {mean}, was taken.", says=says, mean=mean))
    if worked.assumed:
        said = "; ".join(
            f"{inputs[id].name} {figure(inputs[id].usual, inputs[id].unit)}"
            for id in worked.assumed
        )
        line(console, tr("Not given, so the usual value was taken: {said}.", said=said))
    line(console, tr("How: {formula}", formula=working.formula))
    show_sources(console, knowledge, working.sources)
    _cautions(console, knowledge, working)


def _said_of(knowledge: Knowledge, amount: Amount) -> Iterator[str]:
    """How a result stands to its window, or that it can't be what it is."""
    if says := beyond_belief(knowledge, amount):
        yield says
    elif judged := verdict(amount, knowledge):
        yield judged.says


def beyond_belief(knowledge: Knowledge, amount: Amount) -> str:
    """A sentence where a result is no reading that can be; '' where it is one."""
    output = amount.output
    stands_for: Output | Finding = output
    if output.finding and output.lowest is None and output.highest is None:
        finding = knowledge.findings[output.finding]
        stands_for = finding if finding.unit == output.unit else output
    low = -math.inf if stands_for.lowest is None else stands_for.lowest
    high = math.inf if stands_for.highest is None else stands_for.highest
    if not amount.is_number or low <= amount.value <= high:
        return ""
    above = amount.value > high
    limit = figure(high if above else low, output.unit)
    than = tr("more than {limit}", limit=limit)
    if not above:
        than = tr("less than {limit}", limit=limit)
    return tr(
        "There is no {name} of {than}: something was misread. Take the readings again.",
        name=output.name,
        than=than,
    )


def show_picture(console: Console, knowledge: Knowledge, worked: Worked) -> None:
    """The result drawn with the characters that the console has, if it can be drawn."""
    width = min(console.width, WIDTH)
    drawn = text_of(worked, knowledge, width=width)
    try:
        "".join(drawn).encode(console.encoding)
    except UnicodeEncodeError:
        drawn = text_of(worked, knowledge, width=width, plain=True)
    for number, one in enumerate(drawn):
        if number == 0:
            line(console)
        console.print(Text(one))


def write_svg(knowledge: Knowledge, worked: Worked, path: Path) -> None:
    """Draw the result into a new SVG file.

    Raises:
        AnswerError: it can't be drawn.
        FolderError: there is such a file already, or it can't be written.
    """
    write_new(path, svg_of(worked, knowledge))


def _cautions(console: Console, knowledge: Knowledge, working: Working) -> None:
    if working.cautions:
        heading(console, tr("Take care"))
    for id in working.cautions:
        show_caution(console, knowledge.cautions[id])


def worked_data(knowledge: Knowledge, worked: Worked) -> dict[str, Any]:
    """The result as plain data for JSON."""
    return {
        "working": worked.working.id,
        "inputs": {
            id: {
                "value": one.value,
                "give_or_take": one.give_or_take,
                "unit": one.unit,
                "each": list(one.each),
            }
            for id, one in worked.inputs.items()
        },
        "assumed": list(worked.assumed),
        "results": {
            one.output.id: {
                "value": one.value,
                "unit": one.output.unit,
                "give_or_take": one.give_or_take if one.has_range else None,
                "low": one.low if one.has_range else None,
                "high": one.high if one.has_range else None,
                "window": _window(knowledge, worked, one.output.id),
                "misread": beyond_belief(knowledge, one) or None,
            }
            for one in worked.amounts
        },
        "means": worked.means(),
        "check_next": worked.check_next(),
        "formula": worked.working.formula,
        "sources": list(worked.working.sources),
    }


def _window(
    knowledge: Knowledge, worked: Worked, output: str
) -> Mapping[str, object] | None:
    amount = next(one for one in worked.amounts if one.output.id == output)
    judged = verdict(amount, knowledge)
    if judged is None:
        return None
    return {
        "id": judged.window.id,
        "low": judged.window.low,
        "high": judged.window.high,
        "side": judged.side,
        "says": judged.says,
        "range": edges(judged.window),
    }


def reckoned(knowledge: Knowledge, name: str, words: Sequence[str]) -> Worked:
    """Work out the one that is named, from the words behind it.

    Raises:
        AnswerError: there is no such working, or an input is wrong.
        CalculationError: nothing can be worked out from these numbers.
    """
    if name.strip().lower() in SHOWN:
        says = tr(
            "{name} is a table and takes nothing; write: diagnose reckon",
            name=quoted(name),
        )
        raise AnswerError(f"{says} {name.strip().lower()}")
    found = find_working(knowledge, name)
    if len(found) > 1:
        listed = shortened([one.id for one in found])
        raise AnswerError(
            tr(
                "{name} may be any of these, write one: {listed}.",
                name=quoted(name),
                listed=listed,
            )
        )
    given = given_inputs(found[0], words)
    return work_out(found[0], given, times_need_units=True)
