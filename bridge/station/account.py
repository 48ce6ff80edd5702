"""Which animals were weighed in each job, and by which weighing: one account for station and clerk alike."""

from collections.abc import Iterable, Mapping, Sequence
from types import MappingProxyType
from typing import Protocol

from neckyoke.bridge.station.record import Record
from neckyoke.bridge.station.settings import Place

JOBS_KEPT = 6
"""How many jobs back a weighing can be amended with its account at hand."""


class Jobs(Protocol):
    """What the account asks of its station's jobs."""

    def part(self, number: int, of: int, *, apart: bool) -> None:
        """Take that a stay is the rest of an earlier one, or is none after all (`apart`)."""

    def place(self, number: int) -> Place | None:
        """Return where a stay stands now; None when no job at hand has it."""


class Account:
    """One station's account.

    Of each job every name of each animal (see `Record.claims`), and the weighing that has it.  Jobs are known by id;
    what belongs to none is under the empty one.  `parts` are the numbers of stays that are told under an earlier
    number: the box stopped while the animal stood there.  `kept_by` are the jobs that hear of them.
    """

    def __init__(self, weighed: Mapping[str, Mapping[str, str]] = MappingProxyType({})) -> None:
        self.job = [*weighed][-1] if weighed else ""
        self._of_job = {job: dict(one) for job, one in weighed.items()} or {"": {}}
        self.parts: set[int] = set()
        self.kept_by: Jobs | None = None

    @property
    def weighed(self) -> Mapping[str, str]:
        """Who was weighed in the present job."""
        return self.of(self.job)

    @property
    def jobs(self) -> dict[str, dict[str, str]]:
        """Who was weighed in each job, the present one last."""
        return {job: dict(one) for job, one in self._of_job.items()}

    def part(self, number: int, of: int, *, apart: bool) -> None:
        """Let a stay be told under the number of an earlier one, or by itself again (`apart`)."""
        (self.parts.discard if apart else self.parts.add)(number)
        if self.kept_by is not None:
            self.kept_by.part(number, of, apart=apart)

    def place(self, number: int) -> Place | None:
        """Return where a stay belongs; None when no job at hand has it."""
        return self.kept_by.place(number) if self.kept_by is not None else None

    def begin(self, job: str | None) -> None:
        """Let another job be the present one; who was weighed in it before stays weighed."""
        self.job = job or ""
        self._of_job[self.job] = self._of_job.pop(self.job, {})
        while len(self._of_job) > JOBS_KEPT:
            del self._of_job[next(iter(self._of_job))]

    def of(self, job: str | None) -> Mapping[str, str]:
        """Return who was weighed in a job; nobody when that is too long ago."""
        return self._of_job.get(job or "", {})

    def take(self, record: Record) -> None:
        """Take what a record claims in its job."""
        self.count(record.weighing, record.claims, record.job)

    def free(self, record: Record) -> None:
        """Let a record claim nothing."""
        self.count(record.weighing, (), record.job)

    def forget(self, weighing: str) -> None:
        """Let a weighing have no claim in any job, until it is counted again."""
        for job in self._of_job:
            self.count(weighing, (), job)

    def again(self, records: Iterable[Record]) -> None:
        """Count these again, in the order in which they came."""
        these = sorted(records, key=lambda one: one.number)
        for record in these:
            self.free(record)
        for record in these:
            if record.off is not None:
                self.take(record)

    def count(self, weighing: str, claims: Sequence[str], job: str | None) -> None:
        """Let a weighing have these claims in a job and no other.

        Who has one first keeps it; whose first one another has is that one's animal, and gets none.
        """
        weighed = self._of_job.get(job or "", {})
        for name in [name for name, of in weighed.items() if of == weighing and name not in claims]:
            del weighed[name]
        if claims and weighed.setdefault(claims[0], weighing) == weighing:
            for name in claims[1:]:
                weighed.setdefault(name, weighing)
