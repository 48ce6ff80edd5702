"""Write the capture file: one JSON object a line, gzip when the name ends in `.gz`.

The first line says what follows; every other has `t`, seconds since `started`, and the bytes of one link as Latin-1
text.  An item without bytes is a link that hung up (`"state":"lost"`) or, when it had, came back (`"state":"up"`).
"""

import gzip
import io
import json
from collections import deque
from collections.abc import Iterable, Iterator
from datetime import UTC, datetime
from operator import itemgetter
from pathlib import Path
from typing import TypeAlias

Item: TypeAlias = tuple[float, str, bytes]
"""Seconds, link, bytes.  Empty bytes: the link hung up, as when a read gives nothing; or came back, when it had."""
Asked: TypeAlias = tuple[float, dict[str, object]]
"""Seconds, and what a person at the crush asked then."""

STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)
"""When a simulated day begins, unless told otherwise."""


def capture_lines(
    items: Iterable[Item], site: str = "larkmoor", started: datetime | None = None, asked: Iterable[Asked] = ()
) -> Iterator[str]:
    """Yield the lines of a capture."""
    stamp = (started or STARTED).astimezone(UTC).isoformat(timespec="milliseconds").replace("+00:00", "Z")
    yield _line({"capture": 1, "started": stamp, "site": site})
    lost: set[str] = set()
    waiting = deque(sorted(asked, key=itemgetter(0)))
    for t, link, data in items:
        t_s = round(t, 6)
        while waiting and waiting[0][0] <= t:
            yield _line({"t": t_s, "request": waiting.popleft()[1]})
        if data:
            yield _line({"t": t_s, "link": link, "data": data.decode("latin-1")})
            continue
        lost ^= {link}
        yield _line({"t": t_s, "link": link, "state": "lost" if link in lost else "up"})


def _line(record: dict[str, object]) -> str:
    return json.dumps(record, separators=(",", ":")) + "\n"


def write_capture(
    path: Path,
    items: Iterable[Item],
    site: str = "larkmoor",
    started: datetime | None = None,
    asked: Iterable[Asked] = (),
) -> None:
    """Write a capture; the same items give the same bytes, compressed too."""
    lines = capture_lines(items, site, started, asked)
    if path.suffix != ".gz":
        with path.open("w", encoding="ascii") as plain:
            plain.writelines(lines)
        return
    with (
        path.open("wb") as raw,
        gzip.GzipFile("", "wb", fileobj=raw, mtime=0) as packed,
        io.TextIOWrapper(packed, encoding="ascii") as text,
    ):
        text.writelines(lines)
