"""Logs: readable on a terminal, JSON lines otherwise (systemd's journal keeps those)."""

import logging
import sys

import structlog


def configure(*, verbose: bool = False) -> None:
    """Set structlog up for the process.  Everything goes to standard error; standard output belongs to the commands."""
    terminal = sys.stderr.isatty()
    level = logging.DEBUG if verbose else logging.INFO
    logging.basicConfig(level=logging.WARNING, stream=sys.stderr, format="%(levelname)s %(name)s: %(message)s")
    structlog.configure(
        processors=[
            structlog.processors.add_log_level,
            structlog.processors.TimeStamper(fmt="%H:%M:%S" if terminal else "iso", utc=not terminal),
            _known_only,
            structlog.dev.ConsoleRenderer() if terminal else structlog.processors.JSONRenderer(default=str),
        ],
        wrapper_class=structlog.make_filtering_bound_logger(level),
        logger_factory=structlog.PrintLoggerFactory(sys.stderr),
        cache_logger_on_first_use=True,
    )


def _known_only(_logger: object, _method: str, event: structlog.typing.EventDict) -> structlog.typing.EventDict:
    """Leave out what is not known: a line for a person's eye has no None in it."""
    return {key: value for key, value in event.items() if value is not None and value not in ("", [])}
