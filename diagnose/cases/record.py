"""A case: an answer sheet with its outcome. Read, checked and written whole."""

from __future__ import annotations

import datetime
import os
import re
from collections.abc import Collection, Iterator, Mapping, Sequence
from functools import partial
from pathlib import Path
from typing import Annotated, Any, NamedTuple

import msgspec
import yaml
from msgspec import Meta, Struct, field

from diagnose.consultation import Consultation
from diagnose.errors import AnswerError, CaseError, quoted, unknown
from diagnose.language import tr
from diagnose.records import Knowledge
from diagnose.shapes import fit
from diagnose.sheets import GROUPS, Fault, Sheet, as_meant, check, told_of, write_whole
from diagnose.yamltext import Step, YamlError, parse, read_text

DATE = re.compile(r"\d{4}-\d\d-\d\d")

RANKED = 10
"""So many causes of the ranking are kept with a case."""

PLACES = 4
"""Digits that a chance is kept with."""

FOLDED = 60
"""A longer text stands as a folded block."""

DURATION = re.compile(
    r"(?:(\d+(?:[.,]\d+)?)\s*h(?:ours?|rs?)?)?\s*(?:(\d+(?:[.,]\d+)?)\s*m?(?:in)?"
    r"(?:utes?|s)?)?"
)
"""'35', '35 min', '1.5 h', '1 h 20 min'."""

Chance = Annotated[float, Meta(ge=0, le=1)]
Minutes = Annotated[float, Meta(ge=0, le=1e6)]
Count = Annotated[int, Meta(ge=0, le=1_000_000_000)]


class Confirmed(Struct, forbid_unknown_fields=True, omit_defaults=True):
    """A cause that was confirmed, and how.

    `cause` is its id; or '' with the cause in free words under `other`, where the
    knowledge lacks it. `how` says in words how it was confirmed.
    """

    cause: str = ""
    other: str = ""
    how: str = ""

    def name(self) -> str:
        """The id, or the free words."""
        return self.cause or self.other


class Ranked(Struct, forbid_unknown_fields=True):
    """A cause with the chance (0 to 1) that it had."""

    cause: str
    chance: Chance


class Corrected(Struct, forbid_unknown_fields=True, omit_defaults=True):
    """A correction: the day, the causes that had been confirmed before, and why."""

    on: str
    was: list[str] = []
    because: str = ""


class Case(Sheet, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """One fault that a shop had: what was seen and answered, and what came of it.

    `groups` are labels of the person's choice (screen, mesh, line …); `ranking` is
    what the tool ranked then; `minutes` is the time to trace and mend it;
    `invented` is 'yes' for a case that was made up to show how it is done.
    """

    date: str
    who: str = ""
    groups: dict[str, str] = field(default_factory=dict)
    ranking: list[Ranked] = field(default_factory=list)
    confirmed: list[Confirmed] = field(default_factory=list)
    minutes: Minutes | None = None
    prints_lost: Count | None = None
    notes: str = ""
    not_understood: list[str] = field(default_factory=list)
    corrected: list[Corrected] = field(default_factory=list)
    invented: str = ""

    def place(self) -> int | None:
        """Where the first confirmed cause stood in the ranking then (1 is first).

        None where nothing was confirmed, or where it was not among those kept.
        """
        ranked = [one.cause for one in self.ranking]
        causes = [one.cause for one in self.confirmed if one.cause in ranked]
        return min((ranked.index(cause) + 1 for cause in causes), default=None)


class Read(NamedTuple):
    """A case that was read, and what of it the knowledge lacks, a sentence each."""

    case: Case
    told: list[str]


def case_of(
    consultation: Consultation,
    *,
    date: str = "",
    who: str = "",
    groups: Mapping[str, str] | None = None,
    confirmed: Sequence[Confirmed] = (),
    minutes: float | None = None,
    prints_lost: int | None = None,
    notes: str = "",
) -> Case:
    """A consultation with its outcome: the ranking now, and the words not understood.

    Args:
        consultation: what was said and answered.
        date: the day of the fault; the day the consultation was begun where left out.
        who: who traced it.
        groups: labels.
        confirmed: the causes that were confirmed.
        minutes: to trace and mend it.
        prints_lost: so many.
        notes: anything else, in words.
    """
    sheet = msgspec.to_builtins(consultation.sheet)
    return msgspec.convert(
        {
            **sheet,
            "date": date or day_of(consultation.sheet.begun),
            "who": who,
            "groups": dict(groups or {}),
            "ranking": [msgspec.to_builtins(one) for one in ranked(consultation)],
            "confirmed": [msgspec.to_builtins(one) for one in confirmed],
            "minutes": minutes,
            "prints_lost": prints_lost,
            "notes": notes,
            "not_understood": not_understood(consultation),
        },
        Case,
    )


def ranked(consultation: Consultation) -> list[Ranked]:
    """The first causes of the ranking before a fix had worked; none before anything
    was said."""
    sheet = msgspec.convert(msgspec.to_builtins(consultation.sheet), Sheet)
    sheet.tried = {fix: did for fix, did in sheet.tried.items() if did == "no"}
    then = consultation
    if sheet.tried != consultation.sheet.tried:
        then = Consultation(consultation.knowledge, sheet)
    if not then.look.known:
        return []
    chances = then.chances()[:RANKED]
    return [Ranked(id, round(chance, PLACES)) for id, _, chance in chances]


def not_understood(consultation: Consultation) -> list[str]:
    """The words of what was said that nothing is made of."""
    return [
        words
        for text in consultation.sheet.said
        for words in consultation.understand(text).left
    ]


def day_of(moment: str) -> str:
    """The day of a moment in the time of the place; today where it is no moment."""
    try:
        return f"{datetime.datetime.fromisoformat(moment).astimezone():%Y-%m-%d}"
    except (ValueError, OverflowError, OSError):
        return today()


def today() -> str:
    """The day that it is here."""
    return datetime.date.today().isoformat()


def is_date(text: str) -> bool:
    """Whether a text is a day that a calendar has, as YYYY-MM-DD."""
    try:
        return bool(DATE.fullmatch(text) and datetime.date.fromisoformat(text))
    except ValueError:
        return False


def minutes_in(text: str) -> float | None:
    """'1 h 20 min' → 80; None where it is no length of time."""
    found = DURATION.fullmatch(text.lower())
    if not found or not any(found.groups()):
        return None
    hours, minutes = (float((part or "0").replace(",", ".")) for part in found.groups())
    total = 60 * hours + minutes
    return total if total <= 1e6 else None


def correct_case(
    case: Case, found: Confirmed, because: str, knowledge: Knowledge
) -> None:
    """Put another cause in place of those confirmed, which stay under `corrected`.

    Raises:
        AnswerError: there is no such cause, none is named, or no reason is given.
    """
    if found.cause and found.cause not in knowledge.causes:
        raise AnswerError(unknown("cause", found.cause, knowledge.causes))
    if not found.name() or (found.cause and found.other):
        raise AnswerError(
            tr("Name what it was: --cause ID, or --other with your own words.")
        )
    if not because.strip():
        raise AnswerError(tr("Give the reason with --because."))
    was = [one.name() for one in case.confirmed]
    if was == [found.name()]:
        raise AnswerError(
            tr("{cause} is what the case says already.", cause=quoted(found.name()))
        )
    case.corrected.append(Corrected(today(), was, because.strip()))
    case.confirmed = [found]


# read


def read_case(path: str | os.PathLike[str], knowledge: Knowledge) -> Read:
    """Read a case. What it names that the knowledge lacks is told, and is kept.

    Raises:
        CaseError: all that is wrong, each with file, line and the part it is in.
        FolderError: there is no such file, or it can't be read.
    """
    where = Path(path)
    name = str(where)
    try:
        data, places = parse(read_text(where, name), name)
    except YamlError as error:
        raise CaseError(str(error)) from None
    if data in (None, ""):
        raise CaseError(f"{name}: the case is empty; it holds a date at least.")
    case, faults, lacks = fit_case(data, knowledge)
    if faults:
        raise CaseError("\n".join(told_of(faults, name, places)))
    return Read(case, told_of(lacks, name, places))


def fit_case(data: Any, knowledge: Knowledge) -> tuple[Case, list[Fault], list[Fault]]:
    """Plain data (all scalars as text) → a case, its faults, what knowledge lacks.

    A case with faults holds stand-ins in their place and may not be used.
    """
    fitting, misfits = fit(_as_meant(data), Case)
    case = msgspec.convert(fitting, Case, strict=False)
    faults: list[Fault] = [(one.path, one.says) for one in misfits]
    spoilt = {one.path for one in misfits}
    faults += _own_faults(case, spoilt)
    return case, faults, list(_lacks(case, knowledge, spoilt))


def _as_meant(data: Any) -> Any:
    """What people write by hand, in the form of a case."""
    filled = as_meant(data)
    if not isinstance(filled, dict):
        return filled
    if isinstance(filled.get("not_understood"), str):
        filled["not_understood"] = [filled["not_understood"]]
    if isinstance(filled.get("groups"), dict):
        groups = filled["groups"].items()
        filled["groups"] = {label: value for label, value in groups if value != ""}
    if isinstance(confirmed := filled.get("confirmed"), (str, dict)):
        filled["confirmed"] = confirmed = [confirmed]
    if isinstance(confirmed, list):
        filled["confirmed"] = [
            {"cause": one} if isinstance(one, str) else one for one in confirmed
        ]
    return filled


def _own_faults(case: Case, spoilt: Collection[tuple[Step, ...]]) -> Iterator[Fault]:
    days: dict[tuple[Step, ...], str] = {("date",): case.date}
    days |= {("corrected", n, "on"): one.on for n, one in enumerate(case.corrected)}
    for path, day in days.items():
        around = {path[:length] for length in range(len(path) + 1)}
        if not around & {*spoilt} and not is_date(day):
            yield path, f"{quoted(day)} is no day; write it as 2026-03-14."
    if case.invented not in ("", "yes") and ("invented",) not in spoilt:
        says = f"{quoted(case.invented)} can't stand here; write yes, or leave it out."
        yield ("invented",), says
    for number, one in enumerate(case.confirmed):
        at = ("confirmed", number)
        if not one.name() and not any(gone[:2] == at for gone in spoilt):
            says = "no cause is named; write its id under 'cause', or 'other: …'."
            yield at, says


def _lacks(
    case: Case, knowledge: Knowledge, spoilt: Collection[tuple[Step, ...]]
) -> Iterator[Fault]:
    """What the case names that the knowledge lacks; it stays in the case as it is."""
    given = {part: dict(getattr(case, part)) for part in GROUPS}
    yield from check(case, knowledge, spoilt)
    kept = case.given()
    for part, answers in given.items():
        for id, value in answers.items():
            if id not in kept:
                getattr(case, part)[id] = value
    for number, one in enumerate(case.confirmed):
        if one.cause and one.cause not in knowledge.causes:
            path = ("confirmed", number, "cause")
            yield path, partial(unknown, "cause", one.cause, knowledge.causes)


def sheet_of(case: Case, knowledge: Knowledge, *, then: bool = False) -> Sheet:
    """The answer sheet of a case, without what the knowledge lacks or won't take.

    Args:
        case: the case.
        knowledge: what the tool knows.
        then: as it was when the causes were ranked, before a fix had worked; with
            that fix the ranking would be wise after the event.
    """
    fields = {name: getattr(case, name) for name in Sheet.__struct_fields__}
    sheet: Sheet = msgspec.convert(msgspec.to_builtins(fields), Sheet)
    for path, _ in list(check(sheet, knowledge, ())):
        if path == ("stage",):
            sheet.stage = ""
        elif path[0] in ("to_hand", "tried"):
            getattr(sheet, str(path[0])).pop(path[1], None)
    if then:
        sheet.tried = {fix: did for fix, did in sheet.tried.items() if did == "no"}
    return sheet


def plain(case: Case) -> dict[str, Any]:
    """The case as plain data: only what is filled in."""
    data: dict[str, Any] = msgspec.to_builtins(case)
    return data


# write


class _Line(dict[str, Any]):
    """Keys that stand on one line."""


class _Dumper(getattr(yaml, "CSafeDumper", yaml.SafeDumper)):  # type: ignore[misc]
    """Long texts folded, short records on a line."""


def _text(dumper: Any, text: str) -> Any:
    folds = (
        len(text) > FOLDED
        and text.isprintable()
        and text == " ".join(text.split())
        and max(map(len, text.split())) < FOLDED
    )
    tag = "tag:yaml.org,2002:str"
    return dumper.represent_scalar(tag, text, style=">" if folds else None)


def _number(dumper: Any, number: float) -> Any:
    text = repr(number).removesuffix(".0")
    if "e" in text and "." not in text:
        text = text.replace("e", ".0e")  # what YAML takes for a number
    kind = "int" if text.lstrip("-").isdigit() else "float"
    return dumper.represent_scalar(f"tag:yaml.org,2002:{kind}", text)


def _line(dumper: Any, data: _Line) -> Any:
    tag = "tag:yaml.org,2002:map"
    return dumper.represent_mapping(tag, data.items(), flow_style=True)


_Dumper.add_representer(str, _text)
_Dumper.add_representer(float, _number)
_Dumper.add_representer(_Line, _line)


def case_text(case: Case) -> str:
    """The case as YAML, in the order of its fields."""
    data = encodable(plain(case))
    if "ranking" in data:
        data["ranking"] = [_Line(one) for one in data["ranking"]]
    return str(
        yaml.dump(data, Dumper=_Dumper, sort_keys=False, allow_unicode=True, width=84)
    )


def encodable(part: Any) -> Any:
    """The same, with '?' for what can't be written (half of a character)."""
    if isinstance(part, dict):
        return {encodable(key): encodable(value) for key, value in part.items()}
    if isinstance(part, list):
        return [encodable(one) for one in part]
    if isinstance(part, str):
        return part.encode("utf-8", "replace").decode("utf-8")
    return part


def write_case(case: Case, path: str | os.PathLike[str]) -> None:
    """Write a case so that the file is always whole: the old one, or the new one.

    Raises:
        FolderError: the folder or the file can't be written.
    """
    write_whole(Path(path), case_text(case))
