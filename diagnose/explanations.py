"""Every explanation of the answers, and how likely each is.

An explanation is a set of causes (one or two, as a rule) with one configuration of
the states that they brought about. All of them are enumerated, so the chances are
exact for the causes on the table; given an explanation the findings do not depend
on one another, so an answer is one more column of factors. States that nothing
answered bears on are left out, and some of the others are summed out in each row:
both are exact (`states_to_split`).

Sums over rows are written with `sum`, not `@`: on arrays of this size the threads of
a linear algebra library cost more than they save.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping, Sequence
from functools import cached_property
from itertools import combinations

import numpy as np
from numpy.typing import NDArray

from diagnose.network import Network, Outcome, reachable

Floats = NDArray[np.float64]
Bits = NDArray[np.uint64]

HEAVIEST = 4000
"""Rows that the worth of a question is judged on; they carry nearly all the weight."""

ENOUGH = 0.999
MOST_SETS = 400
"""How much weight, and how many sets of causes, are looked at closely: for the chances
of states, the worth of questions and fixes."""


class Explanations:
    """All explanations by the given causes; one row each.

    Args:
        network: the numbers.
        causes: the causes on the table.
        sizes: how many causes an explanation may have.
        sets: the sets of causes (by their place in `causes`), in place of all.
        states: the states to split rows by, with all their makers; all where left
            out.
    """

    def __init__(
        self,
        network: Network,
        causes: Iterable[str],
        sizes: Sequence[int] = (1, 2),
        *,
        sets: Sequence[tuple[int, ...]] | None = None,
        states: Collection[str] | None = None,
    ) -> None:
        self.network = network
        self.causes = tuple(sorted(causes))
        self.states = [
            state
            for state in reachable(network, self.causes)
            if states is None or state in states
        ]
        places = range(len(self.causes))
        self.sets = (
            [c for size in sizes for c in combinations(places, size)]
            if sets is None
            else list(sets)
        )
        self.members: NDArray[np.bool_] = np.zeros(
            (len(self.sets), len(self.causes)), dtype=bool
        )
        rows = [row for row, members in enumerate(self.sets) for _ in members]
        self.members[rows, [i for members in self.sets for i in members]] = True
        self._column = {cause: i for i, cause in enumerate(self.causes)}
        self._bit = {state: i for i, state in enumerate(self.states)}
        self._enumerate()

    def _enumerate(self) -> None:
        """Split each row in two at every state that its makers may have made."""
        self.set_of = np.arange(len(self.sets))
        self.log_states: Floats = np.zeros(len(self.sets))
        words = len(self.states) // 64 + 1
        self.bits: Bits = np.zeros((len(self.sets), words), dtype=np.uint64)
        for state in self.states:
            without = self._without(self.network.states[state])
            rows = np.flatnonzero(without < 1)
            stays = without > 0
            on_bits = self.bits[rows].copy()
            place = self._bit[state]
            on_bits[:, place // 64] |= np.uint64(1) << np.uint64(place % 64)
            on_log = self.log_states[rows] + np.log1p(-without[rows])
            off_log = self.log_states[stays] + np.log(without[stays])
            self.bits = np.concatenate([self.bits[stays], on_bits])
            self.log_states = np.concatenate([off_log, on_log])
            self.set_of = np.concatenate([self.set_of[stays], self.set_of[rows]])
        order = np.argsort(self.set_of, kind="stable")
        self.bits = self.bits[order]
        self.log_states = self.log_states[order]
        self.set_of = self.set_of[order]
        self.starts = np.searchsorted(self.set_of, np.arange(len(self.sets)))

    def is_on(self, state: str) -> NDArray[np.bool_]:
        """Whether a state is there, for each row."""
        place = self._bit[state]
        bit = np.uint64(1 << place % 64)
        on: NDArray[np.bool_] = (self.bits[:, place // 64] & bit) != 0
        return on

    def _without(
        self,
        makers: Iterable[tuple[str, float]],
        on: str | None = None,
        *,
        by_set: bool = False,
    ) -> Floats:
        """The chance that none of the makers brought it about, for each row.

        Args:
            makers: causes and states with their strengths.
            on: a state that is there in every row, whatever the rows say.
            by_set: for each set of causes instead; no other state is a maker.
        """
        of_set = np.ones(len(self.sets))
        states = []
        for maker, strength in makers:
            if maker in self._column:
                of_set[self.members[:, self._column[maker]]] *= 1 - strength
            elif maker == on:
                of_set *= 1 - strength
            elif maker in self._bit:
                states.append((maker, 1 - strength))
        if by_set:
            return of_set
        of_row: Floats = of_set[self.set_of]
        for maker, missed in states:
            of_row *= np.where(self.is_on(maker), missed, 1.0)
        return of_row

    def chances(
        self, finding: str, on: str | None = None, *, by_set: bool = False
    ) -> Floats:
        """P(value | explanation), a column for each value of the finding.

        Args:
            finding: its id.
            on: a state that is there in every row, whatever the rows say.
            by_set: for each set of causes instead; no other state bears on it.
        """
        outcomes = self.network.outcomes[finding]
        made = [1 - self._without(o.makers, on, by_set=by_set) for o in outcomes]
        return spread(made, [o.anyway for o in outcomes])

    def _answered(
        self,
        finding: str,
        vector: Sequence[float],
        on: str | None = None,
        *,
        by_set: bool = False,
    ) -> Floats:
        """P(answer | explanation) for one finding; `vector` is the answer."""
        outcomes = self.network.outcomes[finding]
        if len(outcomes) == 1:  # as `spread`, without a table of two columns
            no = self._without(outcomes[0].makers, on, by_set=by_set)
            no *= 1 - outcomes[0].anyway
            return vector[0] + (vector[1] - vector[0]) * no
        chances = self.chances(finding, on, by_set=by_set)
        answered: Floats = (chances * np.asarray(vector, dtype=float)).sum(axis=1)
        return answered

    def explained(self, finding: str, value: str, leave_out: str) -> Floats:
        """How far the causes and states of each row account for that value.

        It is the chance that a maker brought the value about, given that it is
        there; what the cause to leave out may have made counts as not explained.
        """
        for outcome in self.network.outcomes[finding]:
            if outcome.value == value:
                makers = [m for m in outcome.makers if m[0] != leave_out]
                made = 1 - self._without(makers)
                every = 1 - self._without(outcome.makers)
                return made / (every + outcome.anyway * (1 - every))
        return np.ones(len(self.set_of))

    def weigh(
        self,
        evidence: Mapping[str, Sequence[float]],
        weights: Mapping[str, float] | None = None,
        extra: Mapping[str, Floats] | None = None,
        summed: Collection[str] = (),
    ) -> Weighed:
        """How likely each explanation is.

        Args:
            evidence: for each finding answered, how far the answer speaks for each
                of its values (in the order of `Network.values`): (1, 0) is a plain
                yes, (0.75, 0.25) a soft one.
            weights: what rules multiply the odds of causes by.
            extra: further factors a row, by name.
            summed: states that rows are not split by; each is summed out.
        """
        of_set = np.zeros(len(self.sets))
        for place, cause in enumerate(self.causes):
            odds = self.network.odds[cause] * (weights or {}).get(cause, 1.0)
            of_set[self.members[:, place]] += np.log(odds)
        noes, never = self._noes(evidence)
        with np.errstate(divide="ignore"):
            of_row: Floats = self.log_states + never
            of_row += np.log(self._without(noes.items()))
        rest = [
            f for f in sorted(evidence) if not plain_no(self.network, f, evidence[f])
        ]
        groups: list[tuple[str | None, list[str]]] = []
        for one in sorted(summed):
            groups.append((one, [f for f in rest if makes(self.network, one, f)]))
            rest = [f for f in rest if not makes(self.network, one, f)]
        groups += [(None, [finding]) for finding in rest]
        with np.errstate(divide="ignore"):
            for state, findings in groups:
                by_set = self._alike_in_a_set(state, findings)
                log = np.log(self._speaks(evidence, findings, state, noes, by_set))
                if by_set:
                    of_set += log
                else:
                    of_row += log
            for _, factor in sorted((extra or {}).items()):
                of_row += np.log(factor)
        of_row += of_set[self.set_of]
        top = of_row.max()
        weight = np.exp(of_row - top)
        total = weight.sum()
        return Weighed(self, weight / total, float(top + np.log(total)))

    def _noes(
        self, evidence: Mapping[str, Sequence[float]]
    ) -> tuple[dict[str, float], float]:
        """All plain noes at once: what each maker had to miss, and the log of the rest.

        The chance of a no is a product over its makers, and so is that of many.
        """
        missed: dict[str, float] = {}
        never = 0.0
        for finding in sorted(evidence):
            if plain_no(self.network, finding, evidence[finding]):
                (outcome,) = self.network.outcomes[finding]
                never += float(np.log((1 - outcome.anyway) * evidence[finding][1]))
                for maker, strength in outcome.makers:
                    missed[maker] = missed.get(maker, 1.0) * (1 - strength)
        return {maker: 1 - chance for maker, chance in sorted(missed.items())}, never

    def _alike_in_a_set(self, state: str | None, findings: Iterable[str]) -> bool:
        """Whether no state that rows are split by bears on these, nor on the state."""
        makers = [
            m for f in findings for o in self.network.outcomes[f] for m in o.makers
        ]
        if state is not None:
            makers += self.network.states[state]
        return not any(maker in self._bit for maker, _ in makers)

    def _speaks(
        self,
        evidence: Mapping[str, Sequence[float]],
        findings: Sequence[str],
        state: str | None,
        noes: Mapping[str, float],
        by_set: bool,
    ) -> Floats:
        """P(answers to these findings | explanation), for each row or each set.

        Where a state is given, it is summed over: it is there, or it is not. What it
        had to miss of the plain noes comes in here.
        """
        vectors = [evidence[f] for f in findings]
        off: Floats = np.ones(len(self.sets) if by_set else len(self.set_of))
        for finding, vector in zip(findings, vectors, strict=True):
            off *= self._answered(finding, vector, by_set=by_set)
        if state is None:
            return off
        without = self._without(self.network.states[state], by_set=by_set)
        on: Floats = (1 - without) * (1 - noes.get(state, 0.0))
        for finding, vector in zip(findings, vectors, strict=True):
            on *= self._answered(finding, vector, state, by_set=by_set)
        return without * off + on


class Weighed:
    """Explanations with the chance of each, given the answers."""

    def __init__(self, rows: Explanations, weight: Floats, log_total: float) -> None:
        self.rows = rows
        self.weight = weight
        self.log_total = log_total

    @cached_property
    def by_set(self) -> Floats:
        """The chance of each set of causes."""
        return np.add.reduceat(self.weight, self.rows.starts)

    def causes(self) -> dict[str, float]:
        """The chance that each cause is there."""
        chances = (self.by_set[:, None] * self.rows.members).sum(axis=0)
        return dict(zip(self.rows.causes, chances.tolist(), strict=True))

    def state(self, state: str) -> float:
        """The chance that a state is there."""
        if state not in self.rows.states:
            return 0.0
        return float(self.weight[self.rows.is_on(state)].sum())

    def heaviest(self) -> list[tuple[int, ...]]:
        """The likeliest sets of causes: nearly all of the weight, few of the sets."""
        order = np.argsort(-self.by_set, kind="stable")
        enough = int(np.searchsorted(np.cumsum(self.by_set[order]), ENOUGH)) + 1
        return [self.rows.sets[n] for n in sorted(order[: min(enough, MOST_SETS)])]

    def sets(self, most: int = 5) -> list[tuple[tuple[str, ...], float]]:
        """The likeliest sets of causes."""
        order = np.argsort(-self.by_set, kind="stable")[:most]
        names = self.rows.causes
        return [
            (tuple(names[i] for i in self.rows.sets[n]), float(self.by_set[n]))
            for n in order
        ]

    def predicted(self, finding: str) -> dict[str, float]:
        """The chance of each value of a finding."""
        chances = self.weight @ self.rows.chances(finding)
        values = self.rows.network.values(finding)
        return dict(zip(values, chances.tolist(), strict=True))

    @cached_property
    def _heavy(self) -> NDArray[np.intp]:
        """The heaviest rows, in the order of the sets."""
        if len(self.weight) <= HEAVIEST:
            return np.arange(len(self.weight))
        return np.sort(np.argpartition(-self.weight, HEAVIEST)[:HEAVIEST])

    def split(self, findings: Sequence[str]) -> tuple[list[int], list[Floats]]:
        """How each finding's values would share out the sets of causes.

        Returns:
            The sets (as their numbers in `rows.sets`, unused ones left out) and for
            each finding an array, sets by values, that sums to one.
        """
        heavy = self._heavy
        weight = self.weight[heavy] / self.weight[heavy].sum()
        used, starts, place = np.unique(
            self.rows.set_of[heavy], return_index=True, return_inverse=True
        )
        sets = np.add.reduceat(weight, starts)
        members = np.ascontiguousarray(self.rows.members[used].T)
        causes = dict(zip(self.rows.causes, members, strict=True))
        states = {state: self.rows.is_on(state)[heavy] for state in self.rows.states}
        shares: list[Floats] = []
        for finding in findings:
            outcomes = self.rows.network.outcomes[finding]
            anyway = [outcome.anyway for outcome in outcomes]
            missed = [_missed(outcome, causes, len(used)) for outcome in outcomes]
            if not any(maker in states for o in outcomes for maker, _ in o.makers):
                share = sets[:, None] * spread([1 - one for one in missed], anyway)
            elif len(outcomes) == 1:
                of_states = weight * _missed(outcomes[0], states, len(heavy))
                no = np.add.reduceat(of_states, starts) * missed[0] * (1 - anyway[0])
                share = np.stack([sets - no, no], axis=1)
            else:
                made = [
                    1 - one[place] * _missed(outcome, states, len(heavy))
                    for outcome, one in zip(outcomes, missed, strict=True)
                ]
                by_row = weight[:, None] * spread(made, anyway)
                share = np.add.reduceat(by_row, starts, axis=0)
            shares.append(share)
        return used.tolist(), shares


def _missed(
    outcome: Outcome, there: Mapping[str, NDArray[np.bool_]], count: int
) -> Floats:
    """The chance that those makers miss that are in the table of who is there."""
    chance = np.ones(count)
    for maker, strength in outcome.makers:
        if maker in there:
            chance[there[maker]] *= 1 - strength
    return chance


def plain_no(network: Network, finding: str, vector: Sequence[float]) -> bool:
    """Whether the answer is a plain no to a yes-no finding."""
    return len(network.outcomes[finding]) == 1 and vector[0] == 0


def makes(network: Network, maker: str, finding: str) -> bool:
    """Whether a cause or a state bears on a finding directly."""
    return any(
        maker == one
        for outcome in network.outcomes[finding]
        for one, _ in outcome.makers
    )


def states_to_split(
    network: Network,
    causes: Iterable[str],
    evidence: Mapping[str, Sequence[float]],
    wanted: Collection[str] = (),
) -> tuple[set[str], set[str]]:
    """Which states rows have to be split by, and which can be summed out in a row.

    A state that no answer bears on, not even through other states, changes nothing.
    One that makes no further state that counts can be summed out within a row, where
    no two such states bear on the same answer (plain noes aside).

    Args:
        network: the numbers.
        causes: the causes on the table.
        evidence: the answers, as for `Explanations.weigh`.
        wanted: states that rows have to be split by in any case.

    Returns:
        The states to split by, and the states to sum out.
    """
    there = reachable(network, causes)
    counts = set(wanted) & set(there)
    counts |= {s for s in there for finding in evidence if makes(network, s, finding)}
    for state in reversed(there):
        if state in counts:
            counts |= {maker for maker, _ in network.states[state] if maker in there}
    parents = {m for state in counts for m, _ in network.states[state]}
    split: set[str] = set()
    summed: set[str] = set()
    taken: set[str] = set()
    for state in sorted(counts):
        ties = {
            finding
            for finding, vector in evidence.items()
            if makes(network, state, finding) and not plain_no(network, finding, vector)
        }
        if state in parents or state in wanted or ties & taken:
            split.add(state)
        else:
            summed.add(state)
            taken |= ties
    return split, summed


def spread(made: Sequence[Floats], anyway: Sequence[float]) -> Floats:
    """The chance of each value of a finding, a column a value.

    Args:
        made: for each outcome, the chance that its makers bring it about.
        anyway: for each outcome, its chance where no maker does.

    One outcome is a yes-no finding: a noisy-OR with a leak. Of several, makers claim
    theirs; where none does, the usual shares hold; where makers claim more than one,
    they share it out in proportion to their chances.
    """
    if len(made) == 1:
        yes = 1 - (1 - made[0]) * (1 - anyway[0])
        return np.stack([yes, 1 - yes], axis=1)
    claims = np.stack(made, axis=1)
    none = np.prod(1 - claims, axis=1, keepdims=True)
    total = claims.sum(axis=1, keepdims=True)
    claimed = np.divide(claims, total, out=np.zeros_like(claims), where=total > 0)
    usual = np.asarray(anyway) / np.sum(anyway)
    shares: Floats = none * usual + (1 - none) * claimed
    return shares


def information(shares: Sequence[Floats]) -> Floats:
    """Bits that each value tells about the set of causes (mutual information).

    Args:
        shares: for each finding the joint chances, sets by values, summing to one.
    """
    starts = np.cumsum([0, *(share.shape[1] for share in shares[:-1])])
    joint = np.concatenate(shares, axis=1)
    both = np.add.reduceat(_surprise(joint).sum(axis=0), starts)
    values = np.add.reduceat(_surprise(joint.sum(axis=0)), starts)
    sets = _surprise(np.add.reduceat(joint, starts, axis=1)).sum(axis=0)
    bits: Floats = np.maximum(sets + values - both, 0.0)
    return bits


def _surprise(chances: Floats) -> Floats:
    """-p log2 p of each chance; nothing for a chance of nothing."""
    logs = np.zeros_like(chances)
    np.log2(chances, out=logs, where=chances > 0)
    bits: Floats = -chances * logs
    return bits
