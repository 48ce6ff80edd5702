"""Real far sides for outlets, one of every kind: recorders of our own here, others' servers in far_servers.py."""

import contextlib
import json
import os
import sqlite3
import sys
import time
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Any

import pytest

from tests.support.far_servers import Influx, Postgres, PostgresOnItsDisk
from tests.support.far_side import STOPPED_S, FarSide, again_and_again


def taken_of(path: Path) -> list[tuple[int, int]]:
    """Return (number, revision) of the weighings in a file of events."""
    lines = path.read_text().splitlines() if path.exists() else []
    return [(one["data"]["number"], one["data"]["revision"]) for one in map(json.loads, lines)]


class Web(FarSide):
    """The recorder by HTTP."""

    kind, mode = "http", "structured"
    secret_key = "token_file"
    refusals = ("401", "404", "500", "503", "507")  # 507: its disk is full (RFC 4918)

    def command(self) -> list[str]:
        return [
            *(sys.executable, "-m", "tests.support.web_recorder", str(self.port), str(self.folder)),
            *map(str, self.certificate),
        ]

    @property
    def table(self) -> dict[str, Any]:
        scheme = "https" if self.certificate else "http"
        return {"http": f"{scheme}://127.0.0.1:{self.port}/events", "events": self.mode}

    def taken(self) -> list[dict[str, Any]]:
        path = self.folder / "taken.jsonl"
        return [json.loads(line) for line in path.read_text().splitlines()] if path.exists() else []

    def held(self) -> list[tuple[int, int]]:
        return taken_of(self.folder / "taken.jsonl")


class WebBinary(Web):
    mode = "binary"


class WebBatch(Web):
    mode = "batch"


class Line(Web):
    """The recorder by HTTP in InfluxDB's place: for what the server itself cannot be told to do."""

    kind = "influx"

    @property
    def table(self) -> dict[str, Any]:
        scheme = "https" if self.certificate else "http"
        return {"influx": f"{scheme}://127.0.0.1:{self.port}/write?db=farm"}


class Mqtt(FarSide):
    """A broker that writes down what it is given before it says so."""

    kind = "mqtt"
    refusals = ("135", "151")  # not authorised; quota exceeded, as with a full disk (MQTT 5, 3.4.2.1)

    def command(self) -> list[str]:
        program = (sys.executable, "-m", "tests.support.mqtt_recorder", str(self.port), str(self.folder))
        return [*program, *map(str, self.certificate)]

    @property
    def table(self) -> dict[str, Any]:
        return {"mqtt": f"{'mqtts' if self.certificate else 'mqtt'}://127.0.0.1:{self.port}"}

    def held(self) -> list[tuple[int, int]]:
        return taken_of(self.folder / "taken.jsonl")


class Plugged(FarSide):
    """A file on a disk that is plugged in; nobody to kill on the far side."""

    refusals = ("folder",)  # in the file's place
    file = ""

    def refuse(self, how: str) -> None:
        (self.folder / self.file).mkdir()
        self.set("why", how)

    def allow(self) -> None:
        (self.folder / self.file).rmdir()


class EventsFile(Plugged):
    """A file of events."""

    kind, file = "file", "events.jsonl"

    @property
    def table(self) -> dict[str, Any]:
        return {"file": str(self.folder / "events.jsonl")}

    def go_away(self) -> None:
        self.folder.rename(self.folder.with_name("unplugged"))

    def come_back(self) -> None:
        self.folder.with_name("unplugged").rename(self.folder)

    @contextlib.contextmanager
    def slow(self) -> Iterator[None]:
        """Let each sync take its time."""
        sync = os.fdatasync

        def slowly(fd: int) -> None:
            time.sleep(STOPPED_S)
            sync(fd)

        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(os, "fdatasync", slowly)
            yield

    def held(self) -> list[tuple[int, int]]:
        return taken_of(self.folder / "events.jsonl")


class Sqlite(Plugged):
    """A database file."""

    kind, file = "sqlite", "farm.db"

    def go_away(self) -> None:
        """Leave an empty folder behind, as a disk does that is let go of."""
        self.folder.rename(self.folder.with_name("unplugged"))
        self.folder.mkdir()

    def come_back(self) -> None:
        self.folder.rmdir()  # nothing was written where the disk was not
        self.folder.with_name("unplugged").rename(self.folder)

    @property
    def table(self) -> dict[str, Any]:
        return {"sql": f"sqlite:{self.folder / 'farm.db'}"}

    def rows(self, sql: str) -> list[Any]:
        with sqlite3.connect(self.folder / "farm.db") as connection:
            found = connection.execute(sql).fetchall()
        connection.close()
        return found

    @contextlib.contextmanager
    def slow(self) -> Iterator[None]:
        """Let another program hold the file again and again."""

        @contextlib.contextmanager
        def held() -> Iterator[None]:
            with contextlib.closing(sqlite3.connect(self.folder / "farm.db", timeout=30.0)) as other:
                other.execute("begin immediate")
                yield

        with again_and_again(held):
            yield

    def held(self) -> list[tuple[int, int]]:
        if not (self.folder / "farm.db").exists():
            return []
        return [
            (number, revision)
            for number, revision in self.rows("select number, revision from weighing order by number")
        ]


KINDS: Sequence[type[FarSide]] = (EventsFile, Mqtt, Web, WebBinary, WebBatch, Sqlite, Postgres, Influx)
FILLED: Sequence[type[FarSide]] = (EventsFile, Sqlite, PostgresOnItsDisk, Influx)
"""Those whose disk can be filled: all that they have lies in their folder."""
