"""What can be known of a link over its many lives, as a table.

    START    nothing tried yet
    MISSING  the device is not there: unplugged, out of range, switched off
    LOST     it was there and went, or it is there and refuses us
    TRIAL    open again after a life that was short and brought nothing; not yet believed
    UP       open
    SILENT   open, but no byte for `silent_s` (a scale that streams should never be)

`TABLE` says how what happens (a sign) moves the phase; a pair that is not there changes nothing.  Each phase but START
and TRIAL is a state that is told, once, when it begins, with the time the state before lasted; going to and fro between
MISSING and LOST is one outage and is told at most every ten minutes.  TRIAL exists because some peers accept every
connection only to end it: such a link is told as up when its first byte comes or when it has held for a while.
"""

from enum import Enum, auto
from typing import Literal, TypeAlias

State: TypeAlias = Literal["up", "lost", "silent", "missing"]


class Phase(Enum):
    """What a supervisor knows of its link; see the module."""

    START = auto()
    MISSING = auto()
    LOST = auto()
    TRIAL = auto()
    UP = auto()
    SILENT = auto()


class Sign(Enum):
    """What can happen."""

    OPENED = auto()
    REOPENED = auto()  # after a life that was short and brought nothing
    ABSENT = auto()  # opening failed: not there
    REFUSED = auto()  # opening failed: there, but not for us
    BYTES = auto()
    HELD = auto()  # open for long enough
    QUIET = auto()  # no byte for silent_s
    ENDED = auto()  # the link was lost


TABLE: dict[tuple[Phase, Sign], Phase] = {
    **{
        (phase, sign): after
        for phase in (Phase.START, Phase.MISSING, Phase.LOST)
        for sign, after in (
            (Sign.OPENED, Phase.UP),
            (Sign.REOPENED, Phase.TRIAL),
            (Sign.ABSENT, Phase.MISSING),
            (Sign.REFUSED, Phase.LOST),
        )
    },
    (Phase.TRIAL, Sign.BYTES): Phase.UP,
    (Phase.TRIAL, Sign.HELD): Phase.UP,
    (Phase.TRIAL, Sign.QUIET): Phase.SILENT,
    (Phase.TRIAL, Sign.ENDED): Phase.LOST,
    (Phase.UP, Sign.QUIET): Phase.SILENT,
    (Phase.UP, Sign.ENDED): Phase.LOST,
    (Phase.SILENT, Sign.BYTES): Phase.UP,
    (Phase.SILENT, Sign.ENDED): Phase.LOST,
    (Phase.SILENT, Sign.ABSENT): Phase.MISSING,  # it was reopened because it was silent
    (Phase.SILENT, Sign.REFUSED): Phase.LOST,
}

TOLD: dict[Phase, State] = {
    Phase.MISSING: "missing",
    Phase.LOST: "lost",
    Phase.UP: "up",
    Phase.SILENT: "silent",
}
AWAY: frozenset[State] = frozenset({"missing", "lost"})
