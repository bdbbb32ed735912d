"""What is shown when someone asks back: why, why not, how, change, what if."""

from __future__ import annotations

from collections.abc import Sequence

from rich.console import Console

from diagnose import typed
from diagnose.consultation import Consultation
from diagnose.contrast import AtOdds, Turn
from diagnose.language import listed, mark, tr, trn
from diagnose.network import NOT_COVERED
from diagnose.questions import Question
from diagnose.records import Finding
from diagnose.screens import (
    LEAST,
    TRAILS,
    bar,
    bullet,
    line,
    percent,
    printable,
    shortened,
    show_trails,
)
from diagnose.sheets import DONT_KNOW, SOMEWHAT

AT_ONCE = 3
"""So many causes are compared when something is tried out."""

NOTHING_SAID = mark("Nothing has been said yet of what went wrong.")


def show_why(console: Console, consultation: Consultation, question: Question) -> None:
    """Which causes a question tells apart, and what each answer would make of them."""
    if question.kind == "tool":
        line(console, tr("With it, one look or reading would tell a lot."))
        return
    chances = consultation.chances()
    names = {
        cause: tr("“{name}” (now {p})", name=name, p=percent(p))
        for cause, name, p in chances
    }
    groups = consultation.separates(question)
    causes = [cause for group in groups for cause in group]
    sides = [listed(names[cause] for cause in group) for group in groups]
    if not sides:
        line(
            console, tr("By itself it moves no cause much; with other answers it may.")
        )
        return
    if len(causes) == 1:
        line(console, tr("It bears on {sides}. It would make that:", sides=sides[0]))
    elif len(sides) == 1:
        line(
            console,
            tr(
                "It bears on {sides}. It would make them, in that order:",
                sides=sides[0],
            ),
        )
    else:
        apart = tr(" from ").join(sides)
        line(console, tr("It separates {apart}.", apart=apart))
        line(console, tr("It would make them, in that order:"))
    for outlook in consultation.outlook(question, None):
        then = {cause: chance for cause, _, chance in outlook.chances}
        made = ", ".join(percent(then.get(cause, 0.0)) for cause in causes)
        says = f"{outlook.answer}: {made}. {outlook.because}".rstrip()
        bullet(console, "*", says, 2)


def show_why_not(console: Console, consultation: Consultation, words: str) -> None:
    """Why a cause, named by its place or by words, is not the first."""
    if not consultation.look.known:
        line(console, tr(NOTHING_SAID))
        return
    cause = find_cause(consultation, words)
    if cause is None:
        most = len(consultation.chances())
        line(
            console,
            tr(
                "No cause here is called {words!r}. Write other words, or a "
                "number from 1 to {most}: its place among the causes.",
                words=shortened(words),
                most=most,
            ),
        )
        return
    found = consultation.why_not(cause)
    name = f"“{found.name}”"
    if found.ruled_out:
        line(
            console,
            tr(
                "{name} is ruled out. {because}",
                name=name,
                because=" ".join(found.ruled_out),
            ),
        )
        _show_answers(console, consultation, found.because_of)
    elif not found.place:
        line(
            console,
            tr(
                "{name} is not on the table: nothing said so far points to it.",
                name=name,
            ),
        )
    elif found.place == 1:
        line(
            console,
            tr(
                "{name} is the first, with {chance}.",
                name=name,
                chance=percent(found.chance),
            ),
        )
    else:
        line(
            console,
            tr(
                "{name} comes as number {place} with {chance}; “{leader}” "
                "leads with {leader_chance}.",
                name=name,
                place=found.place,
                chance=percent(found.chance),
                leader=found.leader,
                leader_chance=percent(found.leader_chance),
            ),
        )
    line(console, found.what, 2)
    if found.against:
        line(console, tr("What speaks against it:"), 2)
    for says in found.against:
        bullet(console, "-", says, 2)
    if found.leaves_open and found.place:
        line(console, tr("What it would not account for:"), 2)
        for says in found.leaves_open:
            bullet(console, "-", says, 2)
    if found.needs and found.place != 1:
        line(
            console,
            tr("What would raise it most:")
            if found.place
            else tr("What would bring it up:"),
            2,
        )
        for turn in found.needs:
            bullet(console, "+", f"{turn.says} {_makes(turn)}", 2)
    if found.apart and found.place != 1:
        bullet(console, tr("To tell it from the first:"), found.apart, 2)


def _show_answers(
    console: Console, consultation: Consultation, findings: Sequence[str]
) -> None:
    """The answers that a rule drew on, which 'back' can change."""
    says = answers_in_words(consultation)
    told = " ".join(says[id] for id in findings if id in says)
    if told:
        bullet(
            console, tr("It rests on:"), tr("{told} ('back' changes it)", told=told), 2
        )


def _makes(turn: Turn) -> str:
    first = tr(", and make it the first") if turn.is_first else ""
    likely = (
        tr("; {likely} likely", likely=percent(turn.likely)) if turn.likely > 0 else ""
    )
    return tr(
        "(would bring it to {chance}{first}{likely})",
        chance=percent(turn.chance),
        first=first,
        likely=likely,
    )


def find_cause(consultation: Consultation, words: str) -> str | None:
    """The cause that is meant: by its place in the standing, its id, or its words.

    Those on the table come before the others; what is only near is taken last.
    """
    table = {cause: [name, cause] for cause, name, _ in consultation.chances()}
    every = {
        cause.id: [cause.name, cause.id]
        for cause in consultation.knowledge.causes.values()
    }
    picked = typed.numbers(words)
    if picked:
        return typed.chosen(words, table)
    for named in (table, {**table, **every}):
        found = typed.chosen(words, named)
        if found is not None:
            return found
    from diagnose.pages import find

    near = find(consultation.knowledge, words, most=50)
    causes = [one.id for one in near if one.kind == "causes"]
    return next(iter([*(c for c in causes if c in table), *causes]), None)


def show_change(console: Console, consultation: Consultation) -> None:
    """The answers that would put another cause first, and how likely each is."""
    if not consultation.look.known:
        line(console, tr(NOTHING_SAID))
        return
    _, name, chance = consultation.chances()[0]
    leads = tr("“{name}” leads with {chance}.", name=name, chance=percent(chance))
    turns = consultation.turning()
    if not turns:
        line(
            console,
            tr(
                "{leads} No single answer that is still open would put another first.",
                leads=leads,
            ),
        )
        return
    line(console, tr("{leads} What would put another cause first:", leads=leads))
    for turn in turns:
        bullet(
            console,
            "*",
            tr(
                "{says} Then “{name}” leads with {chance}. That answer is "
                "{likely} likely.",
                says=turn.says,
                name=turn.name,
                chance=percent(turn.chance),
                likely=percent(turn.likely),
            ),
            2,
        )
        bullet(console, tr("It is asked as:"), turn.question, 4)


def show_how(console: Console, consultation: Consultation) -> None:
    """How we got here: from the answers to the leading cause, in sentences."""
    if not consultation.look.known:
        line(console, tr(NOTHING_SAID))
        return
    ranking = consultation.ranking()
    leader = ranking.causes[0]
    line(
        console,
        tr(
            "How we got to “{name}” ({chance}):",
            name=leader.name,
            chance=percent(leader.probability),
        ),
    )
    show_trails(console, leader)
    for says in leader.weighed:
        bullet(console, "+", says, 3)
    if leader.cause == NOT_COVERED:
        line(
            console, tr("The answers fit no cause that is written down well enough."), 3
        )
    if leader.objections:
        line(console, tr("Against it:"), 3)
    for says in leader.objections[:TRAILS]:
        bullet(console, "-", says, 3)
    heard = {voice.finding for voice in (*leader.speaks_for, *leader.speaks_against)}
    given = consultation.sheet.given()
    open_ones = sum(value == DONT_KNOW for value in given.values())
    known = consultation.look.known
    silent = [id for id in known if id not in heard and id in given]
    if silent:
        words = answers_in_words(consultation)
        told = " ".join(words[id] for id in silent[:TRAILS])
        more = (
            tr(" … and {count} more.", count=len(silent) - TRAILS)
            if len(silent) > TRAILS
            else ""
        )
        bullet(console, tr("Hardly moved it:"), told + more, 3)
    if open_ones:
        says = trn(
            "“Don't know” counts for nothing, here once.",
            "“Don't know” counts for nothing, here {n} times.",
            open_ones,
        )
        line(console, says, 3)


def show_what_if(console: Console, now: Consultation, then: Consultation) -> None:
    """The standing as it is, and as it would be."""
    line(console, tr("If so (a look ahead; nothing is answered by it):"))
    before = {cause: chance for cause, _, chance in now.chances()}
    later = {cause: chance for cause, _, chance in then.chances()}
    names = {cause: name for c in (now, then) for cause, name, _ in c.chances()}
    shown = dict.fromkeys(
        cause
        for one in (then, now)
        for cause, _, chance in one.chances()[:AT_ONCE]
        if chance >= LEAST
    )
    line(console, tr("   now    then"), 2)
    for cause in sorted(shown, key=lambda c: (-later.get(c, 0.0), c)):
        was = percent(before[cause]) if cause in before else "-"
        is_then = percent(later[cause]) if cause in later else tr("out")
        figures = f"{was:>6}  {is_then:>6} {bar(later.get(cause, 0.0))}"
        bullet(console, figures, names[cause], 2)
    old = {one.says for one in now.at_odds()}
    for one in then.at_odds():
        if one.says not in old:
            bullet(console, tr("At odds then:"), one.says, 2)


def show_at_odds(console: Console, one: AtOdds) -> None:
    """Answers that do not go together."""
    bullet(console, tr("At odds:"), one.says)


def answers_in_words(consultation: Consultation) -> dict[str, str]:
    """Every answer as a sentence, by finding or tool."""
    knowledge, sheet = consultation.knowledge, consultation.sheet
    found = {
        id: as_sentence(knowledge.findings[id], value)
        for id, value in sheet.given().items()
    }
    for tool, is_here in sheet.to_hand.items():
        name = knowledge.tools[tool].name
        found[tool] = (
            tr("To hand: {name}.", name=name)
            if is_here == "yes"
            else tr("Not here: {name}.", name=name)
        )
    return found


def as_sentence(finding: Finding, value: str) -> str:
    """An answer as a sentence."""
    if value == DONT_KNOW:
        return tr("Don't know: {name}.", name=finding.name)
    if finding.kind == "reading":
        unit = "" if any(sign.isalpha() for sign in value) else f" {finding.unit}"
        return tr(
            "Reading, {name}: {value}{unit}.",
            name=finding.name,
            value=shortened(printable(value)),
            unit=unit,
        )
    if value == SOMEWHAT:
        return tr("Somewhat: {says}", says=finding.sentence("yes"))
    return finding.sentence(value)
