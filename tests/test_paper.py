"""Pages for paper: whole, self-contained, safe with any text, and fit to be hung up."""

from __future__ import annotations

import re
import shutil
import time
from html.parser import HTMLParser
from itertools import combinations, pairwise
from pathlib import Path
from typing import Any

import pytest

from diagnose import Consultation
from diagnose.cases.record import Case
from diagnose.cli import main
from diagnose.errors import AnswerError
from diagnose.paper.page import TEMPLATES
from diagnose.paper.procedure import procedure
from diagnose.paper.report import Told, report, ticket, told_in
from diagnose.paper.trail import diagram
from diagnose.records import Knowledge

HOSTILE = (
    '<script>alert("x")</script> & {{ 1234 * 5678 }} \u202e\x07 漢字 العربية '
    + "w" * 3000
)
CASES = Path(__file__).parent.parent / "cases"
VOID = {"meta", "input", "br", "link", "img", "hr"}
SHEET = """\
said: the edges print like little stairs
set_up: {coats-put-on: one, frame-kind: aluminium}
answers: {print-side-feels-woven: "yes", pinholes-seen: "no"}
readings: {eom: 6 ± 2 %, tension: 14 N/cm, room-humidity: 65 %}
"""
MANY = """\
stage: press
set_up: {ink-kind: water-based, drying-time-short: "yes"}
answers: {breaks-down-on-press: "yes", pinholes-seen: "yes", contact-gap-seen: "yes"}
readings: {room-humidity: 65 %}
"""
PAPERS = {"A4": (210, 297), "letter": (215.9, 279.4)}


class Page(HTMLParser):
    """What a page is made of; the parser knows no repairs, so it has to be whole."""

    def __init__(self, html: str) -> None:
        super().__init__()
        self.open: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.text = ""
        self.feed(html)
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: Any) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: Any) -> None:
        self.tags.append((tag, dict(attrs)))

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        if "style" not in self.open:
            self.text += data

    def named(self, tag: str) -> list[dict[str, str | None]]:
        return [attrs for name, attrs in self.tags if name == tag]


@pytest.fixture
def told(built_in: Knowledge, tmp_path: Path) -> Told:
    path = tmp_path / "my-screen.yaml"
    path.write_text(SHEET, "utf-8")
    return told_in(path, built_in)


def made(kind: str, told: Told) -> str:
    """A page of a kind."""
    if kind == "procedure":
        return procedure(told.consultation.knowledge, "room-light")
    return report(told) if kind == "report" else ticket(told)


@pytest.fixture(params=["report", "ticket", "procedure"])
def page(request: pytest.FixtureRequest, told: Told) -> str:
    return made(request.param, told)


def test_structure(page: str) -> None:
    found = Page(page)
    assert found.named("html")[0]["lang"] == "en-GB"
    assert len(found.named("main")) == len(found.named("h1")) == 1
    levels = [int(tag[1]) for tag, _ in found.tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1
    assert all(b <= a + 1 for a, b in pairwise(levels))
    ids = [a["id"] for _, a in found.tags if a.get("id")]
    assert len(ids) == len(set(ids))
    for _, attrs in found.tags:
        for word in (attrs.get("aria-labelledby") or attrs.get("for") or "").split():
            assert word in ids
    labelled = {a["for"] for a in found.named("label")}
    assert all(a["id"] in labelled for a in found.named("input"))
    for attrs in found.named("svg"):
        assert attrs.get("aria-hidden") == "true" or attrs.get("role") == "img"


def test_needs_nothing_else(page: str) -> None:
    assert not Page(page).named("script") + Page(page).named("link")
    plain = page.replace('xmlns="http://www.w3.org/2000/svg"', "").replace(
        'xmlns:xlink="http://www.w3.org/1999/xlink"', ""
    )
    assert not re.search(r'(src|href)="(?!#)|url\((?!#)|@import|\son\w+="', plain)


def test_says_what_matters(told: Told) -> None:
    text = Page(report(told)).text
    assert "too few coats of emulsion" in text
    for moment in told.consultation.knowledge.moments.values():
        assert moment.name in text
        assert moment.name in Page(ticket(told)).text
    for one in told.consultation.plan().parts["remake"][0].fix.cautions:
        assert told.consultation.knowledge.cautions[one].danger in text


def test_no_fix_or_check_is_printed_without_its_cautions(
    built_in: Knowledge, tmp_path: Path
) -> None:
    path = tmp_path / "many.yaml"
    path.write_text(MANY, "utf-8")
    told = told_in(path, built_in)
    held, html = told.consultation, report(told)
    text, small = Page(html).text, Page(ticket(told)).text
    printed = [fix for fix in built_in.fixes.values() if fix.how in text]
    assert len(printed) >= 3
    named = {id for fix in printed for id in fix.cautions}
    for one in held.ranking().causes[:1]:
        check = built_in.causes[one.cause].settled_by[0]
        assert check.how in text
        assert check.how in small
        named |= set(check.cautions)
        for id in check.cautions:
            assert built_in.cautions[id].name in small
    for id, _ in held.sheet.answers.items():
        if built_in.findings[id].pictured:
            named |= set(built_in.findings[id].cautions)
    assert len(named) >= 4
    for id in named:
        caution = built_in.cautions[id]
        name = f"{caution.name[:1].upper()}{caution.name[1:]}"
        whole = f"! {name}. {caution.danger} {caution.do} {caution.ask}"
        assert text.count(whole) == 1, id


@pytest.mark.parametrize("text", [SHEET, MANY])
def test_a_trail_runs_from_left_to_right_and_no_box_covers_another(
    text: str, built_in: Knowledge, tmp_path: Path
) -> None:
    path = tmp_path / "trail.yaml"
    path.write_text(text, "utf-8")
    held = told_in(path, built_in).consultation
    drawn = [diagram(held.look, one) for one in held.ranking().causes[:3]]
    assert drawn[0] is not None
    for one in filter(None, drawn):
        assert all(thread.begin[0] < thread.end[0] for thread in one.threads)
        for box in one.boxes:
            assert 0 <= box.x <= box.x + box.wide <= one.wide + 0.01
            assert 0 <= box.y <= box.y + box.tall <= one.tall
        for a, b in combinations(one.boxes, 2):
            apart = a.x + a.wide <= b.x or b.x + b.wide <= a.x
            assert apart or a.y + a.tall <= b.y or b.y + b.tall <= a.y


def test_what_was_tried_and_helped_comes_first(
    built_in: Knowledge, tmp_path: Path
) -> None:
    path = tmp_path / "mended.yaml"
    path.write_text(SHEET, "utf-8")
    first, second = told_in(path, built_in).consultation.plan().parts["remake"][:2]
    path.write_text(f'{SHEET}tried: {{{second.fix.id}: "yes"}}\n', "utf-8")
    text = Page(report(told_in(path, built_in))).text
    assert text.index(second.fix.how) < text.index("Why, cause by cause")
    assert "It was tried, and it helped." in text
    assert first.fix.how not in text[: text.index("Why, cause by cause")]


def test_hostile_text_is_text(told: Told) -> None:
    sheet = told.consultation.sheet
    sheet.said = [HOSTILE]
    case = Case(date="2026-01-01", who=HOSTILE, groups={HOSTILE: HOSTILE})
    case.notes = HOSTILE
    bad = Told(told.consultation, HOSTILE, case)
    for html in (report(bad), ticket(bad)):
        assert not Page(html).named("script")
        assert "alert(" in Page(html).text
        assert "7006652" not in html
        assert "\u202e" not in html
        assert "\x07" not in html
    assert "漢字 العربية" in Page(report(bad)).text


def test_many_answers_are_small_and_quick(built_in: Knowledge) -> None:
    held = Consultation(built_in)
    signs = [f for f in built_in.recorded().values() if f.kind == "yes-no"]
    for number, one in enumerate([f for f in signs if not f.measured_by][:40]):
        held.answer(one.id, "yes" if number % 3 == 0 else "no")
    held.ranking()
    start = time.process_time()
    html = report(Told(held, "many"))
    assert time.process_time() - start < 1
    assert len(html.encode()) < 2_000_000


def _light(colour: str) -> float:
    """Relative luminance (WCAG 2.2)."""
    parts = [int(colour[n : n + 2], 16) / 255 for n in (1, 3, 5)]
    red, green, blue = (
        one / 12.92 if one <= 0.04045 else ((one + 0.055) / 1.055) ** 2.4
        for one in parts
    )
    return 0.2126 * red + 0.7152 * green + 0.0722 * blue


def _contrast(one: str, other: str) -> float:
    high, low = sorted((_light(one), _light(other)), reverse=True)
    return (high + 0.05) / (low + 0.05)


def test_contrast() -> None:
    css = (TEMPLATES / "style.css").read_text("utf-8")
    colours = dict(re.findall(r"--(\w+): (#[0-9a-f]{6})", css))
    grounds = {colours[c] for c in re.findall(r"background: var\(--(\w+)\)", css)}
    grounds.discard(colours["ink"])  # a ticked box; no text stands on it
    for colour in re.findall(r"[; {]color: var\(--(\w+)\)", css):
        assert all(_contrast(colours[colour], ground) >= 4.5 for ground in grounds)
    assert _contrast(colours["line"], colours["paper"]) >= 3
    assert not re.findall(r"[^-]color: #", css)


def _laid_out(html: str, paper: str) -> Any:
    weasyprint = pytest.importorskip("weasyprint")
    size = weasyprint.CSS(string=f"@page {{ size: {paper} }}")
    return weasyprint.HTML(string=html).render(stylesheets=[size])


def _right_edges(box: Any) -> Any:
    yield box, box.position_x + box.width
    for child in getattr(box, "children", ()):
        if isinstance(getattr(child, "width", None), (int, float)):
            yield from _right_edges(child)


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize(
    ("kind", "paper", "most"),
    [
        *(("report", "A4", 4), ("report", "letter", 5)),
        *(("ticket", "A4", 1), ("ticket", "letter", 1)),
        ("procedure", "A4", 4),
    ],
)
def test_fits_on_paper(told: Told, kind: str, paper: str, most: int) -> None:
    pages = _laid_out(made(kind, told), paper).pages
    assert len(pages) <= most
    for one in pages:
        edge = one._page_box.margin_left + one._page_box.width + 1
        assert all(right <= edge for _, right in _right_edges(one._page_box))


@pytest.mark.filterwarnings("ignore")
@pytest.mark.parametrize("paper", PAPERS)
def test_ticket_is_half_a_page(told: Told, paper: str) -> None:
    (one,) = _laid_out(ticket(told), paper).pages
    boxes = [
        box
        for box, _ in _right_edges(one._page_box)
        if getattr(box.element, "tag", "") == "main"
    ]
    bottom = max(box.position_y + box.border_height() for box in boxes)
    assert bottom * 25.4 / 96 <= PAPERS[paper][1] / 2


def test_every_stage_has_a_procedure(built_in: Knowledge) -> None:
    for stage in built_in.stages:
        assert Page(procedure(built_in, stage)).named("h2")
    with pytest.raises(AnswerError, match="there is no stage 'dryin'"):
        procedure(built_in, "dryin")


@pytest.fixture
def harbour(tmp_path: Path) -> Path:
    """A copy of the imagined shop, with a number and a reading of its own."""
    shop = tmp_path / "harbour"
    shutil.copytree(CASES / "harbour-street", shop)
    (shop / "knowledge" / "windows").mkdir(parents=True, exist_ok=True)
    (shop / "knowledge" / "windows" / "ours.yaml").write_text(
        "- {id: emulsion-over-mesh, low: 12, high: 22}\n", "utf-8"
    )
    return shop


def test_a_shops_own_numbers_stand_in_its_pages(
    harbour: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    out, ours = tmp_path / "out", ["--shop", str(harbour)]
    id = "2026-01-22-36bf"  # a case in which the emulsion over the mesh was measured

    def written(*words: str) -> str:
        out.mkdir(exist_ok=True)
        file = out / f"{len(list(out.iterdir()))}.html"
        kind, *rest = words
        assert main([kind, *rest, str(file), *ours]) == 0
        return file.read_text("utf-8")

    by_id, by_file = (
        written("report", one) for one in (id, str(harbour / "cases" / f"{id}.yaml"))
    )
    assert by_id == by_file
    assert "below the window (12 to 22 %)" in by_id
    assert "window (10 to 25 %)" not in by_id
    kept = tmp_path / "kept"
    kept.mkdir()
    consultation = kept / "consultation-2026-01-01-000000-1.yaml"
    consultation.write_text(SHEET, "utf-8")
    newest = written("report", "--keep-in", str(kept))
    assert "12 to 22 %" in newest
    assert "too few coats" in written("ticket", id)
    text = " ".join(Page(written("procedure", "coating")).text.split())
    assert "12 to 22 %" in text
    assert "This shop’s own; built in: 10 to 25 %" in text
    assert "Our one case: emulsion over mesh 4 %" in text
    capsys.readouterr()
    assert main(["report", "2026-01-22-36bx", *ours]) == 2
    assert f"did you mean {id!r}" in capsys.readouterr().err


def test_commands(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    sheet, out = tmp_path / "s.yaml", tmp_path / "out.html"
    sheet.write_text(SHEET, "utf-8")
    assert main(["report", str(sheet), str(out)]) == 0
    assert "Written: " in capsys.readouterr().out
    assert main(["report", str(sheet), str(out)]) == 2
    assert "is there already" in capsys.readouterr().err
    kept = tmp_path / "kept"
    assert main(["ticket", "--keep-in", str(kept)]) == 2
    assert "no consultation is kept there" in capsys.readouterr().err
    kept.mkdir()
    sheet.rename(kept / "consultation-2026-01-01-000000-1.yaml")
    assert main(["ticket", str(tmp_path / "t.html"), "--keep-in", str(kept)]) == 0
    assert "oo few coats" in (tmp_path / "t.html").read_text("utf-8")
    assert main(["procedure", "drying", str(tmp_path / "d.txt")]) == 2
    assert "ends in .html" in capsys.readouterr().err
    (tmp_path / "empty.yaml").write_text("stage: press\n", "utf-8")
    assert main(["report", str(tmp_path / "empty.yaml")]) == 2
    assert "nothing was said of what went wrong" in capsys.readouterr().err
