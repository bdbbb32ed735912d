"""What `diagnose guide` prints: the steps of making a screen, and one of them."""

from __future__ import annotations

from collections.abc import Iterable

from rich.console import Console

from diagnose.checks import WINDOW
from diagnose.explain import how_often
from diagnose.language import tr
from diagnose.making import Fault, causes_of, fault, with_numbers
from diagnose.model import Model
from diagnose.newcomer_screens import show_terms
from diagnose.records import GuideStep, Knowledge
from diagnose.screens import bullet, heading, line, show_caution, show_sources
from diagnose.terms import glossary_of

SPELLED = 6
"""So many causes of a step are told in full; the others are named."""


def show_steps_of_guide(console: Console, knowledge: Knowledge) -> None:
    """The steps by number, each with what most often goes wrong."""
    if not knowledge.guide:
        line(console, tr("This knowledge has no guide."))
        return
    line(console, tr("The making of a screen, step by step"), style="bold")
    for number, step in enumerate(knowledge.guide.values(), 1):
        bullet(console, f"{number:>3}", step.name)
        causes = [cause.name for cause in causes_of(knowledge, step)[:2]]
        if causes:
            line(console, tr("goes wrong: {causes}", causes="; ".join(causes)), 4)
    line(console, tr("One step as a page: diagnose guide 3. All: diagnose guide --all"))


def show_guide(console: Console, model: Model) -> None:
    """The whole guide; a word, and a danger, is explained where it first stands."""
    told: set[str] = set()
    for number, step in enumerate(model.knowledge.guide.values()):
        if number:
            console.print()
        show_guide_step(console, model, step, told)


def show_guide_step(
    console: Console, model: Model, step: GuideStep, told: set[str] | None = None
) -> None:
    """One step as a page.

    Args:
        console: where it goes.
        model: the knowledge.
        step: the step.
        told: what was explained before, as 'terms/mesh' or 'cautions/uv-lamp'; what
            is explained here is added.
    """
    knowledge = model.knowledge
    told = set() if told is None else told
    number = list(knowledge.guide).index(step.id) + 1
    count = len(knowledge.guide)
    title = tr("Step {number} of {count}: ", number=number, count=count) + step.name
    line(console, title, style="bold")
    line(console, "=" * min(len(title), console.width))
    for place, says in enumerate(step.do, 1):
        bullet(console, f"{place:>2}.", with_numbers(knowledge, says))
    bullet(console, tr("Why:"), step.why)
    bullet(console, tr("It went well when:"), with_numbers(knowledge, step.well))
    if step.signs:
        line(console, tr("Look for these, as they mean that something went wrong:"))
    for sign in step.signs:
        finding = knowledge.findings[sign]
        bullet(console, "-", f"{finding.sentence('yes')} ({sign})", 2)
    _show_cautions(console, knowledge, step.cautions, tr("Take care"), told)
    _show_faults(console, model, step, told)
    text = " ".join([step.name, *step.do, step.why, step.well])
    terms = glossary_of(knowledge).standing_in(with_numbers(knowledge, text))
    terms = [term for term in terms if f"terms/{term.id}" not in told]
    if terms:
        heading(console, tr("Words of the trade"))
    show_terms(console, terms)
    told.update(f"terms/{term.id}" for term in terms)
    show_sources(console, knowledge, _sources(knowledge, step))


def _show_cautions(
    console: Console,
    knowledge: Knowledge,
    ids: Iterable[str],
    title: str,
    told: set[str],
) -> None:
    """Dangers below a heading: in full the first time, in short after that."""
    ids = list(dict.fromkeys(ids))
    if ids:
        heading(console, title)
    for id in ids:
        known = f"cautions/{id}" in told
        show_caution(console, knowledge.cautions[id], seen_before=known)
        told.add(f"cautions/{id}")


def _sources(knowledge: Knowledge, step: GuideStep) -> list[str]:
    """The sources of a step and of the windows that give its numbers."""
    named = [id for text in (*step.do, step.well) for id in WINDOW.findall(text)]
    windows = [source for id in named for source in knowledge.windows[id].sources]
    return [*step.sources, *windows]


def _show_faults(
    console: Console, model: Model, step: GuideStep, told: set[str]
) -> None:
    """What goes wrong at a step, and the dangers of the checks that are told."""
    causes = causes_of(model.knowledge, step)
    if causes:
        heading(console, tr("What goes wrong here, the commonest first"))
    for number, cause in enumerate(causes[:SPELLED], 1):
        _show_fault(console, number, fault(model, cause))
    if causes[SPELLED:]:
        line(console, tr("More seldom (diagnose show ID tells of each):"))
    for cause in causes[SPELLED:]:
        bullet(console, "-", f"{cause.name} ({cause.id})", 2)
    checks = [cause.settled_by[0] for cause in causes[:SPELLED]]
    more = [id for one in checks for id in one.cautions if id not in step.cautions]
    title = tr("Take care with these checks")
    _show_cautions(console, model.knowledge, more, title, told)


def _show_fault(console: Console, number: int, one: Fault) -> None:
    cause = one.cause
    often = how_often(cause.how_common)
    bullet(console, f"{number}.", f"{cause.name} ({often}; {cause.id})")
    _labelled(console, tr("Shows as:"), one.before)
    _labelled(console, tr("In the print:"), one.in_print)
    bullet(console, tr("Check:"), cause.settled_by[0].how, 3)
    if one.prevent is not None:
        bullet(console, tr("Prevent it:"), f"{one.prevent.name} ({one.prevent.id})", 3)


def _labelled(console: Console, label: str, sentences: Iterable[str]) -> None:
    says = " ".join(sentences)
    if says:
        bullet(console, label, says, 3)
