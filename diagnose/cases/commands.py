"""The commands `diagnose case …`. They parse and print, and decide nothing."""

from __future__ import annotations

from collections.abc import Sequence
from pathlib import Path
from typing import Annotated

from cyclopts import Parameter

from diagnose.cases.shop import Shop
from diagnose.cases.waits import reading
from diagnose.cli import BAD_INPUT, KnowledgeFolder, ShopFolder, case_app, path_named
from diagnose.errors import AnswerError
from diagnose.language import tr
from diagnose.records import Knowledge
from diagnose.screens import line, new_console, print_json, show_written
from diagnose.shelf import SHOP_VARIABLE, near_shop, shop_folder

JsonFlag = Annotated[bool, Parameter(negative="", help="Print one JSON object.")]
Labels = Annotated[
    list[str] | None,
    Parameter(name="--group", negative="", help="Only those so labelled: line=2."),
]


def shop_of(named: Path | None, *, new: bool = False) -> Shop:
    """The shop that is worked in.

    Args:
        named: its folder; else the one that the environment names.
        new: whether the folder may be one that is yet to be made.

    Raises:
        AnswerError: none is named.
        FolderError: there is no such folder.
    """
    folder = shop_folder(named, new=new)
    if folder is None:
        raise AnswerError(
            tr(
                "No shop folder is named: name it with --shop FOLDER or the "
                "environment variable {variable}. It is made when the first case is "
                "kept.",
                variable=SHOP_VARIABLE,
            )
        )
    if not folder.exists():
        says = tr(
            "{folder} is a new shop folder; it is made when the first case is kept.",
            folder=folder,
        )
        line(new_console(), f"{says}{near_shop(folder)}")
    return Shop(folder, reading)


def knowledge_for(folder: Path | None, shop: Shop) -> Knowledge:
    """The knowledge that a shop's cases are read with."""
    from diagnose.knowledge import load_knowledge

    return load_knowledge(folder, shop.folder)


@case_app.command
def add(
    *,
    shop: ShopFolder = None,
    keep_in: Annotated[
        Path | None,
        Parameter(
            converter=path_named, help="The folder that consultations are kept in."
        ),
    ] = None,
    knowledge: KnowledgeFolder = None,
) -> int:
    """Keep a fault as a case: what was seen, what it was, what put it right.

    It asks a line at a time; Enter alone skips a step. Every answer is on disk before
    the next question.

    Example: diagnose case add --shop our-shop
    """
    from diagnose.cases.guide import Guide
    from diagnose.shelf import consultations_folder
    from diagnose.terminal import line_reader

    where = shop_of(shop, new=True)
    console = new_console()
    known = knowledge_for(knowledge, where)
    guide = Guide(where, known, console, line_reader(console))
    return guide.add(consultations_folder(keep_in))


@case_app.command(name="list")
def list_(
    *,
    cause: str = "",
    group: Labels = None,
    since: str = "",
    shop: ShopFolder = None,
    knowledge: KnowledgeFolder = None,
) -> int:
    """List the cases, the oldest first.

    Example: diagnose case list --cause coats-too-few --since 2026-01-01

    Parameters
    ----------
    cause
        Only those with this confirmed cause.
    since
        Only those from this day on, such as 2026-01-31.
    """
    from diagnose.cases.choose import cause_named, chosen, labels
    from diagnose.cases.index import all_cases
    from diagnose.cases.screens import show_broken, show_list

    where = shop_of(shop)
    known = knowledge_for(knowledge, where)
    cases = all_cases(where, known)
    wanted = cause_named(cause, known, cases.kept) if cause else ""
    found = chosen(cases.kept, wanted, labels(group or ()), since)
    console = new_console()
    show_list(console, found, known)
    show_broken(console, cases.broken, found)
    return BAD_INPUT if cases.broken else 0


@case_app.command
def show(
    id: str,
    /,
    *,
    json: JsonFlag = False,
    shop: ShopFolder = None,
    knowledge: KnowledgeFolder = None,
) -> int:
    """Show one case as a page.

    Example: diagnose case show 2026-03-14-7f3a

    Parameters
    ----------
    id
        The case's id, as 'case list' shows it.
    """
    from diagnose.cases.record import plain
    from diagnose.cases.screens import show_case

    where = shop_of(shop)
    known = knowledge_for(knowledge, where)
    kept = where.read(id, known)
    if json:
        print_json({"id": id, **plain(kept.case)})
    else:
        show_case(new_console(), kept, known)
    return 0


@case_app.command
def correct(
    id: str,
    /,
    *,
    cause: str = "",
    other: str = "",
    because: str,
    how: str = "",
    shop: ShopFolder = None,
    knowledge: KnowledgeFolder = None,
) -> int:
    """Correct the confirmed cause of a case; the old one stays on record.

    Example: diagnose case correct ID --cause exposed-damp --because "it was damp"

    Parameters
    ----------
    id
        The case's id.
    cause
        The id of the cause that it was.
    other
        What it was in your own words, where no cause of the knowledge fits.
    because
        Why the case was wrong before.
    how
        How the new cause was confirmed.
    """
    from diagnose.cases.record import Confirmed, correct_case

    where = shop_of(shop)
    known = knowledge_for(knowledge, where)
    found = Confirmed(cause, other, how)
    where.change(id, known, lambda case: correct_case(case, found, because, known))
    line(new_console(), tr("Corrected: {path}", path=where.path(id)))
    return 0


@case_app.command
def search(
    *words: str, shop: ShopFolder = None, knowledge: KnowledgeFolder = None
) -> int:
    """Search the cases for words, in what was said, noted and found.

    Example: diagnose case search gummy corners

    Parameters
    ----------
    words
        All of them have to be there, in whatever form.
    """
    from diagnose.cases import index
    from diagnose.cases.screens import show_broken, show_list

    where = shop_of(shop)
    known = knowledge_for(knowledge, where)
    found, broken = index.search(where, known, " ".join(words))
    console = new_console()
    show_list(console, found, known)
    show_broken(console, broken)
    return BAD_INPUT if broken else 0


@case_app.command
def like(
    id: str,
    /,
    *,
    most: int = 5,
    json: JsonFlag = False,
    shop: ShopFolder = None,
    knowledge: KnowledgeFolder = None,
) -> int:
    """Show the past cases that are most like one.

    They go by the answers that tell causes apart, by the set-up, and by the words.

    Example: diagnose case like 2026-03-14-7f3a

    Parameters
    ----------
    id
        The case's id, as 'case list' shows it.
    most
        No more than so many.
    """
    from diagnose.cases.past_screens import alike_data, show_alike
    from diagnose.cases.recall import recall
    from diagnose.cases.record import sheet_of
    from diagnose.consultation import Consultation

    where = shop_of(shop)
    known = knowledge_for(knowledge, where)
    case = where.read(id, known).case
    then = Consultation(known, sheet_of(case, known, then=True))
    if most < 1:
        raise AnswerError(tr("--most takes 1 or more."))
    found = recall(where, then, most, [id])
    if json:
        told = {"id": id, "past_cases": alike_data(found)}
        print_json(told)
        return 0
    console = new_console()
    show_alike(console, found, known)
    if not found:
        line(console, tr("No other case with a confirmed cause is like it."))
    return 0


@case_app.command
def watch(
    file: Annotated[Path | None, Parameter(converter=path_named)] = None,
    /,
    *,
    by: str = "month",
    json: JsonFlag = False,
    group: Labels = None,
    since: str = "",
    shop: ShopFolder = None,
    knowledge: KnowledgeFolder = None,
) -> int:
    """Show what costs most, whether fixes held, and what to standardise first.

    Example: diagnose case watch --by line

    Example: diagnose case watch our-year.html

    Parameters
    ----------
    file
        The HTML file to write it into, to print it and hang it up.
    by
        month, or one of your groups such as line; a fault comes back where it comes
        back in the same group.
    since
        Only the cases from this day on, such as 2026-01-31.
    """
    from diagnose.cases.choose import chosen, labels
    from diagnose.cases.index import all_cases
    from diagnose.cases.past_screens import show_watch
    from diagnose.cases.screens import show_broken
    from diagnose.cases.watch import watch as watched

    where = shop_of(shop)
    known = knowledge_for(knowledge, where)
    cases = all_cases(where, known)
    kept = chosen(cases.kept, groups=labels(group or ()), since=since)
    if file is not None:
        from diagnose.paper.watch import watch_page
        from diagnose.paper.write import put

        name = put(watch_page(kept, known, by, where.folder.resolve().name), file, "")
        console = new_console()
        show_written(console, name)
        show_broken(console, cases.broken)
        return BAD_INPUT if cases.broken else 0
    found = watched(kept, known, by)
    if json:
        from msgspec import to_builtins

        print_json(to_builtins(found))
    else:
        console = new_console()
        show_watch(console, found, known)
        show_broken(console, cases.broken)
    return BAD_INPUT if cases.broken else 0


@case_app.command
def count(
    *,
    by: str = "cause",
    json: JsonFlag = False,
    group: Labels = None,
    since: str = "",
    shop: ShopFolder = None,
    knowledge: KnowledgeFolder = None,
) -> int:
    """Count the cases, with the hours and the prints that they cost.

    Example: diagnose case count --by month

    Parameters
    ----------
    by
        What to count by: cause (where left out), month, or one of your groups such
        as line.
    since
        Only those from this day on, such as 2026-01-31.
    """
    from diagnose.cases.choose import chosen, labels, tally
    from diagnose.cases.index import all_cases
    from diagnose.cases.screens import show_broken, show_tally

    where = shop_of(shop)
    known = knowledge_for(knowledge, where)
    cases = all_cases(where, known)
    kept = chosen(cases.kept, groups=labels(group or ()), since=since)
    counted = tally(kept, by)
    if json:
        from msgspec import to_builtins

        print_json({"by": by, "counts": to_builtins(counted)})
    else:
        console = new_console()
        show_tally(console, counted, by, known)
        show_broken(console, cases.broken)
    return BAD_INPUT if cases.broken else 0


@case_app.command(name="import")
def import_(
    file: Annotated[Path, Parameter(converter=path_named)],
    /,
    *,
    mapping: Annotated[Path | None, Parameter(converter=path_named)] = None,
    dry_run: Annotated[
        bool, Parameter(negative="", help="Only say what would be taken.")
    ] = False,
    shop: ShopFolder = None,
    knowledge: KnowledgeFolder = None,
) -> int:
    """Take cases from a table (CSV) or from JSON Lines; nothing is overwritten.

    Every row that is not taken is told with its number and the reason.

    Example: diagnose case import log.csv --mapping log.yaml --dry-run

    Parameters
    ----------
    file
        A table, or a file that ends in .jsonl with a case a line.
    mapping
        A YAML file: 'columns' says which heading is which part of a case, 'values'
        which words mean what. Not needed for what 'case export' wrote.
    """
    from diagnose.cases.exchange import import_cases
    from diagnose.cases.screens import show_import

    where = shop_of(shop, new=True)
    known = knowledge_for(knowledge, where)
    report = import_cases(where, known, file, mapping, dry_run=dry_run)
    show_import(new_console(), report, dry_run=dry_run)
    return BAD_INPUT if report.left else 0


@case_app.command
def export(
    file: Annotated[Path, Parameter(converter=path_named)],
    /,
    *,
    without_names: Annotated[
        bool,
        Parameter(
            negative="",
            help="Leave out who traced it, and the notes; name nobody elsewhere.",
        ),
    ] = False,
    without_group: Annotated[
        list[str] | None,
        Parameter(negative="", help="Leave out this label, such as customer."),
    ] = None,
    group: Labels = None,
    since: str = "",
    shop: ShopFolder = None,
    knowledge: KnowledgeFolder = None,
) -> int:
    """Write the cases to a table (CSV), or as JSON Lines, from which nothing is lost.

    Example: diagnose case export cases.csv --without-names

    Parameters
    ----------
    file
        Where to; the name ends in .csv or in .jsonl.
    since
        Only those from this day on, such as 2026-01-31.
    """
    from diagnose.cases.choose import chosen, labels
    from diagnose.cases.exchange import export_cases
    from diagnose.cases.index import all_cases
    from diagnose.cases.screens import show_broken

    where = shop_of(shop)
    known = knowledge_for(knowledge, where)
    cases = all_cases(where, known)
    kept = chosen(cases.kept, groups=labels(group or ()), since=since)
    left_out: Sequence[str] = without_group or ()
    export_cases(
        kept,
        file,
        without_names=without_names,
        without_groups=left_out,
        people=[one.case.who for one in cases.kept],
    )
    console = new_console()
    line(console, tr("{count} written to {file}.", count=len(kept), file=file))
    if without_names:
        line(
            console,
            tr(
                "Those who traced a case are named nowhere in it. Others, such as "
                "customers, may still be named in what was said; look it over before "
                "you pass it on."
            ),
        )
    show_broken(console, cases.broken)
    return BAD_INPUT if cases.broken else 0
