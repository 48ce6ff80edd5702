"""What a person may ask of a station: the plain form of the station's requests.

`bridge.requests` checks what came in over a socket or a broker and hands these on; visual numbers have been looked up
in the roster by then.
"""

from dataclasses import dataclass
from typing import TypeAlias

from protocols.tagcode import TagCode


@dataclass(frozen=True, slots=True)
class About:
    """Which animal is meant: a weighing's id or number; with neither, the one standing now, else the last one."""

    weighing: str | None = None
    number: int | None = None


@dataclass(frozen=True, slots=True)
class Note:
    """Put a note on a weighing."""

    text: str
    about: About = About()


@dataclass(frozen=True, slots=True)
class Identify:
    """Say which tag, or which visual number, an animal has; neither means that it has none.  A person's word wins."""

    tag: TagCode | None = None
    visual: str | None = None
    about: About = About()


@dataclass(frozen=True, slots=True)
class Void:
    """Strike a weighing out."""

    reason: str = ""
    about: About = About()


@dataclass(frozen=True, slots=True)
class Skip:
    """Say that a treatment was not given to this animal (or, with `given`, that it was after all)."""

    treatment: str
    given: bool = False
    about: About = About()


@dataclass(frozen=True, slots=True)
class Zero:
    """Take what the platform shows now, empty and quiet, as its zero."""


@dataclass(frozen=True, slots=True)
class NewSheet:
    """A new job sheet holds from the next animal on: tags weighed before it are no repeats."""


Ask: TypeAlias = Note | Identify | Void | Skip | Zero | NewSheet


@dataclass(frozen=True, slots=True)
class Reply:
    """What was done, or why not, in words for a person; `weighing` is the one concerned."""

    done: bool
    text: str
    weighing: str | None = None
