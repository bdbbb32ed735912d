"""Asks for the outcome of a fault, a line at a time, and keeps every answer at once.

Each step may be skipped. What was answered is on disk before the next line is read.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from rich.console import Console

from diagnose import typed
from diagnose.cases.record import (
    Case,
    Confirmed,
    case_of,
    day_of,
    is_date,
    minutes_in,
    not_understood,
    ranked,
    sheet_of,
    today,
)
from diagnose.cases.shop import Kept, Shop
from diagnose.consultation import Consultation
from diagnose.errors import AnswerError, DiagnoseError, nearest, quoted
from diagnose.guesses import ASKED
from diagnose.language import mark, tr
from diagnose.network import NOT_COVERED
from diagnose.pages import find
from diagnose.records import Fix, Knowledge
from diagnose.screens import (
    bullet,
    line,
    percent,
    shortened,
    show_understood,
)
from diagnose.sheets import GROUPS, Sheet

LISTED = 8
"""So many causes, fixes or consultations are listed to choose from."""

LOOKED_THROUGH = 50
"""So many of the newest cases are looked through for labels that are in use."""

SKIP = mark("(Enter alone skips this)")


class _Stop(Exception):
    """The person wants to stop here."""


@dataclass(frozen=True)
class _Source:
    """What a case can be made from: a consultation, or a case that is not filled in."""

    name: str
    sheet: Sheet
    id: str = ""


class Guide:
    """Fills in one case.

    Args:
        shop: where it is kept.
        knowledge: what the tool knows.
        console: where text goes.
        read_line: gives the next line the person types; raises EOFError at the end.
    """

    def __init__(
        self,
        shop: Shop,
        knowledge: Knowledge,
        console: Console,
        read_line: Callable[[str], str],
    ) -> None:
        self.shop = shop
        self.knowledge = knowledge
        self.console = console
        self.id = ""
        self._read_line = read_line
        self._consultation = Consultation(knowledge)
        self._case = Case(date=today())
        self._is_new = False  # something was said or answered that is not kept yet

    # the two ways in

    def add(self, consultations: Path) -> int:
        """A case from a kept consultation, from an unfinished case, or from nothing.

        Args:
            consultations: the folder that consultations are kept in.

        Returns:
            The exit code: 0, or 130 after control-C.
        """
        try:
            self._begin(consultations)
            self._seen()
            self._set_up()
            self._outcome()
        except _Stop:
            self._leave(tr("Stopping here."))
        except EOFError:
            self.console.print()
            self._leave("")
        except KeyboardInterrupt:
            self.console.print()
            self._leave("")
            return 130
        return 0

    def keep(self, consultation: Consultation) -> bool:
        """Offer to keep a consultation that has come to its end as a case.

        Returns:
            Whether it was kept with a cause.
        """
        self._consultation = consultation
        self._case = case_of(consultation)
        self._case.begun = self._case.begun or _now()
        self._case.ended = ""
        begun = {moment: id for id, (moment, _) in self.shop.begun().items()}
        if self._case.begun in begun:
            says = tr(
                "This is kept as the case {begun} already.",
                begun=begun[self._case.begun],
            )
            line(self.console, says)
            return False
        try:
            found = self._which_cause(
                tr("Was it found? Which cause was it? It is then kept as a case."),
                "?",
                tr("not found yet; keep it without a cause"),
                enter=tr("don't keep it as a case"),
            )
            if found is None:
                return False
            self._change(lambda case: None)
            if found.name():
                self._confirm(found)
                self._outcome()
        except (_Stop, EOFError):
            self.console.print()
            self._leave("")
        return bool(self._case.confirmed)

    def _leave(self, says: str) -> None:
        if says:
            line(self.console, says)
        if self.id:
            line(self.console, tr("Kept so far: {path}", path=self.shop.path(self.id)))
            line(self.console, tr("To fill in more, start again: diagnose case add"))
        else:
            line(self.console, tr("Nothing was filled in, so no case was kept."))

    # the steps

    def _begin(self, consultations: Path) -> None:
        sources = self._sources(consultations)
        which = ""
        if sources:
            options = {str(n): one.name for n, one in enumerate(sources, 1)}
            named = {str(n): [one.name] for n, one in enumerate(sources, 1)}
            which = self._pick(
                tr("What is the case made from?"),
                {**options, tr("Enter"): tr("nothing: a new one, from the start")},
                named,
            )
        if which:
            source = sources[int(which) - 1]
            if source.id:
                self.id = source.id
                self._case = self.shop.read(source.id, self.knowledge).case
                self._consultation = Consultation(self.knowledge, source.sheet)
                line(self.console, tr("Going on with the case {id}.", id=self.id))
                return
            self._consultation = Consultation(self.knowledge, source.sheet)
            self._case = case_of(self._consultation)
            self._case.ended = ""
            self._change(lambda case: None)
            return
        while True:
            day = self._ask(
                tr("Which day was it?"),
                tr("Such as {today}; Enter: today.", today=today()),
            )
            if not day or is_date(day):
                break
            self._complain(
                tr(
                    "{day} is no day; write it as {today}.",
                    day=quoted(day),
                    today=today(),
                )
            )
        self._consultation.sheet.begun = _now()
        self._case = case_of(self._consultation, date=day or today())
        if day:
            self._change(lambda case: None)

    def _sources(self, consultations: Path) -> list[_Source]:
        begun = self.shop.begun()
        found = []
        for id in sorted((id for id, (_, ended) in begun.items() if not ended))[::-1]:
            try:
                case = self.shop.read(id, self.knowledge).case
            except DiagnoseError:
                continue
            name = tr("the case {id}, to fill in: {about}", id=id, about=_about(case))
            found.append(_Source(name, sheet_of(case, self.knowledge), id))
            if len(found) == LISTED:
                break
        taken = {moment for moment, _ in begun.values()}
        for path in sorted(consultations.glob("consultation-*.yaml"), reverse=True):
            if len(found) >= 2 * LISTED:
                break
            try:
                earlier = Consultation.resume(path, self.knowledge)
            except DiagnoseError:
                continue
            sheet = earlier.sheet
            if sheet.begun not in taken and (sheet.said or sheet.given()):
                state = "" if sheet.ended else tr(" (unfinished)")
                name = tr(
                    "the consultation of {begun}{state}: ",
                    begun=day_of(sheet.begun),
                    state=state,
                )
                found.append(_Source(name + _about(sheet, self.knowledge), sheet))
        return found

    def _seen(self) -> None:
        """What was seen, in words; what was understood is shown."""
        if self._case.said or self._case.given():
            return
        while True:
            text = self._ask(
                tr("What was seen? In your own words; a line for each thing."),
                tr(
                    "Enter alone when that is all. What was understood wrongly is put "
                    "right by its id: pinholes-seen: no"
                ),
            )
            if not text:
                return
            self._take(text)

    def _set_up(self) -> None:
        """How the screen was made: in words, or as a finding's id and its answer."""
        if self._case.set_up:
            return
        while True:
            text = self._ask(
                tr(
                    "What was the set-up? In words, or as a finding and its answer, "
                    "such as coats-put-on: one."
                ),
                tr("Enter alone when that is all."),
            )
            if not text:
                return
            self._take(text)

    def _take(self, text: str) -> None:
        """What was written: own words, or a finding's id and its answer."""
        finding, is_pair, value = text.partition(":")
        if is_pair and " " not in finding.strip() and value.strip():
            self._answer(finding.strip(), value.strip())
        else:
            self._hear(text)

    def _answer(self, finding: str, value: str) -> None:
        try:
            self._consultation.answer(finding, value)
        except AnswerError as error:
            self._complain(str(error))
            return
        self._is_new = True
        self._change(lambda case: None)
        record = self.knowledge.findings[finding]
        kept = self._consultation.sheet.given()[finding]
        bullet(self.console, tr("Noted:"), record.sentence(kept))

    def _hear(self, text: str) -> None:
        understood = self._consultation.describe(text)
        self._is_new = True
        self._change(lambda case: None)
        asked = understood.unclear or understood.maybe
        if not (understood.heard or asked or understood.twofold):
            line(self.console, tr("Nothing was made of that; the words are kept."))
        else:
            show_understood(self.console, self.knowledge, understood)
            ids = ", ".join(dict.fromkeys(one.finding for one in understood.heard))
            if ids:
                line(self.console, tr("Noted as: {ids}", ids=ids), 2)
        for unclear in understood.unclear:
            ask = tr(
                "“{words}” can mean several things. Which is it?",
                words=shortened(unclear.words),
            )
            self._ask_meaning(ask, [(id, "yes") for id in unclear.findings])
        for maybe in understood.maybe[:ASKED]:
            ask = tr("“{words}”: is it one of these?", words=shortened(maybe.words))
            self._ask_meaning(ask, maybe.meanings)

    def _ask_meaning(self, ask: str, meanings: Iterable[tuple[str, str]]) -> None:
        """Ask which of several values of findings was meant, if any."""
        findings = self.knowledge.findings
        known = [
            (findings[id], value)
            for id, value in meanings
            if value != "yes" or findings[id].kind == "yes-no"
        ]
        if not known:
            return
        numbered = {str(n): one for n, one in enumerate(known, 1)}
        options = {key: one.sentence(value) for key, (one, value) in numbered.items()}
        which = self._pick(
            ask,
            {**options, tr("Enter"): tr("none of these, or don't know")},
            {key: [one.name] for key, (one, _) in numbered.items()},
        )
        if which:
            one, value = numbered[which]
            self._answer(one.id, value)

    def _outcome(self) -> None:
        """What came of it, from the cause on."""
        self._causes()
        self._fixes()
        self._cost()
        self._labels()
        self._words()
        if not self.id:  # every step was skipped
            self._leave("")
            return
        ended = self._consultation.sheet.ended or _now()
        self._change(lambda case: setattr(case, "ended", ended))
        line(self.console, tr("Kept: {path}", path=self.shop.path(self.id)))

    def _causes(self) -> None:
        ask = tr("Was it found? Which cause was it?")
        if not self._case.confirmed:
            found = self._which_cause(ask, enter=tr("not found, or skip this"))
            if found is None:
                return
            self._confirm(found)
        while True:
            last = self._case.confirmed[-1]
            if not last.how:
                how = self._ask(tr("How was it confirmed?"), tr(SKIP))
                if how:
                    self._change(partial(_how, how))
            if len(self._case.confirmed) > 1:
                return
            found = self._which_cause(
                tr("A second cause?"), enter=tr("no, only the one")
            )
            if found is None:
                return
            self._confirm(found)

    def _confirm(self, found: Confirmed) -> None:
        self._change(lambda case: case.confirmed.append(found))
        bullet(
            self.console,
            tr("Noted:"),
            tr("the cause was {name}.", name=self._name(found)),
        )

    def _name(self, found: Confirmed) -> str:
        record = self.knowledge.causes.get(found.cause)
        return record.name if record else found.name()

    def _which_cause(
        self, ask: str, key: str = "", means: str = "", *, enter: str
    ) -> Confirmed | None:
        """A cause from the ranking, another of the knowledge, or one in own words.

        Args:
            ask: the question.
            key: what is typed to go on without a cause ('' where that can't be).
            means: what that key means.
            enter: what Enter alone means.

        Returns:
            The cause; one without a name after the key; None after Enter.
        """
        done = {one.cause for one in self._case.confirmed}
        chances = {
            id: (name, chance)
            for id, name, chance in self._listed()
            if id not in done and id != NOT_COVERED
        }
        ids = list(chances)[:LISTED]
        options = {
            str(n): f"{chances[id][0]} ({percent(chances[id][1])})"
            for n, id in enumerate(ids, 1)
        }
        options["…"] = tr(
            "another one: write its name, or what it was in your own words"
        )
        if key:
            options[key] = means
        text = self._choose(ask, {**options, tr("Enter"): enter})
        while True:
            if not text or (not key and typed.not_known(text)):
                return None
            if text == key:
                return Confirmed()
            picked = typed.numbers(text)
            if picked:
                if len(picked) == 1 and 1 <= picked[0] <= len(ids):
                    return Confirmed(ids[picked[0] - 1])
                self._complain(
                    tr("Take 1 to {count}, or write what it was.", count=len(ids))
                )
                text = self._ask("")
                continue
            return self._cause_in_words(text, ids)

    def _listed(self) -> list[tuple[str, str, float]]:
        return self._consultation.chances() if self._consultation.look.known else []

    def _cause_in_words(self, text: str, ids: Sequence[str]) -> Confirmed:
        causes = self.knowledge.causes
        names = {id: [id, causes[id].name] for id in ids}
        which = typed.chosen(text, names)
        which = which or next(
            (id for id in causes if text.lower() in (id, causes[id].name.lower())), None
        )
        if which:
            return Confirmed(which)
        near = [one for one in find(self.knowledge, text, most=60) if one.id in causes][
            :LISTED
        ]
        if near:
            numbered = {str(n): one.id for n, one in enumerate(near, 1)}
            picked = self._pick(
                tr("Is it one of these?"),
                {
                    **{key: causes[id].name for key, id in numbered.items()},
                    tr("Enter"): tr("none of these; keep it in your words"),
                },
                {key: [id, causes[id].name] for key, id in numbered.items()},
            )
            if picked:
                return Confirmed(numbered[picked])
        return Confirmed(other=text)

    def _fixes(self) -> None:
        """Which fixes worked."""
        if "yes" in self._case.tried.values():
            return
        fixes = self._fixes_for({one.cause for one in self._case.confirmed})
        if not fixes:
            return
        options = {str(n): fix.name for n, fix in enumerate(fixes, 1)}
        text = self._choose(
            tr("What put it right? Pick one or more (1 3)."),
            {**options, tr("Enter"): tr("none of these, or skip this")},
        )
        while text and not typed.none_of_them(text):
            picked = typed.numbers(text)
            if picked and all(1 <= number <= len(fixes) for number in picked):
                worked = dict.fromkeys((fixes[n - 1].id for n in picked), "yes")
                self._consultation.sheet.tried |= worked
                self._change(partial(_tried, worked))
                return
            self._complain(
                tr(
                    "Take numbers from 1 to {count}, or Enter for none.",
                    count=len(fixes),
                )
            )
            text = self._ask("")

    def _fixes_for(self, causes: set[str]) -> list[Fix]:
        """The fixes for the causes and for the states that they make, by moment."""
        targets = set(causes)
        for id in causes & self.knowledge.causes.keys():
            targets |= {link.state for link in self.knowledge.causes[id].makes}
        order = list(self.knowledge.moments)
        fixes = [
            fix
            for fix in self.knowledge.fixes.values()
            if targets & {cure.target() for cure in fix.cures}
        ]
        direct = {
            fix.id for fix in fixes if causes & {cure.cause for cure in fix.cures}
        }
        fixes.sort(key=lambda fix: (fix.id not in direct, order.index(fix.moment)))
        return fixes[:LISTED]

    def _cost(self) -> None:
        if self._case.minutes is None:
            ask = tr("How long did it take to trace and mend it?")
            minutes = self._number(ask, tr("In minutes, or as 1 h 20 min"), minutes_in)
            if minutes is not None:
                self._change(lambda case: setattr(case, "minutes", minutes))
        if self._case.prints_lost is None:
            prints = self._number(
                tr("How many prints were lost?"), tr("A number"), _count
            )
            if prints is not None:
                self._change(lambda case: setattr(case, "prints_lost", int(prints)))

    def _number(
        self, ask: str, takes: str, read: Callable[[str], float | None]
    ) -> float | None:
        while True:
            text = self._ask(ask, tr("{takes}; Enter alone skips this.", takes=takes))
            if not text or typed.not_known(text):
                return None
            number = read(text)
            if number is not None:
                return number
            self._complain(
                tr("{text} is not taken. {takes}.", text=quoted(text), takes=takes)
            )

    def _labels(self) -> None:
        used: dict[str, None] = {}
        for id in self.shop.ids()[-LOOKED_THROUGH:]:
            try:
                kept: Kept = self.shop.read(id, self.knowledge)
            except DiagnoseError:
                continue
            used |= dict.fromkeys(kept.case.groups)
        hint = tr(" In use: {used}.", used=", ".join(used)) if used else ""
        while True:
            text = self._ask(
                tr("A label, such as line: 2, or screen: 14, to find and count it by?"),
                tr(
                    "One at a time; Enter alone when that is all.{hint}",
                    hint=shortened(hint, 200),
                ),
            )
            if not text:
                return
            label, _, value = (part.strip() for part in text.partition(":"))
            if not label or not value:
                self._complain(tr("Write a label and its value, such as line: 2"))
                continue
            if label not in used and (near := nearest(label, used)):
                line(
                    self.console,
                    tr("{label} is new here{near}.", label=quoted(label), near=near),
                )
            self._change(partial(_label, label, value))

    def _words(self) -> None:
        if not self._case.who:
            who = self._ask(tr("Who traced it?"), tr(SKIP))
            if who:
                self._change(lambda case: setattr(case, "who", who))
        if not self._case.notes:
            notes = self._ask(tr("Anything else worth knowing next time?"), tr(SKIP))
            if notes:
                self._change(lambda case: setattr(case, "notes", notes))

    # keeping, asking

    def _change(self, change: Callable[[Case], None]) -> None:
        """Change the case on disk; what was answered since goes with it."""

        def whole(case: Case) -> None:
            if self._is_new:
                sheet = self._consultation.sheet
                case.said = list(sheet.said)
                for part in GROUPS:
                    getattr(case, part).update(getattr(sheet, part))
                case.ranking = ranked(self._consultation)
                case.not_understood = not_understood(self._consultation)
            change(case)

        if self.id:
            self._case = self.shop.change(self.id, self.knowledge, whole)
            self._is_new = False
            return
        whole(self._case)
        self._is_new = False
        self.id = self.shop.add(self._case)
        line(self.console, tr("Kept as the case {id}.", id=self.id))

    def _choose(self, ask: str, options: Mapping[str, str]) -> str:
        self.console.print()
        line(self.console, ask, style="bold")
        for key, means in options.items():
            bullet(self.console, f"{key:>5}", means, 1)
        return self._ask("")

    def _pick(
        self, ask: str, options: Mapping[str, str], named: Mapping[str, Sequence[str]]
    ) -> str:
        """The key that is picked; '' for none of them."""
        text = self._choose(ask, options)
        while text and not typed.none_of_them(text):
            which = typed.chosen(text, named)
            if which is not None:
                return which
            self._complain(tr("Take 1 to {count}, or Enter.", count=len(named)))
            text = self._ask("")
        return ""

    def _ask(self, ask: str, more: str = "") -> str:
        """The next line; nothing else is asked before it was read."""
        if ask:
            self.console.print()
            line(self.console, ask, style="bold")
        if more:
            line(self.console, more, 2)
        text = typed.one_line(self._read_line("> "))
        if typed.command(text) == "stop":
            raise _Stop
        return text

    def _complain(self, says: str) -> None:
        bullet(self.console, "?", says)


def offer(
    shop: Path,
    consultation: Consultation,
    console: Console,
    read_line: Callable[[str], str],
) -> bool:
    """At the end of an interview: keep it as a case of the shop?

    Returns:
        Whether it was kept with the cause that was found.
    """
    console.print()
    guide = Guide(Shop(shop), consultation.knowledge, console, read_line)
    try:
        return guide.keep(consultation)
    except DiagnoseError as error:
        line(console, tr("It can't be kept as a case: {error}", error=error))
        return False


def _how(how: str, case: Case) -> None:
    case.confirmed[-1].how = how


def _label(label: str, value: str, case: Case) -> None:
    case.groups[label] = value


def _tried(worked: Mapping[str, str], case: Case) -> None:
    case.tried.update(worked)


def _count(text: str) -> float | None:
    return int(text) if text.isascii() and text.isdigit() and len(text) < 10 else None


def _about(sheet: Sheet, knowledge: Knowledge | None = None) -> str:
    if sheet.said:
        return f"“{shortened(sheet.said[0])}”"
    yes = [id for id, value in sheet.answers.items() if value == "yes"]
    if yes and knowledge is not None and yes[0] in knowledge.findings:
        return shortened(knowledge.findings[yes[0]].sentence("yes"))
    return yes[0] if yes else tr("nothing said yet")


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
