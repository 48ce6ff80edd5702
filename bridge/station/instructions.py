"""What a person may ask of a station: the plain form of the station's requests.

`bridge.asking.requests` checks what came in over a socket or a broker and hands these on; visual numbers have been
looked up in the roster by then.
"""

from collections.abc import Iterable
from dataclasses import dataclass
from typing import TypeAlias

from neckyoke.protocols.tagcode import TagCode


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
    """Say which tag, or which visual number, an animal has; neither means that it has no tag.  A person's word wins.

    A visual number alone says nothing of the tag: what was read stands.
    """

    tag: TagCode | None = None
    visual: str | None = None
    about: About = About()

    @property
    def of_tag(self) -> bool:
        """Whether it is a word on the tag."""
        return self.tag is not None or self.visual is None


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

    def among(self, skipped: Iterable[str]) -> tuple[str, ...]:
        """Return the treatments not given, this one said."""
        others = tuple(one for one in skipped if one != self.treatment)
        return others if self.given else (*others, self.treatment)


@dataclass(frozen=True, slots=True)
class Zero:
    """Take what the platform shows now, empty and quiet, as its zero."""


@dataclass(frozen=True, slots=True)
class NewSheet:
    """A new job sheet holds from the next animal on: tags weighed before it are no repeats."""


AnimalInstruction: TypeAlias = Note | Identify | Void | Skip
"""What is said of one animal."""
Instruction: TypeAlias = AnimalInstruction | Zero | NewSheet


@dataclass(frozen=True, slots=True)
class Reply:
    """What was done, or why not, in words for a person; `weighing` is the one concerned."""

    done: bool
    text: str
    weighing: str | None = None


def told(said: AnimalInstruction, number: int) -> tuple[str, str]:
    """Put into words what was done to the weighing of that number, and why it is amended."""
    which = f"number {number}"
    match said:
        case Note():
            return f"Noted on {which}.", "a person added a note"
        case Void(reason):
            return f"Struck out {which}.", f"a person struck it out: {reason or 'no reason given'}"
        case Skip(treatment, given):
            done = "given" if given else "not given"
            return f"{treatment}: {done} to {which}.", f"a person said that {treatment} was {done}"
        case Identify(tag, visual):
            name = str(tag) if tag else f"visual {visual}" if visual else "no tag"
            return f"{which} has {name}.", f"a person said: {name}"


def nobody(about: About) -> str:
    """Say that the animal meant is not to be found."""
    if about.weighing is not None:
        return f"No weighing {about.weighing} is at hand here, nor in the journal."
    if about.number is not None:
        return f"No number {about.number} is at hand here, nor in the journal."
    return "Nobody has been weighed here yet."
