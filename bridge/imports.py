"""Importing without looking for rubbish meanwhile."""

import contextlib
import gc
from collections.abc import Iterator


@contextlib.contextmanager
def kept() -> Iterator[None]:
    """Keep all that is imported within, unlooked at by the collector for good.

    It stays for as long as the process lives; looking through it again and again while it grew was a fifth of the time
    in which the daemon starts (perf, CPython 3.11), and later makes each full collection longer.
    """
    watched = gc.isenabled()
    gc.disable()
    try:
        yield
    finally:
        gc.freeze()
        if watched:
            gc.enable()
