"""Reads the knowledge folder into `Knowledge`, naming every fault by its place."""

from __future__ import annotations

import os
import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import msgspec

from diagnose import checks
from diagnose.errors import (
    FolderError,
    KnowledgeError,
    Place,
    Problem,
    near,
    nearest,
    quoted,
    unknown,
)
from diagnose.home import built_in_folder
from diagnose.language import LANGUAGES
from diagnose.proofs import with_proofs
from diagnose.records import (
    Alike,
    Cause,
    Caution,
    Drawn,
    Finding,
    Fix,
    GuideStep,
    Knowledge,
    Light,
    Located,
    Loosely,
    Mesh,
    Moment,
    NotApart,
    Rule,
    Scales,
    Source,
    Stage,
    State,
    Term,
    Tool,
    Window,
    Working,
)
from diagnose.shapes import UNREAD, as_id, fit, stand_in_for
from diagnose.translation import Texts, texts_in_use
from diagnose.windows import with_limits
from diagnose.yamltext import (
    FileError,
    Places,
    Step,
    YamlError,
    no_such,
    parse,
    read_text,
)

FOLDERS: dict[str, type[msgspec.Struct]] = {
    "causes": Cause,
    "states": State,
    "findings": Finding,
    "fixes": Fix,
    "rules": Rule,
    "windows": Window,
    "workings": Working,
}
"""Folders of record files, and the kind of record each holds."""

OWN_IDS = (
    "stages",
    "moments",
    "tools",
    "sources",
    "windows",
    "meshes",
    "lights",
    "pictures",
    "terms",
    "guide",
    "alike",
    "loosely",
)
"""Kinds that may share an id with a record of another kind."""

MAY_BE_MISSING = ("windows", "workings")
"""Folders that a knowledge can do without."""

LISTS: dict[str, dict[str, type[msgspec.Struct]]] = {
    "stages.yaml": {"stages": Stage, "moments": Moment},
    "tools.yaml": {"tools": Tool},
    "sources.yaml": {"sources": Source},
    "cautions.yaml": {"cautions": Caution},
    "not-apart.yaml": {"not_apart": NotApart},
}
"""Single files, and the lists each holds."""

TABLES: dict[str, type[msgspec.Struct]] = {
    "meshes": Mesh,
    "lights": Light,
    "pictures": Drawn,
    "terms": Term,
    "guide": GuideStep,
    "alike": Alike,
    "loosely": Loosely,
}
"""Single files that are lists of records; a knowledge can do without them."""

SCALES = "scales.yaml"

HINTS = 200
"""For so many unknown words the nearest valid name is looked up."""


def load_knowledge(
    folder: str | os.PathLike[str] | None = None,
    shop: str | os.PathLike[str] | None = None,
) -> Knowledge:
    """Read and check a knowledge folder.

    Args:
        folder: where the YAML files are; the built-in knowledge where left out.
        shop: a shop's folder; what its knowledge folder holds is laid over the
            other (see `overlay`).

    Returns:
        The knowledge, every reference in it resolved.

    Raises:
        FolderError: there is no such folder.
        KnowledgeError: the knowledge has faults; all of them are named at once.
    """
    base = Path(folder) if folder is not None else built_in_folder()
    if shop is not None:
        from diagnose.overlay import with_own

        return with_own(base, Path(shop))
    return checked(Reader(base))


def checked(reader: Reader) -> Knowledge:
    """What a reader reads, if it has no faults.

    Raises:
        FolderError: there is no such folder.
        KnowledgeError: the knowledge has faults; all of them are named at once.
    """
    knowledge = reader.read()
    problems = [*reader.problems, *reader.references(knowledge)]
    if problems:
        raise KnowledgeError(problems)
    return with_proofs(knowledge)


class Reader:
    """Reads file after file and gathers the problems.

    `texts` are those of another language, which are laid over the records; those of
    the language in use where left out.

    A record with faults is mended for the time being, so that what it refers to,
    and what refers to it, is looked at all the same.
    """

    def __init__(self, folder: Path, texts: Texts | None = None) -> None:
        self.folder = folder
        self.texts = texts_in_use(folder / LANGUAGES) if texts is None else texts
        self.problems: list[Problem] = []
        self.places: dict[str, Located] = {}
        self.owners: dict[str, str] = {}
        self.mended: dict[str, list[tuple[Step, ...]]] = {}
        """The parts that were mended, by record ('causes/coats-too-few')."""
        self.unread_ids: set[str] = {UNREAD}
        self.unread_kinds: set[str] = set()

    def read(self) -> Knowledge:
        """The knowledge, faulty where there are problems."""
        self._look_at_folder()
        parts: dict[str, Any] = {"scales": self._scales()}
        for file, lists in LISTS.items():
            parts |= self._lists(file, lists)
        for kind, record in FOLDERS.items():
            parts[kind] = {
                found.id: found
                for found in (*self._filed(kind, record), *self._added(kind, record))
            }
        for kind, record in TABLES.items():
            path = self.folder / f"{kind}.yaml"
            there = os.path.lexists(path)
            found = [*self._records(path, kind, record)] if there else []
            parts[kind] = {one.id: one for one in (*found, *self._added(kind, record))}
        self.problems += self.texts.problems(parts)
        return with_limits(Knowledge(places=self.places, **parts))

    def _filed(self, kind: str, record: type[msgspec.Struct]) -> Iterator[Any]:
        """The records that stand in the folder of that kind."""
        for path in self._files(kind):
            yield from self._records(path, kind, record)

    def _added(self, kind: str, record: type[msgspec.Struct]) -> Iterator[Any]:
        """Further records of that kind; `overlay` has some."""
        yield from ()

    def _laid(self, kind: str, item: Any, located: Located) -> tuple[Any, Located]:
        """One entry as it is to be taken, in the language in use; `overlay` changes
        some."""
        return self.texts.laid(kind, item), located

    def references(self, knowledge: Knowledge) -> Iterator[Problem]:
        """The faults in what refers to what, but for those that come of another."""
        unread = checks.Unread(frozenset(self.unread_ids), frozenset(self.unread_kinds))
        hints = 0
        for check, kind, id, path, says in checks.references(knowledge):
            mended = self.mended.get(f"{kind}/{id}", [])
            if unread.hides(says) or any(_touch(path, m) for m in mended):
                continue
            if isinstance(says, checks.Unknown):
                hints += 1
                says = str(says) if hints <= HINTS else says.in_short()
            yield Problem(knowledge.place(kind, id, *path), id, check, says)

    def _look_at_folder(self) -> None:
        """There is a folder of knowledge, and nothing in it goes unread."""
        wanted = [*FOLDERS, SCALES, *LISTS, *(f"{kind}.yaml" for kind in TABLES)]
        holds = f"a knowledge folder holds {', '.join(wanted)}."
        try:
            if not self.folder.exists():
                says = no_such("folder", self.folder).removesuffix(".")
                raise FolderError(f"{self.folder}: {says}; {holds}")
            if not self.folder.is_dir():
                raise FolderError(f"{self.folder}: this is no folder; {holds}")
            inside = sorted(self.folder.iterdir())
            for path in inside:
                path.lstat()  # fails where names may be listed, but no more
            read = {*wanted, LANGUAGES}
            strays = [p for p in inside if p.name not in read and _holds_yaml(p)]
        except OSError as error:
            says = f"{self.folder}: the folder can't be read: {error.strerror}."
            raise FolderError(says) from None
        if not {path.name for path in inside} & set(wanted):
            raise FolderError(f"{self.folder}: this is no knowledge folder; {holds}")
        for path in strays:
            says = f"nothing is read from here{nearest(path.name, wanted)}; {holds}"
            self._problem(Place(str(path), 1), path.stem, "file", says)

    def _files(self, kind: str) -> list[Path]:
        folder = self.folder / kind
        if kind in MAY_BE_MISSING and not os.path.lexists(folder):
            return []
        if not os.path.isdir(folder):
            self.unread_kinds.add(kind)
            says = no_such("folder", folder).removesuffix(".")
            says = f"{says}; the {kind} belong in it."
            self._problem(Place(str(folder), 1), kind, "file", says)
            return []
        closed: list[OSError] = []
        files = sorted(
            Path(inside, name)
            for inside, folders, names in os.walk(folder, onerror=closed.append)
            for name in (*folders, *names)
            if _is_yaml(Path(name))
        )
        for error in closed:
            self.unread_kinds.add(kind)
            says = f"the folder can't be read: {error.strerror}."
            self._problem(Place(str(error.filename), 1), kind, "file", says)
        if not files and not closed:
            self.unread_kinds.add(kind)
            says = "the folder holds no file that ends in .yaml."
            self._problem(Place(str(folder), 1), kind, "empty", says)
        for path in files:
            if path.suffix != ".yaml":
                self.unread_kinds.add(kind)
                says = "the name of a file of records has to end in '.yaml'."
                self._problem(Place(str(path), 1), path.stem, "file", says)
        return [path for path in files if path.suffix == ".yaml"]

    def _text(self, path: Path) -> str | None:
        """The text of a file; None where it can't be read."""
        try:
            return read_text(path)
        except YamlError as error:
            self._problem(error.place, path.stem, "file", error.says)
        except FileError as error:
            self._problem(Place(str(path), 1), path.stem, "file", error.says)
        return None

    def _parse(self, path: Path, what: str) -> tuple[Any, Places]:
        """The data of a whole file; None, and a problem, where there is none."""
        text = self._text(path)
        if text is None:
            return None, Places()
        try:
            data, places = parse(text, str(path))
        except YamlError as error:
            self._problem(error.place, path.stem, "yaml", error.says)
            return None, Places()
        if data in (None, ""):
            says = f"the file is empty; it holds {what}."
            self._problem(Place(str(path), 1), path.stem, "empty", says)
            return None, places
        return data, places

    def _scales(self) -> Scales:
        path = self.folder / SCALES
        data, places = self._parse(path, "the words and numbers of the scales")
        if data is None:
            self.unread_kinds |= set(Scales.__struct_fields__)
            data = stand_in_for(Scales)
        data, here = self._laid("scales", data, Located(str(path), places, ()))
        self.places["scales/scales"] = here
        scales: Scales = self._convert(data, Scales, here, "scales", "scales/scales")
        for mended in self.mended.get("scales/scales", []):
            if len(mended) < 2:
                self.unread_kinds |= {*map(str, mended)} or {*Scales.__struct_fields__}
        return scales

    def _lists(
        self, file: str, lists: dict[str, type[msgspec.Struct]]
    ) -> dict[str, dict[str, Any]]:
        path = self.folder / file
        found: dict[str, dict[str, Any]] = {kind: {} for kind in lists}
        listed = " and ".join(f"'{kind}:'" for kind in lists)
        data, places = self._parse(path, f"{listed} with a list below")
        if data is not None and not isinstance(data, dict):
            says = f"this file holds {listed} with a list below."
            self._problem(Place(str(path), *places.at(())), path.stem, "shape", says)
        if not isinstance(data, dict):
            self.unread_kinds |= set(lists)
            return found
        meant = set()
        for key in data:
            if key not in lists:
                place = Place(str(path), *places.at((key,), key=True))
                says = unknown("key", key, lists)
                self._problem(place, path.stem, "shape", says)
                meant.add(near(key, lists))
        for kind, record in lists.items():
            if kind not in data:
                self.unread_kinds.add(kind)
                if kind not in meant:
                    says = f"the key {kind!r} is missing."
                    self._problem(Place(str(path), 1), path.stem, "shape", says)
                continue
            here = Located(str(path), places, (kind,))
            for one in self._items(data[kind], here, kind, record):
                found[kind][one.id] = one
            for one in self._added(kind, record):
                found[kind][one.id] = one
        return found

    def _records(
        self, path: Path, kind: str, record: type[msgspec.Struct]
    ) -> Iterator[Any]:
        """The records of one file. Where it is no YAML, record by record."""
        text = self._text(path)
        if text is None:
            self.unread_kinds.add(kind)
            return
        name = str(path)
        try:
            parts = [parse(text, name)]
        except YamlError as error:
            parts = list(self._one_by_one(text, path, kind))
            if not any(problem.place.file == name for problem in self.problems):
                self._problem(error.place, path.stem, "yaml", error.says)
        else:
            if parts[0][0] in (None, ""):
                says = "the file is empty; write its records, or [] for none."
                self._problem(Place(name, 1), path.stem, "empty", says)
                return
        for data, places in parts:
            yield from self._items(data, Located(name, places, ()), kind, record)

    def _one_by_one(
        self, text: str, path: Path, kind: str
    ) -> Iterator[tuple[Any, Places]]:
        """Each record as a file by itself, so that one fault hides no other."""
        line = 1
        for part in re.split(r"(?m)^(?=- )", text):
            try:
                data, places = parse(part, str(path), line)
            except YamlError as error:
                found = re.search(r"(?m)^[- ] id: *([a-z0-9-]+) *$", part)
                label = found[1] if found else path.stem
                self._problem(error.place, label, "yaml", error.says)
                if found:
                    self.unread_ids.add(found[1])
                if not found or kind == "rules":
                    self.unread_kinds.add(kind)
            else:
                if data not in (None, ""):
                    yield data, places
            line += part.count("\n")

    def _items(
        self, items: Any, here: Located, kind: str, record: type[msgspec.Struct]
    ) -> Iterator[Any]:
        if not isinstance(items, list):
            self.unread_kinds.add(kind)
            says = "a list belongs here, each entry starting with '- id:'."
            self._problem(here.at(), kind, "shape", says)
            return
        for number, item in enumerate(items):
            located = Located(here.file, here.parts, (*here.path, number))
            item, located = self._laid(kind, item, located)
            label = f"{kind} number {number + 1}"
            yield from self._item(item, located, kind, record, label)

    def _item(
        self,
        item: Any,
        located: Located,
        kind: str,
        record: type[msgspec.Struct],
        label: str,
    ) -> Iterator[Any]:
        """One record, if it has an id of its own."""
        id = item.get("id") if isinstance(item, dict) else None
        if isinstance(id, str) and id:
            label = quoted(id)[1:-1]
            self.places.setdefault(f"{kind}/{id}", located)
        made = self._convert(item, record, located, label, f"{kind}/{id}")
        mended = self.mended.get(f"{kind}/{id}", [])
        if kind == "rules" and mended:
            self.unread_kinds.add(kind)
        if made.id != id or ("kind",) in mended:
            if isinstance(id, str):
                self.unread_ids |= {id, as_id(id)}
            else:
                self.unread_kinds.add(kind)
        elif self._own_id(id, kind, located):
            yield made

    def _own_id(self, id: str, kind: str, located: Located) -> bool:
        """Whether this is the first of its kind with that id; no two share one."""
        place = located.at()
        group = kind if kind in OWN_IDS else "record"
        first = self.owners.setdefault(f"{group}/{id}", str(place))
        if first != str(place):
            says = f"this id is already taken at {first}; each record has its own."
            self._problem(located.at("id"), id, "id", says)
        return self.places[f"{kind}/{id}"] is located

    def _convert(
        self,
        item: Any,
        record: type[msgspec.Struct],
        located: Located,
        label: str,
        name: str,
    ) -> Any:
        """The record; mended, and the faults noted, where the data do not fit."""
        try:
            return msgspec.convert(item, record, strict=False)
        except msgspec.ValidationError:
            fitting, misfits = fit(item, record)
        for misfit in misfits:
            place = located.at(*misfit.path, key=misfit.key)
            self._problem(place, label, "shape", misfit.says)
            mended = self.mended.setdefault(name, [])
            mended.append(misfit.path)
            if misfit.meant is not None:
                mended.append((*misfit.path[:-1], misfit.meant))
        return msgspec.convert(fitting, record, strict=False)

    def _problem(self, place: Place, record: str, check: str, says: str) -> None:
        self.problems.append(Problem(place, record, check, says))


def _is_yaml(path: Path) -> bool:
    hidden = path.name.startswith(".")
    return path.suffix.lower() in (".yaml", ".yml") and not hidden


def _holds_yaml(path: Path) -> bool:
    """Whether it is a YAML file, or a folder with one (hidden ones do not count)."""
    if not path.is_dir():
        return _is_yaml(path)
    return not path.name.startswith(".") and any(map(_is_yaml, path.rglob("*")))


def _touch(path: tuple[Step, ...], mended: tuple[Step, ...]) -> bool:
    """Whether one part holds the other."""
    shorter = min(len(path), len(mended))
    return path[:shorter] == mended[:shorter]
