"""What a person types at a prompt → what is meant by it. Pure functions, no I/O."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from diagnose import measures
from diagnose.language import MEANT, tr, words
from diagnose.questions import Question
from diagnose.sheets import DONT_KNOW, SOMEWHAT

LONGEST = 10_000
"""Characters of one line that are read; the rest is left out."""

LONGEST_ASIDE = 4
"""No words that begin an aside are more."""

LONGEST_ANSWER = 200
"""No answer is longer, but for one in own words."""

NONE = "0"
"""Typed at a list for none of what it holds."""

COMMANDS = {
    **dict.fromkeys(("why", "why are you asking", "why do you ask"), "why"),
    **dict.fromkeys(("where", "where are we", "where do we stand"), "where"),
    **dict.fromkeys(("back", "go back", "undo", "change an answer"), "back"),
    **dict.fromkeys(("stop", "stop here", "quit", "exit", "end"), "stop"),
    **dict.fromkeys(("how", "how did we get here", "how come"), "how"),
    **dict.fromkeys(
        ("change", "what would change it", "what would change the result"), "change"
    ),
    **dict.fromkeys(("help", "h"), "help"),
    **dict.fromkeys(("terms", "t", "words"), "terms"),
    **dict.fromkeys(("steps", "how to look", "how do i look"), "steps"),
}
"""What is taken at every prompt, however it is put."""

ASIDES = {
    **{meant: meant for meant in MEANT["asides"]},
    **dict.fromkeys(("what's", "whats", "what are"), "what is"),
}
"""What begins a line that is no answer, and has something behind it."""

WITH_NUMBER = ("why", "steps")
"""Commands that may have the number of a question behind them."""

NOT_KNOWN = frozenset(
    {
        "?",
        DONT_KNOW,
        "dont know",
        "do not know",
        "i don't know",
        "i dont know",
        "not sure",
        "i'm not sure",
        "no idea",
        "dunno",
        "unknown",
        "can't",
        "i can't",
        "can't look",
        "can't say",
    }
)
"""How people say that they don't know."""

NOT_YET = frozenset({"not yet", "nothing yet", "later", "don't know yet", "nothing"})
"""How people say that they did not get round to it."""

SPOKEN = {
    **dict.fromkeys(("y", "yes", "yeah", "yep", "yup", "true"), "yes"),
    **dict.fromkeys(("n", "no", "nope", "nah", "false"), "no"),
    **dict.fromkeys(("s", SOMEWHAT, "a little", "a bit", "partly"), SOMEWHAT),
}
"""How people say yes, no and somewhat."""


def one_line(text: str) -> str:
    """A line as typed, without signs that can't be seen, and not too long."""
    text = "".join(sign if sign.isprintable() else " " for sign in text[:LONGEST])
    return " ".join(text.split())


def folded(text: str) -> str:
    """A line in lower case, with plain apostrophes and no mark at its ends."""
    text = text.lower().replace("’", "'").replace("‘", "'")
    return text.rstrip(".! ").lstrip("¿¡ ") or text


def command(text: str) -> str | None:
    """The command that a line is, if it is one."""
    low = folded(text).rstrip("? ")
    return words().meaning("commands", low) or COMMANDS.get(low)


def spoken(text: str) -> str | None:
    """Yes, no or somewhat, however it is said; None where it is none of them."""
    low = folded(text)
    return words().meaning("answers", low) or SPOKEN.get(low)


def aside(text: str) -> tuple[str, str] | None:
    """What begins the line, such as 'why not', and what stands behind it; or None.

    Behind a plain 'why' or 'steps' there is the number of a question and nothing else.
    """
    parts = text.split()
    for size in range(min(len(parts), LONGEST_ASIDE), 0, -1):
        first = folded(" ".join(parts[:size])).rstrip("?,:; ")
        rest = " ".join(parts[size:])
        meant = words().meaning("asides", first) or ASIDES.get(first)
        if meant is not None:
            return meant, rest
        asked = command(first)
        if asked in WITH_NUMBER and len(numbers(rest)) == 1:
            return asked, rest
    return None


def setting(text: str) -> tuple[str, str] | None:
    """'language es' or 'units inch', as a name and a value; None where it is none."""
    first, _, rest = text.partition(" ")
    for name, said in (("language", tr("language")), ("units", tr("units"))):
        if folded(first) in (name, said) and rest and len(rest.split()) == 1:
            return name, rest
    return None


def own_words(text: str) -> str | None:
    """What stands behind 'say'; None where the line does not begin with it."""
    first, _, rest = text.partition(" ")
    low = folded(first).rstrip(":,")
    return rest.strip() if low == "say" or words().has("say", low) else None


def not_known(text: str) -> bool:
    """Whether a line says that the person does not know, or can't look."""
    low = folded(text)
    return low in NOT_KNOWN or words().has("not_known", low)


def not_yet(text: str) -> bool:
    """Whether a line says that nothing was done yet, or that it is not known yet."""
    low = folded(text)
    return low in NOT_YET or words().has("not_yet", low) or not_known(text)


def none_of_them(text: str) -> bool:
    """Whether a line says none of a list, or that the person does not know."""
    low = folded(text)
    said = low in {NONE, "none", "none of these"} or words().has("none", low)
    return said or not_known(text)


def numbers(text: str) -> list[int]:
    """The numbers picked from a list; none where the line holds anything else."""
    parts = text.replace(",", " ").replace("+", " ").replace("&", " ").split()
    parts = [part for part in parts if not _is_and(folded(part))]
    if not all(part.isascii() and part.isdigit() for part in parts):
        return []
    return [int(part[:4]) for part in parts]


def _is_and(low: str) -> bool:
    return low == "and" or words().has("and", low)


def chosen(text: str, named: Mapping[str, Sequence[str]]) -> str | None:
    """Which of several is meant: by its number, its name, or words only it has.

    Args:
        text: the line.
        named: the names of each, by id, in the order in which they are numbered.
    """
    ids = list(named)
    picked = numbers(text)
    if picked:
        fits = len(picked) == 1 and 1 <= picked[0] <= len(ids)
        return ids[picked[0] - 1] if fits else None
    low = folded(text)
    names = {id: [folded(name) for name in named[id]] for id in ids}
    typed = set(low.split())
    for found in (
        [id for id in ids if low in names[id]],
        [id for id in ids if any(name.startswith(low) for name in names[id])],
        [id for id in ids if any(typed <= _words(name) for name in names[id])],
    ):
        if len(found) == 1:
            return found[0]
    return None


def _words(name: str) -> set[str]:
    return set(name.replace(",", " ").replace("-", " ").split())


def value(question: Question, text: str) -> str | None:
    """The answer to a question that a line stands for; None where it is none.

    A reading is passed on as it was typed.
    """
    if not_known(text):
        return "no" if question.kind == "tool" else DONT_KNOW
    if question.kind == "reading":
        if len(text) > LONGEST_ANSWER:
            return None
        return measures.with_unit(text, question.unit)
    if "yes" in question.takes:
        said = spoken(text)
        return said if said in question.takes else None
    takes = question.takes.items()
    return chosen(text, {id: [id, name] for id, name in takes if id != DONT_KNOW})


def is_yes_no(question: Question) -> bool:
    """Whether a question is answered with yes, no, somewhat or don't know."""
    return question.kind == "finding" and "yes" in question.takes


def several(questions: Mapping[int, Question], text: str) -> dict[int, str] | None:
    """The answers to several yes-no questions on one line; None where it is none.

    "y n ?" and "yn?" answer them in turn, "2 n" or "2n" the second alone; one answer
    alone is for the first.

    Args:
        questions: the questions that are still open, by their numbers.
        text: the line.
    """
    low = folded(text)
    if spoken(low) or not_known(low):
        parts = [low]
    elif len(low) > 1 and all(sign == "?" or spoken(sign) for sign in low):
        parts = list(low)
    else:
        low = re.sub(r"(\d+)[.:)=]?", r" \1 ", low)
        parts = low.replace(",", " ").replace(";", " ").split()
    found: dict[int, str] = {}
    number = None
    for part in parts:
        if part.isascii() and part.isdigit():
            if number is not None:
                return None
            number = int(part[:4])
            continue
        open_ones = [one for one in questions if one not in found]
        if number is None and open_ones:
            number = open_ones[0]
        if number not in open_ones:
            return None
        answer = value(questions[number], part)
        if answer is None:
            return None
        found[number] = answer
        number = None
    return found if found and number is None else None


def takes(question: Question) -> str:
    """What a question takes, in a sentence."""
    if question.kind == "reading":
        return tr(
            "Take a number in {unit}, or ? for don't know.",
            unit=measures.unit_shown(question.unit),
        )
    if question.kind == "tool":
        return tr("Take y, n, or ? for don't know.")
    if "yes" in question.takes:
        return tr("Take y, n, s, or ? for don't know; own words go behind 'say'.")
    count = sum(id != DONT_KNOW for id in question.takes)
    return tr(
        "Take 1 to {count}, or ? for don't know; Enter alone shows the list.",
        count=count,
    )
