"""The pages as a real browser shows and prints them, at three widths and on paper.

It needs the extra `browser`, and a headless browser of the Chromium kind: the one that
DIAGNOSE_BROWSER names, or the first of PROGRAMS that is installed.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Iterator
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest

from diagnose.cases.record import Case
from diagnose.paper.procedure import procedure
from diagnose.paper.report import Told, report, ticket, told_in
from diagnose.records import Knowledge

driver = pytest.importorskip(
    "playwright.sync_api", reason="the extra 'browser' is not installed"
)
pypdfium2 = pytest.importorskip("pypdfium2")

PROGRAMS = ("chromium-headless-shell", "chromium", "chromium-browser")
PROGRAM = os.environ.get("DIAGNOSE_BROWSER") or next(
    filter(None, map(shutil.which, PROGRAMS)), None
)
pytestmark = pytest.mark.skipif(
    PROGRAM is None,
    reason=f"no browser: install {PROGRAMS[0]}, or name one in DIAGNOSE_BROWSER",
)

PAGES = ("report", "long", "hostile", "ticket", "hostile-ticket", "procedure")
PAPERS = {"A4": (210, 297), "Letter": (215.9, 279.4)}
SHEETS = Path(__file__).parent.parent / "cases" / "sheets"
SHEET = """\
said: the edges print like little stairs
set_up: {coats-put-on: one, frame-kind: aluminium}
answers: {print-side-feels-woven: "yes", pinholes-seen: "no"}
readings: {eom: 6 ± 2 %, tension: 14 N/cm, room-humidity: 65 %}
"""
LONG = """\
stage: press
set_up: {ink-kind: water-based, drying-time-short: "yes"}
answers:
  breaks-down-on-press: "yes"
  pinholes-seen: "yes"
  contact-gap-seen: "yes"
  mesh-touches-unpressed: "yes"
  edges-sawtooth: somewhat
readings: {eom: 6 ± 2 %, tension: 14 N/cm, room-humidity: 65 %}
"""
HOSTILE = "<b>bold</b> & \u202e 漢字 العربية " + "w" * 3000


@pytest.fixture(scope="module")
def written(
    built_in: Knowledge, tmp_path_factory: pytest.TempPathFactory
) -> dict[str, Path]:
    folder = tmp_path_factory.mktemp("pages")
    told = []
    for name, text in (("my-screen", SHEET), ("long", LONG), ("hostile", SHEET)):
        sheet = folder / f"{name}.yaml"
        sheet.write_text(text, "utf-8")
        told.append(told_in(sheet, built_in))
    told[2].consultation.sheet.said = [HOSTILE]
    case = Case(date="2026-01-01", who=HOSTILE, groups={HOSTILE: HOSTILE})
    case.notes = HOSTILE
    html = {
        "report": report(told[0]),
        "long": report(told[1]),
        "hostile": report(Told(told[2].consultation, HOSTILE, case)),
        "ticket": ticket(told[0]),
        "hostile-ticket": ticket(Told(told[2].consultation, HOSTILE, case)),
        "procedure": procedure(built_in, "drying"),
    }
    files = {}
    for name, text in html.items():
        files[name] = folder / f"{name}.html"
        files[name].write_text(text, "utf-8")
    return files


@pytest.fixture(scope="module")
def browser() -> Iterator[Any]:
    with driver.sync_playwright() as started:
        opened = started.chromium.launch(
            executable_path=PROGRAM, args=["--no-sandbox", "--disable-gpu"]
        )
        yield opened
        opened.close()


@pytest.fixture(params=PAGES)
def page(
    request: pytest.FixtureRequest, browser: Any, written: dict[str, Path]
) -> Iterator[Any]:
    opened = browser.new_page(viewport={"width": 768, "height": 900})
    opened.goto(written[request.param].as_uri())
    opened.kind = request.param
    yield opened
    opened.close()


OUTSIDE = """() => {
  const found = [];
  const width = document.documentElement.clientWidth;
  for (const one of document.body.querySelectorAll('*')) {
    if (one.closest('.wide svg')) continue;
    const box = one.getBoundingClientRect();
    if (box.width && (box.left < -0.5 || box.right > width + 0.5))
      found.push(one.tagName + ' ' + one.className + ' ' + box.right);
  }
  return found;
}"""


@pytest.mark.parametrize("width", [360, 768, 1280])
def test_nothing_is_wider_than_the_window(page: Any, width: int) -> None:
    page.set_viewport_size({"width": width, "height": 900})
    assert page.evaluate("document.documentElement.scrollWidth") <= width
    assert page.evaluate(OUTSIDE) == []


CUT = """() => {
  const found = [];
  for (const one of document.body.querySelectorAll('*')) {
    const style = getComputedStyle(one);
    const hides = style.overflowX !== 'visible' || style.overflowY !== 'visible';
    if (!hides || one.closest('svg')) continue;
    const most = [one.clientWidth + 1, one.clientHeight + 1];
    if (one.scrollWidth > most[0] || one.scrollHeight > most[1])
      found.push(one.tagName + ' ' + one.className);
  }
  return found;
}"""


HYPHENS = str.maketrans("", "", "-\x02\ufffe")
"""What the reader of the print may leave out, or put in, at the end of a line."""


@pytest.mark.parametrize("paper", PAPERS)
def test_nothing_is_cut_off_in_print(page: Any, paper: str) -> None:
    wide, high = PAPERS[paper]
    margins = 28 if "ticket" not in page.kind else 24
    page.emulate_media(media="print")
    page.set_viewport_size({"width": int((wide - margins) / 25.4 * 96), "height": 900})
    assert page.evaluate(CUT) == []
    assert page.evaluate(OUTSIDE) == []
    printed = pypdfium2.PdfDocument(page.pdf(format=paper))
    for sheet in printed:
        size = sheet.get_size()
        assert size == pytest.approx((wide / 25.4 * 72, high / 25.4 * 72), abs=1)
        text = sheet.get_textpage()
        assert text.count_chars() > 0
        for n in range(text.count_rects()):
            left, bottom, right, top = text.get_rect(n)
            assert 0 < left <= right < size[0]
            assert 0 < bottom <= top < size[1]
    text = "".join(one.get_textpage().get_text_range() for one in printed)
    text = "".join(text.translate(HYPHENS).split())
    shown = page.evaluate("document.body.innerText").translate(HYPHENS).split()
    assert [word for word in shown if word.isascii() and word not in text] == []


@pytest.mark.parametrize("paper", PAPERS)
@pytest.mark.parametrize(
    "sheet", sorted(SHEETS.glob("*.yaml")), ids=lambda one: one.stem
)
def test_a_usual_report_is_short_and_its_first_page_can_be_hung_up(
    browser: Any, built_in: Knowledge, sheet: Path, paper: str
) -> None:
    page = browser.new_page()
    told = told_in(sheet, built_in)
    page.set_content(report(told))
    printed = pypdfium2.PdfDocument(page.pdf(format=paper))
    assert len(printed) <= 5
    text = printed[0].get_textpage().get_text_range()
    first = "".join(text.translate(HYPHENS).split())
    plan, causes = told.consultation.plan(), told.consultation.ranking().causes
    names = [part[0].fix.name for part in list(plan.parts.values())[:2] if part]
    cautions = [id for part in plan.parts.values() for id in part[0].fix.cautions[:1]]
    names += [built_in.cautions[id].name for id in cautions[:1]]
    for name in ("What was seen", causes[0].name, *names):
        assert "".join(name.translate(HYPHENS).split()) in first
    page.close()


CONTRASTS = """() => {
  const parse = text => (text.match(/[\\d.]+/g) || []).map(Number);
  const light = ([r, g, b]) => {
    const one = v => (v /= 255) <= 0.04045 ? v / 12.92 : ((v + 0.055) / 1.055) ** 2.4;
    return 0.2126 * one(r) + 0.7152 * one(g) + 0.0722 * one(b);
  };
  const ground = (x, y, skip) => {
    for (const one of document.elementsFromPoint(x, y)) {
      if (skip.has(one)) continue;
      const style = getComputedStyle(one), drawn = one instanceof SVGGeometryElement;
      const colour = parse(drawn ? style.fill : style.backgroundColor);
      if (colour.length === 3 || colour[3] === 1) return colour.slice(0, 3);
    }
    return [255, 255, 255];
  };
  const found = [];
  const walk = document.createTreeWalker(document.body, NodeFilter.SHOW_TEXT);
  while (walk.nextNode()) {
    const node = walk.currentNode, one = node.parentElement;
    if (!node.textContent.trim() || one.closest('title, desc')) continue;
    const range = document.createRange();
    range.selectNodeContents(node);
    const box = [...range.getClientRects()].find(each => each.width > 1);
    if (!box) continue;
    const x = box.left + box.width / 2, y = box.top + box.height / 2;
    if (x < 0 || x >= innerWidth || y >= innerHeight) continue;
    const style = getComputedStyle(one);
    const ink = parse(one.closest('svg') ? style.fill : style.color).slice(0, 3);
    const paper = ground(x, y, new Set(one.closest('svg') ? [one] : []));
    const [high, low] = [light(ink), light(paper)].sort((a, b) => b - a);
    found.push([(high + 0.05) / (low + 0.05), node.textContent.trim().slice(0, 40)]);
  }
  return found;
}"""


def test_every_text_stands_out_from_its_ground(page: Any) -> None:
    page.set_viewport_size({"width": 1280, "height": 30000})
    found = page.evaluate(CONTRASTS)
    assert len(found) >= 18
    assert [one for one in found if one[0] < 4.5] == []


def _heard(page: Any) -> list[tuple[str, str, dict[str, Any]]]:
    """What a screen reader is told: role, name and properties of each part."""
    nodes = page.context.new_cdp_session(page).send("Accessibility.getFullAXTree")
    return [
        (
            one["role"]["value"],
            one.get("name", {}).get("value", ""),
            {each["name"]: each["value"].get("value") for each in one["properties"]},
        )
        for one in nodes["nodes"]
        if not one["ignored"]
    ]


NAMED = ("image", "img", "checkbox", "region", "link", "button")


def test_what_is_heard(page: Any) -> None:
    heard = _heard(page)
    roles = [role for role, _, _ in heard]
    assert roles.count("main") == 1
    if "ticket" not in page.kind:
        assert roles.count("banner") == roles.count("contentinfo") == 1
    assert [one for one in heard if one[0] in NAMED and not one[1].strip()] == []
    drawn = page.locator("svg:not([aria-hidden=true])").count()
    pictures = [name for role, name, _ in heard if role in ("image", "img")]
    assert len(pictures) == drawn
    levels = [more["level"] for role, _, more in heard if role == "heading"]
    assert levels[0] == 1
    assert levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    assert all(name for role, name, _ in heard if role == "heading")
    assert page.evaluate("document.documentElement.lang") == "en-GB"
    assert page.title().strip()


def test_a_page_asks_for_nothing_and_says_nothing(
    browser: Any, written: dict[str, Path]
) -> None:
    for path in written.values():
        asked: list[str] = []
        said: list[str] = []
        page = browser.new_page()
        page.on("request", lambda one, asked=asked: asked.append(one.url))
        page.on("console", lambda one, said=said: said.append(one.text))
        page.on("dialog", lambda one, said=said: said.append(one.message))
        page.goto(path.as_uri())
        assert asked == [path.as_uri()]
        assert said == []
        page.close()
