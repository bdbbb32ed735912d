"""The interview on a terminal: reads lines, prints screens, and keeps every answer.

It uses `Consultation` and nothing below it. Where lines come from and where text
goes are arguments, so a test can feed the answers and read the screen.
"""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from pathlib import Path

from rich.console import Console

from diagnose import typed
from diagnose.consultation import Consultation
from diagnose.errors import AnswerError, DiagnoseError, FolderError
from diagnose.questions import Question
from diagnose.records import Finding, Knowledge
from diagnose.screens import (
    bullet,
    line,
    new_console,
    percent,
    printable,
    shortened,
    show_caution,
    show_question,
    show_result,
    show_short,
    show_standing,
    show_understood,
    show_where,
)
from diagnose.sheets import DONT_KNOW, SOMEWHAT
from diagnose.shelf import FOLDER_VARIABLE, Shelf, consultations_folder

__all__ = ["FOLDER_VARIABLE", "Interview", "consultations_folder"]

SHORT_LIST = 14
"""So many signs are listed at a time; '0' shows the next ones."""

SHOWN_ANSWERS = 8
"""So many answers of an earlier consultation are shown before it is gone on with."""

HELP = (
    ("?", "I don't know, or can't look"),
    ("why", "why you are being asked this"),
    ("where", "where we stand so far"),
    ("back", "go back and change an answer"),
    ("say …", "tell it in your own words, for example: say it looks patchy"),
    ("stop", "stop here, with the result so far; your answers are kept"),
)

REMINDER = "(any time: why  where  back  say …  stop  help)"


class _Stop(Exception):
    """The person wants to stop here."""


class _Back(Exception):
    """The person wants to change an earlier answer."""


class _Said(Exception):
    """The person told something in their own words instead."""


@dataclass(frozen=True)
class _Prompt:
    """What a line is read for.

    `show` puts the question on the screen, `why` tells why it is asked, `takes` is a
    sentence on what it takes, and `say` is whether own words may come in between.
    """

    show: Callable[[], None]
    why: Callable[[], None]
    takes: str
    say: bool = True


class Interview:
    """One interview.

    Args:
        knowledge: what the tool knows.
        folder: where consultations are kept.
        console: where text goes.
        read_line: gives the next line the person types; raises EOFError at the end.
    """

    def __init__(
        self,
        knowledge: Knowledge,
        folder: Path,
        console: Console | None = None,
        read_line: Callable[[str], str] | None = None,
    ) -> None:
        self.knowledge = knowledge
        self.console = console or new_console()
        self.consultation = Consultation(knowledge)
        self.path: Path | None = None
        self._shelf = Shelf(folder)
        self._read_line = read_line or _line_reader(self.console)
        self._order: list[str] = []
        self._asked: list[str] = []
        self._told: set[str] = set()
        self._whole_list = False
        self._page = 0
        self._is_clear = False
        self._began_with_words = False

    def run(self, said: str = "") -> int:
        """Hold the interview; the exit code is 0, or 130 after control-C.

        Args:
            said: what the person said to begin with, in their own words; it begins
                a new consultation.

        Raises:
            FolderError: the answers can't be kept.
        """
        said = typed.one_line(said)
        self._began_with_words = bool(said)
        try:
            self._shelf.ready()
            self._welcome()
            if said:
                self._mention_an_earlier_one()
                self._hear(said)
            else:
                self._go_on_with_an_earlier_one()
            self._ask_what_is_seen()
            self._ask_on()
            self.consultation.finish()
            self._keep()
            self._show_end()
            self._say_where_it_is_kept()
        except _Stop:
            line(self.console, "Stopping here.")
            self._show_end()
            self._say_how_to_go_on()
        except EOFError:
            self.console.print()
            self._say_how_to_go_on()
        except KeyboardInterrupt:
            with contextlib.suppress(KeyboardInterrupt, FolderError):
                self.console.print()
                self._keep()
                self._say_how_to_go_on()
            return 130
        except FolderError:
            self._show_end()
            raise
        finally:
            self._shelf.let_go()
        return 0

    # the parts of an interview, in order

    def _welcome(self) -> None:
        line(self.console, "Why did the print, or the screen, go wrong?", style="bold")
        line(
            self.console,
            "One question at a time. Answer with a number, a letter or a word, then "
            "Enter. At any question you can also type:",
        )
        self._show_help()

    def _show_help(self) -> None:
        for word, means in HELP:
            bullet(self.console, f"{word:<6}", means, 2)

    def _mention_an_earlier_one(self) -> None:
        """Say that one was left unfinished; it stays as it is."""
        if any(self._shelf.unfinished(lambda error: None)):
            self.console.print()
            line(
                self.console,
                "One was left unfinished; to go on with it, start without words.",
            )
        self._shelf.let_go()

    def _go_on_with_an_earlier_one(self) -> None:
        """Offer the newest consultation that was left unfinished."""

        def unreadable(error: DiagnoseError) -> None:
            line(self.console, f"One can't be read: {error}")

        for path in self._shelf.unfinished(unreadable):
            try:
                earlier = Consultation.resume(path, self.knowledge)
            except DiagnoseError as error:
                self.console.print()
                line(self.console, "This one can't be gone on with:")
                for fault in str(error).splitlines():
                    line(self.console, fault, 2)
                line(self.console, "Mend it or delete it; it was left as it is.")
                continue
            if self._wants_to_go_on(earlier):
                self.consultation, self.path = earlier, path
                self._order = list(self._answers(earlier))
            else:
                earlier.finish()
                earlier.save(path)
                self._shelf.let_go()
                line(self.console, f"Put away: {path}")
            return

    def _wants_to_go_on(self, earlier: Consultation) -> bool:
        answers = list(self._answers(earlier).values())
        if not answers:
            said = earlier.sheet.said
            answers = [f"You wrote: “{shortened(text)}”" for text in said]
        if earlier.sheet.stage:
            stage = self.knowledge.stages[earlier.sheet.stage]
            answers.insert(0, f"You were here: {stage.here or stage.name}.")
        self.console.print()
        line(self.console, f"One was left unfinished ({_when(earlier.sheet.begun)}):")
        for says in answers[:SHOWN_ANSWERS]:
            bullet(self.console, "*", says, 2)
        if len(answers) > SHOWN_ANSWERS:
            line(self.console, f"and {len(answers) - SHOWN_ANSWERS} more", 4)
        prompt = self._list(
            "Go on from there?",
            {
                "y": "yes, go on with it",
                "n": "no, start a new one; this one is put away and not offered again",
            },
            why="It was not ended. If you go on, all its answers count.",
            takes="Take y to go on, or n to start a new one.",
            say=False,
        )
        while True:
            try:
                text = self._read(prompt, earlier)
            except _Back:
                line(self.console, "There is nothing before this to go back to.")
                continue
            wanted = typed.SPOKEN.get(typed.folded(text))
            if wanted in ("yes", "no"):
                return wanted == "yes"
            if typed.not_known(text):
                line(self.console, "Then go on with it; you can change its answers.")
                return True
            self._complain(prompt.takes)

    def _ask_what_is_seen(self) -> None:
        """Where the person is, and what they see: until there is something to go on."""
        while not self._anything_seen():
            try:
                if not self.consultation.sheet.stage and not self._whole_list:
                    self._ask_stage()
                else:
                    self._ask_signs()
            except _Back:
                self.consultation.sheet.stage = ""
                self._whole_list = False
                self._page = 0
            except _Said:
                pass

    def _anything_seen(self) -> bool:
        findings = self.knowledge.findings
        return any(
            value not in ("no", DONT_KNOW)
            for id, value in self.consultation.sheet.given().items()
            if findings[id].role not in ("set-up", "habit")
        )

    def _ask_stage(self) -> None:
        stages = [stage for stage in self.knowledge.stages.values() if stage.here]
        named = {stage.id: [stage.id, stage.here or "", stage.name] for stage in stages}
        options = {str(n): stage.here or "" for n, stage in enumerate(stages, 1)}
        self.console.print()
        prompt = self._list(
            "Where are you in the work?",
            {**options, "?": "don't know, or somewhere else"},
            why="It keeps the list of what you may see short: the same fault shows "
            "differently in the coat, in the wash-out and on the press.",
            takes=f"Take 1 to {len(stages)}, or ? for don't know.",
        )
        while True:
            try:
                text = self._read(prompt)
            except _Back:
                line(self.console, "There is nothing before this to go back to.")
                continue
            if typed.not_known(text):
                self._whole_list = True
                return
            stage = typed.chosen(text, named)
            if stage is not None:
                self.consultation.at_stage(stage)
                self._keep()
                return
            if " " in text and not typed.numbers(text):
                self._hear(text)
                return
            self._complain(prompt.takes)

    def _ask_signs(self) -> None:
        pages = self._pages_of_signs()
        signs = pages[self._page]
        options = {str(n): self._sign(sign) for n, sign in enumerate(signs, 1)}
        by_name = {typed.folded(sign.name): n for n, sign in enumerate(signs, 1)}
        last = self._page == len(pages) - 1
        other = "none of these" if last else "something else: show more"
        self.console.print()
        prompt = self._list(
            "What do you see? Pick one or more (1 3), or write it in your own words.",
            {**options, typed.NONE: f"{other} ('back' goes to the stage)"},
            why="The search starts from what can be seen. Take what comes nearest, or "
            "write it in a few words.",
            takes=f"Take numbers from 1 to {len(signs)}, or write what you see.",
        )
        while True:
            text = self._read(prompt)
            picked = typed.numbers(text)
            if typed.folded(text) in by_name:
                picked = [by_name[typed.folded(text)]]
            if typed.none_of_them(text):
                if not last:
                    self._page += 1
                    return
                line(
                    self.console,
                    "Then write what is wrong, as you would tell it on the phone.",
                )
            elif not picked:
                self._hear(text)
                return
            elif not all(1 <= number <= len(signs) for number in picked):
                self._complain(prompt.takes)
            else:
                for number in picked:
                    self._answer(signs[number - 1].id, "yes")
                self._keep()
                return

    def _pages_of_signs(self) -> list[list[Finding]]:
        """The signs of the stage a screenful at a time, then those of the others."""
        every = self.consultation.opening_signs()
        here = self.consultation.opening_signs(self.consultation.sheet.stage)
        return [
            signs[first : first + SHORT_LIST]
            for signs in (here, [sign for sign in every if sign not in here])
            for first in range(0, len(signs), SHORT_LIST)
        ]

    def _hear(self, text: str) -> None:
        """Take free text, show what was made of it, and ask where it is unclear."""
        before = self.consultation.sheet.given()
        understood = self.consultation.describe(text)
        self._order += [
            id for id in self.consultation.sheet.given() if id not in before
        ]
        self._keep()
        if not understood.heard and not understood.unclear:
            line(
                self.console,
                "Nothing could be made of that. Try other words, or take a number from "
                "a list.",
            )
            return
        show_understood(self.console, self.knowledge, understood)
        answers = self._answers(self.consultation)
        for heard in understood.heard:
            if before.get(heard.finding, heard.value) != heard.value:
                says = f"{answers[heard.finding]} ('back' changes it)"
                bullet(self.console, "Your earlier answer stays:", says)
        for unclear in understood.unclear:
            self._ask_which(unclear.words, unclear.findings)

    def _ask_which(self, words: str, findings: Sequence[str]) -> None:
        """Ask which of several findings was meant."""
        records = [self.knowledge.findings[id] for id in findings]
        records = [record for record in records if record.kind == "yes-no"]
        options = {str(n): self._sign(record) for n, record in enumerate(records, 1)}
        self.console.print()
        prompt = self._list(
            f"“{shortened(words)}” can mean several things. Which is it?",
            {**options, typed.NONE: "none of these, or don't know"},
            why="Each of them points to other causes.",
            takes=f"Take 1 to {len(records)}, or 0 for none.",
            say=False,
        )
        named = {record.id: [record.name] for record in records}
        which = self._pick(prompt, named)
        if which is not None:
            self._answer(which, "yes")
            self._keep()

    def _ask_on(self) -> None:
        """Question after question, for as long as one is worth asking."""
        self._show_standing()
        while (question := self.consultation.next_question()) is not None:
            self._say_when_it_is_clear()
            if question.id not in self._asked:
                self._asked.append(question.id)
            try:
                self._ask(question, f"Question {self._asked.index(question.id) + 1}")
            except _Back:
                self._change_an_answer()
            except _Said:
                pass
            self._show_standing()
        self.console.print()
        line(self.console, f"That is all. {self.consultation.nothing_to_ask()}")

    def _say_when_it_is_clear(self) -> None:
        """Say once that one cause stands out, so that nobody answers for nothing."""
        leader, _, chance = self.consultation.chances()[0]
        enough = self.knowledge.scales.enough_chance
        if leader in self.knowledge.causes and chance >= enough and not self._is_clear:
            self._is_clear = True
            line(
                self.console,
                "One cause stands out. 'stop' shows the result now; the next questions "
                "make it surer.",
            )

    def _show_standing(self) -> None:
        """The leading causes, and what a rule says has to be known at once."""
        for tell in self.consultation.ranking().tells:
            if tell not in self._told:
                self._told.add(tell)
                bullet(self.console, "Important:", tell)
        show_standing(self.console, self.consultation.chances())

    def _ask(self, question: Question, title: str) -> None:
        """Ask one question until it is answered, and keep the answer."""
        show_question(self.console, question, title)
        if question.id in (answers := self._answers(self.consultation)):
            bullet(self.console, "Your answer was:", answers[question.id], 2)
        for caution in question.cautions:
            show_caution(self.console, self.knowledge.cautions[caution])
        self._show_takes(question)

        def show() -> None:
            line(self.console, question.text, 2, style="bold")
            self._show_takes(question)

        takes = typed.takes(question)
        prompt = _Prompt(show, lambda: self._explain(question), takes)
        while True:
            value = typed.value(question, self._read(prompt))
            if value is None:
                self._complain(takes)
                continue
            try:
                self._answer(question.id, value)
            except AnswerError as error:
                self._complain(str(error))
                continue
            self._keep()
            says = self._answers(self.consultation)[question.id]
            bullet(self.console, "Noted:", says)
            return

    def _answer(self, id: str, value: str) -> None:
        """Answer a finding, or whether a tool is to hand."""
        if id in self.knowledge.findings:
            self.consultation.answer(id, value)
        else:
            self.consultation.have(id, value == "yes")
        self._order = [*(one for one in self._order if one != id), id]

    def _show_takes(self, question: Question) -> None:
        if question.kind == "reading":
            what = f"a number in {question.unit} (several: with ; between them)"
            line(self.console, f"{what}   ? don't know", 2)
        elif question.kind == "tool":
            line(self.console, "y yes   n no   ? don't know", 2)
        elif "yes" in question.takes:
            line(self.console, "y yes   n no   s somewhat   ? don't know", 2)
        else:
            names = [says for id, says in question.takes.items() if id != DONT_KNOW]
            for number, name in enumerate(names, 1):
                bullet(self.console, f"{number:>2}", name, 1)
            line(self.console, " ? don't know", 1)
        line(self.console, REMINDER, 2)

    def _explain(self, question: Question) -> None:
        """Why this question is asked: what each answer would make of the causes."""
        if question.kind == "tool":
            line(self.console, "With it, one look or reading would tell a lot.")
            return
        outlooks = self.consultation.outlook(question)
        if outlooks:
            line(self.console, "The answer moves the causes. It would leave in front:")
        for outlook in outlooks:
            causes = ", then ".join(
                f"{name} ({percent(chance)})" for _, name, chance in outlook.chances
            )
            says = f"{outlook.answer}: {causes}. {outlook.because}"
            bullet(self.console, "*", says, 2)

    def _change_an_answer(self) -> None:
        """Show the answers, the newest first, and ask one of them again."""
        answers = self._answers(self.consultation)
        ids = sorted(
            answers,
            key=lambda id: self._order.index(id) if id in self._order else -1,
            reverse=True,
        )
        if not ids:
            line(self.console, "Nothing was answered yet.")
            return
        options = {str(n): answers[id] for n, id in enumerate(ids, 1)}
        self.console.print()
        prompt = self._list(
            "Your answers, the last one first. Which is to change?",
            {**options, typed.NONE: "none, go on"},
            why="You asked to change an answer.",
            takes=f"Take 1 to {len(ids)}, or 0 for none.",
            say=False,
        )
        which = self._pick(prompt, {id: [answers[id]] for id in ids})
        if which is not None:
            with contextlib.suppress(_Back, _Said):
                self._ask(self._question_again(which), "Once more")

    def _sign(self, finding: Finding) -> str:
        """What is seen, in a sentence, with the trade's word where it fits the line."""
        says = finding.sentence("yes")
        longer = f"{says} ({finding.name})"
        return longer if len(longer) <= self.console.width - 4 else says

    def _question_again(self, id: str) -> Question:
        if id in self.knowledge.findings:
            return self.consultation.question(id)
        text = f"Do you have {self.knowledge.tools[id].name} to hand?"
        takes = {"yes": "It is here.", "no": "It is not here; don't ask for it."}
        return Question(id, "tool", text, "", "", takes, 0.0)

    def _answers(self, consultation: Consultation) -> dict[str, str]:
        """Every answer as a sentence, by finding or tool."""
        found = {
            id: _as_sentence(self.knowledge.findings[id], value)
            for id, value in consultation.sheet.given().items()
        }
        for tool, is_here in consultation.sheet.to_hand.items():
            name = self.knowledge.tools[tool].name
            found[tool] = (
                f"To hand: {name}." if is_here == "yes" else f"Not here: {name}."
            )
        return found

    def _show_end(self) -> None:
        if self._anything_seen():
            show_result(self.console, self.consultation, brief=True)
            show_short(self.console, self.consultation)

    def _say_where_it_is_kept(self) -> None:
        if self.path is not None:
            line(self.console, f"Kept in: {self.path}")

    def _say_how_to_go_on(self) -> None:
        self._say_where_it_is_kept()
        if self.path is None:
            line(
                self.console,
                "Nothing was answered. Start it again to begin, or to go on with an "
                "earlier one.",
            )
        else:
            how = "without your words" if self._began_with_words else "in the same way"
            line(self.console, f"To go on from there, start it again {how}.")

    # reading and keeping

    def _keep(self) -> None:
        """Put the answers on disk; done before anything else is asked."""
        sheet = self.consultation.sheet
        if self.path is None:
            if not (sheet.stage or sheet.said or sheet.given()):
                return
            self.path = self._shelf.new()
        self.consultation.save(self.path)

    def _list(
        self,
        ask: str,
        options: Mapping[str, str],
        *,
        why: str,
        takes: str,
        say: bool = True,
    ) -> _Prompt:
        """A question with a list to pick from; it is shown at once."""

        def show() -> None:
            line(self.console, ask)
            for key, means in options.items():
                bullet(self.console, f"{key:>2}", means, 1)

        show()
        return _Prompt(show, lambda: line(self.console, why), takes, say)

    def _pick(self, prompt: _Prompt, named: Mapping[str, Sequence[str]]) -> str | None:
        """Read until one of a list is picked, or none ('back' counts as none)."""
        while True:
            try:
                text = self._read(prompt)
            except _Back:
                return None
            if typed.none_of_them(text):
                return None
            which = typed.chosen(text, named)
            if which is not None:
                return which
            self._complain(prompt.takes)

    def _read(self, prompt: _Prompt, consultation: Consultation | None = None) -> str:
        """The next line that is an answer; what is always taken is seen to."""
        while True:
            text = typed.one_line(self._read_line("> "))
            command = typed.command(text)
            said = typed.own_words(text)
            if command == "stop":
                raise _Stop
            if command == "back":
                raise _Back
            if command == "why":
                prompt.why()
            elif command == "where":
                show_where(self.console, consultation or self.consultation)
            elif command == "help":
                self._show_help()
            elif said is not None and prompt.say:
                if said:
                    self._hear(said)
                    raise _Said
                self._complain("Write it behind the word: say it looks patchy")
            elif text:
                return text
            self.console.print()
            prompt.show()

    def _complain(self, says: str) -> None:
        bullet(self.console, "?", says)


def _line_reader(console: Console) -> Callable[[str], str]:
    """input(), with line editing at a terminal, and an echo where there is none."""
    if sys.stdin is None:
        raise AnswerError("No answers can be read: the standard input is closed.")
    tell = getattr(sys.stdin, "reconfigure", None)
    if tell is not None:
        tell(errors="replace")
    if sys.stdin.isatty():
        with contextlib.suppress(ImportError):  # not on every system
            import readline  # noqa: F401
        return input

    def read(prompt: str) -> str:
        text = input(prompt)
        line(console, shortened(text))
        return text

    return read


def _when(begun: str) -> str:
    """A moment in the time of the place, to the minute."""
    try:
        return f"{datetime.fromisoformat(begun).astimezone():%Y-%m-%d %H:%M}"
    except (ValueError, OverflowError, OSError):  # or a year that no clock has
        return "at an unknown time"


def _as_sentence(finding: Finding, value: str) -> str:
    """An answer as a sentence."""
    if value == DONT_KNOW:
        return f"Don't know: {finding.name}."
    if finding.kind == "reading":
        unit = "" if any(sign.isalpha() for sign in value) else f" {finding.unit}"
        return f"Reading, {finding.name}: {shortened(printable(value))}{unit}."
    if value == SOMEWHAT:
        return f"Somewhat: {finding.sentence('yes')}"
    return finding.sentence(value)
