"""The commands: what they print and where, the exit code, and never a traceback."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from knowledge_copy import SMALL, KnowledgeCopy

from diagnose import cli

ROOT = Path(__file__).parent.parent
SHEET = """\
said: the edges look like stairs, and it smells odd
answers:
  stairs: yes
  bands: somewhat
  gives: no
readings:
  thickness: 5 %
set_up:
  coats: one coat
"""
COMMANDS = [[], ["rank"], ["check"]]


@dataclass(frozen=True)
class Outcome:
    """What a command did."""

    code: int
    out: str
    err: str


Run = Callable[..., Outcome]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs a command in this process."""

    def go(*tokens: str | Path) -> Outcome:
        code = cli.main([str(token) for token in tokens])
        out, err = capsys.readouterr()
        return Outcome(code, out, err)

    return go


@pytest.fixture
def sheet(tmp_path: Path) -> Path:
    """A good answer sheet for the small knowledge."""
    path = tmp_path / "sheet.yaml"
    path.write_text(SHEET)
    return path


def start(*tokens: str | Path, **options: Any) -> subprocess.Popen[str]:
    """Start the program as a person would, its output going into a pipe."""
    changes: dict[str, str] = options.pop("env", {})
    unset = ("COLUMNS", "NO_COLOR", "PYTHONUNBUFFERED", "PYTHONIOENCODING")
    env = {name: value for name, value in os.environ.items() if name not in unset}
    return subprocess.Popen(
        [sys.executable, "-m", "diagnose", *map(str, tokens)],
        cwd=ROOT,
        env={**env, **changes},
        stdin=subprocess.DEVNULL,
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        encoding="utf-8",
        **options,
    )


def outcome(process: subprocess.Popen[str]) -> Outcome:
    out, err = process.communicate(timeout=30)
    return Outcome(process.returncode, out, err)


# check


def test_check_counts_good_knowledge(run: Run) -> None:
    """Nothing wrong: what there is, and no fault; exit code 0."""
    says = "3 causes, 2 states, 8 findings, 4 fixes, 3 rules, 1 workings, 1 cautions.\n"
    done = run("check", SMALL)
    assert done == Outcome(0, f"{says}0 faults, 0 warnings.\n", "")


def test_check_names_every_fault_and_counts_them(run: Run, copy: KnowledgeCopy) -> None:
    """Faults go to the output of the command, which is what it is for; code 2."""
    one = copy.edit("causes/all.yaml", "- state: thin", "- state: ¦thinn")
    two = copy.edit("rules/all.yaml", "how_much: more likely", "how_much: ¦more")
    done = run("check", copy.folder)
    assert (done.code, done.err) == (2, "")
    lines = done.out.splitlines()
    assert [line.split(": ")[0] for line in lines[:2]] == [one, two]
    assert lines[2:] == ["2 faults. Mend this first; more may be found then."]


def test_check_takes_a_closer_look_at_what_can_be_loaded(
    run: Run, copy: KnowledgeCopy
) -> None:
    """An example that does not fire is a fault like any other."""
    place = copy.edit(
        "rules/all.yaml",
        "fires_on: {stencil: film}",
        "fires_on: ¦{stencil: emulsion}",
    )
    done = run("check", copy.folder)
    fault = f"{place}: film-no-trough: example: the rule does not fire on this."
    assert (done.code, done.err) == (2, "")
    assert done.out.splitlines()[0] == fault
    assert done.out.splitlines()[2] == "1 faults, 0 warnings."


def test_check_of_what_is_no_folder(run: Run, tmp_path: Path) -> None:
    done = run("check", tmp_path / "none")
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith(f"{tmp_path / 'none'}: there is no such folder; a kn")
    assert done.err.count("\n") == 1


# rank


def test_rank_shows_causes_plan_cautions_and_the_next_question(
    run: Run, sheet: Path
) -> None:
    done = run("rank", sheet, "--knowledge", SMALL)
    assert (done.code, done.err) == (0, "")
    for part in (
        "Understood:",
        "1. too few coats",
        "To settle it: Count the coats.",
        "Remake the screen",
        "Coat again",
        "Take care",
        "What would tell most now",
    ):
        assert part in done.out


def test_rank_json_has_every_part(run: Run, sheet: Path) -> None:
    """One object; keys, types and order as a program may rely on them."""
    done = run("rank", sheet, "--json", "--knowledge", SMALL)
    assert (done.code, done.err) == (0, "")
    result = json.loads(done.out)
    assert {
        "causes",
        "suspected_states",
        "ruled_out",
        "unexplained",
        "understood",
        "next_question",
        "plan",
        "cautions",
    } <= set(result)
    causes = result["causes"]
    assert causes[0]["cause"] == "few-coats"
    assert {cause["cause"] for cause in causes} == {
        "few-coats",
        "slack",
        "nick",
        "not-covered",
    }
    for cause in causes:
        assert {"cause", "name", "probability", "because"} <= set(cause)
        assert 0 <= cause["probability"] <= 1
        assert all(isinstance(says, str) for says in cause["because"])
    chances = [cause["probability"] for cause in causes]
    assert chances == sorted(chances, reverse=True)
    assert causes[0]["because"]
    assert {state["state"] for state in result["suspected_states"]} >= {"thin"}
    assert result["understood"]["heard"][0]["finding"] == "stairs"
    assert result["understood"]["left"]
    assert set(result["plan"]) == {"save-run", "remake", "prevent"}
    first = result["plan"]["remake"][0]
    assert {"fix", "name", "chance", "minutes", "how", "worked_when"} <= set(first)
    assert [caution["caution"] for caution in result["cautions"]] == ["lamp"]
    question = result["next_question"]
    assert question is None or {"id", "question", "takes", "minutes"} <= set(question)


def test_rank_json_names_what_is_ruled_out(run: Run, tmp_path: Path) -> None:
    """A film has no trough: both causes of the trough are out, and it is said why."""
    path = tmp_path / "film.yaml"
    path.write_text("answers:\n  stairs: yes\n  bands: yes\nset_up:\n  stencil: film\n")
    result = json.loads(run("rank", path, "--json", "--knowledge", SMALL).out)
    assert {out["cause"] for out in result["ruled_out"]} == {"few-coats", "nick"}
    assert {c["cause"] for c in result["causes"]} == {"slack", "not-covered"}
    assert all("No trough touched it." in o["because"] for o in result["ruled_out"])


def test_rank_of_a_sheet_with_no_answers(run: Run, tmp_path: Path) -> None:
    """Nothing seen: nothing to rank but what is not covered, and a question."""
    path = tmp_path / "none.yaml"
    path.write_text("stage: press\n")
    result = json.loads(run("rank", path, "--json", "--knowledge", SMALL).out)
    assert result["understood"] == {
        "heard": [],
        "unclear": [],
        "twofold": [],
        "maybe": [],
        "left": [],
    }
    assert run("rank", path, "--knowledge", SMALL).code == 0


def test_the_order_of_the_answers_changes_nothing(
    run: Run, sheet: Path, tmp_path: Path
) -> None:
    """The same sheet written backwards ranks the same, to the last sign."""
    other = tmp_path / "backwards.yaml"
    other.write_text(
        "set_up:\n  coats: one\nreadings:\n  thickness: 5\nanswers:\n  gives: n\n"
        "  bands: a bit\n  stairs: true\n"
        "said:\n- the edges look like stairs, and it smells odd\n"
    )
    one, two = (run("rank", p, "--json", "--knowledge", SMALL) for p in (sheet, other))
    assert one == two


def test_rank_of_a_bad_sheet(run: Run, tmp_path: Path) -> None:
    """Every fault on a line of its own; nothing is ranked; code 2."""
    path = tmp_path / "bad.yaml"
    path.write_text("answers:\n  stiars: yes\n  bands: perhaps\n")
    done = run("rank", path, "--knowledge", SMALL)
    assert (done.code, done.out) == (2, "")
    assert [line.split(": ")[0] for line in done.err.splitlines()] == [
        f"{path}:2",
        f"{path}:3",
    ]


def test_rank_with_bad_knowledge(run: Run, sheet: Path, copy: KnowledgeCopy) -> None:
    place = copy.edit("causes/all.yaml", "- state: thin", "- state: ¦thinn")
    done = run("rank", sheet, "--knowledge", copy.folder)
    assert (done.code, done.out) == (2, "")
    says = "few-coats: link: there is no state 'thinn' (did you mean 'thin'?)."
    assert done.err == f"{place}: {says}\n1 fault.\n"


@pytest.mark.parametrize("content", ["stage: press\n", "said: hello there\n"])
def test_rank_ranks_nothing_where_nothing_was_said(
    content: str, run: Run, tmp_path: Path
) -> None:
    """A sentence in place of a ranking that means nothing; no fault."""
    path = tmp_path / "none.yaml"
    path.write_text(content)
    done = run("rank", path, "--knowledge", SMALL)
    says = "Nothing was said of what went wrong, so nothing can be ranked."
    assert (done.code, done.out.splitlines()[-1]) == (0, says)
    assert "most likely" not in done.out


def test_rank_names_what_unclear_words_can_mean(run: Run, tmp_path: Path) -> None:
    """The ids that can be written in their place."""
    path = tmp_path / "unclear.yaml"
    path.write_text("said: pinholes\n")
    done = run("rank", path)
    says = "“pinholes” can mean several things; write one of these under answers: "
    assert says in " ".join(done.out.split())


def test_rank_does_not_hear_a_kept_consultation_twice(run: Run, tmp_path: Path) -> None:
    """What was said in it was heard in it, and may have been changed since."""
    path = tmp_path / "kept.yaml"
    path.write_text("said: blocky edges\nanswers:\n  bands: yes\nbegun: now\n")
    result = json.loads(run("rank", path, "--json", "--knowledge", SMALL).out)
    assert result["understood"] == {
        "heard": [],
        "unclear": [],
        "twofold": [],
        "maybe": [],
        "left": [],
    }
    assert "understood:" not in run("rank", path, "--knowledge", SMALL).out.lower()


# the command line


@pytest.mark.parametrize(
    ("tokens", "says"),
    [
        (["rank"], "SHEET is missing. Try: diagnose rank -h"),
        (["rank", "a", "b"], "'b' is one word too many. Try: diagnose rank -h"),
        (["check", "a", "b"], "'b' is one word too many. Try: diagnose check -h"),
        (
            ["rank", "a", "--jsn"],
            "Unknown option: --jsn. Did you mean --json? Try: diagnose rank -h",
        ),
        (
            ["check", "--knowlege", "a"],
            "Unknown option: --knowlege. Try: diagnose check -h",
        ),
        (["--bogus"], "Unknown option: --bogus. Try: diagnose -h"),
        (
            ["rank", "a", "--knowledge"],
            "A value after --knowledge is missing. Try: diagnose rank -h",
        ),
        (
            ["rank", "a", "--json=perhaps"],
            "--json does not take 'perhaps'. Try: diagnose rank -h",
        ),
        (["open", "two"], "NUMBER does not take 'two'. Try: diagnose open -h"),
        (
            ["case", "lst"],
            "There is no command 'lst' (did you mean 'list'?). Try: diagnose case -h",
        ),
        (
            ["own", "--shop", "none"],
            "none: there is no such shop folder; a new one is made by: diagnose case "
            "add",
        ),
        (["--keep-in", ""], "--keep-in: the name is empty."),
        (["check", ""], "'': the name is empty."),
        (["rank", ""], "'': the name is empty."),
        (["rank", "a", "--knowledge", ""], "--knowledge: the name is empty."),
    ],
)
def test_a_bad_command_line_is_one_sentence(
    tokens: list[str], says: str, run: Run
) -> None:
    """What is wrong, and where help is; code 2."""
    assert run(*tokens) == Outcome(2, "", f"{says}\n")


def test_on_a_terminal_a_sentence_is_cut_between_words(
    run: Run, monkeypatch: pytest.MonkeyPatch
) -> None:
    """In a pipe it stays one line; the words are the same."""
    one = run("reckon", "nothing-of-that-name").err
    assert one.count("\n") == 1
    assert len(one) > 81
    monkeypatch.setattr(sys.stderr, "isatty", lambda: True)
    monkeypatch.setenv("COLUMNS", "120")
    several = run("reckon", "nothing-of-that-name").err
    assert several.split() == one.split()
    assert max(map(len, several.splitlines())) <= 80


def test_help_tells_no_default_of_the_program(run: Run) -> None:
    """'[default: False]' says nothing to a printer."""
    assert "default:" not in run("rank", "-h").out
    assert "default:" not in run("case", "count", "-h").out


@pytest.mark.parametrize("command", COMMANDS)
@pytest.mark.parametrize("flag", ["-h", "--help"])
def test_help_shows_an_example(flag: str, command: list[str], run: Run) -> None:
    """Every command has help with an example that can be typed as it stands."""
    done = run(*command, flag)
    assert (done.code, done.err) == (0, "")
    assert re.search(rf"Example: diagnose {' '.join(command)}".rstrip(), done.out)


@pytest.mark.parametrize(
    ("tokens", "near"),
    [
        (["rnk", "sheet.yaml"], "rank"),
        (["Check"], "check"),
        (["shw", "coats-too-few"], "show"),
        (["fnd", "blocky", "edges"], "find"),
    ],
)
def test_a_mistyped_command_is_no_description(
    tokens: list[str], near: str, run: Run, tmp_path: Path
) -> None:
    """The nearest command is named, and nothing is kept."""
    done = run(*tokens, "--keep-in", tmp_path / "kept")
    assert (done.code, done.out) == (2, "")
    says = f"There is no command {tokens[0]!r} (did you mean {near!r}?). "
    assert done.err.startswith(says)
    assert not (tmp_path / "kept").exists()


@pytest.mark.parametrize("words", ["fine lines are lost", "slow", "rnk is odd"])
def test_a_description_is_no_mistyped_command(words: str, tmp_path: Path) -> None:
    """Between quotes, or begun with a word that findings are described by."""
    tokens = words.split() if words.startswith("fine") else [words]
    assert outcome(start(*tokens, "--keep-in", tmp_path)).code == 0


def test_the_word_help_shows_the_help(run: Run) -> None:
    assert run("help") == run("-h")
    assert run("help", "rank") == run("rank", "-h")


def test_help_tells_where_things_are_kept_and_the_exit_codes(run: Run) -> None:
    shown = " ".join(run("-h").out.split())
    assert "DIAGNOSE_FOLDER" in shown
    assert "Exit codes: 0 done, 2 something has to be put right, 130" in shown


def test_the_version_is_told(run: Run) -> None:
    assert re.fullmatch(r"\d+\.\d+\.\d+\n", run("--version").out)


def test_control_c_ends_it_without_a_word(
    run: Run, sheet: Path, monkeypatch: Any, capsys: pytest.CaptureFixture[str]
) -> None:
    """The code that shells expect, and no traceback."""

    def stop(*_: Any) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("diagnose.knowledge.load_knowledge", stop)
    with pytest.raises(SystemExit) as raised:
        run("rank", sheet)
    assert raised.value.code == 130
    assert capsys.readouterr() == ("", "")


BAD: dict[str, Callable[[Path], Any]] = {
    "missing": lambda path: None,
    "folder": lambda path: path.mkdir(),
    "empty": lambda path: path.touch(),
    "binary": lambda path: path.write_bytes(bytes(range(256))),
    "tabs": lambda path: path.write_text("answers:\n\tstairs: yes\n"),
    "bomb": lambda path: path.write_text("a: &a [x]\nb: &b [*a,*a]\nc: [*b,*b]\n"),
    "deep": lambda path: path.write_text("[" * 100_000),
    "huge": lambda path: path.write_bytes(bytes(50_000_000)),
    "pipe": os.mkfifo,
    "half": lambda path: path.write_text('answers: {stairs: "ye'),
    "word": lambda path: path.write_text("stairs"),
    "numbers": lambda path: path.write_text("1: 2\n3: [4]\n"),
    "json": lambda path: path.write_text('{"answers": {"stairs": true, "x": [{}]}}'),
}


@pytest.mark.parametrize("what", BAD)
@pytest.mark.parametrize("command", ["rank", "check"])
def test_bad_files_bring_sentences_and_code_2(
    command: str, what: str, run: Run, tmp_path: Path, sheet: Path
) -> None:
    """As a sheet and as a knowledge folder: no traceback, no word of Python."""
    path = tmp_path / "bad"
    BAD[what](path)
    done = (
        run("rank", path, "--knowledge", SMALL)
        if command == "rank"
        else run("check", path)
    )
    assert done.code == 2
    assert done.out == ""
    lines = done.err.splitlines()
    assert 1 <= len(lines) <= 3
    for line in lines:
        assert line.startswith(f"{path}:")
        assert line.endswith(".")
        assert not re.search(r"Traceback|Error|\$|`|\b(str|dict|None|bool)\b", line)


# as a program in a pipe


@pytest.mark.parametrize("variable", ["", "NO_COLOR=1", "COLUMNS=200", "TERM=dumb"])
@pytest.mark.parametrize("command", ["", "rank", "check", "rank SHEET"])
def test_in_a_pipe_there_is_no_colour_and_no_long_line(
    command: str, variable: str, run: Run, sheet: Path, monkeypatch: Any
) -> None:
    """No escape codes, and no line over 80 columns, however wide the terminal is."""
    monkeypatch.delenv("COLUMNS", raising=False)
    if variable:
        monkeypatch.setenv(*variable.split("="))
    tokens = [token.replace("SHEET", str(sheet)) for token in command.split()]
    tokens += ["--knowledge", str(SMALL)] if "SHEET" in command else ["-h"]
    done = run(*tokens)
    assert (done.code, done.err) == (0, "")
    assert "\x1b" not in done.out
    assert max(map(len, done.out.splitlines())) <= 80


def test_the_program_prints_to_a_pipe_what_it_prints_here(
    run: Run, sheet: Path
) -> None:
    """`python -m diagnose` is the same program."""
    tokens: list[str | Path] = ["rank", sheet, "--knowledge", SMALL]
    assert outcome(start(*tokens)) == run(*tokens)


def test_a_pipe_that_is_closed_early_is_no_fault(
    sheet: Path, copy: KnowledgeCopy
) -> None:
    """`diagnose … | head -1` says nothing of it, even if nothing is read at all."""
    copy.edit("causes/all.yaml", "- state: thin", "- state: ¦thinn")
    commands: list[list[str | Path]] = [
        ["rank", sheet, "--knowledge", SMALL],
        ["rank", sheet, "--json", "--knowledge", SMALL],
        ["check", copy.folder],
        ["-h"],
        ["--keep-in", copy.folder.parent / "kept"],
    ]
    codes = [0, 0, 0, 0, 0]
    processes = [start(*command) for command in commands]
    for process in processes:
        assert process.stdout is not None
        process.stdout.close()
    for process in processes:
        assert process.stderr is not None
        assert process.stderr.read() == ""
        process.stderr.close()
    assert [process.wait(timeout=30) for process in processes] == codes


def test_a_terminal_without_the_signs_gets_others(
    sheet: Path, copy: KnowledgeCopy
) -> None:
    """Where '±' or '→' can't be shown, '?' is; nothing ends in a traceback."""
    link = "strength: often\n    because: x\n    sources: [s1]"
    copy.edit("states/all.yaml", "makes: []", f"¦makes:\n  - state: thin\n    {link}")
    plain = {"PYTHONIOENCODING": "ascii", "PYTHONUTF8": "0"}
    ranked = start("rank", sheet, "--knowledge", SMALL, env=plain)
    checked = outcome(start("check", copy.folder, env=plain))
    assert outcome(ranked).code == 0
    assert (checked.code, checked.err) == (2, "")
    assert "states lead round in a ring: thin ? thin." in checked.out


def test_consultations_that_can_not_be_kept_are_told(tmp_path: Path) -> None:
    """A file in place of the folder: one sentence, and another way to go on."""
    blocked = tmp_path / "file"
    blocked.write_text("x")
    tokens: list[str | Path] = ["--keep-in", blocked, "--knowledge", SMALL]
    done = outcome(start("the edges look like stairs", *tokens))
    assert done.code == 2
    assert done.err.startswith(f"{blocked}: ")
    assert done.err.count("\n") == 1
    assert "--keep-in" in done.err
    assert "this is a file, not a folder" in done.err


def shell(redirected: str, *tokens: str | Path) -> Outcome:
    """Run the program with its streams sent elsewhere."""
    command = [sys.executable, "-m", "diagnose", *map(str, tokens)]
    done = subprocess.run(
        ["sh", "-c", f'exec "$@" {redirected}', "sh", *command],
        cwd=ROOT,
        capture_output=True,
        text=True,
        timeout=60,
        check=False,
    )
    return Outcome(done.returncode, done.stdout, done.stderr)


STREAMS = ["interview", "rank", "rank --json", "check", "-h", "--version"]


def command_for(what: str, sheet: Path) -> list[str | Path]:
    """The words of a command that has something to print."""
    kept = sheet.parent / "kept"
    known: list[str | Path] = ["--knowledge", SMALL]
    commands: dict[str, list[str | Path]] = {
        "interview": ["--keep-in", kept, *known],
        "rank": ["rank", sheet, *known],
        "rank --json": ["rank", sheet, "--json", *known],
        "check": ["check", SMALL],
    }
    return commands.get(what, [what])


@pytest.mark.parametrize("what", STREAMS)
def test_a_closed_output_ends_it_quietly(what: str, sheet: Path) -> None:
    tokens = command_for(what, sheet)
    assert shell("</dev/null >&-", *tokens) == Outcome(2, "", "")


@pytest.mark.skipif(not Path("/dev/full").exists(), reason="no full disk to write to")
@pytest.mark.parametrize("what", STREAMS)
def test_a_full_disk_is_told_in_a_sentence(what: str, sheet: Path) -> None:
    done = shell("</dev/null >/dev/full", *command_for(what, sheet))
    says = "Nothing more can be read or written here: No space left on device.\n"
    assert done == Outcome(2, "", says)


def test_a_closed_input_is_told_in_a_sentence(sheet: Path) -> None:
    done = shell("<&-", *command_for("interview", sheet))
    says = "No answers can be read: the standard input is closed.\n"
    assert done == Outcome(2, "", says)


def test_control_c_outside_a_command_is_quiet(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Such as while the program is still being loaded."""

    def stop() -> int:
        raise KeyboardInterrupt

    monkeypatch.setattr(cli, "main", stop)
    with pytest.raises(SystemExit) as raised:
        cli.run()
    assert raised.value.code == 130
    assert capsys.readouterr() == ("", "")
