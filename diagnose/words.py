"""From what a printer writes to findings.

Nothing about screens stands in Python: what is understood comes from the names and
phrases of the findings. The heaviest patterns that are met take their words first;
then denials and doubts before, among and after those words are looked for.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, replace
from functools import cached_property

from diagnose.english import BEGAN, COMPARING, NEGATORS, OR, STOP
from diagnose.guesses import Guesses, Maybe
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
from diagnose.spoken_mesh import SpokenMesh
from diagnose.spoken_readings import SpokenReadings

HERE = 1.15
"""How much more a match counts for what is met where the person stands."""
APART = 0.2
"""What a word tells of the meaning of others that a comma parts from it."""
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
class Twofold:
    """A reading that can mean two things, as they are written ('110 threads/cm')."""

    finding: str
    ways: tuple[str, ...]
    words: str


@dataclass(frozen=True, slots=True)
class Understood:
    """All that was made of a text.

    `left` are stretches nothing was made of, `maybe` those of which it has to be asked.
    """

    heard: tuple[Heard, ...]
    unclear: tuple[Unclear, ...]
    left: tuple[str, ...]
    twofold: tuple[Twofold, ...] = ()
    maybe: tuple[Maybe, ...] = ()


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
        self._knowledge = knowledge
        self._findings = knowledge.recorded()
        self._book = Phrasebook(
            self._findings, [one.words for one in knowledge.alike.values()]
        )
        self._matcher = Matcher(self._book)
        self._readings = SpokenReadings(self._findings, self._book)
        counts = [mesh.count for mesh in knowledge.meshes.values()]
        self._meshes = SpokenMesh(self._findings, self._book.uses, counts)
        self._about = {id: self._book.about(id) for id in self._findings}
        self._heads = {
            id: self._book.heads(id)
            for id, finding in self._findings.items()
            if finding.kind == "choice"
        }
        self._stages = _Stages(knowledge, self._book)

    @cached_property
    def _guesses(self) -> Guesses:
        """Made when first needed: most of what is written is understood."""
        return Guesses(self._knowledge, self._book)

    def listen(self, text: str, stage: str = "") -> Understood:
        """What a text says, with the words that it was taken from.

        Args:
            text: what was written.
            stage: where in the work the person stands, if that is known.
        """
        words = self._book.vocabulary.with_roots(cut(text))
        taken: set[int] = set()
        heard, twofold = self._meshes_in(text, words, taken)
        heard += self._measured(text, words, taken)
        unclear: list[Unclear] = []
        asked = asked_clauses(text, words)
        before: tuple[int, Tone] | None = None
        for said in self._settle(words, taken, stage):
            tone = tone_of(words, said.at, taken, before)
            before = (said.at[-1], tone)
            value = self._value(said, tone)
            if value is None or words[said.at[0]].clause in asked:
                continue
            if self._compared(said, words):
                continue
            start, end = words[said.at[0]].start, words[said.at[-1]].end
            ids = tuple(dict.fromkeys(pattern.finding for pattern in said.patterns))
            if len(ids) > 1 and value != "no":
                unclear.append(Unclear(text[start:end], start, end, ids))
                continue
            # A word of several meanings that is denied is denied in all of them.
            heard += [Heard(id, value, text[start:end], start, end) for id in ids]
        latest: dict[str, Heard] = {}
        torn: set[str] = set()
        for one in sorted(heard, key=lambda h: h.start):
            earlier = latest.get(one.finding, one)
            between = text[earlier.start : one.start].lower().split()
            if earlier.value != one.value:
                if self._findings[one.finding].kind == "choice":
                    torn.add(one.finding)
                elif OR & set(between):
                    del latest[one.finding]
                    continue
            latest[one.finding] = one
        # Where two values of a choice are spoken of, which one holds is not known.
        latest = {id: one for id, one in latest.items() if id not in torn}
        known = {*latest, *(id for one in unclear for id in one.findings)}
        left = tuple(left_over(text, words, taken))
        maybe: list[Maybe] = []
        if left:
            near = self._guesses.of(text, words, taken, known)
            maybe = list(self._in_place(near, words, asked, stage))
        open_ones = [one for one in left if not any(one in m.words for m in maybe)]
        return Understood(
            heard=tuple(
                one
                for id, one in latest.items()
                if self._findings[id].measured_by not in latest
            ),
            unclear=tuple(u for u in unclear if not latest.keys() & set(u.findings)),
            left=tuple(open_ones),
            twofold=tuple(one for one in twofold if one.finding not in latest),
            maybe=tuple(maybe),
        )

    def _in_place(
        self, maybes: Iterable[Maybe], words: list[Word], asked: set[int], stage: str
    ) -> Iterator[Maybe]:
        """What may be meant, without what can't have come to light where the person
        stands, and without questions."""
        clauses = {word.start: word.clause for word in words}
        for one in maybes:
            meanings = tuple(
                meaning
                for meaning in one.meanings
                if not self._stages.yet_to_come(
                    self._findings[meaning[0]].stages, stage
                )
            )
            if meanings and clauses[one.start] not in asked:
                yield replace(one, meanings=meanings)

    def _meshes_in(
        self, text: str, words: list[Word], taken: set[int]
    ) -> tuple[list[Heard], list[Twofold]]:
        """The mesh counts in the text, clear and unclear; their words are taken."""
        heard: list[Heard] = []
        twofold: list[Twofold] = []
        for one in self._meshes.listen(text, words):
            taken.update(one.at)
            said = text[one.start : one.end]
            if len(one.values) > 1:
                twofold.append(Twofold(one.finding, one.values, said))
            else:
                value = one.values[0]
                heard.append(Heard(one.finding, value, said, one.start, one.end))
        return heard, twofold

    def _measured(
        self, text: str, words: list[Word], taken: set[int]
    ) -> Iterator[Heard]:
        """The readings in the text; their words are taken."""
        for one in self._readings.listen(text, words):
            if taken & set(one.at):
                continue
            taken.update(one.at)
            said = text[one.start : one.end]
            yield Heard(one.finding, one.value, said, one.start, one.end)

    def _compared(self, said: _Said, words: list[Word]) -> bool:
        """Whether a choice is only held beside the one that is spoken of, or is said
        of something else.

        In 'on cotton the same ink holds' the job need not be on cotton; a plastisol
        emulsion says nothing of the ink.
        """
        id = said.patterns[0].finding
        if id not in self._heads:
            return False
        first, following = words[said.at[0]], words[said.at[-1] + 1 :][:1]
        if any(w.text in COMPARING for w in words if w.clause == first.clause):
            return True
        other = {
            root
            for word in following
            if word.clause == first.clause and not word.comma
            for root in word.roots
            if root not in self._book.uses[id]
        }
        return any(other & heads for heads in self._heads.values())

    def _settle(self, words: list[Word], taken: set[int], stage: str) -> list[_Said]:
        """Give the words to the heaviest matches, in the order of the text.

        Common words may serve several, and a choice may be named inside a phrase by
        a word that means nothing else. Where the same words mean several findings
        alike, all of them stay, unless the words around go better with one.
        """
        matches = sorted(
            (
                match
                for match in self._matcher.matches(words)
                if self._fits_stage(match, words, stage)
            ),
            key=lambda match: -match.score * self._pull(match, stage),
        )
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
            named = pattern.value != "yes" and pattern.plain
            mine = chosen if named else taken
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

    def _pull(self, match: Match, stage: str) -> float:
        """What is met where the person stands is the likelier meaning."""
        stages = self._findings[match.pattern.finding].stages
        return HERE if self._stages.is_met_at(stages, stage) else 1.0

    def _fits_stage(self, match: Match, words: list[Word], stage: str) -> bool:
        """Whether a finding may be heard from someone who stands there.

        Away from its own stage a finding has to be named by what it is about, there
        or before, and not by a single word; so has a check where the stage is not
        known. What comes to light late in the work is
        not heard from someone who has not got there, unless they name that stage.
        """
        finding = self._findings[match.pattern.finding]
        if finding.role == "change":
            return _speaks_of_a_change(words, match.at)
        if finding.role not in ("sign", "check", "timing"):
            return True
        roots = {root for n in match.at for root in words[n].roots}
        about = self._about[finding.id]
        if finding.stages and self._stages.yet_to_come(finding.stages, stage):
            return bool(roots & self._stages.words_of(finding.stages))
        if self._stages.is_met_at(finding.stages, stage):
            return True
        if stage and len(match.at) == 1:
            return False
        whole = match.share > SURE and len(match.at) > 1 and not stage
        if not about or whole or (finding.role == "sign" and not stage):
            return True
        clause = words[match.at[-1]].clause
        return any(about & {*w.roots} for w in words if w.clause <= clause)

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
        first, last = words[match.at[0]].place, words[match.at[-1]].place
        around: dict[str, float] = {}
        for word in words[max(0, match.at[0] - SCOPE) : match.at[-1] + SCOPE]:
            apart = max(first - word.place, word.place - last) > SCOPE
            for root in word.roots:
                around[root] = max(around.get(root, 0.0), APART if apart else 1.0)
        fits = {
            id: sum(
                self._book.rarity(root) * around[root]
                for root in around.keys() & self._book.uses[id].keys()
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


def _speaks_of_a_change(words: list[Word], at: tuple[int, ...]) -> bool:
    """Whether something near these words is said to have begun or not to have helped.

    Clauses end at words such as 'since', so the next ones count as well.
    """
    least, most = words[at[0]].clause - 1, words[at[-1]].clause + 1
    return any(
        word.text in BEGAN or word.text in NEGATORS
        for word in words
        if least <= word.clause <= most
    )


class _Stages:
    """The stages of the work: which come before which, and the words for them."""

    def __init__(self, knowledge: Knowledge, book: Phrasebook) -> None:
        self._rank: dict[str, int] = {}
        self._late: set[str] = set()
        self._words: dict[str, set[str]] = {}
        rank = 0
        for stage in knowledge.stages.values():
            rank += stage.here is not None
            self._rank[stage.id] = max(rank, 1)
            if stage.late == "yes":
                self._late.add(stage.id)
            said = cut(f"{stage.name} {stage.here or ''}")
            self._words[stage.id] = {
                root
                for word in said
                if word.text not in STOP
                for root in book.vocabulary.roots_of(word.text)
            }

    def is_met_at(self, stages: list[str], here: str) -> bool:
        """Whether one of these stages is where the person stands."""
        return here in self._rank and any(
            self._rank.get(stage) == self._rank[here] for stage in stages
        )

    def yet_to_come(self, stages: list[str], here: str) -> bool:
        """Whether these stages are late ones that the person has not come to."""
        return (
            here in self._rank
            and self._late.issuperset(stages)
            and all(self._rank[stage] > self._rank[here] for stage in stages)
        )

    def words_of(self, stages: list[str]) -> set[str]:
        """The roots of the words for these stages."""
        return set().union(*(self._words[stage] for stage in stages))
