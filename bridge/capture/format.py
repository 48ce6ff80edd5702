"""What a capture's lines say: a header, then records (DEVELOPERS.md, "Record and replay").

`t` is monotonic seconds since the header's `started`; the bytes stand as latin-1 text, so that nothing is lost and a
person can read them.
"""

import math
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, TypeAlias

from pydantic import TypeAdapter, ValidationError

from neckyoke.bridge.events import spell_time
from neckyoke.bridge.station.settings import Memory

VERSION = 1
_MEMORY = TypeAdapter(Memory)


@dataclass(frozen=True, slots=True)
class Header:
    """The first line of a capture: when it began, where, and what was remembered at that point.

    `herd` is the digest of the herd book as it was then, None in captures of before it was noted.
    """

    started: datetime
    site: str
    stations: Mapping[str, Mapping[str, Any]] = field(default_factory=dict)
    links: Mapping[str, str] = field(default_factory=dict)
    herd: str | None = None


@dataclass(frozen=True, slots=True)
class Bytes:
    """A link delivered bytes."""

    t: float
    link: str
    data: bytes


@dataclass(frozen=True, slots=True)
class LinkChange:
    """A link came up, was lost, is missing or fell silent."""

    t: float
    link: str
    state: str


@dataclass(frozen=True, slots=True)
class Asked:
    """Somebody asked for something."""

    t: float
    request: dict[str, Any]


Record: TypeAlias = Bytes | LinkChange | Asked


class CaptureError(ValueError):
    """A file that is no capture; the text says why."""


def spell_record(record: Record) -> dict[str, Any]:
    """Turn a record into what its line says; `t` has microseconds."""
    t = round(record.t, 6)
    match record:
        case Bytes():
            return {"t": t, "link": record.link, "data": record.data.decode("latin-1")}
        case LinkChange():
            return {"t": t, "link": record.link, "state": record.state}
        case Asked():
            return {"t": t, "request": record.request}


def read_record(line: dict[str, Any]) -> Record:
    """Turn what a line says into a record.  Raises KeyError, TypeError or ValueError when it is none."""
    t = float(line["t"])
    if not math.isfinite(t):
        raise ValueError("t is no time")
    if "request" in line:
        return Asked(t, dict(line["request"]))
    link = str(line["link"])
    if "state" in line:
        return LinkChange(t, link, str(line["state"]))
    return Bytes(t, link, line["data"].encode("latin-1"))


def read_memory(kept: Mapping[str, Any]) -> Memory:
    """Read what a header says a station remembered; keys of another version are passed over.

    Raises CaptureError when a value is none of its kind.
    """
    try:
        return _MEMORY.validate_python(dict(kept))
    except ValidationError as error:
        key = ".".join(map(str, error.errors()[0]["loc"]))
        raise CaptureError(f"its header remembers a {key} that is none: {error.errors()[0]['msg']}") from None


def spell_header(header: Header) -> dict[str, Any]:
    """Turn a header into what its line says; what is empty is left out."""
    line: dict[str, Any] = {"capture": VERSION, "started": spell_time(header.started), "site": header.site}
    if header.stations:
        line["stations"] = header.stations
    if header.links:
        line["links"] = header.links
    if header.herd is not None:
        line["herd"] = header.herd
    return line


def read_header(line: dict[str, Any]) -> Header:
    """Turn what a line says into a header.  Raises CaptureError when it is none."""
    if "capture" not in line:
        raise CaptureError('its first line is no capture header, like {"capture":1,"started":"…Z","site":"…"}')
    if line["capture"] != VERSION:
        raise CaptureError(f"it is a capture of version {line['capture']}; this program reads version {VERSION}")
    try:
        started = datetime.fromisoformat(line["started"])
        stations = {str(name): dict(memory) for name, memory in line.get("stations", {}).items()}
        links = {str(name): str(state) for name, state in line.get("links", {}).items()}
        moment = started if started.tzinfo else started.replace(tzinfo=UTC)
        herd = line.get("herd")
        return Header(moment, str(line["site"]), stations, links, None if herd is None else str(herd))
    except (AttributeError, KeyError, TypeError, ValueError) as error:
        raise CaptureError(f"its header is incomplete: {error}") from None
