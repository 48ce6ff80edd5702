"""What one reading shows, seen from the present state (`table` says what each sight means)."""

from neckyoke.bridge.station.platform.empty.zero import Zero
from neckyoke.bridge.station.platform.stay import Stay
from neckyoke.bridge.station.platform.table import Sight, State

CLEAR_SHARE, PART_SHARE = 0.12, 0.75
"""Of what stood there: below the one it is gone, below the other feet are off."""


def sight_of(t: float, shown_kg: float, state: State, stay: Stay | None, zero: Zero) -> Sight:
    """Return what a reading at `t` shows of the open stay, or of the empty platform."""
    if stay is None:
        return Sight.CLEAR if shown_kg - zero.kg < zero.on_kg else Sight.FULL
    kg, level = shown_kg - stay.zero_kg, stay.settling.level
    if kg < max(zero.on_kg, CLEAR_SHARE * level):
        return Sight.OFF if state != "arriving" and stay.dip_at(t).may_hop(t) else Sight.CLEAR
    if state == "arriving":
        return Sight.FULL
    dip = stay.dip if state == "leaving" else None
    if kg - stay.floor_kg >= PART_SHARE * (level - stay.floor_kg):
        return Sight.RISING if dip and dip.leapt(t) else Sight.FULL
    return Sight.RISING if dip and dip.rises(t, kg) else Sight.PART
