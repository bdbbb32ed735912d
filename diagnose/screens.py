"""What a person sees of results: text for a terminal, 80 columns, no colour needed."""

from __future__ import annotations

import codecs
import sys
import unicodedata
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import IO

from rich.console import Console
from rich.text import Text

from diagnose import measures
from diagnose.checks import FORMULA
from diagnose.consultation import Consultation
from diagnose.language import listed, tr
from diagnose.plan import Outlay, Plan, PlannedFix
from diagnose.questions import Question
from diagnose.ranking import RankedCause, Ranking, RuledOut
from diagnose.records import Caution, Knowledge
from diagnose.words import Understood

WIDTH = 80
"""No line is wider, however wide the terminal is."""

LEAST = 0.01
"""A cause less likely than this is not listed."""

LISTED = 8
"""So many causes are listed at all."""

FULL = 3
"""So many causes are shown with their reasons; the others get a line."""

WORTH_REASONS = 0.1
"""A cause less likely than this gets no more than a line, unless it leads."""

TRAILS = 3
"""So many answers are led back to a cause in sentences; the others are named."""

FIXES = 3
"""So many fixes are spelled out in each part of the plan; the others are named."""

WORTH_NAMING = 0.1
"""A fix less likely to help than this is only shown where it is the first."""

QUOTED = 60
"""So many characters of the person's own words are repeated."""

PLAIN = {
    **dict.fromkeys("“”„″", '"'),
    **dict.fromkeys("‘’′", "'"),
    **dict.fromkeys("–—−", "-"),
    "…": "...",
    "→": "->",
    "×": "x",
    "÷": "/",
    "√": "sqrt",
    "±": "+/-",
    "°": "deg ",
    "µ": "u",
    "μ": "u",
    "≤": "<=",
    "≥": ">=",
    "½": "1/2",
    "¼": "1/4",
    "¾": "3/4",
    "·": ".",
}
"""What is written for a sign that a terminal does not have."""


def _in_plain_signs(error: UnicodeError) -> tuple[str, int]:
    """Write what can't be encoded in signs that every terminal has."""
    if not isinstance(error, UnicodeEncodeError):
        raise error
    written = ""
    for sign in error.object[error.start : error.end]:
        near = unicodedata.normalize("NFKD", sign).encode("ascii", "ignore").decode()
        written += PLAIN.get(sign) or near or "?"
    return written, error.end


codecs.register_error("plain-signs", _in_plain_signs)


class _Page(Console):
    """A console that is never wider than `WIDTH`, also after the window was resized."""

    @property
    def width(self) -> int:
        return min(self.size.width, WIDTH)

    @width.setter
    def width(self, width: int) -> None:
        self._width = width


def new_console(width: int | None = None, file: IO[str] | None = None) -> Console:
    """A console for plain reading: no colour of its own, no highlighting.

    Standard output is told to write what its encoding lacks in plain signs.
    """
    tell = getattr(sys.stdout, "reconfigure", None)
    if tell is not None:
        tell(errors="plain-signs")
    kind = _Page if width is None else Console
    return kind(highlight=False, markup=False, emoji=False, width=width, file=file)


def printable(text: str) -> str:
    """The text without signs that steer a terminal or can't be seen."""
    return "".join(sign if sign.isprintable() else " " for sign in text)


def _writable(console: Console, text: str) -> str:
    """The text in the units in use and in signs that the console has, so that it is
    wrapped as it is seen."""
    known = console.encoding
    return printable(measures.shown(text)).encode(known, "plain-signs").decode(known)


def shortened(text: str, most: int = QUOTED) -> str:
    """The start of a text that is too long to repeat."""
    text = " ".join(printable(text).split())
    return text if len(text) <= most else f"{text[: most - 1].rstrip()}…"


def line(console: Console, text: str = "", indent: int = 0, style: str = "") -> None:
    """Print a text, wrapped and indented as a block."""
    width = max(console.width - indent, 20)
    for part in Text(_writable(console, text)).wrap(console, width) or [Text()]:
        console.print(Text(" " * indent + part.plain.rstrip(), style=style))


def bullet(console: Console, mark: str, text: str, indent: int = 0) -> None:
    """Print a text behind a mark, later lines under the first."""
    mark, body = _writable(console, mark), Text(_writable(console, text))
    width = max(console.width - indent - len(mark) - 1, 20)
    for number, part in enumerate(body.wrap(console, width)):
        lead = mark if number == 0 else " " * len(mark)
        console.print(Text(f"{' ' * indent}{lead} {part.plain.rstrip()}"))


def show_written(console: Console, name: str) -> None:
    """Which page was written."""
    line(console, tr("Written: {name} (open it, and print it)", name=name))


def heading(console: Console, text: str) -> None:
    """Print a heading, underlined so that it is one without any style."""
    console.print()
    console.print(Text(text, style="bold"))
    console.print(Text("-" * min(len(text), console.width)))


def percent(chance: float) -> str:
    """A chance for reading: whole per cent, never a false 0 or 100."""
    if chance < 0.01:
        return "<1 %"
    if chance > 0.99:
        return ">99 %"
    return f"{chance * 100:.0f} %"


def bar(chance: float, width: int = 10) -> str:
    """A chance as a bar of signs that every terminal and printer has."""
    full = round(chance * width)
    return "#" * full + "." * (width - full)


def time_it_takes(minutes: float) -> str:
    """Minutes in words."""
    if minutes < 1:
        return tr("a glance")
    if minutes >= 120:
        return tr("about {minutes:.0f} hours", minutes=minutes / 60)
    return tr("about {minutes:.0f} min", minutes=minutes)


# while it asks


def show_standing(
    console: Console, chances: Sequence[tuple[str, str, float]], most: int = 3
) -> None:
    """The leading causes with their chances, a line each."""
    shown = [one for one in chances if one[2] >= LEAST][:most]
    label = tr("So far:")
    so_far = f"{label:<7} "
    for number, (_, name, chance) in enumerate(shown):
        lead = so_far if number == 0 else " " * len(so_far)
        bullet(console, f"{lead}{percent(chance):>6} {bar(chance)}", name)


def show_where(console: Console, consultation: Consultation) -> None:
    """Where things stand, on half a screen."""
    ranking = consultation.ranking()
    if not consultation.look.known:
        line(console, tr("Nothing has been said yet of what went wrong."))
        return
    show_standing(console, consultation.chances(), most=5)
    leader = ranking.causes[0]
    for label, voices in (
        (tr("For the first:"), leader.speaks_for),
        (tr("Against it:"), leader.speaks_against),
    ):
        if voices:
            says = " ".join(voice.says for voice in voices[:3])
            more = (
                tr(" … and {count} more.", count=len(voices) - 3)
                if len(voices) > 3
                else ""
            )
            bullet(console, label, says + more)
    if ranking.unexplained:
        says = " ".join(one.says for one in ranking.unexplained[:3])
        bullet(console, tr("Unexplained:"), says)
    for says in ranking.contradictions:
        bullet(console, tr("At odds:"), says)
    first = consultation.plan().first()
    if first is not None:
        bullet(console, tr("To do now:"), f"{first.fix.name} {_odds(first)}")


def show_understood(
    console: Console, knowledge: Knowledge, understood: Understood
) -> None:
    """What was understood of free text, with the words that it was taken from."""
    if understood.heard:
        line(console, tr("Understood:"))
    for heard in understood.heard:
        finding = knowledge.findings[heard.finding]
        says = finding.sentence(heard.value)
        if heard.value == "somewhat":
            says = tr("Somewhat: {says}", says=finding.sentence("yes"))
        bullet(
            console,
            "*",
            tr("{says} (from “{words}”)", says=says, words=shortened(heard.words)),
            2,
        )
    for one in understood.twofold:
        line(
            console,
            tr(
                "“{words}” was not taken: write “{first}” or “{second}”.",
                words=shortened(one.words),
                first=one.ways[0],
                second=one.ways[1],
            ),
        )
    if understood.left:
        left = ", ".join(f"“{shortened(words)}”" for words in understood.left[:5])
        line(console, tr("Nothing was made of: {left}", left=left))


def show_question(console: Console, question: Question, title: str) -> None:
    """One question, and how to look."""
    console.print()
    takes = "" if question.kind == "tool" else f"  ({time_it_takes(question.minutes)})"
    line(console, title + takes, style="bold")
    line(console, question.text, 2, style="bold")
    if question.how:
        bullet(console, tr("How:"), question.how, 2)
    if question.not_this:
        bullet(console, tr("Not this:"), question.not_this, 2)


def show_questions(console: Console, questions: Sequence[Question], title: str) -> None:
    """Several questions that one look answers, numbered, each with how to look."""
    console.print()
    minutes = sum(question.minutes for question in questions)
    line(
        console,
        tr(
            "{title}  (together {minutes})", title=title, minutes=time_it_takes(minutes)
        ),
        style="bold",
    )
    hows = {question.how for question in questions}
    for number, question in enumerate(questions, 1):
        bullet(console, f"{number:>3}", question.text)
        if question.how and (len(hows) > 1 or number == 1):
            bullet(console, tr("How:"), question.how, 4)
        if question.not_this:
            bullet(console, tr("Not this:"), question.not_this, 4)


def show_caution(
    console: Console, caution: Caution, *, seen_before: bool = False
) -> None:
    """A danger, what to do about it, and whose word is final.

    One that was seen before is named, with what to do about it.
    """
    name = caution.name[:1].upper() + caution.name[1:]
    text = f"{name}. {caution.danger} {caution.do} {caution.ask}"
    if seen_before:
        text = tr("{name}, as before. {do}", name=name, do=caution.do)
    bullet(console, "!", text, 2)


# the result


def show_result(
    console: Console,
    consultation: Consultation,
    *,
    brief: bool = False,
    shop: Path | None = None,
) -> None:
    """The whole result: ranking, reasons, plan, cautions.

    Args:
        console: where it goes.
        consultation: whose result it is.
        brief: only name the fixes that are less worth trying; `show_short` follows.
        shop: the shop folder, whose past cases like this one are shown.
    """
    if not brief:
        show_tells(console, consultation.ranking())
    show_ranking(console, consultation.ranking())
    show_plan(console, consultation.knowledge, consultation.plan(), brief=brief)
    if shop is not None:
        from diagnose.cases.past_screens import show_recalled

        show_recalled(console, consultation, shop)


def show_tells(console: Console, ranking: Ranking) -> None:
    """What a rule says has to be known at once."""
    for tell in ranking.tells:
        bullet(console, tr("Important:"), tell)


def show_ranking(console: Console, ranking: Ranking) -> None:
    """The ranked causes with their reasons, and what is left open."""
    heading(console, tr("What is most likely wrong"))
    likely = [cause for cause in ranking.causes if cause.probability >= LEAST]
    spelled = [
        cause
        for number, cause in enumerate(likely[:FULL])
        if number == 0 or cause.probability >= WORTH_REASONS
    ]
    for number, cause in enumerate(spelled, 1):
        _show_cause(console, number, cause)
    rest = likely[len(spelled) : LISTED]
    if rest:
        console.print()
        line(console, tr("Less likely:"))
        for cause in rest:
            bullet(console, f"{percent(cause.probability):>6}", cause.name, 2)
    if sum(cause.probability for cause in ranking.causes) > 1.01:
        console.print()
        _show_together(console, ranking)
    if ranking.contradictions:
        heading(console, tr("Answers that do not go together"))
        for says in ranking.contradictions:
            bullet(console, "*", says, 2)
    if ranking.unexplained:
        heading(console, tr("Still unexplained"))
        for one in ranking.unexplained:
            bullet(console, "*", one.says, 2)
        line(
            console, tr("The likeliest causes do not account for it; a second may."), 2
        )
    if ranking.ruled_out:
        heading(console, tr("Ruled out"))
        for because, names in _by_reason(ranking.ruled_out).items():
            bullet(console, "*", f"{'; '.join(names)}. {because}", 2)


def _show_together(console: Console, ranking: Ranking) -> None:
    """Why the chances add up to more than all: two causes may be there at once."""
    line(console, tr("Two causes can be there at once, so the chances overlap."))
    names = {cause.cause: cause.name for cause in ranking.causes}
    for causes, chance in ranking.together:
        if chance >= WORTH_REASONS:
            both = listed(names[cause] for cause in causes)
            bullet(console, f"{percent(chance):>6}", tr("both {both}", both=both), 2)


def _by_reason(ruled_out: Sequence[RuledOut]) -> Mapping[str, list[str]]:
    """What was ruled out, by the reason."""
    found: dict[str, list[str]] = {}
    for out in ruled_out:
        found.setdefault(out.because, []).append(out.name)
    return found


def _show_cause(console: Console, number: int, cause: RankedCause) -> None:
    console.print()
    chance = f"{percent(cause.probability)} {bar(cause.probability)}"
    bullet(console, f"{number}.", f"{cause.name}   {chance}")
    line(console, cause.what, 3)
    if cause.trails or cause.weighed:
        line(console, tr("For it:"), 3)
    show_trails(console, cause)
    for says in cause.weighed:
        bullet(console, "+", says, 3)
    if cause.objections:
        line(console, tr("Against it:"), 3)
    for says in cause.objections[:TRAILS]:
        bullet(console, "-", says, 3)
    if cause.settled_by:
        bullet(console, tr("To settle it:"), cause.settled_by[0], 3)


def show_trails(console: Console, cause: RankedCause) -> None:
    """From each answer to the cause; a way that was told before is not told again."""
    told: set[str] = set()
    pairs = list(zip(cause.speaks_for, cause.trails, strict=True))
    for voice, (says, *steps) in pairs[:TRAILS]:
        bullet(console, "+", says, 3)
        for link, step in zip(voice.way, steps, strict=True):
            if link.id in told:
                line(console, tr("From there it leads on as above."), 5)
                break
            told.add(link.id)
            line(console, step, 5)
    for voice, _ in pairs[TRAILS:]:
        bullet(console, "+", voice.says, 3)


def show_plan(
    console: Console, knowledge: Knowledge, plan: Plan, *, brief: bool = False
) -> None:
    """The fixes in three parts, and the cautions that go with what is shown.

    They are numbered through, in the order of `numbered`.
    """
    heading(console, tr("What to do"))
    shown: set[str] = set()
    count = 0
    for moment, part in plan.parts.items():
        record = knowledge.moments[moment]
        console.print()
        line(console, f"{record.name} ({record.explains})", style="bold")
        if not part:
            line(console, tr("Nothing is known that would help here."), 2)
        worth = _worth_naming(part, brief=brief)
        if len(worth) > 1 and moment != list(plan.parts)[-1]:
            line(console, _in_turn(plan.outlays[moment]), 2)
        spelled = worth[: FIXES - 1 if brief else FIXES]
        for number, one in enumerate(spelled, count + 1):
            _show_fix(console, number, one)
        rest = worth[len(spelled) :]
        if rest:
            line(console, tr("If that does not do it:"), 2)
        for number, one in enumerate(rest, count + len(spelled) + 1):
            bullet(console, f"{number}.", f"{one.fix.name} {_odds(one)}", 2)
        count += len(worth)
        shown |= {caution for one in spelled for caution in one.fix.cautions}
    every = [one for part in plan.parts.values() for one in part]
    left_out = {c for one in every for c in one.fix.cautions} - shown
    cautions = [caution for caution in plan.cautions if caution not in left_out]
    if cautions:
        heading(console, tr("Take care"))
    for caution in cautions:
        show_caution(console, knowledge.cautions[caution])


def numbered(plan: Plan, *, brief: bool = False) -> list[PlannedFix]:
    """The fixes that `show_plan` shows, in the order of their numbers there."""
    parts = plan.parts.values()
    return [one for part in parts for one in _worth_naming(part, brief=brief)]


def _worth_naming(part: Sequence[PlannedFix], *, brief: bool) -> list[PlannedFix]:
    return [
        one
        for number, one in enumerate(part)
        if number == 0 or not brief or one.chance >= WORTH_NAMING
    ]


def _in_turn(outlay: Outlay) -> str:
    """What it comes to when the fixes of a part are made one after the other."""
    minutes = time_it_takes(outlay.minutes)
    return tr(
        "One after the other: {minutes} on average until it is mended "
        "or all are tried; {chance} that one of them helps.",
        minutes=minutes,
        chance=percent(outlay.chance),
    )


def _odds(one: PlannedFix) -> str:
    return tr(
        "[{chance} to help, {minutes}]",
        chance=percent(one.chance),
        minutes=time_it_takes(one.fix.minutes),
    )


def _show_fix(console: Console, number: int, one: PlannedFix) -> None:
    fix = one.fix
    bullet(console, f"{number}.", f"{fix.name} {_odds(one)}", 2)
    line(console, fix.how, 5)
    for says in one.in_numbers:
        line(console, says, 5)
    bullet(console, tr("Why:"), fix.why, 5)
    bullet(console, tr("It worked when:"), fix.worked_when, 5)
    if fix.materials:
        bullet(console, tr("With:"), ", ".join(fix.materials), 5)


def show_mended(console: Console, consultation: Consultation) -> None:
    """What a fix that worked proves, and how to keep the fault from coming back."""
    knowledge, plan = consultation.knowledge, consultation.plan()
    worked = [fix for fix, says in consultation.sheet.tried.items() if says == "yes"]
    causes = [one for one in consultation.confirmed() if one[2] >= WORTH_REASONS][:FULL]
    heading(console, tr("Mended"))
    names = listed(f"“{knowledge.fixes[fix].name}”" for fix in worked)
    line(console, tr("{names} helped.", names=names))
    if len(causes) == 1:
        _, name, chance = causes[0]
        line(
            console,
            tr(
                "The cause is taken as confirmed: {name} ({chance}).",
                name=name,
                chance=percent(chance),
            ),
        )
    elif causes:
        line(console, tr("That fits more than one cause, most of all the first:"))
        for _, name, chance in causes:
            bullet(console, f"{percent(chance):>6}", name, 2)
    ids = {cause for cause, _, _ in causes}
    order = list(plan.parts)
    last = max((order.index(knowledge.fixes[fix].moment) for fix in worked), default=0)
    useful = {
        moment: [
            one
            for one in _worth_naming(plan.parts[moment], brief=True)
            if one.fix.id not in worked and ids & set(one.causes)
        ][: FIXES - 1]
        for moment in reversed(order[min(last + 1, len(order) - 1) :])
    }
    count = 0
    for moment, part in useful.items():
        record = knowledge.moments[moment]
        if part:
            console.print()
            line(console, f"{record.name} ({record.explains})", style="bold")
        for one in part:
            count += 1
            _show_fix(console, count, one)
    cautions = dict.fromkeys(
        caution
        for part in useful.values()
        for one in part
        for caution in one.fix.cautions
    )
    if cautions:
        heading(console, tr("Take care"))
    for caution in cautions:
        show_caution(console, knowledge.cautions[caution])


def print_json(data: object) -> None:
    """Plain data as one JSON object on the standard output."""
    from json import dumps

    print(dumps(data, indent=2, ensure_ascii=False))


def show_sources(console: Console, knowledge: Knowledge, cited: Iterable[str]) -> None:
    """The sources that are cited, each once, with title, publication and year."""
    heading(console, tr("Sources"))
    for text in dict.fromkeys(cited):
        bullet(console, "-", cited_as(knowledge, text), 2)


def cited_as(knowledge: Knowledge, text: str) -> str:
    """A source as it is listed: with title, publication and year."""
    source = knowledge.sources.get(text.partition("/")[0])
    if source is None:
        return text.removeprefix(FORMULA)
    year = f", {source.year}" if source.year else ""
    where = f", {source.publication}" if source.publication else ""
    return f"{text}: {source.title}{where}{year}"


def show_short(console: Console, consultation: Consultation) -> None:
    """The result on less than one screen: the last thing that is left in view."""
    ranking, plan = consultation.ranking(), consultation.plan()
    knowledge = consultation.knowledge
    heading(console, tr("In short"))
    likely = [c for c in ranking.causes if c.probability >= WORTH_REASONS]
    lines = [
        (tr("Or else:"), f"{cause.name} ({percent(cause.probability)})")
        for cause in likely[:FULL] or ranking.causes[:1]
    ]
    lines[0] = (tr("Most likely:"), lines[0][1])
    first = {moment: part[0] for moment, part in plan.parts.items() if part}
    lines += [
        (f"{knowledge.moments[moment].name}:", f"{one.fix.name} {_odds(one)}")
        for moment, one in first.items()
    ]
    of_first = {caution for one in first.values() for caution in one.fix.cautions}
    names = [knowledge.cautions[c].name for c in plan.cautions if c in of_first]
    if names:
        lines.append((tr("Take care:"), ", ".join(names)))
    lines += [(tr("Important:"), tell) for tell in ranking.tells]
    wide = max(len(label) for label, _ in lines)
    for label, text in lines:
        bullet(console, f"{label:<{wide}}", text)
