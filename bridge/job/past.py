"""What earlier weighings say of an animal: its weights by date, and until when it is withheld.

Made from published events, in any order and with repeats: of each weighing the highest revision counts.  Only weights
graded good or fair are history; those of voided weighings are none.  A treatment counts unless a person said it was
skipped, whatever became of its weighing.

An animal is meant by its id in the herd book, which its weighings carry.  Those from before there was a book carry
none: `owner` says whose they are; where no book is kept, a tag is all there is to go by.
"""

from collections import OrderedDict, defaultdict
from collections.abc import Callable, Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import datetime
from typing import Any, TypeAlias

from neckyoke.bridge.events import Event, Flag, Settled, Weighing
from neckyoke.bridge.herd.held import own_id
from neckyoke.bridge.job.doses.doubtful import asked
from neckyoke.bridge.job.doses.given import plain
from neckyoke.bridge.job.doses.held import PastDose
from neckyoke.bridge.job.doses.shown import NONE_SHOWN, NOT_SHOWN, NOTHING, OTHER_SHEET, Showing, Shown
from neckyoke.bridge.job.doses.withholding import longest

SURE = frozenset({"good", "fair"})
"""Grades that a growth figure may rest on."""
SHOWN = 600
"""Stays whose treatments are remembered as they were published last."""
Owner: TypeAlias = Callable[[Weighing], str | None]
Group: TypeAlias = Callable[[str], Iterable[str]]


@dataclass(frozen=True, slots=True)
class _Once:
    """One weighing, as far as the past needs it."""

    revision: int
    on: datetime
    kg: float | None
    doses: tuple[PastDose, ...]


UNKNOWN: tuple[int, Shown] = (0, NOTHING)


def by_tag(data: Weighing) -> str | None:
    """Name a weighing's animal by its tag, or the tag that its roster had for it."""
    return data.tag.id if data.tag else (data.animal or {}).get("tag")


class Past:
    """Earlier weighings by animal.  `group` gives all ids that one beast has had (`Book.group`)."""

    def __init__(self, owner: Owner = by_tag, group: Group = lambda animal: (animal,)) -> None:
        self._owner, self._group = owner, group
        self._of_animal: dict[str, dict[str, _Once]] = defaultdict(dict)
        self._animal_of: dict[str, tuple[int, str | None]] = {}
        self._shown: OrderedDict[str, tuple[int, Shown]] = OrderedDict()
        self._had: dict[str, dict[str, datetime]] = {}
        self._rests: dict[str, tuple[str, Shown]] = {}  # of a stay of two parts: the second, and what the first showed

    @classmethod
    def of(cls, events: Iterable[Event], owner: Owner = by_tag, group: Group = lambda animal: (animal,)) -> "Past":
        """Gather the past from events."""
        past = cls(owner, group)
        for event in events:
            past.add(event)
        return past

    def add(self, event: Event) -> None:
        """Take one event in; of what settled, only what was shown of its treatments; anything else is passed over."""
        data = event.data
        if isinstance(data, Settled | Weighing):
            self._show(data, event.time)
        if not isinstance(data, Weighing):
            return
        revision, old = self._animal_of.get(data.weighing, (0, None))
        if data.revision < revision:
            return
        if old is not None:
            self._of_animal[old].pop(data.weighing, None)
        animal = own_id(data) or self._owner(data)
        if animal is None:
            if data.revision > 1:  # a first revision outranks nothing: no need to remember it
                self._animal_of[data.weighing] = (data.revision, None)
            return
        self._animal_of[data.weighing] = (data.revision, animal)
        at = data.settled or data.off
        doses = tuple(
            PastDose(one.name, at, data.job, one.withheld_until, one.export_from)
            for one in data.treatments
            if not one.skipped
        )
        kg = data.weight.kg if data.weight.grade in SURE and Flag.VOIDED not in data.flags else None
        self._of_animal[animal][data.weighing] = _Once(data.revision, data.on, kg, doses)

    def leave(self, event: Event) -> None:
        """Count a weighing for nobody until it is added again: it is made anew, and may be another's then."""
        data = event.data
        if isinstance(data, Weighing):
            revision, animal = self._animal_of.get(data.weighing, (0, None))
            if animal is not None and data.revision >= revision:
                self._of_animal[animal].pop(data.weighing, None)

    def _show(self, data: Settled | Weighing, time: datetime | None = None) -> None:
        """Take what is published of a stay; `time`: when that was, of one that stands there."""
        revision, before = data.revision if isinstance(data, Weighing) else 0, self._shown.get(data.weighing, UNKNOWN)
        if revision < before[0] or (isinstance(data, Weighing) and data.told_in):
            return
        self._shown[data.weighing] = revision, _followed(self.shown(data.weighing), data, time)
        at = data.settled or data.on
        had = {
            plain(one.name): one.given_before or at for one in data.treatments if not one.skipped or one.given_before
        }
        self._had[data.weighing] = had
        if len(self._shown) > SHOWN:
            self._had.pop(self._shown.popitem(last=False)[0], None)

    def recall(self, had: Mapping[str, Mapping[str, str]], left: Weighing | None) -> None:
        """Take what an earlier run knew: what its last animals `had`, and what was shown of the one it `left`."""
        for weighing, doses in had.items():
            self._shown[weighing] = UNKNOWN
            self._had[weighing] = {name: datetime.fromisoformat(at) for name, at in doses.items()}
        if left is not None and left.treatments:
            self._show(left)

    def remember(self, past: Weighing) -> None:
        """Take what was published of a stay that is not at hand any more, before it is filled in anew."""
        self._show(past)

    def join(self, weighing: str, rest: str | None) -> None:
        """Take that a stay is told together with another, its rest; or, again, by itself, as it was before that."""
        known, (revision, shown) = self._rests.pop(weighing, None), self._shown.get(weighing, UNKNOWN)
        if rest is not None:
            self._rests[weighing] = known if known is not None and known[0] == rest else (rest, shown)
        elif known is not None:
            self._shown[weighing] = revision, known[1]

    def shown(self, weighing: str, rest: str | None = None) -> Shown:
        """Return the treatments of a recent stay as they were published last, with those of its rest."""
        if rest is None and weighing in self._rests:
            rest = self._rests[weighing][0]
        shown = self._shown.get(weighing, UNKNOWN)[1]
        return shown if rest is None else shown.followed_by(self._shown.get(rest, UNKNOWN)[1])

    def left(self, weighing: str, rest: str | None = None) -> dict[str, Any]:
        """Return what is to be known of a stay's doses if the box stops now: its treatments, and its sheet."""
        shown = self.shown(weighing, rest)
        unsaid = (asked(one, OTHER_SHEET) if name in shown.kept else one for name, one in shown.unsaid.items())
        return {"treatments": tuple(unsaid), "sheet": shown.sheet}

    def had(self, weighing: str) -> Mapping[str, datetime]:
        """Return when the animal of a recent stay was given each treatment, by plain name: then, or shortly before."""
        return self._had.get(weighing, {})

    def forget(self, animal: str) -> None:
        """Let one animal's past go: it can be read from the journal again."""
        for weighing in self._of_animal.pop(animal, {}):
            self._animal_of.pop(weighing, None)

    def weights(self, animal: str, but: str = "") -> list[tuple[datetime, float]]:
        """Return an animal's weights and the moments it was weighed, in order of time, but for one weighing's."""
        known = sorted(self._others(animal, but), key=lambda once: once.on)
        return [(once.on, once.kg) for once in known if once.kg is not None]

    def doses(self, animal: str, before: datetime, but: str = "") -> list[PastDose]:
        """Return the treatments given before a moment, in order of time, but for one weighing's."""
        earlier = sorted((once for once in self._others(animal, but) if once.on < before), key=lambda once: once.on)
        return [dose for once in earlier for dose in once.doses]

    def clear_from(self, animal: str, before: datetime, but: str = "") -> str | None:
        """Return the first clear date after the treatments given before a moment, but for one weighing's; or None."""
        return longest(dose.meat for dose in self.doses(animal, before, but))

    def _others(self, animal: str, but: str) -> Iterator[_Once]:
        for one in self._group(animal):
            yield from (once for weighing, once in self._of_animal.get(one, {}).items() if weighing != but)


def _followed(before: Shown, data: Settled | Weighing, time: datetime | None) -> Shown:
    """Return what is known of a stay's treatments after something was published of it."""
    told = {plain(one.name): one for one in data.treatments}
    remarks = {name: one.remark or "" for name, one in told.items()}
    lacking = {name: words for name, one in remarks.items() for words in (NONE_SHOWN, NOT_SHOWN) if words in one}
    said = frozenset(plain(one.name) for one in data.doses_said)
    moved = said & {*before.treatments} if before.sheet != data.sheet else ()
    stands = [name for name, one in told.items() if OTHER_SHEET in remarks[name] or (name in moved and not one.skipped)]
    return Shown(
        treatments=told,
        said=said,
        unshown={**before.unshown, **lacking},
        kept={**before.kept, **{name: told[name] for name in stands}},
        sheet=data.sheet,
        known=True,
        showings=_showings(before.showings, data, time) if isinstance(data, Settled) else before.showings,
    )


def _showings(before: tuple[Showing, ...], data: Settled, time: datetime | None) -> tuple[Showing, ...]:
    """Return the weights shown, with this one: told again with another tag it is the same one."""
    if before and before[-1].kg == data.weight.kg:
        return before
    after_s = (time - data.settled).total_seconds() if time else 0.0
    return (*before, Showing(max(0.0, after_s), data.weight.kg, data.weight.grade == "poor"))
