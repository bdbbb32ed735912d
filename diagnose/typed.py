"""What a person types at a prompt → what is meant by it. Pure functions, no I/O."""

from __future__ import annotations

import re
from collections.abc import Mapping, Sequence

from diagnose.questions import Question
from diagnose.sheets import DONT_KNOW, SOMEWHAT

LONGEST = 10_000
"""Characters of one line that are read; the rest is left out."""

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
}
"""What is taken at every prompt, however it is put."""

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
    """A line in lower case, with plain apostrophes and no mark at its end."""
    text = text.lower().replace("’", "'").replace("‘", "'")
    return text.rstrip(".! ") or text


def command(text: str) -> str | None:
    """The command that a line is, if it is one."""
    return COMMANDS.get(folded(text).rstrip("? "))


def aside(text: str) -> tuple[str, str] | None:
    """'why not', 'what if' or 'why', with what stands behind it; None for no such line.

    Behind a plain 'why' there is the number of a question and nothing else.
    """
    words = text.split()
    first = folded(" ".join(words[:2])).rstrip("?,:; ")
    if first in ("why not", "what if"):
        return first, " ".join(words[2:])
    if folded(text).startswith("why ") and len(numbers(" ".join(words[1:]))) == 1:
        return "why", words[1]
    return None


def own_words(text: str) -> str | None:
    """What stands behind 'say'; None where the line does not begin with it."""
    first, _, rest = text.partition(" ")
    return rest.strip() if folded(first).rstrip(":,") == "say" else None


def not_known(text: str) -> bool:
    """Whether a line says that the person does not know, or can't look."""
    return folded(text) in NOT_KNOWN


def not_yet(text: str) -> bool:
    """Whether a line says that nothing was done yet, or that it is not known yet."""
    return folded(text) in NOT_YET or not_known(text)


def none_of_them(text: str) -> bool:
    """Whether a line says none of a list, or that the person does not know."""
    return folded(text) in {NONE, "none", "none of these"} or not_known(text)


def numbers(text: str) -> list[int]:
    """The numbers picked from a list; none where the line holds anything else."""
    words = text.replace(",", " ").replace("+", " ").replace("&", " ").split()
    words = [word for word in words if folded(word) != "and"]
    if not all(word.isascii() and word.isdigit() for word in words):
        return []
    return [int(word[:4]) for word in words]


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
    words = set(low.split())
    for found in (
        [id for id in ids if low in names[id]],
        [id for id in ids if any(name.startswith(low) for name in names[id])],
        [id for id in ids if any(words <= _words(name) for name in names[id])],
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
        return text if len(text) <= LONGEST_ANSWER else None
    if "yes" in question.takes:
        spoken = SPOKEN.get(folded(text))
        return spoken if spoken in question.takes else None
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
    if low in SPOKEN or low in NOT_KNOWN:
        parts = [low]
    elif len(low) > 1 and set(low) <= set("yns?"):
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
        return f"Take a number in {question.unit}, or ? for don't know."
    if question.kind == "tool":
        return "Take y, n, or ? for don't know."
    if "yes" in question.takes:
        return "Take y, n, s, or ? for don't know; own words go behind 'say'."
    count = sum(id != DONT_KNOW for id in question.takes)
    return f"Take 1 to {count}, or ? for don't know; Enter alone shows the list."
