"""Logs: readable on a terminal, JSON lines otherwise (systemd's journal keeps those); bounded whatever happens.

A device that flaps all night must not fill a card.  So each thing that is said (the same sentence of the same link or
station) is said at most `PER_HOUR` times an hour; the next line of its kind that comes through tells how many did not.
"""

import logging
import sys
import time
from collections import OrderedDict
from collections.abc import Callable, Hashable

import structlog

from neckyoke.bridge.telling.plain import drawing, plain

PER_HOUR = 20
HOUR_S = 3600.0
KINDS = 500
"""Kinds of line that are counted at once; the one unheard for longest is forgotten."""


class Bound:
    """Counts what is said by kind.  `now` gives monotonic seconds."""

    def __init__(self, per_hour: int = PER_HOUR, now: Callable[[], float] = time.monotonic) -> None:
        self._per_hour, self._now = per_hour, now
        self._kinds: OrderedDict[Hashable, tuple[float, int]] = OrderedDict()  # when its hour began, lines in it

    def passes(self, kind: Hashable) -> int | None:
        """Return None when a line must not be said, else how many of its kind were not said before it."""
        now = self._now()
        began, count = self._kinds.pop(kind, (now, 0))
        unsaid = 0
        if now - began >= HOUR_S:
            unsaid, began, count = max(0, count - self._per_hour), now, 0
        self._kinds[kind] = (began, count + 1)
        if len(self._kinds) > KINDS:
            self._kinds.popitem(last=False)
        return unsaid if count < self._per_hour else None

    def bounded(self, _logger: object, _method: str, event: structlog.typing.EventDict) -> structlog.typing.EventDict:
        """Let a line of structlog pass, or drop it.  A weighing is no repetition of another."""
        kind = tuple(event.get(name) for name in ("event", "link", "station", "about", "number"))
        unsaid = self.passes(kind)
        if unsaid is None:
            raise structlog.DropEvent
        return {**event, "unsaid": unsaid} if unsaid else event

    def filter(self, record: logging.LogRecord) -> bool:
        """Let a line of a library pass, or drop it."""
        return self.passes((record.name, record.msg)) is not None


def configure(*, verbose: bool = False) -> None:
    """Set structlog up for the process.  Everything goes to standard error; standard output belongs to the commands."""
    terminal = sys.stderr.isatty()
    level = logging.DEBUG if verbose else logging.INFO
    bound = Bound()
    logging.basicConfig(level=logging.WARNING, stream=sys.stderr, format="%(levelname)s %(name)s: %(message)s")
    for handler in logging.getLogger().handlers:
        handler.addFilter(bound.filter)
    structlog.configure(
        processors=[
            bound.bounded,
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="%H:%M:%S" if terminal else "iso", utc=not terminal),
            _known_only,
            _plainly,
            structlog.dev.ConsoleRenderer() if terminal else structlog.processors.JSONRenderer(default=str),
        ],
        wrapper_class=structlog.make_filtering_bound_logger(level),
        logger_factory=structlog.PrintLoggerFactory(drawing(sys.stderr)),
        cache_logger_on_first_use=True,
    )


def _known_only(_logger: object, _method: str, event: structlog.typing.EventDict) -> structlog.typing.EventDict:
    """Leave out what is not known: a line for a person's eye has no None in it."""
    return {key: value for key, value in event.items() if value is not None and value not in ("", [])}


def _plainly(_logger: object, _method: str, event: structlog.typing.EventDict) -> structlog.typing.EventDict:
    """Spell control characters out: a device's or a file's text must not work a terminal."""
    return {key: plain(value) if isinstance(value, str) else value for key, value in event.items()}
