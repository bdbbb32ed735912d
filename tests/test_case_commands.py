"""The case commands: the guide keeps every answer at once; lists, pages, counts."""

from __future__ import annotations

import io
import json
import subprocess
import sys
from collections.abc import Callable
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from knowledge_copy import SMALL
from rich.console import Console

from diagnose import Consultation, cli
from diagnose.cases.guide import Guide
from diagnose.cases.record import Case, Confirmed, Corrected, Ranked, read_case
from diagnose.cases.shop import Shop
from diagnose.records import Knowledge
from diagnose.terminal import Interview

ROOT = Path(__file__).parent.parent


@dataclass(frozen=True)
class Outcome:
    """What a command did."""

    code: int
    out: str
    err: str


Run = Callable[..., Outcome]


@pytest.fixture
def run(capsys: pytest.CaptureFixture[str]) -> Run:
    """Runs a case command on the small knowledge, in this process."""

    def go(*tokens: str | Path) -> Outcome:
        code = cli.main(["case", *map(str, tokens), "--knowledge", str(SMALL)])
        out, err = capsys.readouterr()
        return Outcome(code, out, err)

    return go


@dataclass
class Held:
    """What was shown, and the case as it stood on disk before each line was read."""

    screen: str
    seen: list[Case | None]
    code: int | bool

    @property
    def case(self) -> Case:
        assert self.seen[-1] is not None
        return self.seen[-1]


def guided(
    knowledge: Knowledge,
    folder: Path,
    lines: list[str],
    work: Callable[[Guide], int | bool] | None = None,
) -> Held:
    """Fill in a case by these lines."""
    screen, seen = io.StringIO(), list[Case | None]()
    shop = Shop(folder / "shop")
    before = set(shop.ids())
    rest = iter(lines)

    def look() -> None:
        new = sorted(set(shop.ids()) - before)
        seen.append(read_case(shop.path(new[0]), knowledge).case if new else None)

    def read_line(prompt: str) -> str:
        look()
        for text in rest:
            print(f"{prompt}{text}", file=screen)
            return text
        raise EOFError

    console = Console(file=screen, width=80)
    guide = Guide(shop, knowledge, console, read_line)
    code = work(guide) if work else guide.add(folder / "kept")
    look()
    return Held(screen.getvalue(), seen, code)


STEPS: list[tuple[str, dict[str, Any]]] = [
    ("2026-03-14", {"date": "2026-03-14"}),
    ("the edges have stairs", {"said": ["the edges have stairs"]}),
    ("", {"answers": {"stairs": "yes"}}),
    ("coats: one", {"set_up": {"coats": "one"}}),
    ("", {}),
    ("1", {"confirmed": [Confirmed("few-coats")]}),
    ("saw it", {"confirmed": [Confirmed("few-coats", how="saw it")]}),
    ("", {}),
    ("1", {"tried": {"coat-again": "yes"}}),
    ("1 h 20", {"minutes": 80.0}),
    ("12", {"prints_lost": 12}),
    ("line: 2", {"groups": {"line": "2"}}),
    ("", {}),
    ("Meg", {"who": "Meg"}),
    ("never again", {"notes": "never again"}),
]


def test_the_guide_keeps_each_answer_before_the_next_line(
    small: Knowledge, tmp_path: Path
) -> None:
    """Line by line: what was typed is on disk when the next line is asked for."""
    held = guided(small, tmp_path, [typed for typed, _ in STEPS])
    assert held.code == 0
    assert len(held.seen) == len(STEPS) + 1
    wanted: dict[str, Any] = {}
    for (_, kept), case in zip(STEPS, held.seen[1:], strict=True):
        wanted |= kept
        assert case is not None
        assert {name: getattr(case, name) for name in wanted} == wanted
    assert held.case.ended
    assert held.case.ranking[0].cause == "few-coats"
    assert all(len(line) <= 80 for line in held.screen.splitlines())


def test_every_step_may_be_skipped(small: Knowledge, tmp_path: Path) -> None:
    """A day and Enter alone, all the way: a case of that day with nothing in it."""
    held = guided(small, tmp_path, ["2026-03-14", *[""] * 8])
    assert (held.code, held.case.given(), held.case.confirmed) == (0, {}, [])
    assert held.case.ended


def test_nothing_is_kept_where_nothing_is_filled_in(
    small: Knowledge, tmp_path: Path
) -> None:
    """Enter alone at every step, the day too: it would count as a case."""
    held = guided(small, tmp_path, [""] * 9)
    assert (held.code, held.seen[-1]) == (0, None)
    assert held.screen.endswith("Nothing was filled in, so no case was kept.\n")


@pytest.mark.parametrize("number", range(len(STEPS)))
def test_the_guide_may_be_left_at_any_step_and_gone_on_with(
    number: int, small: Knowledge, tmp_path: Path
) -> None:
    """'stop', or the end of input: what was answered stays, and is offered again."""
    lines = [typed for typed, _ in STEPS[:number]]
    for end in ("stop", None):
        folder = tmp_path / f"{end}"
        held = guided(small, folder, [*lines, *([end] if end else [])])
        assert held.code == 0
        if not number:
            assert "Nothing was filled in, so no case was kept." in held.screen
            continue
        assert "Kept so far:" in held.screen
        assert not held.case.ended
        again = guided(small, folder, ["1"])
        assert "What is the case made from?" in again.screen
        assert "Going on with the case 2026-03-14-" in again.screen


def test_what_was_understood_wrongly_is_put_right(
    small: Knowledge, tmp_path: Path
) -> None:
    """By the finding's id, which is shown with what was understood."""
    held = guided(small, tmp_path, ["", "the edges have stairs", "stairs: no", ""])
    assert "  Noted as: stairs\n" in held.screen
    assert held.case.answers == {"stairs": "no"}
    assert held.case.said == ["the edges have stairs"]


def test_control_c_leaves_the_case_as_it_is(small: Knowledge, tmp_path: Path) -> None:
    shop = Shop(tmp_path)
    lines = iter(["2026-03-14", "stairs"])

    def read_line(prompt: str) -> str:
        for text in lines:
            return text
        raise KeyboardInterrupt

    screen = io.StringIO()
    console = Console(file=screen, width=80)
    assert Guide(shop, small, console, read_line).add(tmp_path / "none") == 130
    (kept,) = shop.all(small).kept
    assert kept.case.said == ["stairs"]


def test_a_case_is_made_of_a_kept_consultation_once(
    small: Knowledge, tmp_path: Path
) -> None:
    """Its answers are not asked again, and the next time it is not offered."""
    consultation = Consultation(small)
    consultation.answer("stairs", "yes")
    consultation.save(tmp_path / "kept" / "consultation-2026-03-14-080000-1.yaml")
    held = guided(small, tmp_path, ["1", "", "nick", *[""] * 8])
    assert "the consultation of " in held.screen
    assert "What was seen?" not in held.screen
    assert held.case.answers == {"stairs": "yes"}
    assert held.case.confirmed == [Confirmed("nick")]
    assert held.case.begun == consultation.sheet.begun
    assert "What is the case made from?" not in guided(small, tmp_path, []).screen


@pytest.mark.parametrize(
    ("typed", "found"),
    [
        (["1"], Confirmed("few-coats")),
        (["too few coats"], Confirmed("few-coats")),
        (["nick"], Confirmed("nick")),
        (["the cat sat on it", ""], Confirmed(other="the cat sat on it")),
        (["9", "nick"], Confirmed("nick")),
    ],
)
def test_a_cause_is_named_by_number_name_or_own_words(
    typed: list[str], found: Confirmed, small: Knowledge, tmp_path: Path
) -> None:
    lines = ["", "the edges have stairs", "", "", *typed]
    assert guided(small, tmp_path, lines).case.confirmed == [found]


@pytest.mark.parametrize(
    ("lines", "says"),
    [
        (["14.3.2026"], "? '14.3.2026' is no day; write it as 20"),
        (["", "", "coat: one"], "? there is no finding 'coat' (did you mean"),
        (["", "", "coats: a few"], "? 'coats' does not take 'a few'"),
        (["", "", "", "", "soon"], "? 'soon' is not taken. In minutes"),
        (["", "", "", "", "", "many"], "? 'many' is not taken. A number."),
        (["", "", "", "", "", "", "two"], "? Write a label and its value"),
    ],
)
def test_what_can_not_be_taken_is_asked_again(
    lines: list[str], says: str, small: Knowledge, tmp_path: Path
) -> None:
    """It is said what would be right, and the same is asked."""
    screen = guided(small, tmp_path, lines).screen
    assert says in " ".join(screen.split())


# the end of an interview


def held_to_the_end(
    knowledge: Knowledge, folder: Path, shop: Path, cause: str
) -> tuple[Interview, str]:
    """An interview in which little is known; at its end that is typed as the cause."""
    screen = io.StringIO()
    asked = {
        "Where are you": "5",
        "What do you see?": "1",
        "What did you try?": "0",
        "Was it found?": cause,
        "How was it confirmed?": "looked",
        "How long": "5",
    }

    def read_line(prompt: str) -> str:
        tail = screen.getvalue().rpartition("\n> ")[2]
        typed = [text for ask, text in asked.items() if ask in tail]
        is_question = "Question" in tail or "stop  help" in tail
        text = typed[-1] if typed else "?" if is_question else ""
        print(f"{prompt}{text}", file=screen)
        return text

    console = Console(file=screen, width=80)
    interview = Interview(knowledge, folder, console, read_line, shop)
    assert interview.run() == 0
    return interview, screen.getvalue()


def test_an_interview_ends_in_a_case_where_there_is_a_shop(
    small: Knowledge, tmp_path: Path
) -> None:
    """The cause that was found, and how, with all that was answered."""
    shop = Shop(tmp_path / "shop")
    interview, shown = held_to_the_end(small, tmp_path / "kept", shop.folder, "1")
    (kept,) = shop.all(small).kept
    assert kept.case.confirmed[0] == Confirmed("few-coats", how="looked")
    assert kept.case.minutes == 5
    assert kept.case.stage == "press"
    assert kept.case.begun == interview.consultation.sheet.begun
    assert kept.case.ended
    assert "Which cause was it? It is then kept as a case." in shown


@pytest.mark.parametrize(
    ("typed", "cases"), [("", 0), ("?", 1), ("stop", 0), ("the cat", 1)]
)
def test_what_is_not_wanted_is_not_kept(
    typed: str, cases: int, small: Knowledge, tmp_path: Path
) -> None:
    """Enter keeps nothing; '?' keeps a case without a cause, to fill in later."""
    consultation = Consultation(small)
    consultation.answer("stairs", "yes")

    held = guided(small, tmp_path, [typed], lambda guide: guide.keep(consultation))
    assert len(Shop(tmp_path / "shop").ids()) == cases
    assert held.code is (typed == "the cat")
    again = guided(small, tmp_path, [typed], lambda guide: guide.keep(consultation))
    assert (" already." in again.screen) is False or cases


def test_a_shop_that_can_not_be_written_does_no_harm_to_the_interview(
    small: Knowledge, tmp_path: Path
) -> None:
    """It is said, and the consultation is kept as ever."""
    (tmp_path / "file").write_text("x")
    interview, shown = held_to_the_end(small, tmp_path / "kept", tmp_path / "file", "1")
    assert "It can't be kept as a case:" in shown
    assert interview.path is not None
    assert interview.path.exists()


# the other commands


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    """A shop of three cases and one broken file."""
    shop = Shop(tmp_path / "our")
    shop.add(
        Case(
            date="2026-01-10",
            said=["stairs on the crest"],
            answers={"stairs": "yes", "gone": "yes"},
            readings={"thickness": "4 %"},
            groups={"line": "2"},
            who="Meg",
            ranking=[Ranked("nick", 0.6), Ranked("few-coats", 0.3)],
            confirmed=[Confirmed("few-coats", how="gauge")],
            corrected=[Corrected("2026-01-12", ["nick"], "no nick was felt")],
            minutes=90,
            prints_lost=12,
            notes="All gummed up.",
            tried={"coat-again": "yes"},
        ),
        "2026-01-10-0001",
    )
    shop.add(
        Case(date="2026-01-20", answers={"bands": "yes"}, minutes=30),
        "2026-01-20-0002",
    )
    shop.add(
        Case(
            date="2026-02-01", groups={"line": "1"}, confirmed=[Confirmed(other="cat")]
        ),
        "2026-02-01-0003",
    )
    (shop.cases / "2026-02-02-0004.yaml").write_text("who: Meg\n")
    return shop


def test_the_list_shows_all_and_names_the_broken(run: Run, shop: Shop) -> None:
    """A broken file hides no other; exit code 2 says that something is to be mended."""
    done = run("list", "--shop", shop.folder)
    assert done.code == 2
    path = shop.path("2026-02-02-0004")
    lines = done.out.splitlines()
    assert lines[:4] == [
        "2026-01-10-0001  too few coats                 stairs on the crest",
        "2026-01-20-0002  not found                     There are bands.",
        "2026-02-01-0003  cat",
        "3 cases.",
    ]
    text = " ".join(done.out.split())
    assert "there is no finding 'gone'" in text
    assert "1 file is no case, and is left as it was:" in text
    assert str(path) in done.out.replace("\n  ", "")
    assert "the key 'date' is missing" in text


def test_the_list_is_narrowed(run: Run, shop: Shop) -> None:
    for tokens, count in [
        (("--cause", "few-coats"), 1),
        (("--cause", "cat"), 1),
        (("--group", "line=2"), 1),
        (("--since", "2026-01-20"), 2),
        (("--group", "line=3"), 0),
    ]:
        out = run("list", *tokens, "--shop", shop.folder).out
        assert f"{count} case{'' if count == 1 else 's'}.\n" in out


@pytest.mark.parametrize(
    ("tokens", "says"),
    [
        (["list", "--cause", "few-coat"], "there is no cause 'few-coat' (did you mean"),
        (
            ["list", "--group", "lin=2"],
            "there is no group 'lin' (did you mean 'line'?)",
        ),
        (["list", "--group", "line"], "'line' is no group; write its label and value"),
        (["list", "--since", "March"], "'March' is no day; write it as 2026-03-14."),
        (["count", "--by", "lin"], "cases can't be counted by 'lin' (did you mean"),
        (["show", "2026-01-10-0002"], "there is no case '2026-01-10-0002' (did you"),
        (["show", "2026-02-02-0004"], "date: the key 'date' is missing."),
        (["search"], "Write what to look for"),
        (["correct", "2026-01-10-0001", "--because", "x"], "Name what it was"),
        (["correct", "2026-01-10-0001", "--cause", "nick"], "--because is missing."),
        (["import", "none.csv"], "none.csv: there is no such file."),
        (["export", "x.txt"], "x.txt: name a file that ends in .csv or in .jsonl."),
        (["export", "none/x.csv"], "none/x.csv: there is no such folder."),
    ],
)
def test_bad_input_gets_a_sentence(
    tokens: list[str], says: str, run: Run, shop: Shop
) -> None:
    """On the standard error, with exit code 2."""
    done = run(*tokens, "--shop", shop.folder)
    assert (done.code, done.out) == (2, "")
    assert says in done.err
    assert "Traceback" not in done.err


@pytest.mark.parametrize("command", ["list", "count", "learn", "propose", "replay"])
def test_a_mistyped_shop_folder_is_no_shop_without_cases(
    command: str, run: Run, tmp_path: Path
) -> None:
    """It is told, and not made."""
    done = run(command, "--shop", tmp_path / "shp")
    assert (done.code, done.out) == (2, "")
    assert "shp: there is no such shop folder" in done.err
    assert not (tmp_path / "shp").exists()


def test_without_a_shop_it_is_said_how_to_name_one(
    run: Run, shop: Shop, monkeypatch: Any
) -> None:
    done = run("list")
    assert done.code == 2
    assert done.err.startswith("No shop folder is named: name it with --shop FOLDER")
    monkeypatch.setenv("DIAGNOSE_SHOP", str(shop.folder))
    assert "3 cases." in run("list").out


def test_a_case_is_shown_as_a_page(run: Run, shop: Shop) -> None:
    """With all of it: what was seen, ranked, found, corrected, done; on 80 columns."""
    done = run("show", "2026-01-10-0001", "--shop", shop.folder)
    assert done.code == 0
    for says in (
        "2026-01-10; traced by Meg; line: 2",
        "Said: “stairs on the crest”",
        "  * gone: yes",
        "  * too few coats (few-coats): gauge",
        "  - until 2026-01-12: nick. Corrected: no nick was felt",
        "   2.  30 % ###....... too few coats  <- this it was",
        "Time to trace and mend it: about 90 min. Prints lost: 12.",
        "All gummed up.",
        "there is no finding 'gone'",
    ):
        assert says in done.out
    assert all(len(line) <= 80 for line in done.out.splitlines())
    data = json.loads(
        run("show", "2026-01-10-0001", "--json", "--shop", shop.folder).out
    )
    assert data["confirmed"] == [{"cause": "few-coats", "how": "gauge"}]


def test_a_case_is_corrected_and_the_old_cause_stays(
    run: Run, shop: Shop, small: Knowledge
) -> None:
    id = "2026-01-10-0001"
    done = run(
        "correct", id, "--cause", "nick", "--because", "felt", "--shop", shop.folder
    )
    assert done.code == 0
    case = shop.read(id, small).case
    assert [one.cause for one in case.confirmed] == ["nick"]
    assert [one.was for one in case.corrected] == [["nick"], ["few-coats"]]
    assert case.answers["gone"] == "yes"


def test_cases_are_searched_by_words(run: Run, shop: Shop) -> None:
    """In what was said, noted and found, in whatever form of the word."""
    for words, count in [("gum", 1), ("coat stair", 1), ("cats", 1), ("dog", 0)]:
        out = run("search", *words.split(), "--shop", shop.folder).out
        assert f"{count} case{'' if count == 1 else 's'}." in out


def test_cases_are_counted(run: Run, shop: Shop) -> None:
    """By cause, month or label; a case without one counts too."""
    out = run("count", "--by", "month", "--shop", shop.folder).out
    assert [line.split() for line in out.splitlines()[1:3]] == [
        ["2026-01", "2", "##########", "2.0", "12"],
        ["2026-02", "1", "#####", "0.0", "0"],
    ]
    done = run("count", "--by", "line", "--json", "--shop", shop.folder)
    counts = {one["name"]: one["cases"] for one in json.loads(done.out)["counts"]}
    assert counts == {"2": 1, "1": 1, "(none)": 1}
    assert "not found" in run("count", "--shop", shop.folder).out


def test_cases_go_out_and_in(run: Run, shop: Shop, tmp_path: Path) -> None:
    """The report of an import says what was taken, what not, and why; 2 if not all."""
    file = tmp_path / "c.csv"
    assert "3 written" in run("export", file, "--shop", shop.folder).out
    file.write_text("date,cause\n2026-01-01,nick\n2026-01-02,nik\n2026-01-01,nick\n")
    tokens = ["import", file, "--shop", tmp_path / "other"]
    done = run(*tokens, "--dry-run")
    assert "1 case would be taken." in done.out
    done = run(*tokens)
    assert done.code == 2
    text = " ".join(done.out.split())
    assert "c.csv:3: cause: there is no cause 'nik' (did you mean 'nick'?)." in text
    assert "1 case taken. 1 there already (row 4). 1 row not taken; see above." in text
    assert "0 cases taken." in run(*tokens).out


def test_the_cases_cost_the_other_commands_nothing() -> None:
    """Nothing of them is imported before a case command is called."""
    code = (
        "import sys, diagnose.cli, diagnose.terminal; "
        "print([m for m in sys.modules if m.startswith('diagnose.cases')])"
    )
    done = subprocess.run(
        [sys.executable, "-c", code], cwd=ROOT, capture_output=True, text=True
    )
    assert done.stdout == "[]\n"


def test_the_program_itself_fills_in_a_case_from_a_pipe(tmp_path: Path) -> None:
    """Piped input, an echo of it, plain text, exit code 0."""
    typed = "".join(f"{text}\n" for text, _ in STEPS)
    done = subprocess.run(
        [
            *(sys.executable, "-m", "diagnose", "case", "add"),
            *("--knowledge", str(SMALL), "--shop", str(tmp_path / "shop")),
            *("--keep-in", str(tmp_path / "kept")),
        ],
        cwd=ROOT,
        input=typed,
        capture_output=True,
        text=True,
    )
    assert (done.returncode, done.stderr) == (0, "")
    assert "> line: 2\n" in done.stdout
    assert "\x1b" not in done.stdout
    assert len(Shop(tmp_path / "shop").ids()) == 1
