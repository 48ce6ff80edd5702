"""Lines of a file, plain or gzip, of bounded length: what a file says of itself must not take all memory.

A few megabytes of gzip can hold gigabytes (deflate's best is 1,032 to 1: zlib's technical notes).  Recordings and
events shrink ten- to thirtyfold (measured on ours), so a file that unfolds `FOLDED` times beyond `FREE` bytes is no
recording and is read no further; and a line longer than `LONGEST` is passed over without being kept.
"""

import contextlib
import gzip
import zlib
from collections.abc import Iterator
from pathlib import Path
from typing import IO

LONGEST = 1 << 20
"""Bytes of a line; an event or a record has some thousands at most."""
FREE, FOLDED = 64 << 20, 250
"""Bytes that any file may unfold to, and how many times its own size beyond that."""


class LinesError(ValueError):
    """A file breaks off or is not what it says; the text says how."""


def read_lines(path: Path) -> Iterator[bytes]:
    """Yield the lines of a file, each with its line end; b"" in place of one that is too long.

    The last may lack its end.  Raises LinesError where a gzip file breaks off or unfolds without end, OSError when the
    file cannot be read.
    """
    with contextlib.ExitStack() as stack:
        raw: IO[bytes] = stack.enter_context(path.open("rb"))
        zipped = raw.read(2) == b"\x1f\x8b"
        raw.seek(0)
        source = stack.enter_context(gzip.GzipFile(fileobj=raw)) if zipped else raw
        most = max(FREE, FOLDED * path.stat().st_size) if zipped else None
        read, too_long = 0, False
        while True:
            try:
                piece = source.readline(LONGEST)
            except (EOFError, gzip.BadGzipFile, zlib.error) as error:
                raise LinesError("it breaks off: it was cut there") from error
            if not piece:
                return
            read += len(piece)
            if most is not None and read > most:
                raise LinesError(f"it unfolds to more than {most >> 20} MB: that is no recording")
            ends = piece.endswith(b"\n")
            if too_long or (len(piece) == LONGEST and not ends):
                if ends:
                    yield b""
                too_long = not ends
            else:
                yield piece
