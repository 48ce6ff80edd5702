"""The sheets of all stations: read at the start as well as can be, later only whole; what is wrong is a trouble.

begins --(the sheet, or the roster that it names, cannot be read)--> trouble --(a request finds all of it)--> over
"""

from collections.abc import Callable, Mapping
from dataclasses import dataclass

import structlog

from neckyoke.bridge.config.problems import ConfigError
from neckyoke.bridge.job.find import FoundSheets
from neckyoke.bridge.job.jobs.job import SheetRef
from neckyoke.bridge.job.kept import Given
from neckyoke.bridge.job.load import Job
from neckyoke.bridge.telling.alerts import Troubles

THEN = "Mend it, then: neckyoke tell sheet."


@dataclass(frozen=True, slots=True)
class SheetsOfDay:
    """Finds and keeps the sheets; `troubles` are each station's own.  `sweep` lets old ones go as new ones come."""

    found: FoundSheets
    troubles: Mapping[str, Troubles]
    sweep: Callable[[], None] = lambda: None

    def first(self, station: str) -> tuple[SheetRef, Job] | None:
        """Return the sheet that a station's table names; without what cannot be read of it, which is said."""
        if self.found.config.stations[station].sheet is None:
            return None
        try:
            ref, job = self.found.find(station, None, without_roster=True)
        except ConfigError as error:
            text = f"The job sheet of {station} cannot be used, and the day goes on without it: {error}  {THEN}"
            self.troubles[station].begin("sheet", text)
            return None
        if job.lacking:
            text = "so withholding, gain and who is expected are not known: " + " ".join(map(str, job.lacking))
            self.troubles[station].begin("roster", f"{station} weighs without its roster, {text}  {THEN}")
        for doubt in job.doubts:
            structlog.get_logger().warning("job sheet", station=station, doubt=str(doubt))
        return ref, job

    def find(self, station: str, file: str | None) -> tuple[SheetRef, Job]:
        """Return the sheet that a request names, or the present one read again.  Raises ConfigError."""
        found = self.found.find(station, file)
        self._over(station)
        return found

    def take(self, station: str, given: Given, name: str) -> tuple[SheetRef, Job]:
        """Keep what a person gave.  Raises ConfigError."""
        found = self.found.take(station, given, name)
        self._over(station)
        self.sweep()
        return found

    def load(self, digest: str) -> Job:
        """Read one that is kept.  Raises ConfigError."""
        return self.found.load(digest)

    def _over(self, station: str) -> None:
        self.troubles[station].end("sheet", f"{station} has a job sheet again.")
        self.troubles[station].end("roster", f"{station} has its roster again.")
