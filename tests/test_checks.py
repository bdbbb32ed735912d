"""What a record refers to: each bad reference is named by its place, and only it."""

from __future__ import annotations

from collections.abc import Collection

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from knowledge_copy import KnowledgeCopy

from diagnose import checks, load_knowledge
from diagnose.errors import near, nearest, quoted, shortened, unknown
from diagnose.records import Knowledge

CAUSES, STATES = "causes/all.yaml", "states/all.yaml"
FINDINGS, FIXES, RULES = "findings/all.yaml", "fixes/all.yaml", "rules/all.yaml"
WINDOWS, WORKINGS = "windows/all.yaml", "workings/all.yaml"
MESHES, LIGHTS, GUIDE = "meshes.yaml", "lights.yaml", "guide.yaml"
FILM = "{finding: stencil, value: film}"
LOW = "{reading: thickness, below: 10}"
LINK = "strength: often\n    because: x\n    sources: [s1]"

# file, text → text with the mark ¦ where the message has to point, what is said
REFERENCES: dict[str, tuple[str, str, str, str]] = {
    "a link to no state": (
        CAUSES,
        "- state: thin",
        "- state: ¦thinn",
        "few-coats: link: there is no state 'thinn' (did you mean 'thin'?).",
    ),
    "a link to no finding": (
        CAUSES,
        "- finding: coats",
        "- finding: ¦coat",
        "few-coats: link: there is no finding 'coat' (did you mean 'coats'?).",
    ),
    "a link to a cause": (
        CAUSES,
        "- state: thin",
        "- state: ¦nick",
        "few-coats: link: there is no state 'nick' (one of: thin, uneven).",
    ),
    "a link to no value of a choice": (
        CAUSES,
        "value: one",
        "value: ¦three",
        "few-coats: link: there is no value 'three' (one of: one, two, many).",
    ),
    "a link to a reading": (
        CAUSES,
        "- finding: coats",
        "- finding: ¦thickness",
        "few-coats: link: 'thickness' is a reading; link to what it decides.",
    ),
    "a link to a no": (
        CAUSES,
        "- finding: gives",
        "- finding: gives\n    value: ¦no",
        "slack: link: a link to a yes-no finding goes to its value 'yes'.",
    ),
    "a fix at no stage": (
        FIXES,
        "moment: save-run",
        "moment: save-run\n  at: [¦presss]",
        "go-on: word: there is no stage 'presss' (did you mean 'press'?).",
    ),
    "a misspelt strength": (
        CAUSES,
        "strength: usually",
        "strength: ¦usualy",
        "few-coats: link: there is no strength 'usualy' (did you mean 'usually'?).",
    ),
    "a second link to a state": (
        CAUSES,
        "  shows:\n  - finding: coats",
        f"  - ¦state: thin\n    {LINK}\n  shows:\n  - finding: coats",
        "few-coats: link: a second link to 'thin'.",
    ),
    "a source that is none": (
        CAUSES,
        "[s1/s1-c1]",
        "[common practice, ¦s2/s1-c1]",
        "few-coats: source: there is no source 's2' (one of: common practice, our "
        "judgement, verbal-scale, s1).",
    ),
    "a claim that is none": (
        CAUSES,
        "[s1/s1-c1]",
        "[¦s1/s1-c2]",
        "few-coats: source: there is no claim 's1-c2' (did you mean 's1-c1'?).",
    ),
    "common practice misspelt": (
        CAUSES,
        "[common practice]",
        "[¦common practise]",
        "few-coats: source: there is no source 'common practise' (did you mean 'common "
        "practice'?).",
    ),
    "a misspelt stage": (
        CAUSES,
        "stage: coating",
        "stage: ¦coatin",
        "few-coats: word: there is no stage 'coatin' (did you mean 'coating'?).",
    ),
    "an unknown word for how common": (
        CAUSES,
        "how_common: common",
        "how_common: ¦seldom",
        "few-coats: word: there is no word for how common 'seldom' (one of: very "
        "common, common, fairly common, uncommon, rare).",
    ),
    "a tool of a check": (
        CAUSES,
        "    minutes: 600",
        "    minutes: 600\n    needs: [gauge, ¦gage]",
        "few-coats: word: there is no tool 'gage' (did you mean 'gauge'?).",
    ),
    "a caution of a check": (
        CAUSES,
        "    minutes: 600",
        "    minutes: 600\n    cautions: [¦lampp]",
        "few-coats: word: there is no caution 'lampp' (did you mean 'lamp'?).",
    ),
    "a look-alike that is the record itself": (
        CAUSES,
        "- id: slack\n    tell",
        "- id: ¦few-coats\n    tell",
        "few-coats: look-alike: a record is not its own look-alike.",
    ),
    "a look-alike of another kind": (
        CAUSES,
        "- id: slack\n    tell",
        "- id: ¦thin\n    tell",
        "few-coats: look-alike: there is no cause 'thin' (one of: few-coats, slack, "
        "nick).",
    ),
    "a state that makes itself": (
        STATES,
        "makes: []",
        f"makes:\n  - state: ¦thin\n    {LINK}",
        "thin: ring: states lead round in a ring: thin → thin.",
    ),
    "an unknown word for what is seen anyway": (
        FINDINGS,
        "seen_anyway: rarely",
        "seen_anyway: ¦seldom",
        "stairs: word: there is no word for how often it is seen 'seldom' (one of: "
        "hardly ever, rarely, now and then, sometimes, often).",
    ),
    "a stage of a finding": (
        FINDINGS,
        "stages: [press, coating]",
        "stages: [press, ¦coat]",
        "bands: word: there is no stage 'coat' (did you mean 'coating'?).",
    ),
    "an opening sign without a stage": (
        FINDINGS,
        "  stages: [press]\n  opening: yes",
        "  opening: ¦yes",
        "stairs: finding: a sign of the opening list needs the stages it is listed in.",
    ),
    "an opening choice": (
        FINDINGS,
        "  role: habit\n",
        "  role: habit\n  stages: [press]\n  opening: ¦yes\n",
        "coats: finding: only a yes-no finding can stand in the opening list.",
    ),
    "a key of another kind of finding": (
        FINDINGS,
        "  seen_anyway: rarely\n",
        "  seen_anyway: rarely\n  unit: ¦mm\n",
        "stairs: finding: 'unit' is for the kind 'reading'; this finding's kind is "
        "'yes-no'.",
    ),
    "a key that the kind of finding needs": (
        FINDINGS,
        "- id: stairs\n  status: tried\n  name: sawtooth edges\n  role: sign\n"
        "  kind: yes-no",
        "- ¦id: stairs\n  status: tried\n  name: sawtooth edges\n  role: sign\n"
        "  choices:\n  - {id: a, name: a, says: A., usual: 0.5}\n"
        "  - {id: b, name: b, says: B., usual: 0.5}\n  unit: mm\n  kind: reading",
        "stairs: finding: a finding of the kind 'reading' needs the key 'lowest'.",
    ),
    "the lowest above the highest": (
        FINDINGS,
        "lowest: 0",
        "lowest: ¦100",
        "thickness: finding: 'lowest' has to be below 'highest' (100).",
    ),
    "what is usual beyond what can be": (
        FINDINGS,
        "lowest: 0",
        "lowest: 0\n  usual: ¦200",
        "thickness: finding: 'usual' has to lie between 'lowest' and 'highest'.",
    ),
    "what is usual of no reading": (
        FINDINGS,
        "  seen_anyway: rarely\n",
        "  seen_anyway: rarely\n  usual: ¦3\n",
        "stairs: finding: 'usual' is for a reading; this finding's kind is 'yes-no'.",
    ),
    "measured by what is none": (
        FINDINGS,
        "measured_by: thickness",
        "measured_by: ¦thicknes",
        "thickness-low: finding: there is no reading 'thicknes' (did you mean "
        "'thickness'?).",
    ),
    "measured by a sign": (
        FINDINGS,
        "measured_by: thickness",
        "measured_by: ¦stairs",
        "thickness-low: finding: there is no reading 'stairs' (one of: thickness).",
    ),
    "measured, but no rule concludes it": (
        FINDINGS,
        "seen_anyway: hardly ever",
        "seen_anyway: hardly ever\n  measured_by: ¦thickness",
        "nick-felt: finding: there is no rule that concludes it from the reading "
        "'thickness'.",
    ),
    "two choices of one id": (
        FINDINGS,
        "{id: two,",
        "{id: ¦one,",
        "coats: finding: a second choice has the id 'one'.",
    ),
    "two choices of one name": (
        FINDINGS,
        "name: two coats",
        "name: ¦one coat",
        "coats: finding: a second choice has the name 'one coat'.",
    ),
    "a choice called like the soft yes": (
        FINDINGS,
        "{id: two,",
        "{id: ¦somewhat,",
        "coats: finding: 'somewhat' is an answer of its own; take another id.",
    ),
    "a misspelt moment": (
        FIXES,
        "moment: remake",
        "moment: ¦remakes",
        "coat-again: word: there is no moment 'remakes' (did you mean 'remake'?).",
    ),
    "a cure of no cause": (
        FIXES,
        "cause: few-coats",
        "cause: ¦few-coat",
        "coat-again: word: there is no cause 'few-coat' (did you mean 'few-coats'?).",
    ),
    "a cure of no state": (
        FIXES,
        "state: thin",
        "state: ¦thinn",
        "go-on: word: there is no state 'thinn' (did you mean 'thin'?).",
    ),
    "a cure of a cause and a state": (
        FIXES,
        "{cause: few-coats,",
        "¦{cause: few-coats, state: thin,",
        "coat-again: word: a cure names either a cause or a state.",
    ),
    "a cure of nothing": (
        FIXES,
        "{cause: few-coats,",
        "¦{",
        "coat-again: word: a cure names either a cause or a state.",
    ),
    "an unknown word for how sure": (
        FIXES,
        "sure: usually",
        "sure: ¦certain",
        "coat-again: word: there is no word for how sure 'certain' (one of: almost "
        "always, usually, often, sometimes, rarely).",
    ),
    "a caution of a fix": (
        FIXES,
        "cautions: [lamp]",
        "cautions: [¦lampe]",
        "write-it-up: word: there is no caution 'lampe' (did you mean 'lamp'?).",
    ),
    "a condition on no finding": (
        RULES,
        FILM,
        "{finding: ¦stencl, value: film}",
        "film-no-trough: rule: there is no finding 'stencl' (did you mean 'stencil'?).",
    ),
    "a condition on no value": (
        RULES,
        FILM,
        "{finding: stencil, value: ¦[film, flim]}",
        "film-no-trough: rule: there is no value 'flim' (did you mean 'film'?).",
    ),
    "a condition on an empty list of values": (
        RULES,
        FILM,
        "{finding: stencil, value: ¦[]}",
        "film-no-trough: rule: the list is empty; one value at least belongs here.",
    ),
    "a condition with no part": (
        RULES,
        FILM,
        "¦{}",
        "film-no-trough: rule: a condition names one finding, one reading or one "
        "state.",
    ),
    "a condition with too many parts": (
        RULES,
        FILM,
        "¦{finding: stencil, state: thin}",
        "film-no-trough: rule: a condition names one finding, one reading or one "
        "state.",
    ),
    "a reading as a finding": (
        RULES,
        "{finding: gives}",
        "{finding: ¦thickness}",
        "tight-and-slack: rule: 'thickness' is a reading; write 'reading:' and a "
        "limit.",
    ),
    "a finding as a reading": (
        RULES,
        "{finding: gives}",
        "{reading: ¦gives, below: 3}",
        "tight-and-slack: rule: there is no reading 'gives' (one of: thickness).",
    ),
    "a limit for a finding": (
        RULES,
        FILM,
        "{finding: stencil, value: film, below: ¦5}",
        "film-no-trough: rule: 'below' is for a reading.",
    ),
    "a value for a state": (
        RULES,
        "{state: uneven}",
        "{state: uneven, value: ¦yes}",
        "tight-and-slack: rule: 'value' is for a finding.",
    ),
    "a condition on no state": (
        RULES,
        "{state: uneven}",
        "{state: ¦uneve}",
        "tight-and-slack: rule: there is no state 'uneve' (did you mean 'uneven'?).",
    ),
    "a condition on no reading": (
        RULES,
        LOW,
        "{reading: ¦thicknes, below: 10}",
        "thin-by-gauge: rule: there is no reading 'thicknes' (did you mean "
        "'thickness'?).",
    ),
    "a reading without a limit": (
        RULES,
        LOW,
        "¦{reading: thickness}",
        "thin-by-gauge: rule: a reading needs one of 'below', 'above' or 'between'.",
    ),
    "a reading with two limits": (
        RULES,
        LOW,
        "¦{reading: thickness, below: 10, above: 5}",
        "thin-by-gauge: rule: a reading needs one of 'below', 'above' or 'between'.",
    ),
    "a limit out of range": (
        RULES,
        LOW,
        "{reading: thickness, below: ¦101}",
        "thin-by-gauge: rule: 101 is out of range; 'thickness' lies between 0 and 100 "
        "%.",
    ),
    "limits the wrong way round": (
        RULES,
        LOW,
        "{reading: thickness, between: ¦[10, 5]}",
        "thin-by-gauge: rule: the first number has to be below the second.",
    ),
    "none of what a rule concludes": (
        RULES,
        f"none:\n    - {FILM}",
        "none:\n    - ¦{finding: thickness-low}",
        "tight-and-slack: rule: 'none' can't name 'thickness-low': the rule "
        "'thin-by-gauge' concludes it.",
    ),
    "none of a reading": (
        RULES,
        f"none:\n    - {FILM}",
        "none:\n    - ¦{reading: thickness, below: 5}",
        "tight-and-slack: rule: 'none' takes findings only.",
    ),
    "none of a state": (
        RULES,
        f"none:\n    - {FILM}",
        "none:\n    - ¦{state: thin}",
        "tight-and-slack: rule: 'none' takes findings only.",
    ),
    "no condition at all": (
        RULES,
        f"when:\n    all:\n    - {FILM}",
        "when: ¦{}",
        "film-no-trough: rule: a rule needs at least one condition under 'all' or "
        "'any'.",
    ),
    "a 'none' alone": (
        RULES,
        "when:\n    any:\n    - {finding: gives}\n    - {state: uneven}",
        "when:\n    ¦any: []",
        "tight-and-slack: rule: a rule needs at least one condition under 'all' or "
        "'any'.",
    ),
    "a cause ruled out by a sign": (
        RULES,
        f"{FILM}\n  then:\n    rule_out",
        "¦{finding: bands}\n  then:\n    rule_out",
        "film-no-trough: rule: only a set-up fact or a habit may rule a cause out; "
        "'weigh' makes it less likely.",
    ),
    "a cause ruled out by a state": (
        RULES,
        f"{FILM}\n  then:\n    rule_out",
        "¦{state: thin}\n  then:\n    rule_out",
        "film-no-trough: rule: only a set-up fact or a habit may rule a cause out; "
        "'weigh' makes it less likely.",
    ),
    "a cause ruled out by a reading": (
        RULES,
        f"{LOW}\n  then:\n",
        "¦{reading: thickness, below: 10}\n  then:\n    rule_out: [nick]\n",
        "thin-by-gauge: rule: only a set-up fact or a habit may rule a cause out; "
        "'weigh' makes it less likely.",
    ),
    "ruled out, which is no cause": (
        RULES,
        "rule_out: [nick, few-coats]",
        "rule_out: [nick, ¦thin]",
        "film-no-trough: rule: there is no cause 'thin' (one of: few-coats, slack, "
        "nick).",
    ),
    "a rule that brings nothing about": (
        RULES,
        "rule_out: [nick, few-coats]",
        "¦rule_out: []",
        "film-no-trough: rule: nothing is brought about; write any of conclude, "
        "rule_out, weigh, cautions, contradiction, tell.",
    ),
    "'otherwise' where no reading is": (
        RULES,
        "  because: No trough",
        "  otherwise:\n    ¦tell: Stop.\n  because: No trough",
        "film-no-trough: rule: 'otherwise' is for a rule with one reading under 'all' "
        "alone.",
    ),
    "an 'otherwise' of nothing": (
        RULES,
        "  otherwise:\n    conclude:\n    - {finding: thickness-low, value: no}",
        "  otherwise: ¦{}",
        "thin-by-gauge: rule: nothing is brought about; write any of conclude, "
        "rule_out, weigh, cautions, contradiction, tell.",
    ),
    "a conclusion that is no finding": (
        RULES,
        "- {finding: thickness-low}",
        "- {finding: ¦thickness-lo}",
        "thin-by-gauge: rule: there is no finding 'thickness-lo' (did you mean "
        "'thickness-low'?).",
    ),
    "a conclusion that is a reading": (
        RULES,
        "- {finding: thickness-low}",
        "- {finding: ¦thickness}",
        "thin-by-gauge: rule: 'thickness' is a reading; a rule can't conclude it.",
    ),
    "a conclusion that is no value": (
        RULES,
        "- {finding: thickness-low}",
        "- {finding: thickness-low, value: ¦low}",
        "thin-by-gauge: rule: there is no value 'low' (one of: yes, no).",
    ),
    "a weight on no cause": (
        RULES,
        "causes: [slack]",
        "causes: [slack, ¦nik]",
        "tight-and-slack: rule: there is no cause 'nik' (did you mean 'nick'?).",
    ),
    "an unknown weight": (
        RULES,
        "how_much: more likely",
        "how_much: ¦more",
        "tight-and-slack: rule: there is no word for how much 'more' (one of: much "
        "more likely, more likely, less likely, much less likely).",
    ),
    "a caution of a rule": (
        RULES,
        "    contradiction",
        "    cautions: [¦lampo]\n    contradiction",
        "tight-and-slack: rule: there is no caution 'lampo' (did you mean 'lamp'?).",
    ),
    "an example on no finding": (
        RULES,
        "fires_on: {stencil: film}",
        "fires_on: {stencl: ¦film}",
        "film-no-trough: rule: there is no finding 'stencl' (did you mean 'stencil'?).",
    ),
    "an example with no value of the finding": (
        RULES,
        "silent_on: {stencil: emulsion}",
        "silent_on: {stencil: ¦emulsoin}",
        "film-no-trough: rule: there is no value 'emulsoin' (did you mean "
        "'emulsion'?).",
    ),
    "an example out of range": (
        RULES,
        'fires_on: {thickness: "5"}',
        "fires_on: {thickness: ¦500}",
        "thin-by-gauge: rule: '500': thickness over mesh lies between 0 and 100 %, for "
        "example '20 %'.",
    ),
    "an example in a wrong unit": (
        RULES,
        'fires_on: {thickness: "5"}',
        "fires_on: {thickness: ¦5 µm}",
        "thin-by-gauge: rule: '5 µm': 'µm' does not fit thickness over mesh, which is "
        "read in %, for example '20 %'.",
    ),
    "an example that is no number": (
        RULES,
        'fires_on: {thickness: "5"}',
        "fires_on: {thickness: ¦thin}",
        "thin-by-gauge: rule: 'thin' is not a reading of thickness over mesh; write a "
        "number and its unit, for example '20 %'.",
    ),
    "a pair with no cause": (
        "not-apart.yaml",
        "not_apart: []",
        "not_apart:\n- {id: a-b, causes: [nick, ¦slak], because: x}",
        "a-b: pair: there is no cause 'slak' (did you mean 'slack'?).",
    ),
    "a source of the scales": (
        "scales.yaml",
        "- verbal-scale",
        "- ¦verbal-scales",
        "scales: scale: there is no source 'verbal-scales' (did you mean "
        "'verbal-scale'?).",
    ),
    "a role of the scales": (
        "scales.yaml",
        "  sign: 0.22",
        "  sing: ¦0.22",
        "scales: scale: there is no role 'sing' (did you mean 'sign'?).",
    ),
    "a window that is none": (
        RULES,
        LOW,
        "{reading: thickness, window: ¦buildd, side: below}",
        "thin-by-gauge: rule: there is no window 'buildd' (did you mean 'build'?).",
    ),
    "a window without a side": (
        RULES,
        LOW,
        "¦{reading: thickness, window: build}",
        "thin-by-gauge: rule: 'window' and 'side' (below, within or above) go "
        "together.",
    ),
    "a window that stands by no reading": (
        RULES,
        FILM,
        "{finding: stencil, value: film, window: ¦build, side: below}",
        "film-no-trough: rule: 'window' is for a reading.",
    ),
    "a window without an edge": (
        WINDOWS,
        "- id: build",
        """- ¦id: nowhere
  status: tried
  name: x
  unit: x
  within: x
  because: x
  sources: [common practice]
- id: build""",
        "nowhere: window: a window needs 'low', 'high' or both.",
    ),
    "a window upside down": (
        WINDOWS,
        "low: 10",
        "low: ¦30",
        "build: window: 'low' has to be below 'high'.",
    ),
    "an edge of a window that says nothing": (
        WINDOWS,
        "- id: build",
        """- ¦id: half
  status: tried
  name: x
  unit: x
  low: 1
  within: x
  because: x
  sources: [common practice]
- id: build""",
        "half: window: 'low' and 'below' go together: the edge, and what is said.",
    ),
    "a source of a window": (
        WINDOWS,
        "[common practice]",
        "[¦common practise]",
        "build: source: there is no source 'common practise' (did you mean 'common "
        "practice'?).",
    ),
    "a working that names no function": (
        WORKINGS,
        "works: stencil.emulsion_over_mesh",
        "works: ¦stencil.emulsion_over_mess",
        "over-mesh: working: there is no calculation 'stencil.emulsion_over_mess' (did "
        "you mean 'stencil.emulsion_over_mesh'?).",
    ),
    "a working that names no module": (
        WORKINGS,
        "works: stencil.emulsion_over_mesh",
        "works: ¦os.system",
        "over-mesh: working: there is no calculation 'os.system'.",
    ),
    "a working that names what is no function": (
        WORKINGS,
        "works: stencil.emulsion_over_mesh",
        "works: ¦stencil.sqrt",
        "over-mesh: working: there is no calculation 'stencil.sqrt'.",
    ),
    "an input that the function does not take": (
        WORKINGS,
        "inputs:",
        "inputs:\n  - {id: ¦more, name: x, lowest: 0, highest: 1, usual: 1, how: x}",
        "over-mesh: working: 'stencil.emulsion_over_mesh' takes no 'more'.",
    ),
    "one number where the function takes several": (
        WORKINGS,
        "several: yes",
        "several: ¦no",
        "over-mesh: working: 'several' of 'stencil-thickness' has to be 'yes'.",
    ),
    "a result that the function does not give": (
        WORKINGS,
        "gives:",
        "gives:\n  - {id: ¦shares, name: x}",
        "over-mesh: working: 'stencil.emulsion_over_mesh' gives no 'shares'.",
    ),
    "a number that a working does not have": (
        WORKINGS,
        "means: Over {mesh-thickness}",
        "means: ¦Over {mesh-thicknes}",
        "over-mesh: working: there is no number 'mesh-thicknes' (did you mean "
        "'mesh-thickness'?).",
    ),
    "a number in what to check next": (
        WORKINGS,
        "check_next: Measure it again, after {stencil-thickness}",
        "check_next: ¦Measure it again, after {}",
        "over-mesh: working: there is no number '' (one of: stencil-thickness, "
        "mesh-thickness, emulsion, share).",
    ),
    "two numbers of one name": (
        WORKINGS,
        "- id: over-mesh",
        """- ¦id: twice
  status: tried
  name: x
  topic: x
  works: step_wedge.filter_of_density
  what: x
  inputs:
  - {id: filter-density, name: x, lowest: 0, highest: 1, how: x}
  gives:
  - {id: factor, name: x}
  - {id: factor, name: y}
  formula: x
  means: x
  example: {filter-density: "1"}
  sources: [common practice]
- id: over-mesh""",
        "twice: working: 'factor' stands for two numbers.",
    ),
    "an input of no width": (
        WORKINGS,
        "lowest: 1\n",
        "lowest: ¦500\n",
        "over-mesh: working: 'lowest' has to be below 'highest' (500).",
    ),
    "an example of no input": (
        WORKINGS,
        "example: {stencil-thickness:",
        "example: {mesh: ¦3, stencil-thickness:",
        "over-mesh: working: there is no input 'mesh' (one of: stencil-thickness, "
        "mesh-thickness).",
    ),
    "a tool of an input": (
        WORKINGS,
        "needs: [gauge]",
        "needs: [¦gage]",
        "over-mesh: working: there is no tool 'gage' (did you mean 'gauge'?).",
    ),
    "a caution of a working": (
        WORKINGS,
        '  sources: [common practice, "formula',
        '  cautions: [¦lampp]\n  sources: [common practice, "formula',
        "over-mesh: working: there is no caution 'lampp' (did you mean 'lamp'?).",
    ),
    "an input in another unit than its reading": (
        WORKINGS,
        "needs: [gauge]",
        "finding: ¦thickness",
        "over-mesh: working: 'thickness' is in '%', this is in 'µm'.",
    ),
    "an input that stands for no reading": (
        WORKINGS,
        "needs: [gauge]",
        "finding: ¦stairs",
        "over-mesh: working: there is no reading 'stairs' (one of: thickness).",
    ),
    "a result in another unit than its window": (
        WORKINGS,
        'unit: "%"\n    window: build',
        "unit: µm\n    window: ¦build",
        "over-mesh: working: 'build' is in '%', this is in 'µm'.",
    ),
    "a result's window that is none": (
        WORKINGS,
        "window: build",
        "window: ¦bild",
        "over-mesh: working: there is no window 'bild' (did you mean 'build'?).",
    ),
    "a fix worked out by nothing": (
        FIXES,
        "moment: save-run",
        "moment: save-run\n  works_out: [¦over-mash]",
        "go-on: working: there is no working 'over-mash' (did you mean 'over-mesh'?).",
    ),
    "a source of a working": (
        WORKINGS,
        '"formula: by hand"',
        "¦s1/s1-c2",
        "over-mesh: source: there is no claim 's1-c2' (did you mean 's1-c1'?).",
    ),
    "a mesh without openings": (
        MESHES,
        "thread: 40",
        "thread: ¦120",
        "plain-90-40: table: threads of 120 µm fill the mesh; 111.1 is a pitch.",
    ),
    "a light of odd shares": (
        LIGHTS,
        "below_450: 3",
        "below_450: ¦9",
        "lamp-light: table: no more can lie below 450 nm than below 500 nm.",
    ),
    "a source of a mesh": (
        MESHES,
        "[s1/s1-c1]",
        "[¦s1/s1-c2]",
        "plain-90-40: source: there is no claim 's1-c2' (did you mean 's1-c1'?).",
    ),
    "a source of a light": (
        LIGHTS,
        "[common practice]",
        "[¦cie]",
        "lamp-light: source: there is no source 'cie' (one of: common practice, our "
        "judgement, verbal-scale, s1).",
    ),
    "a picture that can not be drawn": (
        "pictures.yaml",
        "- id: sawtooth",
        "- id: ¦sawtoth",
        "sawtoth: picture: there is no drawing 'sawtoth' (did you mean 'sawtooth'?).",
    ),
    "a sound number that is none": (
        "pictures.yaml",
        "sound: {emulsion-over-mesh: 30}",
        "sound: {angel: ¦30}",
        "sawtooth: picture: there is no number 'angel' (did you mean 'angle'?).",
    ),
    "a finding pictured by nothing": (
        FINDINGS,
        "  role: sign",
        "  pictured: ¦sawtoth\n  role: sign",
        "stairs: picture: there is no picture 'sawtoth' (did you mean 'sawtooth'?).",
    ),
    "a number of a picture out of its range": (
        FINDINGS,
        "  role: sign",
        "  pictured: sawtooth\n  pictured_with: {angle: ¦80}\n  role: sign",
        "stairs: picture: angle lies between 2 and 45.",
    ),
    "a stage of the guide": (
        GUIDE,
        "stage: mesh",
        "stage: ¦mehs",
        "tighten: guide: there is no stage 'mehs' (did you mean 'mesh'?).",
    ),
    "a finding that is said loosely": (
        "loosely.yaml",
        "id: bands",
        "id: ¦bnads",
        "bnads: loosely: there is no finding 'bnads' (did you mean 'bands'?).",
    ),
    "a choice that is said loosely": (
        "loosely.yaml",
        "one: [a lonely layer]",
        "oen: ¦[a lonely layer]",
        "coats: loosely: there is no choice 'oen' (did you mean 'one'?).",
    ),
    "a choice said loosely without its value": (
        "loosely.yaml",
        "  values:\n    one: [a lonely layer]",
        "  said: ¦[a lonely layer]",
        "coats: loosely: only a yes-no finding has this.",
    ),
    "a sign of the guide": (
        GUIDE,
        "  sources:",
        "  signs: [¦bnads]\n  sources:",
        "tighten: guide: there is no finding 'bnads' (did you mean 'bands'?).",
    ),
    "a cause of the guide": (
        GUIDE,
        "  sources:",
        "  causes: [¦slakc]\n  sources:",
        "tighten: guide: there is no cause 'slakc' (did you mean 'slack'?).",
    ),
    "a cause of another stage in the guide": (
        GUIDE,
        "  sources:",
        "  causes: [slack, ¦nick]\n  sources:",
        "tighten: guide: this is a cause of 'coating', not of 'mesh'.",
    ),
    "a caution of the guide": (
        GUIDE,
        "  sources:",
        "  cautions: [¦lmap]\n  sources:",
        "tighten: guide: there is no caution 'lmap' (did you mean 'lamp'?).",
    ),
    "a window of the guide": (
        GUIDE,
        "do: [Stretch it.]",
        'do: [Stretch it., ¦"To {window: bulid}."]',
        "tighten: guide: there is no window 'bulid' (did you mean 'build'?).",
    ),
    "braces of the guide without a window": (
        GUIDE,
        "well: It does not give.",
        'well: ¦"It is {build}."',
        "tighten: guide: in braces belongs a window, such as {window: mesh-tension}.",
    ),
}


def test_the_small_knowledge_has_no_fault(small: Knowledge) -> None:
    assert list(checks.references(small)) == []


@pytest.mark.parametrize("fault", REFERENCES)
def test_a_bad_reference_is_named_by_its_place(fault: str, copy: KnowledgeCopy) -> None:
    """One fault, one sentence, at the word that has to be put right."""
    file, old, new, says = REFERENCES[fault]
    place = copy.edit(file, old, new)
    assert f"{place}: {says}" in copy.faults()
    if fault not in SEVERAL:
        assert copy.faults() == [f"{place}: {says}"]


SEVERAL = ["a key that the kind of finding needs"]
"""Faults in the table that are several at once."""


def test_each_kind_of_check_complains_in_the_table() -> None:
    """No check of references goes without a case above."""
    found = {says.split(": ")[1] for _, _, _, says in REFERENCES.values()}
    assert found == set(checks._REFERENCES)


def test_a_ring_of_states_is_named_with_its_members(copy: KnowledgeCopy) -> None:
    """The link that closes the ring is the place; the ring is written out."""
    copy.edit(STATES, "makes: []", f"makes:\n  - state: ¦uneven\n    {LINK}")
    place = copy.edit(STATES, "state: thin\n", "state: ¦thin\n")
    says = "uneven: ring: states lead round in a ring: thin → uneven → thin."
    assert copy.faults() == [f"{place}: {says}"]


def test_every_ring_is_named_in_one_pass(copy: KnowledgeCopy) -> None:
    """Two rings apart from one another are two faults."""
    state = (
        copy.text(STATES).split("\n- ")[0].replace("thin", "X").replace("uneven", "Y")
    )
    text = copy.text(STATES)
    for one, other in (("a", "b"), ("b", "a"), ("c", "c")):
        made = state.replace("X-low", "thickness-low").replace("X", one)
        made = made.replace("Y", "a" if one != "a" else "b")
        text += made.replace("makes: []", f"makes:\n  - state: {other}\n    {LINK}")
        text += "\n"
    copy.write(STATES, f"¦{text}")
    rings = [line.rsplit("ring: ", 1)[1] for line in copy.faults()]
    assert rings == ["a → b → a.", "c → c."]


def test_many_ways_between_states_are_no_trouble(copy: KnowledgeCopy) -> None:
    """Forty layers of two states, each made by both before: 2**40 ways, no ring."""
    text = copy.text(STATES)
    for layer in range(40):
        for side in "ab":
            makes = "".join(
                f"\n  - state: {other}{layer + 1}\n    {LINK}"
                for other in "ab"
                if layer < 39
            )
            text += (
                f"- id: {side}{layer}\n  status: tried\n  name: x\n  stage: mesh\n"
                f"  what: x\n  makes: {makes or '[]'}\n  sources: [s1]\n"
            )
    copy.write(STATES, f"¦{text}")
    assert len(load_knowledge(copy.folder).states) == 82


@pytest.mark.parametrize("part", ["then", "otherwise"])
def test_otherwise_may_not_rule_out_either(part: str, copy: KnowledgeCopy) -> None:
    """What hangs on a reading rules nothing out, whichever way the reading falls."""
    low = "conclude:\n    - {finding: thickness-low"
    old = {"then": f"{low}}}", "otherwise": f"otherwise:\n    {low}, value: no}}"}[part]
    copy.edit(RULES, old, f"{old}\n    ¦rule_out: [nick]")
    (fault,) = copy.faults()
    assert fault.startswith(
        f"{copy.path(RULES)}:19:7: thin-by-gauge: rule: only a set-"
    )


def test_a_habit_may_rule_a_cause_out(copy: KnowledgeCopy) -> None:
    """Set-up facts and habits rule out; 'none' beside them does no harm."""
    copy.edit(RULES, FILM, "¦{finding: coats, value: two}\n    none:\n    - {state: x}")
    copy.edit(RULES, "{state: x}", "¦{finding: gives}")
    copy.edit(RULES, "fires_on: {stencil: film}", "¦fires_on: {coats: two}")
    assert load_knowledge(copy.folder).rules["film-no-trough"].then.rule_out


# the words of a message


@settings(deadline=None)
@given(st.text(), st.lists(st.text(min_size=1, max_size=9), max_size=12))
def test_any_word_makes_one_short_line(word: str, known: Collection[str]) -> None:
    """No word, however long or odd, spoils a message or the terminal."""
    assert unknown("state", word, []).count("\n") == 0
    assert len(quoted(word)) < 4 * 70 * 3
    assert quoted(word).isprintable()
    meant = near(word, known)
    assert meant is None or meant in known


@given(st.sampled_from(["thin", "uneven", "few-coats"]), st.integers(0, 8))
def test_one_letter_too_many_is_still_understood(name: str, at: int) -> None:
    """The nearest valid name is the one meant."""
    word = f"{name[:at]}x{name[at:]}"
    hint = nearest(word, ["thin", "uneven", "few-coats", "nick"])
    assert hint == f" (did you mean {name!r}?)"


def test_few_valid_names_are_listed_where_none_is_near() -> None:
    assert unknown("tool", "hammer", ["gauge", "loupe"]).endswith(
        "(one of: gauge, loupe)."
    )
    assert unknown("tool", "hammer", [str(n) for n in range(50)]) == (
        "there is no tool 'hammer'."
    )


def test_a_list_of_many_answers_is_short() -> None:
    assert shortened(["yes", "no"]) == "'yes', 'no'"
    assert shortened([str(n) for n in range(10)]).endswith("'8', '9'")
    assert shortened([str(n) for n in range(30)]).endswith("'8' or one of 21 more")
