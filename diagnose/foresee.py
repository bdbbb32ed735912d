"""Foresee: from a recipe, before the screen is made, the faults that it makes likely.

The network is run forwards. Causes count as independent given the recipe, and each
sign as a noisy-OR of what each cause by itself would bring about:

    odds(c | recipe) = odds(c) * rules * P(recipe | c, the others at their priors)
                                       / P(recipe | not c, the others at their priors)
    P(sign | recipe) = 1 - (1 - seen anyway) * product over causes of
                       (1 - P(c | recipe) * P(c makes the sign | c, recipe))

No input or output but reading the recipe.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from pathlib import Path

import msgspec
import numpy as np

from diagnose.checks import conditions
from diagnose.consultation import Consultation
from diagnose.corrections import in_numbers
from diagnose.errors import AnswerError
from diagnose.explain import best_way, how_often, owner_name, said
from diagnose.explanations import Explanations
from diagnose.language import tr
from diagnose.look import Given, Look, take_a_look, what_is_given
from diagnose.model import Model
from diagnose.network import NOT_COVERED, Network
from diagnose.records import Finding, Fix, Knowledge, Proof
from diagnose.rules import Link
from diagnose.sheets import DONT_KNOW, Sheet, read_sheet
from diagnose.workings import Worked, figure

UNFIT = ("sign", "timing", "change")
"""Roles of findings that are known of a fault, and of no recipe."""

RAISED = 1.1
"""A sign this many times as likely as in any shop is told."""

FALLS = 0.005
"""A change that lowers the expected number of signs by less is not told."""

TIMES = (0.5, 0.6, 0.7, 0.8, 0.9, 1.1, 1.25, 1.5, 1.75, 2.0, 2.5, 3.0)
"""A reading that a result follows from is tried at so many times its value."""

NEARLY = 0.9
"""Of the values tried, the nearest that lowers the risk by this share of the best."""


@dataclass(frozen=True, slots=True)
class Reason:
    """A cause that raises a sign: the answers that point to it, and the way there."""

    cause: str
    name: str
    chance: float
    usual: float
    answers: tuple[str, ...]
    steps: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Foreseen:
    """A sign: its chance with this recipe, and in a shop at its base rates."""

    finding: str
    says: str
    chance: float
    usual: float
    reasons: tuple[Reason, ...] = ()


@dataclass(frozen=True, slots=True)
class Change:
    """One answer of the recipe set to its good value, and what falls with it."""

    finding: str
    name: str
    now: str
    to: str
    signs: float
    """By how much the expected number of signs falls."""
    falls: tuple[tuple[str, float, float], ...]
    """The signs that fall most: their sentence, the chance now and then."""
    cause: str
    cause_name: str
    cause_falls: tuple[float, float]
    """The cause behind most of it, and its chance now and then."""
    how: str = ""
    """What is done against that cause; '' where nothing is known."""
    numbers: tuple[str, ...] = ()
    """What that comes to in numbers, or how to work it out."""


@dataclass(frozen=True, slots=True)
class Outcome:
    """All that a recipe lets one foresee."""

    likely: tuple[Foreseen, ...]
    every: tuple[Foreseen, ...]
    changes: tuple[Change, ...]
    worked: tuple[Worked, ...]
    faults: tuple[str, ...]
    tells: tuple[str, ...]
    cautions: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Run:
    """The chance of each cause given a recipe, and what it would make of each sign."""

    causes: Mapping[str, float]
    made: Mapping[str, np.ndarray]

    def brings(self, cause: str) -> float:
        """The number of signs to expect of one cause."""
        return float(self.causes[cause] * self.made[cause].sum())

    def signs(self, anyway: np.ndarray) -> np.ndarray:
        """The chance of each sign."""
        missed = 1 - anyway
        for cause, chance in self.causes.items():
            missed = missed * (1 - chance * self.made[cause])
        return 1 - missed


class Forward:
    """One knowledge, run forwards."""

    def __init__(self, model: Model) -> None:
        self.model = model
        network = model.network
        self.network = network
        self.causes = [cause for cause in network.odds if cause != NOT_COVERED]
        odds = network.odds
        self.priors = {cause: odds[cause] / (1 + odds[cause]) for cause in self.causes}
        findings = model.knowledge.findings
        self.signs = [
            id
            for id, outcomes in network.outcomes.items()
            if findings[id].role == "sign" and len(outcomes) == 1
        ]
        self.anyway = np.array([network.outcomes[s][0].anyway for s in self.signs])
        self._kept: dict[object, tuple[float, np.ndarray]] = {}
        self._others: dict[str, dict[str, float]] = {}
        self.usual = Run(
            self.priors, {c: self._posterior(c, {})[1] for c in self.causes}
        )

    def run(self, given: Given) -> Run:
        """The causes and what they make, given what a recipe says."""
        weights = self.model.knowledge.scales.weights
        causes, made = {}, {}
        for cause in self.causes:
            log_odds, made[cause] = self._posterior(cause, given.evidence)
            log_odds += sum(
                math.log(weights[word])
                for _, word in given.table.weighed.get(cause, ())
            )
            causes[cause] = 1 / (1 + math.exp(-log_odds))
            if cause in given.table.ruled_out:
                causes[cause] = 0.0
        return Run(causes, made)

    def bits(self, cause: str, finding: str, vector: Sequence[float]) -> float:
        """log2 of what one answer by itself multiplies the odds of a cause by."""
        log_odds, _ = self._posterior(cause, {finding: vector})
        return (log_odds - math.log(self.network.odds[cause])) / math.log(2)

    def _posterior(
        self, cause: str, evidence: Mapping[str, Sequence[float]]
    ) -> tuple[float, np.ndarray]:
        """The log-odds of a cause, and the chance that it makes each sign."""
        bears = {
            finding: tuple(vector)
            for finding, vector in sorted(evidence.items())
            if cause in self.makers_of(finding)
        }
        key = (cause, tuple(bears.items()))
        if key not in self._kept:
            self._kept[key] = self._reckoned(cause, bears)
        return self._kept[key]

    def _reckoned(
        self, cause: str, bears: Mapping[str, Sequence[float]]
    ) -> tuple[float, np.ndarray]:
        outcomes, without = dict(self.network.outcomes), 0.0
        for finding, vector in bears.items():
            of = outcomes[finding]
            if len(of) == 1:
                missed = math.prod(
                    1 - self.priors[other] * made
                    for other, made in self.makers_of(finding).items()
                    if other != cause
                )
                anyway = 1 - (1 - of[0].anyway) * missed
                outcomes[finding] = (replace(of[0], anyway=anyway),)
                shares = [anyway, 1 - anyway]
            else:
                total = sum(one.anyway for one in of)
                shares = [one.anyway / total for one in of]
            likely = sum(s * v for s, v in zip(shares, vector, strict=True))
            without += math.log(likely)
        network = Network(self.network.odds, self.network.states, outcomes)
        weighed = Explanations(network, [cause], sizes=(1,)).weigh(bears)
        _, shares_of = weighed.split(self.signs)
        yes = np.array([share[0, 0] for share in shares_of])
        made_signs = np.clip(1 - (1 - yes) / (1 - self.anyway), 0.0, 1.0)
        return weighed.log_total - without, made_signs

    def makers_of(self, finding: str) -> dict[str, float]:
        """The causes that bear on a finding, each with the chance that it alone makes
        it; of a choice, 1 for each that bears on it."""
        if finding not in self._others:
            found: dict[str, float] = {}
            reach: dict[str, set[str]] = {}
            for state, makers in self.network.states.items():
                reach[state] = set()
                for maker, _ in makers:
                    reach[state] |= reach.get(maker, {maker})
            of = self.network.outcomes[finding]
            for outcome in of:
                for maker, _ in outcome.makers:
                    for cause in reach.get(maker, {maker}) - {NOT_COVERED}:
                        found[cause] = 1.0
            if len(of) == 1:
                for cause in found:
                    yes = self.model.chances_alone(cause, finding)["yes"]
                    found[cause] = 1 - (1 - yes) / (1 - of[0].anyway)
            self._others[finding] = found
        return self._others[finding]


def recipe_of(knowledge: Knowledge, words: Sequence[str]) -> Sheet:
    """A recipe, from a file or from words 'name=value'.

    Raises:
        AnswerError: there is nothing, or something that is in no recipe.
        SheetError, FolderError: the file is no recipe, or can't be read.
    """
    if not words:
        raise AnswerError(
            tr(
                "Write a recipe's file, or name=value, such as: "
                "diagnose foresee eom=5% tension=12N/cm"
            )
        )
    if len(words) == 1 and "=" not in words[0]:
        if not words[0].strip():
            raise AnswerError(tr("The name of the recipe is empty."))
        sheet = read_sheet(Path(words[0]), knowledge)
    else:
        consultation = Consultation(knowledge)
        for word in words:
            name, equals, value = word.partition("=")
            if not equals or not name.strip() or not value.strip():
                raise AnswerError(
                    tr(
                        "{word!r} is not name=value; write for example eom=5%",
                        word=word[:60],
                    )
                )
            consultation.answer(name.strip(), value)
        sheet = consultation.sheet
    for id in sheet.given():
        finding = knowledge.findings[id]
        if finding.role in UNFIT or isinstance(finding, Proof):
            raise AnswerError(
                tr(
                    "{id!r} is known of a fault, and of no recipe; a recipe holds "
                    "set-up, habits and readings.",
                    id=id,
                )
            )
    if not any(value != DONT_KNOW for value in sheet.given().values()):
        raise AnswerError(tr("The recipe says nothing yet of how the screen is made."))
    return sheet


def foresee(model: Model, sheet: Sheet, most: int = 3) -> Outcome:
    """What a recipe makes likely, why, and which changes lower the risk most.

    Args:
        model: the knowledge.
        sheet: the recipe.
        most: so many changes at most.
    """
    forward = Forward(model)
    given = what_is_given(model, sheet)
    run = forward.run(given)
    now, usual = run.signs(forward.anyway), forward.usual.signs(forward.anyway)
    order = sorted(
        range(len(now)), key=lambda i: (-(now[i] - usual[i]), forward.signs[i])
    )
    findings, rules = model.knowledge.findings, model.knowledge.rules
    every = [
        Foreseen(
            forward.signs[i],
            findings[forward.signs[i]].sentence("yes"),
            float(now[i]),
            float(usual[i]),
        )
        for i in order
    ]
    raised = [one for one in every if one.chance >= RAISED * one.usual]
    look = take_a_look(model, sheet)
    likely = _with_reasons(forward, look, given, run, raised)
    changes = _changes(forward, look, given, run, most)
    return Outcome(
        tuple(likely),
        tuple(every),
        tuple(changes),
        tuple(given.derived.worked.values()),
        given.derived.faults,
        tuple(rules[id].then.tell or "" for id in given.table.tells)
        + tuple(
            rules[id].then.contradiction or "" for id in given.table.contradictions
        ),
        tuple(given.table.cautions),
    )


def _with_reasons(
    forward: Forward,
    look: Look,
    given: Given,
    run: Run,
    raised: Iterable[Foreseen],
) -> list[Foreseen]:
    """The signs with the one or two causes that raise each most."""
    found = []
    for one in raised:
        place = forward.signs.index(one.finding)
        rise = {
            cause: run.causes[cause] * float(run.made[cause][place])
            - forward.priors[cause] * float(forward.usual.made[cause][place])
            for cause in forward.causes
        }
        order = sorted(rise, key=lambda cause: (-rise[cause], cause))[:2]
        reasons = []
        for cause in order:
            if rise[cause] <= 0 or rise[cause] < rise[order[0]] / 3:
                continue
            spoken = sorted(
                (-forward.bits(cause, id, given.evidence[id]), id)
                for id in given.evidence
            )
            way = best_way(forward.model, cause, one.finding, "yes")
            reasons.append(
                Reason(
                    cause,
                    forward.model.cause_name(cause),
                    run.causes[cause],
                    forward.priors[cause],
                    tuple(
                        said(look, given.known[id])
                        for bits, id in spoken
                        if bits < -0.2
                    )[:2],
                    tuple(_step(forward.model, link) for link in reversed(way)),
                )
            )
        found.append(replace(one, reasons=tuple(reasons)))
    return found


def _step(model: Model, link: Link) -> str:
    """One link read forwards, from what is behind it to what comes of it."""
    owner = owner_name(model, link)
    if link.value is None:
        says = tr("leads to “{name}”", name=model.knowledge.states[link.target].name)
    else:
        says = tr("shows as “{name}”", name=model.knowledge.findings[link.target].name)
    return f"“{owner}” {how_often(link.strength)} {says}. {link.because}"


def _changes(
    forward: Forward, look: Look, given: Given, run: Run, most: int
) -> list[Change]:
    """Each answer set to a better value, those that help most first."""
    found = []
    for id, value in look.sheet.given().items():
        finding = forward.model.knowledge.findings[id]
        if value == DONT_KNOW or finding.given == "yes":
            continue
        tried = [
            (words, _with(forward, look.sheet, finding, other))
            for words, other in _values(forward.model, finding, given)
            if other != value
        ]
        now = run.signs(forward.anyway).sum()
        falls = [float(now - then.signs(forward.anyway).sum()) for _, then in tried]
        enough = max(falls, default=0.0)
        if enough < FALLS:
            continue
        if finding.kind == "reading" and not _is_judged(forward.model, id):
            enough *= NEARLY
        best = next(i for i, fall in enumerate(falls) if fall >= enough)
        words, then = tried[best]
        found.append(_change(forward, look, run, then, finding, value, words))
    return sorted(found, key=lambda one: (-one.signs, one.finding))[:most]


def _with(forward: Forward, sheet: Sheet, finding: Finding, value: str) -> Run:
    """The recipe with one answer changed, run forwards."""
    changed = msgspec.convert(msgspec.to_builtins(sheet), Sheet)
    changed.group(finding)[finding.id] = value
    return forward.run(what_is_given(forward.model, changed))


def _change(
    forward: Forward,
    look: Look,
    run: Run,
    then: Run,
    finding: Finding,
    value: str,
    words: str,
) -> Change:
    knowledge = forward.model.knowledge
    before, after = run.signs(forward.anyway), then.signs(forward.anyway)
    order = sorted(range(len(before)), key=lambda i: after[i] - before[i])[:3]
    cause = max(
        forward.causes,
        key=lambda one: run.brings(one) - then.brings(one),
    )
    fix, numbers = _against(look, cause)
    return Change(
        finding.id,
        finding.name,
        _now(finding, value),
        words,
        float((before - after).sum()),
        tuple(
            (
                knowledge.findings[forward.signs[i]].sentence("yes"),
                float(before[i]),
                float(after[i]),
            )
            for i in order
            if before[i] - after[i] >= FALLS
        ),
        cause,
        forward.model.cause_name(cause),
        (run.causes[cause], then.causes[cause]),
        fix.name if fix else "",
        numbers,
    )


def _against(look: Look, cause: str) -> tuple[Fix | None, tuple[str, ...]]:
    """What is done against a cause before it strikes, and the numbers of it; one that
    has numbers goes first."""
    knowledge = look.model.knowledge
    moments = list(knowledge.moments)
    fixes = sorted(
        (
            fix
            for fix in knowledge.fixes.values()
            if any(cure.cause == cause for cure in fix.cures)
        ),
        key=lambda fix: (-moments.index(fix.moment), fix.minutes),
    )
    numbers = next((found for fix in fixes if (found := in_numbers(look, fix))), ())
    return (fixes[0] if fixes else None), numbers


def _now(finding: Finding, value: str) -> str:
    return value if finding.kind == "reading" else finding.sentence(value)


def _values(model: Model, finding: Finding, given: Given) -> list[tuple[str, str]]:
    """What could be there instead: in words, and as an answer."""
    if finding.kind != "reading":
        values = list(finding.values())
        usual = [one for one in values if model.network.is_usual(finding.id, one)]
        return [(finding.sentence(value), value) for value in usual or values]
    if _is_judged(model, finding.id):
        return Consultation(model.knowledge).sides(finding)
    if not _bears_on_a_result(model, finding.id, given):
        return []
    value, found = given.readings[finding.id].value, []
    for times in sorted(TIMES, key=lambda times: abs(math.log(times))):
        other = float(f"{value * times:.2g}")
        if (finding.lowest or 0.0) <= other <= (finding.highest or 0.0):
            found.append((figure(other, finding.unit or ""), f"{other:g}"))
    return found


def _is_judged(model: Model, reading: str) -> bool:
    """Whether a rule makes something of the reading itself, more than a remark."""
    return any(
        condition.reading == reading
        and (rule.then.conclude or rule.then.weigh or rule.then.rule_out)
        for rule in model.knowledge.rules.values()
        for _, _, condition in conditions(rule)
    )


def _bears_on_a_result(model: Model, reading: str, given: Given) -> bool:
    """Whether a result that a rule tests follows from it in this recipe."""
    worked = given.derived.worked
    return any(
        one.finding == reading
        and (made in model.tests or _bears_on_a_result(model, made, given))
        for made, result in worked.items()
        for one in result.working.inputs
    )
