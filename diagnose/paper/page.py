"""Templates → a page that needs nothing else. The only module that imports Jinja2."""

from __future__ import annotations

import functools
from collections.abc import Mapping
from pathlib import Path
from typing import Any
from xml.etree import ElementTree

from jinja2 import Environment, FileSystemLoader, StrictUndefined
from markupsafe import Markup

from diagnose import language, measures
from diagnose.language import tr
from diagnose.screens import percent, printable, time_it_takes

TEMPLATES = Path(__file__).parent / "templates"
SVG = "http://www.w3.org/2000/svg"


def html(template: str, **parts: Any) -> str:
    """A template filled in; every text in it is shown as text.

    Args:
        template: its file.
        parts: what it is filled with.
    """
    return _templates().get_template(template).render(**parts)


@functools.cache
def _templates() -> Environment:
    environment = Environment(
        loader=FileSystemLoader(TEMPLATES),
        autoescape=True,
        undefined=StrictUndefined,
        trim_blocks=True,
        lstrip_blocks=True,
        finalize=_shown,
    )
    environment.filters.update(
        percent=percent, takes=time_it_takes, capital=capital, lines=_lines
    )
    environment.globals.update(tr=tr, language=_language)
    return environment


def _language() -> str:
    """The language of the page, as a browser and a screen reader know it."""
    code = language.current()
    return "en-GB" if code == language.ENGLISH else code


def _shown(value: Any) -> Any:
    """A text in the units in use, without signs that can't be seen or that turn a
    line round."""
    if isinstance(value, Markup) or not isinstance(value, str):
        return value
    return printable(measures.shown(value))


def _lines(text: str) -> list[str]:
    return [one for one in text.splitlines() if one.strip()]


def capital(text: str) -> str:
    """The text with a capital at its start."""
    return text[:1].upper() + text[1:]


def inlined(svg: str, mark: str) -> Markup:
    """A drawing as a part of a page: no prologue, no size, and ids of its own.

    Args:
        svg: a whole SVG that this package has drawn.
        mark: what its ids begin with.
    """
    ElementTree.register_namespace("", SVG)
    root = ElementTree.fromstring(svg)
    own = {one.get("id"): f"{mark}-{one.get('id')}" for one in root.iter("*")}
    own = {old: new for old, new in own.items() if old}
    for one in root.iter("*"):
        for name, value in list(one.attrib.items()):
            one.set(name, _renamed(name, value, own))
    root.attrib.pop("width", None)
    root.attrib.pop("height", None)
    return Markup(ElementTree.tostring(root, encoding="unicode"))


def _renamed(name: str, value: str, own: Mapping[str | None, str]) -> str:
    """The value of an attribute with the new ids in the places of the old."""
    if name in ("id", "aria-labelledby", "aria-describedby"):
        return " ".join(own.get(word, word) for word in value.split())
    if value.startswith("url(#") or value.startswith("#"):
        old = value.removeprefix("url(").removeprefix("#").removesuffix(")")
        return value.replace(f"#{old}", f"#{own.get(old, old)}")
    return value
