"""What earlier weighings say of an animal: its weights by date, and until when it is withheld.

Made from published events, in any order and with repeats: of each weighing the highest revision counts.  Only weights
graded good or fair are history; voided weighings are none.  A treatment counts unless a person said it was skipped.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import datetime

from neckyoke.bridge.events import Event, Flag, Weighing
from neckyoke.bridge.job.doses.withholding import longest

SURE = frozenset({"good", "fair"})
"""Grades that a growth figure may rest on."""


@dataclass(frozen=True, slots=True)
class _Once:
    """One weighing, as far as the past needs it."""

    revision: int
    on: datetime
    kg: float | None
    clear: str | None


class Past:
    """Earlier weighings by tag."""

    def __init__(self) -> None:
        self._of_tag: dict[str, dict[str, _Once]] = defaultdict(dict)
        self._tag_of: dict[str, tuple[int, str | None]] = {}

    @classmethod
    def of(cls, events: Iterable[Event]) -> "Past":
        """Gather the past from events."""
        past = cls()
        for event in events:
            past.add(event)
        return past

    def add(self, event: Event) -> None:
        """Take one event in; anything but a weighing is passed over."""
        data = event.data
        if not isinstance(data, Weighing):
            return
        revision, old = self._tag_of.get(data.weighing, (0, None))
        if data.revision < revision:
            return
        if old is not None:
            self._of_tag[old].pop(data.weighing, None)
        tag = data.tag.id if data.tag else (data.animal or {}).get("tag")
        if tag is None or Flag.VOIDED in data.flags:
            if data.revision > 1:  # a first revision outranks nothing: no need to remember it
                self._tag_of[data.weighing] = (data.revision, None)
            return
        self._tag_of[data.weighing] = (data.revision, tag)
        given = [one for one in data.treatments if not one.skipped]
        clear = longest(one.withheld_until for one in given)
        kg = data.weight.kg if data.weight.grade in SURE else None
        self._of_tag[tag][data.weighing] = _Once(data.revision, data.on, kg, clear)

    def forget(self, tag: str) -> None:
        """Let one animal's past go: it can be read from the journal again."""
        for weighing in self._of_tag.pop(tag, {}):
            self._tag_of.pop(weighing, None)

    def weights(self, tag: str, but: str = "") -> list[tuple[datetime, float]]:
        """Return an animal's weights and the moments it was weighed, in order of time, but for one weighing's."""
        known = sorted(self._others(tag, but), key=lambda once: once.on)
        return [(once.on, once.kg) for once in known if once.kg is not None]

    def clear_from(self, tag: str, before: datetime, but: str = "") -> str | None:
        """Return the first clear date after the treatments given before a moment, but for one weighing's; or None."""
        return longest(once.clear for once in self._others(tag, but) if once.on < before)

    def _others(self, tag: str, but: str) -> list[_Once]:
        return [once for weighing, once in self._of_tag.get(tag, {}).items() if weighing != but]
