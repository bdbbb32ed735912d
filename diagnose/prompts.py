"""A prompt of the interview: what is asked, what is always taken, what is kept."""

from __future__ import annotations

import contextlib
import sys
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path

from rich.console import Console

from diagnose import typed
from diagnose.asides import show_change, show_how, show_what_if, show_why_not
from diagnose.consultation import Consultation
from diagnose.errors import AnswerError
from diagnose.records import Knowledge
from diagnose.screens import bullet, line, new_console, shortened, show_where
from diagnose.shelf import Shelf

HELP = (
    ("?", "I don't know, or can't look"),
    ("why", "why you are being asked this"),
    ("where", "where we stand so far"),
    ("back", "go back and change an answer"),
    ("say …", "tell it in your own words, for example: say it looks patchy"),
    ("stop", "stop here, with the result so far; your answers are kept"),
    ("help", "these words, and what else you can ask"),
)
"""What is shown at the start."""

MORE_HELP = (
    ("how", "how we got here: from your answers to the leading cause"),
    ("why not …", "why a cause is not the first, for example: why not 2"),
    ("change", "which answers would put another cause first"),
    ("what if …", "try an answer out without giving it, for example: what if yes"),
    ("why 2", "where several are asked at once: why the second is"),
)
"""What 'help' shows besides."""

REMINDER = "(any time: why  where  back  say …  stop  help)"


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
    return "What is asked here moves no cause, so there is nothing to try out."


@dataclass(frozen=True)
class Prompt:
    """What a line is read for.

    `show` puts the question on the screen, `why` tells why it is asked, `takes` is a
    sentence on what it takes, and `say` is whether own words may come in between.
    `preview` is what an answer would come to. Where several questions are asked at
    once, `whys` has one for each by its number.
    """

    show: Callable[[], None]
    why: Callable[[], None]
    takes: str
    say: bool = True
    preview: Preview = nothing_to_try
    whys: Mapping[int, Callable[[], None]] | None = None


class Prompts:
    """Reads lines, and keeps what was answered.

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
    ) -> Prompt:
        """A question with a list to pick from; it is shown at once."""

        def show() -> None:
            line(self.console, ask)
            for key, means in options.items():
                bullet(self.console, f"{key:>2}", means, 1)

        show()
        return Prompt(show, lambda: line(self.console, why), takes, say, preview)

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
            aside = typed.aside(text)
            said = typed.own_words(text)
            if command == "stop":
                raise Stop
            if command == "back":
                raise Back
            if command is not None:
                self._told(command, prompt, meant)
            elif aside is not None:
                self._asked_back(*aside, prompt, meant)
            elif said is not None and prompt.say:
                if said:
                    self._hear(said)
                    raise Said
                self._complain("Write it behind the word: say it looks patchy")
            elif text:
                return text
            self.console.print()
            prompt.show()

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
        else:
            self._show_help((*HELP, *MORE_HELP))

    def _asked_back(
        self, what: str, words: str, prompt: Prompt, meant: Consultation
    ) -> None:
        """Answer 'why not …', 'what if …' and 'why 2'."""
        if what == "why":
            whys = prompt.whys or {1: prompt.why}
            (number,) = typed.numbers(words)
            if number in whys:
                whys[number]()
            else:
                listed = " or ".join(map(str, whys))
                self._complain(
                    f"There is no question {number} here; write why {listed}."
                )
        elif not words:
            example = "why not 2" if what == "why not" else "what if yes"
            self._complain(f"Write what you mean behind it, for example: {example}")
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

    def _show_help(self, words: Sequence[tuple[str, str]] = HELP) -> None:
        wide = max(len(word) for word, _ in words) + 1
        for word, means in words:
            bullet(self.console, f"{word:<{wide}}", means, 2)

    def _complain(self, says: str) -> None:
        bullet(self.console, "?", says)


def line_reader(console: Console) -> Callable[[str], str]:
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
