"""Drafts of changes to the knowledge: written as files, and accepted by a person."""

from __future__ import annotations

import math
import os
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

import yaml

from diagnose.cases.learn import Estimate, Key, Learnt
from diagnose.cases.record import Case, today
from diagnose.cases.shop import Shop
from diagnose.checks import OUR_CASES
from diagnose.errors import FolderError, KnowledgeError, Place, Problem
from diagnose.examiner import examine
from diagnose.network import NOT_COVERED, reachable
from diagnose.overlay import CHANGES, number_word, with_own
from diagnose.records import Cause, Knowledge, State
from diagnose.rules import links_of
from diagnose.sheets import put_whole
from diagnose.yamltext import read_text

NAMED = 3
"""So many cases are named by their ids behind a number."""

COMMENT = 76
"""Characters of a line of comment."""

TO_WRITE = "To be written:"
"""Starts what a person has to fill in."""

STRIPPED = " .'\""
"""Signs around such a text in a file."""

_Dumper: Any = getattr(yaml, "CSafeDumper", yaml.SafeDumper)


def dump(data: Any) -> str:
    """Plain data as YAML."""
    return str(
        yaml.dump(data, Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=68)
    )


def counted(count: float, ids: Sequence[str] = ()) -> str:
    """'31 cases (2026-03-14-7f3a, …)'."""
    number = round(count)
    told = ", ".join(ids[:NAMED]) + (", …" if len(ids) > NAMED else "")
    return f"{number} case{'' if number == 1 else 's'}" + (f" ({told})" if ids else "")


def about(number: float, scale: Mapping[str, float]) -> str:
    """The word of a scale that comes nearest to a chance, by its log-odds."""

    def far(word: str) -> float:
        return abs(math.log(scale[word] / (1 - scale[word]) * (1 - number) / number))

    words = [word for word, value in scale.items() if word != number_word(value)]
    return min(words, key=far)


def as_written(word: str, scales: Mapping[str, float]) -> str:
    """A word with its number: 'often (0.60)'."""
    return f"{scales[word]:.2g}" if word[:3] == "in " else f"{word} ({scales[word]:g})"


def rounded(number: float) -> float:
    """A chance as it is written down: two digits that count, three at most."""
    return float(f"{number:.2g}") if number < 0.1 else round(number, 2)


# what was learnt


def learnt_changes(
    learnt: Learnt, prior: Knowledge
) -> tuple[dict[str, Estimate], dict[Key, Estimate]]:
    """What of it is worth writing down: how common causes are, and strengths."""
    limits = prior.scales.learn
    least = math.log(limits.least_ratio)
    causes = {
        cause: one
        for cause, one in learnt.causes.items()
        if abs(math.log(rounded(one.after) / one.before)) >= least
    }
    links = {
        key: one
        for key, one in learnt.links.items()
        if abs(rounded(one.after) - one.before) >= limits.least_change
    }
    return causes, links


def learnt_text(
    learnt: Learnt,
    prior: Knowledge,
    built_in: Knowledge,
    cases: Iterable[tuple[str, Case]],
    name: str,
) -> str:
    """What was learnt, as a file of changes.

    Args:
        learnt: what the cases say.
        prior: the knowledge that they were held against.
        built_in: the knowledge without any of the shop's own.
        cases: the cases that took part.
        name: the file's path, for the words on how to accept it.
    """
    causes, links = learnt_changes(learnt, prior)
    ids = _ids(prior, cases)
    text = (
        f"# Learnt from {counted(learnt.confirmed)} of which the cause was confirmed"
        + (f", and {learnt.unconfirmed} others" if learnt.unconfirmed else "")
        + ".\n# Nothing changes until it is accepted:\n"
        f"#     diagnose case accept {name}\n"
        "# A number is a chance: 0.42 means in 42 of 100 cases. Take out what you do\n"
        "# not believe. Of such files only the last one accepted counts.\n"
        f"made_by: learn\nabout: learnt from {counted(learnt.confirmed)} on {today()}\n"
    )
    for kind in ("causes", "states"):
        parts = []
        for record in getattr(prior, kind).values():
            own = {key: one for key, one in links.items() if key[0] == record.id}
            how_common = causes.get(record.id) if kind == "causes" else None
            if own or how_common:
                parts.append(_record(record, how_common, own, prior, built_in, ids))
        if parts:
            text += f"\n{kind}:\n" + "\n".join(parts)
    if NOT_COVERED in causes:
        one = causes[NOT_COVERED]
        text += (
            f"\n# {prior.scales.not_covered_name}\n"
            f"#   {one.before:g} → {rounded(one.after):g}; {counted(one.cases)}\n"
        )
        was = f"{built_in.scales.not_covered_prior:g}"
        scales = {"not_covered_prior": rounded(one.after)}
        text += dump({"scales": {**scales, "was": {"not_covered_prior": was}}})
    return text


def _ids(prior: Knowledge, cases: Iterable[tuple[str, Case]]) -> dict[str, list[str]]:
    """The cases in which each cause was confirmed, or that can have had each state."""
    from diagnose.model import model_of

    network = model_of(prior).network
    reached: dict[str, list[str]] = {}
    found: dict[str, list[str]] = {}
    for id, case in cases:
        for one in case.confirmed:
            if one.cause in prior.causes and one.cause not in reached:
                reached[one.cause] = [one.cause, *reachable(network, [one.cause])]
            for owner in reached.get(one.cause, ()):
                found.setdefault(owner, []).append(id)
    return found


def _record(
    record: Cause | State,
    how_common: Estimate | None,
    links: Mapping[Key, Estimate],
    prior: Knowledge,
    built_in: Knowledge,
    ids: Mapping[str, list[str]],
) -> str:
    scales = prior.scales
    notes = [f"{record.name}"]
    data: dict[str, Any] = {"id": record.id}
    here: dict[str, Cause | State] = {**built_in.causes, **built_in.states}
    original: Cause | State | None = here.get(record.id)
    if how_common is not None and isinstance(record, Cause):
        after = rounded(how_common.after)
        notes.append(
            f"  how common: {as_written(record.how_common, scales.how_common)} → "
            f"{after:g}, about {about(after, scales.how_common)}; "
            f"{counted(how_common.cases)}"
        )
        data["how_common"] = after
        if isinstance(original, Cause):
            data["was"] = {"how_common": original.how_common}
        data["cases"] = counted(how_common.cases, ids.get(record.id, []))
    first = {}
    if original is not None:
        for link in links_of(original):
            first[link.target, link.value or ""] = link.strength
    words = {
        (link.target, link.value or ""): link.strength for link in links_of(record)
    }
    for (_, target, value), one in links.items():
        part, entry = ("shows", {"finding": target, "value": value})
        if not value:
            part, entry = "makes", {"state": target}
        elif value == "yes":
            del entry["value"]
        after = rounded(one.after)
        named = target if value in ("", "yes") else f"{target}={value}"
        notes.append(
            f"  {named}: {as_written(words[target, value], scales.strengths)} → "
            f"{after:g}, about {about(after, scales.strengths)}; {counted(one.cases)}"
        )
        change: dict[str, Any] = {**entry, "strength": after}
        if (target, value) in first:
            change["was"] = {"strength": first[target, value]}
        change["cases"] = counted(one.cases)
        data.setdefault(part, []).append(change)
    told = "".join(f"# {note}\n" for note in notes)
    return told + dump([data])


# files


def write_proposal(shop: Shop, name: str, text: str) -> Path:
    """Keep a draft under a name that is not taken: <date>-<name>.yaml, …-2.yaml.

    Raises:
        FolderError: it can't be written.
    """
    with shop.lock():
        path = _free(shop.proposals, f"{today()}-{name}")
        return _put(path, text)


def path_for(shop: Shop, name: str) -> Path:
    """The path that the next draft of that name will have."""
    return _free(shop.proposals, f"{today()}-{name}")


def _free(folder: Path, stem: str) -> Path:
    path = folder / f"{stem}.yaml"
    number = 1
    while os.path.lexists(path):
        number += 1
        path = folder / f"{stem}-{number}.yaml"
    return path


def _put(path: Path, text: str) -> Path:
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        put_whole(path, text)
    except OSError as error:
        reason = error.strerror or str(error)
        raise FolderError(f"{path}: the file can't be written: {reason}.") from None
    return path


def accept(shop: Shop, base: Path, path: Path) -> tuple[Path, bool]:
    """Copy a draft into the shop's own knowledge, if it stands every check.

    Args:
        shop: the shop.
        base: the knowledge folder that the shop's own is laid over.
        path: the draft.

    Returns:
        Where it stands now, and whether it is new there.

    Raises:
        FolderError: a file can't be read or written.
        KnowledgeError: the draft has faults, each with file and line; nothing was
            changed.
    """
    text = read_text(path)
    folder = shop.knowledge / CHANGES
    with shop.lock():
        taken = folder / path.name
        if taken.exists() and read_text(taken) == text:
            return taken, False
        faults = [*_unwritten(path, text), *new_faults(base, shop, path)]
        if faults:
            raise KnowledgeError(faults)
        return _put(_free(folder, path.stem), text), True


def _unwritten(path: Path, text: str) -> list[Problem]:
    """What a person still has to fill in."""
    return [
        Problem(
            Place(str(path), number, line.index(TO_WRITE) + 1),
            path.stem,
            "draft",
            f"this is still to be written: {line.split(TO_WRITE)[1].strip(STRIPPED)}.",
        )
        for number, line in enumerate(text.splitlines(), 1)
        if TO_WRITE in line and not line.lstrip().startswith("#")
    ]


def new_faults(base: Path, shop: Shop, path: Path) -> list[Problem]:
    """The faults that `check` would find with the draft, and does not find without.

    Raises:
        KnowledgeError: the knowledge can't be used at all with it.
    """

    def found(also: Sequence[Path]) -> dict[tuple[str, str, str], Problem]:
        known = with_own(base, shop.folder, also=also)
        return {
            (one.record, one.check, one.says): one
            for one in examine(known)
            if not one.warning
        }

    with_it = found([path])
    before = found([]) if with_it else {}
    return [one for key, one in with_it.items() if key not in before]


def our_cases(ids: Sequence[str]) -> str:
    """The source of a record that rests on cases."""
    return OUR_CASES + ", ".join(ids[:20]) + (", …" if len(ids) > 20 else "")
