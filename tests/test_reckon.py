"""`diagnose reckon`: what it prints, as JSON too, and what it says of bad input."""

from __future__ import annotations

import json
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from knowledge_copy import SMALL, KnowledgeCopy

from diagnose import cli
from diagnose.calculations import mesh
from diagnose.reckon import example_of
from diagnose.records import Knowledge
from diagnose.tables import AGREE, differences, worked_out

MESH = ("reckon", "mesh-geometry")
THREAD = "thread-diameter=34 µm"
RIGHT = '"mesh-count=90 threads/cm"'
"""The right form of an input, as the messages give it."""


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

    def go(*tokens: str) -> Outcome:
        code = cli.main(list(tokens))
        out, err = capsys.readouterr()
        return Outcome(code, out, err)

    return go


@pytest.fixture(autouse=True)
def _knowledge_is_read_once(
    built_in: Knowledge, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The built-in knowledge is not read anew for each command."""
    from diagnose import knowledge

    load = knowledge.load_knowledge

    def once(folder: Any = None, *more: Any, **named: Any) -> Knowledge:
        if folder is None and not any((*more, *named.values())):
            return built_in
        return load(folder, *more, **named)

    monkeypatch.setattr(knowledge, "load_knowledge", once)


def good(done: Outcome) -> str:
    """What was printed: nothing wrong, no line too wide."""
    assert (done.code, done.err) == (0, "")
    assert max(map(len, done.out.splitlines())) <= 80
    return done.out


def fault(done: Outcome) -> str:
    """One sentence on the error output, and nothing else."""
    assert (done.code, done.out) == (2, "")
    assert "Traceback" not in done.err
    assert done.err.count("\n") == 1
    assert done.err.strip().isprintable()
    return done.err.removesuffix("\n")


# --- what is printed ----------------------------------------------------------------


def test_the_list_names_all_by_topic(run: Run, built_in: Knowledge) -> None:
    out = good(run("reckon"))
    for one in built_in.workings.values():
        assert f"- {one.id}:" in out
    assert "diagnose reckon meshes or diagnose reckon lights" in out


def test_a_topic_lists_its_own(run: Run, built_in: Knowledge) -> None:
    out = good(run("reckon", "stencil"))
    for one in built_in.workings.values():
        assert (f"- {one.id}:" in out) == (one.topic == "stencil")


def test_the_form_of_each_has_its_inputs_and_an_example(
    run: Run, built_in: Knowledge
) -> None:
    """Each input by its id, unit and name, and the example in one piece."""
    for one in built_in.workings.values():
        out = " ".join(good(run("reckon", one.id)).split())
        for part in one.inputs:
            unit = f" [{part.unit}]" if part.unit else ""
            assert f"- {part.id}{unit}: {part.name}." in out
        assert example_of(one) in out


def test_the_example_of_each_works_as_it_is_written(
    run: Run, built_in: Knowledge
) -> None:
    """Result, meaning, formula and sources, within 80 columns."""
    for one in built_in.workings.values():
        words = [f"{id}={text}" for id, text in one.example.items()]
        out = good(run("reckon", one.id, *words))
        assert out.startswith(f"{one.name}\n")
        said = " ".join(out.split())
        for output in one.gives:
            assert f"{output.name}: " in said
        assert f"How: {' '.join(one.formula.split())}" in said
        assert "Sources ------- " in said


def test_usual_values_are_taken_and_said(run: Run) -> None:
    out = good(run("reckon", "time-by-wedge", "exposure-time=60 s", "held-step=5"))
    said = " ".join(out.split())
    assert "time to try next: 120 s (83 to 170 s)" in said
    assert "Not given, so the usual value was taken: " in said
    assert "step that is aimed at 7 step" in said


def test_the_mean_of_several_is_said(run: Run) -> None:
    """Where one number is wanted and three readings are given."""
    out = good(run(*MESH, "mesh-count=119; 120; 121 /cm", THREAD))
    says = "Of the 3 readings of mesh count the mean, 120 threads/cm, was taken."
    assert says in out
    assert "the mean," not in good(run(*MESH, "mesh-count=120 /cm", THREAD))


def test_a_result_is_held_against_its_window(run: Run) -> None:
    thick = ("reckon", "emulsion-over-mesh", "mesh-thickness=60 µm")
    out = good(run(*thick, "stencil-thickness=62; 62; 62; 62 µm"))
    assert "That is below the window (" in out
    out = good(run(*thick, "stencil-thickness=66 ± 4 µm"))
    assert "about at the edge of the window (" in out


def test_a_working_and_a_window_have_a_page(run: Run, built_in: Knowledge) -> None:
    out = good(run("show", "emulsion-over-mesh"))
    working = built_in.workings["emulsion-over-mesh"]
    assert out.startswith(f"{working.name}\n(workings: emulsion-over-mesh; tried)\n")
    assert "How: " in out
    for window in built_in.windows.values():
        out = good(run("show", window.id))
        assert f"{window.name}\n(windows: {window.id}; tried)\n" in out
        assert "The window: " in out
        assert "within " in out


# --- units as people write them -----------------------------------------------------

UNITS = [
    ("mesh-geometry", "mesh-count", "305 tpi", 120.08),
    ("mesh-geometry", "mesh-count", "120/cm", 120),
    ("mesh-geometry", "mesh-count", "120 T", 120),
    ("mesh-geometry", "mesh-count", "120", 120),
    ("mesh-geometry", "thread-diameter", "34um", 34),
    ("mesh-geometry", "thread-diameter", "0,034 mm", 34),
    ("what-the-air-holds", "temperature", "110 F", 43.33),
    ("what-the-air-holds", "temperature", "43°C", 43),
    ("what-the-air-holds", "temperature", "21,5 °C", 21.5),
    ("what-the-air-holds", "humidity", "45%", 45),
    ("emulsion-over-mesh", "mesh-thickness", "2.3 mil", 58.42),
    ("emulsion-over-mesh", "mesh-thickness", "58 µm", 58),
    ("emulsion-over-mesh", "mesh-thickness", "58 μm", 58),
    ("emulsion-over-mesh", "stencil-thickness", "68; 70; 71 um", 69.67),
    ("tension-loss", "tension", "25 N/cm", 25),
    ("tension-over-screen", "tensions", "24; 26 N", 25),
    ("time-by-wedge", "exposure-time", "1.5 min", 90),
    ("mesh-for-a-ruling", "ruling", "65 lpi", 25.59),
]


@pytest.mark.parametrize(("working", "id", "text", "value"), UNITS)
def test_units_are_understood(
    working: str, id: str, text: str, value: float, run: Run, built_in: Knowledge
) -> None:
    """The other inputs are those of the example."""
    given = {**built_in.workings[working].example, id: text}
    words = [f"{name}={read}" for name, read in given.items()]
    done = run("reckon", working, *words, "--json")
    found = json.loads(done.out)["inputs"][id]
    assert found["value"] == pytest.approx(value, abs=0.005)
    assert found["unit"] == next(
        one.unit for one in built_in.workings[working].inputs if one.id == id
    )


def test_a_ratio_is_one_number(run: Run, built_in: Knowledge) -> None:
    """'1:20' where a pure number is wanted."""
    done = run(
        "reckon", "time-by-factor-film", "test-time=600 s", "factor=1:2", "--json"
    )
    assert json.loads(done.out)["inputs"]["factor"]["value"] == 0.5


# --- JSON ---------------------------------------------------------------------------


def strict(text: str) -> Any:
    """JSON as the standard has it: without NaN and Infinity."""

    def refuse(word: str) -> None:
        raise AssertionError(word)

    return json.loads(text, parse_constant=refuse)


def test_json_has_these_keys(run: Run, built_in: Knowledge) -> None:
    """For each working; a change here is a change for every program that reads it."""
    for one in built_in.workings.values():
        words = [f"{id}={text}" for id, text in one.example.items()]
        done = run("reckon", one.id, *words, "--json")
        assert (done.code, done.err) == (0, "")
        found = strict(done.out)
        assert set(found) == {
            "working",
            "inputs",
            "assumed",
            "results",
            "means",
            "check_next",
            "formula",
            "sources",
        }
        assert found["working"] == one.id
        assert set(found["inputs"]) == {part.id for part in one.inputs}
        assert set(found["results"]) == {part.id for part in one.gives}
        for part in found["inputs"].values():
            assert set(part) == {"value", "give_or_take", "unit", "each"}
        for part in found["results"].values():
            ends = [part[end] is None for end in ("give_or_take", "low", "high")]
            assert len(set(ends)) == 1
            assert set(part) == {
                "value",
                "unit",
                "give_or_take",
                "low",
                "high",
                "window",
                "misread",
            }
            if part["window"] is not None:
                assert set(part["window"]) == {
                    "id",
                    "low",
                    "high",
                    "side",
                    "says",
                    "range",
                }
                assert part["window"]["side"] in ("below", "within", "above", "edge")


def test_json_has_the_numbers_that_are_printed(run: Run) -> None:
    """By hand: 90/cm with 40 µm has openings of 71.1 µm, 40.96 % open."""
    done = run(*MESH, "mesh-count=90/cm", "thread-diameter=40 µm", "--json")
    results = strict(done.out)["results"]
    assert results["opening"]["value"] == pytest.approx(71.111, abs=1e-3)
    assert results["open-area"]["value"] == pytest.approx(40.96)
    assert results["open-area"]["low"] < 40.96 < results["open-area"]["high"]


@pytest.mark.parametrize("name", [(), ("stencil",), ("mesh-geometry",)])
def test_what_can_be_worked_out_is_json_too(name: tuple[str, ...], run: Run) -> None:
    found = strict(run("reckon", *name, "--json").out)
    assert found
    for one in found:
        assert set(one) == {"working", "name", "topic", "inputs", "example"}


# --- the tables ---------------------------------------------------------------------


def test_the_tables_fit_and_name_their_sources(run: Run, built_in: Knowledge) -> None:
    """A row for each mesh and light; each number of a source is listed below."""
    tables = {"meshes": len(built_in.meshes), "lights": len(built_in.lights)}
    for name, rows in tables.items():
        body, sources = good(run("reckon", name)).split("\nSources\n-------\n")
        listed = set(re.findall(r"(?m)^ +(\d+) ", sources))
        cited = [
            found[1] for found in re.finditer(r"(?m)  (\d+(?:, \d+)*)$", body) if found
        ]
        assert len(cited) == rows
        assert {one for row in cited for one in row.split(", ")} == listed
        assert len(strict(run("reckon", name, "--json").out)) == rows


def test_the_mesh_table_agrees_with_the_formulas(built_in: Knowledge) -> None:
    """What was printed, within the tolerances that the table prints, or it says so.

    Opening 2 µm, open area 1.1 points, thickness 2 µm, ink volume 1 cm³/m².
    """
    for cloth in built_in.meshes.values():
        opening = mesh.opening(cloth.count, cloth.thread)
        share = mesh.open_area(opening, mesh.pitch(cloth.count))
        thick = mesh.fabric_thickness(cloth.count, cloth.thread)
        volume = mesh.ink_volume(share, thick)
        wanted = {
            "opening": opening,
            "open_area": share,
            "fabric_thickness": thick,
            "ink_volume": volume,
        }
        assert worked_out(cloth) == pytest.approx(wanted)
        said = {one.what for one in differences(cloth)}
        for name, figure in wanted.items():
            printed = getattr(cloth, name)
            if printed is not None:
                near = abs(printed - figure) <= AGREE[name]
                assert near == (name not in said), (cloth.id, name)


def test_a_mesh_that_contradicts_the_formulas_says_by_how_much(
    run: Run, built_in: Knowledge
) -> None:
    """The reference's two: 305/40 printed 25 % open, 480/31 printed 16 µm wide.

    By hand: 100 (1 - 120 × 40 / 10000)² = 27.0 %; 10000 / 190 - 31 = 21.6 µm.
    """
    out = " ".join(good(run("reckon", "meshes")).split())
    assert "120/cm, 40 µm: the open area is printed as 25 %, 2 points less than" in out
    assert "the opening is printed as 16 µm, 5.6 µm less than the 21.6 µm" in out
    apart = {id for id, cloth in built_in.meshes.items() if differences(cloth)}
    assert apart == {"plain-120-40", "twill-190-31"}


def test_a_table_may_be_empty(run: Run, copy: KnowledgeCopy) -> None:
    """A knowledge without tables says so in two headings."""
    for name in ("meshes", "lights"):
        copy.path(f"{name}.yaml").unlink()
        good(run("reckon", name, "--knowledge", str(copy.folder)))


# --- bad input ----------------------------------------------------------------------

TWELVE = "68; 70; 71; 69; 70; {}; 71; 69; 70; 70; 68; 71 µm"
STENCIL = ("emulsion-over-mesh", "mesh-thickness=60 µm")

BAD: dict[str, tuple[tuple[str, ...], str]] = {
    "a negative thickness": (
        (*STENCIL, "stencil-thickness=-70 µm"),
        "stencil-thickness: '-70 µm': thickness of mesh and stencil together lies "
        "between 1 and 2000 µm, for example '68; 70; 71 µm'.",
    ),
    "threads that overlap": (
        ("mesh-geometry", "mesh-count=170/cm", "thread-diameter=60 µm"),
        "Threads of 60 µm at 170 threads/cm would fill the mesh; the thread is thinner "
        "than 10000 / count = 58.82 µm.",
    ),
    "300 % humidity": (
        ("what-the-air-holds", "temperature=20 °C", "humidity=300 %"),
        "humidity: '300 %': relative humidity of the air lies between 1 and 100 %, for "
        "example '50 %'.",
    ),
    "a tension in kg": (
        ("tension-over-screen", "tensions=20 kg"),
        "tensions: '20 kg': 'kg' does not fit readings of the tension, which is read "
        "in N/cm, for example '22; 20; 21; 19; 23 N/cm'.",
    ),
    "a time without unit": (
        ("time-by-wedge", "exposure-time=60", "held-step=5"),
        "exposure-time: '60' has no unit; write '60 s' or '60 min'.",
    ),
    "a typo among twelve": (
        (*STENCIL, f"stencil-thickness={TWELVE.format('7O')}"),
        "stencil-thickness: '7O' among the readings of thickness of mesh and stencil "
        "together is no number; put that one right and leave the others as they are.",
    ),
    "a typo among twelve without semicolons": (
        (*STENCIL, f"stencil-thickness={TWELVE.format('7O').replace(';', '')}"),
        "stencil-thickness: '7O' among the readings of thickness of mesh and stencil "
        "together is no number; put that one right and leave the others as they are.",
    ),
    "a slip of the point among twelve": (
        (*STENCIL, f"stencil-thickness={TWELVE.format('70000')}"),
        "stencil-thickness: '70000 µm': thickness of mesh and stencil together lies "
        "between 1 and 2000 µm, for example '68; 70; 71 µm'.",
    ),
    "an unknown input": (
        ("mesh-geometry", "mesh-cont=120", THREAD),
        "there is no input 'mesh-cont' (did you mean 'mesh-count'?); mesh-geometry "
        f"takes mesh-count, thread-diameter, such as {RIGHT}.",
    ),
    "an unknown input that is like none": (
        ("mesh-geometry", "zzz=120", THREAD),
        "there is no input 'zzz'; mesh-geometry takes mesh-count, thread-diameter, "
        f"such as {RIGHT}.",
    ),
    "an unknown working": (
        ("mesh-geometri", "mesh-count=120"),
        "there is nothing to work out called 'mesh-geometri' (did you mean "
        "'mesh-geometry'?). List them all with: diagnose reckon",
    ),
    "an unknown working by itself": (
        ("mesh-geometri",),
        "there is nothing to work out called 'mesh-geometri' (did you mean "
        "'mesh-geometry'?). List them all with: diagnose reckon",
    ),
    "an input given twice": (
        ("mesh-geometry", "mesh-count=120", "mesh-count=121", THREAD),
        f"'mesh-count' is given twice; write it once, as {RIGHT}.",
    ),
    "an empty value": (
        ("mesh-geometry", "mesh-count=", THREAD),
        f"nothing stands behind mesh-count=; write what was read, such as {RIGHT}.",
    ),
    "a blank value": (
        ("mesh-geometry", "mesh-count= \t", THREAD),
        f"nothing stands behind mesh-count=; write what was read, such as {RIGHT}.",
    ),
    "a missing input": (
        ("mesh-geometry", "mesh-count=120"),
        "'thread-diameter' is missing: thread diameter, for example "
        '"thread-diameter=40 µm".',
    ),
    "no name": (
        ("mesh-geometry", "=5"),
        f"'=5': write the name of an input, '=' and what was read, such as {RIGHT}.",
    ),
    "no sign": (
        ("mesh-geometry", "120"),
        f"'120': write the name of an input, '=' and what was read, such as {RIGHT}.",
    ),
    "blanks about the sign": (
        ("mesh-geometry", "thread-diameter", "=", "34"),
        "'thread-diameter': write the name of an input, '=' and what was read, such "
        'as "thread-diameter=40 µm".',
    ),
    "several where one is wanted": (
        ("thickness-for-share", "mesh-thickness=60 µm", "share=15; 20 %"),
        "share: '15; 20 %' is several numbers; write one, for example '20 %'.",
    ),
    "a topic": (
        ("mesh", "mesh-count=120"),
        "'mesh' may be any of these, write one: 'mesh-geometry', 'thread-count', "
        "'ink-volume'",
    ),
    "an empty name": (
        ("", "mesh-count=120"),
        "'' names nothing. List them all with: diagnose reckon",
    ),
    "an empty name by itself": (
        ("",),
        "'' names nothing. List them all with: diagnose reckon",
    ),
    "a table with readings": (
        ("meshes", "mesh-count=120"),
        "'meshes' is a table and takes nothing; write: diagnose reckon meshes",
    ),
    "a number in words of a programmer": (
        ("mesh-geometry", "mesh-count=1e2", THREAD),
        "mesh-count: '1e2': 'e2' does not fit mesh count, which is read in threads/cm, "
        "for example '90 threads/cm'.",
    ),
    "an option that is none": (
        ("mesh-geometry", "mesh-count=90", THREAD, "--jsn"),
        "Unknown option: --jsn. Did you mean --json? Try: diagnose reckon -h",
    ),
}


@pytest.mark.parametrize("case", BAD)
def test_bad_input_gets_one_clear_sentence(case: str, run: Run) -> None:
    """On the error output, with what is wrong and the right form; exit code 2."""
    words, says = BAD[case]
    assert fault(run("reckon", *words)).startswith(says)


NUMBERLESS = [
    "nan",
    "1e999",
    "inf",
    "-inf",
    "∞",
    "=5",
    "①②",
    "120\u200b",
    "12\u202e0",
    "一百",
    "\udcff",
    "0x78",
    "1_000",
    "--json",
    "9" * 10_000,
    "x" * 10_000,
    "1;" * 5_000,
]


@pytest.mark.parametrize("text", NUMBERLESS, ids=lambda text: ascii(text)[:20])
def test_what_is_no_number_is_refused(text: str, run: Run) -> None:
    """Repeated so that it can be seen, cut where it is long, with the right form."""
    says = fault(run(*MESH, f"mesh-count={text}", THREAD))
    assert says.startswith("mesh-count: ")
    assert says.endswith("for example '90 threads/cm'.")
    assert len(says) < 240


@pytest.mark.parametrize("where", ["name", "word", "input"])
@pytest.mark.parametrize("sign", ["x", "é", "\udcff", "\x1b[31m", "🙂"])
def test_long_and_odd_words_are_cut_and_spelt_out(
    where: str, sign: str, run: Run
) -> None:
    """10 000 of them, as the name, as a word without '=', as the name of an input."""
    odd = sign * 10_000
    words = {
        "name": (odd, "a=1"),
        "word": ("mesh-geometry", odd),
        "input": ("mesh-geometry", f"{odd}=1"),
    }
    assert len(fault(run("reckon", *words[where]))) < 600


@settings(
    max_examples=300,
    deadline=None,
    suppress_health_check=[HealthCheck.function_scoped_fixture],
)
@given(words=st.lists(st.text(max_size=12), min_size=1, max_size=3))
def test_whatever_is_written_there_is_no_crash(words: list[str], run: Run) -> None:
    """Any words at all behind `reckon mesh-geometry`."""
    done = run(*MESH, "mesh-count=90", f"thread-diameter={words[0]}", *words[1:])
    assert done.code in (0, 2)
    assert "Traceback" not in done.err


def test_a_working_of_ones_own_is_reckoned(run: Run) -> None:
    """Of another knowledge folder."""
    words = ("stencil-thickness=68; 70 µm", "--knowledge", str(SMALL))
    out = good(run("reckon", "over-mesh", *words))
    assert "emulsion over the mesh: 9 µm" in out
    assert "usual value was taken: thickness of the mesh 60 µm." in out


def test_a_working_without_its_function_is_a_fault_with_its_place(
    run: Run, copy: KnowledgeCopy
) -> None:
    """Named before anything is reckoned."""
    works = "works: stencil.emulsion_over_mesh"
    place = copy.edit("workings/all.yaml", works, "works: ¦stencil.over_mesh")
    done = run("reckon", "over-mesh", "--knowledge", str(copy.folder))
    assert (done.code, done.out) == (2, "")
    assert done.err.startswith(
        f"{place}: over-mesh: working: there is no calculation 'stencil.over_mesh'"
    )


def test_a_result_that_no_mesh_has_asks_for_the_readings_again(run: Run) -> None:
    """A weight that hardly sinks: no mesh is stretched to hundreds of newtons."""
    rest = ("foot-diameter=1 cm", "inner-width=50 cm", "inner-length=60 cm")
    words = ("reckon", "tension-by-weight", "weight=2 kg", "sag=0.2 mm", *rest)
    out = " ".join(good(run(*words)).split())
    assert (
        "There is no mesh tension of more than 60 N/cm: something was misread." in out
    )
    assert "the window" not in out.split("Next:")[0].split("[N/cm]")[0]
    data = json.loads(run(*words, "--json").out)
    assert data["results"]["tension"]["misread"].startswith("There is no mesh tension")
