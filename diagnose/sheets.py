"""The answer sheet: all that a person said and answered, as one YAML file.

The sheet is the whole state of a consultation. A sheet filled in by hand and a
consultation saved half-way are the same kind of file.
"""

from __future__ import annotations

import contextlib
import os
from collections.abc import Callable, Collection, Iterable, Iterator
from functools import partial
from pathlib import Path
from typing import Any

import msgspec
import yaml
from filelock import FileLock, Timeout
from msgspec import Struct

from diagnose.errors import (
    AnswerError,
    FolderError,
    SheetError,
    nearest,
    quoted,
    shortened,
    unknown,
)
from diagnose.readings import read
from diagnose.records import Finding, Knowledge
from diagnose.shapes import fit
from diagnose.yamltext import Places, Step, YamlError, parse, read_text

_Dumper: Any = getattr(yaml, "CSafeDumper", yaml.SafeDumper)

DONT_KNOW = "don't know"
SOMEWHAT = "somewhat"
NOT_YET = "not yet"
"""Of a fix: it was taken up, and whether it worked is not known."""
WORDS = {
    "y": "yes",
    "true": "yes",
    "n": "no",
    "false": "no",
    "a little": SOMEWHAT,
    "a bit": SOMEWHAT,
    "partly": SOMEWHAT,
    "dont know": DONT_KNOW,
    "don’t know": DONT_KNOW,
    "not sure": DONT_KNOW,
    "unknown": DONT_KNOW,
    "can't": DONT_KNOW,
    "i can't": DONT_KNOW,
    "?": DONT_KNOW,
}
"""Other ways to write an answer."""

LONGEST_WAIT = 10.0
"""Seconds that a writer waits for another one."""

GROUPS = ("set_up", "answers", "readings")

MOST = 20
"""So many faults of a sheet are told; the others are counted."""

Fault = tuple[tuple[Step, ...], str | Callable[[], str]]
"""The part of the sheet, and what is wrong with it (or how to find the words)."""


class Sheet(Struct, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """What a person said and answered; all values are text, as written."""

    stage: str = ""
    said: list[str] = []
    set_up: dict[str, str] = {}
    answers: dict[str, str] = {}
    readings: dict[str, str] = {}
    to_hand: dict[str, str] = {}
    tried: dict[str, str] = {}
    begun: str = ""
    ended: str = ""

    def group(self, finding: Finding) -> dict[str, str]:
        """The part of the sheet that a finding's answer stands in."""
        if finding.kind == "reading":
            return self.readings
        return self.set_up if finding.role in ("set-up", "habit") else self.answers

    def given(self) -> dict[str, str]:
        """Every answer by finding."""
        return {**self.set_up, **self.answers, **self.readings}


def tidy(finding: Finding, text: str) -> str:
    """An answer as typed → the answer as it is kept.

    Raises:
        AnswerError: the finding does not take that answer; says what it takes.
    """
    word = " ".join(text.split())
    allowed = {value: value for value in finding.values()}
    if finding.kind == "yes-no":
        allowed[SOMEWHAT] = SOMEWHAT
    named = {choice.name.lower(): choice.id for choice in finding.choices}
    low = word.lower()
    for known in (allowed, named):
        if low in known:
            return known[low]
    low = WORDS.get(low, low)
    if low == DONT_KNOW or low in allowed:
        return low
    if finding.kind == "reading":
        read(word, finding)
        return word
    takes = shortened([*allowed, DONT_KNOW])
    raise AnswerError(
        f"{finding.id!r} does not take {quoted(word)}{nearest(low, allowed)}; "
        f"it takes {takes}."
    )


def read_sheet(path: str | os.PathLike[str], knowledge: Knowledge) -> Sheet:
    """Read an answer sheet, or a saved consultation.

    Raises:
        SheetError: all that is wrong, each with file, line and the part it is in.
        FolderError: there is no such file, or it can't be read.
    """
    where = Path(path)
    name = str(where)
    try:
        data, places = parse(read_text(where, name), name)
    except YamlError as error:
        raise SheetError(str(error)) from None
    if data in (None, ""):
        listed = ", ".join(("stage", "said", *GROUPS))
        raise SheetError(f"{name}: the sheet is empty; it holds any of {listed}.")
    fitting, misfits = fit(as_meant(data), Sheet)
    faults: list[Fault] = [(m.path, m.says) for m in misfits]
    sheet = msgspec.convert(fitting, Sheet, strict=False)
    faults += check(sheet, knowledge, {m.path for m in misfits})
    if faults:
        raise SheetError("\n".join(told_of(faults, name, places)))
    return sheet


def told_of(faults: Iterable[Fault], name: str, places: Places) -> list[str]:
    """What is said of the first faults, with file and line, in the order of lines."""
    lines = [(places.at(path, key=True)[0], path, says) for path, says in faults]
    lines.sort(key=lambda fault: fault[0])
    told = [
        f"{name}:{line}: {f'{path[0]}: ' if path else ''}"
        f"{says if isinstance(says, str) else says()}"
        for line, path, says in lines[:MOST]
    ]
    if len(lines) > MOST:
        told.append(f"{name}: and {len(lines) - MOST} more.")
    return told


def as_meant(data: Any) -> Any:
    """What people write by hand, in the form of a sheet: blanks are left out."""
    if not isinstance(data, dict):
        return data
    filled = {part: value for part, value in data.items() if value != ""}
    if isinstance(filled.get("said"), str):
        filled["said"] = [filled["said"]]
    for part in (*GROUPS, "to_hand", "tried"):
        if isinstance(filled.get(part), dict):
            filled[part] = {
                id: "; ".join(value)
                if part == "readings" and _is_texts(value)
                else value
                for id, value in filled[part].items()
                if value != ""
            }
    return filled


def _is_texts(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(one, str) for one in value)


def check(
    sheet: Sheet, knowledge: Knowledge, misfits: Collection[tuple[Step, ...]]
) -> Iterator[Fault]:
    """Each answer that belongs to no finding, or that its finding does not take.

    The others are tidied, and put where they belong.
    """
    if (
        sheet.stage
        and ("stage",) not in misfits
        and (sheet.stage not in knowledge.stages)
    ):
        asked = [stage.id for stage in knowledge.stages.values() if stage.here]
        yield ("stage",), unknown("stage", sheet.stage, knowledge.stages, asked)
    given = [
        (part, id, value)
        for part in GROUPS
        for id, value in getattr(sheet, part).items()
        if (part, id) not in misfits
    ]
    sheet.set_up, sheet.answers, sheet.readings = {}, {}, {}
    for part, id, value in given:
        finding = knowledge.findings.get(id)
        if finding is None:
            yield (part, id), partial(unknown, "finding", id, knowledge.findings)
            continue
        if id in sheet.group(finding):
            yield (part, id), f"{id!r} is answered a second time."
        try:
            sheet.group(finding)[id] = tidy(finding, value)
        except AnswerError as error:
            yield (part, id), str(error)
    kinds: dict[str, tuple[str, Collection[str], tuple[str, ...]]] = {
        "to_hand": ("tool", knowledge.tools, ("yes", "no")),
        "tried": ("fix", knowledge.fixes, ("yes", "no", NOT_YET)),
    }
    for part, (what, known, takes) in kinds.items():
        for id, value in getattr(sheet, part).items():
            low = WORDS.get(value.lower(), value.lower())
            if (part, id) in misfits:
                continue
            if id not in known:
                yield (part, id), partial(unknown, what, id, known)
            elif low not in takes:
                listed = " or ".join(map(repr, takes))
                yield (part, id), f"{id!r} takes {listed}, not {quoted(value)}."
            else:
                getattr(sheet, part)[id] = low


def sheet_text(sheet: Sheet) -> str:
    """The sheet as YAML."""
    return str(
        yaml.dump(
            _encodable(msgspec.to_builtins(sheet)),
            Dumper=_Dumper,
            sort_keys=False,
            allow_unicode=True,
            width=88,
        )
    )


def _encodable(part: Any) -> Any:
    """The same, with '?' for what can't be written (half of a character)."""
    if isinstance(part, dict):
        return {_encodable(key): _encodable(value) for key, value in part.items()}
    if isinstance(part, list):
        return [_encodable(one) for one in part]
    return str(part).encode("utf-8", "replace").decode("utf-8")


def write_sheet(sheet: Sheet, path: str | os.PathLike[str]) -> None:
    """Write a sheet so that the file is always whole: the old one, or the new one.

    Raises:
        FolderError: the folder or the file can't be written.
    """
    write_whole(Path(path), sheet_text(sheet))


def write_whole(path: Path, text: str) -> None:
    """Write a file next to its place, make sure it is on disk, and move it there.

    What a writer that was killed left behind is written over by the next one.

    Raises:
        FolderError: the folder or the file can't be written.
    """
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        with FileLock(f"{path}.lock", timeout=LONGEST_WAIT):
            put_whole(path, text)
    except Timeout:
        raise FolderError(
            f"{path}: another program is writing this file; try again."
        ) from None
    except (OSError, ValueError, NotImplementedError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise FolderError(f"{path}: the file can't be written: {reason}.") from None


def write_new(path: Path, text: str) -> None:
    """Write a file that is not there yet, whole or not at all.

    Raises:
        FolderError: there is such a file already, or it can't be written.
    """
    if os.path.lexists(path):
        raise FolderError(f"{path} is there already; name a file that is not.")
    try:
        put_whole(path, text)
    except (OSError, ValueError, NotImplementedError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise FolderError(f"{path}: the file can't be written: {reason}.") from None


def put_whole(path: Path, text: str) -> None:
    """The same for one who holds a lock already.

    Raises:
        OSError: the file can't be written.
    """
    fresh = path.with_name(f".{path.name}.new")
    try:
        with fresh.open("w", encoding="utf-8") as file:
            file.write(text)
            file.flush()
            os.fsync(file.fileno())
        os.replace(fresh, path)
        _keep_name(path.parent)
    except BaseException:
        with contextlib.suppress(OSError):
            fresh.unlink()
        raise


def _keep_name(folder: Path) -> None:
    """Make sure that a file's new name is on disk too, where that can be done."""
    with contextlib.suppress(OSError):
        handle = os.open(folder, os.O_RDONLY)
        try:
            os.fsync(handle)
        finally:
            os.close(handle)
