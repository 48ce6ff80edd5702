"""A station that is stopped again and again within a yard: what a stop leaves, and what is made of it, all in memory.

What the daemon writes to its journal (`Pipeline`) is a dictionary here, as it is at the moment of the stop; nothing but
the rows that `Carried` makes goes from run to run.
"""

from collections.abc import Iterable
from datetime import UTC, datetime, timedelta

from neckyoke.bridge.events import Clock, Event, Flag, Stamp, Weighing
from neckyoke.bridge.journal.station_memory import Carried, Run
from neckyoke.bridge.station.settings import Settings
from neckyoke.bridge.station.station import Station
from neckyoke.protocols.decoder import scale_decoder, tag_decoder
from neckyoke.protocols.readings import TagRead, WeightReading
from neckyoke.simulators.scenario import Scenario
from neckyoke.simulators.yard import Yard
from tests.support.stay_toll import StayToll, count

STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)
WALL_S = STARTED.timestamp()
BOOT_S = 1000.0
Item = tuple[float, str, WeightReading | TagRead]


class StoppedStation:
    """One station over many runs, and the newest revision of each weighing that it has published."""

    def __init__(self, scenario: Scenario, clock: Clock) -> None:
        self._scenario, self._clock = scenario, clock
        self._values: dict[str, str] = {}
        self._open: dict[str, str] = {}
        self.published: dict[str, Weighing] = {}
        self.start(0.0)

    def start(self, t: float) -> None:
        """Begin a run at `t`, with what the one before has left."""
        self._began, began = t, STARTED + timedelta(seconds=t)
        self._carried = Carried(self._values, self._open, Run("a boot", BOOT_S + t))
        indicator = self._scenario.indicator
        settings = Settings(
            "larkmoor",
            "crush",
            "indicator",
            {"panel": "platform"},
            capacity_kg=indicator.capacity_kg,
            interval_kg=indicator.interval_kg,
            smallest_kg=self._scenario.smallest_kg,
            run=began.isoformat(),
        )
        memory = self._carried.memory("crush")
        self._station = Station(settings, lambda at: Stamp(began + timedelta(seconds=at), self._clock), memory)
        for left in self._carried.left.values():
            self._take(left.weighing)
        self._open = {}
        self._write({"crush": None}, self._carried.changes({"crush": self._station.memory}))

    def feed(self, t: float, link: str, item: WeightReading | TagRead) -> None:
        """Take a reading, and write what the daemon would."""
        self._keep(t, self._station.feed(t - self._began, link, item))

    def finish(self, t: float) -> list[Weighing]:
        """End the last run; return every weighing as it stands, but for those struck out: they are told elsewhere."""
        self._keep(t, self._station.finish(t - self._began))
        return [one for one in self.published.values() if Flag.VOIDED not in one.flags]

    def _keep(self, t: float, events: list[Event]) -> None:
        for event in events:
            if isinstance(event.data, Weighing):
                self._take(event.data)
        due, known = self._carried.due(t - self._began, {"crush": self._station})
        memories = {"crush": self._station.memory} if known or events else {}
        values = self._carried.changes(memories) if memories else {}
        stays: dict[str, str | None] = {}
        if due or events:
            views = {"crush": self._station.view.platform}
            stays = self._carried.open_stays({"crush": self._station.open_stay}, WALL_S - BOOT_S, views)
        self._write(stays, values)

    def _take(self, weighing: Weighing) -> None:
        before = self.published.get(weighing.weighing)
        if before is None or before.revision <= weighing.revision:
            self.published[weighing.weighing] = weighing

    def _write(self, stays: dict[str, str | None], values: dict[str, str | None]) -> None:
        for rows, changes in ((self._open, stays), (self._values, values)):
            for name, body in changes.items():
                if body is None:
                    rows.pop(name, None)
                else:
                    rows[name] = body


def items_of(yard: Yard) -> list[Item]:
    """Return what the devices of a yard say, read."""
    decoders = {"indicator": scale_decoder(), "panel": tag_decoder()}
    return [
        (t, link, one)
        for t, link, data in yard.items()
        for one in decoders[link].feed(data)
        if isinstance(one, WeightReading | TagRead)
    ]


def stopped(
    yard: Yard, items: Iterable[Item], gaps: list[tuple[float, float]], *, clock: Clock, tags: bool
) -> StayToll:
    """Play a yard to a station that hears nothing within `gaps` of seconds, and is begun anew after each."""
    station, toll = StoppedStation(yard.scenario, clock), StayToll(kills=len(gaps))
    half_kg = yard.scenario.smallest_kg / 2
    shown, due, t = dict[int, float](), [*gaps], 0.0
    for t, link, item in items:
        if isinstance(item, WeightReading) and (item.kg or 0.0) >= half_kg:
            shown = {stay.number: t for stay in yard.truth if stay.on_t <= t <= stay.off_t} | shown
        while due and t >= due[0][1]:
            station.start(due.pop(0)[1])
        if (tags or link != "panel") and not (due and t >= due[0][0]):
            station.feed(t, link, item)
    of = f"{yard.scenario.name}, {clock}, tags {tags}"
    count(yard.truth, shown, gaps, station.finish(t + 60.0), toll, of, WALL_S)
    return toll
