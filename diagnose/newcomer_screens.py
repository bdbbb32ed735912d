"""What a newcomer is shown: words of the trade, and how to look in three steps."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Console

from diagnose.errors import AnswerError
from diagnose.how_to_look import cautions_for, steps_for
from diagnose.language import tr
from diagnose.records import Knowledge, Term
from diagnose.screens import bullet, line, shortened, show_caution
from diagnose.terms import glossary_of, other_words

BETWEEN = " / "
"""Stands between texts, so that no word reaches from one into the next."""


def show_steps(console: Console, knowledge: Knowledge, id: str) -> None:
    """How to look for a finding (or a tool) in three steps, and what can hurt."""
    line(console, tr("How to look, in three steps:"))
    for number, says in enumerate(steps_for(knowledge, id), 1):
        bullet(console, str(number), says, 2)
    for caution in cautions_for(knowledge, id):
        show_caution(console, knowledge.cautions[caution])


def show_terms_in(console: Console, knowledge: Knowledge, texts: Iterable[str]) -> None:
    """The words of the trade that stand in texts, explained."""
    found = glossary_of(knowledge).standing_in(BETWEEN.join(texts))
    if found:
        line(console, tr("Words of the trade here:"))
    else:
        line(console, tr("No word here is in the list of the trade's words."))
    show_terms(console, found)
    line(console, tr("For any other write term and the word, such as: term mesh count"))


def show_term(console: Console, knowledge: Knowledge, words: str) -> None:
    """The word of the trade that is meant, or that there is none."""
    try:
        show_terms(console, [term_named(knowledge, words)])
    except AnswerError as error:
        bullet(console, "?", str(error))


def show_terms(console: Console, terms: Iterable[Term]) -> None:
    """Words of the trade, a bullet each."""
    for term in terms:
        bullet(console, "*", explained(term), 2)


def show_glossary(console: Console, knowledge: Knowledge) -> None:
    """All words of the trade, from A to Z, with what else they are called."""
    if not knowledge.terms:
        line(console, tr("This knowledge explains no words of the trade."))
    for term in sorted(knowledge.terms.values(), key=lambda one: one.name.lower()):
        others = ", ".join(other_words(term))
        also = tr(" (also: {words})", words=others) if others else ""
        line(console, f"{term.name}{also}", style="bold")
        line(console, term.what, 2)
        line(console, term.why, 2)


def explained(term: Term) -> str:
    """A word of the trade, what it means and why it matters."""
    return f"{term.name}: {term.what} {term.why}"


def term_named(knowledge: Knowledge, words: str) -> Term:
    """The word of the trade that is meant.

    Raises:
        AnswerError: there is none, or none is named.
    """
    if not words.strip():
        raise AnswerError(tr("Write the word behind it, such as: term mesh count"))
    found = glossary_of(knowledge).named(words)
    if found is None:
        raise AnswerError(
            tr(
                "“{words}” is not in the list of the trade's words. "
                "'diagnose terms' shows the list.",
                words=shortened(words),
            )
        )
    return found
