"""A weighing whose clock is known at last: every date in it that hangs on its time moves with the time.

The moments are moved already (`Corrected` in bridge/clock.py).  A first clear date is worked out anew from the period
that it was worked out from; the days of a gain are counted anew, and where the earlier weight was taken by the same
wrong clock, its date moves too.
"""

from datetime import date, datetime, tzinfo

from neckyoke.bridge.clock import Corrected
from neckyoke.bridge.events import Gain, Treatment, Weighing
from neckyoke.bridge.job import growth
from neckyoke.bridge.job.doses.withholding import UNKNOWN, clear_from, period_of


def redated(one: Corrected, zone: tzinfo) -> Weighing:
    """Return the corrected weighing with its dates.  `zone` is the farm's."""
    was, now = (_dosed(weighing).astimezone(zone) for weighing in (one.before, one.after))
    treatments = tuple(_treatment(treatment, was, now) for treatment in one.after.treatments)
    return one.after.model_copy(update={"treatments": treatments, "gain": _gain(one, zone)})


def _dosed(weighing: Weighing) -> datetime:
    return weighing.settled or weighing.off


def _treatment(one: Treatment, was: datetime, now: datetime) -> Treatment:
    update = {name: _clear(getattr(one, name), was, now) for name in ("withheld_until", "export_from")}
    return one.model_copy(update=update)


def _clear(clear: str | None, was: datetime, now: datetime) -> str | None:
    if clear is None or clear == UNKNOWN:
        return clear
    return clear_from(now, period_of(was, date.fromisoformat(clear)))


def _gain(one: Corrected, zone: tzinfo) -> Gain | None:
    gain, kg = one.after.gain, one.after.weight.kg
    if gain is None or kg is None:
        return gain
    was, now = (weighing.on.astimezone(zone).date() for weighing in (one.before, one.after))
    since = date.fromisoformat(gain.since)
    if one.boot.astimezone(zone).date() <= since <= was:
        since += now - was
    return growth.gain_since([(since, kg - gain.kg)], now, kg)
