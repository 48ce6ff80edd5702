"""Which test runs which line, and how long it takes: a plugin of pytest, for `mutants.py`.

A test that does not run a line cannot notice that it changed.  What was seen is kept between runs, test file by test
file, until that file or a traced one changes.
"""

import functools
import gc
import hashlib
import os
import pickle
import sys
import tempfile
import threading
import time
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from pathlib import Path
from types import CodeType, FrameType
from typing import Any

import pytest

ROOT = Path(__file__).parents[2]


@dataclass
class Ran:
    """One test: how long it took, traced, and the lines it ran, by file."""

    took_s: float
    lines: dict[str, frozenset[int]] = field(default_factory=dict)


class Tracer:
    """Trace each test by itself."""

    def __init__(self, prefix: tuple[str, ...]) -> None:
        """Take the folders, from the top of the tree, whose lines are meant."""
        self.ran: dict[str, Ran] = {}
        self.failed: list[str] = []
        self._prefix = prefix
        self._codes: dict[int, tuple[CodeType, str, frozenset[int]] | None] = {}
        self._left: dict[int, set[int]] = {}

    @pytest.hookimpl(wrapper=True)
    def pytest_runtest_protocol(self, item: pytest.Item) -> Iterator[None]:
        """Trace what the test and its fixtures run, with no cache filled before."""
        for cached in [one for one in gc.get_objects() if isinstance(one, functools._lru_cache_wrapper)]:
            if (getattr(cached, "__module__", None) or "").startswith(("neckyoke", "tests")):
                cached.cache_clear()
        self._left = {}
        began = time.process_time()
        threading.settrace(self._call)
        sys.settrace(self._call)
        try:
            return (yield)
        finally:
            sys.settrace(None)
            threading.settrace(None)
            self.ran[item.nodeid] = Ran(time.process_time() - began, self._lines())

    def pytest_runtest_logreport(self, report: pytest.TestReport) -> None:
        """Remember what fails as it is: it can kill nothing."""
        if report.failed:
            self.failed.append(report.nodeid)

    def _lines(self) -> dict[str, frozenset[int]]:
        found: dict[str, set[int]] = {}
        for key, left in list(self._left.items()):
            code = self._codes[key]
            assert code is not None
            found.setdefault(code[1], set()).update(code[2] - left)
        return {file: frozenset(lines) for file, lines in found.items()}

    def _known(self, code: CodeType) -> tuple[CodeType, str, frozenset[int]] | None:
        _, here, rest = code.co_filename.partition("/.src/neckyoke/")
        if not here or not rest.startswith(self._prefix):
            return None
        return code, rest, frozenset(line for _, _, line in code.co_lines() if line)

    def _call(self, frame: FrameType, *_: object) -> Any:
        key = id(frame.f_code)
        if (left := self._left.get(key)) is None:
            if key not in self._codes:
                self._codes[key] = self._known(frame.f_code)
                self._kept.append(frame.f_code)  # so that its id stays its own
            if (known := self._codes[key]) is None:
                return None
            left = self._left[key] = set(known[2])
        if not left:
            return None
        left.discard(frame.f_lineno)
        return self._line

    def _line(self, frame: FrameType, *_: object) -> Any:
        left = self._left.get(id(frame.f_code))
        if not left:
            return None
        left.discard(frame.f_lineno)
        return self._line

    _kept: list[CodeType] = []  # noqa: RUF012  # one tracer a process


class Kept:
    """What was seen of each test file, until it or a file that is mutated changes."""

    def __init__(self, files: Iterable[Path]) -> None:
        """Take the files whose lines matter."""
        self._digests = {str(file.relative_to(ROOT)): _digest(file) for file in files}
        here = hashlib.sha256(str(ROOT).encode()).hexdigest()[:8]  # no other checkout's
        self._folder = Path(tempfile.gettempdir()) / f"neckyoke-traced-{os.getuid()}-{here}"

    def _place(self, test: Path) -> Path:
        return self._folder / hashlib.sha256(f"{test.relative_to(ROOT)} {_digest(test)}".encode()).hexdigest()[:32]

    def load(self, test: Path) -> dict[str, Ran] | None:
        """Return what is known of a test file, None when nothing is."""
        try:
            digests, ran = pickle.loads(self._place(test).read_bytes())
        except FileNotFoundError:
            return None
        same = all(digests.get(file, digest) == digest for file, digest in self._digests.items())  # not known: not run
        return dict(ran) if same else None

    def save(self, test: Path, ran: dict[str, Ran]) -> None:
        """Keep what was seen of a test file."""
        self._folder.mkdir(exist_ok=True)
        files = {file for one in ran.values() for file in one.lines} | self._digests.keys()
        self._place(test).write_bytes(pickle.dumps(({file: _digest(ROOT / file) for file in files}, ran)))


def _digest(file: Path) -> str:
    return hashlib.sha256(file.read_bytes()).hexdigest()
