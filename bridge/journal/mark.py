"""Which sequences were given, in a small file beside the journal; the same file keeps a second daemon out.

Written after each commit and not synced: a card is spared, and the mark never says more than was safe.  A journal that
has less than its mark has lost something, however sound it looks.
"""

import contextlib
import fcntl
import os
from pathlib import Path
from typing import NamedTuple, Self

from neckyoke.bridge.journal.rows import total_of


class Given(NamedTuple):
    """The last sequence that was given, and the first of those that must be there; 0 where that is not known."""

    last: int = 0
    first: int = 0


UNKNOWN = Given()


class HeldError(Exception):
    """Another daemon has the journal."""


class Mark:
    """The open file.  `close` lets the next daemon in."""

    def __init__(self, descriptor: int) -> None:
        self._descriptor = descriptor

    @classmethod
    def take(cls, path: Path) -> Self:
        """Take the mark of the journal at `path`.  Raises HeldError when another daemon has it, or OSError."""
        descriptor = os.open(f"{path}.lock", os.O_RDWR | os.O_CREAT | os.O_CLOEXEC, 0o644)
        try:
            fcntl.flock(descriptor, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError:
            os.close(descriptor)
            raise HeldError("another neckyoke has it open; stop that one first") from None
        return cls(descriptor)

    def read(self) -> Given:
        """Return the sequences that were given; nothing where that is not known."""
        text, _, total = os.pread(self._descriptor, 64, 0).decode("ascii", "replace").strip().rpartition(" ")
        return Given(*map(int, text.split())) if total == total_of(text) else Given()

    def write(self, given: Given) -> None:
        """Note the sequences that were given; where that cannot be written, it is not known after a crash."""
        text = f"{given.last:020d} {given.first:020d}"
        with contextlib.suppress(OSError):
            os.pwrite(self._descriptor, f"{text} {total_of(text)}\n".encode(), 0)

    def close(self) -> None:
        """Let go."""
        os.close(self._descriptor)
