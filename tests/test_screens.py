"""What is shown: the result, the trail in sentences, and the same as data."""

from __future__ import annotations

import io
import json
import random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from rich.cells import cell_len
from rich.console import Console

from diagnose import Consultation
from diagnose.network import NOT_COVERED
from diagnose.records import Knowledge
from diagnose.result import result
from diagnose.screens import (
    bar,
    bullet,
    heading,
    line,
    new_console,
    percent,
    printable,
    shortened,
    show_result,
    show_short,
    show_standing,
    show_understood,
    show_where,
    time_it_takes,
)
from diagnose.words import Heard, Understood


def console(width: int = 80) -> tuple[Console, io.StringIO]:
    """A console that writes into a text."""
    file = io.StringIO()
    made = Console(file=file, width=width, highlight=False, markup=False, emoji=False)
    return made, file


def consulted(knowledge: Knowledge, **answers: str) -> Consultation:
    """A consultation with these answers; _ stands for - in the names."""
    consultation = Consultation(knowledge)
    for finding, value in answers.items():
        consultation.answer(finding.replace("_", "-"), value)
    return consultation


def shown(consultation: Consultation, *, brief: bool = False) -> str:
    """The whole result as text."""
    made, file = console()
    show_result(made, consultation, brief=brief)
    return file.getvalue()


def at_random(knowledge: Knowledge, seed: int, most: int = 12) -> Consultation:
    """A consultation with answers drawn at random, readings among them."""
    chance = random.Random(seed)
    consultation = Consultation(knowledge)
    for id in chance.sample(sorted(knowledge.recorded()), most):
        finding = knowledge.findings[id]
        if finding.kind == "reading":
            low, high = finding.lowest or 0.0, finding.highest or 0.0
            consultation.answer(id, f"{chance.uniform(low, high):.2f}")
        else:
            values = [*finding.values(), "don't know"]
            values += ["somewhat"] * (finding.kind == "yes-no")
            consultation.answer(id, chance.choice(values))
    return consultation


RESULT = """\
Important: Stop now.

What is most likely wrong
-------------------------

1. too few coats   89 % #########.
   One coat only.
   For it:
   + The edges look like stairs.
     This points to the state “stencil too thin”, which often shows like this.
     The threads shape the edge.
     That points to the cause “too few coats”, which almost always leads to it.
     One coat is thin.
   + The stencil measures thin. (Your reading, 5 ± 2 %, is clearly below 10 %.)
     Under ten per cent is thin.
     This points to the state “stencil too thin”, which almost always shows like
     this. That is what thin means.
     From there it leads on as above.
   + One coat was put on.
     This points to the cause “too few coats”, which usually goes with it. It is
     what was done.
   Against it:
   - “Coat again” was tried and did not help.
   To settle it: Count the coats.

2. slack mesh   17 % ##........
   The mesh is slack.
   For it:
   + The edges look like stairs.
     This points to the state “stencil too thin”, which often shows like this.
     The threads shape the edge.
     That may point to the state “coat uneven”, which sometimes leads to it. The
     thin part is thin.
     That points to the cause “slack mesh”, which often leads to it. Slack mesh
     bellies.
   + The stencil measures thin. (Your reading, 5 ± 2 %, is clearly below 10 %.)
     Under ten per cent is thin.
     This points to the state “stencil too thin”, which almost always shows like
     this. That is what thin means.
     From there it leads on as above.
   + Somewhat: The mesh gives.
     This points to the cause “slack mesh”, which usually shows like this. It
     gives.
   + More likely: It may be slack.
   Against it:
   - There are no bands. With “coat uneven” it is usually otherwise.
   To settle it: Press it.

Less likely:
     6 % something that this knowledge does not cover
     1 % nicked trough

Two causes can be there at once, so the chances overlap.

Answers that do not go together
-------------------------------
  * Both can't be.

Still unexplained
-----------------
  * The mesh gives.
  The likeliest causes do not account for it; a second may.

What to do
----------

Save this run (what can be done with this screen, now)
  1. Print on with less pressure [28 % to help, about 2 min]
     Less pressure.
     Why: It spares the stencil.
     It worked when: It looks well.

Remake the screen (how to make the next one so that it holds)
  2. Take another screen [16 % to help, about 10 min]
     Take one.
     Why: It is tight.
     It worked when: It is tight.

Stop it coming back (what to change in the shop)
  3. Write the coats on the wall [57 % to help, about 5 min]
     Write it.
     Why: Then all know.
     It worked when: All do it.

Take care
---------
  ! The lamp. It harms eyes. Do not look in. The manual decides.
"""

SHORT = """\

In short
--------
Most likely:         too few coats (89 %)
Or else:             slack mesh (17 %)
Save this run:       Print on with less pressure [28 % to help, about 2 min]
Remake the screen:   Take another screen [16 % to help, about 10 min]
Stop it coming back: Write the coats on the wall [57 % to help, about 5 min]
Take care:           the lamp
Important:           Stop now.
"""

WHERE = """\
So far:   89 % #########. too few coats
          17 % ##........ slack mesh
           6 % #......... something that this knowledge does not cover
           1 % .......... nicked trough
For the first: The edges look like stairs. The stencil measures thin. (Your
               reading, 5 ± 2 %, is clearly below 10 %.) One coat was put on.
Unexplained: The mesh gives.
At odds: Both can't be.
To do now: Print on with less pressure [28 % to help, about 2 min]
"""


def test_several_fixes_come_with_the_minutes_until_it_is_mended(
    small: Knowledge,
) -> None:
    """Where there is more than one; what is to change in the shop has none."""
    plan = shown(consulted(small, stairs="yes", bands="yes"))
    remake = plan[plan.index("Remake the screen") :]
    assert remake.splitlines()[1] == (
        "  One after the other: about 18 min on average until it is mended or all are"
    )
    assert plan.count("One after the other") == 1


@pytest.fixture
def thin(small: Knowledge) -> Consultation:
    """A consultation that has something of everything."""
    consultation = consulted(
        small, stairs="yes", coats="one", thickness="5 %", bands="no", gives="somewhat"
    )
    consultation.tried("coat-again", False)
    return consultation


def test_the_result_reads_like_this(thin: Consultation) -> None:
    """Causes, trails, against, contradictions, unexplained, plan, cautions."""
    assert shown(thin) == RESULT


def test_the_short_of_it_reads_like_this(thin: Consultation) -> None:
    """The causes in front, the first fix for each moment, and what to beware of."""
    made, file = console()
    show_short(made, thin)
    assert file.getvalue() == SHORT


def test_where_we_stand_reads_like_this(thin: Consultation) -> None:
    """Half a screen: the standing, the reasons in brief, and what to do now."""
    made, file = console()
    show_where(made, thin)
    assert file.getvalue() == WHERE


def test_causes_ruled_out_for_one_reason_stand_together(small: Knowledge) -> None:
    """The reason is given once, behind the names."""
    consultation = consulted(small, stairs="yes", bands="yes", stencil="film")
    text = " ".join(shown(consultation).split())
    assert "Ruled out --------- * too few coats; nicked trough. No trough" in text


def test_a_pair_of_causes_is_shown_where_it_is_likely(small: Knowledge) -> None:
    """Where two faults together explain it best, the screen says so."""
    consultation = consulted(
        small, stairs="yes", coats="one", thickness="4", bands="yes", nick_felt="yes"
    )
    pairs = [c for c, p in consultation.ranking().together if p >= 0.1]
    assert ("few-coats", "nick") in pairs
    assert "both too few coats and nicked trough" in shown(consultation)


def test_with_nothing_said_it_claims_nothing(small: Knowledge) -> None:
    """Only what is not covered stands, with nothing for it or against it."""
    made, file = console()
    show_where(made, Consultation(small))
    assert file.getvalue() == "Nothing has been said yet of what went wrong.\n"
    causes = Consultation(small).ranking().causes
    assert [cause.cause for cause in causes] == [NOT_COVERED]
    assert not causes[0].trails
    assert not causes[0].objections


@pytest.mark.parametrize(
    ("reading", "says"),
    [
        ("5", "Your reading, 5 ± 2 %, is clearly below 10 %."),
        ("8", "Your reading, 8 ± 2 %, is probably below 10 %."),
        ("9.9", "Your reading, 9.9 ± 2 %, is about at the edge of 10 %"),
        ("10.1", "Your reading, 10.1 ± 2 %, is about at the edge of 10 %"),
        ("12", "Your reading, 12 ± 2 %, is probably not below 10 %."),
        ("30", "Your reading, 30 ± 2 %, is clearly not below 10 %."),
    ],
)
def test_a_reading_is_told_with_its_limit_and_how_sure_it_is(
    small: Knowledge, reading: str, says: str
) -> None:
    """The number, its doubt, the limit, and how far it is on one side of it."""
    consultation = consulted(small, stairs="yes", thickness=reading)
    cause = consultation.ranking().causes
    told = [v.says for c in cause for v in (*c.speaks_for, *c.speaks_against)]
    told = [text for text in told if "Your reading" in text]
    side = "thick enough" if "not below" in says else "thin"
    if abs(float(reading) - 10) >= 1:
        assert told[0] == f"The stencil measures {side}. ({says})"
    else:
        assert told == []  # so near the limit that it moves nothing worth telling


# the trail holds for the whole knowledge


def test_every_trail_leads_from_the_answer_to_the_cause(built_in: Knowledge) -> None:
    """Each step starts where the one before ended, and the last one is the cause."""
    trails = 0
    for seed in range(12):
        consultation = at_random(built_in, seed)
        for cause in consultation.ranking().causes:
            for voice, told in zip(cause.speaks_for, cause.trails, strict=True):
                ends = [voice.finding, *(link.owner for link in voice.way)]
                starts = [link.target for link in voice.way]
                assert ends[:-1] == starts
                assert ends[-1] == cause.cause
                assert told[0].startswith(voice.says)
                assert told[-1].endswith(voice.way[-1].because)
                assert f"the cause “{cause.name}”" in told[-1]
                trails += 1
    assert trails > 100


def test_every_trail_is_made_of_sentences(built_in: Knowledge) -> None:
    """Each step starts with a capital and ends with a mark."""
    for seed in range(12):
        for cause in at_random(built_in, seed).ranking().causes:
            for step in [text for told in cause.trails for text in told]:
                assert step[0].isupper() or not step[0].isalpha(), step
                assert step.rstrip("”)")[-1] in ".!?", step


def test_what_speaks_against_says_what_would_be_expected(built_in: Knowledge) -> None:
    """An objection names the state or the cause that should have shown otherwise."""
    objections = 0
    for seed in range(12):
        consultation = at_random(built_in, seed)
        for cause in consultation.ranking().causes:
            for voice, says in zip(
                cause.speaks_against, cause.objections, strict=False
            ):
                assert says.startswith(voice.says)
                if voice.way:
                    strength = voice.way[0].strength
                    assert says.endswith(f"” it is {strength} otherwise.")
                    objections += 1
    assert objections > 20


def test_rules_that_make_a_cause_less_likely_speak_against_it(
    built_in: Knowledge,
) -> None:
    """What lowers the odds stands under 'against', what raises them under 'for'."""
    up, down = 0, 0
    for rule in built_in.rules.values():
        for weigh in rule.then.weigh:
            consultation = Consultation(built_in)
            for finding, value in rule.fires_on.items():
                consultation.answer(finding, value)
            for cause in consultation.ranking().causes:
                if cause.cause not in weigh.causes:
                    continue
                raises = built_in.scales.weights[weigh.how_much] > 1
                here = cause.weighed if raises else cause.objections
                there = cause.objections if raises else cause.weighed
                says = f"{weigh.how_much.capitalize()}: {rule.because}"
                assert says in here
                assert says not in there
                up, down = up + raises, down + (not raises)
    assert up + down > 0


@pytest.mark.parametrize("seed", range(6))
def test_the_screens_of_any_consultation_fit(built_in: Knowledge, seed: int) -> None:
    """80 columns, nothing that steers a terminal, the short of it on one screen."""
    consultation = at_random(built_in, seed)
    made, file = console()
    show_short(made, consultation)
    short = file.getvalue()
    show_where(made, consultation)
    where = file.getvalue()[len(short) :]
    for text in (shown(consultation), short, where):
        assert all(cell_len(row) <= 80 for row in text.splitlines())
        assert all(sign.isprintable() or sign == "\n" for sign in text)
    if not consultation.ranking().tells:
        assert len(short.splitlines()) <= 22
    assert len(where.splitlines()) <= 30


def test_in_brief_it_spells_out_less_and_names_the_same_causes(
    built_in: Knowledge,
) -> None:
    """The brief result is shorter, and differs in the plan and the cautions only."""
    consultation = consulted(
        built_in, washes_away="yes", squeegee_side_slimy="yes", wedge_step="3"
    )
    full, brief = shown(consultation), shown(consultation, brief=True)
    assert len(brief.splitlines()) < len(full.splitlines())
    start, end = "What is most likely wrong", "What to do"
    assert (
        brief[brief.index(start) : brief.index(end)]
        == full[full.index(start) : full.index(end)]
    )


# the same as data


KEYS = {
    "causes": {"cause", "name", "probability", "because", "against", "settled_by"},
    "suspected_states": {"state", "name", "probability", "by"},
    "ruled_out": {"cause", "name", "because", "by"},
    "unexplained": {"finding", "value", "says"},
    "contradictions": set(),
    "tell_at_once": set(),
    "understood": {"heard", "unclear", "twofold", "maybe", "left"},
    "next_question": {"id", "kind", "question", "how", "takes", "unit", "minutes"},
    "nothing_to_ask": set(),
    "plan": {"save-run", "remake", "prevent"},
    "cautions": {"caution", "name", "danger", "do", "ask"},
}


def test_the_keys_of_the_result_are_pinned(small: Knowledge) -> None:
    """Other programs read it: no key goes, and none comes unseen."""
    consultation = consulted(
        small, stairs="yes", bands="yes", stencil="film", nick_felt="yes"
    )
    made = result(consultation, None)
    other = result(consulted(small, stairs="yes"), None)
    made["cautions"] = other["cautions"]
    assert set(made) == set(KEYS)
    for name, keys in KEYS.items():
        value = made[name]
        if isinstance(value, dict):
            assert set(value) == keys, name
        elif keys:
            assert value, name
            assert all(set(one) == keys for one in value), name
    fix = other["plan"]["prevent"][0]
    assert set(fix) == {
        *("fix", "name", "chance", "minutes", "how", "in_numbers", "why"),
        "worked_when",
        *("materials", "for_causes", "cautions"),
    }
    assert json.loads(json.dumps(made)) == made


def test_the_data_tell_the_same_reasons_as_the_screen(thin: Consultation) -> None:
    """Each 'because' is a whole trail in one paragraph, 'against' every objection."""
    first = result(thin, None)["causes"][0]
    assert first["because"][0] == (
        "The edges look like stairs. This points to the state “stencil too thin”, "
        "which often shows like this. The threads shape the edge. That points to the "
        "cause “too few coats”, which almost always leads to it. One coat is thin."
    )
    assert first["against"] == ["“Coat again” was tried and did not help."]


# the parts


@given(st.floats(0, 1))
def test_a_chance_is_never_shown_as_none_or_all(chance: float) -> None:
    """0 % and 100 % are never claimed, and the figure is right to half a per cent."""
    says = percent(chance)
    assert says not in ("0 %", "100 %")
    if 0.01 <= chance <= 0.99:
        assert abs(float(says.removesuffix(" %")) - chance * 100) <= 0.5 + 1e-9
    else:
        assert says in ("<1 %", ">99 %")


@given(st.floats(0, 1))
def test_a_bar_is_of_ten_plain_signs(chance: float) -> None:
    """As many are full as there are tenths, rounded."""
    made = bar(chance)
    assert len(made) == 10
    assert made == made.encode("ascii").decode()
    assert abs(made.count("#") - chance * 10) <= 0.5


@pytest.mark.parametrize(
    ("minutes", "says"),
    [
        (0, "a glance"),
        (1, "about 1 min"),
        (45, "about 45 min"),
        (119, "about 119 min"),
        (120, "about 2 hours"),
        (1440, "about 24 hours"),
    ],
)
def test_minutes_are_told_in_words(minutes: float, says: str) -> None:
    """A glance, minutes, or hours."""
    assert time_it_takes(minutes) == says


signs = st.text(
    st.characters(exclude_categories=["Cs"])
    | st.sampled_from("  \n\t\x1b\u202e👩‍🏭漢字שלום“”…"),
    max_size=200,
)


@given(signs, st.integers(30, 120), st.integers(0, 8))
def test_no_text_makes_a_line_too_wide_or_loses_a_sign(
    text: str, width: int, indent: int
) -> None:
    """Any text is wrapped within the width, and all that can be seen of it is there."""
    seen = "".join(printable(text).split())
    made, file = console(width)
    line(made, text, indent)
    told, other = console(width)
    bullet(told, "*", text, indent)
    rows = [*file.getvalue().splitlines(), *other.getvalue().splitlines()]
    assert all(cell_len(row) <= width for row in rows)
    assert all(sign.isprintable() for row in rows for sign in row)
    assert "".join(file.getvalue().split()) == seen
    assert "".join(other.getvalue().split()) == f"*{seen}"


def test_a_heading_is_one_without_any_style() -> None:
    """It is underlined with dashes."""
    made, file = console()
    heading(made, "What to do")
    assert file.getvalue() == "\nWhat to do\n----------\n"


def test_a_standing_leaves_out_what_is_hardly_possible() -> None:
    """Three lines at most, and none for less than one in a hundred."""
    made, file = console()
    show_standing(made, [("a", "one", 0.9), ("b", "two", 0.1), ("c", "three", 0.009)])
    assert file.getvalue() == (
        "So far:   90 % #########. one\n          10 % #......... two\n"
    )


@given(signs)
def test_what_is_repeated_of_own_words_is_short_and_harmless(text: str) -> None:
    """One line of 60 signs at most, all of them printable."""
    short = shortened(text)
    assert len(short) <= 60
    assert short.isprintable()


def test_own_words_are_shown_with_what_was_made_of_them(small: Knowledge) -> None:
    """What was understood, of which words, and what was left."""
    made, file = console()
    show_understood(
        made,
        small,
        Understood(
            (
                Heard("stairs", "somewhat", "a bit blocky", 0, 12),
                Heard("thickness", "14 %", "14\x1b[31m %", 20, 24),
            ),
            (),
            ("the weather",),
        ),
    )
    assert file.getvalue() == (
        "Understood:\n"
        "  * Somewhat: The edges look like stairs. (from “a bit blocky”)\n"
        "  * thickness over mesh: 14 % (from “14 [31m %”)\n"
        "Nothing was made of: “the weather”\n"
    )


@settings(max_examples=200)
@given(st.text())
def test_every_text_can_be_written_in_ascii(text: str) -> None:
    """What a terminal lacks is written in plain signs, and never raises."""
    assert text.encode("ascii", "plain-signs").isascii()


@pytest.mark.parametrize(
    ("text", "plain"),
    [
        ("“so”, he said", '"so", he said'),
        ("don’t", "don't"),
        ("9 ± 3 %", "9 +/- 3 %"),
        ("40 °C", "40 deg C"),
        ("6 µm – thin…", "6 um - thin..."),
        ("café", "cafe"),
        ("→ 2 × 3 ≥ 5", "-> 2 x 3 >= 5"),
        ("漢", "?"),
    ],
)
def test_signs_that_are_lacking_are_written_plainly(text: str, plain: str) -> None:
    """Quotes, units and accents stay readable."""
    assert text.encode("ascii", "plain-signs").decode() == plain


def test_a_console_is_never_wider_than_80(monkeypatch: pytest.MonkeyPatch) -> None:
    """However wide the terminal, lines stay easy to read; a narrow one is kept."""
    monkeypatch.setenv("COLUMNS", "200")
    assert new_console().width == 80
    monkeypatch.setenv("COLUMNS", "50")
    assert new_console().width == 50
