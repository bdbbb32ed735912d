"""Past cases ranked again, and the whole circle: three cases, a better ranking."""

from __future__ import annotations

import json
import math
from collections.abc import Iterator
from pathlib import Path

import numpy as np
import pytest
from knowledge_copy import SMALL
from shop_draws import Draws

from diagnose import load_knowledge
from diagnose.cases.record import Case, Confirmed
from diagnose.cases.replay import (
    Placed,
    chances,
    mean_place,
    mean_score,
    placed,
    replay,
)
from diagnose.cases.shop import Shop
from diagnose.cli import main
from diagnose.model import Model, model_of
from diagnose.network import NOT_COVERED
from diagnose.proofs import PREFIX
from diagnose.records import Knowledge


def case(cause: str, answers: dict[str, str], date: str = "2026-01-01") -> Case:
    return Case(date=date, confirmed=[Confirmed(cause)], answers=answers)


def test_places_and_scores() -> None:
    """1 is first; equals go by id; what is not on the table comes last."""
    found = {"a": 0.2, "b": 0.6, "c": 0.2}
    assert [placed(found, c).place for c in "bac"] == [1, 2, 3]
    assert placed(found, "d") == Placed(4, 0.0, False)
    both = [Placed(1, 0.5, True), Placed(4, 0.0, False)]
    assert mean_place(both) == 2.5
    assert mean_score(both) == pytest.approx((math.log(0.5) + math.log(1e-4)) / 2)


def test_a_settling_check_does_not_help(small_with_proofs: Knowledge) -> None:
    """The same ranking with and without the answer to the check that settled it."""
    model = Model(small_with_proofs)
    plain = case("slack", {"bands": "yes"})
    settled = case("slack", {"bands": "yes", f"{PREFIX}slack": "yes"})
    assert chances(model, plain) == chances(model, settled)


def test_better_worse_and_passed_over(small_with_proofs: Knowledge) -> None:
    """Each confirmed cause is placed before and after; what has none is passed over."""
    before = Model(small_with_proofs)
    after = Model(load_knowledge(SMALL))
    after.network.odds["nick"] *= 50
    cases = [
        ("a", case("nick", {"bands": "yes"})),
        ("b", case("slack", {"bands": "yes"})),
        ("c", Case(date="2026-01-01")),
        ("d", case("gone", {"bands": "yes"})),
    ]
    outcome = replay(before, after, cases)
    assert [one.id for one in outcome.better] == ["a"]
    assert [one.id for one in outcome.worse] == ["b"]
    assert outcome.passed_over == 2


# the whole circle


def ranked_fourth(knowledge: Knowledge) -> Iterator[tuple[str, dict[str, str]]]:
    """Causes that an opening sign and a finding of no cause of it rank fourth."""
    model = model_of(knowledge)
    signs = [f.id for f in knowledge.recorded().values() if f.opening == "yes"]
    others = [
        f.id
        for f in knowledge.recorded().values()
        if f.role == "check" and f.kind == "yes-no" and f.measured_by is None
        if model.chances_anyway(f.id)["yes"] < 0.05
    ]
    for sign in signs:
        ranked = chances(model, case("nobody", {sign: "yes"}))
        order = sorted(ranked, key=lambda cause: (-ranked[cause], cause))
        for cause in order[2:5]:
            if cause == NOT_COVERED:
                continue
            for other in others[::5]:
                if model.chances_alone(cause, other)["yes"] > 0.05:
                    continue
                answers = {sign: "yes", other: "yes"}
                if placed(chances(model, case(cause, answers)), cause).place == 4:
                    yield cause, answers


def test_the_whole_circle(
    built_in: Knowledge, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """A fault that is ranked fourth; confirmed three times; propose and learn accepted;
    the next one ranks first, and no other past case loses more than one place."""
    cause, answers = next(ranked_fourth(built_in))
    shop = Shop(tmp_path / "shop")
    model = model_of(built_in)
    rng = np.random.default_rng(4)
    for id, other in Draws(model, model.network).cases(12, rng):
        shop.add(other, id)
    for day in ("2026-03-02", "2026-03-09", "2026-03-16"):
        shop.add(case(cause, answers, day))
    before = placed(chances(model, case(cause, answers)), cause)
    assert before.place == 4

    def run(*words: str) -> str:
        code = main(["case", *words, "--shop", str(shop.folder)])
        told = capsys.readouterr()
        assert code == 0, told.err
        wide = [one for one in told.out.splitlines() if len(one) > 80]
        assert all(str(shop.folder) in one for one in wide)
        return told.out

    for command in ("propose", "learn"):
        run(command)
        knowledge = {p: p.read_bytes() for p in shop.knowledge.rglob("*.yaml")}
        stem = f"links-{cause}" if command == "propose" else "learnt"
        (draft,) = shop.proposals.glob(f"*-{stem}.yaml")
        if command == "learn":
            assert "worse" in run("replay", "--with", str(draft))
        assert knowledge == {p: p.read_bytes() for p in shop.knowledge.rglob("*.yaml")}
        assert "Accepted" in run("accept", str(draft))
    own = load_knowledge(None, shop.folder)
    after = placed(chances(model_of(own), case(cause, answers)), cause)
    assert after.place == 1
    past = [(one.id, one.case) for one in shop.all(own).kept]
    outcome = replay(model, model_of(own), past)
    assert max(one.after.place - one.before.place for one in outcome.cases) <= 1
    data = json.loads(run("replay", "--json"))
    assert data["better"] >= 3
    assert len(data["cases"]) == 15


def test_learning_twice_counts_the_cases_once(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Learnt, accepted and learnt again: the same numbers, not stronger ones."""
    shop = Shop(tmp_path / "shop")
    for n in range(30):
        shop.add(case("nick", {"bands": "yes", "nick-felt": "no" if n % 3 else "yes"}))
    words = ["--shop", str(shop.folder), "--knowledge", str(SMALL)]
    assert main(["case", "learn", *words]) == 0
    (first,) = shop.proposals.glob("*.yaml")
    assert main(["case", "accept", str(first), *words]) == 0
    assert main(["case", "learn", *words]) == 0
    capsys.readouterr()
    _, second = sorted(shop.proposals.glob("*.yaml"), key=lambda p: len(p.name))

    def numbers(path: Path) -> str:
        return path.read_text("utf-8").split("made_by")[1]

    assert numbers(first) == numbers(second)


def test_an_empty_shop_and_bad_input(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """No case: a sentence. No shop, no file, a broken case: 2 and a sentence."""
    monkeypatch.delenv("DIAGNOSE_SHOP", raising=False)
    folder = tmp_path / "shop"
    folder.mkdir()
    words = ["--shop", str(folder), "--knowledge", str(SMALL)]
    for command in ("learn", "propose", "replay"):
        assert main(["case", command, *words]) == 0
        assert capsys.readouterr().out.strip().endswith(".")
        assert main(["case", command]) == 2
        assert "No shop folder is named" in capsys.readouterr().err
    assert main(["case", "accept", str(tmp_path / "none.yaml"), *words]) == 2
    assert "there is no such file" in capsys.readouterr().err
    assert main(["case", "replay", "--with", str(tmp_path / "no.yaml"), *words]) == 2
    assert "there is no such file" in capsys.readouterr().err
    shop = Shop(folder)
    shop.add(case("nick", {"bands": "yes"}))
    shop.path("2026-01-01-ffff").write_text("date: nonsense\n")
    assert main(["case", "learn", *words]) == 2
    told = capsys.readouterr()
    assert "'nonsense' is no day" in " ".join((told.out + told.err).split())
    assert "Traceback" not in told.out + told.err
