"""What a row of the journal must be to be believed, and what its columns say.

SQLite checks the shape of its pages and not what is in them: a bit that flips on a card is seen by nobody.  So every
row carries the CRC-32 of its text, and every event its own sequence; one that does not agree with itself is given to
nobody.  Rows from before the sums were kept have none, and are believed where they are JSON that agrees with its row.
"""

import json
import zlib
from collections.abc import Iterable
from typing import Any, NamedTuple

NO_COLUMNS = (None, None, None, None)


class Found(NamedTuple):
    """An event row as read from somewhere: `at` its wall clock in milliseconds, `total` its sum, None where unknown."""

    seq: int
    at: int | None
    body: str
    total: str | None


def total_of(*texts: str) -> str:
    """Return the sum of some text: CRC-32 (the one of ISO 3309 and of zlib), eight hexadecimal digits.

    Text that was read with bytes that are no UTF-8 stands for those bytes.
    """
    return f"{zlib.crc32(chr(31).join(texts).encode('utf-8', 'surrogateescape')):08x}"


def is_sound(seq: int, body: str, total: str | None) -> bool:
    """Return whether an event row is as it was written."""
    if total is None:
        table = table_of(body)
        return table is not None and table.get("sequence") == f"{seq:010d}"
    return total == total_of(body) and f'"sequence":"{seq:010d}"' in body


def table_of(body: str) -> dict[str, Any] | None:
    """Return an event's table, None when it is none of ours or has no characters that UTF-8 can spell."""
    try:
        body.encode()
        table = json.loads(body)
        return table if {"type", "source", "data", "sequence"} <= table.keys() else None
    except (ValueError, AttributeError, RecursionError):
        return None


def columns_of(body: str) -> tuple[str, tuple[Any, ...]]:
    """Return an event's type, and weighing, revision, tag and beginning where it is a weighing: its row's columns."""
    table = json.loads(body)
    data = table["data"]
    if not table["type"].endswith(".weighing"):
        return table["type"], NO_COLUMNS
    return table["type"], (data["weighing"], data["revision"], table.get("subject"), data["on"])


def runs(numbers: Iterable[int]) -> list[tuple[int, int]]:
    """Return first and last of each run of numbers that follow each other; they come in order."""
    found: list[tuple[int, int]] = []
    for number in numbers:
        if found and found[-1][1] == number - 1:
            found[-1] = (found[-1][0], number)
        else:
            found.append((number, number))
    return found


def spelled(numbers: Iterable[int]) -> str:
    """Spell numbers for people: "41 to 43, 57"; of very many runs the first few."""
    all_runs = runs(numbers)
    some = [f"{first} to {last}" if last > first else f"{first}" for first, last in all_runs[:8]]
    return ", ".join(some) + (" and more" if len(all_runs) > len(some) else "")
