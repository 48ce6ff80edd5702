"""A disk that refuses."""

import resource
from collections.abc import Iterator
from contextlib import contextmanager


@contextmanager
def files_limited(size: int) -> Iterator[None]:
    """Let the kernel refuse to let any file of this process grow beyond a size: a full disk in small."""
    soft, hard = resource.getrlimit(resource.RLIMIT_FSIZE)
    resource.setrlimit(resource.RLIMIT_FSIZE, (size, hard))
    try:
        yield
    finally:
        resource.setrlimit(resource.RLIMIT_FSIZE, (soft, hard))
