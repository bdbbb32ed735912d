"""The practice as it is typed at: what is shown, asked and kept after each line."""

from __future__ import annotations

import random
from collections.abc import Callable, Mapping, Sequence
from datetime import date
from pathlib import Path

from rich.console import Console

from diagnose import typed
from diagnose.errors import AnswerError
from diagnose.language import mark, tr, trn
from diagnose.model import model_of
from diagnose.newcomer_screens import show_term, show_terms_in
from diagnose.practice_fixes import fixes_offered
from diagnose.practice_progress import show_progress, show_so_far
from diagnose.practise import (
    Play,
    Record,
    Round,
    Told,
    best_line,
    draw_again,
    draw_round,
    due,
    open_round,
    read_record,
    write_record,
)
from diagnose.prompts import line_reader
from diagnose.proofs import PREFIX
from diagnose.records import Finding, Knowledge, Proof
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

CLEAR, SURE = 8, 85
"""A name this near, and so much nearer than the next one, is taken at once."""

OFFERED = 5
"""So many names are offered where words could mean several."""

NO_FIX = "-"
"""Kept as the fix where the knowledge has none that helps."""

HELP = (
    (
        mark("look …"),
        mark("ask for anything you would look at or measure: look tension"),
    ),
    (
        mark("settle …"),
        mark("make the check that settles a cause: settle too few coats"),
    ),
    (mark("it is …"), mark("name the cause, for example: it is too few coats")),
    (mark("picture"), mark("what it looks like beside the same without the fault")),
    (mark("so far"), mark("what you have been told")),
    (mark("hint"), mark("what the interview would look at now")),
    (mark("give up"), mark("see what it was")),
    (mark("stop"), mark("stop here; the round is kept, and goes on next time")),
    (mark("help"), mark("these words")),
)


TERM = ("term", "what is")
"""What is said to have a word of the trade explained."""


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
        self._pictured = ""
        self._said = ""
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
        line(self.console, tr("Practice: find out what is wrong, in few minutes."))
        self._show_help()
        try:
            while True:
                self._play(Play(self.model, self._next_round()))
                show_so_far(self.console, self.knowledge, self.record)
                line(self.console, tr("Another one? (y, or stop)"))
                while typed.spoken(self._read()) != "yes":
                    line(self.console, tr("? Take y for another one, or stop."))
        except (_Stop, EOFError, KeyboardInterrupt):
            line(self.console)
            line(self.console, tr("Stopped. All that you did is kept."))
        return 0

    def show_progress(self) -> int:
        """Show what came of all rounds.

        Raises:
            SheetError: the record is none.
            FolderError: the folder can't be read.
        """
        record = read_record(self.folder)
        show_progress(self.console, self.knowledge, record, self._today)
        return 0

    def _show_help(self) -> None:
        wide = max(len(tr(word)) for word, _ in HELP) + 1
        for word, means in HELP:
            bullet(self.console, f"{tr(word):<{wide}}", tr(means), 2)

    def _next_round(self) -> Round:
        going_on = open_round(self.record, self.model)
        if going_on is not None:
            line(self.console)
            line(self.console, tr("You stopped in the middle of this one."))
            return going_on
        again = due(self.record, self.model, self.level, self.stage, self._today)
        one = again and draw_again(self.model, again, self.level, self._draw)
        if not one:
            try:
                one = draw_round(self.model, self.level, self.stage, self._draw)
            except NoSuchWorldError:
                raise AnswerError(
                    tr("No fault of that stage shows in a sign; choose another stage.")
                ) from None
        one.day = self._today.isoformat()
        self.record.rounds.append(one)
        self._keep()
        return one

    def _keep(self) -> None:
        write_record(self.folder, self.record)

    def _read(self) -> str:
        text, self._said = self._said, ""
        text = text or typed.one_line(self._read_line("> "))
        if typed.command(text) == "stop":
            raise _Stop
        return text

    # a round

    def _play(self, play: Play) -> None:
        one = play.round
        heading(self.console, tr("A fault"))
        stage = self.knowledge.stages[play.stage].name
        line(
            self.console,
            tr("You are called to this stage of the work: {stage}.", stage=stage),
        )
        self._pictured = ""
        for sign in reversed(play.signs):
            self._pictured = self._picture_of(sign) or self._pictured
        for sign in play.signs:
            bullet(self.console, "*", self.knowledge.findings[sign].sentence("yes"), 2)
        if self._pictured:
            line(self.console, tr("Write picture to see what that looks like."), 2)
        if len(one.causes) > 1:
            line(self.console, tr("There are two causes at once."))
        for told in play.told:
            self._show_told(told)
        while len(one.named) < len(one.causes):
            self._turn(play)
        if not one.fix:
            self._choose_fix(play)
        self._compare(play)

    def _turn(self, play: Play) -> None:
        one = play.round
        if not self._said:
            line(self.console, tr("What do you look at, or what is it?"))
        text = self._read()
        low = typed.folded(text)
        if not low or typed.numbers(text):
            self._complain(
                tr("Write: look … , it is … , so far, hint, give up or stop.")
            )
        elif typed.command(text) == "help" or low == "?":
            self._show_help()
        elif typed.command(text) == "terms":
            says = [told.question.text for told in play.told]
            signs = [self.knowledge.findings[id].sentence("yes") for id in play.signs]
            show_terms_in(self.console, self.knowledge, [*signs, *says])
        elif (aside := typed.aside(text)) is not None and aside[0] in TERM:
            show_term(self.console, self.knowledge, aside[1])
        elif low in ("so far", tr("so far")) or typed.command(text) == "where":
            for told in play.told or ():
                self._show_told(told)
            if not play.told:
                line(self.console, tr("Nothing but what you saw first."))
        elif low in ("picture", tr("picture")):
            self._picture()
        elif low in ("hint", tr("hint")):
            self._hint(play)
        elif low in ("give up", "i give up", tr("give up")):
            one.named += ["-"] * (len(one.causes) - len(one.named))
            self._keep()
        elif (
            words := _behind(low, ("it is", "it's", "name"), tr("it is …"))
        ) is not None:
            named = {id: [c.name] for id, c in self.knowledge.causes.items()}
            cause = self._meant(words, named, tr("a cause"))
            if cause is not None and cause in one.named:
                self._complain(tr("You have named that one already; name the other."))
            elif cause is not None:
                one.named.append(cause)
                self._keep()
        elif (words := _behind(low, ("settle",), tr("settle …"))) is not None:
            named = {id: [c.name] for id, c in self.knowledge.causes.items()}
            cause = self._meant(words, named, "a cause")
            if cause is not None and PREFIX + cause in self.knowledge.findings:
                self._ask(play, PREFIX + cause)
        elif typed.command(text) is not None or typed.aside(text) is not None:
            self._complain(
                tr("Write: look … , it is … , so far, hint, give up or stop.")
            )
        else:
            looked = _behind(low, ("look at ", "look "), tr("look …"))
            self._look(play, low if looked is None else looked)

    def _look(self, play: Play, words: str) -> None:
        findings: dict[str, Sequence[str]] = {
            f.id: [f.name, f.id.replace("-", " "), *f.phrases, f.question]
            for f in self.knowledge.findings.values()
            if not isinstance(f, Proof)
        }
        finding = self._meant(words, findings, tr("something to look at"))
        if finding is not None:
            self._ask(play, finding)

    def _ask(self, play: Play, finding: str) -> None:
        """Look at it, keep that, and show what is to be seen."""
        try:
            told = play.ask(finding)
        except NoSuchWorldError:
            self._complain(tr("That can't be seen here; look at something else."))
            return
        self._keep()
        self._show_told(told, cautions=True)
        if picture := self._picture_of(told.question.id):
            self._pictured = picture
            line(self.console, tr("Write picture to see what that looks like."), 2)

    def _picture_of(self, finding: str) -> str:
        """A finding where it has a picture; ''."""
        return finding if self.knowledge.findings[finding].pictured else ""

    def _picture(self) -> None:
        """The picture of what was seen last."""
        if not self._pictured:
            self._complain(tr("There is no picture of what you saw."))
            return
        from diagnose.fault_pictures import pictured, show

        show(self.console, pictured(self.knowledge, self._pictured))

    def _hint(self, play: Play) -> None:
        question = play.consultation.next_question()
        if question is None:
            line(self.console, play.consultation.nothing_to_ask())
        elif question.kind == "tool":
            line(self.console, question.how)
        else:
            finding = self.knowledge.findings[question.id]
            bullet(self.console, tr("Find out:"), finding.question)
            settled = self.knowledge.causes.get(finding.id.removeprefix(PREFIX))
            if isinstance(finding, Proof) and settled is not None:
                says = tr("Write: settle {name}", name=settled.name)
            else:
                says = tr("Write: look {name}", name=finding.name)
            line(self.console, says, 2)

    def _show_told(self, told: Told, *, cautions: bool = False) -> None:
        finding = self.knowledge.findings[told.question.id]
        minutes = time_it_takes(told.minutes)
        bullet(self.console, "*", f"{said_of(finding, told.answer)} ({minutes})", 2)
        for id in told.question.cautions if cautions else ():
            show_caution(self.console, self.knowledge.cautions[id])

    def _choose_fix(self, play: Play) -> None:
        one = play.round
        offered = fixes_offered(play)
        if not offered:
            one.fix = NO_FIX
            self._keep()
            return
        line(
            self.console,
            tr("What would you do first? Take a number, or your own words."),
        )
        for number, fix in enumerate(offered, 1):
            bullet(self.console, f"{number:>2}", fix.name, 1)
        while not one.fix:
            text = self._read()
            picked = typed.numbers(text)
            if len(picked) == 1 and 1 <= picked[0] <= len(offered):
                one.fix = offered[picked[0] - 1].id
            elif picked or not text:
                self._complain(
                    tr(
                        "Take 1 to {count}, or write what you would do.",
                        count=len(offered),
                    )
                )
            else:
                named = {id: [fix.name] for id, fix in self.knowledge.fixes.items()}
                one.fix = self._meant(text, named, tr("something to do")) or ""
        self._keep()

    def _meant(
        self, words: str, named: Mapping[str, Sequence[str]], what: str
    ) -> str | None:
        """Which of several is meant; asked back where it could be more than one."""
        found = nearest_names(words, named)
        if not found:
            self._complain(
                tr("That is not {what} that is known here; try other words.", what=what)
            )
            return None
        if len(found) == 1:
            return found[0]
        line(self.console, tr("Which one? (a number, or Enter for none)"))
        for number, id in enumerate(found, 1):
            bullet(self.console, f"{number:>2}", named[id][0], 1)
        while text := self._read():
            picked = typed.numbers(text)
            if len(picked) == 1 and 1 <= picked[0] <= len(found):
                return found[picked[0] - 1]
            if typed.none_of_them(text):
                return None
            if picked:
                self._complain(
                    tr(
                        "Take 1 to {count}, or Enter for none of them.",
                        count=len(found),
                    )
                )
            else:  # they say it in other words, or want something else
                self._said = text
                return None
        return None

    def _complain(self, says: str) -> None:
        bullet(self.console, "?", says)

    # after it

    def _compare(self, play: Play) -> None:
        one, names = play.round, self.knowledge.causes
        best, last = best_line(play)
        fix = self.knowledge.fixes.get(one.fix)
        helps = one.fix == NO_FIX or (fix is not None and play.cured_by(fix))
        right = sorted(one.named) == sorted(one.causes)
        one.right = "yes" if right and helps else "no"
        one.minutes = sum(told.minutes for told in play.told)
        one.best = sum(told.minutes for told in best)
        one.day = self._today.isoformat()
        self._keep()
        heading(self.console, tr("Right") if right else tr("Not that"))
        for cause in one.causes:
            bullet(
                self.console, tr("It was:"), f"{names[cause].name}. {names[cause].what}"
            )
        for cause in one.named:
            if cause not in one.causes and cause in names:
                bullet(self.console, tr("You said:"), f"{names[cause].name}.")
                for alike in names[cause].looks_like:
                    if alike.id in one.causes:
                        bullet(self.console, tr("Tell apart:"), alike.tell_apart)
        if fix is not None:
            says = tr("is for it") if helps else tr("does not help here")
            lost = (
                ""
                if helps
                else tr(" and costs {minutes}", minutes=time_it_takes(fix.minutes))
            )
            bullet(self.console, tr("First fix:"), f"“{fix.name}” {says}{lost}.")
            if not helps:
                fix = next(filter(play.cured_by, fixes_offered(play)), fix)
                bullet(self.console, tr("This one does:"), f"“{fix.name}”.")
            for id in fix.cautions:
                show_caution(self.console, self.knowledge.cautions[id])
        heading(self.console, tr("What each look was worth"))
        self._line(tr("You:"), play.told)
        self._line(tr("The best line:"), best)
        mine = {told.question.id for told in play.told}
        missed = [told for told in best if told.question.id not in mine]
        if missed:
            most = max(missed, key=lambda told: told.bits)
            name = self.knowledge.findings[most.question.id].name
            says = tr("{name} ({bits:.1f} bits)", name=name, bits=most.bits)
            bullet(self.console, tr("Missed most:"), says)
        over = one.minutes - one.best
        if over > 0.5:
            says = tr("{over} more than the best line.", over=time_it_takes(over))
            bullet(self.console, tr("It cost:"), says)
        chances = {cause: chance for cause, _, chance in last.chances()}
        for cause in one.causes:
            says = f"{names[cause].name} {percent(chances.get(cause, 0.0))}"
            bullet(self.console, tr("With the best line:"), says)

    def _line(self, title: str, line_of: Sequence[Told]) -> None:
        minutes = time_it_takes(sum(told.minutes for told in line_of))
        looks = trn("{n} look", "{n} looks", len(line_of))
        line(self.console, f"{title} {looks}, {minutes}.")
        for told in line_of:
            finding = self.knowledge.findings[told.question.id]
            worth = tr(
                "{bits:.1f} bits, {minutes}",
                bits=told.bits,
                minutes=time_it_takes(told.minutes),
            )
            bullet(
                self.console,
                "-",
                f"{said_of(finding, told.answer)} [{worth}]",
                2,
            )


def said_of(finding: Finding, answer: str) -> str:
    """What is to be seen, in a sentence."""
    if answer == DONT_KNOW:
        return tr(
            "This shop has no such figure, and nothing to tell it by: {name}.",
            name=finding.name,
        )
    if finding.kind == "reading":
        return f"{finding.name}: {answer}."
    return finding.sentence(answer)


def _behind(low: str, words: Sequence[str], said: str) -> str | None:
    """What stands behind one of these English words, or behind what they are in the
    language in use; None where the line begins with none of them."""
    own, _, rest = f"{low} ".partition(f"{said.removesuffix('…').strip()} ")
    if not own and said:
        return rest.strip()
    for word in words:
        if low.startswith(word):
            return low.removeprefix(word).strip()
    return None


def nearest_names(
    words: str, named: Mapping[str, Sequence[str]], most: int = OFFERED
) -> list[str]:
    """The ids whose names are nearest to the words; one alone where it is clear, as it
    is where they are its first name."""
    from rapidfuzz import fuzz, process, utils

    words = utils.default_process(words)
    if not words:
        return []
    own = [id for id in named if utils.default_process(named[id][0]) == words]
    if len(own) == 1:
        return own
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
    ahead = best[order[0]] - best[order[1]] if len(order) > 1 else 0.0
    if ahead >= CLEAR and best[order[0]] >= SURE:
        return order[:1]
    return order
