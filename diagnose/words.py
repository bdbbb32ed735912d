"""From what a printer writes to findings.

Nothing about screens stands in Python: what is understood comes from the names and
phrases of the findings. The heaviest patterns that are met take their words first;
then denials and doubts before, among and after those words are looked for.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterator
from dataclasses import dataclass

from diagnose.english import OR
from diagnose.matching import HAIR, Match, Matcher
from diagnose.patterns import ALONE, SURE, Pattern, Phrasebook
from diagnose.records import Knowledge
from diagnose.sentences import (
    SCOPE,
    Tone,
    Word,
    asked_clauses,
    cut,
    left_over,
    tone_of,
)
from diagnose.spoken_readings import SpokenReadings

FITS = 0.9
"""Meanings stay that go nearly as well with the words around as the best."""


@dataclass(frozen=True, slots=True)
class Heard:
    """One thing that was understood.

    `value` is 'yes', 'no' or 'somewhat', the id of a choice, or for a reading its
    number and unit ('14 N/cm'). `words` stands at `start` to `end` of the text.
    """

    finding: str
    value: str
    words: str
    start: int
    end: int


@dataclass(frozen=True, slots=True)
class Unclear:
    """Words that mean several findings: ask which."""

    words: str
    start: int
    end: int
    findings: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class Understood:
    """All that was made of a text; `left` are stretches nothing was made of."""

    heard: tuple[Heard, ...]
    unclear: tuple[Unclear, ...]
    left: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Said:
    """Words that were given to a match, and what they mean alike; `share` is how
    much of the pattern they are."""

    at: tuple[int, ...]
    patterns: list[Pattern]
    share: float


class Listener:
    """Understands free text by the names and phrases of the findings."""

    def __init__(self, knowledge: Knowledge) -> None:
        self._findings = knowledge.findings
        self._book = Phrasebook(self._findings)
        self._matcher = Matcher(self._book)
        self._readings = SpokenReadings(self._findings, self._book)

    def listen(self, text: str) -> Understood:
        """What a text says, with the words that it was taken from."""
        words = self._book.vocabulary.with_roots(cut(text))
        taken: set[int] = set()
        heard = list(self._measured(text, words, taken))
        unclear: list[Unclear] = []
        asked = asked_clauses(text, words)
        before: tuple[int, Tone] | None = None
        for said in self._settle(words, taken):
            tone = tone_of(words, said.at, taken, before)
            before = (said.at[-1], tone)
            value = self._value(said, tone)
            if value is None or words[said.at[0]].clause in asked:
                continue
            start, end = words[said.at[0]].start, words[said.at[-1]].end
            ids = tuple(dict.fromkeys(pattern.finding for pattern in said.patterns))
            if len(ids) > 1 and value != "no":
                unclear.append(Unclear(text[start:end], start, end, ids))
                continue
            # A word of several meanings that is denied is denied in all of them.
            heard += [Heard(id, value, text[start:end], start, end) for id in ids]
        latest: dict[str, Heard] = {}
        for one in sorted(heard, key=lambda h: h.start):
            earlier = latest.get(one.finding, one)
            between = text[earlier.start : one.start].lower().split()
            if earlier.value != one.value and OR & set(between):
                del latest[one.finding]
            else:
                latest[one.finding] = one
        return Understood(
            heard=tuple(
                one
                for id, one in latest.items()
                if self._findings[id].measured_by not in latest
            ),
            unclear=tuple(u for u in unclear if not latest.keys() & set(u.findings)),
            left=tuple(left_over(text, words, taken)),
        )

    def _measured(
        self, text: str, words: list[Word], taken: set[int]
    ) -> Iterator[Heard]:
        """The readings in the text; their words are taken."""
        for one in self._readings.listen(text, words):
            taken.update(one.at)
            said = text[one.start : one.end]
            yield Heard(one.finding, one.value, said, one.start, one.end)

    def _settle(self, words: list[Word], taken: set[int]) -> list[_Said]:
        """Give the words to the heaviest matches, in the order of the text.

        Common words may serve several, and a choice may be named inside a phrase.
        Where the same words mean several findings alike, all of them stay, unless
        the words around go better with one.
        """
        matches = self._matcher.matches(words)
        same: dict[tuple[int, ...], list[Match]] = defaultdict(list)
        for match in matches:
            same[match.at].append(match)
        common = {
            n
            for n, word in enumerate(words)
            if not any(map(self._book.tells, word.roots))
        }
        chosen = set(taken)
        settled: list[_Said] = []
        for match in matches:
            pattern = match.pattern
            mine = taken if pattern.value == "yes" else chosen
            at = tuple(n for n in match.at if n not in mine or n in common)
            if mine.issuperset(at):
                continue
            if at == match.at:
                alike = self._alike(match, same[at], words)
                settled.append(_Said(at, alike, match.share))
            else:
                roots = {root for n in at for root in words[n].roots}
                left = sum(pattern.weights.get(root, 0.0) for root in roots)
                if left < max(pattern.need, pattern.alone) - HAIR:
                    continue
                settled.append(_Said(at, [pattern], left / pattern.total))
            taken.update(at)
            if pattern.value != "yes":
                chosen.update(at)
        return sorted(settled, key=lambda said: said.at)

    def _alike(
        self, match: Match, rivals: list[Match], words: list[Word]
    ) -> list[Pattern]:
        """The patterns that these words mean alike."""
        pattern = match.pattern
        alike = [pattern]
        for rival in rivals if match.share > SURE else ():
            other = rival.pattern
            same = other.value == pattern.value or other.finding == pattern.finding
            if same and rival.share > SURE and other.denied == pattern.denied:
                alike.append(other)
        around = {
            root
            for word in words[max(0, match.at[0] - SCOPE) : match.at[-1] + SCOPE]
            for root in word.roots
        }
        fits = {
            id: sum(
                self._book.rarity(root) for root in around & self._book.uses[id].keys()
            )
            for id in {pattern.finding for pattern in alike}
        }
        best = max(fits.values())
        return [one for one in alike if fits[one.finding] >= best * FITS]

    def _value(self, said: _Said, tone: Tone) -> str | None:
        """What is said of the finding; None where it is doubted or says nothing."""
        pattern = said.patterns[0]
        denied = tone.denied != pattern.denied
        plain = pattern.value == "yes" and not pattern.denied and said.share >= ALONE
        if tone.doubted or (denied and not plain):
            return None
        if pattern.value != "yes":
            return pattern.value
        return "no" if denied else "somewhat" if tone.softened else "yes"
