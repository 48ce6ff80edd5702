"""The desk: what people and programs ask, whatever way it came, answered when what was done of it is safe.

Where the disk takes nothing, the answer comes all the same, and says that it is not safe yet.

A request that came before, by its id, gets the answer it had.  One about a weighing that the station knows no more is
looked up in the journal first; of those one is served after the other, for two must not make the same revision.
"""

import asyncio
from collections.abc import Awaitable, Callable, Sequence
from dataclasses import dataclass, field
from datetime import timedelta
from typing import Any, TypeAlias

import structlog

from neckyoke.bridge.asking.at_once import parts_of, taken_back, together, told_of_all
from neckyoke.bridge.asking.dose_requests import WithheldRequest
from neckyoke.bridge.asking.job_requests import UndoRequest, WithSheet
from neckyoke.bridge.asking.requests import (
    Answer,
    Answered,
    Refusal,
    ReloadRequest,
    Request,
    StatusRequest,
    parse_request,
)
from neckyoke.bridge.asking.sheet_requests import SHELF_REQUESTS, DropSheet, SaveSheet
from neckyoke.bridge.daemon.history_cache import Lookup
from neckyoke.bridge.events import Weighing
from neckyoke.bridge.job import cautions
from neckyoke.bridge.job.making.sheet_desk import SheetDesk
from neckyoke.bridge.journal.journal import Journal, JournalError
from neckyoke.bridge.reports.doses.withheld import Kind, told, withheld_on
from neckyoke.bridge.site.site import Site
from neckyoke.bridge.site.station_jobs import StationJobs
from neckyoke.bridge.site.undoing import Owed
from neckyoke.bridge.telling.alerts import Troubles
from neckyoke.bridge.telling.keep import mistake
from neckyoke.bridge.telling.status import Status

ZeroScale: TypeAlias = Callable[[str | None], Awaitable[str | None]]
"""Sends the indicator's own zero command to a station, or to all; gives what went wrong, in words, or None."""


UNPROVEN = (
    "A sheet might be half written and still read well.  Send its digest too, what sha256sum prints of the file, "
    'as in {"kind": "sheet", "file": "sheet.toml", "digest": "…"}.'
)
NOT_FROM_FAR = "Sheets are written on the page, or on the box: neckyoke tell keep sheet.toml."
SAFE_S = 4.0
"""For how long an answer waits for the disk; whoever asked waits for ten."""
NOT_SAFE = (
    "It is not safe yet: the journal's disk has not taken it.  Leave the box on, and see what neckyoke status says."
)
EARLY = timedelta(minutes=1)
"""A job that a stay opens begins with that stay; clocks are put right by less, or amend the job as well."""


@dataclass(slots=True)
class Desk:
    """Takes requests.

    `do` does one, given the weighing it is about where only the journal knows it; `move` moves one of those to another
    job; `zero` sends the indicator's own zero
    command to a station and says what went wrong; `status` gives the daemon's figures.
    """

    site: Site
    journal: Journal
    lookup: Lookup
    answered: Answered
    do: Callable[[Request, Weighing | None], Answer]
    move: Callable[[Weighing, Owed], None]
    zero: ZeroScale
    status: Callable[[], Status]
    troubles: Troubles
    sheets: SheetDesk
    reload: Callable[[], Awaitable[Answer]] | None = None
    _looking_back: asyncio.Lock = field(default_factory=asyncio.Lock)

    @property
    def looks_back(self) -> bool:
        """Whether a weighing that only the journal knows is being spoken of now."""
        return self._looking_back.locked()

    async def ask(
        self, raw: dict[str, Any] | str | bytes, station: str | None = None, *, far: bool = False
    ) -> dict[str, Any]:
        """Answer a request, when what was done of it is safe in the journal.  `station`: the one it came to.

        From `far`, where nobody sees the file, a sheet must come with its digest.

        Never raises: a mistake of ours is an answer too, and said.
        """
        try:
            answer = await self._answer(raw, station, far=far)
        except Exception as error:  # noqa: BLE001  # no way that a request may come may be closed by one
            structlog.get_logger().error("a request failed", exc_info=error)
            self.troubles.begin("task-requests", f"a request: {mistake(error)}")
            return Answer(done=False, text=f"Look whether it was done.  {mistake(error)}").model_dump(mode="json")
        self.troubles.end("task-requests", "Requests are answered again.")
        return answer

    async def _answer(self, raw: dict[str, Any] | str | bytes, station: str | None, *, far: bool) -> dict[str, Any]:
        request = parse_request(raw)
        if far and isinstance(request, WithSheet) and request.unproven:
            request = Refusal(UNPROVEN, request.id)
        if far and isinstance(request, SaveSheet | DropSheet):
            request = Refusal(NOT_FROM_FAR, request.id)
        if isinstance(request, Refusal):
            return request.answer().model_dump(mode="json")
        if station is not None:
            if request.station not in {None, station}:
                text = f"This came to {station} and says station {request.station!r}: send it to that one's own topic."
                return Refusal(text, request.id).answer().model_dump(mode="json")
            request = request.model_copy(update={"station": station})
        if (answer := await self._of_the_daemon(request)) is not None:
            return answer.model_copy(update={"id": request.id}).model_dump(mode="json")
        if (before := self.answered.before(request)) is not None:
            return before.model_dump(mode="json")
        several: Sequence[Request] = parts_of(request)
        if isinstance(request, UndoRequest) and request.asked is None:
            if done_before := self.answered.parts_before(request):
                return self._together(request, done_before).model_dump(mode="json")
            several = taken_back(request, self.site.told_last(self.site.station_of(request)))
        answers = [await self._done(one) for one in several or [request]]
        return (self._together(request, answers) if len(answers) > 1 else answers[0]).model_dump(mode="json")

    async def _done(self, request: Request) -> Answer:
        for animal in self.site.keeper.concerned(request):
            await self.lookup.fetch(animal)
        if (lacking := self.site.lacks(request)) is None:
            answer = self.do(request, None)
            await self._move_owed()
        else:
            async with self._looking_back:
                try:
                    past = await self.lookup.weighing(*lacking)
                    if past is not None:
                        await recall(self.site.jobs[past.station], self.journal, past.job)
                    answer = self.answered.before(request) or self.do(request, past)
                except JournalError as error:
                    return Answer(id=request.id, done=False, text=str(error))
        if request.kind == "zero" and answer.done and (failed := await self.zero(request.station)):
            answer = answer.model_copy(update={"text": f"{answer.text}  {failed}"})
        return await self._safe(answer)

    async def _safe(self, answer: Answer) -> Answer:
        """Return an answer when all that was handed in before it is safe; say so when that takes too long."""
        written = self.journal.submit(())
        await asyncio.wait({written}, timeout=SAFE_S)
        return answer if written.done() else answer.model_copy(update={"text": f"{answer.text}  {NOT_SAFE}".strip()})

    def _together(self, request: Request, answers: list[Answer]) -> Answer:
        """Return one answer for many; they are taken back as one too."""
        done = any(answer.done for answer in answers)
        return Answer(id=request.id, done=done, text=told_of_all(answers), asked=together(answers))

    async def _of_the_daemon(self, request: Request) -> Answer | None:
        """Answer what is asked of the daemon rather than of a station; None for all else."""
        if isinstance(request, StatusRequest):
            return Answer(done=True, text="", status=self.status())
        if isinstance(request, ReloadRequest):
            assert self.reload is not None, "given by the service"
            return await self.reload()
        if isinstance(request, WithheldRequest):
            return await self._withheld(request)
        if isinstance(request, SHELF_REQUESTS):
            return await self.sheets.answer(request)
        if isinstance(request, UndoRequest) and request.asked is not None and self.sheets.wrote(request.asked):
            return await self.sheets.undo(request.asked)
        return None

    async def _withheld(self, request: WithheldRequest) -> Answer:
        """List who may not go: for meat only those of whom a dose may still hold are looked up."""
        zone, keeper = self.site.config.zone, self.site.keeper
        day = request.on or self.site.stamp(0.0).time.astimezone(zone).date()
        kind: Kind = "export" if request.export else "meat"
        await self.journal.append()
        if request.export:
            events = await self.journal.weighings()
        else:
            animals = sorted({name for animal, _ in keeper.held.on(day) for name in keeper.book.group(animal)})
            known = (keeper.book.get(name) for name in animals)
            tags = sorted({tag.id for one in known if one is not None for tag in one.tags})
            events = await self.journal.weighings(animals=animals, tags=tags) if animals else []
        rows = [event.data.model_dump(mode="json") for event in events]
        found = withheld_on(rows, day, zone, kind, keeper.book)
        lines = [*told(found, day, kind), cautions.DOSES]
        return Answer(done=True, text="\n".join(lines), withheld=[one.as_dict() for one in found])

    async def _move_owed(self) -> None:
        """Move those weighings to another job that only the journal knows."""
        owed, self.site.owed = self.site.owed, {}
        if not any(owed.values()):
            return
        await self.journal.append()  # so that the newest revisions are there to be read
        async with self._looking_back:
            for station, stays in owed.items():
                for one in stays:
                    past = await self.lookup.weighing(station, one.about)
                    if past is not None:
                        await recall(self.site.jobs[station], self.journal, past.job)
                        await self.lookup.of_left([past])  # what it had before is asked as it is filled in anew
                        self.move(past, one)


async def recall(jobs: StationJobs, journal: Journal, *names: str | None) -> None:
    """Let the weighings of jobs, by id, be counted up that only the journal knows."""
    for name in names:
        begun = jobs.lacks(name)
        if name is not None and begun is not None:
            jobs.recall(name, await journal.weighings(since=begun - EARLY))
