"""One conversation: answers in; ranking, next question and plan out. No I/O but
`save` and `resume`, which write and read the answer sheet."""

from __future__ import annotations

import os
from dataclasses import dataclass
from datetime import UTC, datetime
from itertools import pairwise

import msgspec

from diagnose.contrast import AtOdds, Turn, WhyNot, at_odds, moved, turning, why_not
from diagnose.errors import AnswerError, nearest, quoted
from diagnose.explain import voices
from diagnose.language import tr
from diagnose.look import Look, take_a_look
from diagnose.model import model_of
from diagnose.network import NOT_COVERED
from diagnose.plan import Plan, causes_of, make_plan
from diagnose.questions import Next, Question, next_question, question_for
from diagnose.ranking import Ranking, rank
from diagnose.records import Finding, Knowledge
from diagnose.sheets import NOT_YET, Sheet, read_sheet, tidy, write_sheet
from diagnose.suspects import suspected
from diagnose.words import Heard, Understood


@dataclass(frozen=True, slots=True)
class Outlook:
    """What one answer would make of the causes.

    `answer` is the answer in words; `chances` are the causes that it would leave in
    front (id, name, chance); `because` is why the answer points to the first of
    them, and '' where it does not.
    """

    answer: str
    chances: tuple[tuple[str, str, float], ...]
    because: str


class Consultation:
    """One fault being traced.

    The sheet is the whole state: what was said and answered. Everything else is
    worked out from it, so the same answers in any order come to the same result.

    Args:
        knowledge: what the tool knows.
        sheet: answers to start from.
    """

    def __init__(self, knowledge: Knowledge, sheet: Sheet | None = None) -> None:
        self.knowledge = knowledge
        self.sheet = sheet if sheet is not None else Sheet()
        self._model = model_of(knowledge)
        self._look: Look | None = None

    # answers in

    def describe(self, text: str) -> Understood:
        """Take what the person says in their own words.

        What was understood is answered for them, but never over an answer that
        they gave themselves. What several findings could be meant by is left open.
        """
        understood = self.understand(text)
        if text.strip():
            self.sheet.said.append(text.encode("utf-8", "replace").decode("utf-8"))
        for heard in understood.heard:
            self._take(heard)
        self._look = None
        return understood

    def understand(self, text: str) -> Understood:
        """What the words would be understood as; nothing is answered by it."""
        return self._model.listener.listen(text, self.sheet.stage)

    def suspected(self, text: str) -> list[str]:
        """The causes that the words name; nothing is answered by it."""
        return suspected(self.knowledge, text)

    def _take(self, heard: Heard) -> None:
        finding = self.knowledge.findings[heard.finding]
        group = self.sheet.group(finding)
        if heard.finding not in group:
            try:
                group[heard.finding] = tidy(finding, heard.value)
            except AnswerError:
                return

    def answer(self, finding: str, value: str) -> None:
        """Answer one finding; a second answer takes the place of the first.

        Args:
            finding: its id.
            value: 'yes', 'no', 'somewhat', a choice's id, a reading with its unit
                ('14 N/cm'), or "don't know".

        Raises:
            AnswerError: there is no such finding, or it does not take that answer.
        """
        record = self.finding(finding)
        kept = tidy(record, value)
        self.sheet.group(record)[finding] = kept
        self._look = None

    def withdraw(self, finding: str) -> None:
        """Take an answer back.

        Raises:
            AnswerError: it was not answered.
        """
        group = self.sheet.group(self.finding(finding))
        if finding not in group:
            given = self.sheet.given()
            raise AnswerError(f"{finding!r} was not answered{nearest(finding, given)}.")
        del group[finding]
        self._look = None

    def have(self, tool: str, is_here: bool) -> None:
        """Say whether a tool is to hand.

        Raises:
            AnswerError: there is no such tool.
        """
        if tool not in self.knowledge.tools:
            hint = nearest(tool, self.knowledge.tools)
            raise AnswerError(f"there is no tool {tool!r}{hint}.")
        self.sheet.to_hand[tool] = "yes" if is_here else "no"
        self._look = None

    def tried(self, fix: str, worked: bool | None) -> None:
        """Say whether a fix worked: either way it is evidence like any other.

        Args:
            fix: its id.
            worked: None while that is not known yet.

        Raises:
            AnswerError: there is no such fix.
        """
        if fix not in self.knowledge.fixes:
            hint = nearest(fix, self.knowledge.fixes)
            raise AnswerError(f"there is no fix {fix!r}{hint}.")
        answer = NOT_YET if worked is None else "yes" if worked else "no"
        self.sheet.tried[fix] = answer
        self._look = None

    def not_tried(self, fix: str) -> None:
        """Take back that a fix was tried.

        Raises:
            AnswerError: it was not tried.
        """
        if fix not in self.sheet.tried:
            hint = nearest(fix, self.sheet.tried)
            raise AnswerError(f"{fix!r} was not tried{hint}.")
        del self.sheet.tried[fix]
        self._look = None

    def at_stage(self, stage: str) -> None:
        """Say at what stage of the work the person is.

        Raises:
            AnswerError: there is no such stage.
        """
        if stage not in self.knowledge.stages:
            hint = nearest(stage, self.knowledge.stages)
            raise AnswerError(f"there is no stage {stage!r}{hint}.")
        self.sheet.stage = stage

    # results out

    @property
    def look(self) -> Look:
        """What follows from the answers; worked out when first asked for."""
        if self._look is None:
            self._look = take_a_look(self._model, self.sheet)
        return self._look

    def chances(self) -> list[tuple[str, str, float]]:
        """Each cause on the table: id, name and chance, likeliest first."""
        chances = self.look.chances
        order = sorted(chances, key=lambda cause: (-chances[cause], cause))
        return [(c, self._model.cause_name(c), chances[c]) for c in order]

    def ranking(self) -> Ranking:
        """The ranked causes with their reasons, and what goes with them."""
        return rank(self.look)

    def next_question(self) -> Question | None:
        """The question most worth asking now, or None (`nothing_to_ask` says why)."""
        return self._next().question

    def next_questions(self, most: int = 3) -> list[Question]:
        """The next question, and those that the same glance answers; [] for none.

        Args:
            most: so many questions in all.
        """
        found = next_question(self.look, beside=most - 1)
        return [found.question, *found.beside] if found.question else []

    def nothing_to_ask(self) -> str:
        """Why there is no next question; '' while there is one."""
        return self._next().because

    def _next(self) -> Next:
        return next_question(self.look)

    def question(self, finding: str) -> Question:
        """One finding as a question.

        Raises:
            AnswerError: there is no such finding.
        """
        return question_for(self.look, self.finding(finding).id)

    def plan(self) -> Plan:
        """The fixes, in three parts, each in the order of worth a minute."""
        return make_plan(self.look)

    def confirmed(self) -> list[tuple[str, str, float]]:
        """The causes that a fix which worked is for: id, name and chance.

        The likeliest first; none where no fix worked.
        """
        of_fixes = {
            cause
            for fix, worked in self.sheet.tried.items()
            if worked == "yes"
            for cause in causes_of(self.look, self.knowledge.fixes[fix])
        }
        return [one for one in self.chances() if one[0] in of_fixes]

    def opening_signs(self, stage: str = "", most: int | None = None) -> list[Finding]:
        """The signs to choose from at the start, those most often met first.

        Args:
            stage: only those of that stage of the work; all where left out.
            most: no more than so many.
        """
        often = self._model.how_often_seen
        signs = [
            finding
            for finding in self.knowledge.findings.values()
            if finding.opening == "yes" and (not stage or stage in finding.stages)
        ]
        return sorted(signs, key=lambda sign: (-often[sign.id], sign.id))[:most]

    def finding(self, id: str) -> Finding:
        """The record of a finding.

        Raises:
            AnswerError: there is no such finding.
        """
        if id not in self.knowledge.findings:
            hint = nearest(id, self.knowledge.findings)
            raise AnswerError(f"there is no finding {quoted(id)}{hint}.")
        return self.knowledge.findings[id]

    def what_if(self, finding: str, value: str) -> Consultation:
        """The same consultation with one more answer; this one stays as it is."""
        other = self.copy()
        other.answer(finding, value)
        return other

    def copy(self) -> Consultation:
        """The same consultation once more, to try something out on."""
        sheet = msgspec.convert(msgspec.to_builtins(self.sheet), Sheet)
        return Consultation(self.knowledge, sheet)

    def why_not(self, cause: str) -> WhyNot:
        """Why a cause is not the first, and what would bring it there.

        Raises:
            AnswerError: there is no such cause.
        """
        if cause not in self.knowledge.causes and cause != NOT_COVERED:
            hint = nearest(cause, self.knowledge.causes)
            raise AnswerError(f"there is no cause {cause!r}{hint}.")
        return why_not(self.look, cause)

    def turning(self, most: int = 2) -> list[Turn]:
        """The answers that would each put another cause first, with their chances.

        Args:
            most: how many at most; none are found where no single answer would do.
        """
        return turning(self.look, most)

    def at_odds(self) -> list[AtOdds]:
        """The answers that do not go together, and why."""
        return at_odds(self.look)

    def outlook(self, question: Question, most: int | None = 2) -> list[Outlook]:
        """What each answer to a question would make of the causes.

        A reading has an outlook for each side of the limits that it is held
        against; a question after a tool has none.

        Args:
            question: what `next_question` or `question` gave.
            most: how many causes each outlook names; all of them where None.
        """
        if question.kind == "tool":
            return []
        finding = self.finding(question.id)
        if finding.kind == "yes-no":
            answers = [(tr("yes"), "yes"), (tr("no"), "no")]
        elif finding.kind == "choice":
            answers = [(choice.name, choice.id) for choice in finding.choices]
        else:
            answers = self.sides(finding)
        return [self._outlook(finding, words, value, most) for words, value in answers]

    def separates(self, question: Question, most: int = 3) -> list[list[str]]:
        """The causes that a question tells apart, as far as its answer moves them.

        Args:
            question: what `next_question` or `question` gave.
            most: no more causes than that.

        Returns:
            A group of ids for each answer that raises one of them.
        """
        now = {cause: chance for cause, _, chance in self.chances()}
        outlooks = self.outlook(question, None)
        then = [{c: chance for c, _, chance in one.chances} for one in outlooks]
        return moved(now, then, most) if then else []

    def _outlook(
        self, asked: Finding, words: str, value: str, most: int | None
    ) -> Outlook:
        then = self.what_if(asked.id, value)
        reasons = [
            voice.way[0].because
            for voice in voices(then.look, then.look.leader)[0]
            if voice.way
            and asked.id in (voice.finding, self.finding(voice.finding).measured_by)
        ]
        return Outlook(words, tuple(then.chances()[:most]), "".join(reasons[:1]))

    def sides(self, reading: Finding) -> list[tuple[str, str]]:
        """The sides of a reading's limits: each in words, and a number within."""
        limits = {
            limit
            for condition in self._model.tests.get(reading.id, {}).values()
            for limit in (condition.below, condition.above, *(condition.between or ()))
            if limit is not None
        }
        low, high = reading.lowest or 0.0, reading.highest or 0.0
        limits = {limit for limit in limits if low < limit < high}
        edges = [low, *sorted(limits), high] if limits else []
        sides = []
        for start, end in pairwise(edges):
            if start == low:
                words = tr("below {limit:g} {unit}", limit=end, unit=reading.unit)
            elif end == high:
                words = tr("above {limit:g} {unit}", limit=start, unit=reading.unit)
            else:
                words = tr(
                    "{low:g} to {high:g} {unit}",
                    low=start,
                    high=end,
                    unit=reading.unit,
                )
            sides.append((words, f"{(start + end) / 2:g}"))
        return sides

    # keeping

    def save(self, path: str | os.PathLike[str]) -> None:
        """Write the sheet; the file is whole at every moment.

        Raises:
            FolderError: the file can't be written.
        """
        if not self.sheet.begun:
            self.sheet.begun = _now()
        write_sheet(self.sheet, path)

    def finish(self) -> None:
        """Mark the consultation as ended."""
        self.sheet.ended = _now()

    @classmethod
    def resume(cls, path: str | os.PathLike[str], knowledge: Knowledge) -> Consultation:
        """Go on from a saved sheet.

        Raises:
            SheetError: the file is no sheet, or does not fit the knowledge.
            FolderError: the file can't be read.
        """
        return cls(knowledge, read_sheet(path, knowledge))


def _now() -> str:
    return datetime.now(UTC).isoformat(timespec="seconds")
