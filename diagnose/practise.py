"""Practice: faults drawn from the knowledge, what was asked of each, and the record.

Nothing here prints or reads lines.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import date, timedelta
from pathlib import Path

import msgspec
import yaml
from msgspec import Struct

from diagnose.consultation import Consultation
from diagnose.errors import SheetError, quoted
from diagnose.model import Model
from diagnose.plan import makers
from diagnose.questions import Question, minutes_for, told_by
from diagnose.records import Fix
from diagnose.repeats import comes_again
from diagnose.shapes import fit
from diagnose.sheets import DONT_KNOW, write_whole
from diagnose.worlds import NoSuchWorldError, World, draw_causes, played
from diagnose.yamltext import Step, YamlError, parse, read_text

RECORD = "practice.yaml"
LEVELS = (1, 2, 3)
BOTH = 3
"""The level with two causes at once."""

MOST = 60
"""So many questions at most has the best line."""

TRIES = 200


class Round(Struct, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """One fault: how it was drawn, what was asked, and what was said that it is."""

    causes: list[str]
    seed: str
    level: int = 2
    asked: list[str] = []
    named: list[str] = []
    fix: str = ""
    right: str = ""
    """'yes' or 'no'; '' while the round goes on."""
    minutes: float = 0.0
    best: float = 0.0
    day: str = ""


class Boxed(Struct, kw_only=True, forbid_unknown_fields=True):
    """A fault that was to come again, as records before this form had it."""

    causes: list[str]
    box: int
    due: str


class Record(Struct, kw_only=True, forbid_unknown_fields=True, omit_defaults=True):
    """All rounds. The last one may not be ended.

    `again` is read where an earlier form has it, and is empty afterwards.
    """

    rounds: list[Round] = []
    again: list[Boxed] = []


@dataclass(frozen=True, slots=True)
class Told:
    """One thing that was asked: the answer, the bits it was worth, its minutes."""

    question: Question
    answer: str
    bits: float
    minutes: float


def pool(model: Model, level: int, stage: str = "") -> list[str]:
    """The causes that faults are drawn from: all, or those of a stage of the work.

    Level 1 has common causes with a loud sign; all of the stage where it has none.
    """
    knowledge, how = model.knowledge, model.knowledge.scales.practise
    causes = [c for c in knowledge.causes.values() if stage in ("", c.stage)]
    if level != LEVELS[0]:
        return [cause.id for cause in causes]
    signs = [f.id for f in knowledge.findings.values() if f.opening == "yes"]
    loud = [
        cause.id
        for cause in causes
        if cause.how_common in how.common
        and max(model.chances_alone(cause.id, s)["yes"] for s in signs) >= how.loud
    ]
    return loud or [cause.id for cause in causes]


def draw_round(model: Model, level: int, stage: str, draw: random.Random) -> Round:
    """A new fault, its causes as often as the model takes them to be there.

    Raises:
        NoSuchWorldError: none of the causes shows in a sign that anyone comes with.
    """
    among = pool(model, level, stage)
    everywhere = pool(model, level)
    if not among:
        raise NoSuchWorldError("no fault comes from that stage")
    for _ in range(TRIES):
        causes = draw_causes(model, among, 1, draw)
        while level == BOTH and len(causes) < 2 and len(everywhere) > 1:
            causes = tuple(sorted({*causes, *draw_causes(model, everywhere, 1, draw)}))
        one = Round(causes=list(causes), seed=str(draw.getrandbits(32)), level=level)
        try:
            Play(model, one)
        except NoSuchWorldError:
            continue
        return one
    raise NoSuchWorldError("no fault of that stage shows in a sign")


def draw_again(
    model: Model, causes: list[str], level: int, draw: random.Random
) -> Round | None:
    """The same causes in another world; None where they no longer show in a sign."""
    for _ in range(TRIES):
        one = Round(causes=causes, seed=str(draw.getrandbits(32)), level=level)
        try:
            Play(model, one)
        except NoSuchWorldError:
            continue
        return one
    return None


class Play:
    """A round being played; the same for the same record, so it can be gone on with."""

    def __init__(self, model: Model, one: Round) -> None:
        self.model = model
        self.round = one
        self.world, self.stage, self.signs = played(
            model, tuple(one.causes), int(one.seed)
        )
        self.told: list[Told] = []
        self.consultation = self.begun()
        for finding in one.asked:
            self._ask(finding)

    def begun(self) -> Consultation:
        """The consultation as it begins: the place, and the signs."""
        consultation = Consultation(self.model.knowledge)
        consultation.at_stage(self.stage)
        for sign in self.signs:
            consultation.answer(sign, "yes")
        return consultation

    def ask(self, finding: str) -> Told:
        """Look at one thing.

        What a reading decides is read. What was asked before costs nothing.
        """
        record = self.model.asked_as(self.model.knowledge.findings[finding])
        for told in self.told:
            if told.question.id == record.id:
                return told
        told = self._ask(record.id)
        self.round.asked.append(record.id)
        return told

    def _ask(self, finding: str) -> Told:
        question = self.consultation.question(finding)
        told = look_at(self.world, self.consultation, question)
        self.told.append(told)
        return told

    def cured_by(self, fix: Fix) -> bool:
        """Whether a fix is for one of the causes, or a state that one brings about."""
        look = self.consultation.look
        causes = set(self.round.causes)
        states = self.world.on - causes
        return any(
            cure.cause in causes
            or (cure.state in states and bool(cure.state))
            or (
                cure.state is not None
                and cure.state in self.model.network.states
                and bool(makers(look, cure.state) & causes)
            )
            for cure in fix.cures
        )


def look_at(world: World, consultation: Consultation, question: Question) -> Told:
    """What is to be seen there; it is answered in the consultation."""
    look = consultation.look
    bits = told_by(look).get(question.id, 0.0)
    finding = consultation.knowledge.findings[question.id]
    if question.kind == "reading":
        answer = world.read(question.id)
    else:
        answer = world.value(question.id)
    minutes = minutes_for(look, finding)
    consultation.answer(question.id, answer)
    return Told(question, answer, bits, minutes)


def best_line(play: Play, most: int = MOST) -> tuple[list[Told], Consultation]:
    """The interview's own questions in the same world, so many at most; every tool is
    to hand."""
    consultation = play.begun()
    line: list[Told] = []
    while len(line) < most and (question := consultation.next_question()) is not None:
        if question.kind == "tool":
            consultation.have(question.id, True)
            continue
        try:
            line.append(look_at(play.world, consultation, question))
        except NoSuchWorldError:  # no value of it goes with both causes
            consultation.answer(question.id, DONT_KNOW)
    return line, consultation


def due(
    record: Record, model: Model, level: int, stage: str, today: date
) -> list[str] | None:
    """The causes of the fault that was to come again longest ago; None for none."""
    causes = model.knowledge.causes
    for one in comes_again(record.rounds, model.knowledge.scales.practise):
        if (
            one.due <= today
            and len(one.causes) == (2 if level == BOTH else 1)
            and all(cause in causes for cause in one.causes)
            and (not stage or any(causes[c].stage == stage for c in one.causes))
        ):
            return list(one.causes)
    return None


def open_round(record: Record, model: Model) -> Round | None:
    """The last round where it was not ended, if it can be gone on with."""
    if not record.rounds or record.rounds[-1].right:
        return None
    one, knowledge = record.rounds[-1], model.knowledge
    known = all(cause in knowledge.causes for cause in one.causes)
    if not known or not all(asked in knowledge.findings for asked in one.asked):
        return None
    try:
        Play(model, one)
    except NoSuchWorldError:  # the knowledge is another one now
        return None
    return one


def read_record(folder: Path) -> Record:
    """The record in a folder; an empty one where there is none yet.

    Raises:
        SheetError: it is no such record; each fault with its line.
        FolderError: it can't be read.
    """
    path = folder / RECORD
    if not path.exists():
        return Record()
    try:
        data, places = parse(read_text(path, str(path)), str(path))
    except YamlError as error:
        raise SheetError(str(error)) from None
    fitting, misfits = fit(data, Record)
    faults = [(misfit.path, misfit.says) for misfit in misfits]
    if not faults:
        try:
            record = msgspec.convert(fitting, Record, strict=False)
        except msgspec.ValidationError as error:
            raise SheetError(f"{path}: {quoted(str(error))}") from None
        faults = list(_faults(record))
    if faults:
        lines = [f"{path}:{places.at(at)[0]}: {says}" for at, says in faults[:5]]
        raise SheetError("\n".join(lines))
    _unbox(record)
    return record


def _faults(record: Record) -> Iterator[tuple[tuple[Step, ...], str]]:
    """Where a value of a record can't be, and why."""
    for i, one in enumerate(record.rounds):
        at = ("rounds", i)
        if not one.causes:
            yield (*at, "causes"), "a round has one cause or two, by their ids."
        if re.fullmatch(r"[0-9]{1,20}", one.seed) is None:
            yield (*at, "seed"), f"{quoted(one.seed)} is no whole number."
        if one.day and not _is_day(one.day):
            yield (*at, "day"), f"{quoted(one.day)} is no day such as 2026-01-31."
        if one.right not in ("", "yes", "no"):
            yield (*at, "right"), f"{quoted(one.right)} is neither yes nor no."
        if one.level not in LEVELS:
            yield (*at, "level"), f"{one.level} is none of the levels 1, 2 and 3."
    for i, box in enumerate(record.again):
        if not _is_day(box.due):
            says = f"{quoted(box.due)} is no day such as 2026-01-31."
            yield ("again", i, "due"), says


def _is_day(text: str) -> bool:
    """Whether it is a day, and one that days can be counted to and from."""
    try:
        return 1900 <= date.fromisoformat(text).year <= 2999
    except ValueError:
        return False


def _unbox(record: Record) -> None:
    """What an earlier form kept in boxes follows from its rounds; what does not counts
    as got wrong on the day before it was to come again."""
    known = {tuple(sorted(one.causes)) for one in record.rounds if one.right == "no"}
    record.rounds[:0] = [
        Round(
            causes=one.causes,
            seed="0",
            right="no",
            day=(date.fromisoformat(one.due) - timedelta(days=1)).isoformat(),
        )
        for one in record.again
        if tuple(sorted(one.causes)) not in known
    ]
    record.again = []


def write_record(folder: Path, record: Record) -> None:
    """Write the record; the file is whole at every moment.

    Raises:
        FolderError: it can't be written.
    """
    data = msgspec.to_builtins(record)
    text = yaml.safe_dump(data, sort_keys=False, allow_unicode=True)
    write_whole(folder / RECORD, text)
