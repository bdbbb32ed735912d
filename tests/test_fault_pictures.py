"""Pictures of faults: they measure what they claim, and can be read by anyone."""

from __future__ import annotations

import re
from itertools import pairwise
from pathlib import Path
from xml.etree import ElementTree

import numpy as np
import pytest

from diagnose.calculations.halftone import moire_period
from diagnose.charts import chart_of, write_svg
from diagnose.charts import show as show_chart
from diagnose.cli import main
from diagnose.drawings.charts import svg_of as chart_svg
from diagnose.drawings.faults.book import BUILDERS
from diagnose.drawings.faults.characters import lines_of
from diagnose.drawings.faults.cloth import edge_error, halftone_on_mesh
from diagnose.drawings.faults.scene import BLACK, WHITE, Panel, raster
from diagnose.drawings.faults.sheet import TONES, svg_of
from diagnose.drawings.svg import LETTER, WIDTH
from diagnose.errors import DiagnoseError
from diagnose.fault_pictures import pictured, show
from diagnose.language import ENGLISH, use
from diagnose.records import Knowledge
from diagnose.screens import new_console

SVG = "{http://www.w3.org/2000/svg}"


def sawtooth(over: float, count: float = 77, thread: float = 48) -> float:
    """The measured error of an edge over 5 mm."""
    numbers = {
        **{"mesh-count": count, "thread-diameter": thread},
        **{"angle": 15.0, "emulsion-over-mesh": over},
    }
    return edge_error(numbers, 5000)


def test_a_thinner_stencil_follows_the_threads_more() -> None:
    errors = [sawtooth(over) for over in (0, 2, 4, 6, 8, 10)]
    assert errors == sorted(errors, reverse=True)
    assert len(set(errors)) == len(errors)


def test_larger_openings_make_larger_stairs() -> None:
    thinner_threads = [sawtooth(5, thread=thread) for thread in (60, 54, 48, 40)]
    fewer_threads = [sawtooth(5, count=count) for count in (120, 100, 77, 55)]
    assert thinner_threads == sorted(thinner_threads)
    assert fewer_threads == sorted(fewer_threads)


def test_a_thick_stencil_has_no_stairs() -> None:
    assert sawtooth(40) == pytest.approx(0, abs=1e-9)


@pytest.mark.parametrize(
    ("ruling", "count", "angle"), [(30, 34, 0), (30, 36, 0), (40, 46, 0), (30, 34, 5)]
)
def test_the_period_of_the_moire_is_the_reckoned_one(
    ruling: float, count: float, angle: float
) -> None:
    wide, fine = 20.0, 1200
    panel = halftone_on_mesh(
        {"ruling": ruling, "mesh-count": count, "angle": angle}, wide, wide
    )
    blocks = raster(panel, fine, fine).reshape(fine // 4, 4, fine // 4, 4)
    dark = blocks.mean(axis=(1, 3))
    window = np.hanning(len(dark))
    seen = (dark - dark.mean()) * np.outer(window, window)
    size = 4 * len(dark)
    spectrum = np.abs(np.fft.rfft2(seen, s=(size, size)))
    per_mm = len(dark) / wide
    down, across = np.fft.fftfreq(size, 1 / per_mm), np.fft.rfftfreq(size, 1 / per_mm)
    far = np.hypot(down[:, None], across[None, :])
    spectrum[(far < 2 / wide) | (far > ruling / 10 * 0.4)] = 0
    peak = far.flat[int(spectrum.argmax())]
    wanted = moire_period(10 / count, 10 / ruling, angle)
    assert 1 / peak == pytest.approx(wanted, rel=0.02)


def test_at_least_25_findings_are_pictured_and_every_drawing_is_used(
    built_in: Knowledge,
) -> None:
    shown = [f.pictured for f in built_in.recorded().values() if f.pictured]
    assert len(shown) >= 25
    assert set(shown) == set(BUILDERS) == set(built_in.pictures)


def test_every_picture_can_be_read_by_anyone(built_in: Knowledge) -> None:
    for finding in built_in.recorded().values():
        if not finding.pictured:
            continue
        shown = pictured(built_in, finding.id)
        text = svg_of(shown)
        root = ElementTree.fromstring(text)
        title, words = root.find(f"{SVG}title"), root.find(f"{SVG}desc")
        assert title is not None, finding.id
        assert words is not None, finding.id
        assert (title.text or "").lower() == finding.name.lower()
        assert shown.bad_says in (words.text or "")
        assert text.count('class="scale-bar"') == 2
        assert not list(root.iter(f"{SVG}script"))
        assert not re.search(r'(href|src)="', text)
        assert not re.search(r"url\((?!#)", text)
        assert "nan" not in text.lower().replace("finan", "")
        if finding.kind == "yes-no":
            assert shown.bad != shown.good, finding.id


def test_any_two_tones_differ_by_a_contrast_of_four_and_a_half() -> None:
    def light(colour: str) -> float:
        value = int(colour[1:3], 16) / 255
        return value / 12.92 if value <= 0.04045 else ((value + 0.055) / 1.055) ** 2.4

    lights = sorted(map(light, TONES.values()))
    for dark, bright in pairwise(lights):
        assert (bright + 0.05) / (dark + 0.05) >= 4.5


def test_no_mark_has_a_colour_of_its_own(built_in: Knowledge) -> None:
    colours = set(TONES.values()) | {"none"}
    for id in ("edges-sawtooth", "lines-thinner", "tension-spread-wide"):
        text = svg_of(pictured(built_in, id))
        used = set(re.findall(r'(?:fill|stroke)="([^"]*)"', text))
        assert used <= colours


def test_a_picture_is_shown_and_written_and_never_overwritten(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    file = tmp_path / "edge.svg"
    words = ["picture", "edges-sawtooth", str(file), "mesh-count=43/cm"]
    assert main(words) == 0
    printed = capsys.readouterr().out
    assert max(map(len, printed.splitlines())) <= 80 + len(str(file))
    assert "mesh count 43 threads/cm" in printed
    before = file.read_text(encoding="utf-8")
    assert main(words) == 2
    assert "is there already" in capsys.readouterr().err
    assert file.read_text(encoding="utf-8") == before


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["edges-sawtoth"], "did you mean 'edges-sawtooth'"),
        (["mesh-count"], "There is no picture"),
        (["edges-sawtooth", "mesh-cout=3"], "did you mean 'mesh-count'"),
        (["edges-sawtooth", "mesh-count=many"], "mesh count"),
        (["edges-sawtooth", "mesh-count=9000"], "lies between"),
        (["edges-sawtooth", "thread-diameter=400"], "thread"),
        (["edges-sawtooth", "edge.png"], "ends in .svg"),
    ],
)
def test_what_can_not_be_drawn_is_refused_in_a_sentence(
    words: list[str], says: str, built_in: Knowledge
) -> None:
    with pytest.raises(DiagnoseError, match=re.escape(says)) as refused:
        pictured(built_in, words[0], words[1:])
    assert len(str(refused.value).splitlines()) == 1


def test_a_refusal_ends_the_command(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["picture", "edges-sawtoth"]) == 2
    told = capsys.readouterr()
    assert "did you mean 'edges-sawtooth'" in told.err
    assert "Traceback" not in told.err


def test_a_picture_and_a_chart_show_what_can_hurt_who_looks(
    built_in: Knowledge, capsys: pytest.CaptureFixture[str]
) -> None:
    careful = [f for f in built_in.recorded().values() if f.pictured and f.cautions]
    assert careful
    console = new_console()
    for finding in careful:
        shown, chart = pictured(built_in, finding.id), chart_of(built_in, finding.id)
        show(console, shown)
        show_chart(console, chart)
        printed = " ".join(capsys.readouterr().out.split())
        drawn = svg_of(shown), chart_svg(chart)
        for id in finding.cautions:
            caution = built_in.cautions[id]
            assert printed.count(caution.ask) == 2
            assert all(caution.ask in shown.words() for shown in (shown, chart))
            for text in drawn:
                words = [one.text or "" for one in _texts(text)]
                assert caution.ask in " ".join(words)


def _texts(svg: str) -> list[ElementTree.Element]:
    """What an SVG shows as letters."""
    return list(ElementTree.fromstring(svg).iter(f"{SVG}text"))


def test_no_word_of_a_sheet_leaves_it(built_in: Knowledge) -> None:
    for finding in built_in.recorded().values():
        if finding.pictured:
            for one in _texts(svg_of(pictured(built_in, finding.id))):
                size, x = float(one.get("font-size", 0)), float(one.get("x", 0))
                wide = len(one.text or "") * size * LETTER
                assert x + wide <= WIDTH, (finding.id, one.text)


def test_a_speck_is_seen_in_characters() -> None:
    clean, dirty = Panel(40, 30, "mm", BLACK), Panel(40, 30, "mm", BLACK)
    for n in range(5):
        dirty.disc(6.1 + 7 * n, 15.2, 0.25, WHITE)
    rows = lines_of(clean, dirty, "", "", 80, plain=True)
    assert sum(row[:40].count("x") for row in rows) == 0
    assert sum(row.count("x") for row in rows) >= 5


def test_show_says_that_there_is_a_picture(capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["show", "edges-sawtooth"]) == 0
    assert "diagnose picture edges-sawtooth" in capsys.readouterr().out


def test_a_chart_has_what_leads_to_a_record_and_what_it_leads_to(
    built_in: Knowledge, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    drawn = chart_of(built_in, "stencil-thin")
    assert "coats-too-few" in [node.id for node in drawn.back]
    assert "edges-sawtooth" in [node.id for node in drawn.on]
    file = tmp_path / "thin.svg"
    assert main(["chart", "stencil-thin", str(file)]) == 0
    assert "too few coats of emulsion (" in capsys.readouterr().out
    assert ElementTree.parse(file).getroot().find(f"{SVG}desc") is not None
    with pytest.raises(DiagnoseError, match="is there already"):
        write_svg(drawn, file)
    with pytest.raises(DiagnoseError, match="did you mean 'stencil-thin'"):
        chart_of(built_in, "stencil-thn")


def test_every_record_has_a_chart(built_in: Knowledge) -> None:
    for kind in ("causes", "states", "findings"):
        for id in list(getattr(built_in, kind))[::25]:
            if id in built_in.recorded() or kind != "findings":
                ElementTree.fromstring(chart_svg(chart_of(built_in, id)))


def test_a_picture_can_be_written_in_spanish(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Its tones are told by what the record calls them, not by a translated name."""
    monkeypatch.setenv("DIAGNOSE_LANGUAGE", "es_MX.UTF-8")
    path = tmp_path / "sawtooth.svg"
    try:
        assert main(["picture", "edges-sawtooth", str(path)]) == 0
    finally:
        use(ENGLISH)
    assert "<svg" in path.read_text()
