"""The weight side: readings in, stays out, each begun once and ended once.

The state table (`table`) says where each reading leads; here stands how a reading becomes a sight, and what is done.
Time is an argument.  Deadlines (a silent indicator, a wait) are kept here and met in `advance`, each at its own time.
"""

from collections.abc import Callable, Mapping
from dataclasses import replace
from typing import ClassVar

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.instructions import Reply
from neckyoke.bridge.station.platform.alerts import Troubles
from neckyoke.bridge.station.platform.closing import Closing
from neckyoke.bridge.station.platform.company import Company
from neckyoke.bridge.station.platform.empty.aside import Aside
from neckyoke.bridge.station.platform.empty.steps import Steps
from neckyoke.bridge.station.platform.empty.tail import Tail
from neckyoke.bridge.station.platform.empty.zero import SETTING_RANGE, Zero
from neckyoke.bridge.station.platform.happenings import Began, Ended, Happening, SettledAt
from neckyoke.bridge.station.platform.lasting import lasted
from neckyoke.bridge.station.platform.sight import sight_of
from neckyoke.bridge.station.platform.stay import Stay
from neckyoke.bridge.station.platform.table import TABLE, Deed, Event, Found, Sight, State
from neckyoke.bridge.station.platform.view import View, view_of
from neckyoke.bridge.station.settings import Memory, Settings
from neckyoke.protocols.readings import Condition, Mode, WeightReading

SILENCE_S, BLANK_S = 10.0, 3.0
"""A stay survives an indicator that is silent for less; where it shows no number for so long, something is there."""
STUCK_S = 60.0
"""What never moved for so long is no animal."""


class Platform:
    """The weight side of a station."""

    def __init__(self, settings: Settings, memory: Memory) -> None:
        self._settings = settings
        self._zero = Zero(settings, memory.zero_kg)
        self._state: State = "empty"
        self._stay: Stay | None = None
        self._number = memory.number
        self._last: tuple[float, WeightReading] | None = None
        self._watched = False  # an empty platform was seen since listening (again) began
        self._blank_since: float | None = None
        self._closing = Closing()
        self._tail, self._company, self._aside = Tail(), Company(), Aside()
        self._steps = Steps(settings.interval_kg)
        self._troubles = Troubles(settings)
        self._out: list[Happening] = []

    @property
    def number(self) -> int:
        """The last stay's number."""
        return self._number

    @property
    def zero_kg(self) -> float | None:
        """What the empty platform showed when it was last seen, None when it never was."""
        return self._zero.seen_kg

    @property
    def open(self) -> Ended | None:
        """What the open stay would be if the box stopped now; None where none has begun."""
        stay = self._closing.waiting or self._stay
        if stay is None or not stay.began or self._last is None:
            return None
        return stay.ended({Flag.INTERRUPTED}, off=self._last[0])

    @property
    def is_seen_empty(self) -> bool:
        """Whether it was seen to be empty, and no stay waits to be told."""
        return self._state == "empty" and self._watched and self._closing.waiting is None

    @property
    def view(self) -> View:
        """The platform now."""
        return view_of(self._state, self._stay, self._last, self._zero)

    def weight(self, t: float, reading: WeightReading) -> list[Happening]:
        """Take one reading."""
        self._meet(t)
        if reading.mode is not Mode.TARE:
            self._last = (t, reading)
            self._read(t, reading)
        return self._take()

    def advance(self, t: float) -> list[Happening]:
        """Meet the deadlines up to `t`."""
        self._meet(t)
        return self._take()

    def finish(self, t: float) -> list[Happening]:
        """Stop here: an open stay ends, interrupted."""
        self._meet(t)
        self._told(self._closing.let_go())
        self._act(t, None, Found.STOP)
        return self._take()

    def zero(self, t: float) -> Reply:
        """Take the present level, empty and quiet, as zero."""
        self._meet(t)
        level = self._zero.quiet_kg()
        if self._stay is not None or level is None:
            return Reply(done=False, text="Not zeroed: the platform must be empty, and quiet for a second.")
        self._zero.set(level)
        self._out += self._troubles.zero(self._zero)
        return Reply(done=True, text=f"Zeroed: the empty platform shows {level:g} kg.")

    def _meet(self, t: float) -> None:
        self._troubles.now = t
        self._told(self._closing.meet(t))
        if self._stay and self._stay.dip and self._stay.dip.is_gone(t):
            self._act(t, None, Found.GONE)
        if self._last and self._watched and lasted(self._last[0], t, SILENCE_S):
            self._act(self._last[0], None, Found.SILENT)

    def _read(self, t: float, reading: WeightReading) -> None:
        if reading.kg is None and reading.condition in {Condition.OK, Condition.ERROR}:
            self._act(t, None, Sight.BLANK)
            return
        self._blank_since = None
        if reading.condition is Condition.OVERLOAD:
            self._act(t, None, Sight.FULL)
            if self._stay:  # else another than stood there comes, by the next reading
                self._stay.overloaded()
        elif reading.kg is None:
            self._act(t, None, Sight.CLEAR)  # less than nothing
        else:
            self._tail.see(t, reading.kg)
            self._company.lowest.see(t, reading.kg, self._settings.interval_kg)
            self._steps.see(reading.kg)
            if self._stay is None and self._steps.kg != self._settings.interval_kg:
                self._settings = replace(self._settings, interval_kg=self._steps.kg)
                self._zero.step(self._settings)
                self._out += self._troubles.steps(self._steps.kg)
            self._act(t, reading.kg, self._sight(t, reading.kg))
            if self._stay and self._troubles.is_beyond(reading.kg):
                self._stay.overloaded()

    def _sight(self, t: float, shown_kg: float | None) -> Sight | None:
        """See a reading from the present state; once more, from the one it led to."""
        return None if shown_kg is None else sight_of(t, shown_kg, self._state, self._stay, self._zero)

    def _act(self, t: float, shown_kg: float | None, event: Event | None) -> None:
        """Do what the table says, and what it says of whatever is found in doing so."""
        while event is not None:
            self._state, deed = TABLE[self._state, event]
            event = self._DEEDS[deed](self, t, shown_kg)

    def _nothing(self, t: float, shown_kg: float | None) -> None:
        """Let it be."""

    def _watch(self, t: float, shown_kg: float | None) -> None:
        self._watched = True
        if shown_kg is None:
            return
        if gone := self._aside.gone(t, shown_kg, self._zero.on_kg):
            self._stay = gone
            self._begin(t, shown_kg)
            self._end(t)
        if self._zero.watch(t, shown_kg) or (self._closing.is_to_be_judged and not self._zero.sinks):
            self._tell_quiet(t)
        self._out += self._troubles.zero(self._zero)

    def _see_blank(self, t: float, shown_kg: float | None) -> None:
        """See no number for long on an empty platform: something came since the first of them."""
        if not self._watched:
            return
        since = self._blank_since = t if self._blank_since is None else self._blank_since
        if lasted(since, t, BLANK_S):
            self._act(since, shown_kg, Sight.FULL)
            self._act(t, shown_kg, Sight.FULL)

    def _look_away(self, t: float, shown_kg: float | None) -> None:  # noqa: ARG002 -- a deed
        self._watched, self._blank_since, self._aside = False, None, Aside()
        self._zero.lose_sight()

    def _arrive(self, t: float, shown_kg: float | None) -> None:
        former = self._closing.former
        unsure_kg = self._zero.look_away()
        self._stay = stay = Stay(self._settings, self._number + 1, t, self._zero, self._closing.known)
        stay.unsure_kg = unsure_kg
        if former is not None and shown_kg is not None and t - former.off < 1e-9:
            stay.linger(shown_kg, self._tail.end_kg(), former)
        if not self._watched:
            stay.flags.add(Flag.ON_AT_START)
            stay.offset.may_be = shown_kg is not None and shown_kg <= SETTING_RANGE * self._settings.capacity_kg
            self._watched = True
        stay.feed(t, shown_kg)

    def _stand(self, t: float, shown_kg: float | None) -> Found | None:
        """Let what is arriving last, or let it turn out to be no animal."""
        stay = self._current
        self._aside.feed(t, shown_kg)
        if shown_kg is not None and stay.was_offset(shown_kg, self._zero.on_kg):
            return Found.EMPTY
        if stay.sinks_on(shown_kg):
            self._stay = stay = stay.again(t)
            stay.linger(shown_kg, self._tail.end_kg(), self._closing.former)
        elif shown_kg is not None and stay.is_joined(t, shown_kg):
            self._stay = stay = stay.again(t)
        stay.feed(t, shown_kg)
        stay.grow()
        if shown_kg is not None and stay.is_residue(t, shown_kg, self._closing.former):
            return Found.EMPTY
        return Found.LASTED if stay.has_lasted(t, shown_kg) else None

    def _begin(self, t: float, shown_kg: float | None) -> Found | None:
        stay, self._aside = self._current, Aside()
        self._told(self._closing.let_go())
        self._out += self._closing.followed(t, self._company.lowest, stay.zero_kg)
        stay.begin()
        stay.lies(self._zero.ends(stay.on, self._company.lowest, self._closing.known.rests))
        stay.floor_kg = self._company.comes(stay.zero_kg, self._settings.interval_kg)
        self._number, stay.began = stay.number, True
        self._out.append(Began(stay.number, stay.on, Flag.ON_AT_START not in stay.flags))
        lifts = self._state == "standing" and self._sight(t, shown_kg) is Sight.PART and stay.lifts(t, shown_kg)
        return Found.LIFTED if lifts else None

    def _take_empty(self, t: float, shown_kg: float | None) -> Sight | None:
        """Take it that what seemed to arrive is the empty platform; if that shows only now, more has come."""
        stay, self._stay, self._watched = self._current, None, True
        if stay.offset.kg is not None:
            self._zero.guess(stay.offset.kg)
        elif shown_kg is not None:
            self._zero.set(shown_kg)
            self._aside.take(stay)
            self._tell_quiet(t)
        self._out += self._troubles.zero(self._zero)
        return None if stay.offset.kg is None else self._sight(t, shown_kg)

    def _forget(self, t: float, shown_kg: float | None) -> None:
        if self._current.was_an_animal(t):
            self._begin(t, shown_kg)
            self._release(t, shown_kg)
            return
        self._out += self._closing.left(t, self._current)
        self._stay = None
        self._watch(t, shown_kg)

    def _weigh(self, t: float, shown_kg: float | None) -> Found | None:
        stay = self._current
        if stay.dip is None:
            self._company.lowest.forget()
        found = stay.feed(t, shown_kg)
        if stay.is_another(t):
            return Found.ANOTHER
        if found:
            stay.settled = t if stay.settled is None else stay.settled
            self._out.append(SettledAt(stay.number, stay.on, t, stay.spell(found), stay.flags_now()))
        if Flag.ON_AT_START in stay.flags and lasted(stay.on, t, STUCK_S) and stay.is_dead():
            self._out += self._troubles.stuck(stay.settling.level)
        return None if stay.settled is None else Found.WEIGHED

    def _sink(self, t: float, shown_kg: float | None) -> Found | None:
        dip = self._current.sink(t, shown_kg)
        if dip.is_over(t, self._settings.smallest_kg):
            return Found.ANOTHER
        return Found.SANK if dip.is_long(t) else None

    def _sank(self, t: float, shown_kg: float | None) -> Found | None:  # noqa: ARG002 -- a deed
        stay = self._current
        stay.sank()
        return None if stay.settled is None else Found.WEIGHED

    def _hop(self, t: float, shown_kg: float | None) -> None:
        self._current.sink(t, shown_kg, off=True)

    def _release(self, t: float, shown_kg: float | None) -> Sight | None:
        self._current.feed(t, shown_kg)
        self._end(t)
        return self._sight(t, shown_kg)

    def _rise(self, t: float, shown_kg: float | None) -> Found:
        self._current.feed(t, shown_kg)
        return Found.ANOTHER

    def _exchange(self, t: float, shown_kg: float | None) -> None:  # noqa: ARG002 -- a deed
        """End the stay where it was lowest; what came since is the next animal's."""
        stay, dip = self._current, self._current.dip
        assert dip is not None, "two animals change places in a dip"
        lies_kg = dip.may_lie_kg(stay.unsure_kg)
        stay.settling.track.cut(dip.lowest_t)
        self._end(dip.lowest_t)
        for at, kg in dip.since:
            self._act(at, kg, self._sight(at, kg))
            if self._stay:
                self._stay.unsure_kg = max(self._stay.unsure_kg, lies_kg)

    def _lose(self, t: float, shown_kg: float | None) -> None:
        self._look_away(t, shown_kg)
        self._end(t, Flag.INDICATOR_LOST)

    def _interrupt(self, t: float, shown_kg: float | None) -> None:
        stay = self._current
        if not stay.began and stay.was_an_animal(t):
            self._begin(t, shown_kg)
        self._end(t, Flag.INTERRUPTED)

    def _end(self, off: float, why: Flag | None = None) -> None:
        stay, self._stay = self._current, None
        stay.off = off
        self._out += self._troubles.free()
        if stay.began:
            stay.accompanied(self._company)
            self._told(self._closing.end(stay, why))

    def _told(self, ended: list[Ended]) -> None:
        for one in ended:
            self._out += self._troubles.beyond(one.weight.kg)
            self._out.append(one)

    def _tell_quiet(self, t: float) -> None:
        """Tell what the empty platform, quiet now, says of the stay before."""
        if self._zero.seen:
            self._told(self._closing.let_go(self._zero.kg))
            self._out += self._closing.moved(t, self._zero.kg, sinks=self._zero.sinks)

    @property
    def _current(self) -> Stay:
        assert self._stay is not None, "the table acts on a stay only where there is one"
        return self._stay

    def _take(self) -> list[Happening]:
        out, self._out = self._out, []
        return out

    _DEEDS: ClassVar[Mapping[Deed, Callable[["Platform", float, float | None], Event | None]]] = {
        Deed.NOTHING: _nothing,
        Deed.WATCH: _watch,
        Deed.SEE_BLANK: _see_blank,
        Deed.LOOK_AWAY: _look_away,
        Deed.ARRIVE: _arrive,
        Deed.STAND: _stand,
        Deed.BEGIN: _begin,
        Deed.TAKE_EMPTY: _take_empty,
        Deed.FORGET: _forget,
        Deed.WEIGH: _weigh,
        Deed.SINK: _sink,
        Deed.SANK: _sank,
        Deed.HOP: _hop,
        Deed.RELEASE: _release,
        Deed.RISE: _rise,
        Deed.EXCHANGE: _exchange,
        Deed.LOSE: _lose,
        Deed.INTERRUPT: _interrupt,
    }
