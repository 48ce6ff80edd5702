"""The job of one station: read at the start as well as it can be, later only whole; what is wrong with it is a trouble.

begins --(the sheet, or the roster that it names, cannot be read)--> trouble --(a request finds all of it)--> over
"""

from dataclasses import dataclass

import structlog

from neckyoke.bridge.clock import WallClock
from neckyoke.bridge.config.model import Config
from neckyoke.bridge.config.problems import ConfigError
from neckyoke.bridge.job.find import find_job
from neckyoke.bridge.job.load import Job
from neckyoke.bridge.telling.alerts import Troubles

THEN = "Mend it, then: neckyoke tell sheet."


@dataclass(frozen=True, slots=True)
class Jobs:
    """Finds the jobs of a station; `troubles` are its own."""

    config: Config
    station: str
    clock: WallClock
    troubles: Troubles

    def first(self) -> Job | None:
        """Return the job that the station begins with; without what cannot be read of it, which is said."""
        if self.config.stations[self.station].sheet is None:
            return None
        try:
            job = self._read(None, without_roster=True)
        except ConfigError as error:
            text = f"The job sheet of {self.station} cannot be used, and the day goes on without it: {error}  {THEN}"
            self.troubles.begin("sheet", text)
            return None
        if job.lacking:
            text = "so withholding, gain and who is expected are not known: " + " ".join(map(str, job.lacking))
            self.troubles.begin("roster", f"{self.station} weighs without its roster, {text}  {THEN}")
        for doubt in job.doubts:
            structlog.get_logger().warning("job sheet", station=self.station, doubt=str(doubt))
        return job

    def find(self, file: str | None) -> Job:
        """Return the job that a request names, or the present one read again.  Raises ConfigError."""
        job = self._read(file)
        self.troubles.end("sheet", f"{self.station} has a job sheet again.")
        self.troubles.end("roster", f"{self.station} has its roster again.")
        return job

    def _read(self, file: str | None, *, without_roster: bool = False) -> Job:
        today = self.clock.stamp(self.clock.now()).time.astimezone(self.config.zone).date()
        return find_job(self.config, self.station, file, today, without_roster=without_roster)
