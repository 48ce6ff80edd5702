"""A farm's database kept current: SQLite by a file, or PostgreSQL.  A batch of events is one transaction."""

import asyncio
import contextlib
import json
import sqlite3
import tempfile
from collections.abc import Sequence
from pathlib import Path
from typing import TYPE_CHECKING, Any
from urllib.parse import unquote, urlsplit

from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.outlets.database.tables import Statement, schema, statements
from neckyoke.bridge.outlets.follow import OutletError
from neckyoke.bridge.outlets.secure import certificate_fault, read_secret
from neckyoke.bridge.outlets.taker import FarSide, Row, Taken, all_of

if TYPE_CHECKING:
    import psycopg

BATCH = 200
CONNECT_S = 10
ANSWER_S = 60.0
"""A database that is silent for so long is taken for gone."""
REFUSALS = {
    "28P01": "does not let us in: check the user in sql, and password_file",
    "28000": "does not let us in: check the user in sql and the server's pg_hba.conf",
    "3D000": "has no such database; make it (createdb)",
    "42501": "lets this user not write: grant it create and usage on the schema",
    "25006": "can only be read: it is a standby, or was set so (default_transaction_read_only)",
    "53100": "has a full disk; make room on it",
}
"""What PostgreSQL says by code (its manual, appendix A), in words."""
PASSES = frozenset({"53100", "53200", "53300", "57P03"})
"""Refusals that end without us: a full disk or memory, too many connections, starting up."""
FAULTY_VALUE = "22"
"""Class of codes for a value that the database cannot hold."""


def of_batch(rows: Sequence[Row]) -> list[Statement]:
    """Return what a batch of events changes."""
    return [statement for _, body in rows for statement in statements(json.loads(body))]


class SqliteFile(FarSide):
    """A database file on this box, or on a disk that is plugged in.

    SQLite would write on into a file that was renamed or deleted, or whose disk is let go of, where nobody looks: so it
    is looked for before each batch.  Once anything was written, one that is gone is waited for and not made anew: an
    empty folder may be all that is left of a disk that was pulled out.
    """

    kind = "sql"
    batch = BATCH

    def __init__(self, path: Path) -> None:
        self._path, self.where = path, str(path)
        self._connection: sqlite3.Connection | None = None
        self._opened = (0, 0)

    async def take(self, rows: Sequence[Row]) -> Taken:
        """Write a batch."""
        try:
            await asyncio.to_thread(self._write, of_batch(rows))
        except FileNotFoundError as error:
            remedy = "plug its disk in; or make an empty file of that name, to begin a new one from now on"
            raise OutletError(f"{self._path} is not there; {remedy}") from error
        except (sqlite3.Error, OSError) as error:
            full = "full" in str(error)
            remedy = "make room on it" if full else "is its disk there, and may this user write it?"
            raise OutletError(f"{self._path} cannot be written: {error}; {remedy}") from error
        for sequence, _ in rows:
            yield sequence, ""

    async def try_out(self, body: str) -> None:
        """Give it a test event, of which it keeps nothing; where there is no file yet, none is made."""
        if self._path.exists():
            await all_of(self.take([(0, body)]))
            return
        try:
            with tempfile.TemporaryDirectory(dir=self._path.parent) as beside:
                trial = SqliteFile(Path(beside) / self._path.name)
                await all_of(trial.take([(0, body)]))
                await trial.close(stopped=True)
        except OSError as error:
            raise OutletError(f"{self._path} cannot be made: {error.strerror}; is its disk there?") from error

    def _write(self, changes: list[Statement]) -> None:
        if self._connection is not None and self._opened != _identity(self._path):
            self._connection.close()
            self._connection = None
        if self._connection is None:
            if self.begun:
                _identity(self._path)
            self._connection = self._open()
            self._opened = _identity(self._path)
        self._connection.execute("begin immediate")
        try:
            for sql, values in changes:
                self._connection.execute(sql, values)
            self._connection.execute("commit")
        except BaseException:
            with contextlib.suppress(sqlite3.Error):
                self._connection.execute("rollback")
            raise

    def _open(self) -> sqlite3.Connection:
        opened = sqlite3.connect(self._path, isolation_level=None, check_same_thread=False, timeout=10.0)
        try:
            opened.execute("pragma journal_mode = wal")
            opened.execute("pragma synchronous = full")
            for sql in schema():
                opened.execute(sql)
        except BaseException:
            opened.close()
            raise
        return opened

    async def close(self, *, stopped: bool) -> None:  # noqa: ARG002
        """Close the file."""
        if self._connection is not None:
            connection, self._connection = self._connection, None
            with contextlib.suppress(sqlite3.Error):
                await asyncio.to_thread(connection.close)


def _identity(path: Path) -> tuple[int, int]:
    """Return which file it is.  Raises OSError when it is not there."""
    found = path.stat()
    return found.st_dev, found.st_ino


class PostgreSql(FarSide):
    """A database on a server (extra `sql`)."""

    kind = "sql"
    batch = BATCH

    def __init__(self, table: OutletTable, folder: Path) -> None:
        assert table.sql is not None
        self._table, self._folder = table, folder
        parts = urlsplit(table.sql)
        self.where = f"postgresql://{parts.hostname}:{parts.port or 5432}{parts.path}"
        self._parts = parts
        self._connection: psycopg.AsyncConnection[Any] | None = None

    async def take(self, rows: Sequence[Row]) -> Taken:
        """Write a batch; what is at fault by itself is found in halves, and given back."""
        faulty = await self._write(rows)
        if not faulty or len(rows) == 1:
            for sequence, _ in rows:
                yield sequence, faulty
            return
        half = len(rows) // 2
        for part in (rows[:half], rows[half:]):
            async for one in self.take(part):
                yield one

    async def _write(self, rows: Sequence[Row]) -> str:
        """Write a batch in one transaction; return what is wrong with a value in it, if anything."""
        try:
            import psycopg
        except ImportError:  # without a libpq it says so too
            raise OutletError("sql by postgresql needs: pip install 'neckyoke[sql]', and libpq5", slow=True) from None
        try:
            async with asyncio.timeout(ANSWER_S):
                connection = await self._connected()
                async with connection.transaction(), connection.cursor() as cursor:
                    for sql, values in of_batch(rows):
                        await cursor.execute(sql.replace("?", "%s"), values)
        except psycopg.DataError as error:
            if not (error.sqlstate or "").startswith(FAULTY_VALUE):
                raise OutletError(f"{self.where}: {_first_line(error)}") from error
            return f"{self.where} cannot hold it ({_first_line(error)})"
        except TimeoutError:
            raise OutletError(f"{self.where} does not answer") from None
        except (psycopg.Error, OSError) as error:
            raise self._explain(error) from error
        return ""

    async def try_out(self, body: str) -> None:
        """Give it a test event, of which it keeps nothing."""
        await all_of(self.take([(0, body)]))

    async def _connected(self) -> "psycopg.AsyncConnection[Any]":
        import psycopg

        if self._connection is None:
            settings = await asyncio.to_thread(self._settings)
            self._connection = await psycopg.AsyncConnection.connect(autocommit=True, **settings)
            async with self._connection.transaction():
                await self._connection.execute("select pg_advisory_xact_lock(20261124)")  # sheds may all make them
                for sql in schema():
                    await self._connection.execute(sql.replace("timestamp", "timestamptz").encode())
        return self._connection

    def _settings(self) -> dict[str, Any]:
        password = read_secret(self._table, "password", self._folder)
        settings: dict[str, Any] = {
            "host": self._parts.hostname,
            "port": self._parts.port or 5432,
            "dbname": self._parts.path.strip("/"),
            "user": unquote(self._parts.username or "") or self._table.username,
            "password": password.get_secret_value() if password else None,
            "connect_timeout": CONNECT_S,
            "tcp_user_timeout": 30_000,
            "application_name": "neckyoke",
        }
        for key, name in (("ca_file", "sslrootcert"), ("certificate_file", "sslcert"), ("key_file", "sslkey")):
            if (file := getattr(self._table, key)) is not None:
                settings[name] = str(self._folder / file)
        if self._table.ca_file is not None:
            settings["sslmode"] = "verify-full"
        return {name: value for name, value in settings.items() if value is not None}

    def _explain(self, error: Exception) -> OutletError:
        code, said = getattr(error, "sqlstate", None) or "", _first_line(error)
        if "password authentication failed" in said:  # while connecting, libpq passes no code on
            code = "28P01"
        if code in REFUSALS:
            return OutletError(f"{self.where} {REFUSALS[code]}", slow=code not in PASSES)
        if (fault := certificate_fault(said)) is not None or "certificate" in said:
            return OutletError(f"{self.where}: {fault or said}", slow=True)
        return OutletError(f"{self.where} is out of reach: {said}")

    async def close(self, *, stopped: bool) -> None:  # noqa: ARG002
        """Hang up."""
        if self._connection is not None:
            connection, self._connection = self._connection, None
            with contextlib.suppress(Exception):
                await connection.close()


def _first_line(error: Exception) -> str:
    return (str(error).strip() or type(error).__name__).splitlines()[0]


def database_of(table: OutletTable, folder: Path, state: Path) -> FarSide:
    """Make the far side of a table with `sql`; a file lies where the daemon keeps things."""
    assert table.sql is not None
    if table.sql.startswith("sqlite:"):
        return SqliteFile(state / table.sql.removeprefix("sqlite:"))
    return PostgreSql(table, folder)
