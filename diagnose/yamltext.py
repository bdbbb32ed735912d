"""Text in YAML → plain data that knows where each part stood in the file.

Every scalar stays the text that was written: a plain loader would read `no` as
false and `012` as 10. Anchors, aliases and tags are refused (they are what a file
that blows up in memory is made of), and so is the second of two equal keys.
"""

from __future__ import annotations

import os
import re
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

import yaml

from diagnose.errors import DiagnoseError, FolderError, Place, quoted

_Loader: Any = getattr(yaml, "CBaseLoader", yaml.BaseLoader)
"""The loader in C where PyYAML was built with libyaml."""

LARGEST = 4_000_000
"""Bytes; a larger file is not read."""

DEEPEST = 20
"""Lists and keys inside one another; the records need eight."""

Step = str | int
Path_ = tuple[Step, ...]


@dataclass(frozen=True, slots=True)
class Places:
    """Where the parts of a file stand: line and column of each value, and each key."""

    values: dict[Path_, tuple[int, int]] = field(default_factory=dict)
    keys: dict[Path_, tuple[int, int]] = field(default_factory=dict)

    def at(self, path: Path_, *, key: bool = False) -> tuple[int, int]:
        """Line and column of a part (or its key), or of what is nearest above it."""
        if key and path in self.keys:
            return self.keys[path]
        while path and path not in self.values:
            path = path[:-1]
        return self.values.get(path, (1, 1))


class YamlError(DiagnoseError):
    """Text that is not the plain YAML this program reads; knows the place."""

    def __init__(self, place: Place, says: str) -> None:
        self.place = place
        self.says = says
        super().__init__(f"{place}: {says}")


class FileError(FolderError):
    """A file that can't be read; `says` is the reason alone."""

    def __init__(self, name: str, says: str) -> None:
        self.says = says
        super().__init__(f"{name}: {says}")


def no_such(what: str, path: Path) -> str:
    """What is said of a file or a folder that does not exist."""
    if path.is_symlink():
        return "this is a link that leads nowhere."
    return f"there is no such {what}."


def read_text(path: Path, shown: str | None = None) -> str:
    """The text of a file.

    Raises:
        FileError: there is no such file, it can't be read, or it is too large.
        YamlError: it is not text in UTF-8.
    """
    name = shown or str(path)
    try:
        if not path.exists():
            raise FileError(name, no_such("file", path))
        if path.is_dir():
            raise FileError(name, "this is a folder; name a file in it.")
        if not path.is_file():
            raise FileError(name, "this is not an ordinary file.")
        size = os.stat(path).st_size
        if size > LARGEST:
            raise FileError(
                name,
                f"{-(-size // 1_000_000)} MB is too large; such a file holds at most "
                f"{LARGEST / 1e6:.0f} MB of text.",
            )
        raw = path.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise FileError(name, f"the file can't be read: {reason}.") from None
    try:
        return raw.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        before = raw[: error.start]
        line = before.count(b"\n") + 1
        column = len(before[before.rfind(b"\n") + 1 :].decode("utf-8", "replace")) + 1
        raise YamlError(
            Place(name, line, column),
            "this is not text in UTF-8; save it as text in that coding.",
        ) from None


def parse(text: str, name: str, first_line: int = 1) -> tuple[Any, Places]:
    """Lists, dicts and text, and where each of them stands.

    Args:
        text: the YAML text, one document.
        name: the file's name, for messages.
        first_line: the line of the file that the text starts at.

    Raises:
        YamlError: the text is no YAML, or uses what is refused here.
    """
    before = first_line - 1
    odd = _UNPRINTABLE.search(text)
    if odd is not None:
        start = odd.start()
        line = text.count("\n", 0, start) + 1 + before
        raise YamlError(
            Place(name, line, start - text.rfind("\n", 0, start)),
            "a character that can't be printed stands here "
            f"(number {ord(odd[0])}); take it out.",
        )
    builder = _Builder(name, before)
    last: Any = None
    try:
        for event in yaml.parse(text, Loader=_Loader):
            builder.take(event)
            last = event
    except yaml.MarkedYAMLError as error:
        says, line, column = _late_quote(error, last, before) or _plain(error, text)
        raise YamlError(Place(name, line + before, column), says) from None
    return builder.result, builder.places


_UNPRINTABLE = re.compile(
    "[^\t\n\r\x20-\x7e\x85\xa0-\ud7ff\ue000-\ufefe\uff00-\ufffd\U00010000-\U0010ffff]"
)

_PLAIN: tuple[tuple[str, str, bool], ...] = (
    (
        "quoted.*(unexpected end of stream|document (indicator|separator))",
        "the quote opened here is never closed.",
        True,
    ),
    (
        "quoted.*unknown escape",
        "a backslash stands in a text between double quotes; use single quotes.",
        False,
    ),
    (
        r"expected ',' or '\]'",
        "the '[' here is not closed before the next line, or a comma is missing.",
        True,
    ),
    (
        r"expected ',' or '\}'",
        "the '{' here is not closed before the next line, or a comma is missing.",
        True,
    ),
    (
        "mapping values are not allowed",
        "this ':' can't stand here; put a text with ': ' in it between quotes, or "
        "mend the indent.",
        False,
    ),
    ("could not find expected ':'", "a ':' is missing after this.", True),
    (
        "block collection.*expected ('-' indicator|<block end>)",
        "this line belongs to no item of the list above; start it with '- ' or mend "
        "its indent.",
        False,
    ),
    (
        "block mapping.*expected (key|<block end>)",
        "this does not fit what stands before it; mend the indent, or put the whole "
        "text between quotes.",
        False,
    ),
    (
        "sequence entries are not allowed",
        "a list can't start here; start it on a line of its own, below the key.",
        False,
    ),
    (
        "scanning (a directive|an alias|an anchor|a tag)|parsing a tag|cannot start "
        "any token|<document start>.*<stream end>|incompatible YAML",
        "a text can't start with {sign}; put it between quotes.",
        True,
    ),
    (
        "expected (the )?node content",
        "something is missing before this sign, or it should be between quotes.",
        False,
    ),
    (
        "maximum nesting depth",
        "too many lists and keys stand inside one another here.",
        False,
    ),
    ("block scalar", "after '|' or '>' the text starts on the next line.", False),
    (
        "<document start>",
        "this does not belong to what stands above; mend the indent, or take it out.",
        False,
    ),
)
"""What a parser says → plain words, and whether the place is where it began."""


def _late_quote(
    error: yaml.MarkedYAMLError, last: Any, before: int
) -> tuple[str, int, int] | None:
    """Where a quote was opened that only the next quote, lines below, has closed."""
    mark = error.problem_mark
    if (
        mark is None
        or getattr(last, "style", None) not in ("'", '"')
        or not last.start_mark.line < last.end_mark.line == mark.line
    ):
        return None
    line = mark.line + 1 + before
    says = f"the quote opened here is closed in line {line} only; close it where the "
    return f"{says}text ends.", *_at(last)


def _plain(error: yaml.MarkedYAMLError, text: str) -> tuple[str, int, int]:
    """A parser's error in plain words, and the line and column it is about."""
    lines = text.split("\n")

    def at(mark: yaml.Mark | None) -> tuple[int, int, str]:
        line, column = (mark.line, mark.column) if mark else (0, 0)
        return line, column, lines[line] if line < len(lines) else ""

    line, column, written = at(error.problem_mark or error.context_mark)
    indent = written[: len(written) - len(written.lstrip())]
    if "\t" in indent or written[column : column + 1] == "\t":
        return "a tab stands here; indent with spaces.", line + 1, column + 1
    said = f"{error.context or ''} {error.problem or ''}"
    for pattern, says, where_it_began in _PLAIN:
        if re.search(pattern, said):
            if where_it_began and error.context_mark:
                line, column, written = at(error.context_mark)
            if "backslash" in says and written[column : column + 1] != "\\":
                column -= 1
            sign = written[column : column + 1]
            return says.replace("{sign}", repr(sign)), line + 1, column + 1
    says = f"this can't be read as YAML ({error.problem or error.context})."
    return says, line + 1, column + 1


class _Builder:
    """Builds the data from the parser's events, without recursion."""

    def __init__(self, name: str, before: int) -> None:
        self.name = name
        self.before = before
        self.result: Any = None
        self.places = Places()
        self.documents = 0
        self.path: list[Step] = []
        self.open: list[Any] = []
        self.keys: list[str | None] = []

    def fail(self, event: yaml.Event, says: str) -> None:
        raise YamlError(Place(self.name, *self._at(event)), says)

    def take(self, event: yaml.Event) -> None:
        if isinstance(event, yaml.DocumentStartEvent):
            self.documents += 1
            if self.documents > 1:
                self.fail(event, "a second document starts here; keep one a file.")
        if isinstance(event, yaml.AliasEvent) or getattr(event, "anchor", None):
            says = "names for parts (& and *) are not read here; put a text that "
            self.fail(event, f"{says}starts so between quotes.")
        if getattr(event, "tag", None):
            says = "tags (!) are not read here; put a text that starts so between "
            self.fail(event, f"{says}quotes.")
        if isinstance(event, yaml.ScalarEvent):
            self._scalar(event)
        elif isinstance(event, yaml.MappingStartEvent):
            self._start(event, {})
        elif isinstance(event, yaml.SequenceStartEvent):
            self._start(event, [])
        elif isinstance(event, (yaml.MappingEndEvent, yaml.SequenceEndEvent)):
            self.open.pop()
            self.keys.pop()
            if self.path:
                self.path.pop()

    def _scalar(self, event: yaml.ScalarEvent) -> None:
        if self.open and isinstance(self.open[-1], dict) and self.keys[-1] is None:
            key = event.value
            if key in self.open[-1]:
                self.fail(event, f"the key {quoted(key)} stands here a second time.")
            self.keys[-1] = key
            self.places.keys[*self.path, key] = self._at(event)
            return
        self._place(event, event.value)
        if self.path:
            self.path.pop()

    def _start(self, event: yaml.Event, fresh: Any) -> None:
        if self.open and isinstance(self.open[-1], dict) and self.keys[-1] is None:
            self.fail(event, "a word belongs before the ':', not a list.")
        if len(self.open) == DEEPEST:
            self.fail(event, "too many lists and keys stand inside one another here.")
        self._place(event, fresh)
        self.open.append(fresh)
        self.keys.append(None)

    def _place(self, event: yaml.Event, value: Any) -> None:
        """Put a value where it belongs, and step into it."""
        if not self.open:
            self.result = value
        elif isinstance(self.open[-1], list):
            self.path.append(len(self.open[-1]))
            self.open[-1].append(value)
        else:
            key = self.keys[-1]
            assert key is not None
            self.path.append(key)
            self.open[-1][key] = value
            self.keys[-1] = None
        self.places.values[tuple(self.path)] = self._at(event)

    def _at(self, event: yaml.Event) -> tuple[int, int]:
        """Line and column of an event, from 1, in the file."""
        line, column = _at(event)
        return line + self.before, column


def _at(event: yaml.Event) -> tuple[int, int]:
    """Line and column of an event, from 1, in the text."""
    mark = event.start_mark
    return (mark.line + 1, mark.column + 1) if mark else (1, 1)
