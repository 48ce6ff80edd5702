"""The work of importing the tests, shared by the workers: pytest writes each file's assertions anew, and keeps that.

In a new checkout nothing is kept yet, and each worker, which imports every file, would do it all by itself, at the same
time as the others: 8 s of the processor each.
"""

import contextlib
import sys
from collections.abc import Iterable
from pathlib import Path

import pytest
from _pytest.assertion import rewrite

TESTS = Path(__file__).parents[1]


def rewritten() -> list[Path]:
    """List the files whose assertions pytest writes anew, in an order that is everybody's."""
    return sorted({*TESTS.rglob("test_*.py"), *(TESTS / "support").glob("*.py")})


def keep(files: Iterable[Path], config: pytest.Config) -> None:
    """Have what is made of these files kept where pytest will look for it.

    It has no public name for this.  Where another pytest calls it otherwise, where nothing can be written, or where a
    file is no Python, it is left to each worker, which does it or says so.
    """
    for file in files:
        with contextlib.suppress(AttributeError, LookupError, TypeError, OSError, SyntaxError, ValueError):
            _keep(file, config)


def _keep(file: Path, config: pytest.Config) -> None:
    kept = rewrite.get_cache_dir(file) / (file.stem + rewrite.PYC_TAIL)
    if not sys.dont_write_bytecode and rewrite._read_pyc(file, kept) is None:
        kept.parent.mkdir(exist_ok=True)
        source, code = rewrite._rewrite_test(file, config)
        rewrite._write_pyc(config.stash[rewrite.assertstate_key], code, source, kept)
