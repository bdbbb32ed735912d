"""A shop's own knowledge laid over another."""

from __future__ import annotations

import json
import os
import random
import re
from pathlib import Path

import pytest
from knowledge_copy import SMALL, marked

from diagnose import KnowledgeError, load_knowledge
from diagnose.cli import main
from diagnose.errors import FolderError
from diagnose.home import built_in_folder
from diagnose.network import build_network
from diagnose.overlay import number_word, own_changes, with_own
from diagnose.records import Knowledge

NEW_CAUSE = """\
- id: torn-blade
  status: draft
  name: torn blade
  stage: coating
  what: The blade is torn.
  how_common: 0.04
  shows:
  - finding: bands
    strength: 0.8
    because: "In our cases it was so in 8 of 10."
    sources: ["our cases: 2026-03-14-7f3a"]
  settled_by:
  - how: Look.
    minutes: 1
  looks_like:
  - id: nick
    tell_apart: Look closer.
  sources: ["our cases: 2026-03-14-7f3a"]
"""


class Shop:
    """A shop folder that a test writes into."""

    def __init__(self, folder: Path) -> None:
        self.folder = folder

    def write(self, file: str, text: str) -> Path:
        path = self.folder / "knowledge" / file
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(text, encoding="utf-8")
        return path

    def load(self) -> Knowledge:
        return load_knowledge(SMALL, self.folder)

    def faults(self) -> list[str]:
        with pytest.raises(KnowledgeError) as raised:
            self.load()
        return [str(problem) for problem in raised.value.problems]


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    folder = tmp_path / "shop"
    folder.mkdir()
    return Shop(folder)


def test_a_shop_without_knowledge_changes_nothing(tmp_path: Path) -> None:
    """No folder, an empty one, one without any file in it: the same numbers."""
    plain = build_network(load_knowledge(SMALL))
    empty = tmp_path / "empty"
    (empty / "knowledge").mkdir(parents=True)
    for folder in (tmp_path / "none", tmp_path, empty):
        assert build_network(load_knowledge(SMALL, folder)) == plain


def test_a_file_is_no_shop(tmp_path: Path) -> None:
    """A file in place of the folder is told."""
    file = tmp_path / "shop"
    file.write_text("x")
    with pytest.raises(FolderError, match="this is no folder"):
        load_knowledge(SMALL, file)


def test_only_what_is_named_changes(shop: Shop) -> None:
    """A number for how common, another strength; all else is as it was."""
    shop.write(
        "causes/own.yaml",
        "- id: few-coats\n  how_common: 0.2\n  makes:\n"
        "  - {state: thin, strength: 0.425}\n",
    )
    before, after = load_knowledge(SMALL), shop.load()
    network = build_network(after)
    assert network.odds["few-coats"] == pytest.approx(0.25)
    assert dict(network.states["thin"])["few-coats"] == 0.425
    cause, was = after.causes["few-coats"], before.causes["few-coats"]
    assert cause.makes[0].because == was.makes[0].because
    assert cause.shows == was.shows
    assert cause.what == was.what
    assert cause.makes[0].strength == "in 42.5 of 100 cases"
    for other in ("slack", "nick"):
        assert after.causes[other] == before.causes[other]


def test_a_number_reads_as_a_word(shop: Shop) -> None:
    """What is counted is said so, in the words of the reasons."""
    assert number_word(0.42) == "in 42 of 100 cases"
    assert number_word(0.07) == "in 7 of 100 cases"
    assert number_word(0.0035) == "in 0.35 of 100 cases"
    shop.write("causes/own.yaml", "- {id: slack, how_common: 0.07}\n")
    assert shop.load().causes["slack"].how_common == "in 7 of 100 cases"


def test_a_new_record_is_added(shop: Shop) -> None:
    """With all its keys, like a built-in one, and with its settling check."""
    shop.write("causes/own.yaml", NEW_CAUSE)
    known = shop.load()
    assert list(known.causes)[-1] == "torn-blade"
    assert "proof-of-torn-blade" in known.findings
    assert dict(build_network(known).outcomes["bands"][0].makers)["torn-blade"] == 0.8


def test_links_are_laid_over_by_where_they_lead(shop: Shop) -> None:
    """'never' takes a link away, another target adds one, the same one changes it."""
    shop.write(
        "states/own.yaml",
        "- id: thin\n  shows:\n  - {finding: stairs, strength: never}\n"
        "  - {finding: thickness-low, strength: often}\n"
        "  - {finding: bands, strength: rarely, because: Seen., "
        "sources: [common practice]}\n",
    )
    shows = {one.finding: one for one in shop.load().states["thin"].shows}
    assert set(shows) == {"thickness-low", "bands"}
    assert shows["thickness-low"].strength == "often"
    assert shows["thickness-low"].because == "That is what thin means."


def test_phrases_are_added_and_scales_change_by_key(shop: Shop) -> None:
    """A phrase more; one number of a scale, the others as they were."""
    shop.write("findings/own.yaml", "- {id: bands, phrases: [zebra print, stripes]}\n")
    shop.write("scales.yaml", "strengths: {often: 0.5}\nnot_covered_prior: 0.05\n")
    before, known = load_knowledge(SMALL), shop.load()
    added = [*before.findings["bands"].phrases, "zebra print"]
    assert known.findings["bands"].phrases == added
    assert known.scales.strengths == {**before.scales.strengths, "often": 0.5}
    assert known.scales.not_covered_prior == 0.05


def test_a_file_of_changes_holds_every_kind(shop: Shop) -> None:
    """Laid on after the folders, by name; of the learnt ones the last only."""
    shop.write("causes/own.yaml", "- {id: slack, how_common: 0.05}\n")
    learnt = "made_by: learn\ncauses:\n- {id: slack, how_common: %s}\n"
    shop.write(
        "changes/2026-01-01-learnt.yaml",
        learnt % 0.1 + "- {id: nick, how_common: 0.3}\n",
    )
    shop.write("changes/2026-02-01-learnt-2.yaml", learnt % 0.15)
    shop.write("changes/2026-02-01-learnt-10.yaml", learnt % 0.2)
    shop.write("changes/2026-02-02-by-hand.yaml", "states:\n- {id: thin, name: lean}\n")
    known = shop.load()
    assert known.causes["slack"].how_common == number_word(0.2)
    assert known.causes["nick"].how_common == "uncommon"
    assert known.states["thin"].name == "lean"
    prior = with_own(SMALL, shop.folder, learnt=False)
    assert prior.causes["slack"].how_common == number_word(0.05)


@pytest.mark.parametrize(
    ("file", "text", "says"),
    [
        (
            "causes/own.yaml",
            "- id: few-coats\n  how_common: ¦1.5\n",
            "'1.5' is out of range; a number above 0 and below 1",
        ),
        (
            "causes/own.yaml",
            "- id: few-coats\n  how_common: ¦commmon\n",
            "did you mean 'common'?",
        ),
        (
            "causes/own.yaml",
            "- id: ¦few-coat\n  how_common: common\n",
            "did you mean 'few-coats'?",
        ),
        (
            "causes/own.yaml",
            "- id: few-coats\n  ¦how_comon: common\n",
            "did you mean 'how_common'?",
        ),
        (
            "causes/own.yaml",
            "- id: few-coats\n  makes:\n  - state: thin\n    strength: ¦offen\n",
            "did you mean 'often'?",
        ),
        (
            "causes/own.yaml",
            "- id: few-coats\n  makes:\n  - ¦{state: uneven, strength: never}\n",
            "there is no link to 'uneven' to take away",
        ),
        (
            "causes/own.yaml",
            "- id: few-coats\n  makes:\n  - {state: ¦uneven, strength: often}\n",
            "the key 'because' is missing",
        ),
        (
            "causes/own.yaml",
            "- id: few-coats\n  makes:\n  - {state: ¦thinn, strength: often, "
            "because: So., sources: [common practice]}\n",
            "did you mean 'thin'?",
        ),
        (
            "changes/own.yaml",
            "¦cause:\n- {id: slack, how_common: rare}\n",
            "did you mean 'causes'?",
        ),
        (
            "changes/own.yaml",
            "made_by: ¦lern\ncauses: []\n",
            "did you mean 'learn'?",
        ),
        ("scales.yaml", "strengths: {often: ¦2}\n", "2 is out of range"),
        ("scales.yaml", "¦strenths: {often: 0.5}\n", "did you mean 'strengths'?"),
        ("cause/own.yaml", "¦[]\n", "did you mean 'causes'?"),
        ("causes/own.yaml", "¦a: b\n", "a list belongs here"),
        ("causes/own.yaml", "- ¦how_common: rare\n", "the key 'id' is missing"),
        ("causes/own.yaml", "- id: 'few¦-coats\n", ""),
    ],
)
def test_every_fault_is_told_with_the_shops_file_and_line(
    shop: Shop, file: str, text: str, says: str
) -> None:
    """One sentence with file and line, and the nearest valid name."""
    plain, line, _ = marked(text)
    path = shop.write(file, plain)
    told = [one for one in shop.faults() if says in one]
    assert told
    where = path.parent if file.startswith("cause/") else path
    assert told[0].startswith(f"{where}:{line}:")
    assert "Traceback" not in told[0]


def test_a_built_in_file_that_no_longer_fits_says_why(shop: Shop) -> None:
    """The built-in link to a value that the shop took away names the shop's change."""
    shop.write("findings/own.yaml", "- {id: bands, kind: reading, unit: mm}\n")
    inside = [one for one in shop.faults() if str(SMALL) in one]
    assert inside
    assert all("It fits without the shop's own changes." in one for one in inside)


def test_own_lists_each_change_and_where_the_two_disagree(shop: Shop) -> None:
    """From, to, and what it was when the change was written."""
    shop.write(
        "changes/a.yaml",
        "causes:\n- id: few-coats\n  how_common: 0.2\n  was: {how_common: rare}\n"
        "  makes:\n  - state: thin\n    strength: 0.4\n"
        "    was: {strength: almost always}\n    cases: 31 cases\n",
    )
    shop.write("causes/own.yaml", NEW_CAUSE)
    changes = {(one.id, one.part): one for one in own_changes(SMALL, shop.folder)}
    common = changes["few-coats", "how_common"]
    assert (common.before, common.after) == ("common", number_word(0.2))
    assert common.disagrees
    strength = changes["few-coats", "makes thin: strength"]
    assert not strength.disagrees
    assert strength.before == "almost always"
    assert strength.cases == "31 cases"
    assert strength.place.line == 7
    assert changes["torn-blade", ""].before == ""
    assert len(changes) == 3


def test_the_commands_take_a_shop(
    shop: Shop, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """--shop and DIAGNOSE_SHOP; a fault ends with 2 and one sentence."""
    shop.write("causes/own.yaml", "- {id: few-coats, how_common: 0.2}\n")
    small = ["--knowledge", str(SMALL)]
    assert main(["own", "--shop", str(shop.folder), *small]) == 0
    assert "common → in 20 of 100 cases" in capsys.readouterr().out
    assert main(["show", "few-coats", "--shop", str(shop.folder), *small]) == 0
    assert "How common: in 20 of 100 cases." in capsys.readouterr().out
    monkeypatch.setenv("DIAGNOSE_SHOP", str(shop.folder))
    assert main(["own", "--json", *small]) == 0
    (change,) = json.loads(capsys.readouterr().out)
    assert change["to"] == "in 20 of 100 cases"
    assert main(["check", str(SMALL)]) in (0, 2)
    capsys.readouterr()
    shop.write("causes/own.yaml", "- {id: few-coats, how_common: 7}\n")
    assert main(["show", "few-coats", *small]) == 2
    told = capsys.readouterr().err
    assert "own.yaml:1:" in told
    assert "Traceback" not in told
    monkeypatch.delenv("DIAGNOSE_SHOP")
    assert main(["own", *small]) == 2
    assert "No shop folder is named" in capsys.readouterr().err


def test_every_line_fits_the_screen(
    shop: Shop, capsys: pytest.CaptureFixture[str], built_in: Knowledge
) -> None:
    """What 'own' prints is at most 80 columns wide, but for paths."""
    for cause in list(built_in.causes)[:20]:
        text = f"- {{id: {cause}, how_common: 0.2, what: {'long words ' * 30}}}\n"
        shop.write(f"causes/{cause}.yaml", text)
    assert main(["own", "--shop", str(shop.folder)]) == 0
    out = capsys.readouterr().out
    assert all(len(one) <= 80 for one in out.splitlines() if os.sep not in one)


def test_every_built_in_record_may_be_changed_by_itself(tmp_path: Path) -> None:
    """The built-in knowledge laid over itself is the same, and changes nothing."""
    folder = tmp_path / "knowledge"
    folder.mkdir(parents=True)
    for kind in ("causes", "states", "findings", "fixes", "rules"):
        (folder / kind).symlink_to(built_in_folder() / kind)
    known = load_knowledge(None, tmp_path)
    plain = load_knowledge()
    assert known.causes == plain.causes
    assert known.fixes == plain.fixes
    assert own_changes(built_in_folder(), tmp_path) == []


def test_a_damaged_file_never_ends_in_a_traceback(shop: Shop) -> None:
    """300 damaged files of changes: each is taken, or every fault has file and line."""
    whole = (
        "made_by: hand\nabout: ours\n"
        "causes:\n- id: few-coats\n  how_common: 0.2\n  was: {how_common: rare}\n"
        "  makes:\n  - state: thin\n    strength: 0.4\n    was: {strength: often}\n"
        "    cases: 31 cases\n  - {state: uneven, strength: rarely, because: So., "
        "sources: [common practice]}\n"
        "findings:\n- id: bands\n  phrases: [zebra, tiger]\n  seen_anyway: 0.1\n"
        "- id: coats\n  choices:\n  - {id: one, phrases: [just one]}\n"
        "scales:\n  strengths: {often: 0.5}\n  was: {strengths: {often: 0.6}}\n"
    )
    draw = random.Random(1)
    odd = ["[]", "{}", "''", "- x", "a: b", "never", "1e9", "nan", "[[x]]", "was", ":"]
    taken = 0
    for _ in range(300):
        lines = whole.splitlines()
        for _ in range(draw.choice([1, 1, 2])):
            at = draw.randrange(len(lines))
            how = draw.randrange(5)
            if how == 0:
                del lines[at]
            elif how == 1:
                lines.insert(at, lines[draw.randrange(len(lines))])
            elif how == 2:
                lines[at] = lines[at].partition(":")[0] + ": " + draw.choice(odd)
            elif how == 3:
                place = draw.randrange(len(lines[at]) + 1)
                lines[at] = (
                    lines[at][:place] + draw.choice("x: [{'") + lines[at][place:]
                )
            else:
                lines[at] = " " * draw.randrange(5) + lines[at].lstrip()
        path = shop.write("changes/a.yaml", "\n".join(lines))
        try:
            shop.load()
            own_changes(SMALL, shop.folder)
            taken += 1
        except KnowledgeError as error:
            for problem in error.problems:
                assert problem.place.file in (str(path), *map(str, SMALL.rglob("*")))
    assert 10 < taken < 290


# tables

MESH = """\
- id: plain-77-55
  status: draft
  count: 77
  thread: 55
  opening: 70
  sources: [common practice]
"""


def test_a_shop_has_meshes_and_lights_of_its_own(
    shop: Shop, capsys: pytest.CaptureFixture[str]
) -> None:
    """One is added, one of a known mesh and of a known light changes; `own` lists them,
    and the tables of `reckon` have them."""
    shop.write("meshes.yaml", MESH + "- {id: plain-90-40, opening: 58}\n")
    shop.write("lights.yaml", "- {id: lamp-light, was: {cut: x}, blue_light: 0.3}\n")
    known = shop.load()
    assert known.meshes["plain-77-55"].opening == 70
    assert (known.meshes["plain-90-40"].count, known.meshes["plain-90-40"].opening) == (
        90,
        58,
    )
    assert known.lights["lamp-light"].blue_light == 0.3
    told = {
        (one.kind, one.id, one.part): one for one in own_changes(SMALL, shop.folder)
    }
    assert told["meshes", "plain-77-55", ""].after == "count 77, thread 55, opening 70"
    opening = told["meshes", "plain-90-40", "opening"]
    assert (opening.before, opening.after) == ("60", "58")
    assert str(opening.place).startswith(f"{shop.folder}/knowledge/meshes.yaml:7:")
    assert told["lights", "lamp-light", "blue_light"].before == "0.2"
    words = ["--shop", str(shop.folder), "--knowledge", str(SMALL)]
    assert main(["own", *words]) == 0
    assert main(["reckon", "meshes", *words]) == 0
    out = capsys.readouterr().out
    assert "plain-77-55 (meshes): added: count 77, thread 55" in out
    assert "2 changed, 1 added." in out
    assert "plain-77-55" in out.split("2 changed")[0]
    assert re.search(r"\n77 +196 +55 +70 ", out)


@pytest.mark.parametrize(
    ("file", "text", "says"),
    [
        (
            "meshes.yaml",
            MESH.replace("thread: 55", "¦thread: 200"),
            "threads of 200 µm fill the mesh",
        ),
        (
            "meshes.yaml",
            MESH.replace("count: 77", "¦count: many"),
            "'many' is not a number",
        ),
        ("meshes.yaml", MESH.replace("opening: 70", "¦openning: 70"), "'opening'?"),
        (
            "meshes.yaml",
            MESH.replace("sources: [common practice]", "sources: [¦s9/s9-c9]"),
            "there is no source 's9'",
        ),
        ("meshes.yaml", "¦- {id: plain-90-4, opening: 5}\n", "plain-90-40"),
        ("lights.yaml", "¦id: x\n", "a list belongs here"),
        ("lights.yaml", "- {id: lamp-light, ¦below_450: 120}\n", "from 0 up to 100"),
    ],
)
def test_tables_of_a_shop_stand_the_same_checks(
    file: str, text: str, says: str, shop: Shop
) -> None:
    """Each fault is named by the shop's file and line."""
    plain, line, _ = marked(text)
    shop.write(file, plain)
    (fault,) = shop.faults()
    assert fault.startswith(f"{shop.folder}/knowledge/{file}:{line}:")
    assert says in fault


def test_a_file_of_changes_may_hold_meshes(shop: Shop) -> None:
    """As it may hold records of any other kind."""
    mesh = MESH.replace("- id", "  - id").replace("\n  ", "\n    ")
    shop.write("changes/ours.yaml", f"meshes:\n{mesh}")
    assert "plain-77-55" in shop.load().meshes
