"""What is published: the one contract with the outside, as pydantic models.

Every event is a CloudEvents 1.0 object (`Event`) whose `data` is one of the models below; an animal's is in
`bridge.animal_event`, a job's in `bridge.job_event`.  Times are UTC with a Z; tag ids are strings; weights are
kilograms, durations seconds, and names say so.  `neckyoke schema` prints the JSON Schemas made from these models.
"""

from datetime import datetime
from typing import Any, Literal, TypeAlias
from uuid import UUID, uuid5

from pydantic import Field
from pydantic_core import from_json

from neckyoke.bridge.animal_event import Animal as Animal
from neckyoke.bridge.animal_event import Question as Question
from neckyoke.bridge.event_base import Clock as Clock
from neckyoke.bridge.event_base import Model as Model
from neckyoke.bridge.event_base import Stamp as Stamp
from neckyoke.bridge.event_base import Stamper as Stamper
from neckyoke.bridge.event_base import Time as Time
from neckyoke.bridge.event_base import spell_time as spell_time
from neckyoke.bridge.flags import FLAG_TEXT as FLAG_TEXT
from neckyoke.bridge.flags import Flag as Flag
from neckyoke.bridge.job_event import JobState as JobState
from neckyoke.bridge.job_event import JobTally as JobTally
from neckyoke.bridge.job_event import UsedInJob as UsedInJob

NAMESPACE = UUID("6f1d2c52-5d0b-5b1e-9c1c-0a4b7b0c9a51")
"""Name space of all ids made here (UUID version 5)."""

Grade: TypeAlias = Literal["good", "fair", "poor", "none"]
Position: TypeAlias = Literal["platform", "ahead", "hand"]


class Tag(Model):
    """A tag as published.  `reads` counts the reads that spoke for it in this stay; `link` is the reader's."""

    id: str = Field(pattern=r"^[0-9]{15,16}$", description="15 digits (16 for a code above 999), never a number")
    code: str = Field(description="three-digit country or manufacturer code")
    national: str = Field(description="twelve-digit national code")
    animal: bool
    reads: int = 0
    link: str | None = None
    sure_percent: float | None = Field(
        default=None,
        description="chance that it is this animal's, at most 99.9, said anew when final; null when a person said so",
    )
    remarks: tuple[str, ...] = Field(default=(), description="what is odd about the code, such as test-code")


class Weight(Model):
    """The weight of one stay, net of the empty platform.  `kg` is null when the grade is none."""

    kg: float | None
    grade: Grade
    first_kg: float | None = Field(default=None, description="the weight given when it settled")
    spread_kg: float | None = Field(default=None, description="range of the one-second means over the plateau")
    zero_kg: float = Field(default=0.0, description="what the empty platform showed")
    zero_moved_kg: float | None = Field(default=None, description="empty platform after the stay less before it")
    readings: int = 0
    span_s: float = Field(default=0.0, description="length of the plateau the weight rests on")
    restlessness_percent: float | None = Field(default=None, description="coefficient of variation over the plateau")


class Treatment(Model):
    """One treatment of the job sheet for this animal: arithmetic on what the user typed (see the cautions)."""

    name: str
    amount: float | None = Field(default=None, description="in `unit`; null when no dose is known")
    exact: float | None = Field(default=None, description="what the arithmetic says before it is brought to a mark")
    unit: str | None = Field(default=None, description="null in events of before amounts had units: mL")
    dose_ml: float | None = Field(default=None, description="the amount, where the unit is mL")
    exact_ml: float | None = None
    withheld_until: str | None = None
    export_from: str | None = None
    skipped: bool = False
    given_before: Time | None = Field(
        default=None, description="when it had it already, in this job or today: skipped until a person says otherwise"
    )
    batch: str | None = None
    expires: str | None = Field(default=None, description="the last day on which the batch may be used")
    route: str | None = None
    body_site: str | None = None
    given_by: str | None = None
    reason: str | None = None
    remark: str | None = None


class Finding(Model):
    """What was seen of one animal: by a person, or what is usual under the sheet, on the roster or known of it."""

    name: str
    value: Any = Field(description="a choice, a number, yes (true) or no, words; a list where several may be chosen")
    by: Literal["person", "usual", "roster", "kept"]
    at: Time | None = Field(default=None, description="when a person gave it")
    keep: bool = Field(default=False, description="a lasting property of the animal, kept in the herd book")


class DoseSaid(Model):
    """What a person said of one treatment of one animal: given or not, another amount, another batch."""

    name: str
    given: bool | None = Field(default=None, description="false: not given; true: given after all, or once more")
    amount: float | None = Field(default=None, description="in the treatment's unit")
    batch: str | None = None
    at: Time | None = None


class WithheldFor(Model):
    """One reason why an animal may not go to slaughter (meat) or be exported (export) yet: whose period has not passed.

    `until` is the first date on which it may, null where no period is known.  Doses of this very weighing are none.
    """

    product: str
    kind: Literal["meat", "export"]
    until: str | None


class Gain(Model):
    """Daily gain since an earlier weight.  `kg_per_day` is null when the dates are too close to mean anything."""

    kg: float
    days: int
    since: str
    kg_per_day: float | None = None
    remark: str | None = None


class Former(Model):
    """The stay just before: whose animal may have stepped off and come on again."""

    weighing: str
    number: int = Field(description="as people call it: its number in its job")
    since: Time | None = Field(
        default=None, description="when that began, where the box stopped as it stood there: it may stand there still"
    )


class Weighing(Model):
    """The record of one stay.  Key on `weighing`; the highest `revision` is the truth."""

    weighing: str
    revision: int = 1
    station: str
    number: int
    tag: Tag | None
    weight: Weight
    on: Time
    settled: Time | None
    off: Time
    clock: Clock
    flags: tuple[Flag, ...] = ()
    sheet: str | None = None
    job: str | None = Field(default=None, description="its id; null while it is paused, and before there were jobs")
    job_number: int | None = Field(default=None, description="from 1 in each job")
    animal: dict[str, Any] | None = None
    details: dict[str, Any] = Field(default_factory=dict)
    treatments: tuple[Treatment, ...] = ()
    gain: Gain | None = None
    pen: str | None = None
    notes: tuple[str, ...] = ()
    skipped: tuple[str, ...] = Field(default=(), description="treatments a person said were not given")
    findings: tuple[Finding, ...] = ()
    doses_said: tuple[DoseSaid, ...] = Field(default=(), description="what a person said of its doses")
    withheld: tuple[WithheldFor, ...] = ()
    pen_should: str | None = Field(
        default=None, description="where it would go by what is known now; `pen` says where it went"
    )
    final: bool = Field(default=True, description="no later evidence can change it by itself")
    final_at: Time | None = Field(default=None, description="when not final: it is, if unchanged by then")
    marks: tuple[str, ...] = Field(default=(), description="what to look out for on this animal")
    why: str | None = Field(default=None, description="why it was amended")
    maybe_same: Former | None = Field(default=None, description="it may be that stay's animal, come on again")
    none_given: bool = Field(default=False, description="struck out, with the word that none of its doses was given")
    told_in: str | None = Field(
        default=None, description="struck out by the box: the weighing that tells this part of a stay, doses and all"
    )


class Settled(Model):
    """The first trustworthy weight, while the animal still stands there: for the person at the crush and for gates."""

    weighing: str
    station: str
    number: int
    tag: Tag | None
    tags_seen: int = 0
    weight: Weight
    on: Time
    settled: Time
    clock: Clock
    flags: tuple[Flag, ...] = ()
    sheet: str | None = None
    job: str | None = Field(default=None, description="its id; null while it is paused, and before there were jobs")
    job_number: int | None = Field(default=None, description="from 1 in each job")
    animal: dict[str, Any] | None = None
    details: dict[str, Any] = Field(default_factory=dict)
    treatments: tuple[Treatment, ...] = ()
    gain: Gain | None = None
    pen: str | None = None
    findings: tuple[Finding, ...] = ()
    doses_said: tuple[DoseSaid, ...] = ()
    withheld: tuple[WithheldFor, ...] = ()
    may_leave: bool = Field(default=True, description="nothing is missing and nothing withheld holds it")
    missing: tuple[str, ...] = Field(default=(), description="what is missing when it may not")
    marks: tuple[str, ...] = Field(default=(), description="what to look out for on this animal")
    maybe_same: Former | None = Field(default=None, description="it may be that stay's animal, come on again")


class TagSeen(Model):
    """A reader heard a tag that it had not heard for a while (repeats are counted, not published)."""

    station: str
    link: str
    position: Position
    tag: Tag


class Attention(Model):
    """Something a person should look at now.  The same `about` with `over` true ends it and says how long it was."""

    station: str | None
    link: str | None = None
    about: str = Field(description="short name of the trouble, such as zero-off")
    text: str = Field(description="what is wrong and what to do")
    over: bool = False
    lasted_s: float | None = None
    question: Question | None = Field(default=None, description="what a person is asked to reply")


class LinkState(Model):
    """A link came up, was lost, or fell silent."""

    link: str
    state: Literal["up", "lost", "silent", "missing"]
    text: str = ""
    lasted_s: float | None = Field(default=None, description="how long the state before lasted")


Data: TypeAlias = Weighing | Settled | TagSeen | Attention | LinkState | Animal | JobState

TYPES: dict[type[Model], str] = {
    Weighing: "neckyoke.weighing",
    Settled: "neckyoke.settled",
    TagSeen: "neckyoke.tag",
    Attention: "neckyoke.attention",
    LinkState: "neckyoke.link",
    Animal: "neckyoke.animal",
    JobState: "neckyoke.job",
}
MODELS: dict[str, type[Model]] = {name: model for model, name in TYPES.items()}
VERSION = 1
"""Of the data schemas.  Raised when a field changes its meaning or goes away; fields may be added without."""


class Event(Model):
    """A CloudEvents 1.0 event.  `sequence` is given by the journal, contiguous, zero padded to ten digits.

    `safe` is false on what is given while the journal cannot be written, without a sequence and as revision 0: it comes
    again, as revision 1, when the journal has it.
    """

    specversion: Literal["1.0"] = "1.0"
    id: str = Field(min_length=1)
    source: str = Field(json_schema_extra={"format": "uri-reference"})
    type: str
    subject: str | None = None
    time: Time
    datacontenttype: Literal["application/json"] = "application/json"
    dataschema: str = Field(json_schema_extra={"format": "uri"})
    sequence: str | None = None
    safe: Literal[False] | None = None
    data: Weighing | Settled | TagSeen | Attention | LinkState | Animal | JobState

    def to_json(self) -> str:
        """Spell the event as one line of JSON, absent attributes left out (nulls inside `data` are kept)."""
        gone = {name for name in ("subject", "sequence", "safe") if getattr(self, name) is None}
        return self.model_dump_json(exclude=gone)


def make_id(*parts: object) -> str:
    """Make the same id from the same parts, always (UUID version 5, RFC 9562)."""
    return str(uuid5(NAMESPACE, "/".join(str(part) for part in parts)))


def wrap(data: Data, *, site: str, time: datetime, key: str) -> Event:
    """Put data in its envelope.  `key` must tell this event from every other of its source, now and after a replay."""
    name = TYPES[type(data)]
    station = vars(data).get("station")
    source = f"/{site}/{station}" if station else f"/{site}"
    tag = getattr(data, "tag", None)
    subject = tag if tag is None or isinstance(tag, str) else tag.id
    kind = name.removeprefix("neckyoke.")
    return Event(
        id=make_id(source, name, key),
        source=source,
        type=name,
        subject=subject,
        time=time,
        dataschema=f"urn:neckyoke:{kind}:{VERSION}",
        data=data,
    )


def read_event(line: str | bytes) -> Event:
    """Read an event back.  Raises pydantic.ValidationError when it is none of ours.

    Its type says what its data are: to try them all takes ten times as long.
    """
    try:
        table = from_json(line)
        return Event.model_validate({**table, "data": MODELS[table["type"]].model_validate(table["data"])})
    except (ValueError, KeyError, TypeError):
        return Event.model_validate_json(line)  # which says what is wrong
