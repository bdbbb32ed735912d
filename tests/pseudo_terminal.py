"""The real program at a pseudo-terminal, typed at as a person would."""

from __future__ import annotations

import fcntl
import os
import pty
import re
import select
import signal
import subprocess
import sys
import termios
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

SMALL = Path(__file__).parent / "small"
COMMAND = [sys.executable, "-m", "diagnose", "--knowledge", str(SMALL), "--keep-in"]

CODES = re.compile(r"\x1b\[[0-9;?]*[A-Za-z]|\x1b[()][A-Z0-9]|[\x07\r]")
"""What steers a terminal: colour, the cursor, the bell."""

PROMPT = re.compile(r"\n[> ]*>[> ]*\Z")
"""A line is waited for; the prompt is drawn again when the window is resized."""

PATIENCE = 30.0
"""Seconds that a prompt is waited for."""


class Terminal:
    """A program at a terminal of its own.

    Args:
        folder: where consultations are kept.
        columns: how wide the terminal is.
    """

    def __init__(self, folder: Path, columns: int = 80, **environment: str) -> None:
        self.terminal, far_end = pty.openpty()
        termios.tcsetwinsize(far_end, (24, columns))

        def take_the_terminal() -> None:
            fcntl.ioctl(0, termios.TIOCSCTTY, 0)

        unset = {"COLUMNS", "LINES"}
        here = {name: value for name, value in os.environ.items() if name not in unset}
        here |= {"TERM": "xterm", "PYTHONIOENCODING": "utf-8", **environment}
        self.process = subprocess.Popen(
            [*COMMAND, str(folder)],
            stdin=far_end,
            stdout=far_end,
            stderr=far_end,
            cwd=Path(__file__).parents[1],
            env=here,
            start_new_session=True,
            preexec_fn=take_the_terminal,
        )
        os.close(far_end)
        self.raw = b""

    def read(self, until: float) -> bool:
        """Read what comes until that moment; whether more may come."""
        if select.select([self.terminal], [], [], max(until - time.monotonic(), 0))[0]:
            try:
                part = os.read(self.terminal, 65536)
            except OSError:  # the far end is closed
                return False
            self.raw += part
            return bool(part)
        return True

    def wait_for_prompt(self) -> None:
        """Read until a line is waited for, and a moment longer."""
        end = time.monotonic() + PATIENCE
        while not PROMPT.search(CODES.sub("", self.raw.decode(errors="replace"))):
            assert time.monotonic() < end, self.raw.decode(errors="replace")[-2000:]
            assert self.read(end), self.raw.decode(errors="replace")[-2000:]

    def type(self, line: str | bytes) -> str:
        """Type a line at the prompt; what is shown up to the next prompt."""
        before = len(self.raw)
        data = line.encode() if isinstance(line, str) else line
        self.send(data + b"\n")
        end = time.monotonic() + PATIENCE
        while b"\n" not in self.raw[before:]:
            assert time.monotonic() < end
            assert self.read(end)
        self.wait_for_prompt()
        return CODES.sub("", self.raw[before:].decode(errors="replace"))

    def send(self, data: bytes) -> None:
        """Send keys, and take in what is echoed meanwhile."""
        while data:
            _, ready, _ = select.select([], [self.terminal], [], 0.05)
            if ready:
                data = data[os.write(self.terminal, data[:512]) :]
            self.read(time.monotonic())

    def resize(self, columns: int) -> None:
        """Make the terminal wider or narrower; the program is told."""
        termios.tcsetwinsize(self.terminal, (24, columns))
        os.killpg(self.process.pid, signal.SIGWINCH)

    def end(self) -> int:
        """Read the rest and give the exit code."""
        end = time.monotonic() + PATIENCE
        while time.monotonic() < end and self.read(end):
            pass
        return self.process.wait(10)

    @property
    def screen(self) -> str:
        """All that was shown, without what steers the terminal."""
        return CODES.sub("", self.raw.decode(errors="replace"))


@contextmanager
def at_a_terminal(
    folder: Path, columns: int = 80, **environment: str
) -> Iterator[Terminal]:
    """The program at its first prompt; it does not outlive the test."""
    terminal = Terminal(folder, columns, **environment)
    try:
        terminal.wait_for_prompt()
        yield terminal
    finally:
        terminal.process.kill()
        terminal.process.wait(10)
        os.close(terminal.terminal)
