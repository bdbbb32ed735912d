"""What a person has chosen for all starts: the language, and metric or inch.

It is kept in one small file, which can be written by hand too:

    language: es
    units: inch
"""

from __future__ import annotations

import os
from collections.abc import Sequence
from dataclasses import dataclass, replace
from pathlib import Path

from rich.console import Console

from diagnose import language, measures
from diagnose.errors import AnswerError, SheetError, nearest, quoted, unknown
from diagnose.language import tr

VARIABLE = "DIAGNOSE_SETTINGS"
"""The environment variable that names the file."""

FILE = "settings.yaml"


@dataclass(frozen=True, slots=True)
class Settings:
    """`language` is a code, or '' where the system's counts."""

    language: str = ""
    units: str = measures.METRIC


NAMES = ("language", "units")


def settings_file() -> Path:
    """The file: the one that DIAGNOSE_SETTINGS names, or the user's own."""
    named = os.environ.get(VARIABLE)
    if named:
        return Path(named)
    import platformdirs

    return Path(platformdirs.user_config_dir("diagnose", appauthor=False), FILE)


def read() -> Settings:
    """What is kept; nothing is chosen where there is no file.

    Raises:
        SheetError: the file has a fault.
        FolderError: the file can't be read.
    """
    path = settings_file()
    if not path.exists():
        return Settings()
    from diagnose.yamltext import YamlError, parse, read_text

    try:
        data, places = parse(read_text(path), str(path))
    except YamlError as error:
        raise SheetError(f"{error} Mend it, or delete the file.") from None
    if data in (None, ""):
        return Settings()
    if not isinstance(data, dict):
        says = "settings are lines such as 'language: es'; mend it, or delete the file."
        raise SheetError(f"{path}:1: {says}")
    found = Settings()
    for name, value in data.items():
        try:
            found = _changed(found, name, value if isinstance(value, str) else "")
        except AnswerError as error:
            line, _ = places.at((name,), key=True)
            raise SheetError(f"{path}:{line}: {error}") from None
    return found


def _changed(settings: Settings, name: str, value: str) -> Settings:
    """The settings with one of them changed.

    Raises:
        AnswerError: there is no such setting, or it does not take that value.
    """
    if name == "language":
        return replace(settings, language=language.known(value) if value else "")
    if name == "units":
        if value.lower() in measures.SYSTEMS:
            return replace(settings, units=value.lower())
        there = " or ".join(measures.SYSTEMS)
        hint = nearest(value, measures.SYSTEMS)
        raise AnswerError(f"units: {quoted(value)} is not {there}{hint}.")
    raise AnswerError(unknown("setting", name, NAMES))


def change(words: Sequence[str]) -> Settings:
    """Change settings, as in 'language=es', and keep them; `take_up` makes them hold.

    Raises:
        AnswerError: a word is no such pair, or not one that can be.
        SheetError: the file has a fault; it stays as it is.
        FolderError: the file can't be written.
    """
    from diagnose.sheets import write_whole

    settings = read()
    for word in words:
        name, sign, value = word.partition("=")
        if not sign:
            raise AnswerError(
                f"{quoted(word)}: write the name of a setting, '=' and what it is to "
                "be, such as language=es or units=inch."
            )
        settings = _changed(settings, name.strip(), value.strip())
    lines = [f"{name}: {getattr(settings, name)}" for name in NAMES]
    text = "".join(f"{line}\n" for line in lines if not line.endswith(": "))
    write_whole(settings_file(), text)
    return settings


def take_up() -> None:
    """Let what is wanted hold from now on: the environment, or else what is kept.

    Raises:
        AnswerError: the environment names a language that there is not.
        SheetError, FolderError: the file can't be read.
        KnowledgeError: the language has a fault.
    """
    settings = read()
    language.use(language.wanted(settings.language))
    measures.use(settings.units)


def show(console: Console) -> None:
    """The settings, what else they could be, and where they are kept."""
    from diagnose.screens import line

    settings = read()
    there = ", ".join(language.languages())
    line(console, f"language={settings.language or language.current()}   ({there})")
    line(console, f"units={settings.units}   ({', '.join(measures.SYSTEMS)})")
    if named := os.environ.get(language.VARIABLE):
        says = tr(
            "{variable} is set to {language}, which counts before it.",
            variable=language.VARIABLE,
            language=named,
        )
        line(console, says)
    line(console, tr("Kept in: {path}", path=settings_file()))
    line(console, tr("To change them: diagnose settings language=es units=inch"))
