"""What pairing says of one stay, and how it came to say it."""

from dataclasses import dataclass

from bridge.events import Flag
from bridge.station.ears import Pass, Span
from bridge.station.evidence import Points
from protocols.tagcode import TagCode

SAID = "a person said so"


@dataclass(frozen=True, slots=True)
class Verdict:
    """What is held of one stay.  `seen` counts tags heard in it; `rule` is the line of the table that decided."""

    number: int
    code: TagCode | None
    link: str | None = None
    reads: int = 0
    flags: tuple[Flag, ...] = ()
    seen: int = 0
    rule: str = ""
    final_at: float | None = None  # None: final


@dataclass(frozen=True, slots=True)
class Candidate:
    """For the explanation: one pass and what spoke for it."""

    one: Pass
    points: Points


@dataclass(frozen=True, slots=True)
class Case:
    """For the explanation: how one verdict came about."""

    span: Span
    candidates: tuple[Candidate, ...]
    lead: float
    rival: TagCode | None
    verdict: Verdict
