"""What earlier weighings say of an animal: its weights by date, and until when it is withheld.

Made from published events, in any order and with repeats: of each weighing the highest revision counts.  Only weights
graded good or fair are history; voided weighings are none.  A treatment counts unless a person said it was skipped.
"""

from collections import defaultdict
from collections.abc import Iterable
from dataclasses import dataclass
from datetime import UTC, date, datetime, timedelta, timezone

from bridge.events import Event, Flag, Weighing
from bridge.job.withholding import longest

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
    """Earlier weighings by tag.  `utc_offset_hours` is that of the local dates."""

    def __init__(self, utc_offset_hours: float = 0.0) -> None:
        self._zone = timezone(timedelta(hours=utc_offset_hours)) if utc_offset_hours else UTC
        self._of_tag: dict[str, dict[str, _Once]] = defaultdict(dict)
        self._tag_of: dict[str, tuple[int, str | None]] = {}

    @classmethod
    def of(cls, events: Iterable[Event], utc_offset_hours: float = 0.0) -> "Past":
        """Gather the past from events."""
        past = cls(utc_offset_hours)
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
            self._tag_of[data.weighing] = (data.revision, None)
            return
        self._tag_of[data.weighing] = (data.revision, tag)
        given = [one for one in data.treatments if not one.skipped]
        clear = longest(one.withheld_until for one in given)
        kg = data.weight.kg if data.weight.grade in SURE else None
        self._of_tag[tag][data.weighing] = _Once(data.revision, data.on, kg, clear)

    def weights(self, tag: str) -> list[tuple[date, float]]:
        """Give an animal's weights with their dates, in order of time."""
        known = sorted(self._of_tag.get(tag, {}).values(), key=lambda once: once.on)
        return [(once.on.astimezone(self._zone).date(), once.kg) for once in known if once.kg is not None]

    def clear_from(self, tag: str, before: datetime) -> str | None:
        """Give the first clear date after the treatments given before a moment; None when none holds."""
        return longest(once.clear for once in self._of_tag.get(tag, {}).values() if once.on < before)
