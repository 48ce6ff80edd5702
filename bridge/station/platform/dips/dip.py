"""A dip within a stay: feet lifted, and what it turns out to be.

A kick is over at once.  An animal that stepped half off comes back to its weight.  Another animal that stepped on as
this one left comes to another weight, or is told by how low it was in between.

An animal that throws itself about goes up as far as down, by a fifth to a half of its weight at one half to two swings
a second, and a second of it may weigh anything between.  So what swung above itself before the dip must go lower by as
much to be nearly off, and must come back to a weight further off by as much as it swings to be another; and while what
came back swings still, its weight is not known, and that is not judged by it.  And who is back up for a moment is no
lighter animal: that one would stay below.

A slow display falls to a half, or less far, between two short stays.  Once its smoothing is known (`weight/lag`) it is
undone for the dip, and shows that the platform was bare, and that it bears something again.  What it shows on its way
up is any weight, in passing that of the one before too: nothing is told by that.  And where readings are few what comes
on next may be up with the first of them: it came from a bare platform all the same.

How low it was is held against what stood there then, not against what came since, and above what every gap of late came
down to (`company`): a gate that was hung while animals follow each other, and was never seen alone, is under them all.
Behind a quick display a dip so soon after the first foot that no other can have come and gone, and in which feet stayed
on, is the same animal's, whatever it weighs when it is back: it is stepping on, or throws itself about.  Within a
second of the first foot none can have, whatever was left.  And where what is left rested there before, alone, it was
there all the while: a person who had come on beside it stepped off.  But an animal as heavy as the next may have left,
of two that came close together: then what went weighed as much as what stayed, or more than a person, or feet were off
in between.

One that throws itself about hard is up in the air for a moment, and the platform is bare.  So what swung hard before,
pressed far above its weight, or came too lately to have crossed, has left only when it is off for longer than a hop.
And a valley between two heights close by says how hard it swings (`swings`), but only behind a display that is no slow
one, and where readings are not few: two animals taken for one make a valley too, and would hide the third.  A kick of
one behind a quick display, in which feet stayed on, is its own, however heavy it is after: a person came on.
"""

from itertools import pairwise
from math import inf
from statistics import fmean, median

from neckyoke.bridge.station.platform.dips.swings import (
    BARE_SHARE,
    SPAN_BINS,
    SWINGS,
    SWUNG_BINS,
    THREW_BINS,
    span_of,
    swung_above,
    threw,
)
from neckyoke.bridge.station.platform.empty.rest import is_level
from neckyoke.bridge.station.platform.lasting import lasted
from neckyoke.bridge.station.weight.apart import rests
from neckyoke.bridge.station.weight.estimators import BIN_S, moving_means
from neckyoke.bridge.station.weight.plateau import HALF, HALF_LASTS_S
from neckyoke.bridge.station.weight.settling import Settling

KICK_S = 0.4
"""A dip shorter than this is a kick."""
VALLEY_SHARE = 0.33
"""Below this share of what stood there no foot is left, where a slow display would have shown more (`BARE_SHARE`, in
which hardly one is): what it showed, with its smoothing undone."""
RISE_SHARE, ROSE_S = 0.15, 1.5
"""Another animal has come on when it is so much more than the lowest, as a share of what stood there, for so long."""
UNDONE_SHARE = 0.3
"""Or when the display rises and, with its smoothing undone, shows so much again after a bare platform."""
RESTS, UNDER = 0.1, 0.8
"""What rests varies by less than the one share; half an animal was not below the other share of it before."""
SINKS_S, MORE = 4.0, 0.5
"""What stands there for so long after feet were lifted stands there now; it has come since if it is more than the
lowest by so much of the smallest animal."""
ANOTHER = 0.07
"""What comes back and differs by more than this share (twice that after a kick) is another animal."""
RESTED_S, WAITS_S = 1.0, 10.0
"""So long after its return that is judged, or, while it swings, no later than this: it is taken for the same."""
SOON_S = 2.5
"""One that only ever stood half on, for no longer than this, and then dipped, was pulling back before it came on; for
no longer than a pause half on, if feet stayed on; and one whose feet stayed on so soon is the same, whatever it was."""
THROWS, HOP_S = 0.2, 0.3
"""One that swings by more than this share may hop, and is off the platform for no longer than this;"""
PRESSED, PRESSED_BINS = 1.2, 8
"""so may one that weighed so many times what stood there just before: nobody walks off so."""
CROSSES_S, LATE_S, LATE_BINS = 1.1, 0.1, 8
"""No animal comes, walks its own length over a platform and is gone within so short a time (common practice, no
source): a lamb's metre and two of platform take longer at 2.7 m/s, a good trot.  And where fewer
than three readings came in the last so many bins its first foot was seen late, by this or more."""
ALONE, ALONE_BINS, ALONE_AGO, UNLIKE, LIES_BINS = 0.02, 5, 600, 0.15, 12
"""What rested for so many bins within this share of what is left was the same, of so many bins before; and what went
was another animal if it weighed as much, within this share.  What lies there is level for so many bins."""
STAYED, OFF_BINS, PERSON_KG = 0.85, 5, 130.0
"""What stays while a person steps off does not show less than this share of itself for so many bins, longer than a
kick; and hardly a person weighs more (common practice, no source): what was heavier may have left as its like, of which
the fore feet were on, came."""
BOTH = 1.6
"""What weighs so many times the heaviest of the mob is an animal and a person: what is left was there all the while."""
FEW, FEW_BINS = 3, 4
"""Of fewer readings the middle one may be a kick: what is longer ago may be what stood before just as well.
And they are few where not two of them came in so many bins."""
LOOKS_BACK, RESTED_BINS = 40, 4
"""Bins looked at for how long it rested at its lowest, and how many of them are a rest."""
RISES_BINS = 5
"""What a display shows in so many bins is held against as many before, since its return: whether it rises still."""
CALM = 0.03
"""One that swings by less than this, either way, is not made doubtful by it."""
DEEP = 0.6
"""A dip below this share, to the same weight again, is one that came back."""


class Dip:
    """One dip.  Weights are net; `since` holds the readings since the lowest, as shown."""

    def __init__(
        self, t: float, settling: Settling, on: float, floor_kg: float = 0.0, *, in_sight: bool = True
    ) -> None:
        self.on, self._in_sight = on, in_sight  # its first foot was seen
        self.lifted_at = self.lowest_t = t
        self._sank_at = self._low_t = t  # it went down the last time, and was seen there last
        self.lowest_kg = float("inf")
        self.since: list[tuple[float, float]] = []
        self._settling, self._floor_kg, self._level = settling, floor_kg, settling.level
        self._returned_at: float | None = None
        self._off_at: float | None = None  # since when it is off the platform, if it may have hopped
        self._hopped = False
        # Of two stretches before it the longer may still hold some of the way up, the shorter some of the way down.
        spans = [settling.track.bins(count)[:-3] for count in (25, 12)]
        levels = [median(span) for span in spans if span] or [settling.level]
        self._before_kg = max(levels)
        late = settling.track.readings_of(LATE_BINS) < FEW
        self._crosses_s = CROSSES_S - (LATE_S if late else 0.0)
        self._are_few = few = settling.track.readings_of(12) - settling.track.readings_of(3) < FEW
        self._or_kg = levels[0] if few else self._before_kg
        cut_short = few and all(one <= after for one, after in pairwise(spans[0]))  # only its way up was seen
        self._threw = self._swung_hard()
        self._swung = max(self._threw, 0.0 if cut_short else swung_above(spans[0], self._before_kg))
        self._span = span_of(spans[0], self._before_kg)

    def sink(self, t: float, kg: float) -> None:
        """See a reading well below what stood there."""
        self._low_t, self._off_at = t, None
        if self._returned_at is not None:
            self._hopped = self._hopped or (self._is_there and self._is_nearly_off)
            if self._swings > SWINGS and lasted(self._returned_at, t, RESTED_S):
                self.lifted_at, self.lowest_kg = t, inf  # it throws itself about: this is the next swing
                self._level = self._settling.level
            self._returned_at, self._sank_at = None, t
            self._threw = max(self._threw, self._swung_hard())
            self._swung = max(self._swung, self._threw)
        if kg < self.lowest_kg:
            self.lowest_kg, self.lowest_t = kg, t
            self.since.clear()

    def returns(self, t: float) -> None:
        """See a reading near what stood there, or above."""
        self._off_at = None
        if self._returned_at is None:
            self._returned_at = t

    def may_hop(self, t: float) -> bool:
        """Return whether what is off the platform now may be up in the air, and come down on it again."""
        pressed_kg = max(moving_means(self._settling.track.bins(PRESSED_BINS), SWUNG_BINS), default=0.0)
        return (
            self._hopped or self._is_too_soon(t) or self._threw > THROWS or pressed_kg > PRESSED * self._settling.level
        )

    def hop(self, t: float, kg: float) -> None:
        """See a reading of a bare platform: it may be up in the air."""
        if self._off_at is None:
            self.lowest_kg = inf  # if it is gone, it has been since now
            self.sink(t, kg)
            self._off_at, self._hopped = t, True

    def is_gone(self, t: float) -> bool:
        """Return whether it has been off the platform for longer than a hop by now."""
        return self._off_at is not None and lasted(self._off_at, t, HOP_S)

    def may_lie_kg(self, unsure_kg: float) -> float:
        """Return what may lie on the platform, which nobody saw empty when another animal came: zero is no surer by it.

        `unsure_kg` may have lain there before.  A foot passes at the lowest; what rested there may lie there.
        """
        near_kg = self.lowest_kg + 3 * self._settling.track.interval_kg
        rested = sum(kg <= near_kg for kg in self._settling.track.bins(LOOKS_BACK))
        return max(0.0, self.lowest_kg if rested >= RESTED_BINS else min(unsure_kg, self.lowest_kg))

    def rises(self, t: float, kg: float) -> bool:
        """Return whether hardly a foot was left, and now it is clearly more again."""
        whole_kg = self._settling.level - self._floor_kg
        if self._is_there or not lasted(self._sank_at, t, KICK_S) or kg <= self.lowest_kg:
            return False
        if kg > self.lowest_kg + RISE_SHARE * whole_kg:
            return self._is_nearly_off or self.was_bare()
        undone = self._settling.undone(self.lifted_at)
        return bool(undone) and undone[-1] - self._floor_kg > UNDONE_SHARE * whole_kg and self.was_bare()

    def leapt(self, t: float) -> bool:
        """Return whether what is back up now came from hardly a foot at one leap: readings are few.

        Where they are so few that no other was due in a kick's time, one low reading is enough.
        """
        low = lasted(self._sank_at, self._low_t, KICK_S) or lasted(self._low_t, t, KICK_S)
        return self._returned_at is None and low and self._is_nearly_off and not self._is_there

    @property
    def _is_nearly_off(self) -> bool:
        whole_kg = self._level - self._floor_kg
        return self.lowest_kg - self._floor_kg < (BARE_SHARE - self._swung) * whole_kg

    def was_bare(self) -> bool:
        """Return whether the platform was bare before something came back, though a slow display did not show it."""
        undone = self._settling.undone(self.lifted_at - self._settling.delay_s)
        undone = undone[: len(undone) - self._returned_bins]
        if not undone:
            return False
        top = max(undone[: max(1, round(self._settling.delay_s / BIN_S))])  # of the one before: none has come since
        whole_kg = max(top, self._settling.level) - self._floor_kg
        return min(undone[undone.index(top) :]) - self._floor_kg < (VALLEY_SHARE - self._swung) * whole_kg

    def is_long(self, t: float) -> bool:
        """Return whether what stands there has been less for so long that it is what stands there now."""
        return lasted(self.lifted_at, t, SINKS_S)

    def is_over(self, t: float, smallest_kg: float) -> bool:
        """Return whether what stands there now is none of what stood there before: that has left.

        So is what rose again, or rests where no half of it would; in the end also what is too light for an animal, and
        what rose, by less, from where no foot of it was left.
        """
        if self.rose(t):
            return True
        kg = self._settling.lately_kg()
        if not self.is_long(t) or kg < smallest_kg:
            return self.is_long(t)
        was_off = self.lowest_kg < (VALLEY_SHARE - self._swung) * self._settling.level or self.was_bare()
        low_kg = min([self.lowest_kg, *self._settling.undone(self.lifted_at)])
        return was_off and not self._is_there and kg > low_kg + MORE * smallest_kg

    def rose(self, t: float) -> bool:
        """Return whether another, lighter animal has come on: for that long it was not up where the one before stood.

        It rose well above the lowest, or rests at no half of what stood, or at one after it was well below.
        """
        if not lasted(max(self.lowest_t, self._sank_at), t, ROSE_S):
            return False
        kg, level = self._settling.lately_kg(), self._settling.level
        bins = self._settling.track.bins(round(ROSE_S / BIN_S))
        stands = max(bins) - min(bins) < RESTS * kg
        no_half = not HALF[0] < kg / level < HALF[1] or self.lowest_kg < UNDER * kg
        came_on = (stands and no_half) or kg > self.lowest_kg + (RISE_SHARE + self._swung) * level
        return came_on and not self._is_there and not self._stood_alone(kg, level)

    def _stood_alone(self, kg: float, level: float) -> bool:
        """Return whether what is left stood there before the rest came: that has left, which was no animal like it."""
        lately, went_kg = self._settling.track.bins(LIES_BINS), level - kg
        lies = kg < VALLEY_SHARE * level and is_level(lately, 3 * self._settling.track.interval_kg)
        if lies and not self._settling.outweighs(went_kg, 1.0):
            return False  # it may be what lies there, taken for an animal
        since = round((self._settling.track.ends - self.lifted_at) / BIN_S)
        before = self._settling.track.bins(since + ALONE_AGO)[: -since or None]
        alone = any(abs(one.kg - kg) < ALONE * kg for one in rests(before, ALONE_BINS, RESTS, kg))
        alone = alone or self._settling.outweighs(level, BOTH)
        dipped = self._settling.track.bins(since)
        windows = (dipped[place : place + OFF_BINS] for place in range(len(dipped) - OFF_BINS + 1))
        stayed = all(max(window) > STAYED * kg for window in windows)
        return alone and stayed and went_kg < PERSON_KG and abs(went_kg - kg) > UNLIKE * kg

    def _swung_hard(self) -> float:
        """Return by how much it swung of late, where that is seen: a slow display shows two animals so as well."""
        seen = self._settling.rests in {"quick", "middling"} and not self._are_few
        return threw(self._settling.track.bins(THREW_BINS)) if seen else 0.0

    @property
    def _is_there(self) -> bool:
        """Whether it has not left: it hopped, or none can have crossed by then; one that comes on lifts feet too."""
        return self._hopped or self._is_too_soon(self.lowest_t)

    def _is_too_soon(self, t: float) -> bool:
        return self._in_sight and not lasted(self.on, t, self._crosses_s)

    def is_judged(self, t: float) -> bool:
        """Return whether what came back has stood long enough to be judged; by its weight, once a slow display is back.

        That the platform was bare in between is known sooner.
        """
        if self._returned_at is None or not lasted(self._returned_at, t, RESTED_S):
            return False
        if not self._is_kick and self.was_bare():
            return True
        swings = self._swings > SWINGS or self._still_rises
        waits = swings and not lasted(self._returned_at, t, WAITS_S)
        return not waits and lasted(self._returned_at, t, RESTED_S + self._settling.delay_s)

    def was_another(self) -> bool:
        """Return whether what came back is another animal than the one that stood there."""
        kg, before = self._settling.lately_kg(), self._before_kg
        soon = not lasted(self.on, self.lowest_t, SOON_S)
        pausing = soon or not lasted(self.on, self.lowest_t, HALF_LASTS_S)
        feet_on = self.lowest_kg > BARE_SHARE * before
        was_half = HALF[0] * kg < before < HALF[1] * kg
        seen = self._settling.rests == "quick" or (self._settling.rests is not None and not self._are_few)
        kicked = self._is_kick and self._settling.rests == "quick" and not self._are_few
        stays = (soon and seen) or kicked or (pausing and was_half and not self._are_few)
        if self._is_there or (soon and was_half) or (feet_on and stays):
            return False
        if not self._is_kick and self.was_bare():
            return True
        return not self._is_same(kg) and not self._stood_alone(kg, before)

    def came_back(self) -> bool:
        """Return whether it was deep, and what came back is the same animal."""
        return (
            self._is_same(self._settling.lately_kg()) and not self._is_kick and self.lowest_kg < DEEP * self._before_kg
        )

    @property
    def _is_kick(self) -> bool:
        return self._returned_at is not None and not lasted(self.lifted_at, self._returned_at, KICK_S)

    def _is_same(self, kg: float) -> bool:
        swings = max(self._span, self._swings)
        apart = (2 * ANOTHER if self._is_kick else ANOTHER) + self._swung + (swings if swings > CALM else 0.0)
        alike = any(abs(kg - before) <= apart * before for before in (self._before_kg, self._or_kg))
        return alike or self._swings > SWINGS

    @property
    def _swings(self) -> float:
        bins = self._settling.track.bins(min(SPAN_BINS[1], self._returned_bins + 1))
        return span_of(bins, self._settling.lately_kg())

    @property
    def _still_rises(self) -> bool:
        """Whether a slow display is on its way up: in passing it shows any weight, that of the one before too."""
        bins = self._settling.track.bins(min(2 * RISES_BINS, self._returned_bins + 1))
        half = len(bins) // 2
        return half > 0 and fmean(bins[-half:]) > (1 + ANOTHER) * fmean(bins[:half])

    @property
    def _returned_bins(self) -> int:
        since = self._returned_at
        return 0 if since is None else max(0, round((self._settling.track.ends - since) / BIN_S))
