"""`diagnose check` takes a closer look: each of its looks complains where it should."""

from __future__ import annotations

import pytest
from knowledge_copy import KnowledgeCopy
from msgspec.structs import replace

from diagnose import load_knowledge
from diagnose.examiner import APART, CHECKS, examine, leading, told_apart_by
from diagnose.model import model_of
from diagnose.records import Knowledge

CAUSES, STATES = "causes/all.yaml", "states/all.yaml"
FINDINGS, FIXES, RULES = "findings/all.yaml", "fixes/all.yaml", "rules/all.yaml"

ALIKE = """  looks_like:
  - {id: nick, tell_apart: Look.}
"""
CAUSE_OF_NOTHING = f"""
- ¦id: hair
  status: tried
  name: a hair
  stage: coating
  what: A hair.
  how_common: rare
  settled_by:
  - how: Look.
    minutes: 1
{ALIKE}  sources: [common practice]
"""
CAUSE_THAT_CONTRADICTS = f"""
- id: hair
  status: tried
  name: a hair
  stage: coating
  what: A hair.
  how_common: rare
  makes:
  - state: thin
    strength: almost always
    because: So it is.
    sources: [common practice]
  shows:
  - finding: stairs
    strength: ¦rarely
    because: So it is.
    sources: [common practice]
  settled_by:
  - how: Look.
    minutes: 1
{ALIKE}  sources: [common practice]
"""
STATE_OF_NOTHING = """
- ¦id: dry
  status: tried
  name: dry
  stage: coating
  what: Dry.
  looks_like:
  - {id: thin, tell_apart: Look.}
  sources: [common practice]
"""
FINDING_OF_NOTHING = """
- ¦id: hum
  status: tried
  name: a hum
  role: timing
  kind: yes-no
  question: Does it hum?
  how: Listen.
  not_this: Not a whistle.
  minutes: 1
  says_yes: It hums.
  says_no: It is silent.
  seen_anyway: rarely
  sources: [common practice]
"""
READING_OF_NOTHING = """
- ¦id: warmth
  status: tried
  name: warmth
  role: check
  kind: reading
  question: How warm is it?
  how: Read it.
  not_this: Not the room.
  minutes: 1
  unit: °C
  lowest: 0
  highest: 100
  give_or_take: 1
  phrases: [heat, hot, how warm, warm]
  sources: [common practice]
"""
CAUTION_OF_NOTHING = """
- ¦id: dust
  status: tried
  name: dust
  danger: It is dust.
  do: Wear a mask.
  ask: The sheet decides.
  sources: [common practice]
"""

# file, text (None: at the end) → text with the mark ¦, what is said at the mark
LOOKS: dict[str, tuple[str, str | None, str, str]] = {
    "an example that does not fire its rule": (
        RULES,
        "fires_on: {stencil: film}",
        "fires_on: ¦{stencil: emulsion}",
        "film-no-trough: example: the rule does not fire on this.",
    ),
    "an example on the wrong side of a limit": (
        RULES,
        'fires_on: {thickness: "5"}',
        "fires_on: ¦{thickness: 15}",
        "thin-by-gauge: example: the rule does not fire on this.",
    ),
    "a counter-example that fires its rule": (
        RULES,
        'silent_on: {gives: "yes", stencil: film}',
        'silent_on: ¦{gives: "yes"}',
        "tight-and-slack: example: the rule must not fire on this, but it does.",
    ),
    "a cause that makes and shows nothing": (
        CAUSES,
        None,
        CAUSE_OF_NOTHING,
        "hair: reach: the cause makes nothing and shows in nothing.",
    ),
    "a state that nothing brings about": (
        STATES,
        None,
        STATE_OF_NOTHING,
        "dry: reach: no cause brings this state about.",
    ),
    "a state that shows in nothing": (
        STATES,
        None,
        STATE_OF_NOTHING,
        "dry: reach: the state shows in nothing.",
    ),
    "a finding that nothing shows": (
        FINDINGS,
        None,
        FINDING_OF_NOTHING,
        "hum: reach: no cause or state shows so, and no rule asks for it.",
    ),
    "a tool that nothing needs": (
        "tools.yaml",
        None,
        "\n- ¦{id: hammer, name: a hammer}\n",
        "hammer: reach: nothing needs this tool.",
    ),
    "a danger named without its caution": (
        FIXES,
        "how: Take one.",
        "how: ¦Take one from under the lamp.",
        "new-screen: caution: it names 'lamp'; show the caution 'lamp'.",
    ),
    "a caution that nothing shows": (
        "cautions.yaml",
        None,
        CAUTION_OF_NOTHING,
        "dust: reach: nothing shows this caution.",
    ),
    "a cause without a fix for a moment": (
        CAUSES,
        None,
        CAUSE_OF_NOTHING,
        "hair: cure: no fix for the moment 'prevent'.",
    ),
    "a pair that is told apart after all": (
        "not-apart.yaml",
        "not_apart: []",
        "not_apart:\n- ¦{id: a-b, causes: [slack, nick], because: It does no harm.}",
        "a-b: apart: the pair is told apart by 'nick-felt' after all.",
    ),
    "a strength that another record contradicts": (
        CAUSES,
        None,
        CAUSE_THAT_CONTRADICTS,
        "hair: strength: 'rarely' contradicts its states, which bring this about in "
        "55 of 100.",
    ),
    "a cause without a look-alike": (
        CAUSES,
        None,
        CAUSE_OF_NOTHING.replace(ALIKE, ""),
        "hair: wording: no look-alike is named.",
    ),
    "a sign with few ways to say it": (
        FINDINGS,
        "[stripes, lines across, light and dark bands, banding]",
        "¦[stripes, banding]",
        "bands: wording: 2 phrases; write 4 or more.",
    ),
    "a check with few ways to say it": (
        FINDINGS,
        "[loose mesh, mesh sags, floppy screen, mesh is loose]",
        "¦[loose mesh, mesh sags, floppy screen]",
        "gives: wording: 3 phrases; write 4 or more.",
    ),
    "a reading that decides nothing": (
        FINDINGS,
        None,
        READING_OF_NOTHING,
        "warmth: wording: no rule draws a conclusion from this reading.",
    ),
    "an example that does not work": (
        "workings/all.yaml",
        'example: {stencil-thickness: "68; 70 µm"',
        'example: ¦{stencil-thickness: "50; 52 µm"',
        "over-mesh: working: The stencil reads 51 µm and the bare mesh 60 µm; stencil "
        "and mesh together are no thinner than the mesh, so set the gauge to zero and "
        "take both again.",
    ),
    "an example in a unit that does not fit": (
        "workings/all.yaml",
        'example: {stencil-thickness: "68; 70 µm", mesh-thickness: 60 µm}',
        'example: ¦{stencil-thickness: "68; 70 µm", mesh-thickness: 60 kg}',
        "over-mesh: working: mesh-thickness: '60 kg': 'kg' does not fit thickness of "
        "the mesh, which is read in µm, for example '100 µm'.",
    ),
    "a window that nothing looks at": (
        "windows/all.yaml",
        None,
        """
- ¦id: alone
  status: tried
  name: x
  unit: x
  low: 1
  below: x
  within: x
  because: x
  sources: [common practice]
""",
        "alone: working: no rule and no working looks at this window.",
    ),
    "a word of two terms": (
        "terms.yaml",
        "- id: stencil\n  status: tried\n  name: stencil\n",
        "- ¦id: stencil\n  status: tried\n  name: stencil\n  also: [Meshes]\n",
        "stencil: term: 'Meshes' is a word of 'mesh' already.",
    ),
    "a term that is met nowhere": (
        "terms.yaml",
        None,
        """
- ¦id: flock
  status: tried
  name: flock
  what: x
  why: x
  sources: [common practice]
""",
        "flock: term: no word of it stands anywhere.",
    ),
}


def spoil(copy: KnowledgeCopy, file: str, old: str | None, new: str) -> str:
    """Edit a file, or write on at its end; the place that is marked."""
    if old is None:
        return copy.write(file, copy.text(file).rstrip("\n") + new)
    return copy.edit(file, old, new)


def test_the_good_small_knowledge_has_no_fault(small: Knowledge) -> None:
    """Nothing is complained of without reason."""
    assert examine(small) == []


@pytest.mark.parametrize("look", LOOKS)
def test_a_look_complains_at_the_place(look: str, copy: KnowledgeCopy) -> None:
    """What is loaded without a fault may still not be whole."""
    file, old, new, says = LOOKS[look]
    place = spoil(copy, file, old, new)
    faults = [str(problem) for problem in examine(load_knowledge(copy.folder))]
    assert f"{place}: {says}" in faults
    if old is not None:
        assert faults == [f"{place}: {says}"]


def test_each_look_complains_in_the_table() -> None:
    """No look goes without a case above."""
    assert {says.split(": ")[1] for *_, says in LOOKS.values()} == set(CHECKS)


def test_two_causes_that_nothing_tells_apart_are_named(copy: KnowledgeCopy) -> None:
    """The first of the two is the place."""
    copy.edit(CAUSES, "- finding: nick-felt", "¦- finding: gives")
    apart = [p for p in examine(load_knowledge(copy.folder)) if p.check == "apart"]
    says = "slack: apart: no question tells it from 'nick'."
    assert list(map(str, apart)) == [f"{copy.path(CAUSES)}:25:3: {says}"]


def test_a_cause_may_be_cured_by_way_of_its_states(copy: KnowledgeCopy) -> None:
    """A fix for a state is one for every cause that leads there, however far."""
    copy.edit(FIXES, "  - {state: uneven, sure: rarely}\n", "¦")
    assert examine(load_knowledge(copy.folder)) == []
    copy.edit(FIXES, "{state: thin,", "¦{state: uneven,")
    faults = [str(problem) for problem in examine(load_knowledge(copy.folder))]
    where = f"{copy.path(CAUSES)}:1:3"
    assert faults == [f"{where}: few-coats: cure: no fix for the moment 'save-run'."]


def test_a_listed_pair_need_not_be_told_apart(copy: KnowledgeCopy) -> None:
    """Where two causes can't be told apart, saying why is enough."""
    copy.edit(CAUSES, "  - finding: nick-felt", "¦  - finding: gives")
    pair = "- {id: a-b, causes: [slack, nick], because: Both get a new screen.}"
    copy.edit("not-apart.yaml", "not_apart: []", f"¦not_apart:\n{pair}")
    faults = [problem.check for problem in examine(load_knowledge(copy.folder))]
    assert faults == ["reach"]  # nick-felt, which nothing shows now


def test_causes_are_told_apart_by_what_they_make_differently_likely(
    small: Knowledge,
) -> None:
    """The distance is at least APART, and none by any other finding is greater."""
    model = model_of(small)

    def distance(finding: str) -> float:
        one, other = (model.chances_alone(cause, finding) for cause in pair)
        return sum(abs(one[value] - other[value]) for value in one) / 2

    for pair in (("few-coats", "slack"), ("few-coats", "nick"), ("slack", "nick")):
        best = told_apart_by(model, *pair)
        assert best is not None
        assert distance(best) == max(map(distance, model.network.outcomes)) >= APART
        assert told_apart_by(model, *reversed(pair)) == best


def test_knowledge_of_no_records_is_looked_at_without_a_crash(
    copy: KnowledgeCopy,
) -> None:
    """Empty lists are allowed; what stands by itself then is said."""
    more = ("windows/all.yaml", "workings/all.yaml")
    for file in (CAUSES, STATES, FINDINGS, FIXES, RULES, *more):
        copy.write(file, "¦[]\n")
    copy.write("loosely.yaml", "¦[]\n")
    checks = [problem.check for problem in examine(load_knowledge(copy.folder))]
    assert checks == ["reach", "reach"]  # the caution and the tool


def test_a_reading_may_lead_to_a_rule_by_way_of_others(built_in: Knowledge) -> None:
    """Or set a fix: only one that does neither decides nothing."""
    found = leading(built_in)
    assert {"eom", "mesh-thickness", "lightest-tone", "target-step"} <= found
    unset = {id: replace(fix, works_out=[]) for id, fix in built_in.fixes.items()}
    without_fixes = leading(replace(built_in, fixes=unset))
    assert found - without_fixes >= {"target-step", "frame-length"}
    assert "lightest-tone" in without_fixes
    without_rules = leading(replace(built_in, fixes=unset, rules={}))
    assert without_rules == set()
