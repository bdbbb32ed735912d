"""Does plain data have the shape of a record? Every fault is named, not the first only.

`fit` also mends: what does not fit is replaced by something that does, so that the
rest of a faulty record can be looked at too.
"""

from __future__ import annotations

import functools
import math
import re
from collections.abc import Callable
from dataclasses import dataclass
from typing import Any

import msgspec
from msgspec import inspect

from diagnose.errors import near, nearest, quoted, unknown
from diagnose.yamltext import Step

UNREAD = "unread"
"""Stands in for a text that is missing or does not fit."""


@dataclass(frozen=True, slots=True)
class Misfit:
    """One fault: the path of the part, what is wrong, and whether it is its key."""

    path: tuple[Step, ...]
    says: str
    key: bool = False
    meant: str | None = None
    """The key that is missing because this one is misspelt."""


def fit(data: Any, record: type[msgspec.Struct]) -> tuple[Any, list[Misfit]]:
    """The data as it should be to make a record of that type, and every fault in it."""
    fitting = _Fitting()
    return fitting.fit(data, _info(record), ()), fitting.misfits


@functools.cache
def _info(record: type[msgspec.Struct]) -> inspect.Type:
    return inspect.type_info(record)


class _Fitting:
    """Walks data and type side by side, gathering the faults."""

    def __init__(self) -> None:
        self.misfits: list[Misfit] = []

    def fit(self, value: Any, info: inspect.Type, path: tuple[Step, ...]) -> Any:
        """The value, or what may stand in its place."""
        walk: dict[type, Callable[[Any, Any, tuple[Step, ...]], Any]] = {
            inspect.StructType: self._record,
            inspect.ListType: self._list,
            inspect.TupleType: self._pair,
            inspect.DictType: self._dict,
            inspect.StrType: self._text,
            inspect.FloatType: self._number,
            inspect.IntType: self._number,
            inspect.LiteralType: self._word,
            inspect.UnionType: self._one_of,
        }
        return walk[type(info)](value, info, path)

    def _fail(self, path: tuple[Step, ...], says: str, *, key: bool = False) -> None:
        self.misfits.append(Misfit(path, says, key))

    def _other(
        self, path: tuple[Step, ...], form: str, value: Any, info: inspect.Type
    ) -> Any:
        """Something else, or nothing, stands where a part of that form belongs."""
        if value in (None, ""):
            self._fail(path, f"nothing stands here; {form}.")
        else:
            self._fail(path, f"{form}, not {got(value)}.")
        return stand_in(info)

    def _record(
        self, value: Any, info: inspect.StructType, path: tuple[Step, ...]
    ) -> Any:
        if not isinstance(value, dict):
            first = next((f.encode_name for f in info.fields if f.required), "")
            first = first or info.fields[0].encode_name
            return self._other(
                path, f"keys belong here, such as '{first}:'", value, info
            )
        fields = {field.encode_name: field for field in info.fields}
        made: dict[str, Any] = {}
        misspelt: set[str | None] = set()
        missing = fields.keys() - value.keys()
        for key in value:
            if key not in fields:
                meant = near(key, missing)
                misspelt.add(meant)
                says = unknown("key", key, fields)
                self.misfits.append(Misfit((*path, key), says, True, meant))
        for name, field in fields.items():
            if name in value:
                made[name] = self.fit(value[name], field.type, (*path, name))
            elif field.required:
                if name not in misspelt:
                    self._fail((*path, name), f"the key {name!r} is missing.")
                made[name] = stand_in(field.type)
        return made

    def _list(self, value: Any, info: inspect.ListType, path: tuple[Step, ...]) -> Any:
        if not isinstance(value, list):
            form = "a list belongs here"
            if isinstance(value, str) and value:
                form += f", such as [{value[:40]}]"
            return self._other(path, form, value, info)
        if len(value) < (info.min_length or 0):
            self._fail(path, "the list is empty; one entry at least belongs here.")
            return stand_in(info)
        return [self.fit(v, info.item_type, (*path, n)) for n, v in enumerate(value)]

    def _pair(self, value: Any, info: inspect.TupleType, path: tuple[Step, ...]) -> Any:
        size = len(info.item_types)
        if not isinstance(value, list) or len(value) != size:
            return self._other(path, f"a list of {size} belongs here", value, info)
        items = zip(value, info.item_types, strict=True)
        return [self.fit(v, t, (*path, n)) for n, (v, t) in enumerate(items)]

    def _dict(self, value: Any, info: inspect.DictType, path: tuple[Step, ...]) -> Any:
        if not isinstance(value, dict):
            return self._other(path, "lines 'name: value' belong here", value, info)
        if len(value) < (info.min_length or 0):
            self._fail(path, "one line 'name: value' at least belongs here.")
            return stand_in(info)
        return {
            self._text(key, info.key_type, (*path, key), key=True): self.fit(
                part, info.value_type, (*path, key)
            )
            for key, part in value.items()
        }

    def _text(
        self, value: Any, info: Any, path: tuple[Step, ...], *, key: bool = False
    ) -> Any:
        says = ""
        if not isinstance(value, str):
            return self._other(path, "a text belongs here", value, info)
        elif len(value) < (info.min_length or 0):
            says = "nothing stands here; a text belongs here."
        elif info.pattern is not None and not re.search(info.pattern, value):
            proper = as_id(value)
            example = proper if re.search(info.pattern, proper) else "coats-too-few"
            says = (
                f"{quoted(value)} is no id; an id is lower-case words with hyphens, "
                f"such as {quoted(example)}."
            )
        elif info.max_length is not None and len(value) > info.max_length:
            says = (
                f"the text has {len(value)} characters; {info.max_length} at most "
                "belong here."
            )
        if says:
            self._fail(path, says, key=key)
            return stand_in(info)
        return value

    def _number(self, value: Any, info: Any, path: tuple[Step, ...]) -> Any:
        whole = isinstance(info, inspect.IntType)
        what = "a whole number" if whole else "a number"
        says = ""
        number = math.nan
        if not isinstance(value, str) or value == "":
            return self._other(path, f"{what} belongs here", value, info)
        try:
            number = msgspec.convert(value, int if whole else float, strict=False)
        except msgspec.ValidationError:
            comma = re.fullmatch(r"-?\d+,\d+", value)
            hint = f"; write {value.replace(',', '.')}" if comma else ""
            says = f"{quoted(value)} is not {what}{hint}."
        if not says and not _within(number, info):
            says = f"{value[:40]} is out of range; {what} {_range(info)} belongs here."
        if says:
            self._fail(path, says)
            return stand_in(info)
        return value

    def _word(
        self, value: Any, info: inspect.LiteralType, path: tuple[Step, ...]
    ) -> Any:
        words = [str(word) for word in info.values]
        if value in words:
            return value
        listed = ", ".join(words)
        if not isinstance(value, str) or value == "":
            return self._other(path, f"one of {listed} belongs here", value, info)
        self._fail(
            path, f"{quoted(value)} is not one of {listed}{nearest(value, words)}."
        )
        return near(value, words) or words[0]

    def _one_of(
        self, value: Any, info: inspect.UnionType, path: tuple[Step, ...]
    ) -> Any:
        """A field that may be left out, or takes a text or a list."""
        kinds = [t for t in info.types if not isinstance(t, inspect.NoneType)]
        lists = [t for t in kinds if isinstance(t, inspect.ListType)]
        if value == "" and len(kinds) < len(info.types):
            self._fail(path, "nothing stands here; leave the key out, or fill it in.")
            return stand_in(kinds[0])
        if value == "null" and not isinstance(kinds[0], inspect.StrType):
            return None
        fits = lists if lists and isinstance(value, list) else kinds
        return self.fit(value, fits[0], path)


def as_id(text: str) -> str:
    """The id that a text was meant as: lower-case words joined by hyphens."""
    return re.sub(r"[^a-z0-9]+", "-", text.lower()).strip("-")


def got(value: Any) -> str:
    """What stands there, in plain words."""
    if isinstance(value, list):
        return f"a list of {len(value)}"
    if isinstance(value, dict):
        return "keys"
    return f"the text {quoted(str(value))}"


def _within(number: float, info: Any) -> bool:
    return (
        (info.ge is None or number >= info.ge)
        and (info.gt is None or number > info.gt)
        and (info.le is None or number <= info.le)
        and (info.lt is None or number < info.lt)
    )


def _range(info: Any) -> str:
    low = [f"above {info.gt:.10g}"] if info.gt is not None else []
    low += [f"from {info.ge:.10g}"] if info.ge is not None else []
    high = [f"below {info.lt:.10g}"] if info.lt is not None else []
    high += [f"up to {info.le:.10g}"] if info.le is not None else []
    joint = " " if low and low[0].startswith("from") else " and "
    return joint.join(low + high)


def stand_in_for(record: type[msgspec.Struct]) -> Any:
    """The smallest plain data that makes such a record."""
    return stand_in(_info(record))


def stand_in(info: Any) -> Any:
    """The smallest plain data that fits."""
    if isinstance(info, inspect.StructType):
        return {f.encode_name: stand_in(f.type) for f in info.fields if f.required}
    if isinstance(info, inspect.ListType):
        return [stand_in(info.item_type)] * (info.min_length or 0)
    if isinstance(info, inspect.TupleType):
        return [stand_in(item) for item in info.item_types]
    if isinstance(info, inspect.DictType):
        return {UNREAD: stand_in(info.value_type)} if info.min_length else {}
    if isinstance(info, inspect.LiteralType):
        return info.values[0]
    if isinstance(info, inspect.UnionType):
        return stand_in(info.types[0])
    if isinstance(info, (inspect.FloatType, inspect.IntType)):
        return next(n for n in (0, 1, 0.5, 0.7) if _within(n, info))
    return UNREAD
