"""What a person may ask of a station: the plain form of the station's requests.

`bridge.asking.requests` checks what came in over a socket or a broker and hands these on; visual numbers have been
looked up in the roster by then.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TypeAlias

from neckyoke.protocols.tagcode import TagCode


@dataclass(frozen=True, slots=True)
class About:
    """Which animal is meant: a weighing's id or number; with neither, the one standing now, else the last one."""

    weighing: str | None = None
    number: int | None = None


NOTES_MAX = 50
"""Notes on one weighing; each later revision carries them all."""


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
    """Strike a weighing out.

    `given`: whether its doses were given; None says nothing of them: they stand as they are.  `doses`: those that it
    has, by name, where they were given.
    """

    reason: str = ""
    about: About = About()
    given: bool | None = None
    doses: tuple[str, ...] = ()


Value: TypeAlias = str | int | float | bool | tuple[str | int | float | bool, ...]


@dataclass(frozen=True, slots=True)
class Found:
    """Say what was seen of this animal; no value takes it back."""

    finding: str
    value: Value | None
    about: About = About()


@dataclass(frozen=True, slots=True)
class Dosed:
    """Say of a treatment of this animal that it was given or not, in another amount, or from another batch.

    What is None is not spoken of.  `unit` is the amount's, for the answer.  `another`: it was asked whether this is the
    animal before it, come on again, which had it; given now, it is another.
    """

    treatment: str
    given: bool | None = None
    amount: float | None = None
    unit: str = ""
    batch: str | None = None
    about: About = About()
    another: bool = False


@dataclass(frozen=True, slots=True)
class Zero:
    """Take what the platform shows now, empty and quiet, as its zero."""


@dataclass(frozen=True, slots=True)
class NewJob:
    """Another job is the present one from the next animal on: tags weighed before it are no repeats."""

    job: str | None = None


AnimalInstruction: TypeAlias = Note | Identify | Void | Found | Dosed
"""What is said of one animal."""
Instruction: TypeAlias = AnimalInstruction | Zero | NewJob


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
            none = "; none of its doses was given" if said.given is False else ""
            doses = f"; {' and '.join(said.doses)} was given" if said.doses else ""
            return f"Struck out {which}.", f"a person struck it out: {reason or 'no reason given'}{none}{doses}"
        case Found(finding, value):
            seen = "taken back" if value is None else _spelled(value)
            return f"{finding}: {seen} at {which}.", f"a person said: {finding} {seen}"
        case Dosed():
            done = _done(said)
            return f"{said.treatment}: {done} to {which}.", f"a person said that {said.treatment} was {done}"
        case Identify(tag, visual):
            name = str(tag) if tag else f"visual {visual}" if visual else "no tag"
            return f"{which} has {name}.", f"a person said: {name}"


def _spelled(value: Value) -> str:
    if isinstance(value, bool):
        return "yes" if value else "no"
    if isinstance(value, tuple):
        return ", ".join(_spelled(one) for one in value) or "none of them"
    return str(value)


def _done(said: Dosed) -> str:
    if said.given is False:
        return "not given"
    amount = "" if said.amount is None else f"{said.amount:g} {said.unit} ".replace("  ", " ")
    batch = f" from batch {said.batch}" if said.batch else ""
    return f"{amount}given{batch}"


def nobody(about: About) -> str:
    """Return what is answered when the animal meant is not to be found."""
    if about.weighing is not None:
        return f"No weighing {about.weighing} is at hand here, nor in the journal."
    if about.number is not None:
        return f"No number {about.number} is at hand here, nor in the journal."
    return "Nobody has been weighed here yet."


def is_one_too_many(said: AnimalInstruction, notes: Sequence[str]) -> bool:
    """Return whether this is a note on a weighing that has as many as it may."""
    return isinstance(said, Note) and len(notes) >= NOTES_MAX


TOO_MANY = f"Not noted: it has {NOTES_MAX} notes already."
