"""The stay's state table: from readings to stays, each begun once and ended once.

Theory.  A platform is *empty*, or something is *arriving* on it, *standing* there without a weight yet, *settled* with
one, or *leaving*.  Each reading is first reduced to a sight, by weight net of the empty platform:

    clear   next to nothing: less than half the smallest animal, or than an eighth of what stood there
    part    well below what stood there: feet are off
    rising  hardly a foot was left, and now it is clearly more again: the next animal
    full    anything else

and then the table says what to do and where to go.  A bump that is gone before it lasted is no stay.  A stay ends with
the reading that shows the platform released, and waits for nothing.  One that dips half-way and comes back is one stay,
unless what comes back is clearly another weight.  Only a stay that was on when listening began waits for the platform
to be quiet, since only then is it known what the empty platform shows.

Time is an argument.  Deadlines (a silent indicator, a wait) are kept here and met in `advance`, each at its own time.
"""

from collections import deque
from collections.abc import Callable
from enum import StrEnum
from statistics import quantiles
from typing import ClassVar

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.instructions import Reply
from neckyoke.bridge.station.platform.alerts import Troubles
from neckyoke.bridge.station.platform.happenings import Began, Ended, Happening, SettledAt, State, View, ZeroMoved
from neckyoke.bridge.station.platform.lasting import lasted
from neckyoke.bridge.station.platform.stay import Visit
from neckyoke.bridge.station.platform.tail import Tail
from neckyoke.bridge.station.platform.zero import SETTING_RANGE, Zero
from neckyoke.bridge.station.settings import Memory, Settings
from neckyoke.protocols.readings import Condition, Mode, WeightReading

SILENCE_S = 10.0
"""A stay survives an indicator that is silent for less."""
BLANK_S = 3.0
"""An indicator that shows no number while the weight moves, for so long: something stands there."""
SINKS_S = 4.0
"""What stands there for so long after feet were lifted is what stands there now."""
WAITS_S = 3.0
"""So long may a stay that was on at the start wait for the empty platform."""
STUCK_S = 60.0
"""A load at the start that has not moved for so long is no animal."""
CLEAR_SHARE, PART_SHARE = 0.12, 0.75
"""Of what stood there: below the one it is gone, below the other feet are off."""
OVER_INTERVALS = 9
"""An indicator shows so many intervals more than its capacity, and no more: OIML R 76-1:2006, 4.2.3."""
MOB = 15
"""Last animals that make the mob's usual weight."""


class Sight(StrEnum):
    """What one reading shows, seen from the present state."""

    CLEAR = "clear"
    PART = "part"
    RISING = "rising"
    FULL = "full"


class Platform:
    """The weight side of a station."""

    def __init__(self, settings: Settings, memory: Memory) -> None:
        self._settings = settings
        self._zero = Zero(settings, memory.zero_kg)
        self._state: State = "empty"
        self._visit: Visit | None = None
        self._number = memory.number
        self._on_kg = max(0.5 * settings.smallest_kg, 3 * settings.interval_kg)
        self._most_kg = settings.capacity_kg + OVER_INTERVALS * settings.interval_kg
        self._last: tuple[float, WeightReading] | None = None
        self._watched = False  # an empty platform was seen since listening (again) began
        self._blank_since: float | None = None
        self._waiting: Visit | None = None  # ended, for the empty platform to tell its weight
        self._previous: Visit | None = None
        self._mob: deque[float] = deque(maxlen=MOB)
        self._tail = Tail()
        self._heading_kg: float | None = None  # the empty platform, still falling
        self._troubles = Troubles(settings.name)
        self._out: list[Happening] = []

    # -- the doors -----------------------------------------------------------------------------------------------

    @property
    def number(self) -> int:
        """The last stay's number."""
        return self._number

    @property
    def zero_kg(self) -> float | None:
        """What the empty platform shows, None when it was never seen."""
        return self._zero.kg if self._zero.known else None

    @property
    def open(self) -> Ended | None:
        """What the open stay would be if the box stopped now; None where none has begun."""
        visit = self._waiting or self._visit
        if visit is None or not visit.began or self._last is None:
            return None
        return visit.ended({Flag.INTERRUPTED}, off=self._last[0])

    @property
    def is_seen_empty(self) -> bool:
        """Whether it was seen to be empty, and no stay waits to be told."""
        return self._state == "empty" and self._watched and self._waiting is None

    @property
    def view(self) -> View:
        """The platform now."""
        visit = self._visit if self._visit and self._visit.began else None
        first = visit.settling.first if visit else None
        reading = self._last[1] if self._last else None
        return View(
            state=self._state,
            number=visit.number if visit else None,
            on=visit.on if visit else None,
            kg=None if reading is None or reading.kg is None else reading.kg - self._zero.kg,
            settled_kg=None if first is None or first.kg is None else round(first.kg, 2),
            grade=first.grade if first else None,
            zero_kg=self.zero_kg,
            moving=None if reading is None or reading.stable is None else not reading.stable,
            overload=reading is not None and reading.condition is Condition.OVERLOAD,
            last_t=self._last[0] if self._last else None,
        )

    def weight(self, t: float, reading: WeightReading) -> list[Happening]:
        """Take one reading."""
        self._meet(t)
        if reading.mode is not Mode.TARE:
            self._last = (t, reading)
            self._read(t, reading)
        return self._take()

    def link(self, t: float, up: bool) -> list[Happening]:  # noqa: ARG002, FBT001 -- see below
        """Hear that the indicator's link came up or was lost.  Neither ends anything by itself: silence does."""
        self._meet(t)
        return self._take()

    def advance(self, t: float) -> list[Happening]:
        """Meet the deadlines up to `t`."""
        self._meet(t)
        return self._take()

    def finish(self, t: float) -> list[Happening]:
        """Stop here: an open stay ends, interrupted."""
        self._meet(t)
        self._stop_waiting()
        if self._visit:
            if not self._visit.began and self._visit.was_an_animal(t):
                self._begin(self._visit)
            self._end(t, {Flag.INTERRUPTED})
        return self._take()

    def zero(self, t: float) -> Reply:
        """Take the present level, empty and quiet, as zero."""
        self._meet(t)
        level = self._zero.quiet_kg()
        if self._visit is not None or level is None:
            return Reply(done=False, text="Not zeroed: the platform must be empty, and quiet for a second.")
        self._zero.set(level)
        self._tell_zero()
        return Reply(done=True, text=f"Zeroed: the empty platform shows {level:g} kg.")

    # -- readings and deadlines ----------------------------------------------------------------------------------

    def _meet(self, t: float) -> None:
        self._troubles.now = t
        if self._waiting and lasted(self._waiting.off, t, WAITS_S):
            self._stop_waiting()
        if self._last and self._watched and lasted(self._last[0], t, SILENCE_S):
            self._watched, self._blank_since = False, None
            self._zero.look_away()
            if self._visit:
                self._end(self._last[0], {Flag.INDICATOR_LOST})

    def _read(self, t: float, reading: WeightReading) -> None:
        if reading.kg is None and reading.condition in {Condition.OK, Condition.ERROR}:
            self._see_blank(t)
            return
        self._blank_since = None
        if reading.condition is Condition.OVERLOAD:
            self._act(t, None, Sight.FULL)
            self._current.overloaded()
        elif reading.kg is None:
            self._act(t, None, Sight.CLEAR)  # less than nothing
        else:
            self._tail.see(t, reading.kg)
            self._act(t, reading.kg, self._sight(t, reading.kg))
            if reading.kg > self._most_kg and self._visit:
                self._visit.overloaded()

    def _see_blank(self, t: float) -> None:
        """See no number: while the weight moves some indicators show none."""
        if self._state == "arriving":
            self._act(t, None, Sight.FULL)
        elif self._state == "empty" and self._watched:
            since = self._blank_since = t if self._blank_since is None else self._blank_since
            if lasted(since, t, BLANK_S):
                self._act(since, None, Sight.FULL)
                self._act(t, None, Sight.FULL)

    def _sight(self, t: float, shown_kg: float) -> Sight:
        visit = self._visit
        if visit is None:
            return Sight.CLEAR if shown_kg - self._zero.kg < self._on_kg else Sight.FULL
        kg, level = shown_kg - visit.zero_kg, visit.settling.level
        if kg < max(self._on_kg, CLEAR_SHARE * level):
            return Sight.CLEAR
        if self._state == "arriving" or kg >= PART_SHARE * level:
            return Sight.FULL
        if self._state == "leaving" and visit.dip and visit.dip.rises(t, kg):
            return Sight.RISING
        return Sight.PART

    def _act(self, t: float, shown_kg: float | None, sight: Sight) -> None:
        self._state, act = self._TABLE[self._state, sight]
        act(self, t, shown_kg)

    # -- what the table does -------------------------------------------------------------------------------------

    def _watch(self, t: float, shown_kg: float | None) -> None:
        self._watched = True
        if shown_kg is None:
            return
        self._heading_kg = self._tail.end_kg() or self._heading_kg
        if self._zero.watch(t, shown_kg):
            self._stop_waiting(quiet=True)
            self._tell_moved(t)
        self._tell_zero()

    def _arrive(self, t: float, shown_kg: float | None) -> None:
        former = self._former
        self._visit = visit = Visit(self._settings, self._number + 1, t, self._zero, self._usual_kg())
        visit.unsure_kg = self._zero.look_away()
        if self._heading_kg is not None:
            visit.unsure_kg = min(visit.unsure_kg, max(0.0, self._heading_kg - self._zero.kg))
        self._heading_kg = None
        if former is not None and shown_kg is not None and t - former.off < 1e-9:
            visit.linger(shown_kg, self._tail.end_kg())
        if not self._watched:
            visit.flags.add(Flag.ON_AT_START)
            visit.zero_known = self._zero.known
            visit.maybe_offset = shown_kg is not None and shown_kg <= SETTING_RANGE * self._settings.capacity_kg
            self._watched = True
        visit.feed(t, shown_kg)

    def _stand(self, t: float, shown_kg: float | None) -> None:
        """Let what is arriving last, or let it turn out to be no animal."""
        visit = self._current
        if shown_kg is not None and self._was_offset(t, shown_kg):
            return
        if visit.sinks_on(shown_kg):
            self._visit = visit = visit.again(t, shown_kg, self._tail.end_kg())
        visit.feed(t, shown_kg)
        visit.grow()
        if shown_kg is not None and self._zero.in_range(shown_kg) and visit.is_residue(t, shown_kg, self._former):
            self._found_empty(shown_kg, t)
        elif visit.has_lasted(t, shown_kg):
            self._begin(visit)

    def _was_offset(self, t: float, shown_kg: float) -> bool:
        """See whether what was on at the start proves, now that more comes, to be the empty platform's own level."""
        visit = self._current
        offset_kg = visit.offset_kg(shown_kg - visit.zero_kg, self._on_kg)
        if offset_kg is None:
            return False
        self._found_empty(offset_kg + visit.zero_kg, t)
        self._act(t, shown_kg, self._sight(t, shown_kg))
        return True

    def _begin(self, visit: Visit) -> None:
        self._stop_waiting()
        visit.begin()
        self._number, visit.began, self._state = visit.number, True, "standing"
        self._out.append(Began(visit.number, visit.on))

    def _found_empty(self, shown_kg: float, t: float) -> None:
        """Take it that what seemed to arrive is the empty platform."""
        self._visit, self._state, self._watched = None, "empty", True
        self._zero.set(shown_kg)
        self._stop_waiting(quiet=True)
        self._tell_moved(t)
        self._tell_zero()

    def _forget(self, t: float, shown_kg: float | None) -> None:
        visit = self._current
        if visit.was_an_animal(t):
            self._begin(visit)
            self._release(t, shown_kg)
            return
        self._visit = None
        self._watch(t, shown_kg)

    def _weigh(self, t: float, shown_kg: float | None) -> None:
        visit = self._current
        found = visit.feed(t, shown_kg)
        self._state = "standing" if visit.settled is None else "settled"
        if visit.is_another(t):
            self._exchange()
            return
        if found:
            visit.settled = t if visit.settled is None else visit.settled
            self._state = "settled"
            self._out.append(SettledAt(visit.number, visit.on, t, visit.spell(found), visit.flags_now()))
        self._tell_stuck(t, visit)

    def _sink(self, t: float, shown_kg: float | None) -> None:
        visit = self._current
        visit.sink(t, shown_kg)
        assert visit.dip is not None, "it sinks in one"
        if visit.dip.rose(t):
            self._exchange()
        elif lasted(visit.dip.lifted_at, t, SINKS_S):
            visit.sank()
            self._state = "standing" if visit.settled is None else "settled"

    def _release(self, t: float, shown_kg: float | None) -> None:
        self._current.feed(t, shown_kg)
        self._end(t, set())
        if shown_kg is None:
            return
        self._act(t, shown_kg, self._sight(t, shown_kg))

    def _rise(self, t: float, shown_kg: float | None) -> None:
        self._current.feed(t, shown_kg)
        self._exchange()

    def _exchange(self) -> None:
        """End the stay where it was lowest; what came since is the next animal's."""
        visit = self._current
        assert visit.dip is not None, "two animals change places in a dip"
        visit.settling.track.cut(visit.dip.lowest_t)
        self._end(visit.dip.lowest_t, set())
        for at, kg in visit.dip.since:
            self._act(at, kg, self._sight(at, kg))

    # -- ends ----------------------------------------------------------------------------------------------------

    def _end(self, off: float, flags: set[Flag]) -> None:
        visit, self._visit, self._state = self._current, None, "empty"
        visit.off = off
        visit.flags |= flags
        self._out += self._troubles.free()
        if not visit.began:
            return
        if Flag.ON_AT_START in visit.flags and not flags:
            self._waiting = visit
        else:
            self._close(visit)

    def _stop_waiting(self, *, quiet: bool = False) -> None:
        """Let go the stay that waits: the empty platform, quiet, tells its weight now, or it never will."""
        visit, self._waiting = self._waiting, None
        if visit:
            if quiet:
                visit.rezero(self._zero.kg)
            self._close(visit)

    def _close(self, visit: Visit) -> None:
        if visit.came_back(self._previous):
            visit.flags.add(Flag.CAME_BACK)
        ended = visit.ended(set())
        self._previous = visit
        if ended.weight.kg is not None and ended.weight.grade in {"good", "fair"}:
            self._mob.append(ended.weight.kg)
        self._out += self._troubles.beyond(ended.weight.kg, self._settings.capacity_kg, self._most_kg)
        self._out.append(ended)

    def _usual_kg(self) -> float | None:
        """Return what the mob weighs, None when too few were weighed or they are too different."""
        if len(self._mob) < 5:
            return None
        low, middle, high = quantiles(self._mob, n=4)
        return middle if high - low <= 0.3 * middle else None

    # -- what is told --------------------------------------------------------------------------------------------

    def _tell_moved(self, t: float) -> None:
        """Tell, once the platform is quiet after a stay, whether that stay moved zero."""
        visit = self._previous
        if visit and visit.moved(self._zero.kg):
            ended = visit.ended(set())
            self._out.append(ZeroMoved(visit.number, t, ended.weight, ended.flags))

    def _tell_zero(self) -> None:
        self._out += self._troubles.zero(self._zero)

    def _tell_stuck(self, t: float, visit: Visit) -> None:
        if Flag.ON_AT_START in visit.flags and lasted(visit.on, t, STUCK_S) and visit.is_dead():
            self._out += self._troubles.stuck(visit.settling.level)

    @property
    def _former(self) -> Visit | None:
        return self._waiting or self._previous

    @property
    def _current(self) -> Visit:
        assert self._visit is not None, "the table acts on a visit only where there is one"
        return self._visit

    def _take(self) -> list[Happening]:
        out, self._out = self._out, []
        return out

    _TABLE: ClassVar[dict[tuple[State, Sight], tuple[State, Callable[["Platform", float, float | None], None]]]] = {
        ("empty", Sight.CLEAR): ("empty", _watch),
        ("empty", Sight.FULL): ("arriving", _arrive),
        ("arriving", Sight.CLEAR): ("empty", _forget),
        ("arriving", Sight.FULL): ("arriving", _stand),
        ("standing", Sight.CLEAR): ("empty", _release),
        ("standing", Sight.PART): ("leaving", _sink),
        ("standing", Sight.FULL): ("standing", _weigh),
        ("settled", Sight.CLEAR): ("empty", _release),
        ("settled", Sight.PART): ("leaving", _sink),
        ("settled", Sight.FULL): ("settled", _weigh),
        ("leaving", Sight.CLEAR): ("empty", _release),
        ("leaving", Sight.PART): ("leaving", _sink),
        ("leaving", Sight.RISING): ("arriving", _rise),
        ("leaving", Sight.FULL): ("settled", _weigh),
    }
    """State and sight to the next state and what is done.  What is done may find more and go elsewhere."""
