"""A shop's own knowledge, laid over the built-in one.

In the folder `knowledge` of a shop stand the same kinds of files as in the built-in
knowledge, and `changes/`, whose files hold records of any kind below the name of the
kind. A record with a new id is added. One with the id of a built-in record holds only
what is different:

    - id: coats-too-few
      how_common: 0.12            a word of the scales, or a number between 0 and 1
      was: {how_common: common}   what stood there when this was written
      makes:
      - state: stencil-thin       links go by where they lead to
        strength: never           takes the link away

Phrases and sources are added to those that are there; any other key takes the place
of the built-in one. The files are laid on in this order: the folders and lists, then
`changes/` by name. Of the files that `learn` made only the last counts: each was worked
out from all the cases.
"""

from __future__ import annotations

import math
import os
import re
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import msgspec
from msgspec.structs import fields as fields_of

from diagnose.errors import (
    FolderError,
    KnowledgeError,
    Place,
    Problem,
    nearest,
    quoted,
    unknown,
)
from diagnose.knowledge import FOLDERS, LISTS, SCALES, TABLES, Reader, checked
from diagnose.records import Knowledge, Located, Scales
from diagnose.yamltext import FileError, Step, no_such

KNOWLEDGE = "knowledge"
CHANGES = "changes"
"""The folder in a shop's knowledge for files with records of any kind."""

NEVER = "never"
"""The strength that takes a link away."""

LEARN = "learn"
PROPOSE = "propose"
MAKERS = (LEARN, PROPOSE, "hand")
"""What a file of changes may say that it was made by."""

ABOUT = ("made_by", "about")
"""Keys of a file of changes that hold no records."""

NOTES = ("was", "cases")
"""Keys of a change that are about the change: what stood there, the cases behind it."""

BY: dict[str, tuple[str, ...]] = {
    "makes": ("state",),
    "shows": ("finding", "value"),
    "cures": ("cause", "state"),
    "looks_like": ("id",),
    "choices": ("id",),
    "inputs": ("id",),
    "gives": ("id",),
}
"""Lists whose entries are laid over one another, and the keys that tell them apart."""

ADDED = ("phrases", "sources", "named_by")
"""Lists that a change adds to."""

SCALE_OF = {
    "strength": "strengths",
    "sure": "strengths",
    "how_common": "how_common",
    "seen_anyway": "seen_anyway",
}
"""Keys whose word may be a number, and the scale that the word is of."""

KINDS: dict[str, type[msgspec.Struct]] = {
    **FOLDERS,
    **{kind: record for lists in LISTS.values() for kind, record in lists.items()},
    **TABLES,
}

Path_ = tuple[Step, ...]
Places_ = dict[Path_, Located]
"""Where the parts of a record stand, for each part that stands somewhere else."""


class Layered(Located, frozen=True):
    """Where the parts of a record stand that more than one file makes up."""

    own: dict[Path_, Located]

    def at(self, *path: Step, key: bool = False) -> Place:
        located, rest = _standing(self.own, path)
        return located.at(*rest, key=key)


@dataclass(frozen=True, slots=True)
class Change:
    """One difference from the built-in knowledge.

    `part` is '' for a record that was added; `before` is what the built-in knowledge
    has, '' for nothing. `was` is what it had when the change was made, where that was
    written down.
    """

    kind: str
    id: str
    part: str
    before: str
    after: str
    was: str | None
    cases: str
    place: Place

    @property
    def disagrees(self) -> bool:
        """Whether the built-in knowledge has changed since."""
        return self.was is not None and self.was != self.before


@dataclass(frozen=True, slots=True)
class _Patch:
    """One entry of a shop's file."""

    item: dict[str, Any]
    located: Located


@dataclass(slots=True)
class _Notes:
    """What was gathered from a shop's files before anything was laid on."""

    patches: dict[str, dict[str, list[_Patch]]] = field(default_factory=dict)
    words: dict[str, dict[str, float]] = field(default_factory=dict)
    """Words for the numbers that the shop wrote, by scale."""


def with_own(
    base: Path,
    shop: Path,
    *,
    also: Sequence[Path] = (),
    learnt: bool = True,
) -> Knowledge:
    """The knowledge of a folder with a shop's own laid over it.

    Args:
        base: the knowledge folder to lay it over.
        shop: the shop's folder; where there is none yet, there is nothing to lay on.
        also: files of changes to lay on last, which are not in the shop's knowledge.
        learnt: whether what was learnt from cases is laid on too.

    Raises:
        FolderError: there is no such folder.
        KnowledgeError: the knowledge has faults; all of them are named at once.
    """
    return _checked(OwnReader(base, shop, also=also, learnt=learnt))


def own_changes(base: Path, shop: Path) -> list[Change]:
    """What a shop's knowledge changes or adds, in the order it is laid on.

    Raises:
        FolderError: there is no such folder.
        KnowledgeError: the knowledge has faults.
    """
    reader = OwnReader(base, shop)
    _checked(reader)
    return reader.changes


def _checked(reader: OwnReader) -> Knowledge:
    """What the reader reads. Where a built-in file no longer fits, it says why."""
    try:
        return checked(reader)
    except KnowledgeError as error:
        problems = error.problems
    checked(Reader(reader.folder))  # its own faults come first
    inside = f"{reader.folder}{os.sep}"
    raise KnowledgeError(
        [
            _brought_about(problem)
            if problem.place.file.startswith(inside)
            else problem
            for problem in problems
        ]
    )


def _brought_about(problem: Problem) -> Problem:
    """A fault of a built-in file that a shop's change has brought about."""
    says = f"{problem.says} (It fits without the shop's own changes.)"
    return Problem(problem.place, problem.record, problem.check, says, problem.warning)


def number_word(number: float) -> str:
    """How a chance that was counted is said: 0.42 is 'in 42 of 100 cases'."""
    return f"in {100 * number:.10g} of 100 cases"


class OwnReader(Reader):
    """Reads a knowledge folder and lays a shop's own over it.

    Args:
        base: the knowledge folder.
        shop: the shop's folder.
        also: further files of changes, laid on last.
        learnt: whether what was learnt from cases is laid on too.
    """

    def __init__(
        self,
        base: Path,
        shop: Path,
        *,
        also: Sequence[Path] = (),
        learnt: bool = True,
    ) -> None:
        super().__init__(base)
        self.changes: list[Change] = []
        self.own = _Notes()
        self.met: set[tuple[str, str]] = set()
        if os.path.lexists(shop) and not shop.is_dir():
            says = (
                no_such("folder", shop) if not shop.exists() else "this is no folder."
            )
            raise FolderError(
                f"{shop}: {says.removesuffix('.')}; name the shop's folder."
            )
        self._gather(shop / KNOWLEDGE, also, learnt)

    # what the shop has

    def _gather(self, folder: Path, also: Sequence[Path], learnt: bool) -> None:
        """Read all that the shop has, and hold it ready to be laid on."""
        if os.path.lexists(folder):
            self._gather_folders(folder)
        files = [*sorted(_yaml_in(folder / CHANGES), key=_natural), *also]
        read = [(path, self._changes_in(path)) for path in files]
        made = [n for n, (_, data) in enumerate(read) if _maker(data[0]) == LEARN]
        for number, (path, (data, places)) in enumerate(read):
            if number in made and (not learnt or number != made[-1]):
                continue
            for kind, items in data.items():
                here = Located(str(path), places, (kind,))
                if kind == "scales":
                    self._hold("scales", "scales", items, here)
                elif kind not in ABOUT:
                    self._hold_all(kind, items, here)

    def _gather_folders(self, folder: Path) -> None:
        tables = [f"{kind}.yaml" for kind in TABLES]
        wanted = [*FOLDERS, *LISTS, *tables, SCALES, CHANGES]
        try:
            inside = sorted(path for path in folder.iterdir())
        except OSError as error:
            says = f"{folder}: the folder can't be read: {error.strerror}."
            raise FolderError(says) from None
        for path in inside:
            if path.name not in wanted and (path.is_dir() or path.suffix == ".yaml"):
                if path.name.startswith("."):
                    continue
                says = (
                    f"nothing is read from here{nearest(path.name, wanted)}; a shop's "
                    f"knowledge holds any of {', '.join(wanted)}."
                )
                self._problem(Place(str(path), 1), path.stem, "file", says)
        for kind in FOLDERS:
            for path in sorted(_yaml_in(folder / kind)):
                self._gather_records(kind, path)
        for kind in TABLES:
            if os.path.lexists(folder / f"{kind}.yaml"):
                self._gather_records(kind, folder / f"{kind}.yaml")
        for file, lists in LISTS.items():
            path = folder / file
            if not path.exists():
                continue
            data, places = self._mapping(path, [*lists])
            for kind, items in data.items():
                self._hold_all(kind, items, Located(str(path), places, (kind,)))
        if (folder / SCALES).exists():
            known = [one.name for one in fields_of(Scales)]
            data, places = self._mapping(folder / SCALES, [*known, *NOTES])
            here = Located(str(folder / SCALES), places, ())
            self._hold("scales", "scales", data, here)

    def _gather_records(self, kind: str, path: Path) -> None:
        """The records of a file that is a list of them."""
        data, places = self._parse(path, "records")
        if data is not None:
            self._hold_all(kind, data, Located(str(path), places, ()))

    def _changes_in(self, path: Path) -> tuple[dict[str, Any], Any]:
        data, places = self._mapping(path, [*ABOUT, *KINDS, "scales"])
        maker = data.get("made_by")
        if maker is not None and maker not in MAKERS:
            says = unknown("maker", str(maker), MAKERS)
            place = Place(str(path), *places.at(("made_by",)))
            self._problem(place, path.stem, "shape", says)
        return data, places

    def _mapping(self, path: Path, keys: Sequence[str]) -> tuple[dict[str, Any], Any]:
        """The data of a file whose keys are these; others are told and left out."""
        listed = ", ".join(f"'{key}:'" for key in keys[:8])
        data, places = self._parse(path, f"any of {listed}")
        if data is None:
            return {}, places
        if not isinstance(data, dict):
            says = f"this file holds keys, such as {listed}."
            self._problem(Place(str(path), *places.at(())), path.stem, "shape", says)
            return {}, places
        for key in data:
            if key not in keys:
                place = Place(str(path), *places.at((key,), key=True))
                self._problem(place, path.stem, "shape", unknown("key", key, keys))
        return {key: value for key, value in data.items() if key in keys}, places

    def _hold_all(self, kind: str, items: Any, here: Located) -> None:
        if not isinstance(items, list):
            says = "a list belongs here, each entry starting with '- id:'."
            self._problem(here.at(), kind, "shape", says)
            return
        for number, item in enumerate(items):
            at = Located(here.file, here.parts, (*here.path, number))
            id = item.get("id") if isinstance(item, dict) else None
            if not isinstance(id, str) or not id:
                says = "the key 'id' is missing."
                self._problem(at.at(), f"{kind} number {number + 1}", "shape", says)
                continue
            self._hold(kind, id, item, at)

    def _hold(self, kind: str, id: str, item: Any, here: Located) -> None:
        if not isinstance(item, dict):
            says = "keys belong here, with what is to be different."
            self._problem(here.at(), id, "shape", says)
            return
        worded = item if kind == "scales" else self._worded(item, here, id, ())
        patches = self.own.patches.setdefault(kind, {}).setdefault(id, [])
        patches.append(_Patch(worded, here))

    def _worded(self, part: Any, here: Located, id: str, path: Path_) -> Any:
        """The part with a word for each number that stands where a word belongs."""
        if isinstance(part, list):
            return [
                self._worded(one, here, id, (*path, n)) for n, one in enumerate(part)
            ]
        if not isinstance(part, dict):
            return part
        made = {}
        for key, value in part.items():
            at = (*path, key)
            if key in SCALE_OF and isinstance(value, str):
                made[key] = self._word(SCALE_OF[key], value, here.at(*at), id)
            else:
                made[key] = self._worded(value, here, id, at)
        return made

    def _word(self, scale: str, value: str, place: Place, id: str) -> str:
        try:
            number = float(value)
        except ValueError:
            return value
        if not (math.isfinite(number) and 0 < number < 1):
            says = (
                f"{quoted(value)} is out of range; a number above 0 and below 1 "
                "belongs here, or a word of the scales."
            )
            self._problem(place, id, "scale", says)
            number = 0.5
        word = number_word(number)
        self.own.words.setdefault(scale, {})[word] = number
        return word

    # laid over what is read

    def _laid(self, kind: str, item: Any, located: Located) -> tuple[Any, Located]:
        id = "scales" if kind == "scales" else None
        if isinstance(item, dict) and isinstance(item.get("id"), str):
            id = item["id"]
        if id is None or not isinstance(item, dict):
            return item, located
        patches = self.own.patches.get(kind, {}).get(id, [])
        self.met.add((kind, id))
        said, _ = super()._laid(kind, item, located)
        made, placed = self._all_on(kind, id, said, located, patches, item)
        if kind == "scales":
            made = dict(made)
            for scale, words in self.own.words.items():
                if isinstance(made.get(scale), dict):
                    made[scale] = {
                        **made[scale],
                        **{w: str(n) for w, n in words.items()},
                    }
        return made, placed

    def _all_on(
        self,
        kind: str,
        id: str,
        item: dict[str, Any],
        located: Located,
        patches: Sequence[_Patch],
        written: dict[str, Any] | None = None,
    ) -> tuple[dict[str, Any], Located]:
        """One record with each patch laid on, and where its parts stand.

        `written` is the record as it stands in the built-in file, which changes are
        held against; `item` may be in another language.
        """
        if not patches:
            return item, located
        layer = _Layer(self, kind, id, item if written is None else written)
        at: Places_ = {(): located}
        made: Any = item
        for patch in patches:
            layer.here = patch.located
            made, at = layer.lay(made, at, patch.item)
        last = patches[-1].located
        return made, Layered(last.file, last.parts, last.path, at)

    def _added(self, kind: str, record: type[msgspec.Struct]) -> Iterator[Any]:
        """The records of that kind that only the shop has."""
        built_in = [id for met, id in self.met if met == kind]
        needs = [one.encode_name for one in fields_of(record) if one.required]
        for id, (first, *more) in self.own.patches.get(kind, {}).items():
            if (kind, id) in self.met:
                continue
            item = {k: v for k, v in first.item.items() if k not in NOTES}
            lacks = [key for key in needs if key not in item]
            hint = nearest(id, built_in)
            if len(lacks) > 1 and (hint or len(item) < len(needs) / 2):
                says = (
                    f"there is nothing built in that is called {quoted(id)}{hint}; a "
                    f"record of its own needs {', '.join(lacks)} as well."
                )
                self._problem(first.located.at("id"), quoted(id)[1:-1], "shape", says)
                continue
            made, located = self._all_on(kind, id, item, first.located, more)
            cases = _as_text(first.item.get("cases", ""))
            place = first.located.at()
            name = _as_text(made.get("name", "")) or _figures(made)
            self.changes.append(Change(kind, id, "", "", name, None, cases, place))
            yield from self._item(made, located, kind, record, id)


class _Layer:
    """Lays changes over one record."""

    def __init__(self, reader: OwnReader, kind: str, id: str, built_in: Any) -> None:
        self.reader = reader
        self.kind = kind
        self.id = id
        self.built_in = built_in
        self.here = Located("", None, ())  # type: ignore[arg-type]

    def lay(
        self, base: dict[str, Any], at: Places_, patch: dict[str, Any]
    ) -> tuple[dict[str, Any], Places_]:
        """The record with the patch laid on, and where each part of it stands."""
        to: Places_ = {(): self.here}
        made = self._keys(base, at, (), patch, (), to, (), self.built_in, "")
        return made, to

    def _keys(
        self,
        base: dict[str, Any],
        at: Places_,
        base_path: Path_,
        patch: dict[str, Any],
        patch_path: Path_,
        to: Places_,
        to_path: Path_,
        built_in: Any,
        label: str,
    ) -> dict[str, Any]:
        """Keys laid over keys. `built_in` is what the built-in knowledge has there."""
        was = patch.get("was", {})
        was = was if isinstance(was, dict) else {}
        cases = _as_text(patch.get("cases", ""))
        original = built_in if isinstance(built_in, dict) else {}
        made = dict(base)
        for key in base:
            if key not in patch or key in BY:
                _carry(at, (*base_path, key), to, (*to_path, key))
        for key, value in patch.items():
            if key in NOTES and not (self.kind == "scales" and key == "cases"):
                continue
            from_, into = (*patch_path, key), (*to_path, key)
            before = original.get(key)
            if key in BY and isinstance(value, list):
                old = base.get(key, [])
                if isinstance(old, list):
                    made[key] = self._entries(
                        key, old, at, (*base_path, key), value, from_, to, into, before
                    )
                    continue
            if key in ADDED and isinstance(value, list):
                old = base.get(key, [])
                new = [one for one in value if one not in old]
                made[key] = [*old, *new]
                _carry(at, (*base_path, key), to, into)
                for n, one in enumerate(new, len(old)):
                    to[*into, n] = self._place((*from_, value.index(one)))
                if new:
                    self._note(label, key, "", new, was, cases, from_)
                continue
            if self.kind == "scales" and isinstance(value, dict) and not label:
                old = base.get(key, {})
                if isinstance(old, dict):
                    old_was = was.get(key)
                    laid = {**value, **({"was": old_was} if old_was else {})}
                    made[key] = self._keys(
                        old,
                        at,
                        (*base_path, key),
                        laid,
                        from_,
                        to,
                        into,
                        before,
                        f"{key}: ",
                    )
                    continue
            made[key] = value
            to[into] = self._place(from_)
            known = BY.get(label.split(" ", 1)[0], ())
            if key not in ("id", *known) and (before != value or key in was):
                self._note(label, key, before, value, was, cases, from_)
        return made

    def _entries(
        self,
        list_key: str,
        old: list[Any],
        at: Places_,
        base_path: Path_,
        patch: list[Any],
        patch_path: Path_,
        to: Places_,
        to_path: Path_,
        built_in: Any,
    ) -> list[Any]:
        """Entries laid over those that are about the same thing."""
        to[to_path] = self._place(patch_path)
        first = {_which(list_key, one): one for one in reversed(_listed(built_in))}
        there = [_which(list_key, one) for one in old]
        left = {_which(list_key, one): n for n, one in reversed([*enumerate(patch)])}
        made: list[Any] = []
        for number, one in enumerate(old):
            which = there[number]
            change = left.get(which)
            from_ = (*base_path, number)
            if change is None or not isinstance(patch[change], dict):
                _carry(at, from_, to, (*to_path, len(made)))
                made.append(one)
                continue
            entry, entry_path = patch[change], (*patch_path, change)
            label = f"{list_key} {'='.join(filter(None, which))}: "
            if NEVER in (entry.get("strength"), entry.get("sure")):
                key = "strength" if "strength" in entry else "sure"
                before = (first.get(which) or {}).get(key)
                was, cases = entry.get("was", {}), _as_text(entry.get("cases", ""))
                was = was if isinstance(was, dict) else {}
                self._note(label, key, before, NEVER, was, cases, entry_path)
                continue
            into = (*to_path, len(made))
            to[into] = self._place(entry_path)
            made.append(
                self._keys(
                    one, at, from_, entry, entry_path, to, into, first.get(which), label
                )
            )
        for number, one in enumerate(patch):
            which = _which(list_key, one)
            if which in there and left.get(which) == number:
                continue
            path = (*patch_path, number)
            if isinstance(one, dict) and NEVER in (
                one.get("strength"),
                one.get("sure"),
            ):
                named = "=".join(filter(None, which))
                known = ["=".join(filter(None, entry)) for entry in there]
                says = (
                    f"there is no link to {quoted(named)} to take away"
                    f"{nearest(named, known)}."
                )
                self.reader._problem(self.here.at(*path), self.id, "link", says)
                continue
            to[*to_path, len(made)] = self._place(path)
            if isinstance(one, dict):
                cases = _as_text(one.get("cases", ""))
                one = {key: value for key, value in one.items() if key not in NOTES}
                label = f"{list_key} {'='.join(filter(None, which))}"
                after = one.get("strength") or one.get("sure") or "added"
                self._note("", label, "", after, {}, cases, path)
            made.append(one)
        return made

    def _place(self, path: Path_) -> Located:
        return Located(self.here.file, self.here.parts, (*self.here.path, *path))

    def _note(
        self,
        label: str,
        key: str,
        before: Any,
        after: Any,
        was: Mapping[str, Any],
        cases: str,
        path: Path_,
    ) -> None:
        """Remember one difference; a later one of the same part takes its place."""
        part = f"{label}{key}"
        told = _as_text(was[key]) if key in was else None
        self.reader.changes = [
            one
            for one in self.reader.changes
            if (one.kind, one.id, one.part) != (self.kind, self.id, part)
        ]
        self.reader.changes.append(
            Change(
                self.kind,
                self.id,
                part,
                _as_text(before),
                _as_text(after),
                told,
                cases,
                self.here.at(*path),
            )
        )


def _figures(record: Mapping[str, Any]) -> str:
    """What a record without a name says of itself: 'count 90, thread 40'."""
    told = {k: v for k, v in record.items() if k not in ("id", "status", "sources")}
    return ", ".join(f"{key} {_as_text(value)}" for key, value in told.items())


def _standing(at: Places_, path: Path_) -> tuple[Located, Path_]:
    """The nearest part that has a place of its own, and the way on from there."""
    size = len(path)
    while size and path[:size] not in at:
        size -= 1
    return at[path[:size]], path[size:]


def _carry(at: Places_, from_: Path_, to: Places_, into: Path_) -> None:
    """Take over where a part, and what is in it, stands."""
    located, rest = _standing(at, from_)
    to[into] = Located(located.file, located.parts, (*located.path, *rest))
    for path, place in at.items():
        if len(path) > len(from_) and path[: len(from_)] == from_:
            to[into + path[len(from_) :]] = place


def _which(list_key: str, entry: Any) -> tuple[str, ...]:
    """What an entry of a list is about."""
    if not isinstance(entry, dict):
        return ("", str(entry))
    usual = {"value": "yes"} if list_key == "shows" else {}
    found = tuple(str(entry.get(key, usual.get(key, ""))) for key in BY[list_key])
    return found[:1] if found[1:] == ("yes",) else found


def _listed(value: Any) -> list[Any]:
    return value if isinstance(value, list) else []


def _as_text(value: Any) -> str:
    if value is None:
        return ""
    if isinstance(value, list):
        return "; ".join(map(_as_text, value))
    if isinstance(value, dict):
        return ", ".join(f"{key}: {_as_text(one)}" for key, one in value.items())
    return str(value)


def _maker(data: Mapping[str, Any]) -> str:
    return str(data.get("made_by", ""))


def _natural(path: Path) -> list[tuple[int, str]]:
    """By name, numbers by what they come to: learnt-2 comes before learnt-10."""
    parts = re.split(r"(\d+)", path.stem)
    return [(int(part), "") if part.isdigit() else (-1, part) for part in parts]


def _yaml_in(folder: Path) -> list[Path]:
    """The YAML files of a folder; hidden ones do not count."""
    try:
        if not folder.is_dir():
            return []
        found = sorted(folder.rglob("*.yaml"))
    except OSError as error:
        raise FileError(
            str(folder), f"the folder can't be read: {error.strerror}."
        ) from None
    return [path for path in found if not path.name.startswith(".")]
