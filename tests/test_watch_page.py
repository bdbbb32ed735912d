"""What a shop's faults cost, on paper: whole, safe with any text, and the same sums."""

from __future__ import annotations

import re
from pathlib import Path

import pytest
from test_paper import HOSTILE, PAPERS, Page
from test_watch import fault

from diagnose.cases.shop import Kept
from diagnose.cases.watch import watch
from diagnose.cli import main
from diagnose.paper.watch import watch_page
from diagnose.records import Knowledge

SHOP = Path(__file__).parent.parent / "cases" / "harbour-street"


@pytest.fixture
def year() -> list[Kept]:
    """Cases over five months on two lines; one fault came back."""
    return [
        fault(0, "few-coats", "nick", minutes=90, prints=30, line="1"),
        fault(10, "few-coats", minutes=30, line="1"),
        fault(70, "slack", minutes=60, prints=5, line="2"),
        fault(140, minutes=15, prints=0, line="2"),
    ]


def words(html: str) -> str:
    return " ".join(Page(html.replace("<", " <")).text.split())


def test_it_is_whole_and_needs_nothing_else(year: list[Kept], small: Knowledge) -> None:
    """Headings in order, every box labelled, nothing fetched; colours are greys."""
    html = watch_page(year, small, "line", "our-shop")
    page = Page(html)
    assert len(page.named("main")) == len(page.named("h1")) == 1
    labelled = {one["for"] for one in page.named("label")}
    assert all(one["id"] in labelled for one in page.named("input"))
    assert all(one.get("aria-hidden") == "true" for one in page.named("svg"))
    assert not page.named("script") + page.named("link")
    assert not re.search(r'(src|href)=|url\(|@import|\son\w+="', html)
    for colour in re.findall(r"#[0-9a-f]{6}", html):
        assert colour[1:3] == colour[3:5] == colour[5:7]


def test_it_says_what_the_terminal_says(year: list[Kept], small: Knowledge) -> None:
    """By hand: 3.2 hours and 45 prints; January cost 2 hours, most of it few coats;
    few coats came back after ten days."""
    text = words(watch_page(year, small, "month", "our-shop"))
    assert "4 cases: 3.2 hours to trace and mend, 45 prints lost." in text
    assert "A Too few coats 1.5 1.2 25" in text
    assert "Hours by month" in text
    assert "Hours by line" in text
    assert re.search(r"2026-01 [AC ]*A 1.2 h, C 0.8 h 2.0 40 2", text)
    assert "2026-02 no case 0.0 0 0" in text
    assert "came back 1" in text
    assert "10 days later" in text
    found = watch(year, small)
    for one in found.standards:
        assert small.fixes[one.fix].name in text
        for id in small.fixes[one.fix].cautions:
            assert small.cautions[id].danger in text


def test_bars_are_as_long_as_what_they_stand_for(
    year: list[Kept], small: Knowledge
) -> None:
    """The dearest month fills the width; the parts of each bar add up to its share."""
    html = watch_page(year, small)
    month = html.split("Hours by <bdi>month")[1].split("</table>")[0]
    lengths = {}
    for row in month.split("<tr>")[2:]:
        name = re.search(r"2026-\d\d", row)
        assert name is not None
        wide = [float(w) for w in re.findall(r'width="([\d.]+)" height="6"', row)]
        lengths[name[0]] = sum(wide)
    assert lengths["2026-01"] == pytest.approx(100, abs=0.1)
    assert lengths["2026-02"] == 0
    assert lengths["2026-03"] == pytest.approx(50, abs=0.1)
    assert lengths["2026-05"] == pytest.approx(12.5, abs=0.1)


def test_any_text_is_shown_as_text(small: Knowledge) -> None:
    """Labels, causes in free words and the shop's name come from people."""
    cases = [fault(n, line=HOSTILE if n else "2") for n in range(2)]
    for one in cases:
        one.case.confirmed[0:] = []
    html = watch_page(cases, small, "line", HOSTILE)
    assert not Page(html).named("script")
    assert "{{ 1234 * 5678 }}" in words(html)
    assert "\u202e" not in html


def test_no_case_is_a_sentence(small: Knowledge) -> None:
    assert "There is no case." in words(watch_page([], small))


def test_the_command_writes_it_and_writes_over_nothing(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Another name than .html, or a file that is there, is refused."""
    file = tmp_path / "year.html"
    words = ["case", "watch", str(file), "--shop", str(SHOP)]
    assert main(words) == 0
    assert "Written:" in capsys.readouterr().out
    assert "harbour-street" in file.read_text("utf-8")
    assert main(words) == 2
    assert "there already" in capsys.readouterr().err
    words[2] = str(tmp_path / "year.txt")
    assert main(words) == 2
    assert "name a file that ends in .html" in capsys.readouterr().err


@pytest.mark.parametrize("paper", PAPERS)
def test_it_fits_the_paper(paper: str, year: list[Kept], small: Knowledge) -> None:
    """Nothing is wider than the sheet, also with a long name of a group."""
    weasyprint = pytest.importorskip("weasyprint")
    pypdfium2 = pytest.importorskip("pypdfium2")
    year[0].case.groups["line"] = "w" * 200
    page = watch_page(year, small, "line", "our-shop")
    style = weasyprint.CSS(string=f"@page {{ size: {paper} }}")
    pdf = weasyprint.HTML(string=page).write_pdf(stylesheets=[style])
    wide, tall = (side * 72 / 25.4 for side in PAPERS[paper])
    for sheet in pypdfium2.PdfDocument(pdf):
        assert sheet.get_size() == pytest.approx((wide, tall), abs=1)
        text = sheet.get_textpage()
        for n in range(text.count_rects()):
            left, _, right, _ = text.get_rect(n)
            assert left >= 0
            assert right <= wide
