"""Where a station's job sheets come from: a protocol, and the one for a site that is given none."""

from typing import Protocol

from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.job.jobs.job import SheetRef
from neckyoke.bridge.job.kept import Given
from neckyoke.bridge.job.load import Job as Prepared


class Sheets(Protocol):
    """Where sheets are found and kept.  Each raises ConfigError saying what is wrong."""

    def find(self, station: str, file: str | None) -> tuple[SheetRef, Prepared]:
        """Read a file beside the configuration, the station's own without one, and keep it."""

    def take(self, station: str, given: Given, name: str) -> tuple[SheetRef, Prepared]:
        """Keep what a person gave."""

    def load(self, digest: str) -> Prepared:
        """Read one that is kept."""


class NoSheets:
    """For a site that is given none."""

    def find(self, station: str, file: str | None) -> tuple[SheetRef, Prepared]:
        """Find nothing."""
        raise ConfigError([Problem(file=file or "request", where=station, what="no job sheets can be read here")])

    def take(self, station: str, _given: Given, name: str) -> tuple[SheetRef, Prepared]:
        """Keep nothing."""
        raise ConfigError([Problem(file=name, where=station, what="no job sheets can be kept here")])

    def load(self, digest: str) -> Prepared:
        """Load nothing."""
        raise ConfigError([Problem(file=digest, where="sheet", what="no job sheets are kept here")])
