"""One stay while it is open and just after: its readings, what it dipped to, its flags, and how it is spelled."""

from dataclasses import replace
from typing import TypeGuard

from neckyoke.bridge.events import Flag, Grade, Weight
from neckyoke.bridge.station.platform.company import Company
from neckyoke.bridge.station.platform.dips.dip import FEW_BINS, Dip
from neckyoke.bridge.station.platform.empty.offset import OFFSET_BINS, Offset
from neckyoke.bridge.station.platform.empty.rest import HELD_QUIET_S, LEFT_SHARE, Lies, has_come_to_rest, is_level
from neckyoke.bridge.station.platform.empty.zero import Zero
from neckyoke.bridge.station.platform.happenings import Ended, Reckoned
from neckyoke.bridge.station.platform.lasting import lasted
from neckyoke.bridge.station.platform.spelled import allowed_by, flags_of, in_order, rezeroed, stood_of, weight_of
from neckyoke.bridge.station.settings import Settings
from neckyoke.bridge.station.weight.estimators import BIN_S
from neckyoke.bridge.station.weight.final import Estimate
from neckyoke.bridge.station.weight.grading import worse
from neckyoke.bridge.station.weight.provisional import may_be_half
from neckyoke.bridge.station.weight.settling import NOBODY, Known, Settling

LASTS_S, SEVERAL = 0.7, 2
"""Anything gone sooner is a bump: a gate, a hand, a hoof at the edge; and what one reading showed is one too."""
LINGERS_S, LINGERS_STILL_S = 2.0, 5.0
"""What is left where a stay has just ended must stand so long, or grow, before it is another; or so long, if still."""
LOST_S = 3.0
"""A silence longer than this within a stay is flagged."""
LINGER_SHARE = 0.15
"""What is left of a stay is at less than this share of it."""
STOOD_S = 0.5
"""What was left and stood near its lowest for so long, before an animal came to it, may be residue."""
JOINS_BINS = 4
"""Bins that an animal takes to be seen to have come to what was there."""
ZEROED_QUIET_S = 1.2
"""An indicator that leapt to zero and stays quiet for so long was zeroed by a person."""


class Stay:
    """What is known of one stay.  Times in seconds; weights net of `zero_kg`, what the platform showed before."""

    def __init__(self, settings: Settings, number: int, on: float, zero: Zero, known: Known = NOBODY) -> None:
        self.number, self.on, self.off = number, on, on
        self.zero_kg, self.zero_seen = zero.kg, zero.seen
        self.heading_kg: float | None = None
        self.unsure_kg = 0.0  # by how much the empty platform may have read high
        self.left_before_kg = 0.0  # and by how much before the last stay: it was not seen empty since
        self.beside_kg = self.floor_kg = 0.0  # what may have stood beside it all the while; what gaps came down to
        self._zero, self._known = zero, known
        self.settling = Settling(settings.interval_kg, known)
        self.began = self.lingers = False  # it lingers while it is what the stay before left
        self.settled: float | None = None
        self.flags: set[Flag] = {Flag.ZERO_OFF} if zero.is_off else set()
        self.dip: Dip | None = None  # the one that is open
        self._lowest_kg = 0.0  # while it lingers
        self._settings, self.offset = settings, Offset(settings)
        self._fed_at = on
        self._readings = self._overloads = 0
        self.moved_kg: float | None = None
        self._before_kg = zero.before_kg
        self._shift_kg = 0.0
        self._cap: Grade = "good"  # the best grade that what was seen of the empty platform allows
        self.unfinished = False  # nobody saw it leave
        self.is_judged = False  # by what the platform bears since
        self._weighed: tuple[int, Estimate] | None = None  # after so many readings

    # -- readings ------------------------------------------------------------------------------------------------

    def linger(self, shown_kg: float, heading_kg: float | None, former: "Stay | None" = None) -> None:
        """Learn that it is only what the stay before left, until it grows; and where its fall is heading, as shown.

        A slow display that turned before it showed the bare platform was not heading for where it turned.
        """
        self.lingers, self.heading_kg = True, heading_kg
        self._lowest_kg = self.settling.rested_kg = shown_kg - self.zero_kg
        self.left_before_kg = former.unsure_kg if former else 0.0
        if former and former.dip and former.dip.was_bare():
            self.heading_kg = None

    def sinks_on(self, shown_kg: float | None) -> TypeGuard[float]:
        """Return whether what the stay before left is still on its way down."""
        return self.lingers and shown_kg is not None and shown_kg - self.zero_kg < self._lowest_kg

    def again(self, t: float) -> "Stay":
        """Begin anew."""
        stay = Stay(self._settings, self.number, t, self._zero, self._known)
        stay.settling.rested_kg = (self.settling.track.bins(1) or [0.0])[-1]
        stay.unsure_kg, stay.left_before_kg, stay.flags = self.unsure_kg, self.left_before_kg, self.flags
        return stay

    def is_joined(self, t: float, shown_kg: float) -> bool:
        """Return whether an animal comes to what is too light for one, was there for a while, and may lie there."""
        stood = self.is_light and lasted(self.on, t, LASTS_S) and self._stood()
        if not stood or not self._has_grown(shown_kg):
            return False
        if self.lingers:
            self.begin()
        elif self.is_quiet(JOINS_BINS):
            self.unsure_kg = max(self.unsure_kg, self.settling.lately_kg())
        return True

    def _stood(self) -> bool:
        lately = self.settling.track.bins(10) if self._readings >= SEVERAL else []
        return bool(lately) and lately[-1] <= lately[0] + 0.5 * self._settings.smallest_kg  # else it was on its way up

    def _has_grown(self, shown_kg: float) -> bool:
        kg, smallest_kg = shown_kg - self.zero_kg, self._settings.smallest_kg
        return kg >= max(smallest_kg, self.settling.lately_kg() + 0.5 * smallest_kg)

    @property
    def was_heavy(self) -> bool:
        """Whether it was as heavy as an animal for a while; a slow display never shows all of one that is soon gone."""
        stood_s = self.settling.stood_s(self._settings.smallest_kg)
        return self.settling.level >= self._settings.smallest_kg or lasted(0, stood_s, LASTS_S)

    @property
    def is_light(self) -> bool:
        """Whether it is too light for an animal now; what knocked on it may have passed."""
        return self.settling.lately_kg() < self._settings.smallest_kg

    def grow(self) -> None:
        """See whether an animal came to what lingered."""
        if self.lingers and self.settling.stands_kg > self._lowest_kg + 0.5 * self._settings.smallest_kg:
            self.begin()

    def begin(self) -> None:
        """Take it for an animal.  If it lingered, and stood still or was slowing down, that may be residue."""
        if not self.lingers:
            return
        self.lingers = False
        near_kg = self._lowest_kg + 3 * self._settings.interval_kg
        stood_s = BIN_S * sum(kg <= near_kg for kg in self.settling.track.bins())
        left_kg = self._lowest_kg if stood_s >= STOOD_S else (self.heading_kg or self.zero_kg) - self.zero_kg
        self.unsure_kg = max(self.unsure_kg, min(max(left_kg, self.left_before_kg), self._lowest_kg))

    def has_lasted(self, t: float, shown_kg: float | None) -> bool:
        """Return whether what arrives is a stay by now: no bump, no residue, no empty platform's own level."""
        light = shown_kg is not None and (self.is_light or shown_kg - self.zero_kg < self._settings.smallest_kg)
        if light and shown_kg is not None and not self._has_grown(shown_kg):
            return False
        doubtful = self.lingers or (shown_kg is not None and self.was_zeroed(shown_kg))
        if self.offset.may_be or (doubtful and self.is_quiet() and not lasted(self.on, t, LINGERS_STILL_S)):
            return False
        return lasted(self.on, t, LINGERS_S if doubtful else LASTS_S)

    def was_an_animal(self, t: float) -> bool:
        """Return whether what is gone now was an animal: where readings are few it was there until now."""
        seen = lasted(self.on, t, HELD_QUIET_S if self.lingers and not self.offset.may_be else LASTS_S)
        return seen and (self.offset.may_be or self._readings >= SEVERAL) and self.was_heavy

    def feed(self, t: float, shown_kg: float | None) -> Estimate | None:
        """Take one reading as shown, None for one without a number."""
        if t - self._fed_at > LOST_S:
            self.flags.add(Flag.INDICATOR_LOST)
        self._fed_at = t
        self._readings += 1
        if shown_kg is None:
            return None
        if self.dip:
            self.dip.since.append((t, shown_kg))
        return self.settling.feed(t, shown_kg - self.zero_kg, looks=self.began)

    def sink(self, t: float, shown_kg: float | None, *, off: bool = False) -> Dip:
        """Take a reading of a dip, its first or a further one; `off`: off the platform, but it may have hopped."""
        self.dip = dip = self.dip_at(t)
        if shown_kg is not None:
            (dip.hop if off else dip.sink)(t, shown_kg - self.zero_kg)
        self.feed(t, shown_kg)
        return dip

    def lifts(self, t: float, shown_kg: float | None) -> bool:
        """Take the reading by which it is known to be a stay for the first of a dip too, where readings are few."""
        if shown_kg is None or self.settling.track.readings_of(FEW_BINS) > 1:
            return False
        self.dip = self.dip_at(t)
        self.dip.sink(t, shown_kg - self.zero_kg)
        self.dip.since.append((t, shown_kg))
        return True

    def dip_at(self, t: float) -> Dip:
        """Return the dip that is open, or would begin now."""
        return self.dip or Dip(t, self.settling, self.on, self.floor_kg, in_sight=Flag.ON_AT_START not in self.flags)

    def sank(self) -> None:
        """Accept that what stands there now is less, and stays."""
        self.settling.sank()
        self.dip = None

    def is_another(self, t: float) -> bool:
        """Judge, once after a dip, whether what came back is another animal."""
        dip = self.dip
        if dip is None:
            return False
        dip.returns(t)
        if not dip.is_judged(t):
            return False
        if dip.was_another():
            return True
        if dip.came_back():
            self.flags.add(Flag.CAME_BACK)
        self.dip = None
        return False

    def overloaded(self) -> None:
        """Note a reading beyond the indicator's range."""
        self.flags.add(Flag.OVERLOAD)
        self._overloads += 1

    def is_residue(self, t: float, shown_kg: float, former: "Stay | None") -> bool:
        """Return whether this is no animal: what a stay left behind, or an indicator zeroed while its zero was off."""
        in_range = self._zero.in_range(shown_kg)
        if in_range and self.was_zeroed(shown_kg):
            return lasted(self.on, t, ZEROED_QUIET_S) and self.is_quiet()
        light = self.is_light
        small = former is not None and self.settling.level < LINGER_SHARE * former.settling.level
        small = small and self.lingers and in_range
        if not light and not small:
            return False
        if not light and shown_kg - self.zero_kg > self._lowest_kg + 3 * self._settings.interval_kg:
            return False  # it rose again: a light animal
        bins = self.settling.track.bins(round(HELD_QUIET_S / BIN_S) + 1)
        return has_come_to_rest(bins, self._settings.interval_kg, for_long=not small)

    def is_quiet(self, but: int = 0) -> bool:
        """Return whether the last second, but its end, was as quiet as only an empty platform or a held display is."""
        return is_level(self.settling.track.bins(10)[: 10 - but], 3 * self._settings.interval_kg)

    def was_zeroed(self, shown_kg: float) -> bool:
        """Return whether the indicator shows zero though the empty platform last showed something quite else."""
        return abs(shown_kg) <= self._settings.interval_kg and abs(self.zero_kg) > 0.5 * self._settings.smallest_kg

    def was_offset(self, shown_kg: float, on_kg: float) -> bool:
        """Return whether what was on at the start is the empty platform's own level: more comes to it now."""
        return self.offset.is_left(self.settling.track.bins(OFFSET_BINS), shown_kg, self.zero_kg, on_kg)

    def is_dead(self) -> bool:
        """Return whether nothing has moved for half a minute."""
        return is_level(self.settling.track.bins(round(30 / BIN_S)), 2 * self._settings.interval_kg)

    # -- zero ----------------------------------------------------------------------------------------------------

    def rezero(self, zero_kg: float) -> None:
        """Take it that the empty platform showed this all along: seen now, after the stay, for the first time.

        What the animal left behind cannot be told from what lay there before, but by what an earlier run remembers.
        """
        self._shift_kg = self.zero_kg - zero_kg
        self.zero_kg, self.zero_seen = zero_kg, True
        kg = (self.final().kg or 0.0) + self._shift_kg
        self._cap = worse(self._cap, rezeroed(zero_kg, self._before_kg, kg, self._settings.interval_kg))

    def lies(self, lies: Lies | None) -> None:
        """Learn, as it begins, what zero is worth: it may be what the last falls ended at; None: nothing is known."""
        if lies is None:
            return
        if self._zero.kg != self.zero_kg:
            self.settling.shift(self._zero.kg - self.zero_kg)
            self.zero_kg, self.unsure_kg = self._zero.kg, lies.unsure_kg
        self.unsure_kg = (min if lies.bare else max)(self.unsure_kg, lies.unsure_kg)
        if self._zero.is_off:
            self.flags.add(Flag.ZERO_OFF)

    def accompanied(self, company: Company) -> None:
        """Learn, as it ends, what may have stood beside it all the while."""
        if not self.zero_seen:
            return
        kg = self.final().kg
        heavier_kg = None if kg is None or self._known.usual_kg is None else kg - self._known.usual_kg
        self.beside_kg = company.goes(self.zero_kg, heavier_kg, self._settings.interval_kg)
        if self.beside_kg:
            self._weighed = None

    def limit(self, grade: Grade) -> bool:
        """Promise no more than this of it; true when that is less than before."""
        before = self.spell(self.final()).grade
        self._cap = worse(self._cap, grade)
        return self.spell(self.final()).grade != before

    def moved(self, zero_kg: float, *, sinks: bool) -> bool:
        """Learn what the platform shows after the stay; true when that matters to the weight, once, or to its grade.

        While the display `sinks` still that is too much to judge the grade by.
        """
        if self.is_judged or not self.began:
            return False
        before_kg, self.is_judged = self.moved_kg, not sinks
        moved_kg = round(zero_kg - self.zero_kg, 2)
        if before_kg is not None:
            moved_kg = min(moved_kg, before_kg)  # what is more has come since
        worse_now = self.is_judged and self.bears(moved_kg)
        is_known = before_kg is not None and abs(moved_kg - before_kg) <= 2 * self._settings.interval_kg
        if is_known and not worse_now:
            return False
        self.moved_kg = moved_kg
        if abs(moved_kg) > max(2 * self._settings.interval_kg, 0.0025 * (self.final().kg or 0.0)):
            self.flags.add(Flag.ZERO_MOVED)
            return True
        return worse_now

    def bears(self, more_kg: float) -> bool:
        """Learn what more the platform bears since than before; true when its grade is worse for it.

        What an animal leaves was weighed with it, and readings tell of what came in the middle; what is heavier than
        that may have come, or gone, as it stepped on.
        """
        size_kg = abs(more_kg)
        if size_kg <= self._settings.interval_kg:
            return False
        if size_kg < LEFT_SHARE * self._settings.smallest_kg:
            size_kg = self.settling.taken_in_kg(more_kg)
        before = self.spell(self.final()).grade
        self.beside_kg, self._weighed = max(self.beside_kg, size_kg), None
        return self.spell(self.final()).grade != before

    # -- the end -------------------------------------------------------------------------------------------------

    def final(self) -> Estimate:
        """Weigh the stay as a whole."""
        if self._weighed is None or self._weighed[0] != self._readings:
            residue = abs(self.zero_kg) >= self._settings.interval_kg / 2
            self._weighed = self._readings, self.settling.final(max(self.unsure_kg, self.beside_kg), residue=residue)
        return self._weighed[1]

    def ended(self, flags: set[Flag], off: float | None = None) -> Ended:
        """Spell the stay as it ended, or would end at `off`.

        One that was cut off before it settled may have had feet beside the platform: what is known is poor.
        """
        found = self.final()
        if Flag.INTERRUPTED in flags and self.settled is None and found.kg is not None:
            found = replace(found, grade="poor")
        flags = self.flags | flags | flags_of(found)
        off, weight = self.off if off is None else off, self.spell(found)
        part = self.unfinished or not flags.isdisjoint({Flag.INTERRUPTED, Flag.ON_AT_START})
        if part and may_be_half(found.span_s, found.kg or 0.0, self._known.usual_kg):
            weight = weight.model_copy(update={"grade": worse(weight.grade, "poor")})
        reckoned = Reckoned(found.doubts, found.limit, self.settling.delay_s, found.delay_s > 0)
        stood = stood_of(self.settling, on_at_start=Flag.ON_AT_START in self.flags)
        return Ended(self.number, self.on, self.settled, off, weight, in_order(flags), stood, reckoned)

    def flags_now(self) -> tuple[Flag, ...]:
        """Return the flags so far, in order."""
        return in_order(self.flags)

    def spell(self, found: Estimate) -> Weight:
        """Spell an estimate, its grade lowered by what only the stay knows."""
        unsure_percent = 100 * max(self.unsure_kg, self.beside_kg) / found.kg if found.kg else 0.0
        allowed = worse(self._cap, allowed_by(self._overloads / max(1, self._readings), unsure_percent))
        grade = worse(found.grade, allowed if self.zero_seen else worse(allowed, "poor"))
        kg = None if found.kg is None else found.kg + self._shift_kg
        return weight_of(found, kg, grade, self.settling.first, self.zero_kg, self.moved_kg)
