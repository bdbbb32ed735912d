"""The commands that learn from cases. They parse and print, and decide nothing."""

from __future__ import annotations

from collections.abc import Sequence
from functools import partial
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter
from rich.console import Console

from diagnose.cases.commands import JsonFlag, shop_of
from diagnose.cases.index import all_cases
from diagnose.cases.record import Case
from diagnose.cases.shop import Cases, Shop
from diagnose.cases.waits import told
from diagnose.cli import BAD_INPUT, KnowledgeFolder, ShopFolder, case_app, path_named
from diagnose.home import built_in_folder
from diagnose.knowledge import load_knowledge
from diagnose.language import mark, tr
from diagnose.records import Knowledge
from diagnose.screens import line, new_console, print_json

WITHIN = 60.0
"""Seconds; the effect is shown on all cases that can be ranked again in that time."""

RANKING = mark("Ranking past cases again")
"""What is said while that is done."""


def _base(folder: Path | None) -> Path:
    return folder if folder is not None else built_in_folder()


def _listed(cases: Cases) -> list[tuple[str, Case]]:
    return [(one.id, one.case) for one in cases.kept]


def _end(console: Console, cases: Cases) -> int:
    from diagnose.cases.screens import show_broken

    show_broken(console, cases.broken)
    return BAD_INPUT if cases.broken else 0


def _effect(
    console: Console,
    shop: Shop,
    base: Path,
    now: Knowledge,
    path: Path,
    cases: Sequence[tuple[str, Case]],
) -> None:
    from diagnose.cases.learning_screens import show_effect, show_left
    from diagnose.cases.replay import replay
    from diagnose.model import model_of
    from diagnose.overlay import with_own

    after = model_of(with_own(base, shop.folder, also=[path]))
    outcome = replay(
        model_of(now), after, cases, within=WITHIN, told=partial(told, tr(RANKING))
    )
    show_effect(console, outcome, after)
    if outcome.left:
        show_left(console, outcome, path)


@case_app.command
def learn(
    *,
    unconfirmed: Annotated[
        bool,
        Parameter(negative="", help="Cases without a confirmed cause take part too."),
    ] = False,
    shop: ShopFolder = None,
    knowledge: KnowledgeFolder = None,
) -> int:
    """Work out from the cases how common causes are and how strong the links.

    It writes a draft into the shop's folder of proposals, and shows what it would do
    to the past cases. Nothing changes until the draft is accepted.

    Example: diagnose case learn --shop our-shop
    """
    from diagnose.cases import learning_screens as screens
    from diagnose.cases.learn import learn as learn_from
    from diagnose.cases.proposal import learnt_text, path_for, write_proposal
    from diagnose.model import model_of
    from diagnose.overlay import with_own

    where, base = shop_of(shop), _base(knowledge)
    now = load_knowledge(base, where.folder)
    prior = with_own(base, where.folder, learnt=False)
    cases = all_cases(where, now)
    listed = _listed(cases)
    learnt = learn_from(model_of(prior), listed, unconfirmed=unconfirmed)
    console = new_console()
    if not screens.show_learnt(console, learnt, prior):
        line(console, tr("They give no reason to change anything."))
        return _end(console, cases)
    name = str(path_for(where, "learnt"))
    text = learnt_text(learnt, prior, load_knowledge(base), listed, name)
    path = write_proposal(where, "learnt", text)
    _effect(console, where, base, now, path, listed)
    line(console)
    line(console, tr("Written to"))
    screens.whole(console, str(path), 2)
    screens.how_to_accept(console)
    return _end(console, cases)


@case_app.command
def propose(*, shop: ShopFolder = None, knowledge: KnowledgeFolder = None) -> int:
    """Draft links, strengths, phrases and causes that the cases speak for.

    It looks at cases whose cause came below the third place, or is one that the
    knowledge lacks. Each draft is a file for a person to finish and accept.

    Example: diagnose case propose --shop our-shop
    """
    from diagnose.cases import learning_screens as screens
    from diagnose.cases.proposal import write_proposal
    from diagnose.cases.propose import propose as drafts_of
    from diagnose.model import model_of

    where = shop_of(shop)
    now = load_knowledge(_base(knowledge), where.folder)
    cases = all_cases(where, now)
    listed = _listed(cases)
    drafts = [
        (draft, write_proposal(where, draft.name, draft.text))
        for draft in drafts_of(model_of(now), listed, partial(told, tr(RANKING)))
    ]
    console = new_console()
    screens.show_drafts(console, drafts, len(listed))
    return _end(console, cases)


@case_app.command
def accept(
    file: Annotated[Path, Parameter(converter=path_named)],
    /,
    *,
    shop: ShopFolder = None,
    knowledge: KnowledgeFolder = None,
) -> int:
    """Take a draft into the shop's own knowledge, if it stands every check.

    Example: diagnose case accept our-shop/proposals/2026-03-14-learnt.yaml

    Parameters
    ----------
    file
        The draft that 'case learn' or 'case propose' wrote, or one of your own.
    """
    from diagnose.cases.learning_screens import whole
    from diagnose.cases.proposal import accept as take_in

    where = shop_of(shop)
    path, is_new = take_in(where, _base(knowledge), file)
    console = new_console()
    says = tr("Accepted:") if is_new else tr("It was accepted before:")
    line(console, says)
    whole(console, str(path), 2)
    return 0


@case_app.command
def replay(
    *,
    with_: Annotated[
        Path | None,
        Parameter(
            name="--with", converter=path_named, help="A draft to rank the cases with."
        ),
    ] = None,
    json: JsonFlag = False,
    shop: ShopFolder = None,
    knowledge: KnowledgeFolder = None,
) -> int:
    """Rank every past case again: which get better with a draft, which worse.

    Without a draft the built-in knowledge is held against the shop's own.

    Example: diagnose case replay --with our-shop/proposals/2026-03-14-learnt.yaml
    """
    from diagnose.cases import learning_screens as screens
    from diagnose.cases.replay import replay as rank_again
    from diagnose.model import model_of
    from diagnose.overlay import with_own

    where, base = shop_of(shop), _base(knowledge)
    now = load_knowledge(base, where.folder)
    if with_ is None:
        before, after = load_knowledge(base), now
    else:
        before, after = now, with_own(base, where.folder, also=[with_])
    cases = all_cases(where, now)
    ranking = partial(told, tr(RANKING))
    outcome = rank_again(
        model_of(before), model_of(after), _listed(cases), told=ranking
    )
    if json:
        print_json(screens.effect_data(outcome))
        return 0
    console = new_console()
    screens.show_effect(console, outcome, model_of(after), every=True)
    _end(console, cases)
    return 0
