"""Any record of the knowledge as a page for a person, and finding one by words."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from rich.console import Console

from diagnose.checks import conditions
from diagnose.english import root_of
from diagnose.errors import AnswerError, nearest
from diagnose.explain import how_often
from diagnose.language import listed, tr
from diagnose.making_screens import show_guide_step
from diagnose.model import Model
from diagnose.reckon import show_form
from diagnose.records import (
    Cause,
    Caution,
    Check,
    Condition,
    Finding,
    Fix,
    GuideStep,
    Knowledge,
    Record,
    Rule,
    Source,
    State,
    Term,
    Then,
    Window,
    Working,
)
from diagnose.rules import Link, links_of
from diagnose.screens import (
    bullet,
    heading,
    line,
    percent,
    show_caution,
    show_sources,
    time_it_takes,
)
from diagnose.terms import glossary_of, other_words
from diagnose.windows import edges

KINDS = (
    "causes",
    "states",
    "findings",
    "fixes",
    "rules",
    "workings",
    "windows",
    "cautions",
    "terms",
    "guide",
    "sources",
)
"""The kinds of record that have a page."""

SHOWS = 0.3
"""A cause's page lists the findings that it makes at least this likely."""

NEAR = 75
"""Of 100: how near words have to be to those of a record for it to be found."""


@dataclass(frozen=True, slots=True)
class Found:
    """A record that was found by words, and the words of it that were nearest."""

    kind: str
    id: str
    name: str
    words: str
    nearness: float


def find(knowledge: Knowledge, words: str, most: int = 12) -> list[Found]:
    """The records whose names, phrases or sentences come nearest to the words."""
    from rapidfuzz import fuzz, process, utils

    texts: list[tuple[str, str, str, str]] = [
        (kind, id, name, text)
        for kind in KINDS
        for id, record in records_of(knowledge, kind).items()
        for name, text in ((_name(record), text) for text in _words_of(record))
    ]

    def roots(text: str) -> str:
        return " ".join(map(root_of, utils.default_process(text).split()))

    scored = process.extract(
        words,
        [text for _, _, _, text in texts],
        scorer=fuzz.token_set_ratio,
        processor=roots,
        score_cutoff=NEAR,
        limit=None,
    )
    best: dict[str, Found] = {}
    for text, score, place in scored:
        kind, id, name, _ = texts[place]
        nearness = score + fuzz.ratio(words.lower(), text.lower()) / 100
        key = f"{kind}/{id}"
        if key not in best or nearness > best[key].nearness:
            best[key] = Found(kind, id, name, text, nearness)
    order = sorted(best.values(), key=lambda one: (-one.nearness, one.kind, one.id))
    return order[:most]


def records_of(knowledge: Knowledge, kind: str) -> dict[str, Record | Source]:
    """The records of a kind that stand in the files."""
    if kind == "findings":
        return dict(knowledge.recorded())
    return dict(getattr(knowledge, kind))


def _name(record: Record | Source) -> str:
    return record.title if isinstance(record, Source) else str(record.name)  # type: ignore[attr-defined]


def _words_of(record: Record | Source) -> Iterator[str]:
    yield _name(record)
    yield record.id.replace("-", " ")
    if isinstance(record, Finding):
        yield from record.phrases
        yield record.question
        yield from (choice.name for choice in record.choices)
    if isinstance(record, (Cause, State)):
        yield record.what
    if isinstance(record, Term):
        yield from record.also
        yield record.what


def show_page(console: Console, model: Model, id: str) -> None:
    """Print the page of a record; of each, where a window shares its id with another.

    Raises:
        AnswerError: no record has that id.
    """
    knowledge = model.knowledge
    shown = False
    for kind in KINDS:
        record = records_of(knowledge, kind).get(id)
        if record is not None:
            if shown:
                line(console)
            _Page(console, model).show(kind, record)
            shown = True
    if shown:
        return
    term = glossary_of(knowledge).called(id)
    if term is not None:
        _Page(console, model).show("terms", term)
        return
    known = [id for kind in KINDS for id in records_of(knowledge, kind)]
    raise AnswerError(
        tr(
            "there is no record {id!r}{hint}. Look for it by words with: "
            "diagnose find WORDS",
            id=id,
            hint=nearest(id, known),
        )
    )


class _Page:
    """Prints one record."""

    def __init__(self, console: Console, model: Model) -> None:
        self.console = console
        self.model = model
        self.knowledge = model.knowledge

    def show(self, kind: str, record: Record | Source) -> None:
        """The whole page, from the name to the sources."""
        line(self.console, _name(record), style="bold")
        status = "" if isinstance(record, Source) else f"; {record.status}"
        line(self.console, f"({kind}: {record.id}{status})")
        if isinstance(record, Cause):
            self._cause(record)
        elif isinstance(record, State):
            self._state(record)
        elif isinstance(record, Finding):
            self._finding(record)
        elif isinstance(record, Fix):
            self._fix(record)
        elif isinstance(record, Rule):
            self._rule(record)
        elif isinstance(record, Working):
            show_form(self.console, self.knowledge, record)
            line(self.console, tr("How: {formula}", formula=record.formula))
        elif isinstance(record, Window):
            self._window(record)
        elif isinstance(record, Caution):
            line(self.console, f"{record.danger} {record.do} {record.ask}")
        elif isinstance(record, Source):
            self._source(record)
        elif isinstance(record, Term):
            self._term(record)
        elif isinstance(record, GuideStep):
            show_guide_step(self.console, self.model, record)
            return
        if isinstance(record, Record):
            self._sources(record)

    def _cause(self, cause: Cause) -> None:
        stage = self.knowledge.stages[cause.stage].name
        line(self.console, cause.what)
        line(
            self.console,
            tr(
                "Stage: {stage}. How common: {how_common}.",
                stage=stage,
                how_common=how_often(cause.how_common),
            ),
        )
        recorded = self.knowledge.recorded()
        links = [
            link
            for link in links_of(cause)
            if link.value is None or link.target in recorded
        ]
        self._links(tr("What it makes"), links)
        self._shows_as(cause)
        self._alike(tr("Easily taken for"), cause.looks_like)
        heading(self.console, tr("How to settle it"))
        for check in cause.settled_by:
            self._check(check)
        self._fixes(self._ends(cause.id))

    def _state(self, state: State) -> None:
        line(self.console, state.what)
        stage = self.knowledge.stages[state.stage].name
        line(self.console, tr("Stage: {stage}. It can't be seen itself.", stage=stage))
        self._links(tr("What it makes, and how it shows"), links_of(state))
        self._links(
            tr("What brings it about"), self.model.links_to.get(state.id, ()), True
        )
        self._alike(tr("Easily taken for"), state.looks_like)
        self._fixes({state.id})

    def _finding(self, finding: Finding) -> None:
        line(self.console, finding.question)
        bullet(self.console, tr("How:"), finding.how, 2)
        bullet(self.console, tr("Not this:"), finding.not_this, 2)
        if finding.steps is not None:
            line(self.console, tr("In three steps:"), 2)
        for number, says in enumerate(finding.steps or (), 1):
            bullet(self.console, f"{number}.", says, 4)
        needs = ", ".join(self.knowledge.tools[tool].name for tool in finding.needs)
        takes = time_it_takes(finding.minutes)
        and_needs = tr(" and {needs}", needs=needs) if needs else ""
        line(
            self.console,
            tr("It takes {takes}{and_needs}.", takes=takes, and_needs=and_needs),
        )
        if finding.kind == "reading":
            line(
                self.console,
                tr(
                    "A reading in {unit}, from {lowest:g} to {highest:g}, good to "
                    "about {give_or_take:g}.",
                    unit=finding.unit,
                    lowest=finding.lowest,
                    highest=finding.highest,
                    give_or_take=finding.give_or_take,
                ),
            )
        for choice in finding.choices:
            bullet(self.console, "-", f"{choice.name} ({choice.id})", 2)
        if finding.measured_by:
            line(
                self.console,
                tr(
                    "Known from the reading {measured_by}.",
                    measured_by=finding.measured_by,
                ),
            )
        if finding.pictured:
            line(
                self.console,
                tr("A picture of it: diagnose picture {id}", id=finding.id),
            )
        if finding.phrases:
            line(
                self.console,
                tr("Also called: {phrases}.", phrases="; ".join(finding.phrases)),
            )
        self._alike(tr("Easily taken for"), finding.looks_like)
        links = [
            link
            for value in finding.values()
            for link in self.model.links_to.get(f"{finding.id}={value}", ())
        ]
        self._links(tr("What brings it about"), links, True)
        self._rules_on(finding)
        self._cautions(finding.cautions)

    def _fix(self, fix: Fix) -> None:
        moment = self.knowledge.moments[fix.moment]
        line(self.console, f"{moment.name}: {time_it_takes(fix.minutes)}.")
        line(self.console, fix.how)
        bullet(self.console, tr("Why:"), fix.why, 2)
        bullet(self.console, tr("It worked when:"), fix.worked_when, 2)
        for id in fix.works_out:
            name = self.knowledge.workings[id].name
            bullet(self.console, tr("In numbers:"), f"{name} (diagnose reckon {id})", 2)
        if fix.materials:
            bullet(self.console, tr("With:"), ", ".join(fix.materials), 2)
        heading(self.console, tr("What it is for"))
        for cure in fix.cures:
            target = cure.target()
            name = self._named(target)
            bullet(
                self.console,
                "-",
                tr(
                    "{name} ({target}): {sure} helps",
                    name=name,
                    target=target,
                    sure=how_often(cure.sure),
                ),
                2,
            )
        self._cautions(fix.cautions)

    def _rule(self, rule: Rule) -> None:
        heading(self.console, tr("When"))
        for group, _, condition in conditions(rule):
            word = {"all": tr("and"), "any": tr("or"), "none": tr("unless")}[group]
            bullet(self.console, f"{word:>6}", self._condition(condition), 2)
        heading(self.console, tr("Then"))
        self._then(rule.then)
        if rule.otherwise is not None:
            heading(self.console, tr("Otherwise"))
            self._then(rule.otherwise)
        line(self.console)
        bullet(self.console, tr("Why:"), rule.because)
        bullet(self.console, tr("It misleads:"), rule.misleads)

    def _window(self, window: Window) -> None:
        line(self.console, tr("The window: {range}.", range=edges(window)))
        names = {"below": tr("below"), "within": tr("within"), "above": tr("above")}
        for word, name in names.items():
            if getattr(window, word):
                bullet(self.console, f"{name:>6}", getattr(window, word), 2)
        bullet(self.console, tr("Why:"), window.because, 2)

    def _term(self, term: Term) -> None:
        line(self.console, term.what)
        line(self.console, term.why)
        others = "; ".join(other_words(term))
        if others:
            line(self.console, tr("Also called: {phrases}.", phrases=others))

    def _condition(self, condition: Condition) -> str:
        if condition.reading is not None:
            name = self.knowledge.findings[condition.reading].name
            return tr(
                "{name} is {test} ({reading})",
                name=name,
                test=condition.test(),
                reading=condition.reading,
            )
        if condition.state is not None:
            return tr(
                "suspected: {name} ({state})",
                name=self._named(condition.state),
                state=condition.state,
            )
        finding = self.knowledge.findings[condition.finding or ""]
        says = listed([finding.sentence(v) for v in sorted(condition.wanted())], "or")
        return f"{says} ({finding.id})"

    def _then(self, then: Then) -> None:
        for part in then.conclude:
            says = self.knowledge.findings[part.finding].sentence(part.value)
            bullet(self.console, "-", tr("conclude: {says}", says=says), 2)
        for cause in then.rule_out:
            bullet(
                self.console,
                "-",
                tr(
                    "rule out: {name} ({cause})",
                    name=self._named(cause),
                    cause=cause,
                ),
                2,
            )
        for weigh in then.weigh:
            how_much = tr(weigh.how_much)
            for cause in weigh.causes:
                says = f"{how_much}: {self._named(cause)} ({cause})"
                bullet(self.console, "-", says, 2)
        for sentence in (then.contradiction, then.tell):
            if sentence:
                bullet(self.console, "-", tr("say: {sentence}", sentence=sentence), 2)
        self._cautions(then.cautions)

    def _source(self, source: Source) -> None:
        parts = [source.author, source.publication, str(source.year or ""), source.url]
        line(self.console, "; ".join(part for part in parts if part))
        for id, claim in source.claims.items():
            bullet(self.console, f"{id}:", claim, 2)

    def _links(self, title: str, links: Iterable[Link], back: bool = False) -> None:
        links = list(links)
        if not links:
            return
        heading(self.console, title)
        for link in links:
            end = link.owner if back else link.target
            value = "" if link.value in (None, "yes") else f" = {link.value}"
            name = f"{self._named(end)} ({end}{value})"
            bullet(
                self.console,
                "-",
                f"{name}: {how_often(link.strength)}. {link.because}",
                2,
            )

    def _shows_as(self, cause: Cause) -> None:
        """The findings that the cause makes likely, by whatever way."""
        shown = []
        for id in self.model.network.outcomes.keys() & self.knowledge.recorded():
            anyway = self.model.chances_anyway(id)
            for value, chance in self.model.chances_alone(cause.id, id).items():
                if value != "no" and chance >= max(SHOWS, 1.5 * anyway[value]):
                    shown.append((chance, id, value))
        if shown:
            heading(self.console, tr("How it shows, where it alone is there"))
        for chance, id, value in sorted(shown, key=lambda one: (-one[0], one[1])):
            says = self.knowledge.findings[id].sentence(value)
            bullet(self.console, f"{percent(chance):>6}", f"{says} ({id})", 2)

    def _alike(self, title: str, alike: Iterable[object]) -> None:
        alike = list(alike)
        if alike:
            heading(self.console, title)
        for one in alike:
            id, apart = one.id, one.tell_apart  # type: ignore[attr-defined]
            bullet(self.console, "-", f"{self._named(id)} ({id}): {apart}", 2)

    def _check(self, check: Check) -> None:
        needs = ", ".join(self.knowledge.tools[tool].name for tool in check.needs)
        extra = tr(" Needs {needs}.", needs=needs) if needs else ""
        text = f"{check.how} ({time_it_takes(check.minutes)}.{extra})"
        bullet(self.console, "-", text, 2)
        self._cautions(check.cautions)

    def _ends(self, cause: str) -> set[str]:
        """A cause and the states that it makes directly."""
        return {cause} | {m.state for m in self.knowledge.causes[cause].makes}

    def _fixes(self, targets: set[str]) -> None:
        for moment in self.knowledge.moments.values():
            fixes = [
                (fix, cure.sure)
                for fix in self.knowledge.fixes.values()
                if fix.moment == moment.id
                for cure in fix.cures
                if cure.target() in targets
            ]
            if fixes:
                heading(self.console, moment.name)
            for fix, sure in {f.id: (f, s) for f, s in fixes}.values():
                takes = time_it_takes(fix.minutes)
                says = tr(
                    "{name} ({id}; {sure} helps; {takes})",
                    name=fix.name,
                    id=fix.id,
                    sure=how_often(sure),
                    takes=takes,
                )
                bullet(self.console, "-", says, 2)

    def _rules_on(self, finding: Finding) -> None:
        rules = [
            rule
            for rule in self.knowledge.rules.values()
            if any(
                finding.id in (condition.finding, condition.reading)
                for _, _, condition in conditions(rule)
            )
        ]
        if rules:
            heading(self.console, tr("Rules that look at it"))
        for rule in rules:
            bullet(self.console, "-", f"{rule.name} ({rule.id})", 2)

    def _cautions(self, cautions: Iterable[str]) -> None:
        for id in cautions:
            show_caution(self.console, self.knowledge.cautions[id])

    def _sources(self, record: Record) -> None:
        cited = list(record.sources)
        if isinstance(record, (Cause, State)):
            cited += [source for link in links_of(record) for source in link.sources]
        show_sources(self.console, self.knowledge, cited)

    def _named(self, id: str) -> str:
        for kind in ("causes", "states", "findings", "fixes"):
            record = getattr(self.knowledge, kind).get(id)
            if record is not None:
                return str(record.name)
        return id
