"""One job of a station, as plain values: its sheets, its stays by number, and how it stands."""

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import datetime
from typing import Any, Literal, NamedTuple, TypeAlias

from neckyoke.bridge.events import spell_time
from neckyoke.bridge.station.settings import Place

Standing: TypeAlias = Literal["open", "paused", "ended", "undone"]
"""How a job stands; `undone`: a person took back that it was begun."""


class SheetRef(NamedTuple):
    """Which sheet: its title, and the digest under which its content is kept."""

    title: str
    digest: str


class Span(NamedTuple):
    """Stays that came one after the other, by the station's number, `last` None for as long as they go on.

    `start` is the job's own number of the first, 0 for stays that were recorded while the job was paused.
    """

    first: int
    last: int | None
    start: int

    @property
    def paused(self) -> bool:
        """Whether they count nowhere."""
        return self.start == 0

    def until(self, now: int) -> int:
        """Return the number of the last, `now` being that of the station's last stay."""
        return now if self.last is None else self.last


@dataclass(frozen=True, slots=True)
class Job:
    """One job.  `turn` counts a station's jobs from 1.

    `sheets` are those it was done under, each with the number of the last stay before it; `by_itself`: a stay opened
    it, no person; `idle`: it ended by itself; `begun_t` is monotonic seconds of this run, None for one of a run before.
    """

    id: str
    turn: int
    begun: datetime
    begun_t: float | None = None
    ended: datetime | None = None
    ended_t: float | None = None
    standing: Standing = "open"
    by_itself: bool = False
    idle: bool = False
    sheets: tuple[tuple[int, SheetRef | None], ...] = ()
    spans: tuple[Span, ...] = ()

    @property
    def sheet(self) -> SheetRef | None:
        """The sheet that holds for its next stay."""
        return self.sheets[-1][1] if self.sheets else None

    @property
    def is_open(self) -> bool:
        """Whether stays belong to it now."""
        return self.standing in {"open", "paused"}

    def sheet_for(self, number: int) -> SheetRef | None:
        """Return the sheet that held for a stay of it."""
        held = [sheet for after, sheet in self.sheets if after < number]
        return held[-1] if held else self.sheets[0][1] if self.sheets else None

    def place_of(self, number: int, now: int) -> Place | None:
        """Return where a stay stands in this job; None when it is none of its stays."""
        for span in self.spans:
            if span.first <= number <= span.until(now):
                return Place(paused=True) if span.paused else Place(self.id, span.start + number - span.first)
        return None

    def number_of(self, job_number: int, now: int) -> int | None:
        """Return the station's number of the stay with a number in this job."""
        for span in self.spans:
            at = job_number - span.start
            if not span.paused and 0 <= at <= span.until(now) - span.first:
                return span.first + at
        return None

    def numbers(self, now: int, *, paused: bool = False) -> Iterator[int]:
        """Yield the station's numbers of the stays that count in it, or of those recorded while it was paused."""
        for span in self.spans:
            if span.paused is paused:
                yield from range(span.first, span.until(now) + 1)

    def count(self, now: int) -> int:
        """Return the highest number that it has given."""
        return max((span.start + span.until(now) - span.first for span in self.spans if not span.paused), default=0)

    def before(self, number: int, now: int) -> "Job":
        """Return the job with the stays from a number on left out."""
        kept = (
            span if span.until(now) < number else span._replace(last=number - 1)
            for span in self.spans
            if span.first < number
        )
        return replace(self, spans=tuple(span for span in kept if span.last is None or span.last >= span.first))

    def closed(self, now: int) -> "Job":
        """Return the job with its last stays at their end."""
        kept = (span if span.last is not None else span._replace(last=now) for span in self.spans)
        return replace(self, spans=tuple(span for span in kept if (span.last or 0) >= span.first))

    def with_span(self, first: int, last: int | None, start: int) -> "Job":
        """Return the job with further stays."""
        return replace(self, spans=(*self.spans, Span(first, last, start)))


def spell_job(job: Job) -> dict[str, Any]:
    """Spell a job for JSON; what only this run knows is left out."""
    return {
        "id": job.id,
        "turn": job.turn,
        "begun": spell_time(job.begun),
        "ended": spell_time(job.ended) if job.ended else None,
        "standing": job.standing,
        "by_itself": job.by_itself,
        "idle": job.idle,
        "sheets": [[after, list(sheet) if sheet else None] for after, sheet in job.sheets],
        "spans": [list(span) for span in job.spans],
    }


def read_job(table: Mapping[str, Any]) -> Job:
    """Read what `spell_job` spelled."""
    ended = table["ended"]
    return Job(
        id=table["id"],
        turn=table["turn"],
        begun=datetime.fromisoformat(table["begun"]),
        ended=datetime.fromisoformat(ended) if ended else None,
        standing=table["standing"],
        by_itself=table["by_itself"],
        idle=table["idle"],
        sheets=tuple((after, SheetRef(*sheet) if sheet else None) for after, sheet in table["sheets"]),
        spans=tuple(Span(*span) for span in table["spans"]),
    )
