"""The records that knowledge is made of, as they stand in the YAML files.

A record is plain data, checked for its shape when it is read. What a record may
refer to, and whether the whole makes sense, is looked at in `checks`.
"""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta, Struct, field

from diagnose.errors import Place
from diagnose.yamltext import Places, Step

Id = Annotated[
    str,
    Meta(pattern="^[a-z][a-z0-9]*(-[a-z0-9]+)*$", max_length=60),
]
Text = Annotated[str, Meta(min_length=1, max_length=2000)]
Minutes = Annotated[float, Meta(ge=0, le=10080)]
Number = Annotated[float, Meta(ge=-1e6, le=1e6)]
"""A measured value; bounded, so that 'nan' and 'inf' are none."""
Status = Literal["draft", "tried", "settled"]
YesNo = Literal["yes", "no"]


class Record(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What every record has."""

    id: Id
    status: Status
    sources: Annotated[list[Text], Meta(min_length=1)]


class LookAlike(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Another record that this one is easily taken for, and how to tell them apart."""

    id: Id
    tell_apart: Text


class Makes(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A link to a state: with what strength, and the reason in one sentence."""

    state: Id
    strength: Text
    because: Text
    sources: Annotated[list[Text], Meta(min_length=1)]


class Shows(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A link to a finding (to one value of it)."""

    finding: Id
    value: Text = "yes"
    strength: Text
    because: Text
    sources: Annotated[list[Text], Meta(min_length=1)]


class Check(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A way to settle whether a cause is the one: how, with what, how long."""

    how: Text
    needs: list[Id] = []
    minutes: Minutes
    cautions: list[Id] = []


class Cause(Record, frozen=True, kw_only=True):
    """Something that was done, or has worn, and that can be put right.

    `called` are other ways to name it, by people who think that it is this.
    """

    name: Text
    stage: Id
    what: Text
    how_common: Text
    called: list[Text] = []
    makes: list[Makes] = []
    shows: list[Shows] = []
    settled_by: Annotated[list[Check], Meta(min_length=1)]
    looks_like: list[LookAlike] = []


class State(Record, frozen=True, kw_only=True):
    """The unseen condition of mesh, stencil, positive or ink."""

    name: Text
    stage: Id
    what: Text
    makes: list[Makes] = []
    shows: list[Shows] = []
    looks_like: list[LookAlike] = []


class Choice(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One value of a finding that takes one of several; `phrases` are other ways to
    say it."""

    id: Id
    name: Text
    says: Text
    usual: Annotated[float, Meta(gt=0, le=1)]
    phrases: list[Text] = []


Role = Literal["sign", "check", "set-up", "habit", "timing", "change"]


class Finding(Record, frozen=True, kw_only=True):
    """What a person can see, feel, measure or say of their set-up.

    kind 'yes-no' has says_yes and says_no; kind 'choice' has choices; kind
    'reading' has unit, lowest, highest and give_or_take (one standard
    uncertainty, in that unit), and may have what it mostly is, `usual`. A yes-no
    finding that is only known from a reading names it in measured_by and is asked as
    that reading. What is `given` comes with the job or the shop. `steps` tell a
    newcomer how to look: what to take and where to stand, what to do, what is seen if
    it is so and if it is not. `pictured` names the picture that shows it,
    `pictured_with` numbers of that picture that are its own.
    """

    name: Text
    role: Role
    kind: Literal["yes-no", "choice", "reading"]
    stages: list[Id] = []
    opening: YesNo = "no"
    question: Text
    how: Text
    not_this: Text
    steps: tuple[Text, Text, Text] | None = None
    minutes: Minutes
    needs: list[Id] = []
    cautions: list[Id] = []
    phrases: list[Text] = []
    looks_like: list[LookAlike] = []
    says_yes: Text | None = None
    says_no: Text | None = None
    seen_anyway: Text | None = None
    measured_by: Id | None = None
    choices: list[Choice] = []
    unit: Text | None = None
    lowest: Number | None = None
    highest: Number | None = None
    give_or_take: Annotated[float, Meta(gt=0, le=1e6)] | None = None
    usual: Number | None = None
    given: YesNo = "no"
    pictured: Id | None = None
    pictured_with: dict[Id, Number] = {}

    def values(self) -> tuple[str, ...]:
        """The values it can have in the network; none for a reading."""
        if self.kind == "yes-no":
            return ("yes", "no")
        return tuple(choice.id for choice in self.choices)

    def sentence(self, value: str) -> str:
        """What that value says, as a sentence about this screen or print."""
        if self.kind == "yes-no":
            return (self.says_no if value == "no" else self.says_yes) or self.name
        for choice in self.choices:
            if choice.id == value:
                return choice.says
        return f"{self.name}: {value}"


class Proof(Finding, frozen=True, kw_only=True):
    """A check that settles a cause, made from its `settled_by`: see `proofs`."""


class Cures(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a fix cures, a cause or a state, and how surely."""

    cause: Id | None = None
    state: Id | None = None
    sure: Text

    def target(self) -> str:
        return self.cause or self.state or ""


class Fix(Record, frozen=True, kw_only=True):
    """An action, for one of the moments.

    `at` names the stages of the work where it can still be done; any where left out.
    `works_out` names the workings that give its setting in numbers.
    """

    name: Text
    moment: Id
    at: list[Id] = []
    how: Text
    why: Text
    cures: Annotated[list[Cures], Meta(min_length=1)]
    minutes: Minutes
    worked_when: Text
    materials: list[Text] = []
    cautions: list[Id] = []
    works_out: list[Id] = []


Side = Literal["below", "within", "above"]
"""Where a reading lies by a window."""


class Condition(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One thing a rule looks at: a finding's value, a reading, or a suspected state.

    The limit of a reading stands in the rule, or is that of a window: 'window' names
    it and 'side' says which side of it meets the condition. See `windows`.
    """

    finding: Id | None = None
    value: Text | list[Text] | None = None
    reading: Id | None = None
    below: Number | None = None
    above: Number | None = None
    between: tuple[Number, Number] | None = None
    window: Id | None = None
    side: Side | None = None
    state: Id | None = None

    def wanted(self) -> frozenset[str]:
        """The values of the finding that meet the condition."""
        if isinstance(self.value, list):
            return frozenset(self.value)
        return frozenset([self.value or "yes"])

    def test(self) -> str:
        """The comparison of a reading, as a word: 'below 15.0'."""
        if self.below is not None:
            return f"below {self.below}"
        if self.above is not None:
            return f"above {self.above}"
        low, high = self.between or (0.0, 0.0)
        return f"between {low} and {high}"


class When(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """all of these, at least one of any, and none of none."""

    all: list[Condition] = []
    any: list[Condition] = []
    none: list[Condition] = []


class Conclude(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    finding: Id
    value: Text = "yes"


class Weigh(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    causes: Annotated[list[Id], Meta(min_length=1)]
    how_much: Text


class Then(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """What a rule brings about when it fires. At least one part is given."""

    conclude: list[Conclude] = []
    rule_out: list[Id] = []
    weigh: list[Weigh] = []
    cautions: list[Id] = []
    contradiction: Text | None = None
    tell: Text | None = None


class Rule(Record, frozen=True, kw_only=True):
    """when … then …, with an example that fires it and one that must not.

    `otherwise` is for a rule on one reading alone: what to conclude when the
    reading was taken and does not meet the test.
    """

    name: Text
    when: When
    then: Then
    otherwise: Then | None = None
    because: Text
    fires_on: Annotated[dict[Id, Text], Meta(min_length=1)]
    silent_on: dict[Id, Text]
    misleads: Text


class Window(Record, frozen=True, kw_only=True):
    """The range in which a measured thing is as it should be; one end may be open.

    `stages` are those whose printed procedure has it among its numbers.
    """

    name: Text
    unit: str
    stages: list[Id] = []
    low: Number | None = None
    high: Number | None = None
    below: Text | None = None
    within: Text
    above: Text | None = None
    because: Text


class Input(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One number, or several, that a calculation is made from.

    `usual` is taken where it is left out; `finding` is the reading that it is. Where
    several `differ`, each is of another thing: their scatter is no doubt.
    """

    id: Id
    name: Text
    unit: str = ""
    lowest: Number
    highest: Number
    give_or_take: Annotated[float, Meta(ge=0, le=1e6)] = 0
    usual: Number | None = None
    several: YesNo = "no"
    differ: YesNo = "no"
    how: Text
    finding: Id | None = None
    needs: list[Id] = []


class Output(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One result of a calculation; `finding` is the reading that it stands for.

    One that is `chosen` from a few values, as a whole number is, has no range. Beyond
    `lowest` or `highest`, or those of the finding, something was misread.
    """

    id: Id
    name: Text
    unit: str = ""
    window: Id | None = None
    finding: Id | None = None
    lowest: Number | None = None
    highest: Number | None = None
    chosen: YesNo = "no"


class Working(Record, frozen=True, kw_only=True):
    """Something that is worked out from readings by a function of `calculations`.

    `works` names the function ('stencil.emulsion_over_mesh'); its arguments are the
    ids of the inputs. `means` and `check_next` may hold ids of inputs and outputs in
    braces, which are replaced by what they came to. `draws` is the kind of its picture;
    where it is left out, results that have a window are drawn on a scale.
    """

    name: Text
    topic: Text
    works: Text
    what: Text
    inputs: Annotated[list[Input], Meta(min_length=1)]
    gives: Annotated[list[Output], Meta(min_length=1)]
    formula: Text
    means: Text
    check_next: Text | None = None
    example: Annotated[dict[Id, Text], Meta(min_length=1)]
    draws: Literal["step-strip", "map", "profile", "window"] | None = None
    cautions: list[Id] = []


class Drawn(Record, frozen=True, kw_only=True):
    """A picture of a fault: its numbers and its words.

    The `usual` numbers are those of the fault; `sound` says which differ where all is
    well. `labels` are words for the tones (black, mid, white) and for places in it.
    `good` and `bad` are said where a finding has no sentence of its own.
    """

    numbers: Annotated[list[Input], Meta(min_length=1)]
    sound: Annotated[dict[Id, Number], Meta(min_length=1)]
    labels: dict[Id, Text] = {}
    good: Text | None = None
    bad: Text | None = None


class Mesh(Record, frozen=True, kw_only=True):
    """A cloth that is sold, with the figures that were published for it.

    Count in threads/cm; thread, opening and fabric thickness in µm; open area in %;
    ink volume in cm³/m². What nobody published is left out.
    """

    count: Annotated[float, Meta(gt=0, le=5000)]
    thread: Annotated[float, Meta(gt=0, le=1e6)]
    weave: Literal["plain", "twill"] = "plain"
    opening: Annotated[float, Meta(gt=0, le=1e6)] | None = None
    open_area: Annotated[float, Meta(gt=0, lt=100)] | None = None
    fabric_thickness: Annotated[float, Meta(gt=0, le=1e6)] | None = None
    ink_volume: Annotated[float, Meta(gt=0, le=1e6)] | None = None


class Light(Record, frozen=True, kw_only=True):
    """A light that a screen room may have, and how blue it is.

    `below_450` and `below_500`, in %, are shares of the power between 380 and 780 nm;
    `efficacy` in lm/W; `blue_light`, what lies below 450 nm, in mW/lm. `spectrum` names
    the published one; behind a filter that passes half at `cut` nm, and falls off with
    `width` nm, beside which the share `leak` of the bare light gets out.
    """

    name: Text
    what: Text
    below_450: Annotated[float, Meta(ge=0, le=100)]
    below_500: Annotated[float, Meta(ge=0, le=100)]
    efficacy: Annotated[float, Meta(gt=0, le=683)]
    blue_light: Annotated[float, Meta(ge=0, le=1e6)]
    spectrum: Text
    cut: Annotated[float, Meta(ge=380, le=780)] | None = None
    width: Annotated[float, Meta(gt=0, le=400)] | None = None
    leak: Annotated[float, Meta(ge=0, le=1)] | None = None


class Alike(Record, frozen=True, kw_only=True):
    """Words that mean the same, wherever they stand in what a person writes."""

    words: Annotated[list[Text], Meta(min_length=2)]


class Loosely(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How people also say a finding, too loosely to be taken for it at once: asked.

    A choice has `values`, a list for each of its choices.
    """

    id: Id
    said: list[Text] = []
    values: dict[Id, list[Text]] = {}


class Term(Record, frozen=True, kw_only=True):
    """A word of the trade: what it means, and why it matters.

    `also` lists other words for it, its plural and other spellings.
    """

    name: Text
    also: list[Text] = []
    what: Text
    why: Text


class GuideStep(Record, frozen=True, kw_only=True):
    """One step in the making of a screen, as the beginner's guide tells it.

    `do` are sentences; '{window: mesh-tension}' in them, or in `well`, stands for the
    numbers of that window. `well` says how to know that it went well, `signs` are
    findings to look for. Where several steps share a stage, `causes` are those of its
    causes that belong to this step; the steps that name none have the rest.
    """

    name: Text
    stage: Id
    do: Annotated[list[Text], Meta(min_length=1)]
    why: Text
    well: Text
    signs: list[Id] = []
    causes: list[Id] = []
    cautions: list[Id] = []


class Caution(Record, frozen=True, kw_only=True):
    """What can hurt someone, what to do about it, and whose word is final.

    `named_by` lists words; a fix whose text has one of them has to show the caution.
    """

    name: Text
    named_by: list[Text] = []
    danger: Text
    do: Text
    ask: Text


class Source(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Where a claim comes from."""

    id: Annotated[str, Meta(pattern="^[a-z0-9_-]+$")]
    title: Text
    kind: Text
    author: Text | None = None
    year: int | None = None
    publication: Text | None = None
    url: Text | None = None
    claims: dict[str, Text] = {}


class Stage(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """A stage of the work; `here` words it as an answer to 'where are you now?'.

    What is met at `late` stages only is heard from someone who stands at an earlier
    one only where they name that stage.
    """

    id: Id
    name: Text
    here: Text | None = None
    late: YesNo = "no"


class Moment(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One part of the plan of fixes."""

    id: Id
    name: Text
    explains: Text


class Tool(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Something a check needs. `asked`: ask once whether it is to hand."""

    id: Id
    name: Text
    asked: YesNo = "yes"
    instead: Text | None = None


class NotApart(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """Two causes that no question can tell apart, and why that does no harm."""

    id: Id
    causes: tuple[Id, Id]
    because: Text


class Learn(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How much the written knowledge weighs against the cases of a shop.

    `cause_weight` and `link_weight` count as so many cases; a difference smaller than
    `least_change` (of a chance), or `least_ratio` (of how common a cause is), is not
    worth writing down.
    """

    cause_weight: Annotated[float, Meta(gt=0, le=1e6)] = 3
    link_weight: Annotated[float, Meta(gt=0, le=1e6)] = 20
    least_change: Annotated[float, Meta(ge=0, lt=1)] = 0.02
    least_ratio: Annotated[float, Meta(ge=1, le=1000)] = 1.25


class Practise(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """How the tool practises with a new hire.

    Level 1 takes causes that are as common as `common` says, with a sign that they
    make at least as likely as `loud`. A fault that was got wrong comes again when the
    chance to get it right has fallen to `remembered`, and is known once that would be
    more than `known` days off.
    """

    common: list[Text] = field(default_factory=lambda: ["very common", "common"])
    loud: Annotated[float, Meta(gt=0, lt=1)] = 0.4
    remembered: Annotated[float, Meta(ge=0.5, le=0.99)] = 0.9
    known: Annotated[int, Meta(ge=1, le=3650)] = 60


class Scales(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The words used in the records and the numbers they stand for."""

    strengths: dict[str, Annotated[float, Meta(gt=0, lt=1)]]
    how_common: dict[str, Annotated[float, Meta(gt=0, lt=1)]]
    seen_anyway: dict[str, Annotated[float, Meta(gt=0, lt=1)]]
    weights: dict[str, Annotated[float, Meta(gt=0, le=1000)]]
    answer_sure: Annotated[float, Meta(gt=0.5, le=1)]
    somewhat: Annotated[float, Meta(gt=0.5, lt=1)]
    not_covered_prior: Annotated[float, Meta(gt=0, lt=1)]
    not_covered_shows: dict[str, Annotated[float, Meta(gt=0, lt=1)]]
    not_covered_name: Text
    not_covered_what: Text
    enough_chance: Annotated[float, Meta(gt=0, lt=1)]
    least_worth: Annotated[float, Meta(ge=0, le=100)]
    least_information: Annotated[float, Meta(ge=0, le=100)]
    asking_minutes: Annotated[float, Meta(gt=0, le=10080)]
    elsewhere_minutes: Annotated[float, Meta(ge=0)]
    tool_to_hand: Annotated[float, Meta(gt=0, le=1)]
    check_finds: Text
    check_misfinds: Text
    sources: list[Text]
    learn: Learn = Learn()
    practise: Practise = Practise()


class Located(Struct, frozen=True):
    """Where a record stands: its file, and the places of all parts of that file."""

    file: str
    parts: Places
    path: tuple[Step, ...]

    def at(self, *path: Step, key: bool = False) -> Place:
        """The place of a part of the record, or of what is nearest above it."""
        return Place(self.file, *self.parts.at(self.path + path, key=key))


class Knowledge(Struct, frozen=True, kw_only=True, eq=False):
    """All that the tool knows; each dict goes by id, in the order of the files."""

    scales: Scales
    stages: dict[str, Stage]
    moments: dict[str, Moment]
    tools: dict[str, Tool]
    sources: dict[str, Source]
    cautions: dict[str, Caution]
    causes: dict[str, Cause]
    states: dict[str, State]
    findings: dict[str, Finding]
    fixes: dict[str, Fix]
    rules: dict[str, Rule]
    windows: dict[str, Window]
    workings: dict[str, Working]
    meshes: dict[str, Mesh]
    lights: dict[str, Light]
    pictures: dict[str, Drawn] = {}
    terms: dict[str, Term] = {}
    alike: dict[str, Alike] = {}
    loosely: dict[str, Loosely] = {}
    guide: dict[str, GuideStep] = {}
    not_apart: dict[str, NotApart]
    places: dict[str, Located]
    """Where each record stands, by 'causes/coats-too-few'."""

    def recorded(self) -> dict[str, Finding]:
        """The findings that stand in the files; the rest are `proofs`."""
        return {
            id: one for id, one in self.findings.items() if not isinstance(one, Proof)
        }

    def place(self, kind: str, record: str, *path: str | int) -> Place:
        """Where a record, or a part of it, stands in its file."""
        located = self.places.get(f"{kind}/{record}")
        return located.at(*path) if located else Place(kind, 1)
