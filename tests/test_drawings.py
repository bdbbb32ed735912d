"""Pictures of readings: they fit, say all in words, and put everything in its place."""

from __future__ import annotations

import functools
import io
import itertools
import re
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from knowledge_copy import SMALL, KnowledgeCopy
from msgspec.structs import replace

from diagnose import load_knowledge
from diagnose.cli import main
from diagnose.drawings.characters import LEAST
from diagnose.drawings.pictures import Map, Profile, Scale, Strip, pictures_of
from diagnose.drawings.readings import svg_of, text_of
from diagnose.errors import AnswerError
from diagnose.readings import Reading
from diagnose.records import Input, Knowledge, Output, Window, Working
from diagnose.workings import Worked, verdict, work_out

SVG = "{http://www.w3.org/2000/svg}"
COMMON: dict[str, Any] = {"status": "tried", "sources": ["common practice"]}


def taken(id: str, unit: str, several: bool = False, **more: Any) -> Input:
    """An input of a working of the tests."""
    return Input(
        id=id,
        name=f"the {id.replace('-', ' ')}",
        unit=unit,
        lowest=-1000,
        highest=1000,
        several="yes" if several else "no",
        how="Read it.",
        **more,
    )


def working(
    works: str, inputs: list[Input], gives: list[Output], **more: Any
) -> Working:
    """A working of the tests."""
    return Working(
        id="trial",
        name="what is tried",
        topic="trials",
        works=works,
        what="Tells what is tried.",
        inputs=inputs,
        gives=gives,
        formula="a formula",
        means=f"It comes to {{{gives[0].id}}}.",
        example={inputs[0].id: "1"},
        **COMMON,
        **more,
    )


def window(low: float | None, high: float | None, unit: str = "N/cm") -> Window:
    """A window of the tests."""
    return Window(
        id="good",
        name="good work",
        unit=unit,
        low=low,
        high=high,
        below="Too little.",
        within="Right.",
        above="Too much.",
        because="It is so.",
        **COMMON,
    )


TENSIONS = working(
    "tension.tension_map",
    [taken("tensions", "N/cm", several=True, give_or_take=1)],
    [
        Output(id="mean", name="mean tension", unit="N/cm", window="good"),
        Output(id="spread", name="spread", unit="N/cm"),
    ],
    check_next="Read <it> & read it again.",
)
MAP = replace(TENSIONS, draws="map")
EVENNESS = working(
    "stencil.evenness",
    [taken("emulsion", "µm", several=True, give_or_take=1)],
    [Output(id="coefficient", name="scatter", unit="%", window="good")],
    draws="map",
)
WEDGE = working(
    "step_wedge.corrected_time",
    [
        taken("exposure-time", "s", give_or_take=1),
        taken("held-step", "step", give_or_take=0.5),
        taken("target-step", "step", usual=7),
        taken("step-density", "D", usual=0.15),
    ],
    [Output(id="time", name="time to try next", unit="s")],
    draws="step-strip",
)
ROUGHNESS = working(
    "roughness.roughness",
    [taken("heights", "µm", several=True, give_or_take=0.2)],
    [
        Output(id="rz", name="Rz", unit="µm", window="good"),
        Output(id="rt", name="Rt", unit="µm"),
    ],
    draws="profile",
)
HEIGHTS = "3.1; -2.4; 2.8; -2.9; 3.6; -2.2; 2.5; -2.6; 3.0; -3.3 µm"

NO_WINDOW = working(
    "step_wedge.factor_film_time",
    [taken("test-time", "s"), taken("factor", "")],
    [Output(id="time", name="right time", unit="s")],
)


@functools.cache
def small() -> Knowledge:
    return load_knowledge(SMALL)


def known(one: Window) -> Knowledge:
    """The small knowledge with that window alone."""
    return replace(small(), windows={one.id: one})


@pytest.fixture(scope="session")
def knowledge() -> Knowledge:
    """The small knowledge with a window from 20 to 35."""
    return known(window(20, 35))


def tension(value: float, doubt: float = 0.0) -> Worked:
    """A tension that comes to this value with this doubt."""
    reading = Reading(value, doubt, "N/cm", (value, value))
    return work_out(TENSIONS, {"tensions": reading})


def many() -> list[Worked]:
    """Every kind of picture, in ordinary and in odd cases."""
    return [
        *(tension(value, doubt) for value in (0, 21, 35, 190) for doubt in (0, 0.5, 8)),
        *(
            work_out(MAP, {"tensions": "; ".join(map(str, range(1, 1 + count)))})
            for count in (2, 5, 7, 9, 10, 27, 45, 100)
        ),
        work_out(MAP, {"tensions": "20.25; 120.75; 19.85; 20.95; 35.15"}),
        work_out(EVENNESS, {"emulsion": "11; 12; 12.5; 11.5; 12; 13; 12; 11; 12.5"}),
        work_out(EVENNESS, {"emulsion": "12; 12; 12; 12; 12"}),
        *(
            work_out(
                WEDGE,
                {"exposure-time": "60 s", "held-step": held, "target-step": aim},
            )
            for held, aim in itertools.product(("1", "5.5", "21", "31"), ("1", "30"))
        ),
        work_out(
            WEDGE, {"exposure-time": "60 s", "held-step": "9", "step-density": "0.1"}
        ),
        work_out(ROUGHNESS, {"heights": HEIGHTS}),
        work_out(ROUGHNESS, {"heights": "; ".join(["2"] * 11)}),
        work_out(ROUGHNESS, {"heights": "; ".join(str(n % 7) for n in range(203))}),
    ]


# all pictures


@pytest.mark.parametrize("plain", [False, True])
@pytest.mark.parametrize("width", [LEAST, 72, 80])
def test_no_line_is_wider_than_it_may_be(
    knowledge: Knowledge, width: int, plain: bool
) -> None:
    """Nothing passes the width or ends in blanks; the plain form is ASCII alone."""
    for worked in many():
        lines = text_of(worked, knowledge, width=width, plain=plain)
        assert lines
        for line in lines:
            assert len(line) <= width
            assert line == line.rstrip()
            assert line.isprintable()
            assert line.isascii() or not plain


def test_nothing_is_drawn_where_there_is_no_room(knowledge: Knowledge) -> None:
    """A narrow terminal has the words alone."""
    assert text_of(tension(21), knowledge, width=LEAST - 1) == []


def test_both_forms_show_the_same(knowledge: Knowledge) -> None:
    """The plain form has as many lines, with the same words."""
    for worked in many():
        rich, plain = (text_of(worked, knowledge, plain=one) for one in (False, True))
        assert len(rich) == len(plain)
        words = [
            re.findall(
                r"[a-z]{2,}|\d+", re.sub("xx+", "", "\n".join(one).replace("µ", "u"))
            )
            for one in (rich, plain)
        ]
        assert words[0] == words[1]


def parsed(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg.encode())


def test_svg_is_whole_and_needs_nothing_else(knowledge: Knowledge) -> None:
    """XML that begins with a title and a description; no script, style or address."""
    for worked in many():
        svg = svg_of(worked, knowledge)
        root = parsed(svg)
        assert root.tag == f"{SVG}svg"
        assert root.get("role") == "img"
        parts = [part for part in root if part.tag != f"{SVG}defs"]
        title, words = parts[:2]
        assert (title.tag, words.tag) == (f"{SVG}title", f"{SVG}desc")
        assert root.get("aria-labelledby") == f"{title.get('id')} {words.get('id')}"
        assert title.text == "What is tried"
        assert worked.means() in (words.text or "")
        allowed = {"title", "desc", "defs", "rect", "circle", "path", "text", "svg"}
        for part in root.iter():
            assert part.tag.removeprefix(SVG) in allowed
            for name, value in part.attrib.items():
                assert "href" not in name
                assert not name.startswith("on")
                assert "url(" not in value
                assert "//" not in value
        assert root.get("font-family") == "sans-serif"


def test_svg_is_drawn_in_greys_and_stays_on_the_sheet(knowledge: Knowledge) -> None:
    """No colour is used at all, and nothing reaches over the edge."""
    for worked in many():
        root = parsed(svg_of(worked, knowledge))
        wide, high = float(root.get("width", 0)), float(root.get("height", 0))
        for part in root.iter():
            for name in ("fill", "stroke"):
                ink = part.get(name, "none")
                match = re.fullmatch("#(..)(..)(..)", ink)
                assert ink == "none" or (match and len(set(match.groups())) == 1)
            if part.tag == f"{SVG}text":
                size, length = float(part.get("font-size", 0)), len(part.text or "")
                back = {"start": 0, "middle": 0.5, "end": 1}
                x = float(part.get("x", 0))
                x -= back[part.get("text-anchor", "start")] * length * size * 0.55
                assert x >= 0
                assert x + length * size * 0.55 <= wide
                assert 0 < float(part.get("y", 0)) < high
            for x, y in re.findall(r"(-?[\d.]+),(-?[\d.]+)", part.get("d", "")):
                assert 0 <= float(x) <= wide
                assert 0 <= float(y) <= high


def test_words_from_the_records_stay_words(knowledge: Knowledge) -> None:
    """What XML would take for markup is written as text."""
    root = parsed(svg_of(tension(21), knowledge))
    said = " ".join(part.text or "" for part in root.iter(f"{SVG}text"))
    assert "Read <it> & read it again." in said


def test_what_cannot_be_drawn_says_so(knowledge: Knowledge) -> None:
    """No window, no picture of its own: no lines, and one sentence for an SVG."""
    worked = work_out(NO_WINDOW, {"test-time": "600", "factor": "0.7"})
    assert text_of(worked, knowledge) == []
    with pytest.raises(AnswerError, match=r"^'trial' can't be drawn: [^.]*\.$"):
        svg_of(worked, knowledge)


def test_drawsvg_is_left_alone_until_it_is_needed() -> None:
    """A picture for the terminal does not wait for it."""
    code = "import sys, diagnose.reckon; sys.exit('drawsvg' in sys.modules)"
    assert subprocess.run([sys.executable, "-c", code], check=False).returncode == 0


# the scale


def bar_and_marker(lines: Sequence[str], plain: bool) -> tuple[str, int, str]:
    """The bar, and where what marker stands."""
    inside = "=" if plain else "━"
    row = next(n for n, line in enumerate(lines) if inside in line)
    marks = [
        (column, sign)
        for column, sign in enumerate(lines[row - 1])
        if sign in ("*o<>" if plain else "◆◇◄►")
    ]
    middle = [one for one in marks if one[1] in "*o◆◇"]
    column, sign = (middle or marks)[0]
    return lines[row], column, sign


WINDOWS = st.one_of(
    st.tuples(st.floats(1, 60), st.floats(62, 150)),
    st.tuples(st.none(), st.floats(0.5, 150)),
    st.tuples(st.floats(0.5, 150), st.none()),
)


@settings(deadline=None)
@given(
    WINDOWS,
    st.floats(0, 199),
    st.sampled_from([0.0, 0.01, 0.5, 3.0, 20.0]),
    st.booleans(),
)
def test_the_marker_lies_where_the_verdict_says(
    ends: tuple[float | None, float | None],
    value: float,
    doubt: float,
    plain: bool,
) -> None:
    """Plainly inside: in the window; outside: beside it; unsure: an empty marker."""
    one = window(*ends)
    found = known(one)
    worked = tension(value, doubt)
    judged = verdict(worked.amounts[0], found)
    assert judged is not None
    lines = text_of(worked, found, plain=plain)
    bar, column, sign = bar_and_marker(lines, plain)
    part = bar[column : column + 1]
    inside, first, last = ("=", *"||") if plain else ("━", *"├┤")
    edge = "#" if plain else "┃"
    within = [n for n, sign in enumerate(bar) if sign in (inside, edge)]
    word = {"edge": "at edge"}.get(judged.side, judged.side)
    assert any(f": {word}" in line for line in lines)
    if judged.side == "edge":
        assert sign in "o◇<>◄►"
        return
    assert sign in "*◆<>◄►"
    if judged.side == "within":
        at_end = part in (first, last)
        assert part == inside or (at_end and None in ends) or ends[0] == 0
    elif judged.side == "below":
        assert column < min(within)
    else:
        assert column > max(within)
    picture = pictures_of(worked, found)[0]
    assert isinstance(picture, Scale)
    root = parsed(svg_of(worked, found))
    box = next(part for part in root.iter() if part.get("class") == "window")
    marker = next(part for part in root.iter() if part.get("class") == "value")
    match = re.match(r"M(-?[\d.]+),", marker.get("d", ""))
    assert match is not None
    x, left = float(match[1]), float(box.get("x", 0))
    assert (left <= x <= left + float(box.get("width", 0))) == (judged.side == "within")


@settings(deadline=None)
@given(WINDOWS, st.floats(0, 199), st.sampled_from([0.0, 0.5, 20.0]))
def test_the_scale_shows_all_parts_and_numbers(
    ends: tuple[float | None, float | None],
    value: float,
    doubt: float,
) -> None:
    """The window keeps a fair share of the scale, and its parts add up to it."""
    found = known(window(*ends))
    (picture,) = pictures_of(tension(value, doubt), found)
    assert isinstance(picture, Scale)
    parts = picture.parts()
    assert parts[0][1] == 0.0
    assert parts[-1][2] == 1.0
    assert all(one[2] == next[1] for one, next in itertools.pairwise(parts))
    share = next(end - begin for name, begin, end in parts if name == "window")
    assert 0.1 < share < 0.99
    assert picture.left < picture.right
    text = "\n".join(text_of(tension(value, doubt), found))
    assert "window" in text
    for number in ends:
        assert number is None or f"{number:.3g}" in text


def test_a_window_whose_edge_is_nought() -> None:
    """Both sides of 0 are shown, whatever the value."""
    found = known(window(None, 0))
    for value in (0.0, 0.5, 150.0):
        (picture,) = pictures_of(tension(value), found)
        assert isinstance(picture, Scale)
        assert picture.left < 0 < picture.right
    assert "above" in "\n".join(text_of(tension(3), found))


def test_a_share_is_on_no_scale_beyond_a_hundred() -> None:
    """The light that a lamp still gives is at most all of it."""
    one = working(
        "tension.tension_map",
        [taken("tensions", "%", several=True)],
        [Output(id="mean", name="light", unit="%", window="good")],
    )
    found = known(window(85, None, "%"))
    (picture,) = pictures_of(work_out(one, {"tensions": "90; 90"}), found)
    assert isinstance(picture, Scale)
    assert (picture.left, picture.right) == (0, 100)


def test_the_range_is_drawn_about_the_value(knowledge: Knowledge) -> None:
    """From one end of the range to the other, the value between."""
    lines = text_of(tension(27, 2), knowledge, plain=True)
    row = next(line for line in lines if re.fullmatch(r" +\|-+\*-+\|", line))
    bar = next(line for line in lines if "=" in line)
    assert bar.index("#") < row.index("|") < row.rindex("|") < bar.rindex("#")


def test_a_value_far_away_is_shown_to_be_off_the_scale(knowledge: Knowledge) -> None:
    """An arrow at the end, and the number beside it."""
    lines = text_of(tension(190), knowledge)
    assert any(line.endswith("►") for line in lines)
    assert any("190 N/cm: above" in line for line in lines)


def test_every_result_with_a_window_has_its_scale() -> None:
    """One below the other, and none for a result without a window."""
    both = replace(
        TENSIONS, gives=[replace(one, window="good") for one in TENSIONS.gives]
    )
    found = known(window(20, 35))
    worked = work_out(both, {"tensions": "22; 23"})
    names = [one.name for one in pictures_of(worked, found) if isinstance(one, Scale)]
    assert names == ["mean tension", "spread"]


# the map


def places(lines: Sequence[str]) -> dict[int, tuple[int, int]]:
    """Where each number stands: line and column."""
    return {
        int(found[1]): (row, found.start(1))
        for row, line in enumerate(lines)
        for found in re.finditer(r" (\d+): ", line)
    }


def test_five_readings_are_the_middle_and_the_corners(knowledge: Knowledge) -> None:
    """The middle comes first, then the corners from the top left."""
    lines = text_of(work_out(MAP, {"tensions": "22; 10; 30; 40; 20"}), knowledge)
    at = places(lines)
    assert at[2][0] == at[3][0] < at[1][0] < at[4][0] == at[5][0]
    assert at[2][1] == at[4][1] < at[1][1] < at[3][1] == at[5][1]
    text = "\n".join(lines)
    for wanted in ("22 ● within", "10 ▼ below", "40 ▲ above", "20 ◇ at edge"):
        assert wanted in text
    assert "The window is 20 to 35 N/cm." in text


def test_nine_readings_are_three_rows_of_three(knowledge: Knowledge) -> None:
    """Row by row; where they have no window the lowest and the highest are named."""
    each = "11; 12; 12.5; 11.5; 12; 13; 12; 11; 12.5"
    worked = work_out(EVENNESS, {"emulsion": each})
    lines = text_of(worked, knowledge)
    at = places(lines)
    assert [at[n] for n in range(1, 10)] == sorted(at.values())
    assert len({row for row, _ in at.values()}) == 3
    assert len({column for _, column in at.values()}) == 3
    text = "\n".join(lines)
    assert (text.count("lowest"), text.count("highest")) == (2, 1)
    assert "window" not in text


def test_two_rounds_stand_at_the_same_places(knowledge: Knowledge) -> None:
    """Ten readings are five along the threads, then five across them."""
    each = "22; 23; 24; 25; 26; 32; 33; 34; 35; 36"
    (picture,) = pictures_of(work_out(MAP, {"tensions": each}), knowledge)
    assert isinstance(picture, Map)
    assert [spot.values for spot in picture.spots] == [
        (n, n + 10) for n in range(22, 27)
    ]
    assert picture.spots[0].place == "middle"


def test_readings_of_unknown_places_say_so(knowledge: Knowledge) -> None:
    """Seven may have been taken anywhere."""
    each = "22; 23; 24; 25; 26; 27; 28"
    (picture,) = pictures_of(work_out(MAP, {"tensions": each}), knowledge)
    assert isinstance(picture, Map)
    assert not any(spot.place for spot in picture.spots)
    assert any("in the order read" in note for note in picture.notes)


def test_the_window_of_a_spread_is_for_no_single_reading() -> None:
    """It has the unit of the readings, and says nothing of one of them."""
    gives = [Output(id="spread", name="spread", unit="N/cm", window="good")]
    worked = work_out(replace(MAP, gives=gives), {"tensions": "2; 1; 9; 3; 4"})
    (picture,) = pictures_of(worked, known(window(None, 5)))
    assert isinstance(picture, Map)
    assert {mark for spot in picture.spots for mark in spot.marks} == {
        *("", "lowest", "highest")
    }


# the wedge


def wedge(held: str, wanted: str, **more: str) -> Worked:
    return work_out(
        WEDGE,
        {"exposure-time": "60", "held-step": held, "target-step": wanted, **more},
    )


@pytest.mark.parametrize(("held", "wanted"), [(5, 7), (1, 21), (21, 1), (7, 7)])
def test_the_strip_marks_the_steps_that_hold(
    knowledge: Knowledge, held: int, wanted: int
) -> None:
    """As many as held, at the clear end; the markers point at their steps."""
    lines = text_of(wedge(str(held), str(wanted)), knowledge, plain=True)
    row = next(n for n, line in enumerate(lines) if line.startswith("  step  "))
    numbers, stencil = lines[row], lines[row + 2]
    assert [int(one) for one in numbers.split()[1:]] == list(range(21, 0, -1))
    strip = stencil[11:]
    assert strip.count("#") == 3 * held
    assert strip.count(".") == 21 - held
    assert strip.rstrip("#").count("#") == 0
    for line, sign, step in (
        (lines[row - 1], "v ", wanted),
        (lines[row + 3], "^ ", held),
    ):
        column = f"{line} ".index(sign)
        assert int(numbers[column - 1 : column + 2]) == step
    assert f"wanted: {wanted}" in lines[row - 1]
    assert f"held: {held}" in lines[row + 3]


def test_half_a_step_holds_in_part(knowledge: Knowledge) -> None:
    """Read as 5½, the sixth is neither gone nor whole, and the picture says so."""
    (picture,) = pictures_of(wedge("5.5", "7"), knowledge)
    assert isinstance(picture, Strip)
    assert [picture.holds(step) for step in (5, 6, 7)] == [1, 0.5, 0]
    assert "holds in part" in "\n".join(text_of(wedge("5.5", "7"), knowledge))
    assert "Step 1 to 5 hold, 6 holds in part, 7 to 21 are washed" in picture.says()


def test_a_wedge_of_fine_steps_has_31(knowledge: Knowledge) -> None:
    """By the density of its step, or as a step beyond 21 held."""
    for worked in (wedge("9", "7", **{"step-density": "0.1"}), wedge("25", "7")):
        (picture,) = pictures_of(worked, knowledge)
        assert isinstance(picture, Strip)
        assert picture.steps == 31


def test_the_wedge_grows_darker_with_its_steps(knowledge: Knowledge) -> None:
    """In the SVG the patches go from black to white, 21 of them."""
    root = parsed(svg_of(wedge("5", "7"), knowledge))
    greys = [
        int(part.get("fill", "")[1:3], 16)
        for part in root.iter(f"{SVG}rect")
        if part.get("height") == "54"
    ]
    assert len(greys) == 21
    assert greys == sorted(set(greys))
    assert (greys[0], greys[-1]) == (0, 255)


# the profile


def test_the_profile_gives_the_height_of_each_length(knowledge: Knowledge) -> None:
    """Five, from valley to peak, whose mean is Rz; and both ends of the heights."""
    worked = work_out(ROUGHNESS, {"heights": HEIGHTS})
    (picture,) = pictures_of(worked, knowledge)
    assert isinstance(picture, Profile)
    assert picture.swings() == pytest.approx([5.5, 5.7, 5.8, 5.1, 6.3])
    assert picture.mean == pytest.approx(worked.amounts[0].value)
    text = "\n".join(text_of(worked, knowledge))
    assert re.search(r"5\.5 +5\.7 +5\.8 +5\.1 +6\.3\n", text)
    assert "3.6 ┤" in text
    assert "-3.3 ┤" in text


def test_no_peak_of_a_long_profile_is_lost(knowledge: Knowledge) -> None:
    """One point among hundreds still reaches the top."""
    heights = ["0"] * 301
    heights[142] = "9"
    worked = work_out(ROUGHNESS, {"heights": "; ".join(heights)})
    lines = text_of(worked, knowledge)
    top = next(line for line in lines if "9 ┤" in line)
    assert "█" in top


# the command


WORKING = """\
- id: mean-tension
  status: tried
  name: mean tension
  topic: tension
  works: tension.tension_map
  what: Tells the mean.
  inputs:
  - {id: tensions, name: tensions, unit: N/cm, lowest: 0, highest: 99,
     give_or_take: 1, several: yes, how: Read it.}
  gives:
  - {id: mean, name: mean tension, unit: N/cm, window: good}
  formula: sum ÷ number
  means: It stands at {mean}.
  example: {tensions: 20; 21}
  draws: map
  sources: [common practice]
- id: film-time
  status: tried
  name: time by a film
  topic: exposure
  works: step_wedge.factor_film_time
  what: Tells the time.
  inputs:
  - {id: test-time, name: time, unit: s, lowest: 1, highest: 999, how: Read it.}
  - {id: factor, name: factor, lowest: 0.1, highest: 1, how: Read it.}
  gives:
  - {id: time, name: right time, unit: s}
  formula: time × factor
  means: It takes {time}.
  example: {test-time: 60 s, factor: 0.7}
  sources: [common practice]
"""

GOOD = """\
- {id: good, status: tried, name: good work, unit: N/cm, low: 20, high: 35,
   below: Too little., within: Right., above: Too much., because: It is so.,
   sources: [common practice]}
"""


@pytest.fixture
def folder(copy: KnowledgeCopy) -> Path:
    """The small knowledge with two workings, one of which can be drawn."""
    for file, text in (("workings/drawn.yaml", WORKING), ("windows/drawn.yaml", GOOD)):
        copy.path(file).parent.mkdir(exist_ok=True)
        copy.path(file).write_text(text, "utf-8")
    return copy.folder


def reckon(folder: Path, *words: str | Path) -> int:
    return main(["reckon", *map(str, words), "--knowledge", str(folder)])


FIVE = "tensions=22; 10; 30; 40; 20"


def test_reckon_draws_under_the_result_and_writes_the_svg(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """The picture on the screen; the SVG whole, and nothing beside it."""
    path = tmp_path / "out" / "tension.svg"
    path.parent.mkdir()
    assert reckon(folder, "mean-tension", FIVE, "--svg", path) == 0
    out = capsys.readouterr().out
    assert (
        out.index("mean tension: ") < out.index("10 ▼ below") < out.index("It stands")
    )
    assert parsed(path.read_text("utf-8")).tag == f"{SVG}svg"
    assert [one.name for one in path.parent.iterdir()] == ["tension.svg"]


def test_a_file_that_exists_is_not_written_over(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One sentence, code 2, and the file as it was; a folder is no better."""
    path = tmp_path / "mine.svg"
    path.write_text("mine")
    assert reckon(folder, "mean-tension", FIVE, "--svg", path) == 2
    done = capsys.readouterr()
    assert done.out == ""
    assert done.err == f"{path} is there already; name a file that is not.\n"
    assert path.read_text() == "mine"
    assert reckon(folder, "mean-tension", FIVE, "--svg", tmp_path) == 2
    nowhere = tmp_path / "none" / "mine.svg"
    assert reckon(folder, "mean-tension", FIVE, "--svg", nowhere) == 2
    assert "can't be written: " in capsys.readouterr().err


def test_what_cannot_be_drawn_is_refused_in_a_sentence(
    folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """No picture, or nothing worked out yet: code 2, and no file."""
    path = tmp_path / "mine.svg"
    given = ("film-time", "test-time=60s", "factor=0.7")
    assert reckon(folder, *given, "--svg", path) == 2
    assert "'film-time' can't be drawn: " in capsys.readouterr().err
    assert reckon(folder, "film-time", "--svg", path) == 2
    assert "write the readings" in capsys.readouterr().err
    assert not path.exists()
    assert reckon(folder, *given) == 0


@pytest.mark.parametrize("encoding", ["ascii", "latin-1", "cp437"])
def test_a_terminal_without_the_signs_has_the_plain_picture(
    folder: Path, monkeypatch: pytest.MonkeyPatch, encoding: str
) -> None:
    """No sign is missing from it, and it keeps its form."""
    screen = io.BytesIO()
    monkeypatch.setattr(sys, "stdout", io.TextIOWrapper(screen, encoding=encoding))
    assert reckon(folder, "mean-tension", FIVE) == 0
    sys.stdout.flush()
    text = screen.getvalue().decode(encoding)
    assert "10 v below" in text
    assert "?" not in text
    frame = [line for line in text.splitlines() if line.startswith("  |")]
    assert {len(line) for line in frame} == {78}


def test_an_unknown_kind_of_picture_is_a_fault(
    folder: Path, copy: KnowledgeCopy
) -> None:
    """It is named by its place when the knowledge is read."""
    place = copy.edit("workings/drawn.yaml", "draws: map", "draws: ¦painting")
    (fault,) = copy.faults()
    assert fault.startswith(place)
    assert "step-strip" in fault
