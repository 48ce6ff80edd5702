"""The stay's state table: what a reading shows, and what was found out, to where it leads and what is done.

Theory.  A platform is *empty*, or something is *arriving* on it, *standing* there without a weight yet, *settled* with
one, or *leaving*.  Each reading is first reduced to a sight, by weight net of the empty platform:

    clear   next to nothing: less than half the smallest animal, or than an eighth of what stood there
    off     the same, but for no longer than an animal hops that throws itself about, or that has only just come
    part    well below what stood there: feet are off
    rising  hardly a foot was left, and now it is clearly more again, or all at once: the next animal
    full    anything else
    blank   no number: some indicators show none while the weight moves

and then the table says where that leads and what to do.  What is done may find something out (it has lasted, it is
weighed, it is another animal), and the table says where *that* leads and what to do; so until nothing more is found.
Silence and the end of the run are looked up in the same way.  Nothing else moves the state.

A bump that is gone before it lasted is no stay, and what is lighter than the smallest animal is none however long it
stands: once it is still it is the empty platform's, and an animal that comes to it sooner begins then.  Nor is what a
stay sinks to and is lighter than that the stay still.  A stay ends with the reading that shows the platform released,
and waits for nothing (but of one that may have hopped it is known a moment later).  One that dips half-way and comes
back is one stay, unless what comes back is clearly another weight, or the platform was bare in between.  Where readings
are few, the one by which something is known to be a stay may be one of its dip already.  Only a stay before which the
empty platform was not seen waits for it to be quiet, since only then is it known what it shows.
"""

from collections.abc import Mapping
from enum import StrEnum, auto
from typing import Literal, TypeAlias

State: TypeAlias = Literal["empty", "arriving", "standing", "settled", "leaving"]


class Sight(StrEnum):
    """What one reading shows, seen from the present state."""

    CLEAR = "clear"
    OFF = "off"
    PART = "part"
    RISING = "rising"
    FULL = "full"
    BLANK = "blank"


class Found(StrEnum):
    """What was found out on the way."""

    LASTED = "lasted"  # what arrived is a stay
    EMPTY = "empty"  # what arrived is the empty platform: what the last stay left, or what it showed at the start
    LIFTED = "lifted"  # as it is found to be a stay, feet are off again: readings are few
    WEIGHED = "weighed"  # the stay has a weight
    SANK = "sank"  # what feet were lifted from stays there, lighter
    GONE = "gone"  # what may have hopped has not come down again
    ANOTHER = "another"  # what stands there now is another animal
    SILENT = "silent"  # the indicator has said nothing for long
    STOP = "stop"  # the run ends


class Deed(StrEnum):
    """What is done: a method each of `Platform`, which says what it does."""

    WATCH = auto()
    SEE_BLANK = auto()
    LOOK_AWAY = auto()
    ARRIVE = auto()
    STAND = auto()
    BEGIN = auto()
    TAKE_EMPTY = auto()
    FORGET = auto()
    WEIGH = auto()
    SINK = auto()
    SANK = auto()
    HOP = auto()
    RELEASE = auto()
    RISE = auto()
    EXCHANGE = auto()
    LOSE = auto()
    INTERRUPT = auto()
    NOTHING = auto()


Event: TypeAlias = Sight | Found

TABLE: Mapping[tuple[State, Event], tuple[State, Deed]] = {
    ("empty", Sight.CLEAR): ("empty", Deed.WATCH),
    ("empty", Sight.FULL): ("arriving", Deed.ARRIVE),
    ("empty", Sight.BLANK): ("empty", Deed.SEE_BLANK),
    ("empty", Found.SILENT): ("empty", Deed.LOOK_AWAY),
    ("empty", Found.STOP): ("empty", Deed.NOTHING),
    ("arriving", Sight.CLEAR): ("empty", Deed.FORGET),
    ("arriving", Sight.FULL): ("arriving", Deed.STAND),
    ("arriving", Sight.BLANK): ("arriving", Deed.STAND),
    ("arriving", Found.LASTED): ("standing", Deed.BEGIN),
    ("arriving", Found.EMPTY): ("empty", Deed.TAKE_EMPTY),
    ("arriving", Found.SILENT): ("empty", Deed.LOSE),
    ("arriving", Found.STOP): ("empty", Deed.INTERRUPT),
    ("standing", Sight.CLEAR): ("empty", Deed.RELEASE),
    ("standing", Sight.OFF): ("leaving", Deed.HOP),
    ("standing", Sight.PART): ("leaving", Deed.SINK),
    ("standing", Sight.FULL): ("standing", Deed.WEIGH),
    ("standing", Sight.BLANK): ("standing", Deed.NOTHING),
    ("standing", Found.LIFTED): ("leaving", Deed.NOTHING),
    ("standing", Found.WEIGHED): ("settled", Deed.NOTHING),
    ("standing", Found.ANOTHER): ("empty", Deed.EXCHANGE),
    ("standing", Found.SILENT): ("empty", Deed.LOSE),
    ("standing", Found.STOP): ("empty", Deed.INTERRUPT),
    ("settled", Sight.CLEAR): ("empty", Deed.RELEASE),
    ("settled", Sight.OFF): ("leaving", Deed.HOP),
    ("settled", Sight.PART): ("leaving", Deed.SINK),
    ("settled", Sight.FULL): ("standing", Deed.WEIGH),
    ("settled", Sight.BLANK): ("settled", Deed.NOTHING),
    ("settled", Found.SILENT): ("empty", Deed.LOSE),
    ("settled", Found.STOP): ("empty", Deed.INTERRUPT),
    ("leaving", Sight.CLEAR): ("empty", Deed.RELEASE),
    ("leaving", Sight.OFF): ("leaving", Deed.HOP),
    ("leaving", Sight.PART): ("leaving", Deed.SINK),
    ("leaving", Sight.RISING): ("leaving", Deed.RISE),
    ("leaving", Sight.FULL): ("standing", Deed.WEIGH),
    ("leaving", Sight.BLANK): ("leaving", Deed.NOTHING),
    ("leaving", Found.GONE): ("empty", Deed.EXCHANGE),
    ("leaving", Found.SANK): ("standing", Deed.SANK),
    ("leaving", Found.ANOTHER): ("empty", Deed.EXCHANGE),
    ("leaving", Found.SILENT): ("empty", Deed.LOSE),
    ("leaving", Found.STOP): ("empty", Deed.INTERRUPT),
}
"""State and event to the next state and what is done.  A pair that is not here cannot be."""
