"""What holds for every history of doses: the list of who may not go is what a plain model says.

The model keeps of each stay which treatments count, by the rules in words: what the sheet gives, unless the beast had
it earlier that day by what was known as it came, unless a person said otherwise of this stay; also of one that was
struck out, unless they said with it that nothing was given.  A dose holds for its days and a day more (design.md,
section 9: arithmetic on what was typed).
"""

import tempfile
from dataclasses import dataclass, field
from datetime import UTC, timedelta
from functools import cache
from pathlib import Path

from hypothesis import example, given, settings
from hypothesis import strategies as st

from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.sheet import Sheet
from neckyoke.bridge.reports.doses.register import doses
from neckyoke.bridge.reports.doses.withheld import withheld_on
from neckyoke.bridge.station.amend import amended
from neckyoke.bridge.station.instructions import Dosed, Void
from tests.support.herd import MORNING, Farm, sheet_of, tag
from tests.support.sheets import one

DAYS = {"short": 7, "long": 28}
TWO = "".join(f'[[treatments]]\nname = "{name}"\nml = 10\nwithhold_days = {days}\n' for name, days in DAYS.items())
STEPS = st.lists(
    st.tuples(
        st.sampled_from(
            ["come", "come", "come", "skip", "give", "amount", "void", "none", "retag", "restart", "later"]
        ),
        st.integers(0, 2),
        st.integers(0, 9),
        st.sampled_from(sorted(DAYS)),
    ),
    min_size=3,
    max_size=18,
)


@cache
def sheets() -> tuple[Sheet, Sheet]:
    """Read a sheet with two treatments, and one with none."""
    with tempfile.TemporaryDirectory() as folder:
        return sheet_of(Path(folder), TWO), sheet_of(Path(folder), "")


@dataclass
class Stay:
    """One stay in the model.  `told`: what counts as it came; `said`: what a person said of that; `given`: both."""

    name: str
    beast: int
    day: int
    treats: bool
    told: dict[str, bool] = field(default_factory=dict)
    said: dict[str, bool] = field(default_factory=dict)
    given: dict[str, bool] = field(default_factory=dict)
    void: bool = False
    none: bool = False  # struck out, and nothing was given


class Model:
    """Beasts, their stays, and the farm's box beside them."""

    def __init__(self) -> None:
        self.farm = Farm(sheets()[0])
        self.tags = [tag(n) for n in range(3)]
        self.stays: list[Stay] = []
        self.day, self.made = 0, 3

    def come(self, beast: int, *, treats: bool) -> None:
        self.farm.use(sheets()[0 if treats else 1])
        data = self.farm.weigh(self.day, self.tags[beast], kg=300.0)
        self.stays.append(Stay(data.weighing, beast, self.day, treats))
        self.settle(self.stays[-1])

    def restart(self) -> None:
        """Begin a new run: every stay is filled from now on by a clerk of its own sheet and of the new run's past."""
        farm = self.farm
        farm.restart()
        for stay in self.stays:
            held = one(sheets()[0 if stay.treats else 1], None)
            past = farm.past
            farm.clerks[stay.name] = Clerk(held, history=past.weights, doses=past.doses, shown=past.shown, had=past.had)

    def settle(self, stay: Stay) -> None:
        """Say what counts of a stay that is published."""
        for name in DAYS if stay.treats else ():
            had = any(
                one.given.get(name) and (one.beast, one.day) == (stay.beast, stay.day)
                for one in self.stays
                if one is not stay
            )
            told = stay.told.setdefault(name, not had) and not stay.none
            stay.given[name] = stay.said.get(name, told)

    def say(self, which: int, said: Dosed | Void) -> None:
        stay = self.stays[which % len(self.stays)]
        if isinstance(said, Void) and stay.void:
            return
        past = self.farm.latest[stay.name]
        now = amended(past, said, {}, past.off + timedelta(hours=1))
        self.farm.publish(now)
        if isinstance(said, Void):
            stay.void, stay.none = True, said.given is False
            self.settle(stay)
        elif stay.treats:
            stay.said[said.treatment] = said.given is not False
            self.settle(stay)

    def retag(self, beast: int) -> None:
        if any(one.beast == beast and not one.void for one in self.stays):
            new = tag(self.made)
            if self.farm.ask(self.day, kind="retag", was=self.tags[beast], tag=new).done:
                self.made += 1
                self.tags[beast] = new

    def held(self, day: int) -> set[str]:
        """Return the tags of the beasts that may not go: a dose of day d holds up to and with day d + its days."""
        return {
            self.tags[one.beast]
            for one in self.stays
            for name, days in DAYS.items()
            if one.given.get(name) and day <= one.day + days
        }


@example([("come", 0, 0, "long"), ("come", 0, 0, "long"), ("void", 0, 0, "long"), ("give", 0, 1, "long")])
@example([("come", 0, 0, "long"), ("come", 0, 0, "long"), ("void", 0, 0, "long"), ("skip", 0, 1, "long")])
@settings(deadline=None, max_examples=60)
@given(STEPS)
def test_who_may_not_go_is_who_was_given_it(steps: list[tuple[str, int, int, str]]) -> None:
    model = Model()
    for what, beast, which, product in steps:
        match what:
            case "come":
                model.come(beast, treats=which < 8)
            case "restart":
                model.restart()
            case "later":
                model.day += which
            case "retag":
                model.retag(beast)
            case _ if model.stays:
                said: dict[str, Dosed | Void] = {
                    "skip": Dosed(product, given=False),
                    "give": Dosed(product, given=True),
                    "amount": Dosed(product, amount=12.0),
                    "void": Void("law"),
                    "none": Void("law", given=False),
                }
                model.say(which, said[what])
    rows = [one.model_dump(mode="json") for one in model.farm.latest.values()]
    for day in (model.day, model.day + 5, model.day + 8, model.day + 20, model.day + 29):
        on = (MORNING + timedelta(days=day)).date()
        listed = withheld_on(rows, on, UTC, book=model.farm.keeper.book)
        assert {one.tag for one in listed} == model.held(day), day
    given_now = [(one.name, name) for one in model.stays for name, counts in one.given.items() if counts]
    assert len(list(doses(rows, UTC))) == len(given_now)
