"""Captures: what the devices sent, recorded by `CaptureWriter`; `read` reads them again.

A capture is JSON Lines, one record a line behind a header (DEVELOPERS.md, "Record and replay").  The daemon writes a
ring of gzip parts.  The parts of one run share the header's `started` and count their `t` from it, so that they can be
read as one; each can also be read alone, because its header carries what a station remembers (`stations`) and how the
links stood (`links`) where it begins.

Recording serves weighing and never hinders it.  Records are kept in memory and written every few seconds by a thread,
without fsync: a power cut costs some seconds of capture, and the card is spared.  A disk in trouble is said once.
"""

import asyncio
import contextlib
import gzip
import json
from collections.abc import Callable, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import IO, Any

from neckyoke.bridge.capture.format import Asked, Bytes, Header, LinkChange, Record, spell_header, spell_record
from neckyoke.bridge.capture.read import ring_parts
from neckyoke.bridge.links.wires.offloop import off_loop

FLUSH_S = 5.0
SOON_BYTES = 1_000_000
"""Pending data that is written before its time, so that parts do not overshoot."""
PENDING_BYTES = 8_000_000
"""Pending data at which a disk is too slow: what comes then is dropped and counted."""
RETRY_S = 60.0


class _Ring:
    """The parts on disk.  Everything here blocks, and is called from one thread at a time."""

    def __init__(self, folder: Path, parts: int) -> None:
        self._folder = folder
        self._parts = parts
        self._raw: IO[bytes] | None = None
        self._zip: gzip.GzipFile | None = None

    def write(self, header: Header, lines: list[Mapping[str, Any]], *, end: bool) -> int:
        """Write lines, in a new part if none is open, so that a reader finds them whole after a crash.

        Gives the size of the part, 0 when it was ended.  After an OSError no part is open.
        """
        try:
            if self._zip is None or self._raw is None:
                self._begin(header)
                lines = [spell_header(header), *lines]
            assert self._zip is not None
            assert self._raw is not None
            text = "".join(json.dumps(line, separators=(",", ":")) + "\n" for line in lines)
            self._zip.write(text.encode("ascii"))
            self._zip.flush()
            self._raw.flush()
            size = self._raw.tell()
            if end:
                self.end()
        except OSError:
            with contextlib.suppress(OSError):
                self.end()
            raise
        return 0 if end else size

    def _begin(self, header: Header) -> None:
        self._folder.mkdir(parents=True, exist_ok=True)
        old = ring_parts(self._folder)
        for path in old[: max(0, len(old) - self._parts + 1)]:
            path.unlink(missing_ok=True)
        number = int(old[-1].name[8:14]) + 1 if old else 1
        path = self._folder / f"capture-{number:06}-{header.started:%Y%m%dT%H%M%SZ}.jsonl.gz"
        self._raw = path.open("xb")
        self._zip = gzip.GzipFile(filename="", fileobj=self._raw, mode="wb", compresslevel=5, mtime=0)

    def end(self) -> None:
        """End the part properly."""
        zipped, self._zip = self._zip, None
        raw, self._raw = self._raw, None
        try:
            if zipped is not None:
                zipped.close()
        finally:
            if raw is not None:
                raw.close()


class CaptureWriter:
    """Records into a ring in `folder`: at most `parts` files of about `part_bytes` each.

    `memory` gives what each station remembers and `herd` the herd book's digest, for the header of the next part;
    `calm` tells whether a part may end now (no animal on the platform), which is asked until the part is twice its
    size.  `on_trouble(text)` is told once when the disk refuses, and once, with None, when it takes again; nothing is
    raised.

    `t` is monotonic seconds since `started`.  It is written in microseconds: feed a station the same rounded time, and
    a replay repeats it exactly.
    """

    def __init__(
        self,
        folder: Path,
        *,
        site: str,
        started: datetime,
        part_bytes: float = 5e6,
        parts: int = 20,
        memory: Callable[[], Mapping[str, Mapping[str, Any]]] = dict,
        herd: Callable[[], str | None] = lambda: None,
        calm: Callable[[], bool] = lambda: True,
        on_trouble: Callable[[str | None], None] = lambda _: None,
    ) -> None:
        self.records = 0
        self.dropped = 0
        self._ring = _Ring(folder, parts)
        self._site = site
        self._started = started.astimezone(UTC)
        self._part_bytes = part_bytes
        self._memory = memory
        self._herd = herd
        self._calm = calm
        self._on_trouble = on_trouble
        self._pending: list[Record] = []
        self._pending_bytes = 0
        self._gap = 0
        self._states: dict[str, str] = {}
        self._header = self._header_now()
        self._size = 0
        self._trouble_t: float | None = None
        self._soon = asyncio.Event()
        self._writing = asyncio.Lock()

    def data(self, t: float, link: str, data: bytes) -> None:
        """Record bytes of a link."""
        self._keep(Bytes(t, link, data), len(data))

    def link(self, t: float, link: str, state: str) -> None:
        """Record a link's state."""
        self._states[link] = state
        self._keep(LinkChange(t, link, state), 0)

    def request(self, t: float, request: dict[str, Any]) -> None:
        """Record a request."""
        self._keep(Asked(t, request), 0)

    def _keep(self, record: Record, size: int) -> None:
        if self._pending_bytes > PENDING_BYTES:
            self._gap += 1
            self.dropped += 1
            return
        self._pending.append(record)
        self._pending_bytes += size + 64
        self.records += 1
        if self._pending_bytes > SOON_BYTES:
            self._soon.set()

    async def run(self) -> None:
        """Write every few seconds until cancelled; then write what is left and end the part."""
        try:
            while True:
                with contextlib.suppress(TimeoutError):
                    async with asyncio.timeout(FLUSH_S):
                        await self._soon.wait()
                await asyncio.shield(self.flush())  # cancelled meanwhile, the last one waits for this one
        finally:
            await self.flush(end=True)

    async def flush(self, *, end: bool = False) -> None:
        """Write what is pending; `end` ends the part."""
        async with self._writing:
            self._soon.clear()
            records, self._pending, self._pending_bytes = self._pending, [], 0
            gap, self._gap = self._gap, 0
            end = end or (self._size >= self._part_bytes and (self._calm() or self._size >= 2 * self._part_bytes))
            header, after = self._header, self._header_now()
            if not records and not (end and self._size):
                return
            if self._trouble_t is not None and records and records[-1].t < self._trouble_t + RETRY_S and not end:
                self.dropped += len(records)
                self._header = after
                return
            try:
                self._size = await off_loop(lambda: self._write(header, records, gap, end=end))
            except OSError as error:
                self._size = 0
                self._header = after
                self.dropped += len(records)
                self._refused(records, error)
                return
            if self._size == 0:
                self._header = after
            self._accepted()

    def _write(self, header: Header, records: list[Record], gap: int, *, end: bool) -> int:
        lines: list[Mapping[str, Any]] = [spell_record(record) for record in records]
        if gap:
            lines.append({"t": lines[-1]["t"], "gap": gap})
        return self._ring.write(header, lines, end=end)

    def _header_now(self) -> Header:
        return Header(self._started, self._site, dict(self._memory()), dict(self._states), self._herd())

    def _refused(self, records: list[Record], error: OSError) -> None:
        first = self._trouble_t is None
        self._trouble_t = records[-1].t if records else 0.0
        if first:
            self._on_trouble(f"no capture is recorded: {error.strerror or error}. Weighing goes on")

    def _accepted(self) -> None:
        if self._trouble_t is not None:
            self._trouble_t = None
            self._on_trouble(None)
