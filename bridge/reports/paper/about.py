"""Whose work it was: what stands above the figures."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import datetime, tzinfo

from neckyoke.bridge.reports.tally import Tally


@dataclass(frozen=True, slots=True)
class About:
    """What is known of the work beside its weighings.  `place` is the property as its keeper writes it."""

    place: str | None = None
    mob: str | None = None
    station: str | None = None
    turn: int | None = None

    def heading(self, tally: Tally) -> str:
        """Name the work: its sheets' titles."""
        return ", ".join(tally.sheets) or (f"Job {self.turn}" if self.turn else "Weighing day")

    def beside(self, tally: Tally, zone: tzinfo) -> Iterator[str]:
        """Yield what stands beside the heading: mob, which job, station, date and time on the farm's clock."""
        if self.mob and self.mob not in tally.sheets:
            yield self.mob
        if self.turn:
            yield f"job {self.turn}"
        if self.station:
            yield self.station
        if tally.began and tally.ended:
            yield when(tally.began, tally.ended, zone)


def when(began: str, ended: str, zone: tzinfo) -> str:
    """Spell a span of time on the farm's clock, with the zone's name."""
    first, last = (datetime.fromisoformat(one).astimezone(zone) for one in (began, ended))
    end = f"{last:%H:%M}" if first.date() == last.date() else f"{last:%Y-%m-%d %H:%M}"
    return f"{first:%Y-%m-%d %H:%M} to {end} {zone}"
