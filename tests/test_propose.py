"""Drafts from cases that the knowledge did not see coming."""

from __future__ import annotations

from pathlib import Path

import pytest
from knowledge_copy import SMALL
from scipy.stats import binom  # type: ignore[import-untyped]

from diagnose import KnowledgeError, load_knowledge
from diagnose.cases.proposal import accept, write_proposal
from diagnose.cases.propose import Draft, at_most, propose
from diagnose.cases.record import Case, Confirmed
from diagnose.cases.replay import chances, placed
from diagnose.cases.shop import Shop
from diagnose.model import Model
from diagnose.overlay import with_own
from diagnose.records import Knowledge

Cases = list[tuple[str, Case]]


def numbered(cases: list[Case]) -> Cases:
    return [(f"2026-01-01-{n:04x}", case) for n, case in enumerate(cases)]


def case(cause: str, answers: dict[str, str], **parts: object) -> Case:
    """A case with one confirmed cause (or one in free words, in quotes)."""
    named = Confirmed(other=cause[1:]) if cause[:1] == '"' else Confirmed(cause)
    made = Case(date="2026-01-01", confirmed=[named], answers=answers)
    for name, value in parts.items():
        setattr(made, name, value)
    return made


@pytest.fixture
def shop(tmp_path: Path) -> Shop:
    return Shop(tmp_path / "shop")


@pytest.fixture(scope="module")
def small_model() -> Model:
    return Model(load_knowledge(SMALL))


def drafts(model: Model, cases: list[Case]) -> dict[str, Draft]:
    return {draft.name: draft for draft in propose(model, numbered(cases))}


@pytest.mark.parametrize("count", [0, 1, 7, 40])
@pytest.mark.parametrize("share", [0.001, 0.02, 0.5, 0.97])
def test_the_binomial_is_that_of_scipy(count: int, share: float) -> None:
    """The chance of so many or fewer of 40, to nine digits."""
    assert at_most(count, 40, share) == pytest.approx(binom.cdf(count, 40, share))
    assert at_most(5, 100_000, 0.5) == 0.0


def test_cases_that_were_seen_coming_give_no_draft(small_model: Model) -> None:
    """Three nicked troughs with what a nicked trough shows: nothing to draft."""
    cases = [case("nick", {"bands": "yes", "nick-felt": "yes"})] * 3
    assert drafts(small_model, cases) == {}


def missed(model: Model, count: int) -> list[Case]:
    """Cases of too few coats that show in bands only, which it does not."""
    made = [case("few-coats", {"bands": "yes", "gives": "no"}) for _ in range(count)]
    ranked = chances(model, made[0])
    assert placed(ranked, "few-coats").place >= 3
    return made


def test_a_finding_that_is_there_too_often_becomes_a_link(
    small_model: Model, shop: Shop, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The draft names the cases, and read back it holds the link; the cause then comes
    further up."""
    monkeypatch.setattr("diagnose.cases.propose.LOW", 1)
    cases = missed(small_model, 4)
    draft = drafts(small_model, cases)["links-few-coats"]
    assert "2026-01-01-0000" in draft.text
    path = write_proposal(shop, draft.name, draft.text)
    known = with_own(SMALL, shop.folder, also=[path])
    (link,) = [s for s in known.causes["few-coats"].shows if s.finding == "bands"]
    assert 0.5 < known.scales.strengths[link.strength] < 0.9
    assert link.sources[0].startswith("our cases: 2026-01-01-0000")
    before = placed(chances(small_model, cases[0]), "few-coats")
    after = placed(chances(Model(known), cases[0]), "few-coats")
    assert after.place < before.place


def test_one_case_gives_no_draft(
    small_model: Model, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Once is chance."""
    monkeypatch.setattr("diagnose.cases.propose.LOW", 1)
    assert drafts(small_model, missed(small_model, 1)) == {}


def test_a_link_that_never_shows_gets_another_strength(
    small_model: Model, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Twelve slack screens that did not give: the strength of that link goes down."""
    monkeypatch.setattr("diagnose.cases.propose.LOW", 0)
    cases = [case("slack", {"bands": "yes", "gives": "no"}) for _ in range(12)]
    text = drafts(small_model, cases)["links-slack"].text
    assert "finding: gives" in text
    assert "strength: usually" in text.split("was:")[1]


def test_words_that_nothing_was_made_of_become_a_phrase(
    small_model: Model, shop: Shop
) -> None:
    """Said in three cases with stairs and in none without; read back it is heard."""
    cases = [
        case("few-coats", {"stairs": "yes"}, not_understood=[words])
        for words in ("the zigzag rim again", "zigzag rim on Monday", "a zigzag rim")
    ]
    cases += [
        case("slack", {"bands": "yes"}, not_understood=["came in late"])
        for _ in range(3)
    ]
    draft = drafts(small_model, cases)["phrases"]
    assert "zigzag rim" in draft.text
    path = write_proposal(shop, draft.name, draft.text)
    known = with_own(SMALL, shop.folder, also=[path])
    assert "zigzag rim" in known.findings["stairs"].phrases
    heard = Model(known).listener.listen("there is a zigzag rim").heard
    assert [one.finding for one in heard] == ["stairs"]


def test_a_cause_in_free_words_becomes_a_record_to_finish(
    small_model: Model, shop: Shop
) -> None:
    """With what it showed, the cases, and what a person has to fill in; as long as that
    is not done it can't be accepted, and nothing is changed."""
    cases = [
        case('"cat on the wet screen', {"bands": "yes"}),
        case('"a cat on the wet screen', {"bands": "yes"}),
        case('"cat on wet screen', {"bands": "yes", "stairs": "no"}),
        case("nick", {"bands": "yes"}),
    ]
    draft = drafts(small_model, cases)["cause-cat-on-the-wet-screen"]
    assert "status: draft" in draft.text
    assert "finding: bands" in draft.text
    path = write_proposal(shop, draft.name, draft.text)
    known = with_own(SMALL, shop.folder, also=[path])
    assert known.causes["cat-on-the-wet-screen"].status == "draft"
    with pytest.raises(KnowledgeError) as raised:
        accept(shop, SMALL, path)
    told = str(raised.value)
    assert "this is still to be written: one sentence on what was done" in told
    assert all(":" in one for one in told.splitlines())
    assert not (shop.knowledge / "changes").exists()


def test_what_is_accepted_stands_in_the_shops_knowledge(shop: Shop) -> None:
    """Copied whole; a second time it is there already; another one of the same name
    gets another name; a faulty one changes nothing."""
    path = write_proposal(shop, "by-hand", "causes:\n- {id: nick, how_common: 0.1}\n")
    taken, is_new = accept(shop, SMALL, path)
    assert is_new
    assert taken.parent == shop.knowledge / "changes"
    assert taken.read_text() == path.read_text()
    assert accept(shop, SMALL, path) == (taken, False)
    path.write_text("causes:\n- {id: nick, how_common: 0.2}\n")
    other, is_new = accept(shop, SMALL, path)
    assert is_new
    assert other != taken
    path.write_text("causes:\n- {id: nickk, how_common: 0.2}\n")
    with pytest.raises(KnowledgeError, match="did you mean 'nick'"):
        accept(shop, SMALL, path)
    assert len(list((shop.knowledge / "changes").glob("*.yaml"))) == 2


def test_drafts_of_the_built_in_read_back(built_in: Knowledge, tmp_path: Path) -> None:
    """Whatever is drafted from odd cases can be laid on, and fits 88 columns."""
    model = Model(built_in)
    causes = sorted(built_in.causes)
    signs = [f.id for f in built_in.findings.values() if f.opening == "yes"]
    cases = []
    for n in range(0, 12, 2):
        for _ in range(3):
            answers = dict.fromkeys(signs[3 * n : 3 * n + 2], "yes")
            cases.append(case(causes[7 * n], answers))
            cases.append(case(f'"odd thing {n}: it’s #1', answers))
    found = propose(model, numbered(cases))
    assert len(found) >= 4
    shop = Shop(tmp_path / "shop")
    for draft in found:
        assert all(len(one) <= 88 for one in draft.text.splitlines())
        path = write_proposal(shop, draft.name, draft.text)
        with_own(
            Path(built_in.places["scales/scales"].file).parent, shop.folder, also=[path]
        )


def test_what_is_usual_in_the_shop_is_no_sign_of_a_cause(
    small_model: Model, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Everyone here coats many times: that says nothing of slack mesh. Where only the
    slack screens were coated so, it does."""
    monkeypatch.setattr("diagnose.cases.propose.LOW", 0)

    def drafted(other: str) -> bool:
        cases = []
        for n in range(14):
            made = case("slack" if n < 6 else "nick", {"bands": "yes"})
            made.set_up = {"coats": "many" if n < 6 else other}
            cases.append(made)
        found = drafts(small_model, cases)
        return "links-slack" in found and "coats" in found["links-slack"].text

    assert "many" in small_model.network.values("coats")
    assert not drafted("many")
    assert drafted("usual")
