"""The practice as it is typed at: what is shown, asked and kept after each line."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from pathlib import Path

from rich.console import Console

from diagnose import typed
from diagnose.errors import AnswerError
from diagnose.model import model_of
from diagnose.practise import (
    Play,
    Record,
    Round,
    Told,
    best_line,
    draw_again,
    draw_round,
    due,
    ended,
    open_round,
    read_record,
    write_record,
)
from diagnose.prompts import line_reader
from diagnose.proofs import PREFIX
from diagnose.records import Finding, Fix, Knowledge, Proof
from diagnose.screens import (
    bullet,
    heading,
    line,
    new_console,
    percent,
    show_caution,
    time_it_takes,
)
from diagnose.sheets import DONT_KNOW
from diagnose.shelf import Shelf
from diagnose.worlds import NoSuchWorldError

NEAR = 60
"""Of 100: how near words have to be to a name."""

CLEAR = 8
"""A name this much nearer than the next one is taken without asking back."""

OFFERED = 5
"""So many names are offered where words could mean several, and so many fixes."""

HELP = (
    ("look …", "ask for anything you would look at or measure: look tension"),
    ("settle …", "make the check that settles a cause: settle too few coats"),
    ("it is …", "name the cause, for example: it is too few coats"),
    ("so far", "what you have been told"),
    ("hint", "what the interview would look at now"),
    ("give up", "see what it was"),
    ("stop", "stop here; the round is kept, and goes on next time"),
    ("help", "these words"),
)


class _Stop(Exception):
    """The person wants to stop."""


class Practice:
    """Rounds of practice, kept after each line.

    Args:
        knowledge: what the tool knows.
        folder: where consultations are kept.
        level: 1, 2 or 3.
        stage: draw causes of that stage of the work only.
        console: where text goes.
        read_line: gives the next line; raises EOFError at the end.
        seed: for the same faults again; another one each time where left out.
        today: the day.
    """

    def __init__(
        self,
        knowledge: Knowledge,
        folder: Path,
        level: int = 1,
        stage: str = "",
        console: Console | None = None,
        read_line: Callable[[str], str] | None = None,
        seed: int | None = None,
        today: date | None = None,
    ) -> None:
        self.model = model_of(knowledge)
        self.knowledge = knowledge
        self.folder = folder
        self.level = level
        self.stage = stage
        self.console = console or new_console()
        self._read_line = read_line or line_reader(self.console)
        self._draw = random.Random(seed)
        self._today = today or date.today()
        self.record = Record()

    def run(self) -> int:
        """Play until the person stops.

        Raises:
            AnswerError: no fault can be drawn.
            SheetError: the record is none.
            FolderError: nothing can be kept in the folder.
        """
        Shelf(self.folder).ready()
        self.record = read_record(self.folder)
        line(self.console, "Practice: find out what is wrong, in few minutes.")
        for word, means in HELP:
            bullet(self.console, f"{word:<9}", means, 2)
        try:
            while True:
                self._play(Play(self.model, self._next_round()))
                self._progress()
                line(self.console, "Another one? (y, or stop)")
                while typed.SPOKEN.get(typed.folded(self._read())) != "yes":
                    line(self.console, "? Take y for another one, or stop.")
        except (_Stop, EOFError, KeyboardInterrupt):
            line(self.console)
            line(self.console, "Stopped. All that you did is kept.")
        return 0

    def _next_round(self) -> Round:
        going_on = open_round(self.record, self.model)
        if going_on is not None:
            line(self.console)
            line(self.console, "You stopped in the middle of this one.")
            return going_on
        if self.record.rounds and not self.record.rounds[-1].right:
            self.record.rounds.pop()  # the knowledge is another one now
        again = due(self.record, self.model, self.level, self.stage, self._today)
        one = again and draw_again(self.model, again, self.level, self._draw)
        if not one:
            try:
                one = draw_round(self.model, self.level, self.stage, self._draw)
            except NoSuchWorldError:
                raise AnswerError(
                    "No fault of that stage shows in a sign; choose another stage."
                ) from None
        one.day = self._today.isoformat()
        self.record.rounds.append(one)
        self._keep()
        return one

    def _keep(self) -> None:
        write_record(self.folder, self.record)

    def _read(self) -> str:
        text = typed.one_line(self._read_line("> "))
        if typed.command(text) == "stop":
            raise _Stop
        return text

    # a round

    def _play(self, play: Play) -> None:
        one = play.round
        heading(self.console, "A fault")
        stage = self.knowledge.stages[play.stage].name
        line(self.console, f"You are called to this stage of the work: {stage}.")
        for sign in play.signs:
            bullet(self.console, "*", self.knowledge.findings[sign].sentence("yes"), 2)
        if len(one.causes) > 1:
            line(self.console, "There are two causes at once.")
        for told in play.told:
            self._show_told(told)
        while len(one.named) < len(one.causes):
            self._turn(play)
        if not one.fix:
            self._choose_fix(play)
        self._compare(play)

    def _turn(self, play: Play) -> None:
        one = play.round
        line(self.console, "What do you look at, or what is it?")
        text = self._read()
        low = typed.folded(text)
        if not low:
            self._complain("Write: look … , it is … , so far, hint, give up or stop.")
        elif low in ("help", "?"):
            for word, means in HELP:
                bullet(self.console, f"{word:<9}", means, 2)
        elif low in ("so far", "where"):
            for told in play.told or ():
                self._show_told(told)
            if not play.told:
                line(self.console, "Nothing but what you saw first.")
        elif low == "hint":
            self._hint(play)
        elif low in ("give up", "i give up"):
            one.named += ["-"] * (len(one.causes) - len(one.named))
            self._keep()
        elif low.startswith(("it is", "it's", "name")):
            words = low.removeprefix("it is").removeprefix("it's").removeprefix("name")
            named = {id: [c.name] for id, c in self.knowledge.causes.items()}
            cause = self._meant(words.strip(), named, "a cause")
            if cause is not None and cause in one.named:
                self._complain("You have named that one already; name the other.")
            elif cause is not None:
                one.named.append(cause)
                self._keep()
        elif low.startswith("settle"):
            named = {id: [c.name] for id, c in self.knowledge.causes.items()}
            cause = self._meant(low.removeprefix("settle"), named, "a cause")
            if cause is not None and PREFIX + cause in self.knowledge.findings:
                self._ask(play, PREFIX + cause)
        else:
            self._look(play, low.removeprefix("look at ").removeprefix("look "))

    def _look(self, play: Play, words: str) -> None:
        findings: dict[str, Sequence[str]] = {
            f.id: [f.name, f.id.replace("-", " "), *f.phrases]
            for f in self.knowledge.findings.values()
            if not isinstance(f, Proof)
        }
        finding = self._meant(words, findings, "something to look at")
        if finding is not None:
            self._ask(play, finding)

    def _ask(self, play: Play, finding: str) -> None:
        """Look at it, keep that, and show what is to be seen."""
        try:
            told = play.ask(finding)
        except NoSuchWorldError:
            self._complain("That can't be seen here; look at something else.")
            return
        self._keep()
        self._show_told(told, cautions=True)

    def _hint(self, play: Play) -> None:
        question = play.consultation.next_question()
        if question is None:
            line(self.console, play.consultation.nothing_to_ask())
        elif question.kind == "tool":
            line(self.console, question.how)
        else:
            name = self.knowledge.findings[question.id].name
            line(self.console, f"Look at: {name}.")

    def _show_told(self, told: Told, *, cautions: bool = False) -> None:
        finding = self.knowledge.findings[told.question.id]
        minutes = time_it_takes(told.minutes)
        bullet(self.console, "*", f"{said_of(finding, told.answer)} ({minutes})", 2)
        for id in told.question.cautions if cautions else ():
            show_caution(self.console, self.knowledge.cautions[id])

    def _choose_fix(self, play: Play) -> None:
        one = play.round
        offered = self._fixes(play)
        line(self.console, "What would you do first? Take a number, or your own words.")
        for number, fix in enumerate(offered, 1):
            bullet(self.console, f"{number:>2}", fix.name, 1)
        while not one.fix:
            text = self._read()
            picked = typed.numbers(text)
            if len(picked) == 1 and 1 <= picked[0] <= len(offered):
                one.fix = offered[picked[0] - 1].id
            elif picked or not text:
                self._complain(f"Take 1 to {len(offered)}, or write what you would do.")
            else:
                named = {id: [fix.name] for id, fix in self.knowledge.fixes.items()}
                one.fix = self._meant(text, named, "something to do") or ""
        self._keep()

    def _fixes(self, play: Play) -> list[Fix]:
        """Fixes to choose from: one that helps at least, mixed with others; the same
        for the same round."""
        draw = random.Random(f"{play.round.seed}/fixes")
        fixes = list(self.knowledge.fixes.values())
        helps = [fix for fix in fixes if play.cured_by(fix)]
        others = [fix for fix in fixes if fix not in helps]
        some = draw.sample(helps, min(2, len(helps)))
        some += draw.sample(others, min(OFFERED - len(some), len(others)))
        draw.shuffle(some)
        return some

    def _meant(
        self, words: str, named: Mapping[str, Sequence[str]], what: str
    ) -> str | None:
        """Which of several is meant; asked back where it could be more than one."""
        found = nearest_names(words, named)
        if not found:
            self._complain(f"That is not {what} that is known here; try other words.")
            return None
        if len(found) == 1:
            return found[0]
        line(self.console, "Which one? (a number, or Enter for none)")
        for number, id in enumerate(found, 1):
            bullet(self.console, f"{number:>2}", named[id][0], 1)
        while text := self._read():
            picked = typed.numbers(text)
            if len(picked) == 1 and 1 <= picked[0] <= len(found):
                return found[picked[0] - 1]
            if typed.none_of_them(text):
                return None
            self._complain(f"Take 1 to {len(found)}, or Enter for none of them.")
        return None

    def _complain(self, says: str) -> None:
        bullet(self.console, "?", says)

    # after it

    def _compare(self, play: Play) -> None:
        one, names = play.round, self.knowledge.causes
        best, last = best_line(play)
        fix = self.knowledge.fixes.get(one.fix)
        helps = fix is not None and play.cured_by(fix)
        right = sorted(one.named) == sorted(one.causes)
        one.right = "yes" if right and helps else "no"
        one.minutes = sum(told.minutes for told in play.told)
        one.best = sum(told.minutes for told in best)
        ended(self.record, one, self._today, list(self.knowledge.scales.practise.days))
        self._keep()
        heading(self.console, "Right" if right else "Not that")
        for cause in one.causes:
            bullet(self.console, "It was:", f"{names[cause].name}. {names[cause].what}")
        for cause in one.named:
            if cause not in one.causes and cause in names:
                bullet(self.console, "You said:", f"{names[cause].name}.")
                for alike in names[cause].looks_like:
                    if alike.id in one.causes:
                        bullet(self.console, "Tell apart:", alike.tell_apart)
        if fix is not None:
            says = "is for it" if helps else "does not help here"
            lost = "" if helps else f" and costs {time_it_takes(fix.minutes)}"
            bullet(self.console, "First fix:", f"“{fix.name}” {says}{lost}.")
            for id in fix.cautions:
                show_caution(self.console, self.knowledge.cautions[id])
        heading(self.console, "What each look was worth")
        self._line("You:", play.told)
        self._line("The best line:", best)
        mine = {told.question.id for told in play.told}
        missed = [told for told in best if told.question.id not in mine]
        if missed:
            most = max(missed, key=lambda told: told.bits)
            name = self.knowledge.findings[most.question.id].name
            says = f"{name} ({most.bits:.1f} bits)"
            bullet(self.console, "Missed most:", says)
        over = one.minutes - one.best
        if over > 0.5:
            says = f"{time_it_takes(over)} more than the best line."
            bullet(self.console, "It cost:", says)
        chances = {cause: chance for cause, _, chance in last.chances()}
        for cause in one.causes:
            says = f"{names[cause].name} {percent(chances.get(cause, 0.0))}"
            bullet(self.console, "With the best line:", says)

    def _line(self, title: str, line_of: Sequence[Told]) -> None:
        minutes = time_it_takes(sum(told.minutes for told in line_of))
        looks = f"{len(line_of)} look{'' if len(line_of) == 1 else 's'}"
        line(self.console, f"{title} {looks}, {minutes}.")
        for told in line_of:
            finding = self.knowledge.findings[told.question.id]
            worth = f"{told.bits:.1f} bits, {time_it_takes(told.minutes)}"
            bullet(
                self.console,
                "-",
                f"{said_of(finding, told.answer)} [{worth}]",
                2,
            )

    def _progress(self) -> None:
        rounds = [one for one in self.record.rounds if one.right]
        right = sum(one.right == "yes" for one in rounds)
        heading(self.console, "So far")
        line(self.console, f"{right} of {len(rounds)} rounds right.")
        last = rounds[-10:]
        if len(rounds) > len(last):
            of_last = sum(one.right == "yes" for one in last)
            line(self.console, f"Of the last {len(last)}: {of_last}.")
        if self.record.again:
            first = min(one.due for one in self.record.again)
            count = len(self.record.again)
            many = f"{count} fault{' comes' if count == 1 else 's come'} again"
            line(self.console, f"{many}; the first on {first}.")


def said_of(finding: Finding, answer: str) -> str:
    """What is to be seen, in a sentence."""
    if answer == DONT_KNOW:
        return f"Nobody knows, and there is nothing to tell it by: {finding.name}."
    if finding.kind == "reading":
        return f"{finding.name}: {answer}."
    return finding.sentence(answer)


def nearest_names(
    words: str, named: Mapping[str, Sequence[str]], most: int = OFFERED
) -> list[str]:
    """The ids whose names are nearest to the words; one alone where it is clear."""
    from rapidfuzz import fuzz, process, utils

    words = utils.default_process(words)
    if not words:
        return []
    texts = [(id, text) for id, every in named.items() for text in every]
    scored = process.extract(
        words,
        [text for _, text in texts],
        scorer=fuzz.WRatio,
        processor=utils.default_process,
        score_cutoff=NEAR,
        limit=None,
    )
    best: dict[str, float] = {}
    for text, score, place in scored:
        full = fuzz.ratio(words, utils.default_process(text))
        shared = fuzz.token_set_ratio(words, utils.default_process(text))
        score = 100.0 if full == 100 else 0.6 * shared + 0.4 * full
        if score < NEAR:
            continue
        id = texts[place][0]
        best[id] = max(best.get(id, 0.0), score)
    order = sorted(best, key=lambda id: (-best[id], id))[:most]
    if len(order) > 1 and best[order[0]] - best[order[1]] >= CLEAR:
        return order[:1]
    return order
