"""Drafts of what the knowledge lacks, from cases that it did not see coming.

Looked at are cases whose confirmed cause came below the third place, or is one that the
knowledge lacks. For each such cause all its cases are held against what the network
expects: a finding that is there far more often is drafted as a link, a strength that
does not fit as another strength, words that nothing was made of as a phrase, and a
cause in free words as a record. "Far more often" is an exact binomial test, divided by
how many findings were looked at (Bonferroni); what is usual in the shop, by its other
cases, counts as expected. What people tell unasked they tell only
where it is there; so for signs a case without an answer counts as one without the sign.
"""

from __future__ import annotations

import math
import re
import textwrap
from collections import Counter
from collections.abc import (
    Callable,
    Collection,
    Iterable,
    Iterator,
    Mapping,
    Sequence,
)
from dataclasses import dataclass
from typing import Any

from rapidfuzz import fuzz

from diagnose.cases.learn import Evidence, Learnt, Seen, confirmed_causes, learn
from diagnose.cases.proposal import (
    TO_WRITE,
    about,
    as_written,
    counted,
    dump,
    our_cases,
    rounded,
)
from diagnose.cases.record import Case, today
from diagnose.cases.replay import chances, placed
from diagnose.english import STOP
from diagnose.model import Model
from diagnose.overlay import PROPOSE
from diagnose.records import Proof
from diagnose.rules import links_of
from diagnose.shapes import as_id

LOW = 3
"""A confirmed cause below this place was not seen coming."""

FEWEST = 2
"""So many cases at least stand behind a draft."""

NEWEST = 10
"""So many cases of each cause, the newest, are ranked again."""

ENOUGH = 5
"""So many answers in other cases say what is usual in a shop."""

SURE = 0.05
"""How often a draft may come of chance alone, for each cause."""

WEAKEST = 0.1
"""A link weaker than this is not worth drafting."""

PHRASE_SHARE = 0.8
"""In so many of the cases with the words the finding was there."""

PHRASE_LIFT = 2.0
"""So many times more often than in the other cases."""

SAME_WORDS = 70
"""Two descriptions this much alike (0 to 100) mean the same cause."""

STRONGEST = 0.95
"""No draft of a link is stronger."""

MOST_WORDS = 4
LETTERS = 4
"""A phrase has so many words at most, and so many letters at least."""

LONGEST = 60
"""Characters of an id."""


@dataclass(frozen=True, slots=True)
class Draft:
    """One draft: what it is about, in a sentence, and its text as a file."""

    name: str
    says: str
    text: str


Listed = Sequence[tuple[str, Case]]


def propose(
    model: Model,
    cases: Listed,
    told: Callable[[Listed], Iterable[tuple[str, Case]]] = iter,
) -> list[Draft]:
    """All drafts that the cases give reason for.

    Args:
        model: the knowledge as it is.
        cases: their ids and the cases, the oldest first.
        told: goes through the cases that are ranked again, and tells how far that has
            come.
    """
    evidence = Evidence(model)
    seen = {id: evidence.of(case) for id, case in cases}
    missed = _missed(model, told(_newest(cases)))
    drafts = [
        *_links(model, cases, seen, missed),
        *_phrases(model, cases, seen),
        *_causes(model, cases, seen),
    ]
    return drafts


def _newest(cases: Listed) -> Listed:
    """The newest cases of each cause."""
    met: Counter[str] = Counter()
    found = []
    for id, case in reversed(cases):
        causes = confirmed_causes(case)
        if any(met[cause] < NEWEST for cause in causes):
            found.append((id, case))
        met.update(causes)
    return found[::-1]


def _missed(model: Model, cases: Iterable[tuple[str, Case]]) -> dict[str, list[str]]:
    """The cases whose cause came too low, by cause."""
    found: dict[str, list[str]] = {}
    for id, case in cases:
        causes = [c for c in confirmed_causes(case) if c in model.knowledge.causes]
        if causes:
            ranked = chances(model, case)
            for cause in causes:
                if placed(ranked, cause).place > LOW:
                    found.setdefault(cause, []).append(id)
    return {cause: ids for cause, ids in found.items() if len(ids) >= FEWEST}


# links and strengths


@dataclass(frozen=True, slots=True)
class _Often:
    """How often an answer stands in the cases of one cause.

    `ids` are the cases with it, `looked` those in which the finding was looked at (for
    a sign: all), `every` all of them; `expected` is the share that the network expects.
    """

    finding: str
    value: str
    ids: tuple[str, ...]
    looked: int
    every: int
    expected: float

    def says(self) -> str:
        """The counts in words."""
        were = f"{self.expected * self.looked:.1f} expected"
        return f"in {len(self.ids)} of {self.looked} cases, {were}"


def _links(
    model: Model,
    cases: Sequence[tuple[str, Case]],
    seen: Mapping[str, Seen],
    missed: Mapping[str, Sequence[str]],
) -> Iterator[Draft]:
    strengths = model.knowledge.scales.strengths
    learnt: Learnt | None = None
    of_cause: dict[tuple[str, ...], list[str]] = {}
    for id, case in cases:
        of_cause.setdefault(confirmed_causes(case), []).append(id)
    every = _Habits.of(model, seen.values())
    for cause, low in missed.items():
        record = model.knowledge.causes[cause]
        own = of_cause.get((cause,), [])
        direct = {
            (link.target, link.value): link.strength
            for link in links_of(record)
            if link.value is not None
            and not isinstance(model.knowledge.findings[link.target], Proof)
        }
        notes, shows = [], []
        for often in _surprising(model, cause, own, seen, direct, every):
            sentence = model.knowledge.findings[often.finding].sentence(often.value)
            word = direct.get((often.finding, often.value))
            if word is None:
                entry = _new_link(often)
                before = "New link"
            else:
                learnt = learnt or learn(model, cases)
                number = learnt.links[cause, often.finding, often.value].after
                entry = {
                    **_end(often),
                    "strength": rounded(number),
                    "was": {"strength": word},
                    "cases": counted(len(often.ids), often.ids),
                }
                before = as_written(word, strengths)
            strength = float(entry["strength"])
            if word is not None or strength >= WEAKEST:
                near = f"{strength:g}, about {about(strength, strengths)}"
                notes.append(f"{sentence} {before} → {near}; {often.says()}")
                shows.append(entry)
        if shows:
            links = "a link" if len(shows) == 1 else f"{len(shows)} links"
            named = ", ".join(dict.fromkeys(one["finding"] for one in shows))
            says = f"{record.name}: {links} ({named})"
            why = (
                f"{record.name} came below the third place in {counted(len(low), low)}."
                + (f" Its newest {NEWEST} were ranked." if len(own) > NEWEST else "")
            )
            text = _head(why) + "causes:\n" + _told(notes)
            text += dump([{"id": cause, "shows": shows}])
            yield Draft(f"links-{cause}", says, text)


def _end(often: _Often) -> dict[str, Any]:
    """Where a link to it ends."""
    value = {} if often.value == "yes" else {"value": often.value}
    return {"finding": often.finding, **value}


def _new_link(often: _Often) -> dict[str, Any]:
    """A link that accounts for how often it was there (the noisy-OR solved for it)."""
    share = (len(often.ids) + 1) / (often.looked + 2)
    strength = min(max(1 - (1 - share) / (1 - often.expected), 0.01), STRONGEST)
    return {
        **_end(often),
        "strength": rounded(strength),
        "because": (
            f"In our cases it was so in {len(often.ids)} of {often.looked}, where "
            f"about {often.expected * often.looked:.1f} were to be expected."
        ),
        "sources": [our_cases(often.ids)],
    }


def _surprising(
    model: Model,
    cause: str,
    own: Sequence[str],
    seen: Mapping[str, Seen],
    direct: Collection[tuple[str, str | None]],
    habits: _Habits,
) -> list[_Often]:
    """The answers that are there far more often than expected, and the linked ones
    that are there far less often."""
    usual = habits.without(_Habits.of(model, [seen[id] for id in own])).usual()

    def expected_of(finding: str, value: str) -> float:
        written = model.chances_alone(cause, finding)[value]
        return max(written, usual.get((finding, value), 0.0))

    every = _counts(model, own, seen, expected_of)
    more = [one for one in every if _is_more(model, one, len(every))]
    by_end: dict[tuple[str, str | None], _Often] = {
        (one.finding, one.value): one for one in every
    }
    less = []
    for finding, value in direct:
        looked = sum(any(f == finding for f, _ in seen[id]) for id in own)
        one = by_end.get((finding, value))
        count = len(one.ids) if one else 0
        expected = model.chances_alone(cause, finding)[value or "yes"]
        if looked > FEWEST and at_most(count, looked, expected) < SURE / len(direct):
            ids = one.ids if one else ()
            less.append(
                _Often(finding, value or "yes", ids, looked, len(own), expected)
            )
    return more + less


@dataclass(frozen=True, slots=True)
class _Habits:
    """What is usual in a shop, whatever the cause: how often findings about the set-up
    and the habits were answered, and how often with each value."""

    answered: Counter[str]
    there: Counter[tuple[str, str]]

    @classmethod
    def of(cls, model: Model, several: Iterable[Seen]) -> _Habits:
        """Those of several cases."""
        answered: Counter[str] = Counter()
        there: Counter[tuple[str, str]] = Counter()
        for seen in several:
            for finding, vector in seen:
                if model.knowledge.findings[finding].role in ("sign", "check"):
                    continue
                answered[finding] += 1
                values = model.network.values(finding)
                for value, part in zip(values, vector, strict=True):
                    there[finding, value] += part > 0.5
        return cls(answered, there)

    def without(self, other: _Habits) -> _Habits:
        """Those of the other cases."""
        left = Counter(self.there)
        left.subtract(other.there)
        return _Habits(self.answered - other.answered, left)

    def usual(self) -> dict[tuple[str, str], float]:
        """The share of each value, where there are enough answers."""
        return {
            (finding, value): (count + 0.5) / (self.answered[finding] + 1)
            for (finding, value), count in self.there.items()
            if self.answered[finding] >= ENOUGH
        }


def _is_more(model: Model, one: _Often, among: int) -> bool:
    if len(one.ids) < FEWEST or _is_usual(model, one.finding, one.value):
        return False
    chance = 1 - at_most(len(one.ids) - 1, one.every, one.expected)
    return chance < SURE / max(among, 1)


def _counts(
    model: Model,
    own: Sequence[str],
    seen: Mapping[str, Seen],
    expected: Callable[[str, str], float],
) -> list[_Often]:
    """How often each answer but 'no' stands in these cases."""
    answered: Counter[str] = Counter()
    there: dict[tuple[str, str], list[str]] = {}
    for id in own:
        for finding, vector in seen[id]:
            answered[finding] += 1
            for value, part in zip(model.network.values(finding), vector, strict=True):
                if part > 0.5 and value != "no":
                    there.setdefault((finding, value), []).append(id)
    found = []
    for (finding, value), ids in there.items():
        is_sign = model.knowledge.findings[finding].role == "sign"
        looked = len(own) if is_sign else answered[finding]
        chance = expected(finding, value)
        found.append(_Often(finding, value, tuple(ids), looked, len(own), chance))
    return found


def at_most(count: int, total: int, share: float) -> float:
    """The chance of so many or fewer of a total, each with that share (binomial)."""
    if count < 0:
        return 0.0
    if count >= total or share <= 0:
        return 1.0
    logs = [
        math.lgamma(total + 1)
        - math.lgamma(n + 1)
        - math.lgamma(total - n + 1)
        + n * math.log(share)
        + (total - n) * math.log1p(-share)
        for n in range(count + 1)
    ]
    return min(math.fsum(map(math.exp, logs)), 1.0)


def _is_usual(model: Model, finding: str, value: str) -> bool:
    """Whether a choice is what most ordinary shops would answer."""
    record = model.knowledge.findings[finding]
    if record.kind != "choice":
        return False
    return value == max(record.choices, key=lambda choice: choice.usual).id


# phrases


def _phrases(
    model: Model, cases: Sequence[tuple[str, Case]], seen: Mapping[str, Seen]
) -> Iterator[Draft]:
    """Words that nothing was made of, and what was there each time they were said."""
    said: dict[str, list[str]] = {}
    for id, case in cases:
        for words in {w for text in case.not_understood for w in _stretches(text)}:
            said.setdefault(words, []).append(id)
    shown = {id: _there(model, seen[id]) for id, _ in cases}
    total = Counter(one for there in shown.values() for one in there)
    often = {words: ids for words, ids in said.items() if len(ids) >= FEWEST}
    longest = {
        words: ids
        for words, ids in often.items()
        if not any(
            words != other and f" {words} " in f" {other} " and len(more) == len(ids)
            for other, more in often.items()
        )
    }
    found: dict[str, dict[str, list[tuple[str, list[str]]]]] = {}
    for words, ids in longest.items():
        if model.listener.listen(words).heard:
            continue
        counts = Counter(one for id in ids for one in shown[id])
        best = max(
            counts,
            key=lambda one: (counts[one] / (total[one] + 1), counts[one], one),
            default=None,
        )
        if best is None or counts[best] < max(PHRASE_SHARE * len(ids), FEWEST):
            continue
        others = (total[best] - counts[best]) / max(len(cases) - len(ids), 1)
        if counts[best] / len(ids) >= PHRASE_LIFT * others:
            finding, value = best
            found.setdefault(finding, {}).setdefault(value, []).append((words, ids))
    if not found:
        return
    notes, records = [], []
    for finding, values in sorted(found.items()):
        record = model.knowledge.findings[finding]
        data: dict[str, Any] = {"id": finding}
        for value, phrases in values.items():
            listed = [one for one, _ in phrases]
            if record.kind == "yes-no":
                data["phrases"] = listed
            else:
                data.setdefault("choices", []).append({"id": value, "phrases": listed})
            notes += [
                f"“{one}”: {record.sentence(value)} {counted(len(ids), ids)}"
                for one, ids in phrases
            ]
        records.append(data)
    says = f"{len(notes)} phrase{'s' if len(notes) > 1 else ''} ({', '.join(found)})"
    text = _head("Words that nothing was made of, and what was there then.")
    text += "findings:\n" + _told(notes) + dump(records)
    yield Draft("phrases", says, text)


def _there(model: Model, seen: Seen) -> set[tuple[str, str]]:
    """What of a case is there: yes, or a choice that is not the usual one."""
    return {
        (finding, value)
        for finding, vector in seen
        if model.knowledge.findings[finding].role in ("sign", "check")
        for value, part in zip(model.network.values(finding), vector, strict=True)
        if part > 0.5 and value != "no" and not _is_usual(model, finding, value)
    }


def _stretches(text: str) -> Iterator[str]:
    """One to four words after one another that are no mere fillers."""
    words = re.findall(r"[^\W\d_]+", text.lower())
    for size in range(1, MOST_WORDS + 1):
        for start in range(len(words) - size + 1):
            part = words[start : start + size]
            if part[0] in STOP or part[-1] in STOP or len("".join(part)) < LETTERS:
                continue
            yield " ".join(part)


# causes


def _causes(
    model: Model, cases: Sequence[tuple[str, Case]], seen: Mapping[str, Seen]
) -> Iterator[Draft]:
    """A record for each cause that the knowledge lacks."""
    by_id = dict(cases)
    groups: list[tuple[str, list[str]]] = []
    for id, case in cases:
        for one in case.confirmed:
            if one.cause or not one.other:
                continue
            for name, ids in groups:
                if fuzz.token_set_ratio(name.lower(), one.other.lower()) >= SAME_WORDS:
                    ids.append(id)
                    break
            else:
                groups.append((one.other, [id]))
    for name, ids in groups:
        ids = list(dict.fromkeys(ids))
        if len(ids) >= FEWEST:
            own = [by_id[id] for id in ids]
            yield _cause(model, name, ids, own, seen, len(cases))


def _cause(
    model: Model,
    name: str,
    ids: Sequence[str],
    own: Sequence[Case],
    seen: Mapping[str, Seen],
    total: int,
) -> Draft:
    knowledge = model.knowledge
    id = as_id(name)[:LONGEST].rstrip("-") or "our-cause"
    if not id[0].isalpha():
        id = f"our-{id}"[:LONGEST].rstrip("-")
    while id in model.network.odds or id in knowledge.findings:
        id = f"our-{id}"[:LONGEST].rstrip("-")
    every = _counts(model, ids, seen, lambda f, v: model.chances_anyway(f)[v])
    more = [one for one in every if _is_more(model, one, len(every))]
    shows = [_new_link(one) for one in more]
    stages = Counter(s for o in more for s in knowledge.findings[o.finding].stages)
    stages.update(case.stage for case in own if case.stage in knowledge.stages)
    stage = stages.most_common(1)[0][0] if stages else next(iter(knowledge.stages))
    ranked = Counter(
        cause
        for case in own
        for cause in list(_first(model, case))[:1]
        if cause in knowledge.causes
    )
    hows = [one.how for case in own for one in case.confirmed if one.other and one.how]
    proof = " ".join(dict.fromkeys(hows))
    odds = sum(model.network.odds.values()) * len(ids) / max(total, 1)
    record: dict[str, Any] = {
        "id": id,
        "status": "draft",
        "name": name,
        "stage": stage,
        "what": f"{TO_WRITE} one sentence on what was done or has worn.",
        "how_common": rounded(min(max(odds / (1 + odds), 0.001), 0.5)),
        "shows": shows,
        "settled_by": [{"how": proof or f"{TO_WRITE} how to prove it.", "minutes": 10}],
        "looks_like": [
            {"id": cause, "tell_apart": f"{TO_WRITE} how to tell the two apart."}
            for cause, _ in ranked.most_common(2)
        ],
        "sources": [our_cases(ids)],
    }
    if not shows:
        del record["shows"]
    says = f"a new cause: {name} ({counted(len(ids))})"
    text = _head(
        f"“{name}” was found in {counted(len(ids), ids)}; the knowledge lacks it."
    )
    notes = [
        "Fill in what is to be written. It still wants the states that it makes, if it "
        "makes any, and a fix for each moment (fixes: in this file will do).",
        *(
            f"{knowledge.findings[one.finding].sentence(one.value)} {one.says()}"
            for one in more
        ),
    ]
    text += "causes:\n" + _told(notes) + dump([record])
    return Draft(f"cause-{id}", says, text)


def _first(model: Model, case: Case) -> list[str]:
    """The causes as they were ranked, or as they are now."""
    if case.ranking:
        return [one.cause for one in case.ranking]
    ranked = chances(model, case)
    return sorted(ranked, key=lambda cause: (-ranked[cause], cause))


# texts


def _told(notes: Sequence[str]) -> str:
    """Notes as comments, folded."""
    return "".join(
        f"# {line}\n"
        for note in notes
        for line in textwrap.wrap(note, 76, subsequent_indent="  ")
    )


def _head(why: str) -> str:
    about = dump({"made_by": PROPOSE, "about": f"drafted on {today()}"})
    return (
        f"{_told([why])}# A draft: read it, mend it, take out what you do not believe. "
        "Nothing changes\n# until it is accepted: diagnose case accept FILE\n"
        f"{about}"
    )
