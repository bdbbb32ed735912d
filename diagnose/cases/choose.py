"""Which cases are meant, and how many there are of what."""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass

from diagnose.cases.record import Case, is_date
from diagnose.cases.shop import Kept
from diagnose.english import root_of
from diagnose.errors import AnswerError, nearest, quoted, unknown
from diagnose.language import tr
from diagnose.records import Knowledge
from diagnose.sentences import cut

NOTHING = "(none)"
"""Stands for a case that has no such label, or no confirmed cause."""


@dataclass(frozen=True, slots=True)
class Tally:
    """So many cases of one kind, with the minutes and the prints that they cost."""

    name: str
    cases: int
    minutes: float
    prints_lost: int


def cause_named(word: str, knowledge: Knowledge, kept: Iterable[Kept]) -> str:
    """A cause's id, of the knowledge or of a case.

    Raises:
        AnswerError: there is no such cause.
    """
    known = dict.fromkeys(knowledge.causes)
    for one in kept:
        known |= dict.fromkeys(c.name() for c in one.case.confirmed)
    if word not in known:
        raise AnswerError(unknown("cause", word, known))
    return word


def labels(texts: Iterable[str]) -> dict[str, str]:
    """'line=2' → {'line': '2'}, for several.

    Raises:
        AnswerError: one is not written like that.
    """
    found = {}
    for text in texts:
        label, is_there, value = text.partition("=")
        if not (is_there and label.strip() and value.strip()):
            raise AnswerError(
                tr(
                    "{text} is no group; write its label and value, such as line=2",
                    text=quoted(text),
                )
            )
        found[label.strip()] = value.strip()
    return found


def chosen(
    kept: Sequence[Kept],
    cause: str = "",
    groups: Mapping[str, str] | None = None,
    since: str = "",
) -> list[Kept]:
    """The cases with that confirmed cause, in those groups, from that day on.

    Raises:
        AnswerError: no case has such a label, or the day is none.
    """
    if since and not is_date(since):
        raise AnswerError(
            tr("{text} is no day; write it as 2026-03-14.", text=quoted(since))
        )
    used = {label for one in kept for label in one.case.groups}
    for label in groups or ():
        if label not in used:
            raise AnswerError(unknown("group", label, sorted(used)))
    return [
        one
        for one in kept
        if (not cause or cause in (c.name() for c in one.case.confirmed))
        and all(
            one.case.groups.get(label, "").lower() == value.lower()
            for label, value in (groups or {}).items()
        )
        and one.case.date >= since
    ]


def searched(kept: Iterable[Kept], words: str, knowledge: Knowledge) -> list[Kept]:
    """The cases in whose texts all the words stand, in whatever form; newest first.

    Raises:
        AnswerError: there is no word to look for.
    """
    wanted = wanted_roots(words)
    found = [one for one in kept if wanted <= roots(texts(one.case, knowledge))]
    return sorted(found, key=lambda one: (one.case.date, one.id), reverse=True)


def wanted_roots(words: str) -> set[str]:
    """The roots of the words that are looked for.

    Raises:
        AnswerError: there is no word to look for.
    """
    wanted = roots([words])
    if not wanted:
        raise AnswerError(
            tr("Write what to look for: diagnose case search gummy corners")
        )
    return wanted


def roots(texts: Iterable[str]) -> set[str]:
    """The roots of all words of some texts."""
    return {root_of(word.text.lower()) for text in texts for word in cut(text)}


def texts(case: Case, knowledge: Knowledge) -> list[str]:
    """All that is written of a case in words."""
    causes = [
        text
        for one in case.confirmed
        for text in (
            knowledge.causes[one.cause].name
            if one.cause in knowledge.causes
            else one.cause,
            one.other,
            one.how,
        )
    ]
    reasons = [one.because for one in case.corrected]
    return [*case.said, case.notes, *causes, *case.groups.values(), *reasons]


def tally(kept: Iterable[Kept], by: str) -> list[Tally]:
    """How many cases there are of each cause or month, or with each value of a group.

    A case with two confirmed causes counts for both. Those met most come first;
    months go by the calendar.

    Args:
        kept: the cases.
        by: 'cause', 'month' or the label of a group.

    Raises:
        AnswerError: there is no such group.
    """
    every = list(kept)
    used = {label for one in every for label in one.case.groups}
    if by not in ("cause", "month", *used):
        known: Collection[str] = ["cause", "month", *sorted(used)]
        raise AnswerError(
            tr(
                "cases can't be counted by {text}{hint}; they can by {known}.",
                text=quoted(by),
                hint=nearest(by, known),
                known=", ".join(known),
            )
        )
    found: dict[str, list[Case]] = {}
    for one in every:
        for name in _names(one.case, by):
            found.setdefault(name, []).append(one.case)
    counted = [
        Tally(
            name,
            len(cases),
            sum(case.minutes or 0 for case in cases),
            sum(case.prints_lost or 0 for case in cases),
        )
        for name, cases in found.items()
    ]
    if by == "month":
        return sorted(counted, key=lambda one: one.name)
    return sorted(counted, key=lambda one: (-one.cases, one.name))


def _names(case: Case, by: str) -> list[str]:
    if by == "month":
        return [case.date[:7]]
    if by == "cause":
        return [one.name() for one in case.confirmed] or [NOTHING]
    return [case.groups.get(by, NOTHING)]
