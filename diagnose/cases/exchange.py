"""Cases from and to tables (CSV), and from and to JSON Lines, a case a line.

A mapping file says which column of a table is which part of a case, and which words
in it mean which value. No row is taken in part: a row with a fault is told with its
number and left out. Nothing that is there is overwritten, and nothing is taken twice.
"""

from __future__ import annotations

import csv
import datetime
import hashlib
import io
import json
import re
from collections.abc import Callable, Collection, Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial
from pathlib import Path
from typing import Any, Literal

import msgspec
from msgspec import Struct

from diagnose.cases.record import (
    Case,
    encodable,
    fit_case,
    is_date,
    minutes_in,
    not_understood,
    plain,
)
from diagnose.cases.shop import Kept, Shop
from diagnose.consultation import Consultation
from diagnose.english import STOP
from diagnose.errors import (
    AnswerError,
    CaseError,
    nearest,
    quoted,
    shortened,
    unknown,
)
from diagnose.language import mark, tr
from diagnose.records import Knowledge
from diagnose.shapes import fit
from diagnose.sheets import GROUPS, Fault, Sheet, tidy, told_of, write_whole
from diagnose.yamltext import FileError, YamlError, no_such, parse, read_text

LARGEST = 500_000_000
"""Bytes; a larger file of cases is not read."""

LEAVE_OUT = "leave out"
"""A column, or a word, that is not taken over."""

PARTS = (
    *("id", "date", "who", "stage", "said", "notes", "minutes", "prints_lost"),
    "invented",
)
"""Parts of a case that a column can be; so are a finding's id, and these:"""

PREFIXES = {"group": "groups", "tried": "tried", "to hand": "to_hand"}
"""'group line', 'tried coat-again', 'to hand loupe'."""

CAUSE = re.compile(r"(cause|other|how)(?: ([2-9]))?")
"""'cause', 'other' and 'how' of the first confirmed cause; 'cause 2' of the second."""

BETWEEN = ",;\t|"
"""What may stand between columns."""

SOMEONE = "(someone)"
"""Stands for a person's name in what is exported without names."""

WRITTEN = {"said", "not_understood", "groups", "confirmed", "corrected"}
"""The parts of a case that hold what people wrote."""

ID = re.compile(r"[a-z0-9]+(-[a-z0-9]+)+")
"""A text that can only be an id of the knowledge, such as a cause before."""

LINES = 200
"""A cell between quotes goes over no more lines."""

DATES = {
    "year-month-day": "%Y-%m-%d",
    "day.month.year": "%d.%m.%Y",
    "day/month/year": "%d/%m/%Y",
    "month/day/year": "%m/%d/%Y",
}


class Columns(Struct, kw_only=True, forbid_unknown_fields=True):
    """What a mapping file holds.

    `columns` goes from a column's heading to a part of a case; `values` from a
    heading to what its words mean; `dates` is the order of a date's parts; `between`
    is what stands between columns; `listen` has what was said heard as answers.
    """

    columns: dict[str, str] = {}
    values: dict[str, dict[str, str]] = {}
    dates: Literal[
        "year-month-day", "day.month.year", "day/month/year", "month/day/year"
    ] = "year-month-day"
    between: str = ""
    coding: Literal["utf-8", "utf-16", "windows-1252"] = "utf-8"
    listen: Literal["yes", "no"] = "no"


@dataclass(frozen=True)
class Row:
    """A row of a table or a line of JSON: its number, and the case or its faults."""

    number: int
    case: Case | None
    id: str = ""
    faults: tuple[str, ...] = ()
    lacks: tuple[str, ...] = ()


@dataclass
class Report:
    """What came of an import.

    `taken` are the ids of new cases; `left` the rows that were not taken, with why
    (file and row) in `told`; `twice` the rows that were there already; `notes` what
    else is worth knowing.
    """

    taken: list[str] = field(default_factory=list)
    left: list[int] = field(default_factory=list)
    told: list[str] = field(default_factory=list)
    twice: list[int] = field(default_factory=list)
    notes: list[str] = field(default_factory=list)


def fingerprints(case: Case) -> set[str]:
    """What the case says, as it is and as it was before it was corrected."""
    data = plain(case)
    for part in ("ranking", "corrected", "not_understood", "begun", "ended"):
        data.pop(part, None)
    found = set()
    causes = [one.name() for one in case.confirmed]
    for data["confirmed"] in (causes, *(one.was for one in case.corrected)):
        text = json.dumps(encodable(data), sort_keys=True)
        found.add(hashlib.sha256(text.encode()).hexdigest())
    return found


# in


def import_cases(
    shop: Shop,
    knowledge: Knowledge,
    file: Path,
    mapping: Path | None = None,
    *,
    dry_run: bool = False,
) -> Report:
    """Take the cases of a file into a shop.

    Args:
        shop: where they are kept.
        knowledge: what they are checked against.
        file: a table, or JSON Lines where its name ends in .jsonl.
        mapping: the mapping file; without one the columns are named as in an export.
        dry_run: only say what would be taken.

    Raises:
        CaseError: the file as a whole, or the mapping, can't be made sense of.
        FolderError: a file can't be read or written.
    """
    report = Report()
    if _is_json(file):
        if mapping is not None:
            says = tr("JSON Lines need no mapping; leave --mapping out.")
            raise CaseError(f"{file}: {says}")
        rows = list(_rows_of_json(file, knowledge))
    else:
        rows = list(_rows_of_table(file, knowledge, mapping, report.notes))
    if dry_run:
        _take(shop, knowledge, file, rows, lambda _, id: id, report)
    else:
        with shop.lock():
            _take(shop, knowledge, file, rows, shop.put, report)
    return report


def _is_json(file: Path) -> bool:
    return file.suffix.lower() in (".jsonl", ".ndjson")


def _take(
    shop: Shop,
    knowledge: Knowledge,
    file: Path,
    rows: Iterable[Row],
    put: Callable[[Case, str], str],
    report: Report,
) -> None:
    kept = [one for one in shop.each(knowledge) if isinstance(one, Kept)]
    ids = set(shop.ids())
    known = {print_ for one in kept for print_ in fingerprints(one.case)}
    for row in rows:
        at = f"{file}:{row.number}"
        if row.case is None:
            report.left.append(row.number)
            report.told += [f"{at}: {says}" for says in row.faults]
            continue
        same = fingerprints(row.case)
        is_new_id = row.id != "" and row.id not in ids
        if same & known and not is_new_id:
            report.twice.append(row.number)
            continue
        id = put(row.case, row.id) or tr("row {number}", number=row.number)
        ids.add(id)
        known |= same
        report.taken.append(id)
        report.notes += [f"{at}: {says}" for says in row.lacks]
        if row.id and id != row.id:
            says = tr("kept as {id}, as there is another {other}.", id=id, other=row.id)
            report.notes.append(f"{at}: {says}")


def _raw(file: Path) -> bytes:
    try:
        if not file.exists():
            raise FileError(str(file), no_such("file", file))
        if file.is_dir():
            raise FileError(str(file), "this is a folder; name a file in it.")
        if not file.is_file():
            raise FileError(str(file), "this is not an ordinary file.")
        if file.stat().st_size > LARGEST:
            raise FileError(str(file), f"it is larger than {LARGEST / 1e6:.0f} MB.")
        return file.read_bytes()
    except (OSError, ValueError) as error:
        reason = getattr(error, "strerror", None) or str(error)
        raise FileError(str(file), f"the file can't be read: {reason}.") from None


def _says(fault: Fault) -> str:
    """A fault, behind the part that it is in."""
    path, says = fault
    part = f"{path[0]}: " if path else ""
    return f"{part}{says if isinstance(says, str) else says()}"


def _rows_of_json(file: Path, knowledge: Knowledge) -> Iterator[Row]:
    raw = _raw(file).removeprefix(b"\xef\xbb\xbf")
    for number, line in enumerate(raw.split(b"\n"), 1):
        if not line.strip():
            continue
        try:
            data = json.loads(
                line.decode("utf-8"), object_pairs_hook=_once, parse_constant=_refuse
            )
            texts = _as_text(data)
        except UnicodeDecodeError:
            yield Row(number, None, faults=(tr("this line is not text in UTF-8."),))
            continue
        except json.JSONDecodeError as error:
            says = tr(
                "this is no JSON: {reason} at column {column}.",
                reason=error.msg,
                column=error.colno,
            )
            yield Row(number, None, faults=(says,))
            continue
        except (ValueError, RecursionError) as error:
            says = str(error) if isinstance(error, ValueError) else tr("too deep.")
            told = tr("this can't be read: {reason}", reason=says)
            yield Row(number, None, faults=(told,))
            continue
        id = texts.pop("id", "") if isinstance(texts, dict) else ""
        case, faults, lacks = fit_case(texts, knowledge)
        if not isinstance(id, str):
            faults.append((("id",), tr("a text belongs here.")))
        if faults:
            yield Row(number, None, faults=tuple(map(_says, faults)))
        else:
            yield Row(number, case, id, lacks=tuple(map(_says, lacks)))


def _once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) < len(pairs):
        keys = [key for key, _ in pairs]
        twice = next(key for key in keys if keys.count(key) > 1)
        raise ValueError(tr("the key {key} stands twice.", key=quoted(twice)))
    return found


def _refuse(word: str) -> None:
    raise ValueError(tr("{word} is no number.", word=word))


def _as_text(data: Any) -> Any:
    """JSON with every scalar as text, as a case file is read; null is left out."""
    if isinstance(data, dict):
        return {
            encodable(key): _as_text(value)
            for key, value in data.items()
            if value is not None
        }
    if isinstance(data, list):
        return [_as_text(one) for one in data]
    if isinstance(data, bool):
        return "yes" if data else "no"
    return encodable(data) if isinstance(data, str) else str(data)


# tables


@dataclass(frozen=True)
class _Target:
    """What a column is: a part of a case, and the name in it ('' where none)."""

    part: str
    name: str = ""


def _target(text: str, knowledge: Knowledge) -> _Target:
    """What is meant by 'date', 'group line', 'tried coat-again', 'cause 2' …

    Raises:
        AnswerError: a case has no such part.
    """
    if text == LEAVE_OUT or text in PARTS:
        return _Target(text)
    if found := CAUSE.fullmatch(text):
        return _Target(found[1], found[2] or "1")
    for prefix, part in PREFIXES.items():
        if text.startswith(f"{prefix} "):
            name = text.removeprefix(prefix).strip()
            kinds: dict[str, Collection[str]] = {
                "tried": knowledge.fixes,
                "to_hand": knowledge.tools,
            }
            known = kinds.get(part)
            if known is not None and name not in known:
                raise AnswerError(unknown(prefix, name, known))
            return _Target(part, name)
    if text in knowledge.findings:
        return _Target("answers", text)
    parts = [*PARTS, "cause", "other", "how", *knowledge.findings]
    takes = ", ".join([*PARTS, "cause", "other", "how", "group …", "a finding's id"])
    raise AnswerError(
        tr(
            "{text} is no part of a case{hint}; it is one of: {parts}.",
            text=quoted(text),
            hint=nearest(text, parts),
            parts=takes,
        )
    )


def read_mapping(path: Path, knowledge: Knowledge) -> Columns:
    """Read a mapping file.

    Raises:
        CaseError: all that is wrong with it, by file and line.
        FolderError: it can't be read.
    """
    name = str(path)
    try:
        data, places = parse(read_text(path, name), name)
    except YamlError as error:
        raise CaseError(str(error)) from None
    if data in (None, ""):
        says = tr("the mapping is empty; it holds 'columns:' at least.")
        raise CaseError(f"{name}: {says}")
    fitting, misfits = fit(data, Columns)
    columns = msgspec.convert(fitting, Columns, strict=False)
    faults: list[Fault] = [(one.path, one.says) for one in misfits]
    if not misfits:
        faults += _mapping_faults(columns, knowledge)
    if faults:
        raise CaseError("\n".join(told_of(faults, name, places)))
    return columns


def _mapping_faults(columns: Columns, knowledge: Knowledge) -> Iterator[Fault]:
    if columns.between not in ("", *BETWEEN):
        signs = ", ".join(map(repr, BETWEEN))
        yield ("between",), tr("one of {signs} may stand between columns.", signs=signs)
    targets: dict[str, _Target] = {}
    for heading, text in columns.columns.items():
        try:
            targets[heading] = _target(text, knowledge)
        except AnswerError as error:
            yield ("columns", heading), str(error)
    for heading, words in columns.values.items():
        if heading not in columns.columns:
            says = partial(unknown, "column", heading, columns.columns)
            yield ("values", heading), says
            continue
        target = targets.get(heading)
        for word, meant in words.items():
            if target is None or meant in ("", LEAVE_OUT):
                continue
            try:
                if target.part == "answers":
                    tidy(knowledge.findings[target.name], meant)
                elif target.part == "cause":
                    _cause(meant, knowledge)
                elif target.part == "stage" and meant not in knowledge.stages:
                    raise AnswerError(unknown("stage", meant, knowledge.stages))
            except AnswerError as error:
                yield ("values", heading, word), str(error)


def _cause(word: str, knowledge: Knowledge) -> str:
    """A cause by its id or its name.

    Raises:
        AnswerError: there is no such cause.
    """
    if word in knowledge.causes:
        return word
    for id, cause in knowledge.causes.items():
        if word.lower() in (id, cause.name.lower()):
            return id
    raise AnswerError(unknown("cause", word, knowledge.causes))


def _rows_of_table(
    file: Path, knowledge: Knowledge, mapping: Path | None, notes: list[str]
) -> Iterator[Row]:
    columns = Columns() if mapping is None else read_mapping(mapping, knowledge)
    text = _decoded(_raw(file), file, columns.coding)
    first = text.split("\n", 1)[0]
    between = columns.between or max(BETWEEN, key=first.count)
    records = _records(text, between)
    number, headings, says = next(records, (1, [], ""))
    if says or not any(headings):
        says = says or tr("no headings of columns are here.")
        raise CaseError(f"{file}:{number}: {says}")
    headings = [" ".join(heading.split()) for heading in headings]
    targets = _targets(file, headings, columns, mapping, knowledge, notes)
    taker = _Taker(columns, headings, targets, knowledge)
    for number, cells, says in records:
        if says:
            yield Row(number, None, faults=(says,))
        elif any(cell.strip() for cell in cells):
            yield taker.row(number, cells)


def _decoded(raw: bytes, file: Path, coding: str) -> str:
    if coding == "utf-8" and raw[:2] in (b"\xff\xfe", b"\xfe\xff"):
        says = tr(
            "this is text in UTF-16; save it in UTF-8, or write 'coding: utf-16' in "
            "the mapping."
        )
        raise CaseError(f"{file}: {says}")
    codec = {"utf-8": "utf-8-sig", "windows-1252": "cp1252"}.get(coding, coding)
    try:
        text = raw.decode(codec, "strict" if codec == "utf-16" else "surrogateescape")
    except UnicodeDecodeError:
        says = tr("this is not text in UTF-16.")
        raise CaseError(f"{file}: {says}") from None
    return text.replace("\r\n", "\n").replace("\r", "\n")


def _records(text: str, between: str) -> Iterator[tuple[int, list[str], str]]:
    """Row by row: its number, its cells, and what is wrong with it.

    A quote that is never closed spoils the row in which it stands, and no other: a
    cell that goes over lines may not swallow a line that is a whole row by itself.
    """
    lines = text.split("\n")
    at, number, width = 0, 0, 0
    while at < len(lines):
        number += 1
        last, cells, says = _record(lines, at, between)
        if not says and last > at and width:
            inner = lines[at + 1 : last + 1]
            if len(cells) != width or any(_width(i, between) == width for i in inner):
                says = tr(OPEN)
        if says:
            last = at
        at = last + 1
        if not says and _is_no_text("".join(cells)):
            says = tr("there is a byte in this row that is no text in this coding.")
        if cells or says:
            width = width or len(cells)
            yield number, cells, says


OPEN = mark("a quote is opened in this row and not closed.")


def _record(lines: Sequence[str], at: int, between: str) -> tuple[int, list[str], str]:
    """The row that begins in a line: its last line, its cells, what is wrong."""
    for last in range(at, min(at + LINES, len(lines))):
        part = "\n".join(lines[at : last + 1])
        try:
            cells = next(
                csv.reader(io.StringIO(part), delimiter=between, strict=True), []
            )
        except csv.Error as error:
            if "unexpected end" in str(error):
                continue
            if last > at:
                return at, [], tr(OPEN)
            if "field larger" in str(error):
                return at, [], tr("a cell is longer than 131072 characters.")
            says = tr("a quote is closed in the middle of a cell; double it there.")
            return at, [], says
        return last, cells, ""
    return at, [], tr(OPEN)


def _width(line: str, between: str) -> int:
    try:
        return len(next(csv.reader([line], delimiter=between, strict=True), []))
    except csv.Error:
        return 0


def _is_no_text(text: str) -> bool:
    return any("\ud800" <= sign <= "\udfff" for sign in text)


def _targets(
    file: Path,
    headings: Sequence[str],
    columns: Columns,
    mapping: Path | None,
    knowledge: Knowledge,
    notes: list[str],
) -> list[_Target]:
    """What each column is.

    Raises:
        CaseError: the headings do not go with the mapping, or a date is missing.
    """
    faults = []
    seen: set[str] = set()
    for heading in filter(None, headings):
        if heading in seen:
            says = tr("the heading {heading} stands twice.", heading=quoted(heading))
            faults.append(says)
        seen.add(heading)
    wanted = {" ".join(name.split()): text for name, text in columns.columns.items()}
    for heading in wanted:
        if heading not in seen:
            faults.append(unknown("column", heading, sorted(seen)))
    targets = []
    for heading in headings:
        if mapping is not None and heading not in wanted:
            targets.append(_Target(LEAVE_OUT))
            if heading:
                says = tr(
                    "the column {heading} is not mapped, and is left out.",
                    heading=quoted(heading),
                )
                notes.append(f"{file}:1: {says}")
            continue
        try:
            text = wanted[heading] if mapping is not None else heading or LEAVE_OUT
            targets.append(_target(text, knowledge))
        except AnswerError as error:
            hint = tr(" A --mapping says which column is what.")
            faults.append(f"{error}{hint}")
    if not faults and _Target("date") not in targets:
        faults.append(tr("no column is the date; without a date there is no case."))
    if faults:
        raise CaseError("\n".join(f"{file}:1: {says}" for says in faults))
    return targets


class _Taker:
    """Makes cases of the rows of one table."""

    def __init__(
        self,
        columns: Columns,
        headings: Sequence[str],
        targets: Sequence[_Target],
        knowledge: Knowledge,
    ) -> None:
        self._columns = columns
        self._headings = headings
        self._targets = targets
        self._knowledge = knowledge
        self._means = {
            " ".join(heading.split()): {
                _folded(word): meant for word, meant in words.items()
            }
            for heading, words in columns.values.items()
        }

    def row(self, number: int, cells: Sequence[str]) -> Row:
        """One row, or all that is wrong with it."""
        if len(cells) != len(self._headings):
            says = tr(
                "this row has {cells} cells, and there are {headings} headings; a sign "
                "between them is missing or too many.",
                cells=len(cells),
                headings=len(self._headings),
            )
            return Row(number, None, faults=(says,))
        data: dict[str, Any] = {}
        faults: list[str] = []
        causes: dict[str, dict[str, str]] = {}
        of: dict[tuple[str, str], str] = {}
        for heading, target, cell in zip(
            self._headings, self._targets, cells, strict=True
        ):
            text = self._means.get(heading, {}).get(_folded(cell), cell).strip()
            if target.part == LEAVE_OUT or text in ("", LEAVE_OUT):
                continue
            of[target.part, target.name] = heading
            try:
                self._fill(data, causes, target, text)
            except AnswerError as error:
                faults.append(f"{heading}: {error}")
        if ("date", "") not in of:
            faults.append(tr("there is no date in this row."))
        if causes:
            data["confirmed"] = [causes[key] for key in sorted(causes)]
        id = data.pop("id", "")
        if faults:
            return Row(number, None, faults=tuple(faults))
        case, wrong, lacks = fit_case(data, self._knowledge)
        if wrong or lacks:
            told = tuple(self._says(fault, of) for fault in [*wrong, *lacks])
            return Row(number, None, faults=told)
        if self._columns.listen == "yes":
            case = self._heard(case)
        return Row(number, case, id)

    def _fill(
        self,
        data: dict[str, Any],
        causes: dict[str, dict[str, str]],
        target: _Target,
        text: str,
    ) -> None:
        """Put a cell where it belongs.

        Raises:
            AnswerError: it can't be that.
        """
        part, name = target.part, target.name
        if part == "date":
            data["date"] = self._date(text)
        elif part == "minutes":
            minutes = minutes_in(text)
            if minutes is None:
                raise AnswerError(
                    tr("{text} is no time; write it in minutes.", text=quoted(text))
                )
            data["minutes"] = str(minutes)
        elif part == "said":
            data.setdefault("said", []).extend(filter(None, text.split("\n")))
        elif part == "cause":
            causes.setdefault(name, {})["cause"] = _cause(text, self._knowledge)
        elif part in ("other", "how"):
            causes.setdefault(name, {})[part] = text
        elif name:
            data.setdefault(part, {})[name] = text
        elif part == "notes" and "notes" in data:
            data["notes"] += f"\n{text}"
        else:
            data[part] = text

    def _date(self, text: str) -> str:
        if is_date(text):
            return text
        try:
            form = DATES[self._columns.dates]
            return f"{datetime.datetime.strptime(text, form):%Y-%m-%d}"
        except ValueError:
            raise AnswerError(
                tr(
                    "{text} is no day as {order}; the order can be set in the mapping: "
                    "dates: {orders}.",
                    text=quoted(text),
                    order=self._columns.dates,
                    orders=shortened(list(DATES)),
                )
            ) from None

    def _says(self, fault: Fault, of: Mapping[tuple[str, str], str]) -> str:
        path, says = fault
        part, name = ([*map(str, path), "", ""])[:2]
        heading = of.get((part, name)) or of.get((part, "")) or part
        return f"{heading}: {says if isinstance(says, str) else says()}"

    def _heard(self, case: Case) -> Case:
        """The same with what was said taken for answers."""
        fields = {name: getattr(case, name) for name in Sheet.__struct_fields__}
        sheet = msgspec.convert(msgspec.to_builtins({**fields, "said": []}), Sheet)
        consultation = Consultation(self._knowledge, sheet)
        for text in case.said:
            consultation.describe(text)
        for part in GROUPS:
            setattr(case, part, getattr(consultation.sheet, part))
        case.not_understood = not_understood(consultation)
        return case


def _folded(word: str) -> str:
    return " ".join(word.lower().split())


# out


def export_cases(
    kept: Sequence[Kept],
    file: Path,
    *,
    without_names: bool = False,
    without_groups: Sequence[str] = (),
    people: Iterable[str] = (),
) -> None:
    """Write cases to a table, or as JSON Lines where the name ends in .jsonl.

    Args:
        kept: the cases.
        file: where they go; a file that is there is not written over.
        without_names: leave out who traced it and the notes, and put `SOMEONE` for
            these people wherever they are named.
        without_groups: leave out these labels.
        people: who traced a case of the shop, besides those of `kept`.

    Raises:
        CaseError: the name says neither, the file is there, or no such group is.
        FolderError: it can't be written.
    """
    if not (_is_json(file) or file.suffix.lower() == ".csv"):
        says = tr("name a file that ends in .csv or in .jsonl.")
        raise CaseError(f"{file}: {says}")
    if file.exists() or file.is_symlink():
        says = tr("this file is there already; name another one.")
        raise CaseError(f"{file}: {says}")
    if not file.parent.exists():
        raise CaseError(f"{file}: {no_such('folder', file.parent)}")
    used = {label for one in kept for label in one.case.groups}
    for label in without_groups:
        if label not in used:
            raise CaseError(unknown("group", label, sorted(used)))
    every = [(one.id, plain(one.case)) for one in kept]
    if without_names:
        named = naming([*people, *(one.case.who for one in kept)])
        every = [(id, _nameless(data, named)) for id, data in every]
    for _, data in every:
        groups = data.get("groups", {})
        data["groups"] = {k: v for k, v in groups.items() if k not in without_groups}
        if not data["groups"]:
            del data["groups"]
    text = _json_lines(every) if _is_json(file) else _table(every)
    write_whole(file, text)
    Path(f"{file}.lock").unlink(missing_ok=True)


def naming(people: Iterable[str]) -> re.Pattern[str] | None:
    """What finds the names of these people in a text; None where there are none.

    A name is a word with a capital, or all that was written where none has one. It is
    found in other capitals too, but for names that are common words (Will, May).
    """
    names: set[str] = set()
    for who in people:
        words = [w for w in re.findall(r"[^\W\d_]+", who) if w[0].isupper()]
        names |= {*words} or ({who.strip()} if who.strip() else set())
    names |= {name.upper() for name in names if len(name) > 1}
    names |= {name.capitalize() for name in names}
    names |= {name.lower() for name in names if name.lower() not in STOP}
    if not names:
        return None
    either = "|".join(map(re.escape, sorted(names, key=len, reverse=True)))
    return re.compile(rf"(?<!\w)(?:{either})(?!\w)")


def _nameless(data: Mapping[str, Any], named: re.Pattern[str] | None) -> dict[str, Any]:
    """A case without who traced it and the notes, and with no one named in a text."""
    kept = {key: part for key, part in data.items() if key not in ("who", "notes")}
    if named is not None:
        for key in WRITTEN & kept.keys():
            kept[key] = _each_text(kept[key], lambda text: named.sub(SOMEONE, text))
    return kept


def _each_text(part: Any, change: Callable[[str], str]) -> Any:
    """A part with each text in it changed, but for what is an id of the knowledge."""
    if isinstance(part, str):
        return part if ID.fullmatch(part) else change(part)
    if isinstance(part, list):
        return [_each_text(one, change) for one in part]
    if isinstance(part, dict):
        return {
            change(key): one if key in ("cause", "on") else _each_text(one, change)
            for key, one in part.items()
        }
    return part


def _json_lines(every: Iterable[tuple[str, dict[str, Any]]]) -> str:
    lines = [
        json.dumps(encodable({"id": id, **data}), ensure_ascii=False)
        for id, data in every
    ]
    return "".join(f"{line}\n" for line in lines)


def _table(every: Sequence[tuple[str, dict[str, Any]]]) -> str:
    rows = [_cells(id, data) for id, data in every]
    used = {heading for row in rows for heading in row}
    first = ["id", "date", "who", "stage", "said", "cause", "other", "how"]
    first += sorted(one for one in used if CAUSE.fullmatch(one) and one not in first)
    first += ["minutes", "prints_lost", "notes"]
    prefixed = [one for one in used if one.startswith(tuple(f"{p} " for p in PREFIXES))]
    findings = used - {*first, *prefixed}
    last = ["invented"] if "invented" in used else []
    findings -= {*last}
    headings = [*first, *sorted(prefixed), *sorted(findings), *last]
    text = io.StringIO()
    writer = csv.DictWriter(text, headings, restval="", lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return str(encodable(text.getvalue()))


def _cells(id: str, data: Mapping[str, Any]) -> dict[str, str]:
    """A case as cells by heading."""
    cells = {"id": id}
    for part in ("date", "who", "stage", "minutes", "prints_lost", "notes", "invented"):
        if part in data:
            cells[part] = f"{data[part]}".removesuffix(".0")
    if "said" in data:
        cells["said"] = "\n".join(data["said"])
    for number, one in enumerate(data.get("confirmed", [])[:9], 1):
        after = "" if number == 1 else f" {number}"
        cells |= {f"{part}{after}": text for part, text in one.items()}
    for part in GROUPS:
        cells |= data.get(part, {})
    for prefix, part in PREFIXES.items():
        for name, text in data.get(part, {}).items():
            cells[f"{prefix} {name}"] = text
    return cells
