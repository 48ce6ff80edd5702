"""Every link's decoder, every station and the clerk of one configuration, as one pure machine.

Bytes, link states, requests and time go in; complete events come out.  `run` drives it from live ports, `replay` from a
capture, the demo from a simulated yard: the very same object, so that what was seen once can be seen again.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from datetime import datetime
from typing import Any, TypeAlias

from neckyoke.bridge.asking.parts import Base
from neckyoke.bridge.asking.requests import Answer, Request
from neckyoke.bridge.config.model import Config
from neckyoke.bridge.events import Attention, Event, LinkState, Settled, Stamper, Weighing, spell_time, wrap
from neckyoke.bridge.herd.keeper import Keeper
from neckyoke.bridge.herd.wishes import Wishes
from neckyoke.bridge.job.afterwards import Afterwards, Redated
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.past import Past
from neckyoke.bridge.site.herding import Rosters
from neckyoke.bridge.site.requests import SiteRequests
from neckyoke.bridge.site.sheets import NoSheets, Sheets
from neckyoke.bridge.site.station_jobs import StationJobs
from neckyoke.bridge.site.undoing import Owed, Undos
from neckyoke.bridge.site.wires import Wires, rewired, settings_of
from neckyoke.bridge.station.account import Account
from neckyoke.bridge.station.instructions import About
from neckyoke.bridge.station.settings import Memory
from neckyoke.bridge.station.station import Station

MakeClerk: TypeAlias = Callable[[StationJobs], Clerk]
"""Makes the clerk of a station from its jobs, which tell what sheet holds for whom."""


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
        past: Past | None = None,
        sheets: Sheets | None = None,
        keeper: Keeper | None = None,
    ) -> None:
        self.config = config
        self._past = past or Past()  # what the clerks ask; it learns of each weighing before the next is filled in
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
                place_name=config.property_name,
                account=Account(memory.weighed),
                sheets=sheets or NoSheets(),
                memory_before=memory.jobs,
            )
            for name, memory in kept.items()
        }
        self.clerks = {name: clerk(jobs) for name, jobs in self.jobs.items()}
        self.stations = {name: self._station(name, memory) for name, memory in kept.items()}
        self._wires = Wires(config, self.stations)
        self.settled: dict[str, Settled] = {}
        """The last settled event of each station, filled in."""
        self.rosters = Rosters(config.site, self.keeper.book)
        for memory in kept.values():
            left = Weighing.model_validate(memory.interrupted) if memory.interrupted else None
            self._past.recall(memory.had, left)
        self._told = 0
        self._undos = Undos(self.keeper, [memory.undo for memory in kept.values()])
        self.requests = SiteRequests(self, self._undos)
        self.owed: dict[str, tuple[Owed, ...]] = {}  # by station: what is to be done to stays that only the journal has

    def _station(self, name: str, memory: Memory, told: int = 0) -> Station:
        jobs, needed = self.jobs[name], self.clerks[name].needed
        settings = settings_of(self.config, name, self.run)
        return Station(settings, self.stamp, memory, jobs.account, needed, jobs.place, told)

    def begin(self) -> list[Event]:
        """Begin the run: the animals of the rosters are taken into the herd book."""
        return self.take_rosters(0.0)

    def take_rosters(self, t: float) -> list[Event]:
        """Take the animals of the rosters that hold now into the herd book."""
        return self.rosters.take(self.clerks, self.stamp(t).time, f"{self.run}/{t:.6f}")

    def data(self, t: float, link: str, data: bytes) -> list[Event]:
        """Take bytes from a link."""
        events: list[Event] = []
        for outcome in self._wires.data(t, link, data):
            if isinstance(outcome, Attention):
                events.append(self._wrap(t, outcome))
                continue
            for station in self._wires[link].stations:
                events += self.filled_all(t, station.feed(t, link, outcome))
        return events

    def link(self, t: float, link: str, state: str, text: str = "") -> list[Event]:
        """Take a link's change of state: up, lost, silent or missing."""
        change = self._wires.changed(t, link, state, text)
        if change is None:
            return []
        events = [self._wrap(t, change)]
        for station in self._wires[link].stations:
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
        """Do what is asked, or say why not: see `SiteRequests.request`."""
        return self.requests.request(t, request, past)

    def lacks(self, request: Request) -> tuple[str, About] | None:
        """Return the station and animal that a request is about, when that is not at hand; else None."""
        return self.requests.lacks(request)

    def station_of(self, request: Base) -> str | None:
        """Return the station that a request is to; None when it names none and there are several."""
        return self.requests.station_of(request)

    def told_last(self, station: str | None) -> list[str]:
        """Return what a word taken back without a name means, by name: see `Undos.whole`."""
        return self._undos.whole(station)

    def move_past(self, t: float, past: Weighing, owed: Owed) -> list[Event]:
        """Publish anew a stay that is owed (`owed`), from its newest revision."""
        self._past.remember(past)
        return self.requests.move_past(t, past, owed)

    @property
    def is_calm(self) -> bool:
        """Return whether every platform is empty."""
        return all(station.view.number is None for station in self.stations.values())

    def renew(self, t: float, config: Config) -> list[Event]:
        """Go on by another configuration with stations of the same names.

        A station whose table has changed ends as a run ends, and begins again with what it remembers; an animal that
        stands there would be interrupted.  A link that has changed is down until it is heard of again.
        """
        changed, events = rewired(self.config, config), list[Event]()
        for link in changed & self.config.links.keys():
            for station in self._wires[link].stations:
                events += self.filled_all(t, station.feed(t, link, False))  # noqa: FBT003
        self.config = config
        renewed = [name for name, one in self.stations.items() if one.settings != settings_of(config, name, self.run)]
        for name in renewed:
            station = self.stations[name]
            events += self.filled_all(t, station.finish(t))
            self.stations[name] = self._station(name, station.memory, station.told)
        self._wires = self._wires.renewed(config, self.stations, changed)
        for name in renewed:
            for link in self.stations[name].links:
                if (state := self._wires[link].state) and link not in changed:
                    events += self.filled_all(t, self.stations[name].feed(t, link, state == "up"))
        return events

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
        name = event.source.rsplit("/", 1)[-1]
        clerk = self.clerks.get(name)
        if clerk is not None and isinstance(event.data, Weighing):
            self.stations[name].saw(event.data)
        return self.keeper.take(event, Redated(clerk)) if clerk else [event]

    def last_used(self) -> dict[str, datetime]:
        """Return when a job last began under a sheet, by its title."""
        used: dict[str, datetime] = {}
        for jobs in self.jobs.values():
            for job in jobs.jobs:
                for _, sheet in job.sheets if job.standing != "undone" else ():
                    if sheet is not None:
                        used[sheet.title] = max(job.begun, used.get(sheet.title, job.begun))
        return used

    @property
    def needed_sheets(self) -> set[str]:
        """The digests of the sheets that a job at hand was done under, or that the next one takes."""
        return {sheet.digest for jobs in self.jobs.values() for sheet in jobs.jobs.sheets()}

    @property
    def open_stays(self) -> dict[str, Weighing | None]:
        """The weighing that each station would end with if the box stopped now; None where none is open.

        Where its weight was shown it has what was shown of its doses.
        """
        stays = {name: station.open_stay for name, station in self.stations.items()}
        for name, stay in stays.items():
            shown, stands = self.settled.get(name), self.stations[name].view.weighing
            if stay is not None and stay.weighing != stands:  # of two parts: the first was shown in an earlier run
                stays[name] = stay.model_copy(update=self._past.left(stay.weighing, stands))
            elif stay is not None and shown is not None and shown.weighing == stay.weighing:
                stays[name] = stay.model_copy(update={"treatments": shown.treatments, "sheet": shown.sheet})
        return stays

    def newest(self, station: str, weighing: str | None) -> Settled | Weighing | None:
        """Return a recent stay as it was published last; of one that stands there, as it settled."""
        shown = self.settled.get(station)
        ended = self._undos.newest(weighing) if weighing else None
        return ended or (shown if shown is not None and shown.weighing == weighing else None)

    @property
    def memories(self) -> dict[str, Memory]:
        """What each station carries to the next run, or to the next part of a capture."""
        undo = {name: self._undos.memory(name, first=at == 0) for at, name in enumerate(self.stations)}
        return {
            name: replace(self._with_doses(station.memory), jobs=self.jobs[name].memory, undo=undo[name])
            for name, station in self.stations.items()
        }

    def _with_doses(self, memory: Memory) -> Memory:
        """Return what a station carries with what is known of the doses of its last stays."""
        before, left = memory.before or {}, memory.interrupted
        asked = (before.get("weighing"), *_named(left))
        had = {name: {one: at.isoformat() for one, at in self._past.had(name).items()} for name in asked if name}
        if left is not None:
            shown = self._past.left(left["weighing"])
            doses = [one.model_dump(mode="json") for one in shown["treatments"]]
            left = {**left, **({"treatments": doses, "sheet": shown["sheet"]} if doses else {})}
        return replace(memory, had={name: doses for name, doses in had.items() if doses}, interrupted=left)

    def state(self, link: str) -> str:
        """Return what became of a link last: up, lost, silent or missing; nothing before anything did."""
        return self._wires[link].state

    def counts(self, link: str) -> dict[str, int]:
        """Frames read and rejects by reason, of one link."""
        return dict(self._wires[link].counts)

    def filled(self, event: Event) -> list[Event]:
        """Return a station's event with its animal and what the job knows of that, and what follows from it."""
        return self.filled_all(0.0, [event])

    def filled_all(self, t: float, events: list[Event], clerk: Clerk | Afterwards | None = None) -> list[Event]:
        """Fill them in; between them, each at its own time, let the animals become known that are due by then.

        What has become of the jobs is told before and after.  `clerk` fills them in place of each station's own.
        """
        filled = [one for jobs in self.jobs.values() for one in jobs.events(t)]
        for event in events:
            self._past.leave(event)  # two may change tags: none is taken to have had what the other was given
        for event in events:
            name = event.source.rsplit("/", 1)[-1]
            own = clerk or self.clerks[name]
            if isinstance(event.data, Weighing):
                self._past.join(event.data.weighing, self.stations[name].rest_of(event.data.weighing))
            taken = self.keeper.take(event, own)
            filled += (*self.keeper.due(event.time), *taken)
            self._past.add(taken[0])
        filled += self.keeper.due(self.stamp(t).time)
        for event in filled:
            if isinstance(event.data, Settled):
                self.settled[event.data.station] = event.data
            if isinstance(event.data, Settled | Weighing):
                self.jobs[event.data.station].saw(event)
            if isinstance(event.data, Weighing):
                self._undos.saw(event.data)
                self.stations[event.data.station].saw(event.data)
        return filled + [one for jobs in self.jobs.values() for one in jobs.events(t)]

    def _wrap(self, t: float, data: Attention | LinkState) -> Event:
        self._told += 1
        return wrap(data, site=self.config.site, time=self.stamp(t).time, key=f"{self.run}/site/{self._told}")


def _named(left: Mapping[str, Any] | None) -> tuple[str, ...]:
    """Return the stay before that one which was left may be of."""
    maybe = (left or {}).get("maybe_same")
    return (maybe["weighing"],) if maybe else ()
