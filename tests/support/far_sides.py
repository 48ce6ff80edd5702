"""Real far sides for outlets: a recorder by HTTP, PostgreSQL, a SQLite file, InfluxDB, each to be killed and frozen."""

import json
import os
import pwd
import shutil
import signal
import socket
import sqlite3
import subprocess
import sys
import tempfile
from abc import ABC, abstractmethod
from collections.abc import Sequence
from pathlib import Path
from typing import Any
from urllib.parse import urlencode
from urllib.request import urlopen

import psycopg
import pytest

from neckyoke.bridge.config.model import Config
from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.outlets.follower import Follower
from neckyoke.bridge.outlets.make import make_outlet
from neckyoke.bridge.telling.alerts import Say, unheard
from tests.support.broker import free_port, wait_until
from tests.support.status import status_of

ROOT = Path(__file__).parents[2]
HELD = "select number, revision from weighing order by number"


def follower(table: OutletTable, folder: Path, journal: Journal, say: Say = unheard) -> Follower:
    """Make the outlet `far` as the daemon makes it."""
    config = Config(site="larkmoor", links={}, stations={}, outlets={"far": table}, folder=folder)

    async def ask(*_: Any, **__: Any) -> dict[str, Any]:
        return {}

    made = make_outlet("far", table, config, journal, say=say, ask=ask, status=status_of)
    assert isinstance(made, Follower)
    return made


class FarSide(ABC):
    """One far side in a folder.  `held` gives (weighing's number, revision) of what it holds."""

    kind = ""

    def __init__(self, folder: Path) -> None:
        self.folder = folder / "far"
        self.folder.mkdir()
        self.port = free_port()
        self.process: subprocess.Popen[bytes] | None = None

    @property
    @abstractmethod
    def table(self) -> dict[str, Any]:
        """The outlet's table in the configuration."""

    def command(self) -> list[str]:
        return []

    def start(self) -> "FarSide":
        if command := self.command():
            log = (self.folder / "log").open("ab")
            self.process = subprocess.Popen(command, cwd=ROOT, stdout=log, stderr=log, start_new_session=True)
            log.close()
            wait_until(self._listens, f"{self.kind} listens", 60.0)
        return self

    def _listens(self) -> bool:
        with socket.socket() as probe:
            return probe.connect_ex(("127.0.0.1", self.port)) == 0

    def send(self, number: int) -> None:
        if self.process is not None:
            os.killpg(self.process.pid, number)

    def kill(self) -> None:
        if self.process is not None:
            self.send(signal.SIGKILL)
            self.process.wait(10)
            self.process = None

    def close(self) -> None:
        self.send(signal.SIGCONT)
        self.kill()

    @abstractmethod
    def held(self) -> list[tuple[int, int]]:
        """Return (number, revision) of all that it holds: as they came, or by number from a table."""


class Web(FarSide):
    """The recorder by HTTP."""

    kind, mode = "http", "structured"
    certificate: tuple[str, ...] = ()

    def command(self) -> list[str]:
        return [
            *(sys.executable, "-m", "tests.support.web_recorder", str(self.port), str(self.folder)),
            *self.certificate,
        ]

    @property
    def table(self) -> dict[str, Any]:
        scheme = "https" if self.certificate else "http"
        return {"http": f"{scheme}://127.0.0.1:{self.port}/events", "events": self.mode}

    def set(self, name: str, value: str) -> None:
        (self.folder / name).write_text(value)

    def taken(self) -> list[dict[str, Any]]:
        path = self.folder / "taken.jsonl"
        return [json.loads(line) for line in path.read_text().splitlines()] if path.exists() else []

    def held(self) -> list[tuple[int, int]]:
        return [(one["data"]["number"], one["data"]["revision"]) for one in self.taken()]


class WebBinary(Web):
    mode = "binary"


class WebBatch(Web):
    mode = "batch"


class Sqlite(FarSide):
    """A file; nobody to kill on the far side."""

    kind = "sqlite"

    @property
    def table(self) -> dict[str, Any]:
        return {"sql": f"sqlite:{self.folder / 'farm.db'}"}

    def rows(self, sql: str) -> list[Any]:
        with sqlite3.connect(self.folder / "farm.db") as connection:
            found = connection.execute(sql).fetchall()
        connection.close()
        return found

    def held(self) -> list[tuple[int, int]]:
        if not (self.folder / "farm.db").exists():
            return []
        return [
            (number, revision)
            for number, revision in self.rows("select number, revision from weighing order by number")
        ]


class Postgres(FarSide):
    """A cluster of its own, by Debian's package."""

    kind, password = "postgresql", "a secret of ours"

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        bins = sorted(Path("/usr/lib/postgresql").glob("*/bin"))
        if not bins:
            pytest.fail("PostgreSQL is needed: apt-get install postgresql (Debian's package)")
        self._bin = bins[-1]
        self._data = Path(tempfile.mkdtemp(prefix="neckyoke-pg-"))
        self._as: list[str] = []
        if os.geteuid() == 0:  # it will not run as root
            user = pwd.getpwnam("postgres")
            os.chown(self._data, user.pw_uid, user.pw_gid)
            self._as = ["setpriv", f"--reuid={user.pw_uid}", f"--regid={user.pw_gid}", "--clear-groups"]
        secret = self._data / "secret"
        secret.write_text(self.password)
        secret.chmod(0o644)
        made = [
            str(self._bin / "initdb"),
            "-D",
            str(self._data / "db"),
            "-U",
            "farm",
            f"--pwfile={secret}",
            "-A",
            "scram-sha-256",
        ]
        subprocess.run([*self._as, *made], check=True, capture_output=True, cwd="/")
        (self.folder / "secret").write_text(self.password)

    def command(self) -> list[str]:
        settings = [
            "-c",
            "fsync=off",
            "-c",
            "listen_addresses=127.0.0.1",
            "-c",
            f"unix_socket_directories={self._data}",
        ]
        return [*self._as, str(self._bin / "postgres"), "-D", str(self._data / "db"), "-p", str(self.port), *settings]

    def start(self) -> "FarSide":
        (self._data / "db" / "postmaster.pid").unlink(missing_ok=True)
        super().start()
        wait_until(self._answers, "PostgreSQL answers", 60.0)
        return self

    def _answers(self) -> bool:
        try:
            self.rows("select 1")
        except psycopg.OperationalError:
            return False
        return True

    @property
    def table(self) -> dict[str, Any]:
        secret = str(self.folder / "secret")
        return {"sql": f"postgresql://farm@127.0.0.1:{self.port}/postgres", "password_file": secret}

    def rows(self, sql: str) -> list[Any]:
        where = f"host=127.0.0.1 port={self.port} user=farm dbname=postgres connect_timeout=5"
        with psycopg.connect(where, password=self.password) as connection:
            return connection.execute(sql.encode()).fetchall()

    def held(self) -> list[tuple[int, int]]:
        if not self.rows("select to_regclass('weighing')")[0][0]:
            return []
        return [
            (number, revision)
            for number, revision in self.rows("select number, revision from weighing order by number")
        ]

    def close(self) -> None:
        super().close()
        shutil.rmtree(self._data, ignore_errors=True)


class Influx(FarSide):
    """InfluxDB 1, by Debian's package."""

    kind = "influx"

    def command(self) -> list[str]:
        program = shutil.which("influxd") or pytest.fail("InfluxDB is needed: apt-get install influxdb (Debian's)")
        config = self.folder / "influx.conf"
        config.write_text(
            f'reporting-disabled = true\nbind-address = "127.0.0.1:{free_port()}"\n'
            f'[meta]\ndir = "{self.folder}/meta"\n[data]\ndir = "{self.folder}/data"\nwal-dir = "{self.folder}/wal"\n'
            f'[http]\nbind-address = "127.0.0.1:{self.port}"\nlog-enabled = false\n'
        )
        return [program, "-config", str(config)]

    def start(self) -> "FarSide":
        super().start()
        self.ask("create database farm")
        return self

    def ask(self, query: str) -> Any:
        where = f"http://127.0.0.1:{self.port}/query?{urlencode({'db': 'farm', 'q': query})}"
        with urlopen(where, data=b"", timeout=20) as answer:
            return json.loads(answer.read())

    @property
    def table(self) -> dict[str, Any]:
        return {"influx": f"http://127.0.0.1:{self.port}/write?db=farm"}

    def held(self) -> list[tuple[int, int]]:
        found = self.ask('select "number", "revision" from neckyoke_weighing')["results"][0].get("series")
        return [(number, revision) for _, number, revision in found[0]["values"]] if found else []


KINDS: Sequence[type[FarSide]] = (Web, WebBinary, WebBatch, Sqlite, Postgres, Influx)
