"""After the result: what was tried, whether it worked, and what follows from that."""

from __future__ import annotations

import io
from pathlib import Path

import pytest
from held import TO_A_QUESTION, TO_A_READING, Hold
from rich.console import Console

from diagnose import AnswerError, Consultation
from diagnose.records import Knowledge
from diagnose.sheets import NOT_YET, read_sheet
from diagnose.terminal import Interview

TO_THE_PLAN = [*TO_A_READING, "5"]
"""Everything is answered; what was tried is asked. Fix 2 is 'Coat again'."""


def test_the_fixes_to_choose_from_have_the_numbers_of_the_plan(hold: Hold) -> None:
    """Numbered through, and named as they are there."""
    held = hold(TO_THE_PLAN)
    listed = held.screen[held.screen.index("What did you try?") :].splitlines()[1:]
    names = [row[4:] for row in listed if row[:3].strip() in {"1", "2", "3", "4"}]
    assert len(names) == 3
    for number, name in enumerate(names, 1):
        assert f"\n  {number}. {name} [" in held.screen


def test_a_fix_that_worked_confirms_its_cause(hold: Hold, small: Knowledge) -> None:
    """The end says which cause it was, and first how to keep it from coming back."""
    held = hold([*TO_THE_PLAN, "2", "y"])
    assert held.code == 0
    end = held.screen[held.screen.index("\nMended\n") :]
    assert "“Coat again” helped.\nThe cause is taken as confirmed: too few coats" in end
    assert "Stop it coming back (what to change in the shop)" in end
    assert "  1. Write the coats on the wall" in end
    assert "Remake the screen" not in end
    assert held.interview.path is not None
    kept = read_sheet(held.interview.path, small)
    assert kept.tried == {"coat-again": "yes"}
    assert kept.ended
    assert "unfinished" not in hold([]).screen


def test_a_fix_of_the_run_that_worked_leaves_the_screen_to_be_remade(
    hold: Hold,
) -> None:
    """What keeps it from coming back is first, then the next screen."""
    held = hold([*TO_THE_PLAN, "1", "yes"])
    end = held.screen[held.screen.index("\nMended\n") :]
    assert end.index("Stop it coming back") < end.index("Remake the screen")
    assert "Save this run" not in end


def test_a_fix_that_failed_is_evidence_and_the_plan_is_made_anew(hold: Hold) -> None:
    """It is out of the plan, its cause is less likely, and it is asked on."""
    held = hold([*TO_THE_PLAN, "coat again", "n"])
    assert held.interview.consultation.sheet.tried == {"coat-again": "no"}
    assert held.screen.count("\nDid it work? “Coat again”\n") == 1
    again = held.screen[held.screen.index("Noted: “Coat again” did not help.") :]
    assert "So far: " in again
    assert "What to do\n----------" in again
    assert "What is most likely wrong" not in again
    assert "Coat again" not in again[again.index("What to do") :]
    assert "What did you try?" in again


def test_after_a_fix_that_failed_questions_may_be_worth_asking_again(
    hold: Hold, small: Knowledge
) -> None:
    """What was settled is open again, and is asked about."""
    held = hold([*TO_A_QUESTION, "say thickness 3 %", "n", "2", "n"])
    again = held.screen[held.screen.index("did not help.") :]
    assert "\nQuestion 2  " in again
    assert not held.interview.consultation.sheet.ended


def test_an_outcome_that_is_not_known_yet_is_asked_first_next_time(
    hold: Hold, small: Knowledge
) -> None:
    """It is kept; the next start asks for the outcome before anything else."""
    held = hold([*TO_THE_PLAN, "2", "not yet"])
    assert held.code == 0
    assert "It is kept. The next start asks how it went." in held.screen
    assert held.interview.consultation.sheet.tried == {"coat-again": NOT_YET}
    again = hold(["y", "y"])
    assert "  * Taken up: Coat again.\n" in again.screen
    shown = again.screen[again.screen.index("> y\n") :]
    assert shown.startswith("> y\n\nDid it work? “Coat again”\n")
    assert again.interview.path == held.interview.path
    assert "\nMended\n" in shown


@pytest.mark.parametrize("line", ["?", "not yet", "Nothing yet.", "later"])
def test_who_has_tried_nothing_yet_is_asked_again_next_time(
    hold: Hold, line: str
) -> None:
    """The result is shown again then, and the same is asked."""
    held = hold([*TO_THE_PLAN, line])
    assert held.screen.endswith("start it again in the same way.\n")
    again = hold(["y"])
    assert "In short" in again.screen
    assert "What did you try?" in again.screen


@pytest.mark.parametrize("line", ["0", "none", "none of these"])
def test_who_tries_nothing_more_is_not_asked_again(hold: Hold, line: str) -> None:
    """It is put away."""
    held = hold([*TO_THE_PLAN, line])
    assert held.interview.consultation.sheet.ended
    assert "Mended" not in held.screen
    assert "unfinished" not in hold([]).screen


def test_back_takes_back_that_it_was_tried(hold: Hold, small: Knowledge) -> None:
    """A wrong number does no harm."""
    held = hold([*TO_THE_PLAN, "2", "back"])
    assert "Then it counts as not tried." in held.screen
    assert held.interview.path is not None
    assert read_sheet(held.interview.path, small).tried == {}
    assert held.screen.count("What did you try?") == 2


def test_when_all_was_tried_it_ends(hold: Hold) -> None:
    """No fix is left, so nothing is asked."""
    held = hold([*TO_THE_PLAN, *["1", "n"] * 5])
    assert held.interview.consultation.sheet.ended
    assert set(held.interview.consultation.sheet.tried.values()) == {"no"}
    assert "\nNothing more is known to try.\n" in held.screen


def test_stop_after_the_result_does_not_show_it_again(hold: Hold) -> None:
    """It has just been read."""
    held = hold([*TO_THE_PLAN, "stop"])
    assert held.screen.count("\nIn short\n") == 1
    assert held.screen.endswith("start it again in the same way.\n")


def test_what_if_it_worked_is_shown_before_it_is_said(hold: Hold) -> None:
    """The standing before and after; nothing is kept of it."""
    held = hold([*TO_THE_PLAN, "2", "what if no"])
    assert "   now    then\n" in held.after("what if no")
    assert held.interview.consultation.sheet.tried == {"coat-again": NOT_YET}


def test_every_outcome_is_on_disk_before_the_next_prompt(
    small: Knowledge, tmp_path: Path
) -> None:
    """Also that a fix was taken up."""
    lines = iter([*TO_THE_PLAN, "2", "n", "1", "back", "1", "not yet"])

    def read_line(prompt: str) -> str:
        if interview.path is not None:
            kept = read_sheet(interview.path, small)
            assert kept == interview.consultation.sheet
        return next(lines)

    console = Console(file=io.StringIO(), width=80)
    interview = Interview(small, tmp_path, console, read_line)
    assert interview.run() == 0
    assert interview.consultation.sheet.tried == {"coat-again": "no", "go-on": NOT_YET}


# the library


def consulted(knowledge: Knowledge) -> Consultation:
    consultation = Consultation(knowledge)
    consultation.answer("stairs", "yes")
    return consultation


def test_a_fix_that_worked_speaks_for_its_causes(small: Knowledge) -> None:
    """Each set of causes is weighed by the chance that the fault is gone after it."""
    before, after = consulted(small), consulted(small)
    after.tried("new-screen", True)
    old, new = dict(before.look.weighed.sets(99)), dict(after.look.weighed.sets(99))
    cured = {"slack": 0.91, "nick": 0.28}
    factors = {
        names: 1 - 0.95 * (1 - sum(cured.get(n, 0.0) for n in names) / len(names))
        for names in old
    }
    total = sum(old[names] * factors[names] for names in old)
    for names in old:
        assert new[names] == pytest.approx(old[names] * factors[names] / total)
    assert [cause for cause, _, _ in after.confirmed()] == ["slack", "nick"]
    assert before.confirmed() == []


def test_a_fix_for_nothing_on_the_table_does_no_harm(small: Knowledge) -> None:
    """It changes no chance, as the fault went away by itself."""
    before, after = Consultation(small), Consultation(small)
    for one in (before, after):
        one.answer("coats", "one")
    after.tried("new-screen", True)
    assert after.look.chances == pytest.approx(before.look.chances)
    assert after.confirmed() == []


def test_a_fix_whose_outcome_is_open_changes_nothing(small: Knowledge) -> None:
    """It can be said, and taken back."""
    before, after = consulted(small), consulted(small)
    after.tried("coat-again", None)
    assert after.sheet.tried == {"coat-again": NOT_YET}
    assert after.chances() == before.chances()
    assert after.plan() == before.plan()
    after.not_tried("coat-again")
    assert after.sheet == before.sheet
    with pytest.raises(AnswerError, match="'coat-again' was not tried"):
        after.not_tried("coat-again")
