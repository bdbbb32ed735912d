"""The language that a person reads, and the texts of the interface in it.

The texts in the code are English. Another language is a folder of
`knowledge/languages`, named by its code: `interface.po` has the texts of the
interface, `words.yaml` the words that a person types; the texts of the knowledge
are seen to by `translation`. What a folder lacks stays English.
"""

from __future__ import annotations

import gettext
import io
import os
import re
import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any

from diagnose.errors import AnswerError, KnowledgeError, Place, Problem, nearest, quoted
from diagnose.home import built_in_folder

ENGLISH = "en"
VARIABLE = "DIAGNOSE_LANGUAGE"
"""The environment variable that names the language."""

LOCALES = ("LC_ALL", "LC_MESSAGES", "LANG")
"""Where a system says what language its user reads; the first that is set counts."""

LANGUAGES = "languages"
"""The folder of a knowledge folder that holds the languages."""

INTERFACE = "interface.po"
WORDS = "words.yaml"

TYPED = ("commands", "asides", "answers")
"""Parts of `words.yaml` that say what is meant by words that are typed."""

SMALL = "small"
"""The part of `words.yaml` with small words, by the English word they stand for."""

LISTED = ("say", "not_known", "not_yet", "none", "and")
"""Parts of `words.yaml` that are lists of words."""

CHANGING = "changing"
"""The part of `words.yaml` with joining words that change before a sound."""

STEMMER = "stemmer"
"""The part of `words.yaml` that names the stemmer of the language."""

MEANT: Mapping[str, tuple[str, ...]] = {
    "commands": (
        *("why", "where", "back", "stop", "how", "change", "help"),
        *("terms", "steps"),
    ),
    "asides": ("why not", "what if", "term", "what is"),
    "answers": ("yes", "no", "somewhat"),
}
"""What may be meant by typed words."""


@dataclass(frozen=True)
class Words:
    """The words that a person types in a language, without accents.

    `meant` has, for each part of `MEANT`, the meaning by the word; `lists` the others.
    `small` has words of little meaning, each with an English one that does the same in
    a sentence: denies, doubts, joins, or says nothing. `changing` has, for a joining
    word, others that stand for it and the pattern of the words that they stand before.
    `stemmer` is the stemmer that the roots of words are cut with, '' for the English.
    """

    meant: Mapping[str, Mapping[str, str]] = field(default_factory=dict)
    lists: Mapping[str, frozenset[str]] = field(default_factory=dict)
    small: Mapping[str, str] = field(default_factory=dict)
    changing: Mapping[str, Mapping[str, re.Pattern[str]]] = field(default_factory=dict)
    stemmer: str = ""

    def meaning(self, part: str, word: str) -> str | None:
        """What is meant by a word; None where it is none of the language's."""
        return self.meant.get(part, {}).get(without_accents(word))

    def has(self, part: str, word: str) -> bool:
        """Whether a word is one of a list."""
        return without_accents(word) in self.lists.get(part, ())


@dataclass
class _InUse:
    code: str = ENGLISH
    catalogue: gettext.NullTranslations | None = None
    words: Words = field(default_factory=Words)


_in_use = _InUse()


def tr(message: str, /, **values: Any) -> str:
    """An English text in the language in use, the values put into its braces.

    A translation whose braces do not fit gives way to the English text.
    """
    if _in_use.catalogue is None:
        return message.format(**values) if values else message
    return _filled(_in_use.catalogue.gettext(message), message, values)


def trn(one: str, many: str, n: int, /, **values: Any) -> str:
    """The same for a text that goes by a number: `{n}` of the things it is about."""
    message = one if n == 1 else many
    values = {"n": n, **values}
    if _in_use.catalogue is None:
        return message.format(**values)
    return _filled(_in_use.catalogue.ngettext(one, many, n), message, values)


def mark(message: str) -> str:
    """Marks a text that is translated where it is used."""
    return message


JOINTS = {"and": mark("and"), "or": mark("or")}


def listed(names: Iterable[str], joint: str = "and") -> str:
    """Names after one another, as in a sentence: 'A', 'A and B', 'A, B and C'.

    Args:
        names: the names; '' where there are none.
        joint: 'and' or 'or'.
    """
    *first, last = names = list(names) or [""]
    if not first:
        return last
    between = tr(JOINTS[joint])
    for other, before in _in_use.words.changing.get(between, {}).items():
        if before.match(without_accents(last).lstrip("“«\"'")):
            between = other
    return f"{', '.join(first)} {between} {last}"


def _filled(text: str, english: str, values: Mapping[str, Any]) -> str:
    if not values:
        return text
    try:
        return text.format(**values)
    except (LookupError, ValueError, AttributeError):
        return english.format(**values)


def current() -> str:
    """The code of the language in use."""
    return _in_use.code


def words() -> Words:
    """The words that a person types in the language in use, beside the English ones."""
    return _in_use.words


def small_word(word: str) -> str:
    """The English word for a small word of the language in use; any other as it is.

    Args:
        word: in lower case, without accents.
    """
    return _in_use.words.small.get(word, word)


def languages_folder() -> Path:
    """The folder of the languages that come with the program."""
    return built_in_folder() / LANGUAGES


def languages(folder: Path | None = None) -> list[str]:
    """The codes of the languages that there are, English first."""
    inside = folder or languages_folder()
    try:
        found = sorted(path.name for path in inside.iterdir() if path.is_dir())
    except OSError:
        found = []
    return [ENGLISH, *(code for code in found if not code.startswith("."))]


def wanted(kept: str = "") -> str:
    """The language that a person wants: by the environment, or as they have kept it.

    Args:
        kept: the code in their settings; '' for none.

    Raises:
        AnswerError: a language is named that there is not.
    """
    named = os.environ.get(VARIABLE, "")
    if named:
        return known(named, VARIABLE)
    if kept:
        return kept
    locale = next(filter(None, map(os.environ.get, LOCALES)), None) or ""
    return _code_of(locale.split(".")[0].split("@")[0], languages()) or ENGLISH


def _code_of(place: str, there: Iterable[str]) -> str | None:
    """The language of a place, 'es_MX', as it is called here: that of the place itself
    before that of all places; None where there is neither."""
    codes = {code.lower(): code for code in there}
    place = place.lower()
    return codes.get(place) or codes.get(place.partition("_")[0])


def known(code: str, where: str = "language", folder: Path | None = None) -> str:
    """The code, if there is such a language; that of a place ('es_MX.UTF-8') too.

    Raises:
        AnswerError: there is none.
    """
    there = languages(folder)
    if (found := _code_of(code, there)) is not None:
        return found
    raise AnswerError(
        f"{where}: there is no language {quoted(code)}{nearest(code, there)}; there "
        f"are {', '.join(there)}."
    )


def use(code: str, folder: Path | None = None) -> None:
    """Take up a language for all that is read and typed from now on.

    Args:
        code: its code, such as 'es'.
        folder: where the languages are; those that come with the program where left
            out.

    Raises:
        AnswerError: there is no such language.
        KnowledgeError: a file of it has a fault.
    """
    global _in_use
    if code == ENGLISH:
        _in_use = _InUse()
        return
    home = (folder or languages_folder()) / known(code, folder=folder)
    _in_use = _InUse(code, _catalogue(home / INTERFACE), _words(home / WORDS))


def _catalogue(path: Path) -> gettext.NullTranslations:
    if not path.exists():
        return gettext.NullTranslations()
    raw = read_catalogue(path).to_binary()
    try:
        return gettext.GNUTranslations(io.BytesIO(raw))
    except ValueError as error:
        says = f"the head of the file does not fit: {error}."
        raise KnowledgeError(
            [Problem(Place(str(path), 1), path.stem, "file", says)]
        ) from None


def read_catalogue(path: Path) -> Any:
    """The entries of a PO file, as polib has them.

    Raises:
        KnowledgeError: the file can't be read.
    """
    import polib

    try:
        return polib.pofile(str(path))
    except (OSError, UnicodeDecodeError) as error:
        reason = getattr(error, "strerror", None) or "this is not text in UTF-8"
        place = _place_in(path, str(error))
        says = f"the file can't be read: {reason}."
        raise KnowledgeError([Problem(place, path.stem, "file", says)]) from None


def _place_in(path: Path, says: str) -> Place:
    """The line that an error of polib names: 'Syntax error in po file X (line 3)'."""
    numbers = "".join(c if c.isdigit() else " " for c in says.rpartition("(line")[2])
    first = numbers.split()[:1] if "(line" in says else []
    return Place(str(path), int(first[0]) if first else 1)


def _words(path: Path) -> Words:
    """The words that are typed, from `words.yaml`.

    Raises:
        KnowledgeError: the file has a fault.
    """
    if not path.exists():
        return Words()
    found = read_words(path)
    meant = {
        part: {
            without_accents(word): meaning
            for meaning, group in found.get(part, {}).items()
            for word in group
        }
        for part in TYPED
    }
    lists = {
        part: frozenset(map(without_accents, found.get(part, ()))) for part in LISTED
    }
    small = {
        without_accents(word): english
        for english, group in found.get(SMALL, {}).items()
        for word in group
    }
    changing = {
        word: {
            other: re.compile(rf"(?:{before})", re.IGNORECASE)
            for other, before in others.items()
        }
        for word, others in found.get(CHANGING, {}).items()
    }
    return Words(meant, lists, small, changing, found.get(STEMMER, ""))


def read_words(path: Path) -> dict[str, Any]:
    """The data of a `words.yaml`: each part known, and of the kind that belongs there.

    Raises:
        KnowledgeError: the file has a fault.
    """
    from diagnose.yamltext import FileError, YamlError, parse, read_text

    try:
        data, places = parse(read_text(path), str(path))
    except (FileError, YamlError) as error:
        place = getattr(error, "place", Place(str(path), 1))
        raise KnowledgeError([Problem(place, path.stem, "file", error.says)]) from None
    problems = []
    parts = (*TYPED, SMALL, *LISTED, CHANGING, STEMMER)

    def fault(says: str, *at: str) -> None:
        place = Place(str(path), *places.at(at, key=True))
        problems.append(Problem(place, path.stem, "shape", says))

    if not isinstance(data, dict):
        fault(f"this file holds the keys {', '.join(parts)}.")
        data = {}
    for part, held in data.items():
        if part in (*TYPED, SMALL):
            for meaning, group in held.items() if isinstance(held, dict) else ():
                if part != SMALL and meaning not in MEANT[part]:
                    hint = nearest(meaning, MEANT[part])
                    said = ", ".join(MEANT[part])
                    fault(f"{quoted(meaning)} is none of {said}{hint}.", part, meaning)
                elif not _is_list_of_text(group):
                    fault("a list of words belongs here.", part, meaning)
            if not isinstance(held, dict):
                keys = ", ".join(MEANT.get(part, ("not", "and", "the")))
                fault(f"keys such as {keys} belong here.", part)
        elif part == CHANGING:
            for at, says in _faults_of_changing(held):
                fault(says, part, *at)
        elif part == STEMMER:
            if held not in stemmers():
                hint = nearest(str(held), stemmers())
                fault(f"there is no stemmer {quoted(str(held))}{hint}.", part)
        elif part not in LISTED:
            hint = nearest(part, parts)
            fault(f"there is no key {quoted(part)}{hint}.", part)
        elif not _is_list_of_text(held):
            fault("a list of words belongs here.", part)
    if problems:
        raise KnowledgeError(problems)
    return data


def _faults_of_changing(held: Any) -> Iterator[tuple[tuple[str, ...], str]]:
    """Where in `changing` something is wrong, and what."""
    if not isinstance(held, dict):
        yield (), "words that change belong here, such as y: {e: 'h?i'}."
        return
    for word, others in held.items():
        if not isinstance(others, dict):
            yield (word,), "another word and what it stands before belong here."
            continue
        for other, before in others.items():
            try:
                re.compile(before)
            except (TypeError, re.error):
                says = "a pattern of the words that it stands before belongs here."
                yield (word, other), says


def stemmers() -> list[str]:
    """The names of the stemmers that there are."""
    from snowballstemmer import algorithms  # type: ignore[import-untyped]

    return list(algorithms())


def _is_list_of_text(value: Any) -> bool:
    return isinstance(value, list) and all(isinstance(one, str) for one in value)


def without_accents(text: str) -> str:
    """A text in lower case with plain letters: 'Sí' is typed as 'si' too."""
    parts = unicodedata.normalize("NFD", text.lower())
    return "".join(sign for sign in parts if not unicodedata.combining(sign))
