"""What a newcomer needs: words explained, how to look in three steps, the guide."""

from __future__ import annotations

import io
import os
import re
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import msgspec
import pytest
from held import TO_A_CHOICE, TO_A_QUESTION, TO_A_READING, TO_A_TOOL, Hold, holder
from knowledge_copy import KnowledgeCopy
from rich.console import Console

from diagnose import Consultation, cli, load_knowledge, typed
from diagnose.errors import AnswerError
from diagnose.how_to_look import steps_for
from diagnose.making import causes_of, fault, signs_of, step_named, with_numbers
from diagnose.making_screens import SPELLED, show_guide_step, show_steps_of_guide
from diagnose.model import Model, model_of
from diagnose.newcomer_screens import show_glossary, show_steps, term_named
from diagnose.records import Knowledge
from diagnose.screens import new_console
from diagnose.terms import glossary_of, words_of

ROOT = Path(__file__).parent.parent
WIDTH = 80


@pytest.fixture(scope="module")
def model(built_in: Knowledge) -> Model:
    return model_of(built_in)


def printed(show: Callable[[Console], None]) -> str:
    """What is printed on a screen of 80 columns; no line is longer."""
    console = new_console(WIDTH)
    console.file = io.StringIO()
    show(console)
    text = console.file.getvalue()
    assert [row for row in text.splitlines() if len(row) > WIDTH] == []
    return text


# words of the trade

STANDING = {
    "Look at the mesh.": ["mesh"],
    "the emulsion over mesh": ["emulsion-over-mesh"],
    "Emulsion over the mesh, then emulsion": ["emulsion-over-mesh", "emulsion"],
    "a dual cure, or dual-cure, emulsion": ["dual-cure"],
    "wash-out, washout and wash\nout": ["wash-out"],
    "print\n  side; the print-side": ["print-side"],
    "MOIRE on a Moiré": ["moire"],
    "meshwork, inkwell and overprint": [],
    "non-contact": [],
    "": [],
    "fisheyes or pinholes in the coat": ["fisheye", "pinhole", "coat"],
    "20 N/cm": ["newton-per-cm"],
    "a 12 µm coat": ["micrometre", "coat"],
}
"""A text, and the terms that stand in it, in their order."""


@pytest.mark.parametrize("text", STANDING)
def test_the_terms_in_a_text(built_in: Knowledge, text: str) -> None:
    """Whole words, the longest of them, each once, however they are joined."""
    found = glossary_of(built_in).standing_in(text)
    first = [term.id for term in found if term.id != "emulsion" or "then" in text]
    assert first == STANDING[text]


def test_a_term_is_found_by_each_of_its_words(built_in: Knowledge) -> None:
    glossary = glossary_of(built_in)
    assert len(built_in.terms) >= 90
    for term in built_in.terms.values():
        for word in words_of(term):
            assert glossary.named(f"the {word.upper()}?") is term
            assert term in glossary.standing_in(f"Is ({word}) there?"), word


@pytest.mark.parametrize(
    ("asked", "meant"),
    [
        ("pinhol", "pinhole"),
        ("a squeege", "squeegee"),
        ("EOM", "emulsion-over-mesh"),
        ("moire", "moire"),
        ("sensitiser", "sensitizer"),
        ("plastisoll ink", "plastisol"),
        ("the word durometer", "durometer"),
        ("“print side”", "print-side"),
    ],
)
def test_the_term_that_is_meant(built_in: Knowledge, asked: str, meant: str) -> None:
    """By another word or spelling, misspelt, or as the one term among other words."""
    assert term_named(built_in, asked).id == meant


@pytest.mark.parametrize(
    "asked", ["", " ", "zzz", "x" * 10_000, "\x1b[31m", "(?:", "²"]
)
def test_a_word_that_is_no_term(built_in: Knowledge, asked: str) -> None:
    with pytest.raises(AnswerError) as raised:
        term_named(built_in, asked)
    says = str(raised.value)
    assert len(says) < 200
    assert says.isprintable()


def test_what_a_newcomer_would_ask_about_is_explained(built_in: Knowledge) -> None:
    """Words that glossaries of the trade have and that our questions use (common
    practice)."""
    wanted = (
        "mesh count; emulsion over mesh; print side; squeegee side; sawtooth; pinhole; "
        "fisheye; undercut; moiré; step wedge; dual-cure; photopolymer; Rz; newton per "
        "cm; off-contact; flash; plastisol; diazo; capillary film; degrease; halftone; "
        "durometer; flood stroke; register; reclaim; ghost image; haze; block-out"
    )
    for word in wanted.split("; "):
        assert glossary_of(built_in).called(word) is not None, word


def test_no_term_is_explained_by_itself_alone(built_in: Knowledge) -> None:
    """An explanation does not begin with the word, nor stop after a word or two."""
    for term in built_in.terms.values():
        assert not term.what.lower().startswith(term.name.lower()), term.id
        assert len(term.what.split()) >= 5, term.id
        assert len(re.findall(r"[.:!?](?:\s|$)", term.what)) <= 4, term.id


def test_the_glossary_runs_from_a_to_z(built_in: Knowledge) -> None:
    text = printed(lambda console: show_glossary(console, built_in))
    heads = [row for row in text.splitlines() if row and not row.startswith(" ")]
    names = [term.name for term in built_in.terms.values()]
    order = sorted(names, key=str.lower)
    places = [next(i for i, h in enumerate(heads) if h.startswith(n)) for n in order]
    assert places == sorted(places)


# at the prompt


@pytest.mark.parametrize("key", ["terms", "t", "T", "words", "Terms?"])
def test_one_key_explains_the_words_of_a_question(hold: Hold, key: str) -> None:
    """'Does the mesh give?' holds one term; the question is put again after it."""
    held = hold([*TO_A_QUESTION, "n", key])
    assert held.after(key).startswith(
        "Words of the trade here:\n  * mesh: Woven cloth on a frame. It carries the "
        "stencil.\n"
    )
    assert held.after(key).rstrip().endswith("stop  help)")


def test_a_question_without_a_word_of_the_trade_says_so(hold: Hold) -> None:
    held = hold([*TO_A_QUESTION, "t"])
    assert held.after("t").startswith("No word here is in the list")


@pytest.mark.parametrize(
    "line",
    [
        "term stencil",
        "what is a stencil?",
        "What's stencil",
        "TERM stencl",
        "what is Stencil",
    ],
)
def test_any_word_is_explained_by_its_name(hold: Hold, line: str) -> None:
    held = hold([*TO_A_QUESTION, line])
    assert held.after(line).startswith("  * stencil: What closes the mesh")


def test_what_is_before_no_term_is_heard_as_own_words(hold: Hold) -> None:
    """Nothing that was told is lost for beginning with these two words."""
    held = hold(["5", "what is wrong is that the edges look like stairs"])
    assert held.sheet == {"stairs": "yes"}


def test_a_word_that_is_not_explained_is_said(hold: Hold) -> None:
    held = hold([*TO_A_QUESTION, "term", "term flumble"])
    assert held.after("term").startswith("? Write the word behind it")
    assert held.after("term flumble").startswith("? “flumble” is not in the list")


@pytest.mark.parametrize(
    "way", [TO_A_QUESTION, TO_A_CHOICE, TO_A_TOOL, TO_A_READING], ids=str
)
@pytest.mark.parametrize("key", ["steps", "how to look", "steps 1"])
def test_each_kind_of_question_tells_how_to_look(
    hold: Hold, way: list[str], key: str
) -> None:
    """In three steps; nothing is answered by it."""
    held = hold([*way, key])
    told = held.after(key)
    assert told.startswith("How to look, in three steps:\n  1 ")
    assert "\n  2 " in told
    assert "\n  3 " in told
    assert held.sheet == hold(way, folder="plain").sheet


def test_there_is_nothing_to_look_for_at_the_stage(hold: Hold) -> None:
    held = hold(["steps", "5", "steps 7", "steps 2"])
    assert held.after("steps").startswith("? There is nothing to look for here.")
    assert held.after("steps 7").startswith("? There is nothing with the number 7.")
    assert held.after("steps 2").startswith("To number 2:\nHow to look, in three")


def test_a_long_list_wants_a_number(built_in: Knowledge, tmp_path: Path) -> None:
    """Fourteen signs are not told at once; the sixth is sawtooth edges or another."""
    held = holder(built_in, tmp_path)(["5", "steps", "steps 6", "t"])
    assert "such as: steps 2" in held.after("steps")
    assert held.after("steps 6").startswith("To number 6:\nHow to look, in three")
    assert "pinhole: A tiny hole in the stencil" in held.after("t")


def test_questions_at_a_glance_tell_of_those_that_are_open(
    built_in: Knowledge, tmp_path: Path
) -> None:
    """All by one word, one by its number; not those that were answered."""
    said = "the stencil breaks down during the run"
    held = holder(built_in, tmp_path)(["5", said, "steps", "n", "steps", "steps 1"])
    screens = held.screen.split("> steps\n")
    assert "To number 1:" in screens[1]
    assert "To number 2:" in screens[1].split("\n> ")[0]
    assert "To number" not in screens[2].split("\n> ")[0]  # one is left
    assert "There is nothing with the number 1." in held.after("steps 1")


def test_the_words_of_a_fix_are_explained_too(
    built_in: Knowledge, tmp_path: Path
) -> None:
    """Where it is asked whether it worked; 'steps' has nothing to look for there."""
    begun = Consultation(built_in)
    begun.answer("breaks-down-on-press", "yes")
    begun.answer("squeegee-side-slimy", "yes")
    begun.tried("expose-again-from-inside", None)
    begun.save(tmp_path / "kept" / "consultation-2026-01-01-000000-1.yaml")
    held = holder(built_in, tmp_path)(["y", "t", "steps"])
    assert "squeegee side: The inside of the frame" in held.after("t")
    assert held.after("steps").startswith("? There is nothing to look for here.")


def test_the_help_names_the_words(hold: Hold) -> None:
    told = hold([*TO_A_QUESTION, "help"]).after("help")
    for word in ("steps", "terms", "steps 2", "term …"):
        assert f"\n  {word} " in told


@pytest.mark.parametrize(
    ("line", "meant"),
    [
        ("what is moiré", ("what is", "moiré")),
        ("what are pinholes?", ("what is", "pinholes?")),
        ("term: tension", ("term", "tension")),
        ("steps 2", ("steps", "2")),
        ("steps at the edges", None),
        ("terms 2", None),
        ("what if yes", ("what if", "yes")),
    ],
)
def test_what_a_line_begins_with(line: str, meant: tuple[str, str] | None) -> None:
    assert typed.aside(line) == meant


# how to look


def test_everything_that_can_be_asked_tells_how_to_look(built_in: Knowledge) -> None:
    """Findings, checks that settle a cause, and tools: three texts, 80 columns."""
    for id in [*built_in.findings, *built_in.tools]:
        steps = steps_for(built_in, id)
        assert all(text.strip() for text in steps), id
        text = printed(lambda console, id=id: show_steps(console, built_in, id))  # type: ignore[misc]
        assert text.splitlines()[1].startswith("  1 ")


def test_what_is_looked_at_has_steps_of_its_own(built_in: Knowledge) -> None:
    """Each sign and each check that is put to a person; written, short, whole."""
    for finding in built_in.recorded().values():
        if finding.role in ("sign", "check") and finding.measured_by is None:
            assert finding.steps is not None, finding.id
        for text in finding.steps or ():
            assert text[0].isupper(), finding.id
            assert text.endswith("."), finding.id
            assert len(text) <= 230, finding.id
            assert text.count(". ") <= 1, finding.id


def test_the_third_step_tells_both_sides(built_in: Knowledge) -> None:
    """What it is, and what it is not: two parts, for whatever is answered yes or no."""
    for finding in built_in.recorded().values():
        if finding.steps and finding.kind == "yes-no":
            assert ";" in finding.steps[2] or "," in finding.steps[2], finding.id


def test_a_danger_of_the_look_is_shown_with_its_steps(built_in: Knowledge) -> None:
    shown = printed(lambda console: show_steps(console, built_in, "wedge-step"))
    for caution in built_in.findings["wedge-step"].cautions:
        assert built_in.cautions[caution].danger[:20] in " ".join(shown.split())


def test_steps_that_are_not_written_are_made(small: Knowledge) -> None:
    """Of the tools, how it is done, and what it is not."""
    assert steps_for(small, "bands") == (
        "Take: nothing but your eyes and hands.",
        "Look.",
        "Not streaks.",
    )
    tool = small.findings["thickness"].needs[0]
    assert steps_for(small, "thickness")[0] == f"Take: {small.tools[tool].name}."
    assert "answer y" in steps_for(small, tool)[2]


def test_two_steps_are_one_too_few(copy: KnowledgeCopy) -> None:
    place = copy.edit(
        "findings/all.yaml",
        "  role: sign",
        "  steps: ¦[Take it., Do it.]\n  role: sign",
    )
    assert copy.faults() == [
        f"{place}: stairs: shape: a list of 3 belongs here, not a list of 2."
    ]


# the guide


def test_every_cause_belongs_to_one_step(built_in: Knowledge) -> None:
    """Each step has causes of its own stage, and none is left out or told twice."""
    told = []
    for step in built_in.guide.values():
        causes = causes_of(built_in, step)
        assert causes, step.id
        assert {cause.stage for cause in causes} == {step.stage}
        told += [cause.id for cause in causes]
    assert sorted(told) == sorted(built_in.causes)


def test_the_steps_come_in_the_order_of_the_work(built_in: Knowledge) -> None:
    """From bare mesh to a screen that is put away (common practice)."""
    steps = list(built_in.guide)
    order = (
        "choose-the-mesh degrease coat dry-the-coat expose wash-out touch-up print "
        "reclaim measure-and-put-away"
    )
    places = [steps.index(id) for id in order.split()]
    assert places == sorted(places)
    assert (steps[0], steps[-1]) == ("choose-the-mesh", "measure-and-put-away")


def test_each_step_is_a_page(built_in: Knowledge, model: Model) -> None:
    """What is done, why, how it went well, the dangers, what goes wrong and why."""
    for number, step in enumerate(built_in.guide.values(), 1):
        page = printed(lambda console, step=step: show_guide_step(console, model, step))  # type: ignore[misc]
        text = " ".join(page.split())
        assert page.startswith(f"Step {number} of {len(built_in.guide)}: {step.name}")
        for part in ("It went well when:", "Check:", "Prevent it:", "Sources"):
            assert part in page, step.id
        for sign in step.signs:
            assert f"({sign})" in text
        for cause in causes_of(built_in, step):
            assert f"{cause.id})" in text, cause.id
        for caution in step.cautions:
            assert built_in.cautions[caution].danger in text
        assert "{" not in page
        assert 3 <= len(step.do) <= 6, step.id


def test_the_dangers_of_a_check_are_told_with_it(
    built_in: Knowledge, model: Model
) -> None:
    """Whatever check a page tells of, its cautions stand on the page in full."""
    for step in built_in.guide.values():
        page = printed(lambda console, step=step: show_guide_step(console, model, step))  # type: ignore[misc]
        text = " ".join(page.split())
        for cause in causes_of(built_in, step)[:SPELLED]:
            for caution in cause.settled_by[0].cautions:
                assert built_in.cautions[caution].danger in text


def test_a_danger_is_told_in_full_once_though_a_word_has_its_name(
    built_in: Knowledge, model: Model
) -> None:
    """'uv-ink' is a word of the trade and a danger; the one does not hide the other."""
    assert "uv-ink" in built_in.terms
    assert "uv-ink" in built_in.cautions
    step = msgspec.structs.replace(built_in.guide["print"], cautions=["uv-ink"])
    told = {"terms/uv-ink"}
    danger = built_in.cautions["uv-ink"].danger
    for expected in (True, False):
        page = printed(lambda console: show_guide_step(console, model, step, told))
        assert (danger in " ".join(page.split())) is expected


def test_the_numbers_of_the_guide_are_those_of_the_windows(built_in: Knowledge) -> None:
    """Ten to twenty-five per cent of emulsion over mesh, from one place."""
    coat = " ".join(with_numbers(built_in, text) for text in built_in.guide["coat"].do)
    window = built_in.windows["emulsion-over-mesh"]
    assert f"{window.low:g} to {window.high:g} %" in coat


def test_what_a_fault_of_a_step_becomes(model: Model) -> None:
    """Too few coats show as sawtooth edges (s050/s050-c01), which are met first on the
    finished screen; low tension as a smear (s016/s016-c01), met in the print."""
    one = fault(model, model.knowledge.causes["coats-too-few"])
    assert any("little stairs" in says for says in one.before)
    other = fault(model, model.knowledge.causes["mesh-lost-tension"])
    assert any("smeared" in says for says in other.in_print)
    assert one.prevent is not None
    assert one.prevent.moment == "prevent"


def test_no_fault_goes_without_a_sign(model: Model) -> None:
    """A newcomer who reads of a fault is told what to see of it."""
    silent = [
        cause.id
        for step in model.knowledge.guide.values()
        for cause in causes_of(model.knowledge, step)
        if not signs_of(model, cause)
    ]
    assert silent == []


def test_the_commonest_come_first(built_in: Knowledge) -> None:
    common = built_in.scales.how_common
    for step in built_in.guide.values():
        chances = [common[one.how_common] for one in causes_of(built_in, step)]
        assert chances == sorted(chances, reverse=True)


@pytest.mark.parametrize(
    ("words", "id"),
    [
        ("1", "choose-the-mesh"),
        (" 07 ", "coat"),
        ("coat", "coat"),
        ("Wash the IMAGE out", "wash-out"),
        ("stencil  strip", None),
        ("strip", "reclaim"),
        ("the mesh", None),
    ],
)
def test_the_step_that_is_meant(
    built_in: Knowledge, words: str, id: str | None
) -> None:
    """By its number, its id, its name, or words that only it has."""
    if id is not None:
        assert step_named(built_in, words).id == id
    else:
        with pytest.raises(AnswerError, match="'diagnose guide' lists"):
            step_named(built_in, words)


def test_a_knowledge_may_have_neither(copy: KnowledgeCopy) -> None:
    """Then it is said, and nothing breaks."""
    copy.path("guide.yaml").unlink()
    copy.path("terms.yaml").unlink()
    bare = load_knowledge(copy.folder)
    assert "no guide" in printed(lambda console: show_steps_of_guide(console, bare))
    assert "no words" in printed(lambda console: show_glossary(console, bare))
    assert glossary_of(bare).standing_in("mesh") == []
    assert glossary_of(bare).named("mesh") is None


def test_a_cause_that_another_step_names_is_not_told_twice(copy: KnowledgeCopy) -> None:
    """The step that names none has the rest of the stage."""
    copy.write(
        "guide.yaml",
        "¦"
        + "".join(
            f"""
- id: {id}
  status: tried
  name: {id}
  stage: coating
  do: ["To {{window: build}}."]
  why: x
  well: x
{causes}  sources: [common practice]
"""
            for id, causes in (("one", "  causes: [nick]\n"), ("two", ""))
        ),
    )
    known = load_knowledge(copy.folder)
    one, two = known.guide.values()
    assert [cause.id for cause in causes_of(known, one)] == ["nick"]
    assert [cause.id for cause in causes_of(known, two)] == ["few-coats"]
    assert with_numbers(known, one.do[0]) == "To 10 to 20 %."


# the commands


@pytest.fixture
def loaded(built_in: Knowledge, monkeypatch: pytest.MonkeyPatch) -> None:
    """The commands find the knowledge read already."""
    monkeypatch.setattr("diagnose.knowledge.load_knowledge", lambda *_: built_in)


@pytest.mark.usefixtures("loaded")
@pytest.mark.parametrize(
    "tokens",
    [
        ["guide", "0"],
        ["guide", "21"],
        ["guide", "99999999999999999999"],
        ["guide", "²"],
        ["guide", ""],
        ["guide", "\x1b[31mred"],
        ["guide", "x" * 5000],
        ["guide", "coat", "--all"],
        ["terms", "no\nsuch"],
        ["terms", ""],
        ["show", "flumble"],
    ],
    ids=lambda tokens: " ".join(tokens)[:20],
)
def test_a_name_that_is_none_is_one_sentence(
    tokens: list[str], capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 2; what is wrong and what would be right; no escape codes."""
    assert cli.main(tokens) == 2
    out, err = capsys.readouterr()
    assert out == ""
    assert 10 < len(err) < 250
    assert err.count("\n") == 1
    assert err.strip().isprintable()


@pytest.mark.usefixtures("loaded")
@pytest.mark.parametrize(
    ("tokens", "says"),
    [
        (["guide"], "  7 Coat the screen"),
        (["guide", "wash"], "Step 11 of 20: Wash the image out"),
        (["terms", "print", "side"], "  * print side: The side of the screen"),
        (["show", "print side"], "(terms: print-side; tried)"),
        (["show", "fisheyes"], "(terms: fisheye; tried)"),
        (["find", "off-contact"], "off-contact: off-contact (terms)"),
        (["find", "strip the stencil"], "reclaim: Strip the stencil (guide)"),
    ],
    ids=str,
)
def test_what_the_commands_show(
    tokens: list[str], says: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert cli.main(tokens) == 0
    assert says in capsys.readouterr().out


def test_the_whole_guide_goes_into_a_pipe() -> None:
    """Plain text of 80 columns at most, in whatever signs the pipe can carry."""
    env = {**os.environ, "PYTHONIOENCODING": "ascii", "COLUMNS": "200"}
    told = subprocess.run(
        [sys.executable, "-m", "diagnose", "guide", "--all"],
        cwd=ROOT,
        env={**env, "NO_COLOR": "1"},
        capture_output=True,
        timeout=60,
        check=True,
    )
    assert told.stderr == b""
    rows = told.stdout.decode("ascii").splitlines()
    assert max(map(len, rows)) <= WIDTH
    steps = [row for row in rows if re.match(r"Step \d+ of 20: ", row)]
    assert len(steps) == 20
    assert b"\x1b" not in told.stdout
