"""A file system below SQLite whose power can be cut: every operation is written down, any past can be rebuilt.

What was synced is there after the cut.  Of what came after the last sync of its file, each 512-byte sector of each
write is there or not, by chance; so are truncations.  Operations that are there take effect in their order.  A deleted
file may come back whole, unless its folder was synced with or after the deletion.  This is the technique of SQLite's
own crash tests (sqlite.org/testing.html, "Crash Testing"), on APSW's virtual file systems.
"""

import random
from collections.abc import Mapping
from dataclasses import dataclass, field
from pathlib import Path
from typing import Any, Literal

import apsw

SECTOR = 512
FOLDER = -1
"""Serial number that stands for the folder itself."""


@dataclass(slots=True)
class Operation:
    """One thing done to one file.  `file` is its serial number: a name used again is another file.

    Of a deletion, `offset` tells whether the folder was synced with it.
    """

    file: int
    kind: Literal["write", "truncate", "sync", "delete"]
    offset: int = 0
    data: bytes = b""


@dataclass(slots=True)
class Tape:
    """All that was done, in order; `names` of the files by their serial numbers."""

    operations: list[Operation] = field(default_factory=list)
    names: list[str] = field(default_factory=list)
    serial: dict[str, int] = field(default_factory=dict)

    def number(self, name: str) -> int:
        if name not in self.serial:
            self.serial[name] = len(self.names)
            self.names.append(name)
        return self.serial[name]

    def delete(self, name: str, *, synced: bool) -> None:
        if name in self.serial:
            self.operations.append(Operation(self.serial.pop(name), "delete", int(synced)))

    def sync_folder(self) -> None:
        """Write down that the folder was synced: deletions so far are final."""
        self.operations.append(Operation(FOLDER, "sync"))

    def cut(self, moment: int, chance: random.Random) -> dict[str, bytes]:
        """Return the files as the power cut before operation `moment` leaves them."""
        done = self.operations[:moment]
        synced = {one.file: index for index, one in enumerate(done) if one.kind == "sync"}
        files: dict[int, bytearray] = {}
        for index, one in enumerate(done):
            sure = index < synced.get(FOLDER if one.kind == "delete" else one.file, -1)
            if one.kind == "sync":
                continue
            body = files.setdefault(one.file, bytearray())
            if one.kind == "write":
                _write(body, one, None if sure else chance)
            elif one.kind == "truncate" and (sure or chance.random() < 0.5):
                del body[one.offset :]
            elif one.kind == "delete" and (sure or one.offset or chance.random() < 0.5):
                files.pop(one.file)
        return {self.names[number]: bytes(body) for number, body in files.items()}


def _write(body: bytearray, one: Operation, chance: random.Random | None) -> None:
    whole = chance is None or chance.random() < 0.4
    if not whole and chance is not None and chance.random() < 0.5:
        return
    for start in range(0, len(one.data), SECTOR):
        if whole or (chance is not None and chance.random() < 0.5):
            piece = one.data[start : start + SECTOR]
            place = one.offset + start
            if len(body) < place:
                body.extend(bytes(place - len(body)))
            body[place : place + len(piece)] = piece


class TapeFile(apsw.VFSFile):
    """A real file whose changes also go on the tape."""

    def __init__(self, tape: Tape, below: str, name: Any, flags: Any) -> None:
        super().__init__(below, name, flags)
        self._tape = tape
        self._number = tape.number(Path(name.filename() if isinstance(name, apsw.URIFilename) else name).name)

    def xWrite(self, data: bytes, offset: int) -> None:  # noqa: N802
        super().xWrite(data, offset)
        self._tape.operations.append(Operation(self._number, "write", offset, bytes(data)))

    def xTruncate(self, size: int) -> None:  # noqa: N802
        super().xTruncate(size)
        self._tape.operations.append(Operation(self._number, "truncate", size))

    def xSync(self, flags: int) -> None:  # noqa: N802
        super().xSync(flags)
        self._tape.operations.append(Operation(self._number, "sync"))


class TapeSystem(apsw.VFS):
    """The file system: the usual one, with a tape running."""

    def __init__(self, name: str, tape: Tape) -> None:
        self._tape = tape
        super().__init__(name, "")

    def xOpen(self, name: Any, flags: Any) -> TapeFile:  # noqa: N802
        return TapeFile(self._tape, "", name, flags)

    def xDelete(self, name: str, sync: bool) -> None:  # noqa: N802, FBT001
        super().xDelete(name, sync)
        self._tape.delete(Path(name).name, synced=sync)


def lay_out(files: Mapping[str, bytes], folder: Path) -> None:
    """Write the files that a cut left into a folder."""
    for name, body in files.items():
        (folder / name).write_bytes(body)
