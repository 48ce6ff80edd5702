"""Far sides that are other people's servers: PostgreSQL and InfluxDB, by Debian's packages."""

import atexit
import contextlib
import json
import os
import pwd
import shutil
import subprocess
import tempfile
from collections.abc import Iterator
from functools import cache
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import urlencode
from urllib.request import urlopen

import pytest

from tests.support.broker import free_port, wait_until
from tests.support.far_side import FarSide, again_and_again

if TYPE_CHECKING:
    import psycopg


def _initdb(programs: Path, data: Path, password: str, *run_as: str) -> None:
    secret = data / "secret"
    secret.write_text(password)
    secret.chmod(0o644)
    made: list[str | Path] = [
        programs / "initdb",
        "-D",
        data / "db",
        "-U",
        "farm",
        f"--pwfile={secret}",
        "-A",
        "scram-sha-256",
    ]
    subprocess.run([*run_as, *made, "--wal-segsize=1"], check=True, capture_output=True, cwd="/")


@cache
def _cluster(programs: Path, password: str, *run_as: str) -> Path:
    """Make a cluster to take copies of."""
    data = Path(tempfile.mkdtemp(prefix="neckyoke-pg-"))
    atexit.register(shutil.rmtree, data, ignore_errors=True)
    if run_as:
        shutil.chown(data, "postgres", "postgres")
    _initdb(programs, data, password, *run_as)
    return data


class Postgres(FarSide):
    """A cluster of its own, by Debian's package."""

    kind = "postgresql"
    refusals = ("read-only",)  # as a standby is, or one that was set so

    def __init__(self, folder: Path) -> None:
        super().__init__(folder)
        bins = sorted(Path("/usr/lib/postgresql").glob("*/bin"))
        if not bins:
            pytest.fail("PostgreSQL is needed: apt-get install postgresql (Debian's package)")
        self._bin = bins[-1]
        self._data = self.place()
        self._as: list[str] = []
        if os.geteuid() == 0:  # it will not run as root
            user = pwd.getpwnam("postgres")
            os.chown(self._data, user.pw_uid, user.pw_gid)
            self._as = ["setpriv", f"--reuid={user.pw_uid}", f"--regid={user.pw_gid}", "--clear-groups"]
        self.make(self._data)
        (self.folder / "secret").write_text(self.password)

    def place(self) -> Path:
        """Make the folder of its data."""
        return Path(tempfile.mkdtemp(prefix="neckyoke-pg-"))

    def make(self, data: Path) -> None:
        """Make the cluster: a copy of the first one of this run, for making one takes seconds."""
        first = _cluster(self._bin, self.password, *self._as)
        subprocess.run(["cp", "-a", f"{first}/.", data], check=True)

    def command(self) -> list[str]:
        settings = [
            "-c",
            "fsync=off",
            "-c",
            "listen_addresses=127.0.0.1",
            "-c",
            "unix_socket_directories=",  # a path of one may be too long for it, and nobody asks there
        ]
        if self.certificate:
            for name, path in zip(("crt", "key"), self.certificate, strict=True):
                shutil.copy(path, self._data / f"server.{name}")
                if self._as:
                    shutil.chown(self._data / f"server.{name}", "postgres", "postgres")
                (self._data / f"server.{name}").chmod(0o600)
            files = ("-c", f"ssl_cert_file={self._data}/server.crt", "-c", f"ssl_key_file={self._data}/server.key")
            settings += ["-c", "ssl=on", *files]
        return [*self._as, str(self._bin / "postgres"), "-D", str(self._data / "db"), "-p", str(self.port), *settings]

    def start(self) -> "FarSide":
        (self._data / "db" / "postmaster.pid").unlink(missing_ok=True)
        super().start()
        wait_until(self._answers, "PostgreSQL answers")
        return self

    def _listens(self) -> bool:
        """It gives up while a session of the one that was killed still ends: again, as systemd would."""
        assert self.process is not None
        if self.process.poll() is not None:
            self._run()
        return super()._listens()

    def _answers(self) -> bool:
        import psycopg

        try:
            self.rows("select 1")
        except psycopg.OperationalError:
            return False
        return True

    @property
    def table(self) -> dict[str, Any]:
        secret = str(self.folder / "secret")
        return {"sql": f"postgresql://farm@127.0.0.1:{self.port}/postgres", "password_file": secret}

    def lock(self) -> None:
        """It always asks for it."""

    def refuse(self, how: str) -> None:
        """Set it so."""
        self._set("default_transaction_read_only = on" if how == "read-only" else how)

    def allow(self) -> None:
        self._set("default_transaction_read_only = off")

    def _set(self, setting: str) -> None:
        with self.connection() as connection:
            connection.autocommit = True
            connection.execute(f"alter system set {setting}".encode())
            connection.execute("select pg_reload_conf()")

    @contextlib.contextmanager
    def slow(self) -> Iterator[None]:
        """Let another session hold the table again and again."""

        @contextlib.contextmanager
        def held() -> Iterator[None]:
            with self.connection() as other:
                other.execute("lock table weighing in exclusive mode")
                yield

        with again_and_again(held):
            yield

    def connection(self) -> "psycopg.Connection[Any]":
        import psycopg

        where = f"host=127.0.0.1 port={self.port} user=farm dbname=postgres connect_timeout=5"
        return psycopg.connect(where, password=self.password)

    def rows(self, sql: str) -> list[Any]:
        with self.connection() as connection:
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


class PostgresOnItsDisk(Postgres):
    """One that has all on the disk of its folder, its write-ahead log too."""

    disk_mb = 64

    def place(self) -> Path:
        """Make the folder of its data."""
        made = self.folder / "cluster"
        made.mkdir(mode=0o700)
        return made

    def make(self, data: Path) -> None:
        """Make it where it lies."""
        _initdb(self._bin, data, self.password, *self._as)


class Influx(FarSide):
    """InfluxDB 1, by Debian's package."""

    kind = "influx"
    disk_mb = 64
    refusals = ("no-database",)

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

    def refuse(self, how: str) -> None:
        """Take its database away; `how` there is but one."""
        assert how == "no-database"
        self.ask("drop database farm")

    def allow(self) -> None:
        self.ask("create database farm")

    def put_right(self) -> None:
        """Restart it: once it could not write to its log, it never can (Go's bufio.Writer keeps its first error)."""
        self.kill()
        self.start()

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
