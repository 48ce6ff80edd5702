"""The journal's rows, read from its pages without SQLite: for a file of which SQLite cannot make sense any more.

Every page is looked at by itself, whatever the header, the schema and the pages above it have become.  What makes this
safe is the sum that each row carries: what has a right sum was written as it stands, wherever it is found.

    record     header of types, then values; integers big-endian          SQLite, "Database File Format", 2.1
    leaf       of a table: rowid and record; of an index: record          1.6
    overflow   what does not fit into a page goes on in a chain of them   1.6
    log        frames of a page each behind 24 bytes; the last one counts 4.1

An event whose page is damaged is also found by its text alone: our JSON, and behind it the sum.  The page size is the
one that the journal is made with.
"""

import re
import struct
from collections.abc import Iterator
from pathlib import Path
from typing import Any, NamedTuple

from neckyoke.bridge.journal.rows import Found, is_sound, total_of

PAGE = 4096
LOG_HEADER, FRAME_HEADER = 32, 24
LEAF_TABLE, LEAF_INDEX, INNER_INDEX = 13, 10, 2
INTEGER_BYTES = {1: 1, 2: 2, 3: 3, 4: 4, 5: 6, 6: 8}
BODY_MAX = 64 * 1024 * 1024
BEGINS = re.compile(rb'\{"specversion":')
ENDS = re.compile(rb"\}([0-9a-f]{8})")
SEQUENCE = re.compile(rb'"sequence":"(\d{10,18})"')
KEPT_COLUMNS, OLD_KEPT_COLUMNS = 4, 3
EVENT_COLUMNS, OLD_EVENT_COLUMNS = 9, 8


class Kept(NamedTuple):
    """A row of what is remembered by kind and name."""

    kind: str
    name: str
    body: str


class Pages:
    """The pages of a database file and of its write-ahead log (given as bytes, since opening the file changes it)."""

    def __init__(self, path: Path, log: bytes) -> None:
        self._path = path
        self._frames = list(_frames(log))
        self._newest = {number: image for number, image in self._frames if number}
        self._count = -(-path.stat().st_size // PAGE) if path.exists() else 0

    def events(self) -> Iterator[Found]:
        """Yield every event that can be read, also more than once; the newest page images first."""
        with self._path.open("rb") as file:
            self._file = file
            for _, image in reversed(self._frames):
                yield from self._events_of(image)
            for number in range(1, self._count + 1):
                yield from self._events_of(self._at(number))

    def kept(self) -> Iterator[Kept]:
        """Yield what is remembered, as the newest image of each page has it."""
        with self._path.open("rb") as file:
            self._file = file
            for number in sorted({*range(1, self._count + 1), *self._newest}):
                for _, record in self._records(self._newest.get(number) or self._at(number)):
                    if len(record) not in {KEPT_COLUMNS, OLD_KEPT_COLUMNS}:
                        continue
                    texts = [_text(value) for value in record[:3]]
                    total = record[3:] and record[3] is not None and _text(record[3])
                    if None not in texts and (not total or total == total_of(*map(str, texts))):
                        yield Kept(*map(str, texts))

    def _at(self, number: int) -> bytes:
        self._file.seek((number - 1) * PAGE)
        return self._file.read(PAGE)

    def _events_of(self, image: bytes) -> Iterator[Found]:
        seen = set()
        for rowid, record in self._records(image):
            if len(record) not in {EVENT_COLUMNS, OLD_EVENT_COLUMNS} or rowid is None:
                continue
            body, total = _text(record[7]), _text(record[8]) if record[8:] and record[8] is not None else None
            if body is not None and is_sound(rowid, body, total):
                seen.add(rowid)
                yield Found(rowid, record[2] if isinstance(record[2], int) else None, body, total)
        yield from (found for found in _loose(image) if found.seq not in seen)

    def _records(self, image: bytes) -> Iterator[tuple[int | None, list[Any]]]:
        """Yield each record of a page with its rowid; None where the page is an index's."""
        start = 100 if image.startswith(b"SQLite format 3\0") else 0
        kind = image[start] if len(image) == PAGE else 0
        if kind not in {LEAF_TABLE, LEAF_INDEX, INNER_INDEX}:
            return
        (count,) = struct.unpack_from(">H", image, start + 3)
        place = start + (12 if kind == INNER_INDEX else 8)
        for at in range(place, min(place + 2 * count, PAGE - 1), 2):
            (cell,) = struct.unpack_from(">H", image, at)
            try:
                yield self._record(image, cell + (4 if kind == INNER_INDEX else 0), kind)
            except (IndexError, struct.error, ValueError):
                continue  # no cell: its page is damaged here

    def _record(self, image: bytes, at: int, kind: int) -> tuple[int | None, list[Any]]:
        size, at = _varint(image, at)
        rowid: int | None = None
        if kind == LEAF_TABLE:
            rowid, at = _varint(image, at)
        most = PAGE - 35 if kind == LEAF_TABLE else (PAGE - 12) * 64 // 255 - 23
        if not 0 < size <= BODY_MAX:
            raise ValueError(size)
        if size <= most:
            payload = image[at : at + size]
        else:
            least = (PAGE - 12) * 32 // 255 - 23
            here = least + (size - least) % (PAGE - 4)
            here = here if here <= most else least
            payload = image[at : at + here] + self._chain(struct.unpack_from(">I", image, at + here)[0], size - here)
        if len(payload) != size:
            raise ValueError(size)
        return rowid, _values(payload)

    def _chain(self, number: int, size: int) -> bytes:
        """Return what goes on in a chain of pages."""
        found = b""
        while len(found) < size and number:
            image = self._newest.get(number) or self._at(number)
            (number,) = struct.unpack_from(">I", image)
            found += image[4:]
        return found[:size]


def _frames(log: bytes) -> Iterator[tuple[int, bytes]]:
    """Yield page number and image of each frame of the log's present generation, in order."""
    salt = log[16:24]
    heads = [log[at + 8 : at + 16] for at in range(LOG_HEADER, len(log) - FRAME_HEADER, FRAME_HEADER + PAGE)]
    if salt not in heads and heads:
        salt = heads[0]  # the log's own header is damaged
    for index, head in enumerate(heads):
        at = LOG_HEADER + index * (FRAME_HEADER + PAGE)
        image = log[at + FRAME_HEADER : at + FRAME_HEADER + PAGE]
        if head == salt:
            yield struct.unpack_from(">I", log, at)[0], image
        else:
            yield 0, image  # of another generation, or damaged: its events are told by their sums


def _loose(image: bytes) -> Iterator[Found]:
    """Yield events found by their text alone."""
    for begin in BEGINS.finditer(image):
        for end in ENDS.finditer(image, begin.end()):
            body = image[begin.start() : end.start() + 1]
            if (sequence := SEQUENCE.search(body)) is None:
                continue
            text, total, seq = body.decode("utf-8", "surrogateescape"), end[1].decode(), int(sequence[1])
            if is_sound(seq, text, total):
                yield Found(seq, None, text, total)
                break


def _varint(data: bytes, at: int) -> tuple[int, int]:
    """Read SQLite's variable-length integer: it and the place behind it."""
    value = 0
    for index in range(8):
        byte = data[at + index]
        value = value << 7 | byte & 0x7F
        if byte < 0x80:
            return value, at + index + 1
    return value << 8 | data[at + 8], at + 9


def _values(payload: bytes) -> list[Any]:
    end, at = _varint(payload, 0)
    kinds = []
    while at < end:
        kind, at = _varint(payload, at)
        kinds.append(kind)
    values: list[Any] = []
    for kind in kinds:
        if kind in {0, 8, 9}:
            values.append({0: None, 8: 0, 9: 1}[kind])
            continue
        size = INTEGER_BYTES.get(kind, (kind - 12) // 2 if kind >= 12 else 8)
        piece = payload[at : at + size]
        if len(piece) != size:
            raise ValueError(kind)
        values.append(int.from_bytes(piece, "big", signed=True) if kind <= 6 else piece)
        at += size
    return values


def _text(value: Any) -> str | None:
    return value.decode("utf-8", "surrogateescape") if isinstance(value, bytes) else None
