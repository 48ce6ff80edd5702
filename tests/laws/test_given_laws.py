"""What holds for every day with returns, kills, answers, voids and words taken back: no dose is recorded that was not
given, and none is offered as new to an animal that had it, wherever the box can know.

The person is truthful, but may say nothing; the truth is kept beside the box: who stood there when, and what each got.
"""

from dataclasses import dataclass, field
from typing import Any

from hypothesis import example, given, settings
from hypothesis import strategies as st

from neckyoke.bridge.events import Flag, Weighing
from tests.support.box import WALL, Box, lived

DOSE = "oral drench"
KG = (318.0, 352.0, 290.0)
TAGS = ("999000000112233", "999000000112234", "999000000112235")
SOON_S = 50.0
UNSURE = frozenset({Flag.INTERRUPTED, Flag.MAYBE_SAME, Flag.NOT_GIVEN})


@dataclass(frozen=True, slots=True)
class Step:
    """One stay: whose, how long after the last, for how long; what is done, and when the box is killed."""

    animal: int
    gap_s: float
    stands_s: float
    gives: bool
    says: bool
    kill: str  # "", or before it comes, as it stands there before or after the person acts, or as it has left
    away_s: float
    word: str  # of an earlier stay: "", "void" (which says of its dose what is so), "unsaid", and "back": taken back
    paused: bool = False  # the job was, and it is counted in as it has left: nobody saw a dose


STEPS = st.lists(
    st.builds(
        Step,
        animal=st.sampled_from([0, 0, 0, 1, 2]),
        gap_s=st.sampled_from([2.0, 2.0, 4.0, 70.0]),
        stands_s=st.sampled_from([1.3, 5.0, 7.0, 7.0]),
        gives=st.sampled_from([True, True, False]),
        says=st.booleans(),
        kill=st.sampled_from(["", "", "", "before", "shown", "acted", "left"]),
        away_s=st.sampled_from([1.0, 4.0]),
        word=st.sampled_from(["", "", "", "void", "unsaid", "back"]),
        paused=st.sampled_from([False, False, False, True]),
    ),
    min_size=2,
    max_size=6,
)


@dataclass
class Truth:
    """What is so: each stay's animal, from when to when, and whether it was dosed in it."""

    stays: list[tuple[int, float, float]] = field(default_factory=list)
    dosed: list[bool] = field(default_factory=list)
    shown: list[bool] = field(default_factory=list)  # its weight settled
    paused: list[bool] = field(default_factory=list)

    def had(self, animal: int) -> bool:
        return any(dosed and who == animal for (who, *_), dosed in zip(self.stays, self.dosed, strict=True))

    def of(self, one: Weighing) -> int:
        """Return which stay a weighing is of: the one that it overlaps most."""
        on, off = one.on.timestamp() - WALL, one.off.timestamp() - WALL
        spans = [min(off, end) - max(on, begin) for _, begin, end in self.stays]
        return spans.index(max(spans))


class Day:
    """A day, and what a truthful person does on it."""

    def __init__(self, box: Box, tags: bool) -> None:  # noqa: FBT001
        self.box, self.truth, self.tags = box, Truth(), tags
        self.voids: list[str] = []

    async def step(self, step: Step) -> None:
        """Let one stand there."""
        box, truth = self.box, self.truth
        if step.kill == "before":
            await box.restart(step.away_s)
        await box.shows(step.gap_s, 0)
        tag = TAGS[step.animal] if self.tags else None
        truth.stays.append((step.animal, box.t, box.t))
        truth.dosed.append(False)
        truth.shown.append(False)
        truth.paused.append(step.paused and bool((await box.says(kind="pause"))["done"]))  # there may be no job as yet
        await box.shows(step.stands_s, KG[step.animal], tag)
        if step.kill == "shown":
            self.looks(first=True)
            await self.again(step, tag)
        await self.acts(step)
        if step.kill == "acted":
            await self.again(step, tag)
            await self.acts(step)
        truth.stays[-1] = (step.animal, truth.stays[-1][1], box.t)
        await box.shows(1.5, 0)
        if step.kill == "left":
            await box.restart(step.away_s)
        if truth.paused[-1]:
            mine = [one.number for one in box.weighings() if truth.of(one) == len(truth.stays) - 1]
            await box.says(kind="resume", **({"from": min(mine)} if mine else {}))
            truth.shown[-1] = bool(mine)  # it counts now, and what comes next is held against it
        await self.speaks(step)

    async def again(self, step: Step, tag: str | None) -> None:
        """Kill the box while it stands there, and let it stand on."""
        await self.box.restart(step.away_s)
        await self.box.shows(5.0, KG[step.animal], tag)

    def looks(self, *, first: bool) -> bool:
        """Look at what is shown of the dose: it must not be offered where it is known that it had it."""
        box, truth = self.box, self.truth
        if truth.paused[-1]:
            return False  # nobody looks
        if not box.has_shown or box.shown().on.timestamp() - WALL < truth.stays[-1][1] - 1.0:
            return False  # nothing settled of this one
        shown = box.shown()
        truth.shown[-1] = True
        offered = not shown.treatments[0].skipped
        animal, on, _ = truth.stays[-1]
        before = [at for at in range(len(truth.stays) - 1) if truth.shown[at]]
        same = bool(before) and truth.stays[before[-1]][0] == animal and on - truth.stays[before[-1]][2] <= SOON_S
        if offered and not first:
            assert not truth.dosed[-1], "offered again as it stands there, and it has had it"
        if offered and same:
            assert not truth.dosed[before[-1]], "offered again, and it had it a minute ago"
        return True

    async def acts(self, step: Step) -> None:
        """Do what a person does who looks at the phone."""
        box, truth = self.box, self.truth
        if not self.looks(first=not truth.shown[-1]):
            return
        shown = box.shown()
        word: dict[str, Any] = {"kind": "skip", "treatment": DOSE, "weighing": shown.weighing}
        if not shown.treatments[0].skipped:
            if step.gives:
                truth.dosed[-1] = True
            else:
                await box.says(**word)
        elif not shown.may_leave and step.says:
            stood = shown.maybe_same is not None and shown.maybe_same.since is not None
            if not truth.had(truth.stays[-1][0]) and step.gives:
                truth.dosed[-1] = True
                await box.says(**word, given=True)
            else:
                await box.says(**word, given=stood and truth.dosed[-1])

    async def speaks(self, step: Step) -> None:
        """Say something of an earlier stay."""
        box, truth = self.box, self.truth
        weighings = [one for one in box.weighings() if Flag.VOIDED not in one.flags]
        if step.word == "back" and self.voids:
            await box.says(kind="undo", asked=self.voids.pop())
        elif step.word in {"void", "unsaid"} and weighings:
            one = weighings[0]
            mine = [at for at in range(len(truth.stays)) if at == truth.of(one)]
            said = {} if step.word == "unsaid" else {"given": any(truth.dosed[at] for at in mine)}
            answer = await box.says(kind="void", weighing=one.weighing, yes=True, **said)
            self.voids.append(str(answer["asked"]))

    def judge(self) -> None:
        """Hold what is recorded against what was given."""
        weighings = self.box.weighings()
        for animal in range(len(KG)):
            mine = [one for one in weighings if self.truth.stays[self.truth.of(one)][0] == animal]
            recorded = [one for one in mine if any(not dose.skipped for dose in one.treatments)]
            got = sum(
                dosed for (who, *_), dosed in zip(self.truth.stays, self.truth.dosed, strict=True) if who == animal
            )
            unsure = any(UNSURE & {*one.flags} for one in mine) or any(
                self.truth.paused[self.truth.of(one)] and Flag.DOSE_DOUBTFUL in one.flags for one in recorded
            )
            assert len(recorded) <= got or unsure, (animal, got, recorded)
            assert len(recorded) >= min(got, 1) or unsure, (animal, got, mine)


PASSED = Step(1, 2.0, 5.0, True, False, "", 1.0, "", paused=True)  # noqa: FBT003
STOOD = Step(0, 2.0, 5.0, True, False, "", 1.0, "")  # noqa: FBT003


@settings(max_examples=5, deadline=None)
@example([STOOD, PASSED, STOOD], True)  # noqa: FBT003
@given(STEPS, st.booleans())
def test_no_dose_is_recorded_that_was_not_given_nor_offered_again(steps: list[Step], tags: bool) -> None:  # noqa: FBT001
    async def day(box: Box) -> None:
        told = Day(box, tags)
        await box.shows(2, 0)
        for step in steps:
            await told.step(step)
        await box.shows(3, 0)
        await box.to(box.t + 1.0)
        told.judge()

    lived(day)
