"""What has to be said for a finding: the patterns of its name and phrases.

A root tells more the fewer findings use it, and the more phrases of its own finding
do. Weights count in words that hardly any finding has (1.0).
"""

from __future__ import annotations

import re
from collections import Counter, defaultdict
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from itertools import pairwise
from math import inf, log2

from diagnose.english import DOUBTS, EVERYDAY, NEGATORS_OF, SUBJECTS
from diagnose.records import Finding
from diagnose.sentences import Word, cut, denies
from diagnose.vocabulary import Vocabulary

SEEN_WEAK, KNOWN_WEAK = 0.8, 1.0
"""A phrase that weighs less says nothing."""
SEEN, KNOWN, LEAST, MOST = 0.5, 0.73, 1.4, 0.8
"""A phrase is met by this share of its weight: of what can be seen, and of what has to
be known of the shop or the past, for its words are plain ones. But by at least so
much, unless that is more than the highest share asked for."""
ALONE, CHOSEN = 0.85, 0.75
"""The share asked for where one word stands for a phrase; of a choice's name."""
DENIAL = 0.5
"""What a denial tells where a phrase is one."""
DENIED_ALONE = 0.3
"""A word that is denied says something by itself where it is in so many phrases."""
TELLING = 0.6
"""A word that tells so much means something by itself."""
HOME = 0.75
"""A root of so many of a finding's phrases says what the finding is about."""
BASE, CORE = 0.7, 0.6
"""What a root tells by itself, and by the share of the finding's phrases it is in."""
RARE = 2
"""A root of fewer findings counts as one of so many."""
SURE = 0.84
"""Where this share of a phrase is there, nothing is missing but a slip of the pen."""
PREPOSITION = re.compile(r"\b(?:in|on|at|along|across|from|inside|under|over)\b")
ALTERNATIVES = re.compile(r"[,;]|(?<!\bone )(?<!\btwo )(?<!\bthree )\bor\b")
EITHER = re.compile(r"(one|two|three) or (\w+) ((?:on|at|in) .+)")
"""'one or two on each side'."""


@dataclass(frozen=True, slots=True)
class Saying:
    """A name or a phrase; `value` is empty where it says no value."""

    value: str
    words: list[Word]
    denied: bool
    roots: frozenset[str]


@dataclass(frozen=True, slots=True)
class Pattern:
    """Roots that mean one value of a finding where `need` of their weight is met,
    or `alone` of it by one word, and one root at least of each of the `keys`.

    A `thin` one, of plain words only, has to be there whole and unbroken. A `plain`
    one, of a choice, has a word that means this choice and nothing else; others have
    to be there unbroken. Each number
    of `counts` has to stand before what it counts; the words of `after` just before
    the pattern.
    """

    finding: str
    value: str
    denied: bool
    weights: dict[str, float]
    need: float
    alone: float
    total: float
    keys: tuple[frozenset[str], ...] = ()
    thin: bool = False
    plain: bool = True
    counts: tuple[tuple[str, str], ...] = ()
    after: frozenset[str] = frozenset()


def sayings_of(finding: Finding) -> Iterator[tuple[str, str]]:
    """What may be said for a finding, each with the value it means.

    The value is empty where the words only name what a choice or reading is about.
    """
    for text in (finding.name, *finding.phrases):
        yield "yes" if finding.kind == "yes-no" else "", text
    for choice in finding.choices:
        name = re.sub(r"\([^)]*\)", "", choice.name)
        either = EITHER.fullmatch(name.strip())
        names = [f"{n} {either[3]}" for n in either.groups()[:2]] if either else ()
        names = names or ALTERNATIVES.split(name)
        for text in (*names, *choice.phrases):
            yield choice.id, text


class Phrasebook:
    """The patterns of all findings, and what each root tells."""

    def __init__(
        self, findings: Mapping[str, Finding], alike: Iterable[list[str]] = ()
    ) -> None:
        self._findings = findings
        pieces = [
            (finding.id, value, cut(text))
            for finding in findings.values()
            for value, text in sayings_of(finding)
        ]
        self.vocabulary = Vocabulary(
            {word.text for _, _, words in pieces for word in words}, alike
        )
        self._everyday = {self.vocabulary.root_of(word) for word in EVERYDAY}
        self._sayings: dict[str, list[Saying]] = {id: [] for id in findings}
        for id, value, words in pieces:
            said = self.vocabulary.with_roots(words)
            denials = sum(
                denies(said, at)
                for at, word in enumerate(said)
                if not word.roots or word.text in NEGATORS_OF
            )
            roots = frozenset(root for word in said for root in word.roots)
            self._sayings[id].append(Saying(value, said, denials % 2 == 1, roots))
        self.uses = {
            id: Counter(root for saying in said for root in saying.roots)
            for id, said in self._sayings.items()
        }
        self.uses_by = {
            (id, denied): Counter(
                root for one in said if one.denied == denied for root in one.roots
            )
            for id, said in self._sayings.items()
            for denied in (True, False)
        }
        spread = Counter(root for uses in self.uses.values() for root in uses)
        self.totals = Counter[str]()
        for uses in self.uses.values():
            self.totals.update(uses)
        most = log2(1 + max(1, len(findings)) / RARE)
        self._rare = {
            root: log2(1 + len(findings) / max(RARE, uses)) / most
            for root, uses in spread.items()
        }
        self._telling = {root for root, rare in self._rare.items() if rare >= TELLING}
        self._weights = {
            id: {
                root: self._rare[root] * (BASE + CORE * n / len(self._sayings[id]))
                for root, n in uses.items()
            }
            for id, uses in self.uses.items()
        }
        self.patterns = [one for id in findings for one in self._patterns_of(id)]

    def sayings(self, id: str) -> list[Saying]:
        """What may be said for a finding."""
        return self._sayings[id]

    def about(self, id: str) -> frozenset[str]:
        """The roots that nearly all phrases of a finding have, if there are any."""
        often = HOME * len(self._sayings[id])
        return frozenset(root for root, n in self.uses[id].items() if n >= often > HOME)

    def named(self, id: str) -> frozenset[str]:
        """The roots of a finding's name."""
        return self._sayings[id][0].roots - self._everyday

    def heads(self, id: str) -> frozenset[str]:
        """What a choice is a choice of: the roots of its name, and those that two of
        its values share ('emulsion')."""
        values: dict[str, set[str]] = defaultdict(set)
        for saying in self._sayings[id]:
            for root in saying.roots if saying.value else ():
                values[root].add(saying.value)
        shared = {root for root, said in values.items() if len(said) > 1}
        return frozenset((shared | self._sayings[id][0].roots) - self._everyday)

    def rarity(self, root: str) -> float:
        """How much a root tells: the fewer findings use it, the more; at most 1."""
        return self._rare.get(root, 1.0)

    def tells(self, root: str) -> bool:
        """Whether a root is rare enough to mean something by itself."""
        return root in self._telling or root not in self._rare

    def _weigh(self, id: str, words: Iterable[Word]) -> dict[str, float]:
        """How much each root of a saying tells about its finding."""
        weights = self._weights[id]
        return {root: weights[root] for word in words for root in word.roots}

    def _patterns_of(self, id: str) -> Iterator[Pattern]:
        """All patterns of a finding; a reading is understood by its numbers."""
        finding = self._findings[id]
        if finding.kind == "choice":
            yield from self._choices(id)
        elif finding.kind == "yes-no":
            for saying in self._sayings[id]:
                if pattern := self._pattern(finding, saying):
                    yield pattern
            if finding.role == "sign":
                yield from self._head(finding)

    def _pattern(self, finding: Finding, saying: Saying) -> Pattern | None:
        """The pattern of a phrase that says yes; None where it says too little.

        A phrase of one word always means what it says. A denial counts as a word; a
        doubt does not, so the rest of the phrase has to say all the more.
        """
        weights = self._weigh(finding.id, saying.words)
        total = sum(weights.values()) + DENIAL * saying.denied
        seen = finding.role in ("sign", "check")
        weak, enough = (SEEN_WEAK, SEEN) if seen else (KNOWN_WEAK, KNOWN)
        if total < LEAST and any(word.text in DOUBTS for word in saying.words):
            return None
        if finding.role == "timing" and len(weights) == 1:
            weak = SEEN_WEAK
        if total < weak and len(saying.words) > 1:
            return None
        uses, sayings = self.uses[finding.id], len(self._sayings[finding.id])
        alone = saying.denied and len(weights) == 1
        if alone and uses[next(iter(weights))] < DENIED_ALONE * sayings:
            return None
        keys: set[str] = set()
        after: set[str] = set()
        if finding.role in ("timing", "change"):
            if len(weights) == 1 < len(saying.words):  # 'after the weekend'
                after = {w.text for w in saying.words if not w.roots} - SUBJECTS
            keys = {root for root in weights if uses[root] > sayings / 2}
        return Pattern(
            finding=finding.id,
            value="yes",
            denied=saying.denied,
            weights=weights,
            need=min(max(total * enough, LEAST), total * MOST),
            alone=total * ALONE,
            total=total,
            keys=tuple(frozenset({root}) for root in sorted(keys)),
            after=frozenset(after),
            thin=total < LEAST and self._telling.isdisjoint(weights),
        )

    def _head(self, finding: Finding) -> Iterator[Pattern]:
        """What a sign is first of all: the 'spots' of 'spots in the print'."""
        head, *rest = PREPOSITION.split(finding.name, maxsplit=1)
        for text in re.split(r"[()]|\bor\b", head) if rest else ():
            words = self.vocabulary.with_roots(cut(text))
            weights = self._weigh(finding.id, words)
            total = sum(weights.values())
            if len(words) < 3 and total > TELLING:
                yield Pattern(finding.id, "yes", False, weights, total, total, total)

    def _choices(self, id: str) -> Iterator[Pattern]:
        """The patterns of a choice, from its names and the phrases that hold one."""
        about = self._sayings[id][0].roots
        values: dict[str, set[str]] = defaultdict(set)
        meant: dict[frozenset[str], set[str]] = defaultdict(set)
        for saying in self._sayings[id]:
            if saying.value:
                meant[frozenset(saying.roots)].add(saying.value)
                for root in saying.roots:
                    values[root].add(saying.value)
        subjects = {root for root, count in self.uses[id].items() if count > 1}
        subjects = (subjects - values.keys() - self._everyday) | about
        for saying in self._sayings[id]:
            weights = self._weigh(id, saying.words)
            said = {v for root in weights.keys() - about for v in values[root]}
            value = saying.value or (min(said) if len(said) == 1 else "")
            key = frozenset(root for root in weights if values[root] == {value})
            vague = not said or (len(weights) == 1 and not key)
            if not value or vague or len(meant[frozenset(weights)]) > 1:
                continue
            plain = any(
                root in subjects
                or (root not in self._everyday and root in self._telling)
                for root in weights
            )
            named = self._findings[id].role == "set-up"
            enough = CHOSEN if named and len(weights) < 4 else SURE
            need = enough * sum(weights.values())
            alone = need if len(weights) == 1 else inf
            own = {
                root
                for word in value.split("-")
                for root in self.vocabulary.roots_of(word)
            }
            others = bool(self._telling & (weights.keys() - own))
            whole = own <= weights.keys() and not own & self._everyday
            if named and whole and not others:
                need = alone = sum(weights[root] for root in own)
            for root in [""] if plain else sorted(subjects):
                beside = {root: self.rarity(root)} if root else {}
                yield Pattern(
                    finding=id,
                    value=value,
                    plain=plain,
                    counts=_counts(saying),
                    denied=saying.denied,
                    weights=weights | beside,
                    need=need + sum(beside.values()),
                    alone=inf if beside else alone,
                    total=sum((weights | beside).values()),
                    keys=tuple(one for one in (key, frozenset(beside)) if one),
                )


def _counts(saying: Saying) -> tuple[tuple[str, str], ...]:
    """Each number in a saying with the root of what it counts: ('1', 'coat')."""
    said = [word for word in saying.words if word.roots]
    return tuple(
        (word.roots[0], following.roots[0])
        for word, following in pairwise(said)
        if word.roots[0].isdigit()
    )
