"""The interview: what is typed, what is seen, and what is kept."""

from __future__ import annotations

import io
import os
import subprocess
import sys
from collections.abc import Callable, Iterable
from itertools import count
from pathlib import Path

import pytest
from held import TO_A_CHOICE, TO_A_QUESTION, TO_A_READING, TO_A_TOOL, Held, Hold
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.console import Console

from diagnose import Consultation, FolderError, typed
from diagnose.contrast import AtOdds
from diagnose.questions import Question
from diagnose.records import Knowledge
from diagnose.sheets import read_sheet
from diagnose.terminal import Interview, consultations_folder
from diagnose.words import Heard, Unclear, Understood

SMALL = Path(__file__).parent / "small"

# the screens


OPENING = """\
Why did the print, or the screen, go wrong?
One question at a time. Answer with a number, a letter or a word, then Enter. At
any question you can also type:
  ?      I don't know, or can't look
  why    why you are being asked this
  steps  how to look, in three steps
  terms  the words of the trade that stand there, explained (or: t)
  where  where we stand so far
  back   go back and change an answer
  say …  tell it in your own words, for example: say it looks patchy
  stop   stop here, with the result so far; your answers are kept
  help   these words, and what else you can ask

Where are you in the work?
  1 coating a screen, or looking at the coat
  2 drying or storing coated screens
  3 washing out the image
  4 looking over a finished screen
  5 printing, or looking at a print
  6 reclaiming or cleaning a used screen
  ? don't know, or somewhere else
> 5

What do you see? Pick one or more (1 3), or write it in your own words.
  1 The edges look like stairs. (sawtooth edges)
  2 There are bands. (bands)
  0 none of these ('back' goes to the stage)
> 1
At odds: Both can't be.
Important: Stop now.
So far:   63 % ######.... too few coats
          19 % ##........ something that this knowledge does not cover
          19 % ##........ slack mesh

Question 1  (about 1 min)
  Are there bands?
  How: Look.
  Not this: Not streaks.
  y yes   n no   s somewhat   ? don't know
  (any time: why  steps  terms  where  back  say …  stop  help)
> n
Noted: There are no bands.
So far:   77 % ########.. too few coats
          18 % ##........ something that this knowledge does not cover
           7 % #......... slack mesh

Question 2  (about 1 min)
  Does the mesh give?
  How: Press.
  Not this: Not the frame.
  y yes   n no   s somewhat   ? don't know
  (any time: why  steps  terms  where  back  say …  stop  help)
> \

"""


def test_the_opening_asks_for_the_stage_then_the_signs_then_questions(
    hold: Hold,
) -> None:
    """Stage, short list of signs, standing, and one question at a time."""
    held = hold([*TO_A_QUESTION, "n"])
    assert held.screen.startswith(OPENING)


def test_a_choice_is_shown_with_a_number_for_each(hold: Hold) -> None:
    """A choice lists what it takes, one a line."""
    assert (
        hold(TO_A_CHOICE)
        .after("y")
        .endswith(
            """
Question 3  (a glance)
  What stencil?
  How: Look at the tin.
  Not this: Not the ink.
  1 emulsion
  2 film
  ? don't know
  (any time: why  steps  terms  where  back  say …  stop  help)"""
        )
    )


def test_a_reading_is_shown_with_its_unit_and_its_caution(hold: Hold) -> None:
    """A danger of a check stands with the question, before the answer."""
    assert (
        hold(TO_A_READING)
        .after("y")
        .endswith(
            """
Question 7  (about 5 min)
  How thick is it?
  How: Gauge it.
  Not this: Not the whole.
  ! The lamp. It harms eyes. Do not look in. The manual decides.
  a number in % (several: with ; between them)   ? don't know
  (any time: why  steps  terms  where  back  say …  stop  help)"""
        )
    )


def test_a_tool_is_asked_for_before_it_is_needed(hold: Hold) -> None:
    """Whether a gauge is there is asked once, and 'no' spares the reading."""
    held = hold([*TO_A_TOOL, "n"])
    assert "Do you have a thickness gauge to hand?" in held.screen
    assert "How thick is it?" not in held.screen
    assert held.interview.consultation.sheet.to_hand == {"gauge": "no"}
    assert held.code == 0


def test_the_end_shows_result_plan_and_last_of_all_what_counts(hold: Hold) -> None:
    """From the reasons to the fixes, with the short of it left in view."""
    held = hold([*TO_A_READING, "5", "0"])
    parts = [
        "That is all. ",
        "What is most likely wrong",
        "1. too few coats   ",
        "To settle it: Count the coats.",
        "What to do",
        "Save this run (what can be done with this screen, now)",
        "Remake the screen (how to make the next one so that it holds)",
        "Stop it coming back (what to change in the shop)",
        "Take care",
        "In short",
        "Most likely:         too few coats (",
        "What did you try?",
        "Kept in:",
    ]
    places = [held.screen.index(part) for part in parts]
    assert places == sorted(places)
    assert len(held.screen[held.screen.index("In short") :].splitlines()) < 24
    assert held.code == 0


# what every prompt takes


PROMPTS = {
    "stage": [],
    "signs": ["5"],
    "yes-no": TO_A_QUESTION,
    "choice": TO_A_CHOICE,
    "tool": TO_A_TOOL,
    "reading": TO_A_READING,
    "back": [*TO_A_QUESTION, "back"],
    "which": ["say which"],
    "resume": [],
    "odds": [*TO_A_QUESTION, "y"],
    "glance": TO_A_QUESTION,
    "tried": [*TO_A_READING, "5"],
    "outcome": [*TO_A_READING, "5", "2"],
}
ASKS = {
    "stage": "Where are you in the work?",
    "signs": "What do you see?",
    "yes-no": "Are there bands?",
    "choice": "What stencil?",
    "tool": "Do you have a thickness gauge to hand?",
    "reading": "How thick is it?",
    "back": "Your answers, the last one first. Which is to change?",
    "which": "can mean several things. Which is it?",
    "resume": "Go on from there?",
    "odds": "These answers do not go together. Is one of them to change?",
    "glance": "all on one line (y n), or one at a time",
    "tried": "What did you try?",
    "outcome": "Did it work?",
}


@pytest.fixture
def hold_at(hold: Hold, monkeypatch: pytest.MonkeyPatch) -> Hold:
    """Hold an interview up to one kind of prompt, and type more lines there."""
    understand = Consultation.understand

    def unclear(self: Consultation, text: str) -> Understood:
        if text != "which":
            return understand(self, text)
        return Understood((), (Unclear("which", 0, 5, ("stairs", "bands")),), ())

    monkeypatch.setattr(Consultation, "understand", unclear)

    fresh = map(str, count())

    def at_odds(self: Consultation) -> list[AtOdds]:
        both = {"stairs", "bands"} <= self.sheet.given().keys()
        return [AtOdds("Both can hardly be so.", ("stairs", "bands"), "x")] * both

    def at_a_glance(self: Consultation) -> list[Question]:
        open_ones = [id for id in ("bands", "gives") if id not in self.sheet.given()]
        return [self.question(id) for id in open_ones]

    def hold_at(prompt: str, lines: Iterable[str]) -> Held:
        folder = next(fresh)
        if prompt == "odds":
            monkeypatch.setattr(Consultation, "at_odds", at_odds)
        if prompt == "glance":
            monkeypatch.setattr(Consultation, "next_questions", at_a_glance)
        if prompt == "resume":
            hold(TO_A_QUESTION, folder=folder)
        held = hold([*PROMPTS[prompt], *lines], folder=folder)
        assert ASKS[prompt] in held.screen
        return held

    return hold_at


at_every_prompt = pytest.mark.parametrize("prompt", PROMPTS)


@at_every_prompt
def test_why_is_answered_and_the_question_shown_again(
    hold_at: Hold, prompt: str
) -> None:
    """'why' gives a reason at every prompt, and then the question once more."""
    reason = hold_at(prompt, ["why"]).after("why")
    assert len(reason.split("\n\n")[0]) > 20
    assert ASKS[prompt] in reason.split("\n\n")[1]


@at_every_prompt
def test_where_is_answered_and_the_question_shown_again(
    hold_at: Hold, prompt: str
) -> None:
    """'where' shows a short standing at every prompt, and the question once more."""
    standing, again = hold_at(prompt, ["where"]).after("where").split("\n\n")
    known = prompt not in ("stage", "signs", "which")
    assert standing.startswith("So far: " if known else "Nothing has been said yet")
    assert len(standing.splitlines()) <= 12
    assert ASKS[prompt] in again


@at_every_prompt
def test_help_is_answered_and_the_question_shown_again(
    hold_at: Hold, prompt: str
) -> None:
    """'help' tells what can be typed at every prompt."""
    shown = hold_at(prompt, ["help"]).after("help")
    assert shown.startswith("  ?          I don't know, or can't look\n")
    assert "\n  what if …  try an answer out without giving it" in shown
    assert ASKS[prompt] in shown


ASIDES = [
    *("how", "change", "why not 1", "why not slack mesh", "why not", "what if yes"),
    *("why not a purple hat", "why not 99", "what if", "what if purple", "why 1"),
    "why 7",
]


@at_every_prompt
def test_what_is_asked_back_is_answered_and_the_question_shown_again(
    hold_at: Hold, prompt: str, small: Knowledge
) -> None:
    """Nothing is answered by it, a sentence or more comes, and the question again."""
    held = hold_at(prompt, ASIDES)
    for aside in ASIDES:
        reply, again = held.after(aside).rsplit("\n\n", 1)
        assert len(reply) > 20, aside
        assert ASKS[prompt] in again
    assert held.sheet == hold_at(prompt, []).sheet
    if held.interview.path is not None:
        kept = read_sheet(held.interview.path, small)
        assert kept == held.interview.consultation.sheet


@at_every_prompt
def test_enter_alone_shows_the_question_again(hold_at: Hold, prompt: str) -> None:
    """An empty line, or blanks, do no harm."""
    held = hold_at(prompt, ["", "   "])
    assert held.screen.count(ASKS[prompt]) >= 3


@at_every_prompt
def test_stop_ends_it_and_keeps_what_was_answered(
    hold_at: Hold, prompt: str, small: Knowledge
) -> None:
    """'stop' leaves at every prompt, says how to go on, and loses nothing."""
    held = hold_at(prompt, ["stop"])
    assert held.code == 0
    assert "Stopping here." in held.screen
    path = held.interview.path
    if path is None:
        assert prompt in ("stage", "resume")
        assert held.screen.endswith("or to go on with an earlier one.\n")
    else:
        assert read_sheet(path, small).given() == held.sheet
        assert held.screen.endswith("start it again in the same way.\n")
    assert ("In short" in held.screen) == bool(held.sheet)


@at_every_prompt
def test_dont_know_is_taken_everywhere(hold_at: Hold, prompt: str) -> None:
    """'?' is an answer at every prompt: no complaint, and it goes on."""
    after = hold_at(prompt, ["?"]).after("?")
    assert not after.startswith("? ")
    again = {"signs": " 0 none of these ('back' goes to the stage)"}
    assert ASKS[prompt] not in after or again.get(prompt, "never") in after


@at_every_prompt
@pytest.mark.parametrize(
    "wrong", ["99", "0 1", "-1", "1.5", "purple", "y n", "1,2,99", "₂", "'; --"]
)
def test_wrong_input_gets_one_sentence_and_the_prompt_again(
    hold_at: Hold, prompt: str, wrong: str
) -> None:
    """Nothing is answered by it, and one sentence says what is taken."""
    if prompt == "reading" and wrong in ("99", "1.5", "0 1"):
        pytest.skip("a reading takes these")
    if prompt == "glance" and wrong == "y n":
        pytest.skip("two questions take it")
    held = hold_at(prompt, ["where", wrong])
    shown = held.after(wrong)
    if prompt in ("stage", "signs") and not shown.startswith("? "):
        # more than a number there is heard as the person's own words
        shown, again = shown.split("\n\n")
        assert shown.startswith("Nothing could be made of that. Try other words")
        assert ASKS[prompt] in again
    else:
        assert shown.startswith("? ")
        assert len(" ".join(shown.split())) < 240
    before = hold_at(prompt, ["where"])
    assert held.sheet == before.sheet


@at_every_prompt
@pytest.mark.parametrize(
    "odd",
    [
        "\x1b[31mred\x1b[0m\x07\x00",
        "🖨️🔥👩‍🏭",
        "\u202eשלום עולם\u202c مرحبا",
        "x" * 10_000,
        "word " * 2_000,
        "7" * 10_000,
        "\ud800 half a pair",
        "e\u0301" * 300,
    ],
    ids=[
        "control",
        "emoji",
        "right-to-left",
        "long",
        "words",
        "digits",
        "half",
        "mark",
    ],
)
def test_odd_text_is_taken_quietly_at_every_prompt(
    hold_at: Hold, prompt: str, odd: str, small: Knowledge
) -> None:
    """Nothing breaks, no line is too wide, nothing steers the terminal, all is kept."""
    held = hold_at(prompt, [odd, "where"])
    assert held.code == 0
    shown = held.screen.replace(odd, "")
    assert all(cell_len(line) <= 80 for line in shown.splitlines())
    assert all(sign.isprintable() or sign == "\n" for sign in shown)
    if held.interview.path is not None:
        kept = read_sheet(held.interview.path, small)
        assert kept == held.interview.consultation.sheet


# answers


@pytest.mark.parametrize(
    ("line", "value"),
    [
        ("y", "yes"),
        ("YES", "yes"),
        ("Yeah.", "yes"),
        ("n", "no"),
        ("nope", "no"),
        ("s", "somewhat"),
        ("a little", "somewhat"),
        ("?", "don't know"),
        ("don’t know", "don't know"),
        ("no idea", "don't know"),
        ("I can't", "don't know"),
    ],
)
def test_a_yes_no_question_takes_letters_and_words(
    hold: Hold, line: str, value: str
) -> None:
    """Letters, words and what people say for them come to the same."""
    assert hold([*TO_A_QUESTION, line]).sheet["bands"] == value


@pytest.mark.parametrize("line", ["2", "film", "FILM", " film. ", "fil"])
def test_a_choice_takes_its_number_or_its_word(hold: Hold, line: str) -> None:
    """The number, the name, and the start of it mean the same."""
    assert hold([*TO_A_CHOICE, line]).sheet["stencil"] == "film"


@pytest.mark.parametrize("line", ["5", "5 %", "5%", "5 percent", "4; 5; 6", "5 ± 1 %"])
def test_a_reading_takes_a_number_with_or_without_its_unit(
    hold: Hold, line: str
) -> None:
    """A reading is kept as it was written."""
    held = hold([*TO_A_READING, line])
    assert held.sheet["thickness"] == line
    assert f"Noted: Reading, thickness over mesh: {line}" in held.screen


@pytest.mark.parametrize("line", ["500", "-3", "5 kg", "thick"])
def test_a_reading_that_cannot_be_is_refused(hold: Hold, line: str) -> None:
    """Out of range, of another unit, or no number: a sentence, and asked again."""
    held = hold([*TO_A_READING, line, "12"])
    assert held.after(line).startswith("? ")
    assert held.sheet["thickness"] == "12"


@pytest.mark.parametrize("line", ["5", "press", "printing", "press set-up"])
def test_the_stage_takes_its_number_or_its_word(hold: Hold, line: str) -> None:
    """The number, the stage's name, and a word of its line mean the same."""
    assert hold([line]).interview.consultation.sheet.stage == "press"


@pytest.mark.parametrize("line", ["1 2", "1,2", "2, 1", "1 and 2", "1 + 2", "1 1 2"])
def test_several_signs_may_be_picked(hold: Hold, line: str) -> None:
    """All the numbers on the line are taken, however they are parted."""
    assert hold(["5", line]).sheet == {"stairs": "yes", "bands": "yes"}


def test_a_sign_may_be_named(hold: Hold) -> None:
    """The trade's word for a sign picks it."""
    assert hold(["5", "Sawtooth edges"]).sheet == {"stairs": "yes"}


def test_own_words_are_taken_at_the_signs(hold: Hold) -> None:
    """Free text is understood, and what it was taken from is shown."""
    held = hold(["5", "they print with blocky edges"])
    assert held.sheet == {"stairs": "yes"}
    assert "* The edges look like stairs. (from “blocky edges”)" in held.screen


def test_own_words_are_taken_at_the_stage(hold: Hold) -> None:
    """Who starts with the fault and not with the stage is heard too."""
    held = hold(["I get blocky edges"])
    assert held.sheet == {"stairs": "yes"}
    assert "Are there bands?" in held.screen


def test_own_words_at_a_question_may_answer_it(hold: Hold) -> None:
    """What was said counts, and a question that it answered is not asked again."""
    held = hold([*TO_A_QUESTION, "n", "say the mesh is loose"])
    assert held.sheet["gives"] == "yes"
    assert held.after("say the mesh is loose").count("Does the mesh give?") == 0


def test_own_words_do_not_override_an_answer(
    hold: Hold, monkeypatch: pytest.MonkeyPatch
) -> None:
    """An answer stays when own words say otherwise, and the person is told so."""
    heard = Understood((Heard("bands", "yes", "banding", 0, 7),), (), ())
    monkeypatch.setattr(Consultation, "understand", lambda self, text: heard)
    held = hold([*TO_A_QUESTION, "n", "say banding"])
    assert held.sheet["bands"] == "no"
    assert (
        "Your earlier answer stays: There are no bands. ('back' changes it)"
        in held.screen
    )


def test_words_that_mean_several_things_are_asked_about(hold_at: Hold) -> None:
    """The person picks what was meant, by its number or its name."""
    assert hold_at("which", ["2"]).sheet == {"bands": "yes"}
    assert hold_at("which", ["bands"]).sheet["bands"] == "yes"


def test_text_on_the_command_line_starts_the_interview(hold: Hold) -> None:
    """The stage is not asked where the words say enough."""
    held = hold(["n"], said="blocky edges")
    assert "Where are you in the work?" not in held.screen
    assert held.sheet == {"stairs": "yes", "bands": "no"}
    assert held.interview.consultation.sheet.said == ["blocky edges"]


def test_text_that_says_nothing_leads_to_the_list(hold: Hold) -> None:
    """What was not understood is said, and the interview goes on as without it."""
    held = hold(["5", "2"], said="hello there")
    assert "Nothing could be made of that." in held.screen
    assert held.sheet == {"bands": "yes"}


def test_where_nothing_is_known_the_whole_list_is_offered(hold: Hold) -> None:
    """'?' at the stage, or 0 at its list, leads to the signs of every stage."""
    assert hold(["?", "2"]).sheet == {"bands": "yes"}
    held = hold(["1", "0", "1"], folder="other")
    assert held.sheet == {"stairs": "yes"}
    assert held.after("0").count("What do you see?") == 1


def test_back_at_the_signs_leads_to_the_stage(hold: Hold) -> None:
    """The stage can be changed as long as nothing was picked."""
    held = hold(["1", "back", "5", "1"])
    assert held.interview.consultation.sheet.stage == "press"
    assert held.screen.count("Where are you in the work?") == 2


def test_back_at_the_very_start_has_nothing_to_go_back_to(hold: Hold) -> None:
    """It says so, and asks on."""
    assert hold(["back"]).after("back").startswith("There is nothing before this")


def test_back_lists_the_answers_newest_first(hold: Hold) -> None:
    """The answer that one most wants to change has the number 1."""
    assert (
        hold([*TO_A_TOOL, "y", "back"]).after("back")
        == """
Your answers, the last one first. Which is to change?
  1 To hand: a thickness gauge.
  2 Don't know: coats put on.
  3 Don't know: nick felt.
  4 Don't know: kind of stencil.
  5 The mesh is tight.
  6 There are no bands.
  7 The edges look like stairs.
  0 none, go on"""
    )


def test_an_answer_changed_with_back_counts_as_if_given_first(
    hold: Hold, small: Knowledge
) -> None:
    """After a change the result equals that of a fresh consultation."""
    held = hold([*TO_A_QUESTION, "n", "y", "back", "2", "y"])
    fresh = Consultation(small)
    for finding, value in (("bands", "yes"), ("gives", "yes"), ("stairs", "yes")):
        fresh.answer(finding, value)
    assert held.interview.consultation.ranking() == fresh.ranking()
    assert held.interview.consultation.plan() == fresh.plan()


def test_whether_a_tool_is_there_can_be_put_right(hold: Hold) -> None:
    """'back' reaches the tools too, and the reading is spared after all."""
    held = hold([*TO_A_TOOL, "y", "back", "1", "n"])
    assert held.interview.consultation.sheet.to_hand == {"gauge": "no"}
    assert held.code == 0
    assert held.screen.count("How thick is it?") == 1
    assert "That is all." in held.screen


@pytest.mark.parametrize("way_out", ["0", "?", "back", "none"])
def test_back_may_leave_all_as_it_is(hold: Hold, way_out: str) -> None:
    """Going back and changing nothing changes nothing."""
    held = hold([*TO_A_QUESTION, "n", "back", way_out])
    assert held.sheet == {"stairs": "yes", "bands": "no"}


def test_a_question_keeps_its_number_when_it_is_asked_again(hold: Hold) -> None:
    """Detours do not make the interview look longer than it is."""
    held = hold([*TO_A_QUESTION, "say hello", "back", "0", "n"])
    assert held.screen.count("\nQuestion 1  ") == 3
    assert held.screen.count("\nQuestion 2  ") == 1


def test_it_says_once_when_one_cause_stands_out(
    hold: Hold, monkeypatch: pytest.MonkeyPatch
) -> None:
    """From then on nobody needs to answer for nothing."""
    monkeypatch.setattr("diagnose.questions.LIKELY_ENOUGH", 0.001)
    held = hold([*TO_A_QUESTION, "say thickness 3 %", "n", "n", "n"])
    assert held.screen.count("One cause stands out. 'stop' shows the result now") == 1
    held = hold([*TO_A_QUESTION, "n"], folder="other")
    assert "One cause stands out" not in held.screen


# keeping


def test_every_answer_is_on_disk_before_the_next_question(
    small: Knowledge, tmp_path: Path
) -> None:
    """Whenever a line is read, the file holds all that was answered so far."""
    lines = iter([*TO_A_READING, "back", "1", "n", "back", "2", "12"])
    read = 0

    def read_line(prompt: str) -> str:
        nonlocal read
        read += 1
        consultation = interview.consultation
        if consultation.sheet.stage:
            assert interview.path is not None
            assert read_sheet(interview.path, small) == consultation.sheet
        line = next(lines, None)
        if line is None:
            raise EOFError
        return line

    console = Console(file=io.StringIO(), width=80)
    interview = Interview(small, tmp_path, console, read_line)
    interview.run()
    assert read >= 8


def test_an_unfinished_consultation_is_offered_and_gone_on_with(hold: Hold) -> None:
    """Starting again shows its answers, and goes on where it was left."""
    first = hold([*TO_A_QUESTION, "n"])
    again = hold(["y", "y"])
    assert again.interview.path == first.interview.path
    assert again.sheet == {"stairs": "yes", "bands": "no", "gives": "yes"}
    shown = again.screen[again.screen.index("One was left unfinished (") :]
    assert (
        shown.split(":\n", 1)[1].split("\n> ")[0]
        == """\
  * You were here: printing, or looking at a print.
  * The edges look like stairs.
  * There are no bands.
Go on from there?
  y yes, go on with it
  n no, start a new one; this one is put away and not offered again"""
    )


def test_one_that_was_only_begun_at_a_stage_is_gone_on_with(hold: Hold) -> None:
    """Even the stage alone is not asked a second time."""
    hold(["5"])
    again = hold(["y", "1"])
    assert "Where are you in the work?" not in again.screen
    assert again.sheet == {"stairs": "yes"}


def test_one_that_was_stopped_can_be_gone_on_with(hold: Hold) -> None:
    """'stop' is a pause: nothing is lost by it."""
    hold([*TO_A_QUESTION, "stop"])
    assert hold(["y"]).sheet == {"stairs": "yes"}


def test_one_that_was_put_away_is_kept_but_not_offered_again(
    hold: Hold, small: Knowledge
) -> None:
    """'n' starts a new one; the old one's answers stay in its file."""
    first = hold(TO_A_QUESTION)
    hold(["n"])
    third = hold([])
    assert "One was left unfinished" not in third.screen
    assert first.interview.path is not None
    kept = read_sheet(first.interview.path, small)
    assert kept.given() == {"stairs": "yes"}
    assert kept.ended


def test_one_that_came_to_its_end_is_not_offered(hold: Hold) -> None:
    """One that nothing more is tried for is over."""
    first = hold([*TO_A_READING, "5", "0"])
    assert first.interview.consultation.sheet.ended
    assert "One was left unfinished" not in hold([]).screen


def test_words_on_the_command_line_begin_a_new_one(
    hold: Hold, small: Knowledge
) -> None:
    """The unfinished one is mentioned and left as it is; the words are kept."""
    first = hold(TO_A_QUESTION)
    assert first.interview.path is not None
    before = first.interview.path.read_bytes()
    again = hold([], said="blocky edges")
    assert "; to go on with it, start without words." in again.screen
    assert "Go on from there?" not in again.screen
    assert again.screen.endswith("start it again without your words.\n")
    assert again.sheet == {"stairs": "yes"}
    assert again.interview.path not in (None, first.interview.path)
    assert first.interview.path.read_bytes() == before


def test_words_are_kept_before_anything_is_asked(
    small: Knowledge, tmp_path: Path
) -> None:
    """Even words that mean nothing here."""
    kept: list[list[str]] = []

    def read_line(prompt: str) -> str:
        assert interview.path is not None
        kept.append(read_sheet(interview.path, small).said)
        raise EOFError

    console = Console(file=io.StringIO(), width=80)
    interview = Interview(small, tmp_path, console, read_line)
    interview.run("asdf qwer")
    assert kept == [["asdf qwer"]]


def test_one_with_nothing_but_words_shows_them(hold: Hold) -> None:
    hold([], said="asdf qwer")
    assert "  * You wrote: “asdf qwer”\nGo on from there?" in hold([]).screen


@pytest.mark.parametrize("begun", ["9999-12-31T23:59:59-23:59", "0001-01-01", "soon"])
def test_a_moment_that_no_clock_has_stops_nothing(
    hold: Hold, tmp_path: Path, begun: str
) -> None:
    """However the moment was edited by hand."""
    folder = tmp_path / "kept"
    folder.mkdir()
    text = f"answers: {{stairs: yes}}\nbegun: '{begun}'\n"
    (folder / "consultation-2999-01-01-000000-1.yaml").write_text(text)
    assert hold(["y"]).sheet == {"stairs": "yes"}


def _forbidden(path: Path) -> None:
    path.write_text("stage: press\n")
    path.chmod(0)
    if os.access(path, os.R_OK):
        pytest.skip("this user may read everything")


@pytest.mark.parametrize(
    ("make", "reason"),
    [
        (os.mkfifo, "this is not an ordinary file."),
        (lambda path: path.symlink_to("/dev/zero"), "this is not an ordinary file."),
        (lambda path: path.write_bytes(bytes(5_000_000)), "5 MB is too large;"),
        (_forbidden, "the file can't be read: Permission denied."),
    ],
    ids=["fifo", "device", "large", "forbidden"],
)
def test_what_can_not_be_read_is_named_and_passed_over(
    hold: Hold, tmp_path: Path, make: Callable[[Path], object], reason: str
) -> None:
    """Nothing is waited for or read without end; older ones are offered."""
    older = hold(TO_A_QUESTION)
    path = tmp_path / "kept" / "consultation-2999-01-01-000000-1.yaml"
    make(path)
    again = hold(["y"])
    said = "".join(f"One can't be read: {path}: {reason}".split())
    assert said in "".join(again.screen.split())
    assert again.interview.path == older.interview.path


def test_each_fault_of_a_damaged_file_has_its_line(hold: Hold, tmp_path: Path) -> None:
    """And what to do about it."""
    folder = tmp_path / "kept"
    folder.mkdir()
    damaged = folder / "consultation-2999-01-01-000000-1.yaml"
    damaged.write_text("answers:\n  stiars: yes\n  bands: perhaps\n")
    shown = hold([]).screen.split("This one can't be gone on with:\n", 1)[1]
    faults = shown.split("Mend it or delete it; it was left as it is.\n")[0]
    starts = [row for row in faults.splitlines() if row.startswith(f"  {folder}"[:20])]
    assert len(starts) == 2


def test_a_damaged_file_is_named_and_stops_nothing(hold: Hold, tmp_path: Path) -> None:
    """A file that can't be read is reported with its place; older ones are offered."""
    older = hold(TO_A_QUESTION)
    damaged = tmp_path / "kept" / "consultation-2999-01-01-000000-1.yaml"
    damaged.write_text("stage: press\nanswers: [\n")
    again = hold(["y"])
    assert f"can'tbegoneonwith:{damaged}:" in "".join(again.screen.split())
    assert again.interview.path == older.interview.path
    assert damaged.read_text() == "stage: press\nanswers: [\n"


@pytest.mark.parametrize(
    "content",
    [
        b"\xff\xfe\x00broken",
        b"answers: {stairs: maybe}\n",
        b"answers: {no-such-finding: yes}\n",
        b"stage: nowhere\n",
        b"- a\n- list\n",
        b"\x00" * 50,
    ],
)
def test_a_new_one_can_be_started_beside_any_damaged_file(
    hold: Hold, tmp_path: Path, content: bytes
) -> None:
    """Whatever stands in the file, the interview starts."""
    folder = tmp_path / "kept"
    folder.mkdir()
    (folder / "consultation-2999-01-01-000000-1.yaml").write_bytes(content)
    held = hold(TO_A_QUESTION)
    assert held.screen.count("This one can't be gone on with:") == 1
    assert held.sheet == {"stairs": "yes"}


def test_an_empty_file_is_passed_over(hold: Hold, tmp_path: Path) -> None:
    """A start that was killed before the first answer leaves nothing to offer."""
    folder = tmp_path / "kept"
    folder.mkdir()
    (folder / "consultation-2999-01-01-000000-1.yaml").touch()
    screen = hold([]).screen
    assert "unfinished" not in screen
    assert "can't be gone on with" not in screen


def test_no_file_is_made_before_something_is_answered(
    hold: Hold, tmp_path: Path
) -> None:
    """Looking in and leaving again leaves no trace."""
    assert hold(["help", "stop"]).interview.path is None
    assert list((tmp_path / "kept").iterdir()) == []


def test_two_interviews_at_once_never_share_a_file(
    small: Knowledge, tmp_path: Path
) -> None:
    """One that somebody is in is not offered to a second person."""
    inner: list[Interview] = []
    lines = iter(["5"])

    def second_start(prompt: str) -> str:
        line = next(lines, None)
        if line is None:
            other = Interview(small, tmp_path, console, lambda prompt: "stop")
            other.run()
            inner.append(other)
            raise EOFError
        return line

    screen = io.StringIO()
    console = Console(file=screen, width=80)
    Interview(small, tmp_path, console, second_start).run()
    assert inner[0].path is None
    assert "One was left unfinished" not in screen.getvalue()


def test_a_folder_that_cannot_be_used_is_said_at_once(
    small: Knowledge, tmp_path: Path
) -> None:
    """Nobody answers questions that can't be kept."""
    (tmp_path / "kept").write_text("a file, no folder")
    screen = io.StringIO()
    interview = Interview(
        small, tmp_path / "kept", Console(file=screen), lambda prompt: "5"
    )
    with pytest.raises(FolderError, match="consultations can't be kept there"):
        interview.run()
    assert screen.getvalue() == ""


def test_a_disk_that_fails_halfway_still_gives_the_result(
    hold: Hold, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The error is passed on, after the result so far was shown."""
    save, saved = Consultation.save, 0

    def failing(self: Consultation, path: str | os.PathLike[str]) -> None:
        nonlocal saved
        saved += 1
        if saved > 3:
            raise FolderError("the disk is full")
        save(self, path)

    shown: list[bool] = []
    monkeypatch.setattr(Consultation, "save", failing)
    monkeypatch.setattr(Interview, "_show_end", lambda self: shown.append(True))
    with pytest.raises(FolderError, match="the disk is full"):
        hold([*TO_A_QUESTION, "n", "n"])
    assert shown == [True]


@pytest.mark.parametrize("answered", range(7))
def test_control_c_leaves_with_130_and_keeps_the_answers(
    hold: Hold, small: Knowledge, answered: int
) -> None:
    """At any prompt: exit code 130, all kept, and how to go on."""
    held = hold([*TO_A_TOOL[:answered], "^C"])
    assert held.code == 130
    if answered:
        assert held.interview.path is not None
        assert read_sheet(held.interview.path, small).given() == held.sheet
        assert held.screen.endswith("start it again in the same way.\n")


def test_end_of_input_leaves_with_0_and_says_how_to_go_on(hold: Hold) -> None:
    """The end of a pipe, or control-D, is no error."""
    held = hold(TO_A_QUESTION)
    assert held.code == 0
    assert held.screen.endswith(
        "To go on from there, start it again in the same way.\n"
    )


def test_the_folder_can_be_named_by_the_environment(
    monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    """DIAGNOSE_FOLDER comes before the user's own data folder."""
    monkeypatch.setenv("DIAGNOSE_FOLDER", str(tmp_path))
    assert consultations_folder() == tmp_path
    monkeypatch.delenv("DIAGNOSE_FOLDER")
    assert consultations_folder().name == "diagnose"


# the real program, piped


def piped(
    typed_lines: str | bytes, folder: Path, *words: str, **environment: str
) -> subprocess.CompletedProcess[bytes]:
    """Run the program as a person would in a pipe."""
    if isinstance(typed_lines, str):
        typed_lines = typed_lines.encode()
    command = [sys.executable, "-m", "diagnose", *words]
    command += ["--knowledge", str(SMALL), "--keep-in", str(folder)]
    here = {**os.environ, **environment}
    return subprocess.run(
        command,
        input=typed_lines,
        capture_output=True,
        env=here,
        cwd=Path(__file__).parents[1],
        timeout=60,
        check=False,
    )


FULL_RUN = "5\n1\nwhy\nwhere\nn\nn\n?\n?\n?\ny\n5 %\n"


@pytest.mark.parametrize(
    "environment",
    [
        {},
        {"NO_COLOR": "1"},
        {"COLUMNS": "200"},
        {"TERM": "dumb"},
        {"PYTHONIOENCODING": "ascii"},
        {"LC_ALL": "C", "PYTHONUTF8": "0", "PYTHONCOERCECLOCALE": "0"},
    ],
    ids=["plain", "no-color", "wide", "dumb", "ascii", "C"],
)
def test_a_pipe_gets_plain_lines_of_80_columns(
    tmp_path: Path, environment: dict[str, str]
) -> None:
    """No escape codes, no line too wide, no crash, whatever the encoding."""
    environment = {"PYTHONIOENCODING": "utf-8", **environment}
    if "LC_ALL" in environment:
        environment["PYTHONIOENCODING"] = ""
    done = piped(FULL_RUN, tmp_path, **environment)
    assert done.stderr == b""
    assert done.returncode == 0
    screen = done.stdout.decode()
    assert "In short" in screen
    assert "> why\nIt separates " in screen
    assert "\x1b" not in screen
    assert max(map(len, screen.splitlines())) <= 80


def test_without_unicode_everything_is_still_readable(tmp_path: Path) -> None:
    """Quotes, dashes and signs are written in ASCII, not as question marks."""
    done = piped(FULL_RUN, tmp_path, PYTHONIOENCODING="ascii")
    screen = " ".join(done.stdout.decode("ascii").split())
    assert 'This points to the state "stencil too thin", which' in screen
    assert "say ... " in screen
    assert "(Your reading, 5 +/- 2 %, is clearly below 10 %.)" in screen


@pytest.mark.parametrize("encoding", ["utf-8", "ascii", "latin-1"])
def test_bytes_that_are_no_text_do_not_stop_it(tmp_path: Path, encoding: str) -> None:
    """What can't be decoded is read as signs that mean nothing."""
    lines = b"5\n1\n\xff\xfe\xc3\n\x00\x1b[2J\nsay caf\xe9 \xf0\x9f\x96\xa8\nn\nstop\n"
    done = piped(lines, tmp_path, PYTHONIOENCODING=encoding)
    assert done.returncode == 0
    assert done.stderr == b""
    assert b"\x1b" not in done.stdout
    assert b"There are no bands." in done.stdout


def test_the_program_starts_from_text_on_the_command_line(tmp_path: Path) -> None:
    """`diagnose "free text"` goes straight to the questions."""
    done = piped("", tmp_path, "blocky", "edges")
    assert "* The edges look like stairs." in done.stdout.decode()
    assert "Are there bands?" in done.stdout.decode()


# what is typed, by itself


@pytest.mark.parametrize(
    ("line", "command"),
    [
        ("why", "why"),
        ("Why?", "why"),
        ("WHERE", "where"),
        ("back.", "back"),
        ("quit", "stop"),
        ("help!", "help"),
        ("why not", None),
        ("stopper", None),
        ("", None),
    ],
)
def test_commands_are_known_however_they_are_written(
    line: str, command: str | None
) -> None:
    """Case and marks at the end don't matter; more words make it no command."""
    assert typed.command(line) == command


@given(st.text(max_size=300))
def test_one_line_is_printable_and_single_spaced(text: str) -> None:
    """Whatever is typed, what goes on is one line that can be printed and kept."""
    line = typed.one_line(text)
    assert line.isprintable()
    assert "  " not in line
    assert line == typed.one_line(line)
    assert line.encode().decode() == line


@given(
    st.lists(st.integers(0, 9999), min_size=1), st.sampled_from([" ", ",", ", ", "+"])
)
def test_numbers_are_read_back(picked: list[int], between: str) -> None:
    """Numbers written in a row are those numbers."""
    assert typed.numbers(between.join(map(str, picked))) == picked


@given(st.text(max_size=30))
def test_a_choice_never_guesses(text: str) -> None:
    """What is chosen is named by the line: its number, or words of its name."""
    named = {"a": ["one coat"], "b": ["two coats"], "c": ["no coat at all"]}
    found = typed.chosen(text, named)
    if found is not None:
        number = str(list(named).index(found) + 1)
        low = typed.folded(text)
        name = named[found][0]
        assert (
            typed.numbers(text) == [int(number)]
            or name.startswith(low)
            or set(low.split()) <= set(name.split())
        )


def test_a_choice_is_not_made_where_two_would_fit() -> None:
    """'coats' alone could be either; nothing is chosen."""
    named = {"a": ["one coat"], "b": ["two coats"], "c": ["three coats"]}
    assert typed.chosen("coats", named) is None
    assert typed.chosen("three", named) == "c"
    assert typed.chosen("1 2", named) is None


YES_NO = Question("x", "finding", "?", "", "", {"yes": "", "no": "", "somewhat": ""}, 1)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.text(max_size=20))
def test_a_yes_no_question_takes_nothing_else(text: str) -> None:
    """Only what means yes, no, somewhat or don't know is an answer."""
    value = typed.value(YES_NO, text)
    low = typed.folded(text)
    assert (value is not None) == (low in typed.SPOKEN or low in typed.NOT_KNOWN)
