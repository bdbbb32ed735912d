"""The texts of the knowledge in another language, laid over the records.

A folder of `knowledge/languages` mirrors the knowledge: `causes/coating.yaml` has the
records of causes again, with their id and their texts only:

    - id: coats-too-few
      name: muy pocas capas de emulsión
      makes:
      - state: stencil-thin       links go by where they lead to
        because: …
      settled_by:
      - how: …                    checks go by their place

`phrases`, and words that a record is known by, are added to the English ones; any
other text takes the place of the English one. What is left out stays English. The
texts are laid on as plain data, before a shop's own knowledge and before the checks.
"""

from __future__ import annotations

import os
from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field
from functools import cache
from pathlib import Path
from typing import Any

import yaml

from diagnose.errors import Place, Problem, nearest, quoted
from diagnose.language import ENGLISH, WORDS, current
from diagnose.yamltext import FileError, Step, YamlError, parse, read_text


def _set(words: str) -> frozenset[str]:
    return frozenset(words.split())


TEXTS = _set(
    "name also what question how not_this steps says_yes says_no says phrases "
    "tell_apart why worked_when materials because misleads tell contradiction danger "
    "do ask named_by here explains instead below within above means check_next topic "
    "formula labels good bad well not_covered_name not_covered_what"
)
"""Keys that hold text for a person, or lists or maps of it."""

ADDED = _set("phrases named_by also")
"""Lists of words that are added to the English ones."""

FREE = _set("materials") | ADDED
"""Lists that may have another length than the English one."""

BY: Mapping[str, tuple[str, ...]] = {
    "makes": ("state",),
    "shows": ("finding", "value"),
    "looks_like": ("id",),
    "choices": ("id",),
    "inputs": ("id",),
    "gives": ("id",),
    "numbers": ("id",),
}
"""Lists of parts, and the keys that tell which part is meant."""

IN_TURN = ("settled_by",)
"""Lists of parts that go by their place."""

PARTS = ("then", "otherwise")
"""Parts of a record that hold texts."""

SAME = _set("id state finding value cause")
"""Keys that say which record or part is meant."""

NOT_TRANSLATED = ("sources",)
"""Kinds whose texts stay as they are."""

Path_ = tuple[Step, ...]
_Loader: Any = getattr(yaml, "CBaseLoader", yaml.BaseLoader)


@dataclass(frozen=True, slots=True)
class _Entry:
    """A record of a language, and where it stands."""

    item: dict[str, Any]
    file: Path
    path: Path_


@dataclass
class Texts:
    """The texts of one language.

    `there` counts the texts of the records that were met, `done` those of them that
    are translated.
    """

    entries: dict[str, dict[str, _Entry]] = field(default_factory=dict)
    faults: list[tuple[Path, Path_, str, str]] = field(default_factory=list)
    met: set[tuple[str, str]] = field(default_factory=set)
    counts: bool = False
    there: int = 0
    done: int = 0

    def laid(self, kind: str, item: Any) -> Any:
        """One record of that kind with the texts of the language."""
        if not isinstance(item, dict) or kind in NOT_TRANSLATED:
            return item
        if self.counts:
            self.there += sum(1 for _ in _texts_of(item))
        id = item.get("id", kind)
        entry = self.entries.get(kind, {}).get(id) if isinstance(id, str) else None
        if entry is None:
            return item
        self.met.add((kind, id))
        return self._over(item, entry.item, entry, ())

    def _over(
        self, base: dict[str, Any], new: dict[str, Any], entry: _Entry, path: Path_
    ) -> dict[str, Any]:
        """The texts of `new` over those of a record, or of a part of one."""
        made = dict(base)
        for key, value in new.items():
            at = (*path, key)
            old = base.get(key)
            if key in SAME and (old == value or (key == "value" and old is None)):
                continue
            if key in ADDED and old is None and _is_text_list(value):
                old = []
            if key in SAME:
                self._fault(entry, at, f"this is {quoted(str(old))} in the record.")
            elif old is None:
                hint = nearest(key, base)
                self._fault(entry, at, f"the record has no {quoted(key)}{hint}.")
            elif key in BY and isinstance(old, list) and isinstance(value, list):
                made[key] = self._parts(key, old, value, entry, at)
            elif key in IN_TURN and isinstance(old, list) and isinstance(value, list):
                made[key] = self._in_turn(old, value, entry, at)
            elif key in PARTS and isinstance(old, dict) and isinstance(value, dict):
                made[key] = self._over(old, value, entry, at)
            elif key not in TEXTS:
                says = f"{quoted(key)} is no text; a translation holds only texts."
                self._fault(entry, at, says)
            elif not _fits(key, old, value):
                self._fault(entry, at, f"{_wanted(old)} belongs here, as in English.")
            else:
                self.done += _count(value if key not in ADDED else old)
                if key in ADDED:
                    made[key] = [*old, *(one for one in value if one not in old)]
                elif isinstance(old, dict):
                    made[key] = {**old, **value}
                else:
                    made[key] = value
        return made

    def _parts(
        self, key: str, old: list[Any], new: list[Any], entry: _Entry, path: Path_
    ) -> list[Any]:
        """The parts of a list, each with the texts of what is about the same."""
        made = list(old)
        places = {_which(key, one): n for n, one in enumerate(old)}
        for number, one in enumerate(new):
            which = _which(key, one)
            place = places.get(which)
            if place is None or not isinstance(one, dict):
                said = " = ".join(filter(None, which)) or "this"
                known = [" = ".join(filter(None, w)) for w in places]
                says = f"the record has no {quoted(said)} here{nearest(said, known)}."
                self._fault(entry, (*path, number), says)
            else:
                made[place] = self._over(old[place], one, entry, (*path, number))
        return made

    def _in_turn(
        self, old: list[Any], new: list[Any], entry: _Entry, path: Path_
    ) -> list[Any]:
        if len(old) != len(new) or not all(isinstance(one, dict) for one in new):
            says = f"{len(old)} entries belong here, as in English, not {len(new)}."
            self._fault(entry, path, says)
            return old
        return [
            self._over(one, text, entry, (*path, number))
            for number, (one, text) in enumerate(zip(old, new, strict=True))
        ]

    def _fault(self, entry: _Entry, path: Path_, says: str) -> None:
        label = str(entry.item.get("id", entry.file.stem))
        self.faults.append((entry.file, (*entry.path, *path), label, says))

    def problems(self, records: Mapping[str, Any]) -> list[Problem]:
        """What is wrong with the files, after all records were met.

        Args:
            records: the records of the knowledge by id, by kind.
        """
        faults = list(self.faults)
        for kind, entries in self.entries.items():
            for id, entry in entries.items():
                if (kind, id) not in self.met:
                    hint = nearest(id, records.get(kind, ()))
                    says = f"the knowledge has none of {kind} with this id{hint}."
                    faults.append((entry.file, (*entry.path, "id"), id, says))
        places = cache(lambda file: parse(read_text(file), str(file))[1])
        found = []
        for file, path, label, says in faults:
            try:
                place = Place(str(file), *places(file).at(path))
            except YamlError as error:
                place, says = error.place, error.says
            except FileError as error:
                place, says = Place(str(file), 1), error.says
            found.append(Problem(place, label, "translation", says))
        return found


def texts_in_use(folder: Path) -> Texts:
    """The texts of the language in use; none where that is English.

    Args:
        folder: the folder of the languages.
    """
    return Texts() if current() == ENGLISH else read_texts(folder / current())


def read_texts(folder: Path, *, counts: bool = False) -> Texts:
    """The texts of the language of that folder; its faults are kept with them."""
    texts = Texts(counts=counts)
    for path in _files(folder):
        kind = path.relative_to(folder).parts[0]
        try:
            data = yaml.load(path.read_bytes(), Loader=_Loader)
        except (OSError, UnicodeDecodeError, yaml.YAMLError):
            texts.faults.append((path, (), path.stem, "the file can't be read."))
            continue
        if path.parent == folder:
            _take_file(texts, path, data)
        else:
            _take(texts, kind, path, data, ())
    return texts


def _files(folder: Path) -> Iterator[Path]:
    for inside, folders, names in os.walk(folder):
        folders.sort()
        for name in sorted(names):
            if name.endswith(".yaml") and not name.startswith("."):
                path = Path(inside, name)
                if path != folder / WORDS:
                    yield path


def _take_file(texts: Texts, path: Path, data: Any) -> None:
    """A file beside the folders: a list of one kind, lists by kind, or the scales."""
    name = path.stem.replace("-", "_")
    if not isinstance(data, dict):
        _take(texts, name, path, data, ())
    elif name == "scales":
        texts.entries["scales"] = {"scales": _Entry(data, path, ())}
    else:
        for kind, items in data.items():
            _take(texts, kind, path, items, (kind,))


def _take(texts: Texts, kind: str, path: Path, items: Any, at: Path_) -> None:
    entries = texts.entries.setdefault(kind, {})
    if not isinstance(items, list):
        says = "a list belongs here, each entry starting with '- id:'."
        texts.faults.append((path, at, path.stem, says))
        return
    for number, item in enumerate(items):
        id = item.get("id") if isinstance(item, dict) else None
        here = (*at, number)
        if not isinstance(id, str):
            texts.faults.append((path, here, path.stem, "the key 'id' is missing."))
        elif id in entries:
            says = f"{quoted(id)} is translated in {entries[id].file} already."
            texts.faults.append((path, (*here, "id"), id, says))
        else:
            entries[id] = _Entry(item, path, here)


def _which(key: str, part: Any) -> tuple[str, ...]:
    """What a part of a list is about."""
    if not isinstance(part, dict):
        return ()
    found = tuple(str(part.get(one, "")) for one in BY[key])
    return found[:1] if found[1:] in (("yes",), ("",)) else found


def _is_text_list(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(one, str) for one in value)


def _fits(key: str, old: Any, new: Any) -> bool:
    """Whether a text, or a list or map of texts, can stand for the English one."""
    if isinstance(old, list):
        right = _is_text_list(new) and (key in FREE or len(new) == len(old))
        return right and all(one.strip() for one in new)
    if isinstance(old, dict):
        known = isinstance(new, dict) and new.keys() <= old.keys()
        return known and all(isinstance(one, str) and one for one in new.values())
    return isinstance(new, str) and bool(new.strip())


def _wanted(old: Any) -> str:
    if isinstance(old, list):
        return f"a list of {len(old)} texts"
    return "keys with a text each" if isinstance(old, dict) else "a text"


def _count(value: Any) -> int:
    return len(value) if isinstance(value, (list, dict)) else 1


def _texts_of(part: Mapping[str, Any]) -> Iterator[str]:
    """The texts of a record that can be translated."""
    for key, value in part.items():
        if key in BY or key in IN_TURN:
            for one in value if isinstance(value, list) else ():
                if isinstance(one, dict):
                    yield from _texts_of(one)
        elif key in PARTS and isinstance(value, dict):
            yield from _texts_of(value)
        elif key in TEXTS:
            if isinstance(value, str):
                yield value
            elif isinstance(value, (list, dict)):
                yield from (str(one) for one in value)
