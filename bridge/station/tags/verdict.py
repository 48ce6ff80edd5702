"""What pairing says of one stay, and how it came to say it."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from math import inf

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.tags.assignment import Dealt
from neckyoke.bridge.station.tags.detections import Pass, Span
from neckyoke.bridge.station.tags.scores import Points
from neckyoke.protocols.tagcode import TagCode

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
    """For the explanation: one pass, what spoke for it, and the other stay that has it, if one does."""

    one: Pass
    points: Points
    elsewhere: int | None = None


@dataclass(frozen=True, slots=True)
class Case:
    """For the explanation: how one verdict came about.

    In the next best deal, `lead` points behind, the stay gets `rival`, and its tag goes to the stay numbered `taker`.
    """

    span: Span
    candidates: tuple[Candidate, ...]
    lead: float
    rival: TagCode | None
    taker: int | None
    verdict: Verdict

    @classmethod
    def of(
        cls,
        spans: Sequence[Span],
        at: int,
        passes: Sequence[Pass],
        spoken: Mapping[int, Points],
        held: Mapping[int, int],
        got: Dealt | None,
        verdict: Verdict,
    ) -> "Case":
        """Make it of what speaks for each pass at one stay.

        `held`: the number of the stay that has each pass.  `got` is None when a person had the word.
        """
        candidates = [
            Candidate(passes[of], points, held.get(of) if held.get(of) != spans[at].number else None)
            for of, points in spoken.items()
        ]
        candidates.sort(key=lambda one: -one.points.total)
        if got is None:
            return cls(spans[at], tuple(candidates), inf, None, None, verdict)
        rival = None if got.rival is None else passes[got.rival].code
        taker = None if got.taker is None else spans[got.taker].number
        return cls(spans[at], tuple(candidates), got.lead, rival, taker, verdict)
