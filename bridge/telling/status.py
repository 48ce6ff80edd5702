"""How the daemon is: the one shape that `neckyoke status`, the status topic, the page and the metrics read.

Filled by bridge/daemon/gather.py.  The JSON Schema in `neckyoke schema --asyncapi` is made from these models.  A reader
passes over what it does not know: it may be older than the daemon that it asks.
"""

from typing import Any, ClassVar, Literal, TypeAlias

from pydantic import BaseModel, ConfigDict, Field, SerializerFunctionWrapHandler, model_serializer

from neckyoke.bridge.events import Clock, Grade, Question, Time, WithheldFor
from neckyoke.bridge.station.platform.table import State
from neckyoke.protocols.rejects import RejectReason

LinkWord: TypeAlias = Literal["up", "lost", "silent", "missing"]


class Figures(BaseModel):
    """Base of these models: immutable, and open to what later versions add."""

    model_config: ClassVar[ConfigDict] = ConfigDict(extra="ignore", frozen=True)


class Sparse(Figures):
    """One that leaves out what is not known, where a null would say something else."""

    @model_serializer(mode="wrap")
    def _known(self, write: SerializerFunctionWrapHandler) -> dict[str, Any]:
        return {name: value for name, value in write(self).items() if value is not None}


class PlatformView(Figures):
    """What a station shows now.  Worth nothing a minute later."""

    station: str
    state: State | Literal["offline"] = Field(description="offline: neckyoke is not running")
    kg: float | None = Field(description="null when the scale is not heard")
    moving: bool | None
    number: int | None = Field(description="of the animal standing there")
    weighing: str | None = Field(description="its weighing's id")
    tag: str | None
    tags_seen: int = Field(description="tags that fit it")
    settled_kg: float | None = Field(description="the weight it settled at")
    grade: Grade | None
    missing: tuple[str, ...] = Field(description="what is missing before it may leave")
    may_leave: bool
    next: str = Field(description="what to do next, in a plain sentence")
    visual: str | None = Field(default=None, description="its number, as the herd book knows it")
    marks: tuple[str, ...] = Field(default=(), description="what to look out for on it")
    question: Question | None = Field(default=None, description="what a person is asked to reply")
    withheld: tuple[WithheldFor, ...] = Field(default=(), description="until when it may not go, and for what")


class FindingAsked(Figures):
    """One finding of the present sheet, as a person gives it by touch."""

    name: str
    kind: Literal["choice", "number", "words"]
    choices: tuple[Any, ...] = Field(default=(), description="of a choice, or of a number with few steps")
    several: bool = False
    usual: Any = None
    needed: bool = False
    unit: str | None = None
    low: float | None = Field(default=None, description="of a number with many steps")
    high: float | None = None
    step: float | None = None


class PlacesStatus(Figures):
    """How a pen by head count stands: places left, and above which weight (or below) the next animal gets one."""

    pen: str
    heads: int
    left: int
    to_come: int = Field(description="animals of the roster still to come")
    shortfall: int = Field(description="places that stay empty even if all of them go")
    cut_kg: float | None = Field(description="null while all or none go, or nothing is known")
    heaviest: bool


class Counts(Sparse):
    """Animals in the present job.  The last two only with a roster."""

    animals: int
    number: int = Field(description="the last weighing's number")
    expected: int | None = None
    not_seen: int | None = None


class PassedStatus(Figures):
    """Animals with tags that passed while the job was paused: they count nowhere until it goes on from there."""

    animals: int
    others: int = Field(description="stays without an animal's tag among them")
    first: int = Field(description="the station's number of the first: what resume has in `from`")


class JobStatus(Figures):
    """One job of a station."""

    job: str = Field(description="its id")
    turn: int = Field(description="position among this station's jobs, from 1")
    text: str = Field(description="which one it is, in words: job 2, lambs, begun 13:02")
    state: Literal["open", "paused", "ended", "undone"]
    sheet: str | None = Field(default=None, description="the title of the sheet that it has, or had last")
    passed: PassedStatus | None = Field(default=None, description="who passed while it was paused")
    begun: Time | None = None
    ended: Time | None = None


class StationStatus(Figures):
    """One station."""

    view: PlatformView
    counts: Counts
    job: JobStatus | None = Field(default=None, description="the open job")
    jobs: tuple[JobStatus, ...] = Field(default=(), description="the jobs at hand, the open one too, oldest first")
    sheet: str | None = Field(description="the job sheet's title")
    treatments: tuple[str, ...] = Field(description="names of the sheet's treatments")
    findings: tuple[FindingAsked, ...] = ()
    places: tuple[PlacesStatus, ...] = ()
    sheets: tuple[str, ...] = Field(description="job sheets, by the names that requests use")
    zero_kg: float | None = Field(description="what the empty platform shows")


class LinkStatus(Figures):
    """One link.  Counters run since the start."""

    stations: tuple[str, ...] = Field(default=(), description="whose scale or reader it is")
    state: LinkWord | None = Field(description="null before the first opening")
    text: str
    bytes: int
    openings: int
    failures: int
    losses: int
    silences: int
    writes_failed: int
    bytes_per_s: float
    last_byte_age_s: float | None
    frames: int = Field(description="readings and tag reads")
    rejects: dict[RejectReason, int] = Field(description="frames that were no reading, by reason")


class FileStatus(Figures):
    """An events file."""

    kind: Literal["file"] = "file"
    position: int = Field(description="sequence of the last event in it")
    backlog: int = Field(description="events not in it yet")
    written: int
    mended_bytes: int = Field(description="bytes of torn lines cut off at a start")
    rotations: int
    trouble: dict[str, str]


class BrokerStatus(Figures):
    """A broker."""

    kind: Literal["mqtt"] = "mqtt"
    connected: bool
    position: int = Field(description="sequence of the last event acknowledged")
    backlog: int = Field(description="events not acknowledged yet")
    delivered: int
    connections: int
    requests: int
    set_aside: int = Field(default=0, description="events that it does not take: too large for it")
    trouble: dict[str, str]


FarKind: TypeAlias = Literal["http", "sql", "influx"]


class FarStatus(Figures):
    """A server or database that takes batches of events."""

    kind: FarKind
    connected: bool = Field(description="nothing is wrong with it")
    position: int = Field(description="sequence of the last event taken")
    backlog: int = Field(description="events not taken yet")
    delivered: int
    set_aside: int = Field(description="events that it can never take")
    trouble: dict[str, str]


OutletStatus: TypeAlias = FileStatus | BrokerStatus | FarStatus


class JournalStatus(Figures):
    """The journal."""

    last: int = Field(description="sequence of the last event written")
    waiting: int = Field(description="events not on disk yet")
    let_go: int = Field(description="live events given up while the disk could not be written")
    refused: int = Field(description="batches that could not be written at all")
    repeats: int = Field(description="events that were there already")
    missing: int = Field(description="events found missing since the start")
    aside: int = Field(description="damaged rows found since the start, and given to nobody")
    mended: int = Field(description="rows put right since the start")
    spare: str | None = Field(default=None, description="where what waits is kept while the disk cannot be written")
    trouble: dict[str, str]


class ClockStatus(Figures):
    """The wall clock."""

    state: Clock
    steps: int = Field(description="times it was set since the start")


class TroubleStatus(Sparse):
    """A trouble that stands now."""

    about: str
    text: str = Field(description="what is wrong and what to do")
    since: Time
    station: str | None = None
    link: str | None = None


class Status(Figures):
    """How the daemon is now."""

    site: str
    version: str
    pid: int
    started: str
    time: Time
    up_s: float
    stations: dict[str, StationStatus]
    links: dict[str, LinkStatus]
    outlets: dict[str, OutletStatus]
    journal: JournalStatus
    clock: ClockStatus
    disk_free_mb: int | None
    cpu_s: float = Field(description="processor time used")
    troubles: tuple[TroubleStatus, ...] = Field(description="the oldest first")
    loop_lag_s: float = Field(description="how late the event loop came to its last tick")


class Online(Status):
    """The status topic while the daemon is there; `session` tells an old will from the present daemon."""

    state: Literal["online"] = "online"
    session: str


class Offline(Figures):
    """The status topic when it is not; also its will."""

    state: Literal["offline"] = "offline"
    session: str
    reason: str = Field(description="stopped, failed or lost")
