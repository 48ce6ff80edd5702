"""The stay's state table: from readings to stays, each begun once and ended once.

Theory.  A platform is *empty*, or something is *arriving* on it, *standing* there without a weight yet, *settled* with
one, or *leaving*.  Each reading is first reduced to a sight, by weight net of the empty platform:

    clear   next to nothing: less than half the smallest animal, or than an eighth of what stood there
    part    well below what stood there: feet are off
    rising  so far below that hardly a foot was left, and now clearly up again: the next animal
    full    anything else

and then the table says what to do and where to go.  A bump that is gone before it lasted is no stay.  A stay ends with
the reading that shows the platform released; nothing is awaited.  One that dips half-way and comes back is one stay.
Time is an argument; deadlines (a silent indicator) are kept here and met in `advance`, each at its own time.
"""

from collections.abc import Callable
from dataclasses import dataclass, field
from enum import StrEnum

from bridge.events import Flag, Weight
from bridge.station.asks import Reply
from bridge.station.happenings import Began, Ended, Happening, SettledAt, State, Trouble, View
from bridge.station.settings import Memory, Settings
from bridge.station.settling import Estimate, Settling
from bridge.station.zero import Zero
from protocols.readings import Condition, Mode, WeightReading

LASTS_S = 0.7
"""Anything gone sooner is a bump: a gate, a hand, a hoof at the edge."""
SILENCE_S = 10.0
"""A stay survives an indicator unplugged for less."""
GAP_S = 3.0
"""A silence longer than this within a stay is flagged."""


class Sight(StrEnum):
    """What one reading shows, seen from the present state."""

    CLEAR = "clear"
    PART = "part"
    RISING = "rising"
    FULL = "full"


@dataclass
class _Stay:
    """What is known of the open stay."""

    number: int
    on: float
    settling: Settling
    zero_kg: float
    began: bool = False
    settled: float | None = None
    lowest_kg: float = 0.0  # while leaving
    lowest_t: float = 0.0
    flags: set[Flag] = field(default_factory=set)


class Platform:
    """The weight side of a station."""

    def __init__(self, settings: Settings, memory: Memory) -> None:
        self._settings = settings
        self._zero = Zero(settings, memory.zero_kg)
        self._state: State = "empty"
        self._stay: _Stay | None = None
        self._number = memory.number
        self._on_kg = max(0.5 * settings.smallest_kg, 3 * settings.interval_kg)
        self._last: tuple[float, WeightReading] | None = None
        self._kg: float | None = None
        self._watched = False  # an empty platform was seen since listening (again) began
        self._off_said = False
        self._out: list[Happening] = []

    # -- the doors

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
        """What the open stay would be if it ended here, interrupted; None until it has settled."""
        stay = self._stay
        if stay is None or stay.settled is None or self._last is None:
            return None
        return self._ended(stay, self._last[0], {Flag.INTERRUPTED})

    @property
    def view(self) -> View:
        """The platform now."""
        stay = self._stay if self._stay and self._stay.began else None
        first = stay.settling.first if stay else None
        reading = self._last[1] if self._last else None
        return View(
            state=self._state if stay else "empty",
            number=stay.number if stay else None,
            on=stay.on if stay else None,
            kg=self._kg,
            settled_kg=first.kg if first else None,
            grade=first.grade if first else None,
            zero_kg=self.zero_kg,
            moving=None if reading is None or reading.stable is None else not reading.stable,
            overload=reading is not None and reading.condition is Condition.OVERLOAD,
            last_t=self._last[0] if self._last else None,
        )

    def weight(self, t: float, reading: WeightReading) -> list[Happening]:
        """Take one reading."""
        self.advance_to(t)
        self._last = (t, reading)
        if reading.condition is Condition.OVERLOAD and self._stay:
            self._stay.flags.add(Flag.OVERLOAD)
        if reading.kg is not None and reading.mode is not Mode.TARE and reading.condition is Condition.OK:
            self._kg = reading.kg - self._zero.kg
            self._see(t, reading.kg)
        return self._take()

    def link(self, t: float, up: bool) -> list[Happening]:  # noqa: FBT001 -- a link is up or down
        """Hear that the indicator's link came up or was lost.  A loss alone ends nothing: silence does."""
        self.advance_to(t)
        return self._take()

    def advance(self, t: float) -> list[Happening]:
        """Meet the deadlines up to `t`."""
        self.advance_to(t)
        return self._take()

    def finish(self, t: float) -> list[Happening]:
        """Stop here: an open stay ends, interrupted."""
        self.advance_to(t)
        if self._stay:
            self._end(t, {Flag.INTERRUPTED})
        return self._take()

    def zero(self, t: float) -> Reply:
        """Take the present level, empty and quiet, as zero."""
        level = self._zero.quiet_kg()
        if self._stay is not None or level is None:
            return Reply(done=False, text="Not zeroed: the platform must be empty and quiet for a second.")
        self._zero.set(level)
        return Reply(done=True, text=f"The empty platform shows {level:g} kg; that is zero now.")

    # -- the table

    def advance_to(self, t: float) -> None:
        if self._last and t - self._last[0] >= SILENCE_S and self._watched:
            self._watched = False
            self._zero.look_away()
            if self._stay:
                self._end(self._last[0], {Flag.INDICATOR_LOST})

    def _see(self, t: float, shown_kg: float) -> None:
        sight = self._sight(shown_kg - self._zero.kg)
        state, act = TABLE[self._state, sight]
        self._state = state
        act(self, t, shown_kg)

    def _sight(self, kg: float) -> Sight:
        stay = self._stay
        level = stay.settling.level if stay else 0.0
        if kg < max(self._on_kg, 0.12 * level):
            return Sight.CLEAR
        if stay is None or self._state == "arriving" or kg >= 0.75 * level:
            return Sight.FULL
        if self._state == "leaving" and stay.lowest_kg < 0.42 * level and kg > stay.lowest_kg + 0.15 * level:
            return Sight.RISING
        return Sight.PART

    def _watch(self, t: float, shown_kg: float) -> None:
        self._watched = True
        self._zero.watch(t, shown_kg)
        self._say_zero()

    def _arrive(self, t: float, shown_kg: float) -> None:
        self._zero.look_away()
        self._stay = _Stay(self._number + 1, t, Settling(self._settings.interval_kg), self._zero.kg)
        if not self._watched:
            self._stay.flags.add(Flag.ON_AT_START)
            self._watched = True
        self._stay.settling.feed(t, shown_kg - self._zero.kg)

    def _last_or_bump(self, t: float, shown_kg: float) -> None:
        stay = self._open
        stay.settling.feed(t, shown_kg - stay.zero_kg)
        self._state = "arriving"
        if t - stay.on >= LASTS_S:
            self._number, stay.began, self._state = stay.number, True, "standing"
            self._out.append(Began(stay.number, stay.on))

    def _forget(self, t: float, shown_kg: float) -> None:
        self._stay = None
        self._watch(t, shown_kg)

    def _weigh(self, t: float, shown_kg: float) -> None:
        stay = self._open
        found = stay.settling.feed(t, shown_kg - stay.zero_kg)
        if found:
            stay.settled = stay.settled if stay.settled is not None else t
            self._out.append(SettledAt(stay.number, stay.on, t, self._spell(stay, found), _in_order(stay.flags)))
        self._state = "standing" if stay.settled is None else "settled"

    def _lift(self, t: float, shown_kg: float) -> None:
        stay = self._open
        kg = shown_kg - stay.zero_kg
        stay.settling.feed(t, kg)
        stay.lowest_kg, stay.lowest_t = kg, t

    def _sink(self, t: float, shown_kg: float) -> None:
        stay = self._open
        kg = shown_kg - stay.zero_kg
        stay.settling.feed(t, kg)
        if kg < stay.lowest_kg:
            stay.lowest_kg, stay.lowest_t = kg, t

    def _release(self, t: float, shown_kg: float) -> None:
        self._end(t, set())
        if shown_kg - self._zero.kg < self._on_kg:
            self._watch(t, shown_kg)
        else:
            self._see(t, shown_kg)

    def _exchange(self, t: float, shown_kg: float) -> None:
        self._end(self._open.lowest_t, set())
        self._see(t, shown_kg)

    # -- the stay's end

    def _end(self, off: float, flags: set[Flag]) -> None:
        stay, self._stay = self._open, None
        self._state = "empty"
        if stay.began:
            self._out.append(self._ended(stay, off, flags))

    def _ended(self, stay: _Stay, off: float, flags: set[Flag]) -> Ended:
        found = stay.settling.final()
        more = {Flag.SHORT} if found.span_s < 2.0 else set()
        weight = self._spell(stay, found)
        return Ended(stay.number, stay.on, stay.settled, off, weight, _in_order(stay.flags | flags | more))

    def _spell(self, stay: _Stay, found: Estimate) -> Weight:
        first = stay.settling.first
        return Weight(
            kg=found.kg,
            grade=found.grade,
            first_kg=first.kg if first else None,
            spread_kg=found.spread_kg,
            zero_kg=round(stay.zero_kg, 2),
            readings=found.readings,
            span_s=round(found.span_s, 2),
            restlessness_percent=found.restlessness_percent,
        )

    def _say_zero(self) -> None:
        off = self._zero.is_off(self._settings.smallest_kg)
        if off != self._off_said:
            self._off_said = off
            text = (
                f"The empty platform shows {self._zero.kg:g} kg. Clean the platform, then zero the indicator."
                if off
                else "The empty platform shows zero again."
            )
            self._out.append(Trouble("zero-off", text, over=not off))

    @property
    def _open(self) -> _Stay:
        assert self._stay is not None, "the table acts on a stay only where there is one"
        return self._stay

    def _take(self) -> list[Happening]:
        out, self._out = self._out, []
        return out


def _in_order(flags: set[Flag]) -> tuple[Flag, ...]:
    return tuple(flag for flag in Flag if flag in flags)


TABLE: dict[tuple[State, Sight], tuple[State, Callable[[Platform, float, float], None]]] = {
    ("empty", Sight.CLEAR): ("empty", Platform._watch),
    ("empty", Sight.FULL): ("arriving", Platform._arrive),
    ("arriving", Sight.CLEAR): ("empty", Platform._forget),
    ("arriving", Sight.FULL): ("arriving", Platform._last_or_bump),
    ("standing", Sight.CLEAR): ("empty", Platform._release),
    ("standing", Sight.PART): ("leaving", Platform._lift),
    ("standing", Sight.FULL): ("standing", Platform._weigh),
    ("settled", Sight.CLEAR): ("empty", Platform._release),
    ("settled", Sight.PART): ("leaving", Platform._lift),
    ("settled", Sight.FULL): ("settled", Platform._weigh),
    ("leaving", Sight.CLEAR): ("empty", Platform._release),
    ("leaving", Sight.PART): ("leaving", Platform._sink),
    ("leaving", Sight.RISING): ("arriving", Platform._exchange),
    ("leaving", Sight.FULL): ("settled", Platform._weigh),
}
"""State and sight to the next state and what is done; an action that finds more sets the state itself."""
