"""A file system below SQLite that takes so many writes more and then none: full, read-only, or broken.

On APSW's virtual file systems.  The connection looks like sqlite3's to the journal, its errors too.
"""

import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import contextmanager
from pathlib import Path
from typing import Any

import apsw

KINDS: dict[str, type[apsw.Error]] = {"full": apsw.FullError, "read-only": apsw.ReadOnlyError, "broken": apsw.IOError}


class Refusing(apsw.VFS):
    """The file system.  `left` counts the writes that it still takes; None for any number."""

    def __init__(self, name: str, kind: str) -> None:
        self.name = name
        self.error = KINDS[kind]
        self.left: int | None = None
        self.refused = 0
        super().__init__(name, "")

    def take(self) -> None:
        """Let a write pass, or not."""
        if self.left is None:
            return
        if self.left == 0:
            self.refused += 1
            raise self.error("refused")
        self.left -= 1

    def xOpen(self, name: Any, flags: Any) -> "_File":  # noqa: N802
        return _File(self, name, flags)


class _File(apsw.VFSFile):
    def __init__(self, system: Refusing, name: Any, flags: Any) -> None:
        super().__init__("", name, flags)
        self._system = system

    def xWrite(self, data: bytes, offset: int) -> None:  # noqa: N802
        self._system.take()
        super().xWrite(data, offset)

    def xTruncate(self, size: int) -> None:  # noqa: N802
        self._system.take()
        super().xTruncate(size)

    def xSync(self, flags: int) -> None:  # noqa: N802
        self._system.take()
        super().xSync(flags)


class _Connection:
    """An apsw connection in sqlite3's clothes."""

    def __init__(self, path: Path, system: str) -> None:
        self._below = apsw.Connection(str(path), vfs=system)

    def execute(self, sql: str, parameters: Sequence[Any] = (), /) -> list[Any]:
        try:
            return list(self._below.execute(sql, parameters))
        except apsw.Error as error:
            same = sqlite3.OperationalError(str(error))
            same.sqlite_errorcode = getattr(error, "extendedresult", 1)
            raise same from error

    def close(self) -> None:
        try:
            self._below.close()
        except apsw.Error as error:
            raise sqlite3.OperationalError(str(error)) from error


@contextmanager
def refusing(kind: str, patch: Any) -> Iterator[Refusing]:
    """Put such a file system below every journal that is opened meanwhile; `patch` is pytest's monkeypatch."""
    system = Refusing(f"refusing-{kind}", kind)
    patch.setattr("neckyoke.bridge.journal.salvage.connect", lambda path: _Connection(path, system.name))
    try:
        yield system
    finally:
        system.unregister()
