"""The function of `calculations` that a working names, and whether the two fit."""

from __future__ import annotations

import importlib
import inspect
import re
import typing
from collections.abc import Callable, Iterator
from typing import Any

from diagnose.errors import near
from diagnose.records import Working
from diagnose.yamltext import Step

MODULE = re.compile("[a-z_]+")


def function_of(working: Working) -> Callable[..., Any]:
    """The function that a working names.

    Raises:
        LookupError: there is no such function.
    """
    module, _, name = working.works.partition(".")
    if MODULE.fullmatch(module) is None:
        raise LookupError(working.works)
    try:
        found = getattr(
            importlib.import_module(f"diagnose.calculations.{module}"), name
        )
    except (ImportError, AttributeError):
        raise LookupError(working.works) from None
    if not inspect.isfunction(found):
        raise LookupError(working.works)
    return found


def argument(id: str) -> str:
    """The name of the argument, or of the result's field, that an id stands for."""
    return id.replace("-", "_")


def misfits(working: Working) -> Iterator[tuple[tuple[Step, ...], str]]:
    """Where a working and its function do not fit each other: the part, a sentence."""
    try:
        function = function_of(working)
    except LookupError:
        yield ("works",), f"there is no calculation {working.works!r}{_meant(working)}."
        return
    taken = inspect.signature(function).parameters
    hints = typing.get_type_hints(function)
    own = {argument(one.id) for one in working.inputs}
    for i, one in enumerate(working.inputs):
        name = argument(one.id)
        if name not in taken:
            yield ("inputs", i, "id"), f"{working.works!r} takes no {name!r}."
            continue
        wanted = "yes" if typing.get_origin(hints.get(name)) is not None else "no"
        if wanted != one.several:
            says = f"'several' of {one.id!r} has to be {wanted!r}."
            yield ("inputs", i, "several"), says
    for name, parameter in taken.items():
        if name not in own and parameter.default is inspect.Parameter.empty:
            yield ("works",), f"{working.works!r} needs {name!r} too."
    fields = getattr(hints.get("return"), "__dataclass_fields__", None)
    if fields is None and len(working.gives) != 1:
        yield ("gives",), f"{working.works!r} gives one thing."
    for i, output in enumerate(working.gives):
        if fields is not None and argument(output.id) not in fields:
            says = f"{working.works!r} gives no {argument(output.id)!r}."
            yield ("gives", i, "id"), says


def _meant(working: Working) -> str:
    """' (did you mean X?)' for the nearest function of the module; '' without one."""
    module, _, name = working.works.partition(".")
    if MODULE.fullmatch(module) is None:
        return ""
    try:
        known = vars(importlib.import_module(f"diagnose.calculations.{module}"))
    except ImportError:
        return ""
    functions = [
        one
        for one, what in known.items()
        if inspect.isfunction(what) and what.__module__.endswith(module)
    ]
    meant = near(name, [one for one in functions if not one.startswith("_")])
    return f" (did you mean '{module}.{meant}'?)" if meant else ""
