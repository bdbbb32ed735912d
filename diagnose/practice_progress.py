"""What practice came to: by stage and level, against the best line, and what comes
again."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date

from rich.console import Console

from diagnose.language import listed, tr, trn
from diagnose.practise import Record, Round
from diagnose.records import Knowledge
from diagnose.repeats import Repeat, comes_again
from diagnose.screens import bar, bullet, heading, line, shortened

LAST = 10
"""So many rounds are the last ones."""

WIDE = 29
"""Characters of the first column."""


@dataclass(frozen=True, slots=True)
class Tally:
    """Rounds that were ended: how many, how many right, and their minutes."""

    rounds: int
    right: int
    minutes: float
    best: float

    @property
    def share(self) -> float:
        """The share that was right."""
        return self.right / self.rounds


def ended(record: Record) -> list[Round]:
    """The rounds that were ended."""
    return [one for one in record.rounds if one.right]


def tally(rounds: Sequence[Round]) -> Tally:
    """What rounds came to; one at least."""
    return Tally(
        len(rounds),
        sum(one.right == "yes" for one in rounds),
        sum(one.minutes for one in rounds),
        sum(one.best for one in rounds),
    )


def by_stage_and_level(
    rounds: Sequence[Round], knowledge: Knowledge
) -> dict[tuple[tuple[str, ...], int], Tally]:
    """What rounds came to, by the stages that their causes come from, and by level.

    In the order of the work; a cause that is no longer known comes from no stage.
    """
    places = {stage: place for place, stage in enumerate(knowledge.stages)}
    groups: dict[tuple[tuple[str, ...], int], list[Round]] = {}
    for one in rounds:
        known = [knowledge.causes[c].stage for c in one.causes if c in knowledge.causes]
        stages = tuple(sorted(set(known), key=places.__getitem__))
        groups.setdefault((stages, one.level), []).append(one)
    order = sorted(groups, key=lambda key: ([places[s] for s in key[0]], key[1]))
    return {key: tally(groups[key]) for key in order}


def show_so_far(console: Console, knowledge: Knowledge, record: Record) -> None:
    """How many rounds were right, in two or three lines."""
    rounds = ended(record)
    all_of, last = tally(rounds), tally(rounds[-LAST:])
    heading(console, tr("So far"))
    says = tr(
        "{right} of {count} rounds right.", right=all_of.right, count=all_of.rounds
    )
    line(console, says)
    if all_of.rounds > last.rounds:
        says = tr(
            "Of the last {count}: {of_last}.", count=last.rounds, of_last=last.right
        )
        line(console, says)
    if again := comes_again(rounds, knowledge.scales.practise):
        many = trn("{n} fault comes again", "{n} faults come again", len(again))
        line(
            console, tr("{many}; the first on {first}.", many=many, first=again[0].due)
        )


def show_progress(
    console: Console, knowledge: Knowledge, record: Record, today: date
) -> None:
    """The whole of it, as a table, with what comes again and when."""
    rounds = ended(record)
    heading(console, tr("Your practice"))
    if not rounds:
        line(console, tr("No round was ended yet; begin with: diagnose practise"))
        return
    line(
        console,
        _row(
            tr("stage"), tr("level"), tr("rounds"), tr("right"), tr("min"), tr("best")
        ),
    )
    for (stages, level), of in by_stage_and_level(rounds, knowledge).items():
        named = listed(knowledge.stages[one].name for one in stages)
        _show_row(console, named or tr("no longer known"), str(level), of)
    if len(rounds) > 1:
        _show_row(console, tr("all"), "", tally(rounds))
    if len(rounds) > LAST:
        count = len(rounds[-LAST:])
        _show_row(
            console, tr("the last {count}", count=count), "", tally(rounds[-LAST:])
        )
    line(console)
    line(
        console,
        tr(
            "min: minutes that your looks took a round; best: those of the best line "
            "in the same rounds."
        ),
    )
    _show_again(
        console, knowledge, comes_again(rounds, knowledge.scales.practise), today
    )


def _show_again(
    console: Console, knowledge: Knowledge, again: Sequence[Repeat], today: date
) -> None:
    heading(console, tr("What comes again"))
    if not again:
        line(console, tr("Nothing: what you got wrong would be listed here."))
    for one in again:
        named = listed(
            knowledge.causes[cause].name if cause in knowledge.causes else cause
            for cause in one.causes
        )
        when = tr("now") if one.due <= today else one.due.isoformat()
        says = tr(
            "{cause} ({right} of {count} right)",
            cause=named,
            right=one.right,
            count=one.rounds,
        )
        bullet(console, f"{when:<10}", says)


def _show_row(console: Console, named: str, level: str, of: Tally) -> None:
    right = f"{bar(of.share)} {of.right}"
    each = f"{of.minutes / of.rounds:.0f}", f"{of.best / of.rounds:.0f}"
    line(console, _row(named, level, str(of.rounds), right, *each))


def _row(
    named: str, level: str, rounds: str, right: str, minutes: str, best: str
) -> str:
    named = shortened(named, WIDE)
    return f"{named:<{WIDE}} {level:>5} {rounds:>6}  {right:<15}{minutes:>5} {best:>6}"
