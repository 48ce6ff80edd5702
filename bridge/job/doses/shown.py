"""What was published of a stay's treatments before, and what of it stands when the stay comes under another sheet.

A dose is given by what is shown while the animal stands there.  So what was shown then stands, whichever sheet holds
for the stay later: a person may begin the job anew, take a sheet back, or count animals in somewhere else, and a box
that was killed under one sheet may show it by another, and still have one weighing of both parts.  Where the sheet that
holds now has the same dose, nothing is to be said; else the dose is asked about (`OTHER_SHEET`).  What only the later
sheet has was shown to nobody: of one that stood under another sheet it is taken as not given (`NOT_SHOWN`); of one that
stood under none, or in a pause, it counts, and is asked about (`NONE_SHOWN`), since a person who counts it in may mean
just that.
"""

from collections.abc import Collection, Mapping
from dataclasses import dataclass, field, replace

from neckyoke.bridge.events import Treatment

NONE_SHOWN = "no dose was shown, for this sheet did not hold as it stood there: if it was not given, say so"
OTHER_SHEET = "shown by a sheet that holds for it no more: if it was not given, say so"
NOT_SHOWN = "not given, unless you say so: it stood under another sheet, and this was not shown"


@dataclass(frozen=True, slots=True)
class Showing:
    """A first weight that was shown: so long after the animal settled, of so much; `poor`: without a promise."""

    after_s: float
    kg: float | None
    poor: bool


@dataclass(frozen=True, slots=True)
class Shown:
    """Treatments of a stay as they were published last, by plain name.

    `said`: those that a person spoke of; `unshown`: of which no dose was shown, and in which words that was said;
    `kept`: what stands from another sheet, as it was shown; `sheet`: the title of the one it stood under, None in a
    pause too; `known`: whether anything was published, as far as that is known; `showings`: the first weights that were
    shown while it stood there.
    """

    treatments: Mapping[str, Treatment] = field(default_factory=dict)
    said: frozenset[str] = frozenset()
    unshown: Mapping[str, str] = field(default_factory=dict)
    kept: Mapping[str, Treatment] = field(default_factory=dict)
    sheet: str | None = None
    known: bool = False
    showings: tuple[Showing, ...] = ()

    @property
    def unsaid(self) -> dict[str, Treatment]:
        """What was published of all that no person spoke of."""
        return {name: one for name, one in self.treatments.items() if name not in self.said}

    @property
    def given(self) -> dict[str, Treatment]:
        """What was given: shown, or said."""
        unshown = self.unshown.keys() - self.said
        return {name: one for name, one in self.treatments.items() if not one.skipped and name not in unshown}

    def lacked(self, name: str, sheet: str | None) -> str | None:
        """Return in words that no dose of this one was shown; None where it was, or that is not known."""
        if not self.known or name in self.unshown or name in self.treatments:
            return self.unshown.get(name)
        return NOT_SHOWN if self.sheet not in {None, sheet} else NONE_SHOWN

    def followed_by(self, rest: "Shown") -> "Shown":
        """Return what was shown of a whole stay: this before the box stopped, and the rest when it was back.

        A dose that both showed is the first's; one that only the rest did was on show too, and stands.
        """
        if not rest.known or not self.known:
            return rest if rest.known else self
        held = {name for name, one in self.treatments.items() if not one.skipped}
        more = {name: one for name, one in rest.given.items() if name not in held}
        kept = more if rest.sheet != self.sheet else {}
        return replace(self, treatments={**self.treatments, **more}, kept={**self.kept, **rest.kept, **kept})

    def stand(self, sheet: str | None, names: Collection[str]) -> dict[str, Treatment]:
        """Return what was given and stands, if this sheet holds now, with treatments of these names."""
        moved = self.sheet != sheet
        return {**{name: one for name, one in self.given.items() if moved or name not in names}, **self.kept}


NOTHING = Shown()


def is_same(one: Treatment, other: Treatment) -> bool:
    """Return whether both are the same dose, with the same clear dates."""
    return _dose(one) == _dose(other)


def _dose(one: Treatment) -> tuple[object, ...]:
    return one.skipped, one.amount, one.unit, one.batch, one.withheld_until, one.export_from
