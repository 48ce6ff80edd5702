"""What happens to the jobs of a station: what a person says of them, and the stays."""

from dataclasses import dataclass
from typing import TypeAlias

from neckyoke.bridge.job.jobs.job import SheetRef


@dataclass(frozen=True, slots=True)
class Begin:
    """Begin a job: under a sheet that is named here, under none (`bare`), or under the one that was named before."""

    sheet: SheetRef | None = None
    bare: bool = False


@dataclass(frozen=True, slots=True)
class Pause:
    """Count nothing until it is resumed; `why` is in the person's words."""

    why: str = ""


@dataclass(frozen=True, slots=True)
class Resume:
    """Go on with the job that is paused, or with one that has ended: by its turn, or the last one.

    `first` is the station's number of the first stay to take in.
    """

    turn: int | None = None
    first: int | None = None


@dataclass(frozen=True, slots=True)
class End:
    """End the open job."""


@dataclass(frozen=True, slots=True)
class Choose:
    """Let a sheet hold from the next animal on; with no open job, for the next one.

    `mended`: the present sheet, read again.  `configured`: it is what the configuration names, which a person wrote
    before the run: it leaves the open job alone.
    """

    sheet: SheetRef
    mended: bool = False
    configured: bool = False


@dataclass(frozen=True, slots=True)
class Stay:
    """Something stood on the platform: a stay with this number."""

    number: int


@dataclass(frozen=True, slots=True)
class Seen:
    """The station's last stay had this number, though the run did not live to say so."""

    number: int


@dataclass(frozen=True, slots=True)
class Part:
    """A stay turned out to be the rest of an earlier one, `of`, and is told under that number; `apart`: it is not."""

    number: int
    of: int | None = None
    apart: bool = False


@dataclass(frozen=True, slots=True)
class Run:
    """The box began to run again: how long nothing was seen counts from here."""


Word: TypeAlias = Begin | Pause | Resume | End | Choose
"""What a person says."""
Op: TypeAlias = Word | Stay | Seen | Part | Run


@dataclass(frozen=True, slots=True)
class JobReply:
    """Whether it was done, and if not, why not; `job` is the id of the one concerned."""

    done: bool
    text: str = ""
    job: str | None = None
