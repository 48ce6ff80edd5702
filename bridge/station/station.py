"""One place where animals are weighed: the platform and the pairing as one machine.

Readings, tag reads, link states, requests and time go in; events come out, complete but for what the job knows.  Every
call begins by letting time pass up to its own: deadlines fall due in order, each at its own time, so that it makes no
difference how often `advance` is called.
"""

from collections.abc import Callable, Iterable, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import replace
from typing import Any

from neckyoke.bridge.events import Attention, Event, Stamper, Weighing, make_id
from neckyoke.bridge.station.account import Account
from neckyoke.bridge.station.amend import claimed, moved
from neckyoke.bridge.station.explain import explain
from neckyoke.bridge.station.hearing import Hearing
from neckyoke.bridge.station.instructions import (
    TOO_MANY,
    About,
    AnimalInstruction,
    Dosed,
    Found,
    Identify,
    Instruction,
    NewJob,
    Reply,
    Void,
    Zero,
    is_one_too_many,
    nobody,
    told,
)
from neckyoke.bridge.station.platform.happenings import Began, Ended, Happening, SettledAt, ZeroMoved
from neckyoke.bridge.station.platform.platform import Platform
from neckyoke.bridge.station.publisher import Needed, Publisher, nothing_needed
from neckyoke.bridge.station.record import Record
from neckyoke.bridge.station.settings import Memory, Place, PlaceStay, Settings
from neckyoke.bridge.station.tags.pairing import Pairing
from neckyoke.bridge.station.views import Left, StationView
from neckyoke.bridge.station.words.people import People
from neckyoke.bridge.station.words.takeback import Spoken
from neckyoke.protocols.readings import TagRead, WeightReading
from neckyoke.protocols.tagcode import TagCode


class Station:
    """One station.  Deterministic: the same input gives the same events, ids and all.

    `account` tells who was weighed (as `memory` has it, when it is not given); `needed` what holds an animal; `place`
    where a stay belongs that begins, by its number and when (without, in the account's present job).  `told`: how
    much this run has told already, for ids.
    """

    def __init__(
        self,
        settings: Settings,
        stamp: Stamper,
        memory: Memory,
        account: Account | None = None,
        needed: Needed = nothing_needed,
        place: PlaceStay | None = None,
        told: int = 0,
    ) -> None:
        self.settings = settings
        self.links = frozenset({settings.scale, *settings.readers})
        self._stamp = stamp
        self._platform = Platform(settings, memory)
        self._pairing = Pairing(settings.readers, settings.places, memory.habits, settings.doubt_percent)
        self._number = memory.number
        self.account = account or Account(memory.weighed)
        self._place = place or (lambda _number, _on: Place(self.account.job or None))
        self._publisher = Publisher(settings, stamp, self.account, self._pairing.is_final, memory, needed)
        self.rest_of = self._publisher.rest_of
        self._hearing = Hearing(settings)
        self._people = People(self._pairing, self._publisher, self.account, stamp)
        self.told = told

    # -- the door ------------------------------------------------------------------------------------------------

    def feed(self, t: float, link: str, item: WeightReading | TagRead | bool) -> list[Event]:  # noqa: FBT001
        """Take a reading, a tag read, or the state of a link: True for up, False for down."""
        events = self.advance(t)
        if isinstance(item, WeightReading):
            if item.kg is not None and self._publisher.traces is not None:
                self._publisher.curve.append((t, item.kg))
            return events + self._happened(t, self._platform.weight(t, item))
        if isinstance(item, TagRead):
            return events + self._tag(t, link, item.code)
        if link in self.settings.readers:
            self._pairing.link(t, link, up=item)
        return events  # that of the scale, lost or back, ends nothing by itself: silence does

    def advance(self, t: float) -> list[Event]:
        """Let time pass up to `t`."""
        events: list[Event] = []
        while (due := self._pairing.due) is not None and due <= t:
            events += self._happened(due, self._platform.advance(due))
            events += self._publisher.changed(due, self._pairing.settle(due))
        return events + self._happened(t, self._platform.advance(t))

    def finish(self, t: float) -> list[Event]:
        """End the run: the open stay ends, every pending decision is made."""
        record = self._open
        events = self.advance(t) + self._happened(t, self._platform.finish(t))
        events += self._publisher.changed(t, self._pairing.finish())
        if record is not None:
            self._publisher.leave(record)
        return events

    def ask(self, t: float, ask: Instruction, asked: str | None = None) -> tuple[Reply, list[Event]]:
        """Do what a person asks, or say why not; `asked` is the request's id, by which it can be taken back."""
        events = self.advance(t)
        match ask:
            case Zero():
                reply = self._platform.zero(t)
                return reply, events + self._happened(t, self._platform.advance(t))
            case NewJob(job):
                self.account.begin(job)
                return Reply(done=True, text="Another job is open from the next animal on."), events
        record = self._publisher.find(ask.about, self._number)
        if record is None:
            return Reply(done=False, text=nobody(ask.about)), events
        if is_one_too_many(ask, record.notes):
            return Reply(done=False, text=TOO_MANY), events
        text, why = told(ask, record.called)
        changed = self._people.said(t, record, ask, asked)
        events += self._publisher.changed(t, changed, (record.number, why))
        if isinstance(ask, Identify | Found | Dosed) and record.off is None and record.settled is not None:
            events += self._publisher.settled(t, record)
        if record.off is not None and not any(verdict.number == record.number for verdict in changed):
            events += self._publisher.publish(t, record, why)
        if isinstance(ask, Void) and record.code is not None:
            events += self._publisher.released(t, {str(record.code)})
        if isinstance(ask, Dosed | Void):
            events += self._publisher.beside(t, record.weighing, record.called)
        return Reply(done=True, text=text, weighing=record.weighing), events

    def undo(self, t: float, spoken: Spoken) -> tuple[Reply, list[Event]]:
        """Take a word on an animal at hand back, and what it did to the neighbours with it."""
        events, (reply, undone) = self.advance(t), self._people.undo(t, spoken)
        return reply, events + undone

    def spoken(self, asked: str) -> Spoken | None:
        """Return what was said in a request, while it can be taken back."""
        return self._people.spoken(asked)

    def beside_back(self, t: float, spoken: Spoken) -> list[Event]:
        """Take back what a word on a stay that only the journal knows did to its neighbours at hand."""
        return self.advance(t) + self._people.beside_back(t, spoken)

    def put_back(self, t: float, past: Weighing, now: Weighing) -> list[Event]:
        """Publish the next revision of a stay that only the journal knows, last; `past` is the one before."""
        return self.advance(t) + self._people.put_back(t, past, now)

    def resumed_back(self, weighing: str, back: Callable[[Weighing], Weighing]) -> None:
        """Put back what was said of a stay in the run before, where it goes on in this one; nothing is published."""
        self._publisher.resumed_back(weighing, back)

    def saw(self, weighing: Weighing) -> None:
        """Take a weighing as it is published, by whomever: what this run goes on with has its revision from it."""
        self._publisher.amended(weighing)

    def amended(self, asked: str, said: AnimalInstruction, number: int) -> None:
        """Remember what a word on a stay that only the journal knows did to those beside it."""
        self._people.amended(asked, said, number)

    def amend(self, t: float, past: Weighing, said: AnimalInstruction) -> tuple[Reply, list[Event]]:
        """Do what a person asks of a weighing that is not at hand any more; `past` is its newest revision."""
        events = self.advance(t)
        reply, amended = self._people.amend(t, past, said)
        return reply, events + amended

    def left(self, t: float) -> Left | None:
        """Return the last animal, when it has left; None while one stands there, and before the first."""
        record = self._publisher.records.get(self._number)
        if record is None or record.off is None:
            return None
        return Left((record.resumes or record).number, t - record.off, record.code and str(record.code))

    def number_of(self, about: About) -> int | None:
        """Return the number of an animal that is at hand; one that is not can be read from the journal, for `amend`."""
        record = self._publisher.find(about, self._number)
        return (record.resumes or record).number if record is not None else None

    def known_of(self, about: About) -> tuple[str | None, str | None]:
        """Return weighing and tag of an animal that is at hand."""
        record = self._publisher.find(about, self._number)
        return (record.weighing, record.code and str(record.code)) if record is not None else (None, None)

    def again(self, t: float, weighings: AbstractSet[str], why: str) -> list[Event]:
        """Publish anew what is at hand of these weighings, by id: what is known of their animals has changed."""
        return self.advance(t) + self._publisher.again(t, weighings, why)

    def move(self, t: float, places: Mapping[int, Place], why: str) -> list[Event]:
        """Let stays that are at hand, by number, belong elsewhere; each is published anew."""
        events = self.advance(t)
        found = [(self._publisher.find(About(number=number), number), place) for number, place in places.items()]
        moved = [(record, place) for record, place in found if record is not None]
        for record, place in moved:
            self.account.free(record)
            record.move(place)
        for record, _ in moved:
            if record.published is not None:
                events += self._publisher.publish(t, record, why)
            elif record.settled is not None:
                events += self._publisher.settled(t, record)
        return events + self._publisher.released(t, {str(record.code) for record, _ in moved})

    def move_past(self, t: float, past: Weighing, place: Place, why: str, known: Mapping[str, Any]) -> Event:
        """Let a stay that is not at hand any more belong elsewhere, or under another sheet; return its next revision.

        `known`: the facts of its animal, in the herd book.
        """
        now = moved(past, place, self.account.of(place.job), why, known)
        self.account.count(past.weighing, (), past.job)
        self.account.count(now.weighing, claimed(now), now.job)
        return self._publisher.event(t, now, f"{now.weighing}/{now.revision}")

    def restamp(self, t: float) -> list[Event]:
        """Amend every weighing at hand that was published before the wall clock was known: its times are right now."""
        return self.advance(t) + self._publisher.restamped(t)

    def keep_traces(self) -> None:
        """Keep from here on what `explain` needs.  For replays: it costs memory with every stay."""
        self._publisher.traces = {}
        self._pairing.trace = True

    def explain(self, which: str) -> list[str] | None:
        """Return why a weighing, by its id or number, came out as it did; None when no trace of it was kept."""
        for number, trace in (self._publisher.traces or {}).items():
            case = self._pairing.cases.get(number)
            if case is not None and trace.revisions and which in (str(number), trace.revisions[-1][1].weighing):
                return explain(trace, case)
        return None

    @property
    def awaits(self) -> bool:
        """Whether it is not known yet if a stay that an earlier run left open goes on."""
        return self._publisher.interrupted is not None

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
            missing=self._publisher.missing(record) if record else (),
        )

    @property
    def memory(self) -> Memory:
        """What to carry to the next run."""
        return Memory(
            number=self._number,
            zero_kg=self._platform.zero_kg,
            weighed=self.account.jobs,
            habits=self._pairing.habits,
            visits=self._publisher.visits.lately,
            **self._publisher.kept,
        )

    @property
    def open_stay(self) -> Weighing | None:
        """The weighing that the open stay becomes if the box stops now; None where none has begun."""
        record, ended = self._open, self._platform.open
        if record is None or ended is None:
            return None
        cut = replace(
            record,
            settled=ended.settled,
            off=ended.off,
            weight=ended.weight,
            platform_flags=ended.flags,
            stood=ended.stood,
            verdict=record.verdict or self._pairing.believe(record.number, ended.off),
            revision=1,
        )
        weighing = cut.as_weighing(self._stamp, self.account.of(record.job), None, final=True)
        return self._publisher.whole(cut, weighing)

    # -- what happens --------------------------------------------------------------------------------------------

    @property
    def _open(self) -> Record | None:
        record = self._publisher.records.get(self._number)
        return record if record is not None and record.off is None else None

    def _happened(self, t: float, happenings: Iterable[Happening]) -> list[Event]:
        events: list[Event] = []
        for happening in happenings:
            match happening:
                case Began(number, on, in_sight):
                    weighing = make_id(self.settings.site, self.settings.name, self.settings.run, number)
                    self._number = number
                    place = self._place(number, on)
                    record = Record(self.settings.name, number, weighing, on, *place, in_sight=in_sight)
                    self._publisher.add(record)
                    self._pairing.began(number, on)
                case SettledAt(number, _, at, weight, flags):
                    record = self._publisher.records[number]
                    record.settled = record.settled if record.settled is not None else at
                    record.weight, record.platform_flags = weight, flags
                    events += self._shown(at, record)
                case Ended(number, _, settled, off, weight, flags, stood, reckoned):
                    record = self._publisher.records[number]
                    record.settled, record.off, record.weight, record.platform_flags = settled, off, weight, flags
                    record.stood, record.reckoned = stood, reckoned
                    _, again = self._publisher.comes_again(record)
                    events += self._publisher.changed(off, self._pairing.ended(number, off, again=again))
                case ZeroMoved(number, at, weight, flags):
                    record = self._publisher.records[number]
                    record.weight, record.platform_flags = weight, flags
                    events += self._publisher.publish(
                        at, record, "the empty platform shows another weight after the stay"
                    )
                case Attention():
                    self.told += 1
                    events.append(self._publisher.event(t, happening, f"{self.settings.run}/attention/{self.told}"))
        if self._platform.is_seen_empty:
            self._publisher.interrupted = None
        return events

    def _tag(self, t: float, link: str, code: TagCode) -> list[Event]:
        told = self._hearing.heard(t, link, code)
        key = f"{self.settings.run}/{link}/{code}/{t:.3f}"
        events = [self._publisher.event(t, one, key) for one in told]
        self._pairing.read(t, link, code)
        record = self._open
        if record is None:
            return events
        held = record.verdict
        its = held is not None and held.code == code
        if (its and held is not None and not held.flags) or not self._hearing.looks(t, held=its):
            return events
        record.verdict = self._pairing.believe(record.number, t)
        if record.settled is not None and (held is None or held.code != record.verdict.code):
            events += self._shown(t, record)
        return events

    def _shown(self, t: float, record: Record) -> list[Event]:
        """Publish an animal that has settled, but first who loses its tag to it: a dose is given by what is shown."""
        same, again = self._publisher.comes_again(record)
        *lost, record.verdict = self._pairing.show(record.number, t, maybe_same=same, again=again)
        return self._publisher.changed(t, lost) + self._publisher.settled(t, record)
