"""A prompt of the interview: what is asked, what is always taken, what is kept."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path

from rich.console import Console
from rich.text import Text

from diagnose import language, measures, settings, typed
from diagnose.asides import show_change, show_how, show_what_if, show_why_not
from diagnose.consultation import Consultation
from diagnose.errors import AnswerError, DiagnoseError
from diagnose.language import listed, mark, tr
from diagnose.newcomer_screens import (
    show_steps,
    show_term,
    show_terms_in,
)
from diagnose.records import Knowledge
from diagnose.screens import bullet, line, new_console, shortened, show_where
from diagnose.shelf import Shelf
from diagnose.terms import glossary_of

HELP = (
    ("?", mark("I don't know, or can't look")),
    (mark("why"), mark("why you are being asked this")),
    (mark("steps"), mark("how to look, in three steps")),
    (mark("terms"), mark("the words of the trade that stand there, explained (or: t)")),
    (mark("where"), mark("where we stand so far")),
    (mark("back"), mark("go back and change an answer")),
    (
        mark("say …"),
        mark("tell it in your own words, for example: say it looks patchy"),
    ),
    (mark("stop"), mark("stop here, with the result so far; your answers are kept")),
    (mark("help"), mark("these words, and what else you can ask")),
)
"""What is shown at the start."""

MORE_HELP = (
    (mark("how"), mark("how we got here: from your answers to the leading cause")),
    (mark("why not …"), mark("why a cause is not the first, for example: why not 2")),
    (mark("change"), mark("which answers would put another cause first")),
    (
        mark("what if …"),
        mark("try an answer out without giving it, for example: what if yes"),
    ),
    (mark("why 2"), mark("where several are asked at once: why the second is")),
    (mark("steps 2"), mark("the same, or in a list: how to look for the second")),
    (mark("term …"), mark("any word of the trade, for example: term print side")),
)
"""What 'help' shows besides."""

AT_ONCE = 5
"""For so many things at most 'steps' tells how to look without a number."""

REMINDER = mark("(any time: why  steps  terms  where  back  say …  stop  help)")


class Stop(Exception):
    """The person wants to stop here."""


class Back(Exception):
    """The person wants to change an earlier answer."""


class Said(Exception):
    """The person told something in their own words instead."""


Preview = Callable[[str], Consultation | str | None]
"""A line → the consultation as it would be, or why there is none; None: no answer."""


def nothing_to_try(text: str) -> str:
    """The preview of a prompt whose answer moves no cause."""
    return tr("What is asked here moves no cause, so there is nothing to try out.")


@dataclass(frozen=True)
class Prompt:
    """What a line is read for.

    `show` puts the question on the screen, `why` tells why it is asked, `takes` is a
    sentence on what it takes, and `say` is whether own words may come in between.
    `preview` is what an answer would come to. Where several questions are asked at
    once, `whys` has one for each by its number. `words` are those that stand on the
    screen, `looks` the findings or tools that can be looked for, by their numbers.
    """

    show: Callable[[], None]
    why: Callable[[], None]
    takes: str
    say: bool = True
    preview: Preview = nothing_to_try
    whys: Mapping[int, Callable[[], None]] | None = None
    words: Sequence[str] = ()
    looks: Mapping[int, str] = field(default_factory=dict)


class Prompts:
    """Reads lines, and keeps what was answered.

    Args:
        knowledge: what the tool knows.
        folder: where consultations are kept.
        console: where text goes.
        read_line: gives the next line the person types; raises EOFError at the end.
        load: reads the knowledge again, after the language was changed.
    """

    def __init__(
        self,
        knowledge: Knowledge,
        folder: Path,
        console: Console | None = None,
        read_line: Callable[[str], str] | None = None,
        load: Callable[[], Knowledge] | None = None,
    ) -> None:
        self.knowledge = knowledge
        self._load = load
        self.console = console or new_console()
        self.consultation = Consultation(knowledge)
        self.path: Path | None = None
        self._shelf = Shelf(folder)
        self._read_line = read_line or line_reader(self.console)

    def _hear(self, text: str) -> None:
        """Take what was said in own words."""
        raise NotImplementedError

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
        preview: Preview = nothing_to_try,
        looks: Mapping[int, str] | None = None,
    ) -> Prompt:
        """A question with a list to pick from; it is shown at once."""

        def show() -> None:
            line(self.console, ask)
            for key, means in options.items():
                bullet(self.console, f"{key:>2}", means, 1)

        show()
        return Prompt(
            show,
            lambda: line(self.console, why),
            takes,
            say,
            preview,
            words=(ask, *options.values()),
            looks=looks or {},
        )

    def _pick(self, prompt: Prompt, named: Mapping[str, Sequence[str]]) -> str | None:
        """Read until one of a list is picked, or none ('back' counts as none)."""
        while True:
            try:
                text = self._read(prompt)
            except Back:
                return None
            if typed.none_of_them(text):
                return None
            which = typed.chosen(text, named)
            if which is not None:
                return which
            self._complain(prompt.takes)

    def _read(self, prompt: Prompt, consultation: Consultation | None = None) -> str:
        """The next line that is an answer; what is always taken is seen to."""
        meant = consultation or self.consultation
        while True:
            text = typed.one_line(self._read_line("> "))
            command = typed.command(text)
            aside = self._meant_aside(text)
            setting = typed.setting(text)
            said = typed.own_words(text)
            if command == "stop":
                raise Stop
            if command == "back":
                raise Back
            if command is not None:
                self._told(command, prompt, meant)
            elif setting is not None:
                self._set(*setting, prompt)
            elif aside is not None:
                self._asked_back(*aside, prompt, meant)
            elif said is not None and prompt.say:
                if said:
                    self._hear(said)
                    raise Said
                self._complain(tr("Write it behind the word: say it looks patchy"))
            elif text:
                return text
            self.console.print()
            prompt.show()

    def _meant_aside(self, text: str) -> tuple[str, str] | None:
        """What begins the line; 'what is …' counts only with a word of the trade."""
        aside = typed.aside(text)
        if aside is None or aside[0] != "what is":
            return aside
        known = glossary_of(self.knowledge).named(aside[1]) is not None
        return ("term", aside[1]) if known else None

    def _set(self, name: str, value: str, prompt: Prompt) -> None:
        """Change the language or the units, for good.

        Raises:
            Said: the language is another one now, so that the question is put anew.
        """
        before = language.current()
        try:
            if name == "language":
                self._speak(language.known(value))
            measures.use(settings.change([f"{name}={value}"]).units)
        except DiagnoseError as error:
            if language.current() != before:
                self._speak(before)
            self._complain(str(error))
            return
        line(self.console, tr("Kept: {setting}", setting=f"{name}={value}"))
        if language.current() != before and prompt.say:
            raise Said

    def _speak(self, code: str) -> None:
        """Go on in that language, the knowledge read anew in it.

        Raises:
            KnowledgeError: its texts have a fault.
        """
        before = language.current()
        language.use(code)
        if self._load is not None and code != before:
            try:
                self.knowledge = self._load()
            except DiagnoseError:
                language.use(before)
                raise
            sheet = self.consultation.sheet
            self.consultation = Consultation(self.knowledge, sheet)

    def _told(self, command: str, prompt: Prompt, meant: Consultation) -> None:
        """Answer a command of one word."""
        if command == "why":
            prompt.why()
        elif command == "where":
            show_where(self.console, meant)
        elif command == "how":
            show_how(self.console, meant)
        elif command == "change":
            show_change(self.console, meant)
        elif command == "terms":
            show_terms_in(self.console, self.knowledge, prompt.words)
        elif command == "steps":
            self._show_looks(prompt)
        else:
            self._show_help((*HELP, *MORE_HELP))

    def _asked_back(
        self, what: str, words: str, prompt: Prompt, meant: Consultation
    ) -> None:
        """Answer 'why not …', 'what if …', 'term …', 'why 2' and 'steps 2'."""
        if what == "term":
            show_term(self.console, self.knowledge, words)
        elif what == "steps":
            self._show_look(typed.numbers(words)[0], prompt)
        elif what == "why":
            whys = prompt.whys or {1: prompt.why}
            (number,) = typed.numbers(words)
            if number in whys:
                whys[number]()
            else:
                numbers = listed(map(str, whys), "or")
                self._complain(
                    tr(
                        "There is no question {number} here; write why {listed}.",
                        number=number,
                        listed=numbers,
                    )
                )
        elif not words:
            example = tr("why not 2") if what == "why not" else tr("what if yes")
            self._complain(
                tr(
                    "Write what you mean behind it, for example: {example}",
                    example=example,
                )
            )
        elif what == "why not":
            show_why_not(self.console, meant, words)
        else:
            try:
                then = prompt.preview(words)
            except AnswerError as error:
                then = str(error)
            if isinstance(then, Consultation):
                show_what_if(self.console, meant, then)
            else:
                self._complain(then or prompt.takes)

    def _show_looks(self, prompt: Prompt) -> None:
        """Tell how to look for what is asked, in three steps."""
        if not prompt.looks:
            self._complain(
                tr("There is nothing to look for here. At a question, steps tells how.")
            )
        elif len(prompt.looks) <= AT_ONCE:
            for number in prompt.looks:
                self._show_look(number, prompt)
        else:
            self._complain(
                tr(
                    "Write it with the number of a line, such as: steps 2. If it is "
                    "steps that you see, write: say steps"
                )
            )

    def _show_look(self, number: int, prompt: Prompt) -> None:
        """Tell how to look for one of several things."""
        if number not in prompt.looks:
            self._complain(tr("There is nothing with the number {n}.", n=number))
            return
        if len(prompt.looks) > 1:
            line(self.console, tr("To number {n}:", n=number), style="bold")
        show_steps(self.console, self.knowledge, prompt.looks[number])

    def _show_help(self, words: Sequence[tuple[str, str]] = HELP) -> None:
        wide = max(len(tr(word)) for word, _ in words) + 1
        for word, means in words:
            bullet(self.console, f"{tr(word):<{wide}}", tr(means), 2)

    def _complain(self, says: str) -> None:
        bullet(self.console, "?", says)


def line_reader(console: Console) -> Callable[[str], str]:
    """input(), with line editing at a terminal, and an echo where there is none."""
    if sys.stdin is None:
        raise AnswerError(tr("No answers can be read: the standard input is closed."))
    tell = getattr(sys.stdin, "reconfigure", None)
    if tell is not None:
        tell(errors="replace")
    if sys.stdin.isatty():
        with contextlib.suppress(ImportError):  # not on every system
            import readline  # noqa: F401
        return input

    def read(prompt: str) -> str:
        text = input(prompt)
        console.print(Text(shortened(text)))
        return text

    return read
