"""The records that knowledge is made of, as they stand in the YAML files.

A record is plain data, checked for its shape when it is read. What a record may
refer to, and whether the whole makes sense, is looked at in `checks`.
"""

from __future__ import annotations

from typing import Annotated, Literal

from msgspec import Meta, Struct

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
    """Something that was done, or has worn, and that can be put right."""

    name: Text
    stage: Id
    what: Text
    how_common: Text
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
    """One value of a finding that takes one of several."""

    id: Id
    name: Text
    says: Text
    usual: Annotated[float, Meta(gt=0, le=1)]


Role = Literal["sign", "check", "set-up", "habit", "timing", "change"]


class Finding(Record, frozen=True, kw_only=True):
    """What a person can see, feel, measure or say of their set-up.

    kind 'yes-no' has says_yes and says_no; kind 'choice' has choices; kind
    'reading' has unit, lowest, highest and give_or_take (one standard
    uncertainty, in that unit). A yes-no finding that is only known from a reading
    names it in measured_by and is asked as that reading.
    """

    name: Text
    role: Role
    kind: Literal["yes-no", "choice", "reading"]
    stages: list[Id] = []
    opening: YesNo = "no"
    question: Text
    how: Text
    not_this: Text
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


class Condition(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """One thing a rule looks at: a finding's value, a reading, or a suspected state."""

    finding: Id | None = None
    value: Text | list[Text] | None = None
    reading: Id | None = None
    below: Number | None = None
    above: Number | None = None
    between: tuple[Number, Number] | None = None
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
    """A stage of the work; `here` words it as an answer to 'where are you now?'."""

    id: Id
    name: Text
    here: Text | None = None


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


class Scales(Struct, frozen=True, kw_only=True, forbid_unknown_fields=True):
    """The words used in the records and the numbers they stand for."""

    strengths: dict[str, Annotated[float, Meta(gt=0, lt=1)]]
    how_common: dict[str, Annotated[float, Meta(gt=0, lt=1)]]
    seen_anyway: dict[str, Annotated[float, Meta(gt=0, lt=1)]]
    weights: dict[str, Annotated[float, Meta(gt=0, le=1000)]]
    somewhat: Annotated[float, Meta(gt=0.5, lt=1)]
    not_covered_prior: Annotated[float, Meta(gt=0, lt=1)]
    not_covered_shows: dict[str, Annotated[float, Meta(gt=0, lt=1)]]
    not_covered_name: Text
    not_covered_what: Text
    enough_chance: Annotated[float, Meta(gt=0, lt=1)]
    least_worth: Annotated[float, Meta(ge=0, le=100)]
    least_information: Annotated[float, Meta(ge=0, le=100)]
    least_minutes: Annotated[float, Meta(gt=0, le=10080)]
    elsewhere_minutes: Annotated[float, Meta(ge=0)]
    tool_to_hand: Annotated[float, Meta(gt=0, le=1)]
    sources: list[Text]


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
    not_apart: dict[str, NotApart]
    places: dict[str, Located]
    """Where each record stands, by 'causes/coats-too-few'."""

    def place(self, kind: str, record: str, *path: str | int) -> Place:
        """Where a record, or a part of it, stands in its file."""
        located = self.places.get(f"{kind}/{record}")
        return located.at(*path) if located else Place(kind, 1)
