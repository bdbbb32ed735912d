"""Killed, interrupted or cut off at any moment, an interview loses no answer."""

from __future__ import annotations

import fcntl
import io
import json
import os
import pty
import select
import signal
import subprocess
import sys
import termios
import time
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path

import pytest
from killed import ROUTES, TO_QUESTIONS, Step
from rich.console import Console

from diagnose import Consultation
from diagnose.records import Knowledge
from diagnose.terminal import Interview

SMALL = Path(__file__).parent / "small"
COMMAND = [sys.executable, "-m", "diagnose", "--knowledge", str(SMALL), "--keep-in"]

STEPS = TO_QUESTIONS
"""What is typed, and the answers that it gives (the last lines give none for sure)."""

MOMENTS = 200
SEEDS = (20250701, 20250702)
"""A process each; every one kills its share of the interviews."""


class Program:
    """The real program on pipes, answered a line at a time."""

    def __init__(self, folder: Path) -> None:
        self.process = subprocess.Popen(
            [*COMMAND, str(folder)],
            stdin=subprocess.PIPE,
            stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT,
            cwd=Path(__file__).parents[1],
            env={**os.environ, "PYTHONIOENCODING": "utf-8"},
        )
        assert self.process.stdin is not None
        assert self.process.stdout is not None
        self.into = self.process.stdin.fileno()
        self.out = self.process.stdout.fileno()
        self.screen = b""

    def read(self, seconds: float) -> bool:
        """Read what comes within that time; whether more may come."""
        if select.select([self.out], [], [], max(seconds, 0))[0]:
            part = os.read(self.out, 65536)
            self.screen += part
            return bool(part)
        return True

    def wait_for_prompts(self, number: int) -> None:
        """Read until so many prompts have appeared."""
        end = time.monotonic() + 30
        while self.prompts() < number:
            assert time.monotonic() < end, self.screen.decode()
            assert self.read(1), self.screen.decode()

    def prompts(self) -> int:
        """So many times it has waited for a line."""
        return (b"\n" + self.screen).count(b"\n> ")

    def type(self, line: str) -> None:
        """Type a line."""
        os.write(self.into, f"{line}\n".encode())

    def end(self) -> int:
        """Read the rest and give the exit code."""
        end = time.monotonic() + 30
        while self.read(1):
            assert time.monotonic() < end, self.screen.decode()
        code = self.process.wait(30)
        for pipe in (self.process.stdin, self.process.stdout):
            assert pipe is not None
            pipe.close()
        return code

    def interrupt(self) -> int:
        """Send SIGINT and give the exit code.

        A signal that falls between a prompt and the reading of the line is only
        noticed with the next one or with a line, so it is sent again.
        """
        while True:
            time.sleep(0.1)
            self.process.send_signal(signal.SIGINT)
            end = time.monotonic() + 2
            while (left := end - time.monotonic()) > 0:
                if not self.read(left):
                    return self.end()


@contextmanager
def started(folder: Path) -> Iterator[Program]:
    """The program, started; it does not outlive the test."""
    program = Program(folder)
    try:
        yield program
    finally:
        if program.process.poll() is None:
            program.process.kill()
            program.end()


def killed_at(folder: Path, typed: int, wait: float) -> tuple[int, bytes]:
    """Kill the program a moment after a line was typed; prompts and screen."""
    with started(folder) as program:
        program.wait_for_prompts(1)
        for number, (line, _) in enumerate(STEPS[:typed], 1):
            program.type(line)
            if number < typed:
                program.wait_for_prompts(number + 1)
        end = time.monotonic() + wait
        while (left := end - time.monotonic()) > 0:
            program.read(left)
        program.process.kill()
        assert program.end() == -signal.SIGKILL
        return program.prompts(), program.screen


def answers_before(steps: list[Step], prompts: int) -> dict[str, str]:
    """The answers whose next prompt had appeared."""
    given: dict[str, str] = {}
    for _, answers in steps[: prompts - 1]:
        given |= answers
    return given


def test_killed_at_any_moment_no_answer_is_lost(
    small_with_proofs: Knowledge, tmp_path: Path
) -> None:
    """After SIGKILL at 200 moments: what was asked after is kept, and is gone on with.

    Half of the moments fall into the few milliseconds after a line was typed, when
    the answer is worked on and written; half go on to what was tried.
    """
    script = Path(__file__).parent / "killed.py"
    share = str(MOMENTS // len(SEEDS))
    killers = [
        subprocess.Popen(
            [sys.executable, str(script), str(tmp_path), str(seed), share],
            stdout=subprocess.PIPE,
            cwd=Path(__file__).parents[1],
            env={**os.environ, "PYTHONPATH": str(Path(__file__).parents[1])},
            text=True,
        )
        for seed in SEEDS
    ]
    lines = [line for one in killers for line in one.communicate()[0].splitlines()]
    assert [one.returncode for one in killers] == [0] * len(SEEDS)
    assert len(lines) == MOMENTS

    unseen = 0  # moments at which the program was still asking
    for number, (name, route, prompts) in enumerate(map(json.loads, lines)):
        steps = ROUTES[route]
        sure = answers_before(steps, prompts)
        files = list(Path(name).glob("consultation-*.yaml"))
        if prompts == 1 and (not files or not files[0].stat().st_size):
            continue
        assert len(files) == 1
        kept = Consultation.resume(files[0], small_with_proofs)
        assert kept.sheet.stage == "press"
        given = {**kept.sheet.given(), **kept.sheet.tried}
        if prompts <= len(steps):
            now = steps[prompts - 1][1]
            sure = {id: value for id, value in sure.items() if id not in now}
        assert sure.items() <= given.items()
        unseen += prompts <= len(steps)
        if number % 5 == 0:
            offered, interview = started_again(small_with_proofs, Path(name))
            assert "Go on from there?" in offered
            assert "Where are you in the work?" not in offered
            assert interview.consultation.sheet == kept.sheet
    assert unseen > MOMENTS / 4


def started_again(knowledge: Knowledge, folder: Path) -> tuple[str, Interview]:
    """Start again (here, to spare time), go on, and leave at the next prompt."""
    screen = io.StringIO()
    lines = iter(["y"])

    def read_line(prompt: str) -> str:
        for line in lines:
            return line
        raise EOFError

    interview = Interview(knowledge, folder, Console(file=screen, width=80), read_line)
    assert interview.run() == 0
    return screen.getvalue(), interview


def test_the_program_itself_goes_on_after_it_was_killed(tmp_path: Path) -> None:
    """A second start of the real program offers the first one's answers."""
    killed_at(tmp_path, 3, 0.2)
    with started(tmp_path) as again:
        again.wait_for_prompts(1)
        assert b"  * There are no bands.\nGo on from there?" in again.screen
        again.type("y")
        again.wait_for_prompts(2)
        assert b"Does the mesh give?" in again.screen


def test_killed_before_anything_was_answered_leaves_nothing_behind(
    tmp_path: Path,
) -> None:
    """The next start begins anew, and complains of nothing."""
    assert killed_at(tmp_path / "kept", 0, 0)[0] == 1
    with started(tmp_path / "kept") as again:
        again.wait_for_prompts(1)
        assert again.screen.startswith(b"Why did the print, or the screen, go wrong?")
        assert b"Where are you in the work?" in again.screen
        assert b"unfinished" not in again.screen


HOW_TO_GO_ON = "To go on from there, start it again in the same way."
NOTHING = (
    "Nothing was answered. Start it again to begin, or to go on with an earlier one."
)


def typed_in(program: Program, lines: int) -> None:
    """Type the first lines, each at its prompt, and wait for the next prompt."""
    program.wait_for_prompts(1)
    for number, (line, _) in enumerate(STEPS[:lines], 1):
        program.type(line)
        program.wait_for_prompts(number + 1)


@pytest.mark.parametrize("lines", [0, 1, 2, 5])
def test_an_interrupt_leaves_cleanly(tmp_path: Path, lines: int) -> None:
    """SIGINT: exit code 130, no traceback, and how to go on."""
    with started(tmp_path) as program:
        typed_in(program, lines)
        seen = len(program.screen)
        assert program.interrupt() == 130
        last = program.screen[seen:].decode().splitlines()
        assert last[-1] == (HOW_TO_GO_ON if lines else NOTHING)
        assert "Traceback" not in program.screen.decode()


@pytest.mark.parametrize("lines", [0, 1, 2, 5])
def test_the_end_of_input_leaves_cleanly(tmp_path: Path, lines: int) -> None:
    """A closed pipe: exit code 0, no traceback, and how to go on."""
    with started(tmp_path) as program:
        typed_in(program, lines)
        assert program.process.stdin is not None
        program.process.stdin.close()
        assert program.end() == 0
        last = program.screen.decode().splitlines()
        assert last[-1] == (HOW_TO_GO_ON if lines else NOTHING)
        assert "Traceback" not in program.screen.decode()


def on_a_terminal(folder: Path, keys: list[bytes]) -> tuple[int, str]:
    """Type these keys at a real terminal of 80 by 24; exit code and screen."""
    terminal, far_end = pty.openpty()
    termios.tcsetwinsize(far_end, (24, 80))

    def take_the_terminal() -> None:
        fcntl.ioctl(0, termios.TIOCSCTTY, 0)

    environment = {**os.environ, "TERM": "xterm", "NO_COLOR": "1"}
    environment |= {"PYTHONIOENCODING": "utf-8"}
    process = subprocess.Popen(
        [*COMMAND, str(folder)],
        stdin=far_end,
        stdout=far_end,
        stderr=far_end,
        cwd=Path(__file__).parents[1],
        env=environment,
        start_new_session=True,
        preexec_fn=take_the_terminal,
    )
    os.close(far_end)
    screen = b""
    waiting = list(keys)
    end = time.monotonic() + 30
    while time.monotonic() < end:
        if not select.select([terminal], [], [], 1)[0]:
            continue
        try:
            part = os.read(terminal, 65536)
        except OSError:  # the far end is closed
            break
        if not part:
            break
        screen += part
        if screen.endswith(b"> ") and waiting:
            time.sleep(0.05)
            os.write(terminal, waiting.pop(0))
    os.close(terminal)
    process.kill()
    return process.wait(10), screen.decode()


@pytest.mark.parametrize(
    ("key", "code"), [(b"\x03", 130), (b"\x04", 0)], ids=["control-C", "control-D"]
)
def test_the_keys_of_a_terminal_leave_cleanly(
    tmp_path: Path, key: bytes, code: int, small: Knowledge
) -> None:
    """Control-C and control-D at a real terminal: all kept, and how to go on."""
    ended, screen = on_a_terminal(tmp_path, [b"5\n", b"1\n", b"n\n", key])
    assert ended == code
    assert HOW_TO_GO_ON in screen
    assert "Traceback" not in screen
    (file,) = tmp_path.glob("consultation-*.yaml")
    kept = Consultation.resume(file, small).sheet.given()
    assert kept == {"stairs": "yes", "bands": "no"}


def test_no_colour_is_used_where_none_is_wanted(tmp_path: Path) -> None:
    """With NO_COLOR a terminal gets bold at most, and every word without it."""
    _, screen = on_a_terminal(tmp_path, [b"5\n", b"1\n", b"stop\n"])
    codes = {
        part.split("m")[0] for part in screen.split("\x1b[")[1:] if "m" in part[:6]
    }
    assert codes <= {"0", "1", "?2004h", "?2004l"}
    assert "In short" in screen
