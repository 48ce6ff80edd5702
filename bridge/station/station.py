"""One place where animals are weighed: the platform and the pairing as one machine.

Readings, tag reads, link states, requests and time go in; events come out, complete but for what the job knows.  Every
call begins by letting time pass up to its own: deadlines fall due in order, each at its own time, so that it makes no
difference how often `advance` is called.
"""

from collections.abc import Iterable
from dataclasses import dataclass, field, replace

from bridge.events import (
    Attention,
    Clock,
    Data,
    Event,
    Flag,
    Settled,
    Stamper,
    Tag,
    TagSeen,
    Weighing,
    Weight,
    make_id,
    wrap,
)
from bridge.station.asks import About, Ask, Identify, NewSheet, Note, Reply, Skip, Void, Zero
from bridge.station.happenings import Began, Ended, Happening, SettledAt, Trouble, View
from bridge.station.pairing import Pairing, Verdict
from bridge.station.settings import Memory, Settings
from bridge.station.stay import Platform
from protocols.readings import TagRead, WeightReading
from protocols.tagcode import TagCode

KEPT = 300
"""Weighings at hand for requests; older ones are in the journal only."""
UNHEARD_S = 60.0
"""A tag unheard for so long is announced again."""
ASIDE_S = 0.25
"""While an animal stands settled without a sure tag, reads of a known tag are weighed this often."""
NONE = Weight(kg=None, grade="none")
ORDER = {flag: at for at, flag in enumerate(Flag)}


@dataclass(slots=True)
class _Record:
    """One stay's weighing in the making, and after."""

    number: int
    weighing: str
    on: float
    sheet: int
    settled: float | None = None
    off: float | None = None
    weight: Weight = NONE
    flags: tuple[Flag, ...] = ()
    verdict: Verdict | None = None
    visual: str | None = None
    voided: bool = False
    notes: list[str] = field(default_factory=list)
    skipped: list[str] = field(default_factory=list)
    revision: int = 0
    told: int = 0  # times neckyoke.settled was published
    published: Weighing | None = None


@dataclass(frozen=True, slots=True)
class StationView:
    """The station as it is now, for a live display."""

    platform: View
    number: int | None
    weighing: str | None
    tag: Tag | None
    tags_seen: int
    missing: tuple[str, ...]


class Station:
    """One station.  Deterministic: the same input gives the same events, ids and all."""

    def __init__(self, settings: Settings, stamp: Stamper, memory: Memory) -> None:
        self.settings = settings
        self.scale = settings.scale
        self.links = frozenset({settings.scale, *settings.readers})
        self._stamp = stamp
        self._platform = Platform(settings, memory)
        self._pairing = Pairing(settings.readers)
        self._number = memory.number
        self._weighed = dict(memory.weighed)
        self._sheet = 0
        self._records: dict[int, _Record] = {}
        self._heard: dict[tuple[str, TagCode], float] = {}
        self._troubles: dict[str, float] = {}
        self._told = 0
        self._belief_at = 0.0

    # -- the door ------------------------------------------------------------------------------------------------

    def feed(self, t: float, link: str, item: WeightReading | TagRead | bool) -> list[Event]:  # noqa: FBT001
        """Take a reading, a tag read, or the state of a link: True for up, False for down."""
        events = self.advance(t)
        if isinstance(item, WeightReading):
            return events + self._happened(t, self._platform.weight(t, item))
        if isinstance(item, TagRead):
            return events + self._tag(t, link, item.code)
        if link in self.settings.readers:
            self._pairing.link(t, link, up=item)
        if link == self.scale:
            events += self._happened(t, self._platform.link(t, item))
        return events

    def advance(self, t: float) -> list[Event]:
        """Let time pass up to `t`."""
        events: list[Event] = []
        while (due := self._pairing.due) is not None and due <= t:
            events += self._happened(due, self._platform.advance(due))
            events += self._changed(due, self._pairing.settle(due))
        return events + self._happened(t, self._platform.advance(t))

    def finish(self, t: float) -> list[Event]:
        """End the run: the open stay ends, every pending decision is made."""
        events = self.advance(t) + self._happened(t, self._platform.finish(t))
        return events + self._changed(t, self._pairing.finish())

    def ask(self, t: float, ask: Ask) -> tuple[Reply, list[Event]]:
        """Do what a person asks, or say why not."""
        events = self.advance(t)
        match ask:
            case Zero():
                reply = self._platform.zero(t)
                return reply, events + self._happened(t, self._platform.advance(t))
            case NewSheet():
                self._sheet += 1
                self._weighed.clear()
                return Reply(done=True, text="A new job sheet holds from the next animal on."), events
        record = self._find(ask.about)
        if record is None:
            return Reply(done=False, text=_nobody(ask.about)), events
        text, why, changed = self._asked(record, ask)
        events += self._changed(t, changed, why)
        if record.off is not None and not any(verdict.number == record.number for verdict in changed):
            events += self._publish(t, record, why)
        return Reply(done=True, text=text, weighing=record.weighing), events

    def restamp(self, t: float) -> list[Event]:
        """Amend every weighing at hand that was published before the wall clock was known: its times are right now."""
        events = self.advance(t)
        for record in self._records.values():
            if record.published is not None and record.published.clock is not Clock.SYNCHRONISED:
                events += self._publish(t, record, "the clock is known now")
        return events

    @property
    def view(self) -> StationView:
        """The station as it is now."""
        record = self._open
        verdict = record.verdict if record else None
        return StationView(
            platform=self._platform.view,
            number=record.number if record else None,
            weighing=record.weighing if record else None,
            tag=_tag_of(verdict) if verdict else None,
            tags_seen=verdict.seen if verdict else 0,
            missing=self._missing(verdict) if record else (),
        )

    @property
    def memory(self) -> Memory:
        """What to carry to the next run."""
        return Memory(number=self._number, zero_kg=self._platform.zero_kg, weighed=dict(self._weighed))

    @property
    def open_stay(self) -> Weighing | None:
        """The weighing that the open stay becomes if the box stops now; None when none has settled."""
        record, ended = self._open, self._platform.open
        if record is None or ended is None:
            return None
        cut = replace(record, settled=ended.settled, off=ended.off, weight=ended.weight, flags=ended.flags, revision=1)
        return self._weighing(cut, None)

    # -- what happens --------------------------------------------------------------------------------------------

    @property
    def _open(self) -> _Record | None:
        record = self._records.get(self._number)
        return record if record is not None and record.off is None else None

    def _happened(self, t: float, happenings: Iterable[Happening]) -> list[Event]:
        events: list[Event] = []
        for happening in happenings:
            match happening:
                case Began(number, on):
                    weighing = make_id(self.settings.site, self.settings.name, self.settings.run, number)
                    self._number = number
                    self._records[number] = _Record(number, weighing, on, self._sheet)
                    if len(self._records) > KEPT:
                        del self._records[next(iter(self._records))]
                    self._pairing.began(number, on)
                case SettledAt(number, _, at, weight, flags):
                    record = self._records[number]
                    record.settled = record.settled if record.settled is not None else at
                    record.weight, record.flags = weight, flags
                    record.verdict = self._pairing.believe(number, at)
                    events += self._settled(at, record)
                case Ended(number, _, settled, off, weight, flags):
                    record = self._records[number]
                    record.settled, record.off, record.weight, record.flags = settled, off, weight, flags
                    events += self._changed(off, self._pairing.ended(number, off))
                case Trouble():
                    events += self._trouble(t, happening)
        return events

    def _tag(self, t: float, link: str, code: TagCode) -> list[Event]:
        events: list[Event] = []
        before = self._heard.pop((link, code), None)
        self._heard[link, code] = t
        if len(self._heard) > KEPT:
            del self._heard[next(iter(self._heard))]
        if before is None or t - before >= UNHEARD_S:
            seen = TagSeen(
                station=self.settings.name,
                link=link,
                position=self.settings.readers[link],
                tag=tag(code, reads=1, link=link),
            )
            events.append(self._event(t, seen, f"{self.settings.run}/{link}/{code}/{t:.3f}"))
        self._pairing.read(t, link, code)
        record = self._open
        if record is None or record.settled is None:
            return events
        held = record.verdict
        sure = held is not None and held.code == code and not held.flags
        if sure or (before is not None and t - self._belief_at < ASIDE_S):
            return events
        self._belief_at = t
        record.verdict = self._pairing.believe(record.number, t)
        if held is None or held.code != record.verdict.code:
            events += self._settled(t, record)
        return events

    def _trouble(self, t: float, trouble: Trouble) -> list[Event]:
        since = self._troubles.pop(trouble.about, t) if trouble.over else self._troubles.setdefault(trouble.about, t)
        self._told += 1
        attention = Attention(
            station=self.settings.name,
            about=trouble.about,
            text=trouble.text,
            over=trouble.over,
            lasted_s=round(t - since, 3) if trouble.over else None,
        )
        return [self._event(t, attention, f"{self.settings.run}/attention/{self._told}")]

    def _changed(self, t: float, verdicts: list[Verdict], why: str | None = None) -> list[Event]:
        events: list[Event] = []
        for verdict in verdicts:
            record = self._records.get(verdict.number)
            if record is None or record.off is None:
                continue
            record.verdict = verdict
            events += self._publish(t, record, why or verdict.rule)
        return events

    # -- what people ask -----------------------------------------------------------------------------------------

    def _find(self, about: About) -> _Record | None:
        if about.weighing is not None:
            return next((one for one in self._records.values() if one.weighing == about.weighing), None)
        if about.number is not None:
            return self._records.get(about.number)
        return self._records.get(self._number)

    def _asked(self, record: _Record, ask: Note | Identify | Void | Skip) -> tuple[str, str, list[Verdict]]:
        """Do it; give what was done, the reason of the amendment, and the verdicts that changed."""
        which = f"number {record.number}"
        match ask:
            case Note(text):
                record.notes.append(text)
                return f"Noted on {which}.", "a person added a note", []
            case Void(reason):
                record.voided = True
                return f"Struck out {which}.", f"a person struck it out: {reason or 'no reason given'}", []
            case Skip(treatment, given):
                record.skipped = [one for one in record.skipped if one != treatment] + ([] if given else [treatment])
                done = "given" if given else "not given"
                return f"{treatment}: {done} to {which}.", f"a person said that {treatment} was {done}", []
            case Identify(code, visual):
                record.visual = visual
                changed = self._pairing.word(record.number, code)
                if record.off is None:
                    record.verdict = self._pairing.believe(record.number, record.on)
                name = str(code) if code else f"visual {visual}" if visual else "no tag"
                return f"{which} has {name}.", f"a person said: {name}", changed

    # -- what is published ---------------------------------------------------------------------------------------

    def _event(self, t: float, data: Data, key: str) -> Event:
        return wrap(data, site=self.settings.site, time=self._stamp(t).time, key=key)

    def _missing(self, verdict: Verdict | None) -> tuple[str, ...]:
        unknown = verdict is None or (verdict.code is None and Flag.BY_PERSON not in verdict.flags)
        return ("tag",) if self.settings.require_tag and unknown else ()

    def _settled(self, t: float, record: _Record) -> list[Event]:
        verdict = record.verdict
        assert verdict is not None
        assert record.settled is not None
        record.told += 1
        missing = self._missing(verdict)
        settled = Settled(
            weighing=record.weighing,
            station=self.settings.name,
            number=record.number,
            tag=_tag_of(verdict),
            tags_seen=verdict.seen,
            weight=record.weight,
            on=self._stamp(record.on).time,
            settled=self._stamp(record.settled).time,
            clock=self._stamp(record.settled).clock,
            flags=self._flags(record),
            animal=_animal(record),
            may_leave=not missing,
            missing=missing,
        )
        return [self._event(t, settled, f"{record.weighing}/{record.told}")]

    def _flags(self, record: _Record) -> tuple[Flag, ...]:
        verdict = record.verdict
        flags = {*record.flags, *(verdict.flags if verdict else ())}
        if record.voided:
            flags.add(Flag.VOIDED)
        if verdict is not None and verdict.code is not None:
            if not verdict.code.animal:
                flags.add(Flag.NOT_ANIMAL)
            if verdict.code.country == 0 or verdict.code.country > 999:
                flags.add(Flag.ODD_CODE)
            if self._weighed.get(str(verdict.code), record.weighing) != record.weighing:
                flags.add(Flag.REPEAT)
        return tuple(sorted(flags, key=ORDER.__getitem__))

    def _weighing(self, record: _Record, why: str | None) -> Weighing:
        verdict = record.verdict
        assert record.off is not None
        final_at = verdict.final_at if verdict else None
        return Weighing(
            weighing=record.weighing,
            revision=record.revision,
            station=self.settings.name,
            number=record.number,
            tag=_tag_of(verdict) if verdict else None,
            weight=record.weight,
            on=self._stamp(record.on).time,
            settled=self._stamp(record.settled).time if record.settled is not None else None,
            off=self._stamp(record.off).time,
            clock=self._stamp(record.off).clock,
            flags=self._flags(record),
            animal=_animal(record),
            notes=tuple(record.notes),
            skipped=tuple(record.skipped),
            final=final_at is None,
            final_at=self._stamp(final_at).time if final_at is not None else None,
            why=why,
        )

    def _publish(self, t: float, record: _Record, why: str | None) -> list[Event]:
        self._claim(record)
        record.revision += 1
        record.published = self._weighing(record, why if record.revision > 1 else None)
        return [self._event(t, record.published, f"{record.weighing}/{record.revision}")]

    def _claim(self, record: _Record) -> None:
        """Keep the account of tags weighed under this job sheet."""
        if record.sheet != self._sheet:
            return
        code = record.verdict.code if record.verdict and not record.voided else None
        for name in [name for name, weighing in self._weighed.items() if weighing == record.weighing]:
            if code is None or name != str(code):
                del self._weighed[name]
        if code is not None:
            self._weighed.setdefault(str(code), record.weighing)


def tag(code: TagCode, *, reads: int = 0, link: str | None = None) -> Tag:
    """Make a tag as published."""
    return Tag(
        id=str(code),
        code=f"{code.country:03d}",
        national=f"{code.national:012d}",
        animal=code.animal,
        reads=reads,
        link=link,
        remarks=tuple(code.remarks()),
    )


def _tag_of(verdict: Verdict) -> Tag | None:
    return tag(verdict.code, reads=verdict.reads, link=verdict.link) if verdict.code is not None else None


def _animal(record: _Record) -> dict[str, str] | None:
    return {"visual": record.visual} if record.visual else None


def _nobody(about: About) -> str:
    if about.weighing is not None:
        return f"No weighing {about.weighing} is at hand here: only the last {KEPT} of this run can be changed."
    if about.number is not None:
        return f"No number {about.number} is at hand here: only the last {KEPT} of this run can be changed."
    return "Nobody has been weighed here yet."
