"""One place where animals are weighed: the platform and the pairing as one machine.

Readings, tag reads, link states, requests and time go in; events come out, complete but for what the job knows.  Every
call begins by letting time pass up to its own: deadlines fall due in order, each at its own time, so that it makes no
difference how often `advance` is called.
"""

from collections import deque
from collections.abc import Iterable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, replace

from neckyoke.bridge.events import (
    Attention,
    Clock,
    Data,
    Event,
    Flag,
    Stamper,
    Tag,
    TagSeen,
    Weighing,
    make_id,
    wrap,
)
from neckyoke.bridge.station.amend import amended, claimed
from neckyoke.bridge.station.explain import CURVE, Trace, explain
from neckyoke.bridge.station.instructions import (
    About,
    AnimalInstruction,
    Identify,
    Instruction,
    NewSheet,
    Note,
    Reply,
    Skip,
    Void,
    Zero,
    nobody,
    told,
)
from neckyoke.bridge.station.platform.happenings import Began, Ended, Happening, SettledAt, View, ZeroMoved
from neckyoke.bridge.station.platform.platform import Platform
from neckyoke.bridge.station.reasons import reason
from neckyoke.bridge.station.record import Record, tag
from neckyoke.bridge.station.resume import goes_on, joined
from neckyoke.bridge.station.settings import Memory, Settings
from neckyoke.bridge.station.tags.pairing import Pairing
from neckyoke.bridge.station.tags.verdict import SAID, Verdict, by_person
from neckyoke.protocols.readings import TagRead, WeightReading
from neckyoke.protocols.tagcode import TagCode

KEPT = 300
"""Weighings at hand for requests; older ones are in the journal only, and are amended from there."""
BESIDE = 3
"""A person who gives an old weighing the tag of one so near by number moves it; else the animal was weighed twice."""
UNHEARD_S = 60.0
"""A tag unheard for so long is announced again."""
ASIDE_S = 0.25
"""While an animal stands without a sure tag, reads of a known tag are weighed this often."""
BELIEFS = 8
"""And no more than so many a second, whatever a reader babbles."""


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
        self._pairing = Pairing(settings.readers, settings.places, memory.habits)
        self._number = memory.number
        self._weighed = dict(memory.weighed)
        self._sheet = 0
        self._records: dict[int, Record] = {}
        self._heard: dict[tuple[str, TagCode], float] = {}
        self._told = 0
        self._beliefs: deque[float] = deque(maxlen=BELIEFS)  # when tags were last weighed aside
        self._traces: dict[int, Trace] | None = None
        self._curve: deque[tuple[float, float]] = deque(maxlen=CURVE)
        self._interrupted = Weighing.model_validate(memory.interrupted) if memory.interrupted else None

    # -- the door ------------------------------------------------------------------------------------------------

    def feed(self, t: float, link: str, item: WeightReading | TagRead | bool) -> list[Event]:  # noqa: FBT001
        """Take a reading, a tag read, or the state of a link: True for up, False for down."""
        events = self.advance(t)
        if isinstance(item, WeightReading):
            if item.kg is not None and self._traces is not None:
                self._curve.append((t, item.kg))
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

    def ask(self, t: float, ask: Instruction) -> tuple[Reply, list[Event]]:
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
            return Reply(done=False, text=nobody(ask.about)), events
        text, why = told(ask, record.resumes.number if record.resumes else record.number)
        changed = self._asked(t, record, ask)
        events += self._changed(t, changed, (record.number, why))
        if isinstance(ask, Identify) and record.off is None and record.settled is not None:
            events += self._settled(t, record)
        if record.off is not None and not any(verdict.number == record.number for verdict in changed):
            events += self._publish(t, record, why)
        if isinstance(ask, Void) and record.code is not None:
            events += self._released(t, {str(record.code)})
        return Reply(done=True, text=text, weighing=record.weighing), events

    def amend(self, t: float, past: Weighing, said: AnimalInstruction, *, here: bool) -> tuple[Reply, list[Event]]:
        """Do what a person asks of a weighing that is not at hand any more.

        `past` is its newest revision; `here`: it was made under the present job sheet.
        """
        events = self.advance(t)
        text, why = told(said, past.number)
        if isinstance(said, Identify) and said.tag is not None:
            events += self._changed(t, self._moved(past.number, said.tag), (past.number, why))
        if here:
            before, after = claimed(past), claimed(amended(past, said, {}))
            self._account(past.weighing, after)
            events += self._released(t, {before} - {after})
        now = amended(past, said, self._weighed if here else {})
        if self._interrupted is not None and now.weighing == self._interrupted.weighing:
            self._interrupted = now
        events.append(self._event(t, now, f"{now.weighing}/{now.revision}"))
        return Reply(done=True, text=text, weighing=now.weighing), events

    def number_of(self, about: About) -> int | None:
        """Return the number of an animal that is at hand; one that is not can be read from the journal, for `amend`."""
        record = self._find(about)
        return record.number if record is not None else None

    def restamp(self, t: float) -> list[Event]:
        """Amend every weighing at hand that was published before the wall clock was known: its times are right now."""
        events = self.advance(t)
        for record in self._records.values():
            if record.published is not None and record.published.clock is not Clock.SYNCHRONISED:
                events += self._publish(t, record, "the clock is known now")
        return events

    def keep_traces(self) -> None:
        """Keep from here on what `explain` needs.  For replays: it costs memory with every stay."""
        self._traces = {}
        self._pairing.trace = True

    def explain(self, which: str) -> list[str] | None:
        """Return why a weighing, by its id or number, came out as it did; None when no trace of it was kept."""
        for number, trace in (self._traces or {}).items():
            case = self._pairing.cases.get(number)
            if case is not None and trace.revisions and which in (str(number), trace.revisions[-1][1].weighing):
                return explain(trace, case)
        return None

    @property
    def view(self) -> StationView:
        """The station as it is now."""
        record = self._open
        verdict = record.verdict if record else None
        return StationView(
            platform=self._platform.view,
            number=record.number if record else None,
            weighing=record.weighing if record else None,
            tag=record.tag if record else None,
            tags_seen=verdict.seen if verdict else 0,
            missing=self._missing(record) if record else (),
        )

    @property
    def memory(self) -> Memory:
        """What to carry to the next run."""
        return Memory(
            number=self._number,
            zero_kg=self._platform.zero_kg,
            weighed=dict(self._weighed),
            habits=self._pairing.habits,
            interrupted=self._interrupted.model_dump(mode="json") if self._interrupted else None,
        )

    @property
    def open_stay(self) -> Weighing | None:
        """The weighing that the open stay becomes if the box stops now; None when none has settled."""
        record, ended = self._open, self._platform.open
        if record is None or ended is None:
            return None
        cut = replace(
            record,
            settled=ended.settled,
            off=ended.off,
            weight=ended.weight,
            platform_flags=ended.flags,
            revision=1,
        )
        weighing = cut.as_weighing(self._stamp, self._weighed, None, final=True)
        past = self._interrupted
        return joined(past, weighing) if past is not None and goes_on(past, weighing) else weighing

    # -- what happens --------------------------------------------------------------------------------------------

    @property
    def _open(self) -> Record | None:
        record = self._records.get(self._number)
        return record if record is not None and record.off is None else None

    def _code_of(self, number: int) -> TagCode | None:
        record = self._records.get(number)
        return record.code if record is not None else None

    def _happened(self, t: float, happenings: Iterable[Happening]) -> list[Event]:
        events: list[Event] = []
        for happening in happenings:
            match happening:
                case Began(number, on):
                    weighing = make_id(self.settings.site, self.settings.name, self.settings.run, number)
                    self._number = number
                    self._records[number] = Record(self.settings.name, number, weighing, on, self._sheet)
                    if len(self._records) > KEPT:
                        del self._records[next(iter(self._records))]
                    self._pairing.began(number, on)
                case SettledAt(number, _, at, weight, flags):
                    record = self._records[number]
                    record.settled = record.settled if record.settled is not None else at
                    record.weight, record.platform_flags = weight, flags
                    record.verdict = self._pairing.believe(number, at)
                    record.code_before = self._code_of(number - 1)
                    events += self._settled(at, record)
                case Ended(number, _, settled, off, weight, flags):
                    record = self._records[number]
                    record.settled, record.off, record.weight, record.platform_flags = settled, off, weight, flags
                    record.code_before = self._code_of(number - 1)
                    events += self._changed(off, self._pairing.ended(number, off))
                case ZeroMoved(number, at, weight, flags):
                    record = self._records[number]
                    record.weight, record.platform_flags = weight, flags
                    events += self._publish(at, record, "the empty platform shows another weight after the stay")
                case Attention():
                    self._told += 1
                    events.append(self._event(t, happening, f"{self.settings.run}/attention/{self._told}"))
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
        if record is None:
            return events
        held = record.verdict
        sure = held is not None and held.code == code and not held.flags
        often = len(self._beliefs) == BELIEFS and t - self._beliefs[0] < 1.0
        if sure or often or (before is not None and self._beliefs and t - self._beliefs[-1] < ASIDE_S):
            return events
        self._beliefs.append(t)
        record.verdict = self._pairing.believe(record.number, t)
        if record.settled is not None and (held is None or held.code != record.verdict.code):
            events += self._settled(t, record)
        return events

    def _changed(self, t: float, verdicts: list[Verdict], said: tuple[int, str] | None = None) -> list[Event]:
        """Publish what changed, and whatever that changes in turn; `said`: the number a person spoke of, and what."""
        changed: list[tuple[Record, Verdict | None]] = []
        for verdict in verdicts:
            record = self._records.get(verdict.number)
            if record is not None and record.off is not None:
                changed.append((record, record.verdict if record.revision else None))
                record.verdict = verdict
        moved = [(record, before.code) for record, before in changed if before and before.code != record.code]
        for record, _ in moved:  # before anything is published, or whoever has the tag now would pass for a repeat
            self._account(record.weighing, None)
        events = [
            event
            for record, before in changed
            for event in self._publish(t, record, reason(record, before, said, self._records.values()))
        ]
        return events + self._released(t, {str(code) for _, code in moved})

    def _released(self, t: float, tags: AbstractSet[str | None]) -> list[Event]:
        """Publish anew what is no repeat any more, since an earlier weighing has lost these tags."""
        events: list[Event] = []
        for record in self._records.values():
            changed = record.published and record.flags(self._weighed_with(record)) != record.published.flags
            if changed and record.code is not None and str(record.code) in tags:
                events += self._publish(t, record, "an earlier weighing no longer has this tag")
        return events

    # -- what people ask -----------------------------------------------------------------------------------------

    def _find(self, about: About) -> Record | None:
        if about.weighing is not None:
            return next((one for one in self._records.values() if one.weighing == about.weighing), None)
        if about.number is not None:
            resumed = (one for one in self._records.values() if one.resumes and one.resumes.number == about.number)
            return self._records.get(about.number) or next(resumed, None)
        return self._records.get(self._number)

    def _asked(self, t: float, record: Record, said: AnimalInstruction) -> list[Verdict]:
        """Do it; give the verdicts that changed."""
        match said:
            case Note(text):
                record.notes.append(text)
            case Void():
                record.voided = True
            case Skip():
                record.skipped = [*said.among(record.skipped)]
            case Identify(code, visual):
                record.visual = visual
                if said.of_tag:
                    return self._word(t, record, code)
        return []

    def _word(self, t: float, record: Record, code: TagCode | None) -> list[Verdict]:
        """Take a person's word on a tag; give the verdicts that it changes."""
        if self._pairing.knows(record.number):
            changed = self._pairing.word(t, record.number, code)
            if record.off is None:
                record.verdict = self._pairing.believe(record.number, t)
            return changed
        return [*self._moved(record.number, code), by_person(record.number, code)]

    def _moved(self, number: int, code: TagCode | None) -> list[Verdict]:
        """Take a tag that a person gave to another number from those beside it."""
        beside = [
            one
            for one in self._records.values()
            if code is not None and one.code == code and 0 < abs(one.number - number) <= BESIDE
        ]
        return [Verdict(one.number, None, flags=(Flag.NO_TAG, Flag.BY_PERSON), rule=SAID) for one in beside]

    # -- what is published ---------------------------------------------------------------------------------------

    def _event(self, t: float, data: Data, key: str) -> Event:
        return wrap(data, site=self.settings.site, time=self._stamp(t).time, key=key)

    def _missing(self, record: Record) -> tuple[str, ...]:
        verdict = record.verdict
        unknown = verdict is None or (verdict.code is None and Flag.BY_PERSON not in verdict.flags)
        unknown = unknown and record.visual is None  # a person who read the ear's number has named the animal
        return ("tag",) if self.settings.require_tag and unknown else ()

    def _settled(self, t: float, record: Record) -> list[Event]:
        """Publish the first trustworthy weight, once more when what is missing or believed has changed."""
        record.told += 1
        settled = record.as_settled(self._stamp, self._weighed, self._missing(record))
        return [self._event(t, settled, f"{record.weighing}/{record.told}")]

    def _publish(self, t: float, record: Record, why: str | None) -> list[Event]:
        """Publish a weighing, or its next revision."""
        record.revision += 1
        self._resume(record)
        self._claim(record)
        weighing = self._spell(record, why)
        record.published = joined(record.resumes, weighing) if record.resumes else weighing
        if self._traces is not None:
            trace = self._traces.setdefault(record.number, Trace(list(self._curve), record.settled))
            trace.revisions.append((t, record.published))
        return [self._event(t, record.published, f"{record.weighing}/{record.published.revision}")]

    def _resume(self, record: Record) -> None:
        """Let the first stay of a run go on as the one that the last run left open, if it is the same."""
        past, self._interrupted = self._interrupted, None
        if past is not None and goes_on(past, self._spell(record, None)):
            record.resumes, record.weighing = past, past.weighing

    def _spell(self, record: Record, why: str | None) -> Weighing:
        return record.as_weighing(
            self._stamp,
            self._weighed_with(record),
            why if record.revision > 1 else None,
            final=self._pairing.is_final(record.number),
        )

    def _claim(self, record: Record) -> None:
        """Keep the account of animals weighed under this job sheet."""
        if record.sheet == self._sheet:
            self._account(record.weighing, record.claim)

    def _weighed_with(self, record: Record) -> Mapping[str, str]:
        """Return the tags weighed under a record's job sheet; of an earlier one only whether it was a repeat there."""
        if record.sheet == self._sheet:
            return self._weighed
        told = record.published
        again = told is not None and Flag.REPEAT in told.flags and told.tag == record.tag
        return {str(record.code): ""} if again else {}

    def _account(self, weighing: str, claim: str | None) -> None:
        for name in [name for name, of in self._weighed.items() if of == weighing and name != claim]:
            del self._weighed[name]
        if claim is not None:
            self._weighed.setdefault(claim, weighing)
