"""What the cases of a shop say of how common its causes are and how strong the links.

Expectation-maximisation (Dempster, Laird and Rubin, "Maximum likelihood from incomplete
data via the EM algorithm", J. R. Statist. Soc. B 39, 1977) on the network of `network`,
with the written strengths as cases seen before (pseudo-counts).

For a confirmed set of causes, all configurations of the states that it can bring about
are enumerated (rows). Given a row the findings are independent, so all that is needed
of the cases is how much of each answer falls on each row. For a maker that is there,
with strength s, the expected number of times that it did its work is

    s n + s (1 - s) d log L / d s           (Fisher's identity for a hidden yes or no)

over the n cases in which the target was looked at; a noisy-OR gives the well-known
s / P(yes) for each yes and 0 for each no. The new strength is

    (w s0 + expected) / (w + n)             w: link_weight, s0: the written strength

and how common a cause is goes by its ratio to what was expected,

    odds = odds0 (a + cases) / (a + N share0)          a: cause_weight

the mean of a Gamma-Poisson model, in which the written frequencies may be off by a
factor of about 1 ± 1 / sqrt(a). What was not answered is missing, not a no. Cases that
nothing was confirmed of can take part, split over the causes that were ranked then, by
their chance.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field

import numpy as np
from numpy.typing import NDArray

from diagnose.cases.record import Case, sheet_of
from diagnose.chaining import Fact
from diagnose.explanations import Explanations, spread
from diagnose.look import speaks_for, what_is_given
from diagnose.model import Model
from diagnose.network import NOT_COVERED
from diagnose.records import Proof
from diagnose.rules import Table
from diagnose.sheets import SOMEWHAT

Floats = NDArray[np.float64]
Ints = NDArray[np.intp]
Key = tuple[str, str, str]
"""A link: owner, target, and the value ('' for a state)."""

MOST_ROUNDS = 300
STILL = 1e-4
"""No strength moves by more than this in a round: it is done."""

MOST_CAUSES = 3
"""A case with more confirmed causes is left out."""

FEWEST = 1e-9

UNCONFIRMED = 5
LIKELY = 0.02
"""A case of which nothing was confirmed is split over so many causes, each with so much
of a chance then."""


@dataclass(frozen=True, slots=True)
class Estimate:
    """A number before and after, and how many cases it rests on."""

    before: float
    after: float
    cases: float


@dataclass(frozen=True, slots=True)
class Learnt:
    """What the cases say.

    `causes` has how common each cause is (a chance, 0 to 1; `network.NOT_COVERED`
    among them), `links` how strong each link is.
    """

    causes: dict[str, Estimate]
    links: dict[Key, Estimate]
    confirmed: int
    """So many cases took part of which a cause was confirmed."""
    unconfirmed: int
    left_out: tuple[str, ...]
    """Why cases were left out, a sentence each."""
    rounds: int


Seen = list[tuple[str, tuple[float, ...]]]
"""Findings answered, each with how far the answer speaks for each of its values."""


class Evidence:
    """From a case to what was answered; quick where no rule draws on the answers.

    Args:
        model: the knowledge.
    """

    def __init__(self, model: Model) -> None:
        self.model = model
        self._tables: dict[frozenset[Fact], Table] = {}
        rules = [
            rule
            for rule in model.knowledge.rules.values()
            if rule.then.conclude or (rule.otherwise and rule.otherwise.conclude)
        ]
        looked_at = [
            condition
            for rule in rules
            for part in (rule.when.all, rule.when.any, rule.when.none)
            for condition in part
        ]
        self._every = any(condition.state for condition in looked_at)
        self._drawn_on = {one.finding for one in looked_at if one.finding}
        self._vectors: dict[tuple[str, str], tuple[float, ...]] = {}
        for id, finding in model.knowledge.findings.items():
            if id not in model.network.outcomes or isinstance(finding, Proof):
                continue
            soft = [SOMEWHAT] if finding.kind == "yes-no" else []
            for answer in (*model.network.values(id), *soft):
                vector = speaks_for(model, id, answer)
                self._vectors[id, answer] = tuple(round(part, 4) for part in vector)

    def of(self, case: Case) -> Seen:
        """What was answered, or follows from it, without the checks that settle."""
        answers = {**case.set_up, **case.answers}
        if case.readings or self._every or not self._drawn_on.isdisjoint(answers):
            sheet = sheet_of(case, self.model.knowledge)
            given = what_is_given(self.model, sheet, self._chain)
            return [
                (id, tuple(round(float(part), 2) for part in vector))
                for id, vector in given.evidence.items()
                if not isinstance(self.model.knowledge.findings[id], Proof)
            ]
        seen: Seen = []
        for id, value in answers.items():
            vector = self._vectors.get((id, value))
            if vector is not None:
                seen.append((id, vector))
        return seen

    def _chain(self, facts: Sequence[Fact]) -> Table:
        """What rules conclude; each set of facts that counts is chained once."""
        counts = frozenset(
            one
            for one in facts
            if self._every
            or one.kind != "finding"
            or dict(one.fields)["finding"] in self._drawn_on
        )
        if counts not in self._tables:
            self._tables[counts] = self.model.rules.chain(sorted(counts, key=str))
        return self._tables[counts]


def learn(
    model: Model, cases: Iterable[tuple[str, Case]], *, unconfirmed: bool = False
) -> Learnt:
    """How common the causes are and how strong the links, in the light of the cases.

    Args:
        model: the knowledge that the cases are held against, without what was learnt
            from them before.
        cases: their ids and the cases.
        unconfirmed: whether cases take part of which nothing was confirmed.
    """
    gathered = _gather(model, cases, unconfirmed)
    strengths = _Strengths(model)
    groups = [
        _Group(model, strengths, causes, held)
        for causes, held in sorted(gathered.groups.items())
    ]
    open_cases = [g for g in groups if g.case.max(initial=-1) >= 0]
    odds0 = model.network.odds
    total0 = sum(odds0.values())
    weights = model.knowledge.scales.learn
    odds = dict(odds0)
    counts: dict[str, float] = {}
    rounds, moved = 0, 1.0
    while moved >= STILL and rounds < MOST_ROUNDS:
        rounds += 1
        strengths.begin()
        for group in groups:
            group.expect(strengths)
        if open_cases:
            _share_out(open_cases, odds)
        counts = {}
        for group in groups:
            for cause in group.causes:
                counts[cause] = counts.get(cause, 0.0) + float(group.weight.sum())
        met = sum(counts.values())
        fresh = {
            cause: odds0[cause]
            * (weights.cause_weight + counts.get(cause, 0.0))
            / (weights.cause_weight + met * odds0[cause] / total0)
            for cause in odds0
        }
        moved = strengths.end(weights.link_weight)
        moved = max(moved, *(abs(fresh[c] - odds[c]) for c in odds))
        odds = fresh
    return Learnt(
        causes={
            cause: Estimate(
                _chance(odds0[cause]), _chance(odds[cause]), counts.get(cause, 0.0)
            )
            for cause in odds
        },
        links={
            key: Estimate(
                float(strengths.first[n]),
                float(strengths.now[n]),
                float(strengths.looked[n]),
            )
            for key, n in strengths.number.items()
        },
        confirmed=gathered.confirmed,
        unconfirmed=gathered.unconfirmed,
        left_out=tuple(gathered.left_out),
        rounds=rounds,
    )


def _chance(odds: float) -> float:
    return odds / (1 + odds)


@dataclass(slots=True)
class _Held:
    """The cases of one set of causes: what was seen in each, and which case it is."""

    seen: list[Seen] = field(default_factory=list)
    weight: list[float] = field(default_factory=list)
    case: list[int] = field(default_factory=list)
    """The number of a case that is split over several causes; -1 for the others."""


@dataclass(slots=True)
class _Gathered:
    groups: dict[tuple[str, ...], _Held] = field(default_factory=dict)
    confirmed: int = 0
    unconfirmed: int = 0
    left_out: list[str] = field(default_factory=list)

    def put(
        self, causes: tuple[str, ...], seen: Seen, weight: float, case: int
    ) -> None:
        held = self.groups.setdefault(causes, _Held())
        held.seen.append(seen)
        held.weight.append(weight)
        held.case.append(case)


def _gather(
    model: Model, cases: Iterable[tuple[str, Case]], unconfirmed: bool
) -> _Gathered:
    evidence = Evidence(model)
    gathered = _Gathered()
    for id, case in cases:
        causes = confirmed_causes(case)
        strange = [cause for cause in causes if cause not in model.network.odds]
        if strange:
            says = f"{id}: the knowledge has no cause {strange[0]!r}; left out."
            gathered.left_out.append(says)
        elif len(causes) > MOST_CAUSES:
            says = f"{id}: more than {MOST_CAUSES} causes were confirmed; left out."
            gathered.left_out.append(says)
        elif causes:
            gathered.put(causes, evidence.of(case), 1.0, -1)
            gathered.confirmed += 1
        elif unconfirmed:
            likely = [
                one
                for one in case.ranking[:UNCONFIRMED]
                if one.chance >= LIKELY and one.cause in model.network.odds
            ]
            seen = evidence.of(case) if likely else []
            for one in likely:
                number = gathered.unconfirmed
                gathered.put((one.cause,), seen, one.chance, number)
            gathered.unconfirmed += bool(likely)
    return gathered


def confirmed_causes(case: Case) -> tuple[str, ...]:
    """The causes that were confirmed, sorted; one in free words is not covered."""
    return tuple(sorted({one.cause or NOT_COVERED for one in case.confirmed}))


class _Strengths:
    """Every strength, and what a round of the reckoning says of it."""

    def __init__(self, model: Model) -> None:
        network = model.network
        findings = model.knowledge.findings
        keys: list[Key] = []
        numbers: list[float] = []
        fixed: list[bool] = []
        for state, makers in network.states.items():
            for maker, strength in makers:
                keys.append((maker, state, ""))
                numbers.append(strength)
                fixed.append(False)
        for id, outcomes in network.outcomes.items():
            for outcome in outcomes:
                for maker, strength in outcome.makers:
                    keys.append((maker, id, outcome.value))
                    numbers.append(strength)
                    fixed.append(
                        maker == NOT_COVERED or isinstance(findings[id], Proof)
                    )
        self.number = {key: n for n, key in enumerate(keys)}
        self.first: Floats = np.array(numbers)
        self.now: Floats = self.first.copy()
        self.fixed: NDArray[np.bool_] = np.array(fixed, dtype=bool)
        self.worked: Floats = np.zeros(len(keys))
        self.looked: Floats = np.zeros(len(keys))

    def begin(self) -> None:
        """Forget the last round."""
        self.worked = np.zeros_like(self.now)
        self.looked = np.zeros_like(self.now)

    def end(self, weight: float) -> float:
        """Take over what the round said; how far the strength went that moved most."""
        fresh = (weight * self.first + self.worked) / (weight + self.looked)
        fresh = np.clip(fresh, 0.001, 0.999)
        fresh = np.where(self.fixed | (self.looked < FEWEST), self.first, fresh)
        moved = float(np.abs(fresh - self.now).max(initial=0.0))
        self.now = fresh
        return moved


@dataclass(frozen=True, slots=True)
class _Shown:
    """A finding that the causes of a group bear on: its makers by outcome, and the
    columns (answers met) that are about it."""

    makers: tuple[tuple[tuple[int, NDArray[np.bool_]], ...], ...]
    anyway: tuple[float, ...]
    columns: Ints
    vectors: Floats


class _Group:
    """The cases of one set of causes."""

    def __init__(
        self, model: Model, strengths: _Strengths, causes: tuple[str, ...], held: _Held
    ) -> None:
        network = model.network
        self.causes = causes
        self.weight: Floats = np.array(held.weight)
        self.case: Ints = np.array(held.case, dtype=np.intp)
        size = len(held.seen)
        rows = Explanations(network, causes, sizes=(len(causes),))
        count = len(rows.set_of)
        on = {cause: np.ones(count, dtype=bool) for cause in causes}
        on |= {state: rows.is_on(state) for state in rows.states}
        columns: dict[tuple[str, tuple[float, ...]], int] = {}
        at_case: list[int] = []
        at_column: list[int] = []
        split = bool((self.case >= 0).any())
        self.rest: Floats = np.zeros(size)
        """log of the chance of answers that the group's causes do not bear on."""
        bears: dict[str, bool] = {}
        for number, seen in enumerate(held.seen):
            for id, vector in seen:
                if id not in bears:
                    bears[id] = any(
                        maker in on
                        for outcome in network.outcomes[id]
                        for maker, _ in outcome.makers
                    )
                if bears[id]:
                    at_case.append(number)
                    at_column.append(columns.setdefault((id, vector), len(columns)))
                elif split:
                    self.rest[number] += _log_anyway(model, id, vector)
        self.size, self.rows, self.width = size, count, len(columns)
        self.shown = [
            _Shown(
                makers=tuple(
                    tuple(
                        (strengths.number[maker, id, outcome.value], on[maker])
                        for maker, _ in outcome.makers
                        if maker in on
                    )
                    for outcome in network.outcomes[id]
                ),
                anyway=tuple(outcome.anyway for outcome in network.outcomes[id]),
                columns=np.array([n for (f, _), n in columns.items() if f == id]),
                vectors=np.array([v for (f, v) in columns if f == id]),
            )
            for id in dict.fromkeys(f for f, _ in columns)
        ]
        self.states = [
            (
                on[state],
                tuple(
                    (strengths.number[maker, state, ""], on[maker])
                    for maker, _ in network.states[state]
                    if maker in on
                ),
            )
            for state in rows.states
        ]
        case, column = np.array(at_case, dtype=np.intp), np.array(at_column, np.intp)
        self.of_column = column
        """The answers met, in the order of the cases."""
        self.starts = np.searchsorted(case, np.arange(size))
        self.some = np.bincount(case, minlength=size) > 0
        order = np.argsort(column, kind="stable")
        self.of_case = case[order]
        """The cases, in the order of the answers."""
        self.column_starts = np.searchsorted(column[order], np.arange(self.width))
        self.counts: Floats = np.bincount(
            column, weights=self.weight[case], minlength=self.width
        ).astype(float)
        self.bear = self._bearing(model, rows.states, columns, case, column)
        self.log: Floats = np.zeros(size)

    def _bearing(
        self,
        model: Model,
        states: Sequence[str],
        columns: Mapping[tuple[str, tuple[float, ...]], int],
        case: Ints,
        column: Ints,
    ) -> Floats:
        """Which states an answer of each case bears on, directly or through others."""
        network = model.network
        shows = np.zeros((self.width, len(states)), dtype=bool)
        place = {state: n for n, state in enumerate(states)}
        for (id, _), n in columns.items():
            for outcome in network.outcomes[id]:
                for maker, _ in outcome.makers:
                    if maker in place:
                        shows[n, place[maker]] = True
        bear = np.zeros((self.size, len(states)), dtype=bool)
        np.logical_or.at(bear, case, shows[column])
        for state in reversed(states):  # what bears on a state bears on its makers
            for maker, _ in network.states[state]:
                if maker in place:
                    bear[:, place[maker]] |= bear[:, place[state]]
        return bear.astype(float)

    def expect(self, strengths: _Strengths) -> None:
        """Add what these cases say, by the strengths as they are now."""
        log_row: Floats = np.zeros(self.rows)
        state_chances = []
        with np.errstate(divide="ignore"):
            for is_on, makers in self.states:
                missed = _missed(makers, strengths.now, self.rows)
                chance = 1 - missed
                log_row += np.where(is_on, np.log(np.maximum(chance, 1e-300)), 0)
                log_row += np.where(is_on, 0, np.log(np.maximum(missed, 1e-300)))
                state_chances.append(chance)
        like: Floats = np.ones((self.width, self.rows))
        shares = []
        for shown in self.shown:
            missed_by = [
                _missed(makers, strengths.now, self.rows) for makers in shown.makers
            ]
            chances = spread([1 - one for one in missed_by], shown.anyway)
            like[shown.columns] = shown.vectors @ chances.T
            shares.append((missed_by, chances))
        like = np.maximum(like, 1e-300)
        by_case = self._by_case(np.log(like), log_row)
        if self.rows == 1:
            fallen = self.counts[:, None]
            if len(self.weight) and (self.case >= 0).any():
                fallen = self._fallen(by_case)
        else:
            fallen = self._fallen(by_case)
        for shown, (missed_by, chances) in zip(self.shown, shares, strict=True):
            self._add_shown(strengths, shown, missed_by, chances, like, fallen)
        if self.states:
            of_state = self.bear.T @ by_case
            for n, (is_on, makers) in enumerate(self.states):
                for number, there in makers:
                    s = strengths.now[number]
                    looked = of_state[n] * there
                    worked = looked[is_on] * s / np.maximum(state_chances[n][is_on], s)
                    strengths.looked[number] += looked.sum()
                    strengths.worked[number] += worked.sum()

    def _by_case(self, log_like: Floats, log_row: Floats) -> Floats:
        """How much of each case falls on each row; keeps the chance of its answers."""
        log = np.tile(log_row, (self.size, 1))
        if len(self.of_column):
            some = np.flatnonzero(self.some)
            sums = np.add.reduceat(log_like[self.of_column], self.starts[some], axis=0)
            log[some] += sums
        top = log.max(axis=1, keepdims=True)
        weight = np.exp(log - top)
        total = weight.sum(axis=1, keepdims=True)
        self.log = (top + np.log(total))[:, 0] + self.rest
        share: Floats = weight / total * self.weight[:, None]
        return share

    def _fallen(self, by_case: Floats) -> Floats:
        """How much of each answer met falls on each row."""
        if not self.width:
            return np.zeros((0, self.rows))
        fallen: Floats = np.add.reduceat(
            by_case[self.of_case], self.column_starts, axis=0
        )
        return fallen

    def _add_shown(
        self,
        strengths: _Strengths,
        shown: _Shown,
        missed_by: Sequence[Floats],
        chances: Floats,
        like: Floats,
        fallen: Floats,
    ) -> None:
        """What the answers to one finding say of each maker's strength."""
        fell, likely = fallen[shown.columns], like[shown.columns]
        looked = fell.sum(axis=0)
        for place, makers in enumerate(shown.makers):
            for number, there in makers:
                s = strengths.now[number]
                slope = _slope(place, s, missed_by, chances, shown.anyway)
                toward = (fell * (shown.vectors @ slope.T) / likely).sum(axis=0)
                n = looked[there].sum()
                strengths.looked[number] += n
                strengths.worked[number] += s * n + s * (1 - s) * toward[there].sum()


def _slope(
    place: int,
    strength: float,
    missed_by: Sequence[Floats],
    chances: Floats,
    anyway: Sequence[float],
) -> Floats:
    """How the chance of each value moves with the strength of a maker of one of them.

    It is the derivative of `explanations.spread`, where that maker is there.
    """
    if len(missed_by) == 1:
        yes = (1 - chances[:, 0]) / (1 - strength)
        return np.stack([yes, -yes], axis=1)
    missed = np.stack(missed_by, axis=1)
    claims = 1 - missed
    total = np.maximum(claims.sum(axis=1, keepdims=True), 1e-12)
    none = missed.prod(axis=1, keepdims=True)
    usual = np.asarray(anyway) / np.sum(anyway)
    none_moves = -none / (1 - strength)
    claim_moves = missed[:, [place]] / (1 - strength)
    at = np.zeros_like(claims)
    at[:, place] = 1
    slope: Floats = none_moves * (usual - claims / total) + (1 - none) * claim_moves * (
        at * total - claims
    ) / (total * total)
    return slope


def _missed(
    makers: Iterable[tuple[int, NDArray[np.bool_]]], strengths: Floats, rows: int
) -> Floats:
    """The chance that none of the makers that are there did it, for each row."""
    chance: Floats = np.ones(rows)
    for number, there in makers:
        chance[there] *= 1 - strengths[number]
    return chance


def _log_anyway(model: Model, finding: str, vector: Sequence[float]) -> float:
    chances = model.chances_anyway(finding)
    values = model.network.values(finding)
    return float(
        np.log(sum(chances[v] * part for v, part in zip(values, vector, strict=True)))
    )


def _share_out(groups: Sequence[_Group], odds: Mapping[str, float]) -> None:
    """Share each open case out over its causes, by odds times chance of its answers."""
    size = 1 + max(int(group.case.max()) for group in groups)
    logs = []
    for group in groups:
        is_open = group.case >= 0
        log = group.log[is_open] + np.log(odds[group.causes[0]])
        logs.append((group, is_open, group.case[is_open], log))
    top = np.full(size, -np.inf)
    for _, _, case, log in logs:
        np.maximum.at(top, case, log)
    total = np.zeros(size)
    for _, _, case, log in logs:
        np.add.at(total, case, np.exp(log - top[case]))
    for group, is_open, case, log in logs:
        group.weight[is_open] = np.exp(log - top[case]) / total[case]
