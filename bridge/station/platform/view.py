"""The platform as it is now, for a live display."""

from dataclasses import dataclass

from neckyoke.bridge.events import Grade
from neckyoke.bridge.station.platform.empty.zero import Zero
from neckyoke.bridge.station.platform.stay import Stay
from neckyoke.bridge.station.platform.table import State
from neckyoke.protocols.readings import Condition, WeightReading


@dataclass(frozen=True, slots=True)
class View:
    """The platform as it is now, for a live display.  Weights net of the empty platform; None when not known."""

    state: State
    number: int | None  # of the stay now open, None when there is none
    on: float | None
    kg: float | None
    settled_kg: float | None
    grade: Grade | None
    zero_kg: float | None
    moving: bool | None
    overload: bool
    last_t: float | None  # of the last reading
    stood_kg: float | None = None  # what stood still there for a moment last, roughly
    leaves: bool = False  # most of the feet are lifted


def view_of(state: State, stay: Stay | None, last: tuple[float, WeightReading] | None, zero: Zero) -> View:
    """Return the platform in this state: its stay, if one has begun, the last reading, and the empty platform."""
    stay = stay if stay and stay.began else None
    first = stay.settling.first if stay else None
    reading = last[1] if last else None
    return View(
        state=state,
        number=stay.number if stay else None,
        on=stay.on if stay else None,
        kg=None if reading is None or reading.kg is None else reading.kg - zero.kg,
        settled_kg=None if first is None or first.kg is None else round(first.kg, 2),
        grade=first.grade if first else None,
        zero_kg=zero.seen_kg,
        moving=None if reading is None or reading.stable is None else not reading.stable,
        overload=reading is not None and reading.condition is Condition.OVERLOAD,
        last_t=last[0] if last else None,
        stood_kg=stay.settling.stood_kg(last=True) if stay else None,
        leaves=stay is not None and stay.settling.leaves,
    )
