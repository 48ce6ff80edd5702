"""Every link's decoder, every station and the clerk of one configuration, as one pure machine.

Bytes, link states, requests and time go in; complete events come out.  `run` drives it from live ports, `replay` from a
capture, the demo from a simulated yard: the very same object, so that what was seen once can be seen again.
"""

from collections import Counter
from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime
from typing import TypeAlias, TypeVar

from neckyoke.bridge.asking.herd_requests import HerdRequest, OfAnimal, ReplyRequest
from neckyoke.bridge.asking.job_requests import JOB_REQUESTS, UndoRequest
from neckyoke.bridge.asking.parts import Animal, Base
from neckyoke.bridge.asking.requests import Answer, ReloadRequest, Request, StatusRequest, to_ask
from neckyoke.bridge.config.model import Config, LinkTable
from neckyoke.bridge.events import Attention, Event, LinkState, Settled, Stamper, Weighing, make_id, spell_time, wrap
from neckyoke.bridge.herd.keeper import Keeper, without_id
from neckyoke.bridge.herd.wishes import Wishes
from neckyoke.bridge.herding import Rosters, ask_herd, asked_of_long_ago, looked_up
from neckyoke.bridge.job.afterwards import Afterwards, Redated
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.meaning import in_words_of
from neckyoke.bridge.site_jobs import NoSheets, Sheets, StationJobs
from neckyoke.bridge.standing import Standing
from neckyoke.bridge.station.account import Account
from neckyoke.bridge.station.instructions import About, Identify, Instruction, NewJob, Reply, Zero
from neckyoke.bridge.station.settings import Memory, Settings
from neckyoke.bridge.station.station import Station
from neckyoke.protocols.decoder import Decoder, scale_decoder, tag_decoder
from neckyoke.protocols.readings import Reject
from neckyoke.protocols.scale.builtin import layout_from_table

UNREADABLE_AFTER = 20
"""More rejects than readings by so many: a person is told that the layout does not fit, until as many more readings
came; noise in which a number stands now and then is told of once."""

LATE_S = 15.0
"""A note or a finding may come so long after its animal has left, without a number."""
MOVED = "the job that it belongs to, or its sheet, is another now"
R = TypeVar("R", bound=Base)
MakeClerk: TypeAlias = Callable[[StationJobs], Clerk]
"""Makes the clerk of a station from its jobs, which tell what sheet holds for whom."""


@dataclass(slots=True)
class _Link:
    """One link as the site sees it: its decoder, where its readings go, and what was counted."""

    table: LinkTable
    decoder: Decoder
    stations: list[Station]
    state: str = ""  # not known yet
    since: float = 0.0
    counts: Counter[str] = field(default_factory=Counter)
    unread: int = 0  # rejects that were not made up for by a reading since, at most `UNREADABLE_AFTER`


def settings_of(config: Config, name: str, run: str) -> Settings:
    """Make a station's settings from its table."""
    table = config.stations[name]
    return Settings(
        site=config.site,
        name=name,
        scale=table.scale,
        readers={reader.link: reader.position for reader in table.readers},
        places={reader.link: reader.places for reader in table.readers if reader.places is not None},
        capacity_kg=table.capacity_kg,
        interval_kg=table.interval_kg,
        smallest_kg=table.smallest_kg,
        require_tag=table.require_tag,
        doubt_percent=table.doubt_percent,
        run=run,
    )


def make_decoders(config: Config) -> dict[str, Decoder]:
    """Make the decoder of each link: of a scale where a station weighs by it, else of a tag reader."""
    layouts = {name: layout_from_table(name, table.model_dump()) for name, table in config.layouts.items()}
    scales = {station.scale for station in config.stations.values()}
    return {
        name: scale_decoder(table.layout, table.framing, layouts)
        if name in scales
        else tag_decoder(table.framing, table.hex_order)
        for name, table in config.links.items()
    }


class Site:
    """All of one configuration as one machine.  `t` is monotonic seconds since `started`, as everywhere."""

    def __init__(
        self,
        config: Config,
        *,
        started: datetime,
        stamp: Stamper,
        memories: Mapping[str, Memory] | None = None,
        clerk: MakeClerk = Clerk,
        sheets: Sheets | None = None,
        keeper: Keeper | None = None,
    ) -> None:
        self.config = config
        self.keeper = keeper or Keeper(config.site)
        self.wishes = Wishes(self.keeper)
        self.run = spell_time(started)
        self.stamp = stamp
        kept = {name: (memories or {}).get(name, Memory()) for name in config.stations}
        self.jobs = {
            name: StationJobs(
                site=config.site,
                station=name,
                run=self.run,
                stamp=stamp,
                zone=config.zone,
                account=Account(memory.weighed),
                sheets=sheets or NoSheets(),
                memory_before=memory.jobs,
            )
            for name, memory in kept.items()
        }
        self.clerks = {name: clerk(jobs) for name, jobs in self.jobs.items()}
        self.stations = {
            name: Station(
                settings_of(config, name, self.run),
                stamp,
                memory,
                self.jobs[name].account,
                self.clerks[name].needed,
                self.jobs[name].place,
            )
            for name, memory in kept.items()
        }
        decoders = make_decoders(config)
        self._links = {
            name: _Link(
                table,
                decoders[name],
                [station for station in self.stations.values() if name in station.links],
            )
            for name, table in config.links.items()
        }
        self.settled: dict[str, Settled] = {}
        """The last settled event of each station, filled in."""
        self.rosters = Rosters(config.site, self.keeper.book)
        self._standing = Standing(patient=True)
        self._told = 0
        self._at = (0.0, 0)  # when something was asked last, and how often at that very moment
        self.last_asked: dict[str, str] = {}  # what was asked last of each station, of what can be taken back
        self.owed: dict[str, tuple[int, ...]] = {}  # numbers, by station, of stays to move that only the journal knows

    def begin(self) -> list[Event]:
        """Begin the run: the animals of the rosters are taken into the herd book."""
        return self._rosters(0.0)

    def _rosters(self, t: float) -> list[Event]:
        return self.rosters.take(self.clerks, self.stamp(t).time, f"{self.run}/{t:.6f}")

    def data(self, t: float, link: str, data: bytes) -> list[Event]:
        """Take bytes from a link."""
        wire = self._links[link]
        events: list[Event] = []
        for outcome in wire.decoder.feed(data):
            if isinstance(outcome, Reject):
                events += self._rejected(t, link, wire, outcome)
                continue
            wire.counts["frames"] += 1
            wire.unread = max(0, wire.unread - 1)
            if self._standing and not wire.unread:
                events += self._note(t, link, f"{link} can be read again.", over=True)
            for station in wire.stations:
                events += self.filled_all(t, station.feed(t, link, outcome))
        return events

    def link(self, t: float, link: str, state: str, text: str = "") -> list[Event]:
        """Take a link's change of state: up, lost, silent or missing."""
        wire = self._links[link]
        if state == wire.state:
            return []
        lasted = round(t - wire.since, 3)
        wire.state, wire.since = state, t
        if state == "up":
            wire.decoder.reset()
        change = LinkState.model_validate({"link": link, "state": state, "text": text, "lasted_s": lasted})
        events = [self._wrap(t, change)]
        for station in wire.stations:
            events += self.filled_all(t, station.feed(t, link, state == "up"))
        return events

    def advance(self, t: float) -> list[Event]:
        """Let time pass up to `t`.  How often this is called makes no difference to what comes out."""
        events: list[Event] = []
        for name, station in self.stations.items():
            advanced = station.advance(t)
            self.jobs[name].advance(t)
            events += self.filled_all(t, advanced)
        return events

    def request(self, t: float, request: Request, past: Weighing | None = None) -> tuple[Answer, list[Event]]:
        """Do what is asked, or say why not.  Status and reloading are the service's.

        `past` is the newest revision of the weighing that it is about, where that is not at hand (`lacks`).  A replay
        has no journal to read it from: there such a request finds nobody, and the amendment is not made again.
        """
        if isinstance(request, StatusRequest | ReloadRequest):
            return Answer(id=request.id, done=False, text="Only the running daemon can do that."), []
        if isinstance(request, HerdRequest):
            return self._of_herd(t, request, past)
        name = self.station_of(request)
        if name is None:
            known = ", ".join(sorted(self.stations))
            wrong = f"There is no station {request.station!r} here; known: {known}."
            text = wrong if request.station else f"Say which station: {known}."
            return Answer(id=request.id, done=False, text=text), []
        named = self._numbered(name, request)
        refused = named if isinstance(named, str) else self._who_left(t, name, named)
        if isinstance(named, str) or refused:
            return Answer(id=request.id, done=False, text=str(refused)), []
        return self._do(t, name, named, past)

    def _do(self, t: float, name: str, request: Request, past: Weighing | None) -> tuple[Answer, list[Event]]:
        """Do what is asked of a station."""
        self._at = (t, self._at[1] + 1) if self._at[0] == t else (t, 0)
        asked = request.id or make_id(self.config.site, self.run, "asked", f"{t:.6f}", self._at[1])
        station, jobs = self.stations[name], self.jobs[name]
        if isinstance(request, JOB_REQUESTS):
            events = self.filled_all(t, station.advance(t))
            done, moved = jobs.ask(t, request, asked)
            if done.done:
                self.last_asked[name] = asked
            events += self._moved(t, name, moved) + self._rosters(t)
            answer = Answer(
                id=request.id, done=done.done, text=done.text, asked=asked if done.done else None, job=done.job
            )
            return answer, events
        if isinstance(request, UndoRequest):
            return self._undo(t, name, request, past)
        ask = to_ask(request)
        assert ask is not None, "only status is no station's"
        reply, events = self._ask(t, name, ask, past, asked)
        if reply.done and not isinstance(ask, Zero):
            self.last_asked[name] = asked
        question = next((e.data.question for e in events if isinstance(e.data, Attention) and e.data.question), None)
        answer = Answer(
            id=request.id,
            done=reply.done,
            text=f"{reply.text}  {question.text}" if question else reply.text,
            asked=asked if reply.done and not isinstance(ask, Zero) else None,
            weighing=reply.weighing,
            question=question,
        )
        return answer, events

    def _undo(self, t: float, name: str, request: UndoRequest, past: Weighing | None) -> tuple[Answer, list[Event]]:
        """Take back what was asked."""
        station, jobs = self.stations[name], self.jobs[name]
        events = self.filled_all(t, station.advance(t))
        asked = request.asked or self.last_asked.get(name, "")
        spoken = station.spoken(asked)
        if spoken is not None and spoken.past is None:
            reply, more = station.undo(t, spoken)
            answer = Answer(id=request.id, done=True, text=reply.text, weighing=reply.weighing)
            return answer, events + self.filled_all(t, more)
        if spoken is not None and past is not None:
            more = station.put_back(t, spoken, past)
            text = f"Taken back, of number {past.job_number or past.number}."
            answer = Answer(id=request.id, done=True, text=text, weighing=past.weighing)
            events += [*self.filled_all(t, more[:-1]), more[-1]]
            self.jobs[name].saw(more[-1])
            return answer, [*events, *self.jobs[name].events(t)]
        taken = jobs.undo(asked)
        if taken is None:
            text = "That cannot be taken back any more, or was never asked here."
            return Answer(id=request.id, done=False, text=text), events
        word, moved = taken
        events += self._moved(t, name, moved) + self._rosters(t)
        return Answer(id=request.id, done=True, text=word.text, job=word.job), events

    def _moved(self, t: float, name: str, numbers: Iterable[int]) -> list[Event]:
        """Publish anew the stays that a word on the job has moved; those that are not at hand are owed."""
        station, jobs = self.stations[name], self.jobs[name]
        places = {number: place for number in numbers if (place := jobs.jobs.place(number)) is not None}
        self.owed[name] = tuple(number for number in places if station.number_of(About(number=number)) is None)
        return self.filled_all(t, station.move(t, places, MOVED))

    def move_past(self, t: float, past: Weighing) -> list[Event]:
        """Publish anew a stay that is owed (`owed`), from its newest revision."""
        station, place = self.stations[past.station], self.jobs[past.station].jobs.place(past.number)
        moved = station.move_past(t, past, place, MOVED) if place else None
        return self.filled_all(t, [moved]) if moved else []

    def lacks(self, request: Request) -> tuple[str, About] | None:
        """Return the station and animal that a request is about, when that is not at hand; else None."""
        if isinstance(request, ReplyRequest):
            return asked_of_long_ago(self, request)
        if isinstance(request, OfAnimal) and request.words:
            return None
        name = self.station_of(request)
        if name is not None and isinstance(request, UndoRequest):
            spoken = self.stations[name].spoken(request.asked or self.last_asked.get(name, ""))
            return (name, About(spoken.past[0].weighing)) if spoken is not None and spoken.past is not None else None
        named = self._numbered(name, request) if name is not None else request
        if name is None or not isinstance(named, Animal) or self.stations[name].number_of(named.about) is not None:
            return None
        return name, named.about

    def _numbered(self, name: str, request: R) -> R | str:
        """Return a request with the station's number of its animal; or that there is none."""
        if not isinstance(request, Animal) or request.job_number is None or request.number is not None:
            return request
        jobs = self.jobs[name].jobs
        job = jobs.which(request.job) if request.job else jobs.last
        number = jobs.number_of(request.job_number, job) if job else None
        if number is None:
            return f"{f'Job {job.turn}' if job else 'No job here'} has no number {request.job_number}."
        return request.model_copy(update={"number": number})

    def _who_left(self, t: float, name: str, request: Request) -> str | None:
        """Say which animal a word without a number would change though it has left; None when it may."""
        if not isinstance(request, Animal) or request.is_named or request.yes:
            return None
        left = self.stations[name].left(t)
        if left is None or (request.kind in {"note", "finding"} and left.ago_s <= LATE_S):
            return None
        place = self.jobs[name].jobs.place(left.number)
        told = place.job_number if place and place.job_number else left.number
        who = f"number {told}{f' ({left.tag})' if left.tag else ''}"
        return f"Nobody stands there now.  Is {who} meant, which has left?  Say --number {told}, or --yes."

    def _of_herd(self, t: float, request: HerdRequest, past: Weighing | None) -> tuple[Answer, list[Event]]:
        name = self.station_of(request)
        named = self._numbered(name, request) if name and isinstance(request, OfAnimal) else request
        if isinstance(named, str):
            return Answer(id=request.id, done=False, text=named), []
        assert isinstance(named, HerdRequest), "a number changes no kind"
        return ask_herd(self, t, named, past)

    def station_of(self, request: Base) -> str | None:
        """Return the station that a request is to; None when it names none and there are several."""
        name = request.station or (next(iter(self.stations)) if len(self.stations) == 1 else None)
        return name if name in self.stations else None

    def _ask(
        self, t: float, name: str, ask: Instruction, past: Weighing | None, asked: str
    ) -> tuple[Reply, list[Event]]:
        """Ask a station, in the words of its sheet and roster."""
        station, clerk = self.stations[name], self.clerks[name]
        if isinstance(ask, Zero | NewJob):
            reply, events = station.ask(t, ask)
            return reply, self.filled_all(t, events)
        number = station.number_of(ask.about)
        past = past if number is None else None
        if number or past:
            sheet = clerk.sheet_of(number) if number else clerk.sheet_called(past.sheet) if past else None
            try:
                ask = in_words_of(sheet, ask, [one.name for one in past.treatments] if past else ())
            except ValueError as error:
                return Reply(done=False, text=str(error)), []
        if isinstance(ask, Identify):
            tag = (past.tag.id if past.tag else None) if past else station.known_of(ask.about)[1]
            ask = looked_up(self.keeper.book, clerk.roster, ask, tag)
            past = past and past.model_copy(update={"animal": without_id(past.animal)})
        if past is None:
            reply, events = station.ask(t, ask, asked)
            events = self.filled_all(t, events)
        else:
            reply, events = station.amend(t, past, ask)
            if not reply.done:
                return reply, self.filled_all(t, events)
            last = self.filled_all(t, events[-1:], Afterwards(clerk, other=isinstance(ask, Identify)))
            after = next(one.data for one in last if isinstance(one.data, Weighing) and one.data.number == past.number)
            station.amended(asked, ask, past, after)
            events = [*self.filled_all(t, events[:-1]), *last]
        if reply.done and isinstance(ask, Identify) and ask.visual and clerk.roster is not None:
            unknown = clerk.roster.by_visual(ask.visual) is None
            reply = replace(reply, text=f"{reply.text}  {ask.visual} is not on the roster.") if unknown else reply
        return reply, events

    def finish(self, t: float) -> list[Event]:
        """End the run: every open stay ends, every pending decision is made."""
        stations = self.stations.values()
        ended = [event for station in stations for event in self.filled_all(t, station.finish(t))]
        return ended + self.keeper.finish(self.stamp(t).time)

    def restamp(self, t: float) -> list[Event]:
        """Amend what was published before the wall clock was known: the times are right now."""
        stations = self.stations.values()
        events = [event for station in stations for event in self.filled_all(t, station.restamp(t))]
        return events + [event for jobs in self.jobs.values() for event in jobs.restamp(t)]

    def redated(self, event: Event) -> list[Event]:
        """Return a weighing that is not at hand, its clock known at last, with what is known of its animal by then."""
        clerk = self.clerks.get(event.source.rsplit("/", 1)[-1])
        return self.keeper.take(event, Redated(clerk)) if clerk else [event]

    @property
    def open_stays(self) -> dict[str, Weighing | None]:
        """The weighing that each station would end with if the box stopped now; None where nothing has settled."""
        return {name: station.open_stay for name, station in self.stations.items()}

    @property
    def memories(self) -> dict[str, Memory]:
        """What each station carries to the next run, or to the next part of a capture."""
        return {name: replace(station.memory, jobs=self.jobs[name].memory) for name, station in self.stations.items()}

    def state(self, link: str) -> str:
        """Return what became of a link last: up, lost, silent or missing; nothing before anything did."""
        return self._links[link].state

    def counts(self, link: str) -> dict[str, int]:
        """Frames read and rejects by reason, of one link."""
        return dict(self._links[link].counts)

    def filled(self, event: Event) -> list[Event]:
        """Return a station's event with its animal and what the job knows of that, and what follows from it."""
        return self.filled_all(0.0, [event])

    def filled_all(self, t: float, events: list[Event], clerk: Clerk | Afterwards | None = None) -> list[Event]:
        """Fill them in; between them, each at its own time, let the animals become known that are due by then.

        What has become of the jobs is told before and after.  `clerk` fills them in place of each station's own.
        """
        filled = [one for jobs in self.jobs.values() for one in jobs.events(t)]
        for event in events:
            own = clerk or self.clerks[event.source.rsplit("/", 1)[-1]]
            filled += (*self.keeper.due(event.time), *self.keeper.take(event, own))
        filled += self.keeper.due(self.stamp(t).time)
        for event in filled:
            if isinstance(event.data, Settled):
                self.settled[event.data.station] = event.data
            if isinstance(event.data, Settled | Weighing):
                self.jobs[event.data.station].saw(event)
        return filled + [one for jobs in self.jobs.values() for one in jobs.events(t)]

    def _wrap(self, t: float, data: Attention | LinkState) -> Event:
        self._told += 1
        return wrap(data, site=self.config.site, time=self.stamp(t).time, key=f"{self.run}/site/{self._told}")

    def _rejected(self, t: float, link: str, wire: _Link, reject: Reject) -> list[Event]:
        wire.counts[reject.reason.value] += 1
        wire.unread = min(UNREADABLE_AFTER, wire.unread + 1)
        if wire.unread < UNREADABLE_AFTER:
            return []
        text = (
            f"What {link} sends cannot be read ({reject.reason.value}, last {reject.frame[:40]!r}). "
            f"Stop neckyoke, which holds the port, and run: neckyoke listen '{wire.table.url}'"
        )
        return self._note(t, link, text)

    def _note(self, t: float, link: str, text: str, *, over: bool = False) -> list[Event]:
        """Take that a link can or cannot be read; return what is to be said of it."""
        said = self._standing.note(t, Attention(station=None, link=link, about="unreadable", text=text, over=over))
        return [self._wrap(t, said)] if said else []
