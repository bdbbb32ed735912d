"""The interview on a terminal: reads lines, prints screens, and keeps every answer.

It uses `Consultation` and nothing below it. Where lines come from and where text
goes are arguments, so a test can feed the answers and read the screen.
"""

from __future__ import annotations

import contextlib
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from pathlib import Path

from rich.console import Console

from diagnose import measures, typed
from diagnose.asides import answers_in_words, show_why
from diagnose.consultation import Consultation
from diagnose.contrast import AtOdds
from diagnose.errors import AnswerError, DiagnoseError, FolderError
from diagnose.follow import FollowUp, Kept
from diagnose.guesses import ASKED, Maybe
from diagnose.language import mark, tr, trn
from diagnose.prompts import REMINDER, Back, Preview, Prompt, Said, Stop, line_reader
from diagnose.questions import Question
from diagnose.records import Finding, Knowledge
from diagnose.screens import (
    bullet,
    line,
    percent,
    shortened,
    show_caution,
    show_mended,
    show_plan,
    show_question,
    show_questions,
    show_result,
    show_short,
    show_standing,
    show_understood,
)
from diagnose.sheets import DONT_KNOW, NOT_YET
from diagnose.shelf import FOLDER_VARIABLE, consultations_folder

__all__ = ["FOLDER_VARIABLE", "Interview", "consultations_folder", "line_reader"]

SHORT_LIST = 14
"""So many signs are listed at a time; '0' shows the next ones."""

SHOWN_ANSWERS = 8
"""So many answers of an earlier consultation are shown before it is gone on with."""

SUSPECTS = 2
"""So many causes that the person names are taken up at a time."""

FOR_EACH = mark("for each: y yes   n no   s somewhat   ? don't know")


class Interview(FollowUp):
    """One interview.

    Args:
        knowledge: what the tool knows.
        folder: where consultations are kept.
        console: where text goes.
        read_line: gives the next line the person types; raises EOFError at the end.
        shop: the shop folder, whose cases the consultation may be kept among.
        load: reads the knowledge again, after the language was changed.
    """

    def __init__(
        self,
        knowledge: Knowledge,
        folder: Path,
        console: Console | None = None,
        read_line: Callable[[str], str] | None = None,
        shop: Path | None = None,
        load: Callable[[], Knowledge] | None = None,
    ) -> None:
        super().__init__(knowledge, folder, console, read_line, load)
        self._shop = shop
        self._order: list[str] = []
        self._asked: list[str] = []
        self._tells_told: set[str] = set()
        self._odds_told: set[str] = set()
        self._cautioned: set[str] = set()
        self._whole_list = False
        self._page = 0
        self._is_clear = False
        self._began_with_words = False
        self._ends_shown = 0

    def run(self, said: str = "", go_on: int | None = None) -> int:
        """Hold the interview; the exit code is 0, or 130 after control-C.

        Args:
            said: what the person said to begin with, in their own words; it begins
                a new consultation.
            go_on: the number of an unfinished one, as `show_open` lists them, to go
                on with.

        Raises:
            AnswerError: there is no unfinished one of that number.
            FolderError: the answers can't be kept.
        """
        said = typed.one_line(said)
        self._began_with_words = bool(said)
        try:
            self._shelf.ready()
            if go_on is not None:
                self._take_up(go_on)
            self._welcome()
            if said:
                self._mention_an_earlier_one()
                self._hear(said)
            elif go_on is None:
                self._go_on_with_an_earlier_one()
            self._go_through()
            self._say_where_it_is_kept()
        except Stop:
            line(self.console, tr("Stopping here."))
            if not self._ends_shown:
                self._show_end()
            self._say_how_to_go_on()
        except Kept:
            line(self.console, tr("It is kept. The next start asks how it went."))
            self._say_how_to_go_on()
        except EOFError:
            self.console.print()
            self._say_how_to_go_on()
        except KeyboardInterrupt:
            with contextlib.suppress(KeyboardInterrupt, FolderError):
                self.console.print()
                self._keep()
                self._say_how_to_go_on()
            return 130
        except FolderError:
            self._show_end()
            raise
        finally:
            self._shelf.let_go()
        return 0

    def _go_through(self) -> None:
        """From what is seen to the result, and on until it is mended or given up."""
        self._ask_for_outcomes()
        more = not self._has_worked()
        while more:
            self._ask_what_is_seen()
            self._ask_on()
            self._show_end()
            more = self._ask_what_was_tried()
        self.consultation.finish()
        self._keep()
        if self._has_worked():
            show_mended(self.console, self.consultation)
        self._offer_a_case()

    def _offer_a_case(self) -> None:
        """Offer to keep what came out among the shop's cases, where there is a shop."""
        if self._shop is None:
            return
        from diagnose.cases.guide import offer

        offer(self._shop, self.consultation, self.console, self._read_line)

    # the parts of an interview, in order

    def _welcome(self) -> None:
        line(
            self.console,
            tr("Why did the print, or the screen, go wrong?"),
            style="bold",
        )
        line(
            self.console,
            tr(
                "One question at a time. Answer with a number, a letter or a word, "
                "then Enter. At any question you can also type:"
            ),
        )
        self._show_help()

    def _mention_an_earlier_one(self) -> None:
        """Say that one was left unfinished; it stays as it is."""
        if any(self._shelf.unfinished(lambda error: None)):
            self.console.print()
            line(
                self.console,
                tr("One was left unfinished; to go on with it, start without words."),
            )
        self._shelf.let_go()

    def _go_on_with_an_earlier_one(self) -> None:
        """Offer the newest consultation that was left unfinished."""
        for path, earlier in self._unfinished():
            if self._wants_to_go_on(earlier):
                self._use(path, earlier)
            else:
                earlier.finish()
                earlier.save(path)
                self._shelf.let_go()
                line(self.console, tr("Put away: {path}", path=path))
            return

    def _use(self, path: Path, earlier: Consultation) -> None:
        """Go on with an earlier consultation."""
        self.consultation, self.path = earlier, path
        self._order = list(answers_in_words(earlier))

    def _unfinished(self) -> Iterator[tuple[Path, Consultation]]:
        """The consultations that can be gone on with, the newest first.

        The others are named. Each is held until the next one is asked for.
        """

        def unreadable(error: DiagnoseError) -> None:
            line(self.console, tr("One can't be read: {error}", error=error))

        for path in self._shelf.unfinished(unreadable):
            try:
                yield path, Consultation.resume(path, self.knowledge)
            except DiagnoseError as error:
                self.console.print()
                line(self.console, tr("This one can't be gone on with:"))
                for fault in str(error).splitlines():
                    line(self.console, fault, 2)
                line(self.console, tr("Mend it or delete it; it was left as it is."))

    def _take_up(self, wanted: int) -> None:
        """Go on with the unfinished consultation of that number."""
        count = 0
        for count, (path, earlier) in enumerate(self._unfinished(), 1):
            if count == wanted:
                self._use(path, earlier)
                return
        there = trn("there is one", "there are {n}", count)
        raise AnswerError(
            tr(
                "There is no unfinished consultation {wanted}; {there}. "
                "'diagnose open' lists them.",
                wanted=wanted,
                there=there if count else tr("there is none"),
            )
        )

    def show_open(self) -> int:
        """List the unfinished consultations: when, what was seen, what leads."""
        count = 0
        for count, (_, earlier) in enumerate(self._unfinished(), 1):
            if count == 1:
                line(self.console, tr("Unfinished consultations, the newest first:"))
            self._show_open_one(count, earlier)
        self._shelf.let_go()
        if count:
            line(self.console, tr("To go on with the first: diagnose open 1"))
        else:
            line(self.console, tr("No consultation is unfinished."))
        return 0

    def _show_open_one(self, number: int, earlier: Consultation) -> None:
        signs = [
            says
            for id, says in answers_in_words(earlier).items()
            if id in earlier.sheet.answers
            and self.knowledge.findings[id].role == "sign"
            and earlier.sheet.answers[id] not in ("no", DONT_KNOW)
        ]
        said = [f"“{shortened(text)}”" for text in earlier.sheet.said]
        seen = " ".join(signs[:3] or said[:1]) or tr("nothing seen yet")
        mark = f"{number:>3}"
        bullet(self.console, mark, f"{_when(earlier.sheet.begun)}  {seen}")
        if earlier.look.known:
            _, name, chance = earlier.chances()[0]
            line(
                self.console,
                tr(
                    "first so far: {name} ({chance})", name=name, chance=percent(chance)
                ),
                4,
            )
        for fix, worked in earlier.sheet.tried.items():
            if worked == NOT_YET:
                name = self.knowledge.fixes[fix].name
                line(self.console, tr("taken up, outcome open: {name}", name=name), 4)

    def _wants_to_go_on(self, earlier: Consultation) -> bool:
        answers = list(answers_in_words(earlier).values())
        if not answers:
            said = earlier.sheet.said
            answers = [tr("You wrote: “{text}”", text=shortened(text)) for text in said]
        if earlier.sheet.stage:
            stage = self.knowledge.stages[earlier.sheet.stage]
            answers.insert(
                0, tr("You were here: {what}.", what=stage.here or stage.name)
            )
        for fix, worked in earlier.sheet.tried.items():
            name = self.knowledge.fixes[fix].name
            open_one = tr("Taken up") if worked == NOT_YET else tr("Tried in vain")
            answers.insert(0, f"{open_one}: {name}.")
        self.console.print()
        line(
            self.console,
            tr("One was left unfinished ({begun}):", begun=_when(earlier.sheet.begun)),
        )
        for says in answers[:SHOWN_ANSWERS]:
            bullet(self.console, "*", says, 2)
        if len(answers) > SHOWN_ANSWERS:
            line(
                self.console,
                tr("and {count} more", count=len(answers) - SHOWN_ANSWERS),
                4,
            )
        prompt = self._list(
            tr("Go on from there?"),
            {
                "y": tr("yes, go on with it"),
                "n": tr(
                    "no, start a new one; this one is put away and not offered again"
                ),
            },
            why=tr("It was not ended. If you go on, all its answers count."),
            takes=tr("Take y to go on, or n to start a new one."),
            say=False,
        )
        while True:
            try:
                text = self._read(prompt, earlier)
            except Back:
                line(self.console, tr("There is nothing before this to go back to."))
                continue
            wanted = typed.spoken(text)
            if wanted in ("yes", "no"):
                return wanted == "yes"
            if typed.not_known(text):
                line(
                    self.console, tr("Then go on with it; you can change its answers.")
                )
                return True
            self._complain(prompt.takes)

    def _ask_what_is_seen(self) -> None:
        """Where the person is, and what they see: until there is something to go on."""
        while not self._anything_seen():
            try:
                if not self.consultation.sheet.stage and not self._whole_list:
                    self._ask_stage()
                else:
                    self._ask_signs()
            except Back:
                self.consultation.sheet.stage = ""
                self._whole_list = False
                self._page = 0
            except Said:
                pass

    def _anything_seen(self) -> bool:
        findings = self.knowledge.findings
        return any(
            value not in ("no", DONT_KNOW)
            for id, value in self.consultation.sheet.given().items()
            if findings[id].role not in ("set-up", "habit")
        )

    def _ask_stage(self) -> None:
        stages = [stage for stage in self.knowledge.stages.values() if stage.here]
        named = {stage.id: [stage.id, stage.here or "", stage.name] for stage in stages}
        options = {str(n): stage.here or "" for n, stage in enumerate(stages, 1)}
        self.console.print()
        prompt = self._list(
            tr("Where are you in the work?"),
            {**options, "?": tr("don't know, or somewhere else")},
            why=tr(
                "It keeps the list of what you may see short: the same fault shows "
                "differently in the coat, in the wash-out and on the press."
            ),
            takes=tr("Take 1 to {count}, or ? for don't know.", count=len(stages)),
        )
        while True:
            try:
                text = self._read(prompt)
            except Back:
                line(self.console, tr("There is nothing before this to go back to."))
                continue
            if typed.not_known(text):
                self._whole_list = True
                return
            stage = typed.chosen(text, named)
            if stage is not None:
                self.consultation.at_stage(stage)
                self._keep()
                return
            if " " in text and not typed.numbers(text):
                self._hear(text)
                return
            self._complain(prompt.takes)

    def _ask_signs(self) -> None:
        pages = self._pages_of_signs()
        signs = pages[self._page]
        options = {str(n): self._sign(sign) for n, sign in enumerate(signs, 1)}
        by_name = {typed.folded(sign.name): n for n, sign in enumerate(signs, 1)}
        last = self._page == len(pages) - 1
        other = tr("none of these") if last else tr("something else: show more")
        self.console.print()
        prompt = self._list(
            tr(
                "What do you see? Pick one or more (1 3), or write it in your own "
                "words."
            ),
            {
                **options,
                typed.NONE: tr("{other} ('back' goes to the stage)", other=other),
            },
            why=tr(
                "The search starts from what can be seen. Take what comes nearest, or "
                "write it in a few words."
            ),
            takes=tr(
                "Take numbers from 1 to {count}, or write what you see.",
                count=len(signs),
            ),
            preview=lambda text: self._with_signs(signs, text),
            looks={n: sign.id for n, sign in enumerate(signs, 1)},
        )
        while True:
            text = self._read(prompt)
            picked = typed.numbers(text)
            if typed.folded(text) in by_name:
                picked = [by_name[typed.folded(text)]]
            if typed.none_of_them(text):
                if not last:
                    self._page += 1
                    return
                line(
                    self.console,
                    tr("Then write what is wrong, as you would tell it on the phone."),
                )
            elif not picked:
                self._hear(text)
                return
            elif not all(1 <= number <= len(signs) for number in picked):
                self._complain(prompt.takes)
            else:
                for number in picked:
                    self._answer(signs[number - 1].id, "yes")
                self._keep()
                return

    def _with_signs(self, signs: Sequence[Finding], text: str) -> Consultation | None:
        """What picking these signs would come to."""
        picked = typed.numbers(text)
        if not picked or not all(1 <= number <= len(signs) for number in picked):
            return None
        then = self.consultation.copy()
        for number in picked:
            then.answer(signs[number - 1].id, "yes")
        return then

    def _pages_of_signs(self) -> list[list[Finding]]:
        """The signs of the stage a screenful at a time, then those of the others."""
        every = self.consultation.opening_signs()
        here = self.consultation.opening_signs(self.consultation.sheet.stage)
        return [
            signs[first : first + SHORT_LIST]
            for signs in (here, [sign for sign in every if sign not in here])
            for first in range(0, len(signs), SHORT_LIST)
        ]

    def _hear(self, text: str) -> None:
        """Take free text, show what was made of it, and ask where it is unclear."""
        before = self.consultation.sheet.given()
        understood = self.consultation.describe(text)
        self._order += [
            id for id in self.consultation.sheet.given() if id not in before
        ]
        self._keep()
        suspects = self.consultation.suspected(text)[:SUSPECTS]
        asked = understood.unclear or understood.maybe
        if not (understood.heard or asked or understood.twofold):
            for cause in suspects:
                self._mention_suspect(cause)
            line(
                self.console,
                tr(
                    "Nothing could be made of that. Try other words, or take a "
                    "number from a list."
                ),
            )
            return
        show_understood(self.console, self.knowledge, understood)
        for cause in suspects:
            self._mention_suspect(cause)
        answers = answers_in_words(self.consultation)
        for heard in understood.heard:
            if before.get(heard.finding, heard.value) != heard.value:
                says = tr("{says} ('back' changes it)", says=answers[heard.finding])
                bullet(self.console, tr("Your earlier answer stays:"), says)
        for unclear in understood.unclear:
            self._ask_which(unclear.words, unclear.findings)
        for maybe in understood.maybe[:ASKED]:
            known = self.consultation.sheet.given().keys()
            named = self.consultation.suspected(maybe.words)
            if not named and not dict(maybe.meanings).keys() <= known:
                self._ask_whether(maybe)

    def _mention_suspect(self, cause: str) -> None:
        """Tell where a cause stands that the person named; it counts as no answer."""
        name = self.knowledge.causes[cause].name
        chances = self.consultation.chances() if self._anything_seen() else []
        places = [one for one, _, _ in chances]
        if cause not in places:
            says = tr(
                "“{name}”. Nothing said so far points to it; what you see decides.",
                name=name,
            )
        elif cause == places[0]:
            says = tr(
                "“{name}”. It leads so far, with {chance}; what you see decides.",
                name=name,
                chance=percent(chances[0][2]),
            )
        else:
            place = places.index(cause)
            says = tr(
                "“{name}”. It stands at {chance} so far, as number {place}; what you "
                "see decides. 'why not {place}' tells what speaks against it.",
                name=name,
                chance=percent(chances[place][2]),
                place=place + 1,
            )
        bullet(self.console, tr("You suspect:"), says)

    def _ask_which(self, words: str, findings: Sequence[str]) -> None:
        """Ask which of several findings was meant."""
        self._ask_meaning(
            tr(
                "“{words}” can mean several things. Which is it?",
                words=shortened(words),
            ),
            tr("Each of them points to other causes."),
            [
                (id, "yes")
                for id in findings
                if self.knowledge.findings[id].kind == "yes-no"
            ],
        )

    def _ask_whether(self, maybe: Maybe) -> None:
        """Ask whether words that were not understood mean one of the nearest things."""
        self._ask_meaning(
            tr("“{words}”: is it one of these?", words=shortened(maybe.words)),
            tr("It was not understood for sure, and is not to be lost."),
            maybe.meanings,
        )

    def _ask_meaning(
        self, ask: str, why: str, meanings: Sequence[tuple[str, str]]
    ) -> None:
        """Ask which of several values of findings was meant, if any."""
        values = dict(meanings)
        records = {id: self.knowledge.findings[id] for id in values}
        options = {
            str(number): self._sign(one, values[id])
            for number, (id, one) in enumerate(records.items(), 1)
        }
        self.console.print()
        named = {id: [one.name] for id, one in records.items()}

        def preview(text: str) -> Consultation | None:
            which = typed.chosen(text, named)
            if not which:
                return None
            return self.consultation.what_if(which, values[which])

        prompt = self._list(
            ask,
            {**options, typed.NONE: tr("none of these, or don't know")},
            why=why,
            takes=tr("Take 1 to {count}, or 0 for none.", count=len(records)),
            say=False,
            preview=preview,
        )
        which = self._pick(prompt, named)
        if which is not None:
            self._answer(which, values[which])
            self._keep()

    def _ask_on(self) -> None:
        """Question after question, for as long as one is worth asking."""
        self._take_stock()
        while questions := self._next_questions():
            self._say_when_it_is_clear()
            self._asked += [one.id for one in questions if one.id not in self._asked]
            try:
                if len(questions) == 1:
                    self._ask(
                        questions[0],
                        tr("Question {number}", number=self._number(questions[0])),
                    )
                else:
                    self._ask_at_a_glance(questions)
            except Back:
                self._change_an_answer()
            except Said:
                pass
            self._take_stock()
        self.console.print()
        line(
            self.console,
            tr("That is all. {why}", why=self.consultation.nothing_to_ask()),
        )

    def _number(self, question: Question) -> int:
        """The number that a question has in this interview."""
        return self._asked.index(question.id) + 1

    def _next_questions(self) -> list[Question]:
        """The next question, and those that the same glance answers.

        Only yes-no questions are put on one screen.
        """
        questions = self.consultation.next_questions()
        if not questions or not typed.is_yes_no(questions[0]):
            return questions[:1]
        return [one for one in questions if typed.is_yes_no(one)]

    def _take_stock(self) -> None:
        """What does not go together, what has to be known at once, and what leads."""
        self._point_out_what_is_at_odds()
        self._show_standing()

    def _point_out_what_is_at_odds(self) -> None:
        """Say once which answers do not go together, and offer to change one."""
        while True:
            now = {one.rule or one.says: one for one in self.consultation.at_odds()}
            self._odds_told &= now.keys()
            fresh = [one for key, one in now.items() if key not in self._odds_told]
            if not fresh:
                return
            self._odds_told.add(fresh[0].rule or fresh[0].says)
            bullet(self.console, tr("At odds:"), fresh[0].says)
            self._offer_to_change(fresh[0])

    def _offer_to_change(self, odds: AtOdds) -> None:
        """Ask which of the answers that do not go together is to change, if any."""
        answers = answers_in_words(self.consultation)
        ids = [id for id in odds.between if id in answers]
        if len(ids) < 2:
            return
        options = {str(n): answers[id] for n, id in enumerate(ids, 1)}
        self.console.print()
        prompt = self._list(
            tr("These answers do not go together. Is one of them to change?"),
            {**options, typed.NONE: tr("none, go on")},
            why=odds.says,
            takes=tr("Take 1 to {count}, or 0 for none.", count=len(ids)),
            say=False,
        )
        which = self._pick(prompt, {id: [answers[id]] for id in ids})
        if which is not None:
            with contextlib.suppress(Back, Said):
                self._ask(self._question_again(which), tr("Once more"))

    def _say_when_it_is_clear(self) -> None:
        """Say once that one cause stands out, so that nobody answers for nothing."""
        leader, _, chance = self.consultation.chances()[0]
        enough = self.knowledge.scales.enough_chance
        if leader in self.knowledge.causes and chance >= enough and not self._is_clear:
            self._is_clear = True
            line(
                self.console,
                tr(
                    "One cause stands out. 'stop' shows the result now; the next "
                    "questions make it surer."
                ),
            )

    def _show_standing(self) -> None:
        """The leading causes, and what a rule says has to be known at once."""
        for tell in self.consultation.ranking().tells:
            if tell not in self._tells_told:
                self._tells_told.add(tell)
                bullet(self.console, tr("Important:"), tell)
        show_standing(self.console, self.consultation.chances())

    def _ask(self, question: Question, title: str) -> None:
        """Ask one question until it is answered, and keep the answer."""
        show_question(self.console, question, title)
        if question.id in (answers := answers_in_words(self.consultation)):
            bullet(self.console, tr("Your answer was:"), answers[question.id], 2)
        self._show_cautions(question.cautions)
        self._show_takes(question)

        def show() -> None:
            line(self.console, question.text, 2, style="bold")
            self._show_takes(question)

        takes = typed.takes(question)
        preview = self._preview_of(question)
        prompt = Prompt(
            show,
            lambda: self._explain(question),
            takes,
            preview=preview,
            words=_words_of(question),
            looks={1: question.id},
        )
        while True:
            value = typed.value(question, self._read(prompt))
            if value is None:
                self._complain(takes)
                continue
            try:
                self._answer(question.id, value)
            except AnswerError as error:
                self._complain(str(error))
                continue
            self._keep()
            self._note(question.id)
            return

    def _show_cautions(self, ids: Iterable[str]) -> None:
        """The dangers of a look: in full the first time, in short after that."""
        for id in dict.fromkeys(ids):
            seen_before = id in self._cautioned
            caution = self.knowledge.cautions[id]
            show_caution(self.console, caution, seen_before=seen_before)
            self._cautioned.add(id)

    def _note(self, id: str) -> None:
        bullet(self.console, tr("Noted:"), answers_in_words(self.consultation)[id])

    def _preview_of(self, question: Question) -> Preview:
        """What an answer to a question would come to."""

        def preview(text: str) -> Consultation | str | None:
            value = typed.value(question, text)
            if value is None:
                return None
            if question.kind == "tool":
                return tr(
                    "Whether it is to hand moves no cause; it decides what is asked."
                )
            return self.consultation.what_if(question.id, value)

        return preview

    def _ask_at_a_glance(self, questions: Sequence[Question]) -> None:
        """Ask several yes-no questions on one screen until all are answered."""
        left = dict(enumerate(questions, 1))
        first, last = self._number(questions[0]), self._number(questions[-1])
        show_questions(
            self.console,
            questions,
            tr("Questions {first} to {last}", first=first, last=last),
        )
        self._show_cautions([id for one in questions for id in one.cautions])

        def show() -> None:
            for number, question in left.items():
                bullet(self.console, f"{number:>3}", question.text)
            self._show_takes_of(left)

        def explain() -> None:
            for number, question in left.items():
                line(self.console, f"{number} {question.text}", style="bold")
                self._explain(question)

        def preview(text: str) -> Consultation | None:
            then = self.consultation
            for number, value in (typed.several(left, text) or {}).items():
                then = then.what_if(left[number].id, value)
            return None if then is self.consultation else then

        def why(question: Question) -> Callable[[], None]:
            return lambda: self._explain(question)

        takes = tr("Answer each with y, n, s or ? (such as: y n), or one: 2 n")
        whys = {number: why(question) for number, question in left.items()}
        looks = {number: question.id for number, question in left.items()}
        prompt = Prompt(
            show,
            explain,
            takes,
            preview=preview,
            whys=whys,
            words=[words for one in questions for words in _words_of(one)],
            looks=looks,
        )
        self._show_takes_of(left)
        while left:
            answers = typed.several(left, self._read(prompt))
            if answers is None:
                self._complain(takes)
                continue
            for number, value in answers.items():
                self._answer(left[number].id, value)
            self._keep()
            for number in answers:
                del looks[number]
                self._note(left.pop(number).id)
            if left:
                self.console.print()
                show()

    def _show_takes_of(self, left: Mapping[int, Question]) -> None:
        line(self.console, tr(FOR_EACH), 2)
        if len(left) > 1:
            example = " ".join(tr("y n ? s").split()[: len(left)])
            line(
                self.console,
                tr("all on one line ({example}), or one at a time", example=example),
                2,
            )
        line(self.console, tr(REMINDER), 2)

    def _answer(self, id: str, value: str) -> None:
        """Answer a finding, or whether a tool is to hand."""
        if id in self.knowledge.findings:
            self.consultation.answer(id, value)
        else:
            self.consultation.have(id, value == "yes")
        self._order = [*(one for one in self._order if one != id), id]

    def _show_takes(self, question: Question) -> None:
        if question.kind == "reading":
            what = tr(
                "a number in {unit} (several: with ; between them)",
                unit=measures.unit_shown(question.unit),
            )
            line(self.console, tr("{what}   ? don't know", what=what), 2)
        elif question.kind == "tool":
            line(self.console, tr("y yes   n no   ? don't know"), 2)
        elif "yes" in question.takes:
            line(self.console, tr("y yes   n no   s somewhat   ? don't know"), 2)
        else:
            names = [says for id, says in question.takes.items() if id != DONT_KNOW]
            for number, name in enumerate(names, 1):
                bullet(self.console, f"{number:>2}", name, 1)
            line(self.console, tr(" ? don't know"), 1)
        line(self.console, tr(REMINDER), 2)

    def _explain(self, question: Question) -> None:
        show_why(self.console, self.consultation, question)

    def _change_an_answer(self) -> None:
        """Show the answers, the newest first, and ask one of them again."""
        answers = answers_in_words(self.consultation)
        ids = sorted(
            answers,
            key=lambda id: self._order.index(id) if id in self._order else -1,
            reverse=True,
        )
        if not ids:
            line(self.console, tr("Nothing was answered yet."))
            return
        options = {str(n): answers[id] for n, id in enumerate(ids, 1)}
        self.console.print()
        prompt = self._list(
            tr("Your answers, the last one first. Which is to change?"),
            {**options, typed.NONE: tr("none, go on")},
            why=tr("You asked to change an answer."),
            takes=tr("Take 1 to {count}, or 0 for none.", count=len(ids)),
            say=False,
        )
        which = self._pick(prompt, {id: [answers[id]] for id in ids})
        if which is not None:
            with contextlib.suppress(Back, Said):
                self._ask(self._question_again(which), tr("Once more"))

    def _sign(self, finding: Finding, value: str = "yes") -> str:
        """What is seen, in a sentence, with the trade's word where it fits the line."""
        says = finding.sentence(value)
        longer = f"{says} ({finding.name})"
        return longer if len(longer) <= self.console.width - 4 else says

    def _question_again(self, id: str) -> Question:
        if id in self.knowledge.findings:
            return self.consultation.question(id)
        text = tr("Do you have {name} to hand?", name=self.knowledge.tools[id].name)
        takes = {
            "yes": tr("It is here."),
            "no": tr("It is not here; don't ask for it."),
        }
        return Question(id, "tool", text, "", "", takes, 0.0)

    def _show_end(self) -> None:
        """The whole result; after a fix that failed, the plan that is left."""
        if not self._anything_seen():
            return
        if self._ends_shown:
            plan = self.consultation.plan()
            if not any(plan.parts.values()):
                self.console.print()
                line(self.console, tr("Nothing more is known to try."))
                line(self.console, self.knowledge.scales.not_covered_what)
                return
            show_plan(self.console, self.knowledge, plan, brief=True)
        else:
            show_result(self.console, self.consultation, brief=True, shop=self._shop)
        show_short(self.console, self.consultation)
        self._ends_shown += 1

    def _say_where_it_is_kept(self) -> None:
        if self.path is not None:
            line(self.console, tr("Kept in: {path}", path=self.path))

    def _say_how_to_go_on(self) -> None:
        self._say_where_it_is_kept()
        if self.path is None:
            line(
                self.console,
                tr(
                    "Nothing was answered. Start it again to begin, or to go on with "
                    "an earlier one."
                ),
            )
        else:
            how = (
                tr("without your words")
                if self._began_with_words
                else tr("in the same way")
            )
            line(
                self.console, tr("To go on from there, start it again {how}.", how=how)
            )


def _words_of(question: Question) -> list[str]:
    """What stands on the screen of a question."""
    return [question.text, question.how, question.not_this, *question.takes.values()]


def _when(begun: str) -> str:
    """A moment in the time of the place, to the minute."""
    try:
        return f"{datetime.fromisoformat(begun).astimezone():%Y-%m-%d %H:%M}"
    except (ValueError, OverflowError, OSError):  # or a year that no clock has
        return tr("at an unknown time")
