"""Who went where in each job, as far as a draft by head count needs it: told by the events, in their order.

Places are given by what was decided while the animal stood there: its settled event, and then its weighing.  So the
decision for the next one rests on the same whether the box ran through or was started in between.
"""

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from typing import NamedTuple

from neckyoke.bridge.events import Flag, Settled, Weighing
from neckyoke.bridge.job.pens.drafting import Rule
from neckyoke.bridge.job.pens.heads import Forecast, Heads, forecast
from neckyoke.bridge.job.roster.roster import Animal, Roster

EXPECTED_GAIN = 0.8
"""kg/day from a last weight to today, before the first animals have shown better.  Judgement; it is soon corrected."""
JOBS_KEPT = 8


class _Passed(NamedTuple):
    """One weighing: whose, at which weight (None where it was not sure), and which pen it went to."""

    animal: str
    kg: float | None
    pen: str | None


@dataclass(frozen=True, slots=True)
class Places:
    """How a pen by head count stands."""

    pen: str
    heads: int
    left: int
    to_come: int
    shortfall: int
    cut_kg: float | None
    heaviest: bool


class Taken:
    """The animals that have passed, by job and weighing."""

    def __init__(self) -> None:
        self._jobs: dict[str, dict[str, _Passed]] = {}
        self._places: dict[tuple[str, str | None, int | None, date], Places] = {}  # worked out since the last event

    def saw(self, data: Settled | Weighing) -> None:
        """Take an event in, the latest of its weighing."""
        self._places.clear()
        for job, passed in self._jobs.items():
            if job != data.job:
                passed.pop(data.weighing, None)
        if data.job is None:
            return
        passed = self._jobs.setdefault(data.job, {})
        if Flag.VOIDED in data.flags:
            passed.pop(data.weighing, None)
            return
        kg = (data.weight.first_kg or data.weight.kg) if data.weight.grade in {"good", "fair"} else None
        passed[data.weighing] = _Passed(_animal(data), kg, data.pen)
        while len(self._jobs) > JOBS_KEPT:
            del self._jobs[next(iter(self._jobs))]

    def went(self, data: Settled | Weighing) -> str | None:
        """Return the pen that an animal went to, as was last said of this weighing."""
        passed = self._jobs.get(data.job or "", {}).get(data.weighing)
        return passed.pen if passed else None

    def goes(self, rule: Rule, data: Settled | Weighing, kg: float, roster: Roster | None) -> bool:
        """Return whether an animal gets one of a pen's places: decided while it stands there, and then it stands."""
        before = self._jobs.get(data.job or "", {}).get(data.weighing)
        if isinstance(data, Weighing) and before is not None:
            return before.pen == rule.pen
        heads = self._heads(rule, data.job, roster, data.on.date(), but=data.weighing)
        return heads.goes(_animal(data), kg)

    def places(self, rule: Rule, job: str | None, roster: Roster | None, today: date) -> Places:
        """Return how a pen stands now; cheap to ask again while nothing has passed."""
        asked = (rule.pen, job, id(roster), today)
        if asked not in self._places:
            heads = self._heads(rule, job, roster, today)
            cut = None if heads.cut_kg is None else round(heads.cut_kg, 1)
            self._places[asked] = Places(
                rule.pen, rule.heads or 0, heads.left, heads.to_come, heads.shortfall, cut, heaviest=rule.heaviest
            )
        return self._places[asked]

    def _heads(self, rule: Rule, job: str | None, roster: Roster | None, today: date, but: str = "") -> Heads:
        assert rule.heads is not None, "asked only of pens by head count"
        expected = {row.key: _forecast(row, today) for row in roster.animals} if roster else {}
        heads = Heads(rule.heads, expected, heaviest=rule.heaviest)
        passed: Mapping[str, _Passed] = self._jobs.get(job or "", {})
        for weighing, one in passed.items():
            if weighing == but:
                continue
            if one.kg is None:
                heads.came(one.animal)
            else:
                heads.passed(one.animal, one.kg, went=one.pen == rule.pen)
        return heads


def _animal(data: Settled | Weighing) -> str:
    """Return by what the roster knows an animal; its weighing where nobody can name it."""
    animal = data.animal or {}
    tag = data.tag.id if data.tag else animal.get("tag")
    return str(tag) if tag else f"visual {animal['visual']}" if animal.get("visual") else data.weighing


def _forecast(row: Animal, today: date) -> Forecast | None:
    if not row.weights:
        return None
    when, kg = row.weights[-1]
    return forecast(kg, max(0, (today - when).days), EXPECTED_GAIN)
