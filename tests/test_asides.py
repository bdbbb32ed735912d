"""What is shown when someone asks back: why, why not, how, change, what if."""

from __future__ import annotations

import io

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.console import Console

from diagnose import Consultation, typed
from diagnose.asides import (
    find_cause,
    show_change,
    show_how,
    show_what_if,
    show_why,
    show_why_not,
)
from diagnose.records import Knowledge


def page() -> tuple[Console, io.StringIO]:
    """A console that writes into a text."""
    file = io.StringIO()
    made = Console(file=file, width=80, highlight=False, markup=False, emoji=False)
    return made, file


def consulted(knowledge: Knowledge, **answers: str) -> Consultation:
    """A consultation with these answers; _ stands for - in the names."""
    consultation = Consultation(knowledge)
    for finding, value in answers.items():
        consultation.answer(finding.replace("_", "-"), value)
    return consultation


def why(consultation: Consultation, finding: str) -> str:
    console, file = page()
    show_why(console, consultation, consultation.question(finding))
    return file.getvalue()


def why_not(consultation: Consultation, words: str) -> str:
    console, file = page()
    show_why_not(console, consultation, words)
    return file.getvalue()


WHY = """\
It separates “too few coats” (now 63 %) from “slack mesh” (now 19 %) and “nicked
trough” (now 5 %).
It would make them, in that order:
  * yes: 13 %, 59 %, 17 %. The thickness shows.
  * no: 77 %, 7 %, 1 %.
"""

WHY_NOT = """\
“slack mesh” comes as number 3 with 7 %; “too few coats” leads with 77 %.
  The mesh is slack.
  What speaks against it:
  - There are no bands. With “coat uneven” it is usually otherwise.
  What would raise it most:
  + The mesh gives. (would bring it to 44 %; 13 % likely)
  To tell it from the first: Count.
"""

RULED_OUT = """\
“too few coats” is ruled out. No trough touched it.
  It rests on: It is film. ('back' changes it)
  One coat only.
"""

CHANGE = """\
“too few coats” leads with 63 %. What would put another cause first:
  * There are bands. Then “slack mesh” leads with 59 %. That answer is 22 %
    likely.
    It is asked as: Are there bands?
  * The stencil measures thick enough. Then “something that this knowledge does
    not cover” leads with 63 %. That answer is 24 % likely.
    It is asked as: Is it thin?
"""

HOW = """\
How we got to “too few coats” (77 %):
   + The edges look like stairs.
     This points to the state “stencil too thin”, which often shows like this.
     The threads shape the edge.
     That points to the cause “too few coats”, which almost always leads to it.
     One coat is thin.
   Hardly moved it: There are no bands.
   “Don't know” counts for nothing, here once.
"""

WHAT_IF = """\
If so (a look ahead; nothing is answered by it):
     now    then
    19 %    59 % ######.... slack mesh
    19 %    22 % ##........ something that this knowledge does not cover
     5 %    17 % ##........ nicked trough
    63 %    13 % #......... too few coats
"""


def test_why_says_what_a_question_separates(small: Knowledge) -> None:
    """The causes on each side, and what each answer would make of them."""
    assert why(consulted(small, stairs="yes"), "bands") == WHY


def test_why_of_a_reading_has_its_sides(small: Knowledge) -> None:
    """An answer for each side of the limit."""
    shown = why(consulted(small, stairs="yes"), "thickness")
    assert "\n  * below 10 %: " in shown
    assert "\n  * above 10 %: " in shown


def test_why_where_nothing_moves(small: Knowledge) -> None:
    """It says so, and lists nothing."""
    shown = why(consulted(small, stairs="yes"), "stairs")
    assert len(shown) > 20
    assert why(consulted(small, coats="two"), "nick-felt").startswith(("By", "It"))


def test_why_not_says_what_speaks_against_it(small: Knowledge) -> None:
    """Place, chances, objections, what would raise it, and how to tell it apart."""
    consultation = consulted(small, stairs="yes", bands="no")
    assert why_not(consultation, "slack") == WHY_NOT
    assert why_not(consultation, "3") == WHY_NOT


def test_why_not_of_a_cause_that_is_ruled_out(small: Knowledge) -> None:
    """The rule, and the answer that it rests on."""
    consultation = consulted(small, stairs="yes", stencil="film")
    assert why_not(consultation, "few coats") == RULED_OUT


def test_why_not_of_the_first_and_of_none(small: Knowledge) -> None:
    consultation = consulted(small, stairs="yes")
    assert why_not(consultation, "1").startswith(
        "“too few coats” is the first, with 63 %.\n"
    )
    assert "nothing said so far points to it" in why_not(
        consulted(small, coats="one"), "nick"
    ).replace("\n", " ")
    unknown = why_not(consultation, "purple hat").replace("\n", " ")
    assert unknown.startswith("No cause here is called 'purple hat'.")
    assert why_not(consultation, "9").startswith("No cause here is called '9'.")
    assert why_not(Consultation(small), "1").startswith("Nothing has been said yet")


@pytest.mark.parametrize(
    ("words", "cause"),
    [
        ("1", "few-coats"),
        ("too few coats", "few-coats"),
        ("Slack.", "slack"),
        ("nick", "nick"),
        ("nicked troughs", "nick"),
        ("few-coats", "few-coats"),
        ("not-covered", "not-covered"),
        ("", None),
        ("7", None),
        ("zebra", None),
    ],
)
def test_a_cause_is_found_by_place_name_id_or_near_words(
    small: Knowledge, words: str, cause: str | None
) -> None:
    assert find_cause(consulted(small, stairs="yes"), words) == cause


def test_change_says_what_would_put_another_first(small: Knowledge) -> None:
    """The answers, how likely each is, and what they are asked as."""
    console, file = page()
    show_change(console, consulted(small, stairs="yes"))
    assert file.getvalue() == CHANGE


def test_change_where_nothing_would(small: Knowledge) -> None:
    console, file = page()
    sure = consulted(small, stairs="yes", bands="no", coats="one", thickness="3")
    for finding in ("gives", "nick-felt", "stencil"):
        sure.answer(finding, "don't know")
    show_change(console, sure)
    show_change(console, Consultation(small))
    shown = file.getvalue().replace("\n", " ")
    assert "No single answer that is still open would put another first." in shown
    assert "Nothing has been said yet of what went wrong." in shown


def test_how_tells_the_trail_in_sentences(small: Knowledge) -> None:
    """From the answers to the leading cause, and what hardly counted."""
    consultation = consulted(small, stairs="yes", bands="no", gives="don't know")
    console, file = page()
    show_how(console, consultation)
    assert file.getvalue() == HOW


def test_what_if_shows_the_standing_before_and_after(small: Knowledge) -> None:
    now = consulted(small, stairs="yes")
    console, file = page()
    show_what_if(console, now, now.what_if("bands", "yes"))
    assert file.getvalue() == WHAT_IF


def test_what_if_says_what_would_be_out_or_at_odds(small: Knowledge) -> None:
    """A cause that a rule would exclude, and answers that would not go together."""
    now = consulted(small, coats="one")
    console, file = page()
    show_what_if(console, now, now.what_if("stencil", "film"))
    assert "   out .......... too few coats\n" in file.getvalue()
    show_what_if(console, now, now.what_if("gives", "yes"))
    assert "At odds then: Both can't be." in file.getvalue()


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("why not 2", ("why not", "2")),
        ("Why not slack mesh?", ("why not", "slack mesh?")),
        ("why not", ("why not", "")),
        ("WHAT IF yes", ("what if", "yes")),
        ("what if: y n", ("what if", "y n")),
        ("why 2", ("why", "2")),
        ("why", None),
        ("why 2 3", None),
        ("why is it so", None),
        ("whatif", None),
        ("what", None),
        ("", None),
    ],
)
def test_what_is_asked_back_is_known_by_its_words(
    line: str, found: tuple[str, str] | None
) -> None:
    assert typed.aside(line) == found


@given(st.text(max_size=60))
def test_any_line_is_an_aside_or_none(text: str) -> None:
    """Whatever is typed, nothing breaks; a plain 'why' has one number behind it."""
    found = typed.aside(typed.one_line(text))
    if found is not None and found[0] == "why":
        assert len(typed.numbers(found[1])) == 1


@settings(
    max_examples=4,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(st.data())
def test_all_of_it_fits_the_screen_on_the_built_in_knowledge(
    built_in: Knowledge, data: st.DataObject
) -> None:
    """No line is too wide and nothing breaks, whatever was answered."""
    consultation = Consultation(built_in)
    signs = consultation.opening_signs()
    for sign in data.draw(
        st.lists(st.sampled_from([sign.id for sign in signs]), min_size=1, max_size=3)
    ):
        consultation.answer(sign, "yes")
    console, file = page()
    question = consultation.next_question()
    if question is not None:
        show_why(console, consultation, question)
    place = data.draw(st.integers(1, len(consultation.chances())))
    show_why_not(console, consultation, str(place))
    cause = data.draw(st.sampled_from(sorted(built_in.causes)))
    show_why_not(console, consultation, cause)
    show_change(console, consultation)
    show_how(console, consultation)
    assert all(cell_len(row) <= 80 for row in file.getvalue().splitlines())
