"""What holds for every herd: who is withheld, whatever becomes of tags and names; a book is a fold."""

import random
import tempfile
from dataclasses import dataclass, field
from datetime import UTC, date, datetime
from functools import cache
from itertools import pairwise
from pathlib import Path

from hypothesis import example, given, settings
from hypothesis import strategies as st

from neckyoke.bridge.animal_event import Animal, Mark, WornTag
from neckyoke.bridge.events import Flag
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.herd.held import own_id
from neckyoke.bridge.herd.rows import read_export
from neckyoke.bridge.herd.table import row_of, write
from neckyoke.bridge.job.roster.table import read_table
from neckyoke.bridge.job.roster.troubles import Troubles
from neckyoke.bridge.job.sheet import Sheet
from tests.support.herd import MORNING, Farm, sheet_of, tag

HELD_DAYS = 28
STEPS = st.lists(
    st.tuples(
        st.sampled_from(["come", "come", "come", "lose", "name", "merge", "split", "restart", "later"]),
        st.integers(0, 5),
        st.integers(0, 5),
        st.sampled_from(["tag", "both", "number"]),
        st.booleans(),
    ),
    min_size=4,
    max_size=16,
)

ONE_AND_TWO = (("merge", 1, 0, "tag", False), ("split", 0, 0, "tag", False))


@cache
def sheets() -> tuple[Sheet, Sheet]:
    """Read a sheet that drenches and one that does not, of one title."""
    with tempfile.TemporaryDirectory() as folder:
        return sheet_of(Path(folder)), sheet_of(Path(folder), "")


@dataclass
class Beast:
    """The plain model: what a beast wears, what it is called, and on which days it was drenched."""

    tag: str | None = None
    number: str | None = None
    stays: list[str] = field(default_factory=list)
    drenched: list[int] = field(default_factory=list)
    is_one_with: "list[Beast]" = field(default_factory=list)


class Reference:
    """Beasts as they are, and the farm's box beside them, told the truth whenever it asks."""

    def __init__(self) -> None:
        self.farm = Farm(sheets()[1])
        self.beasts = [Beast() for _ in range(6)]
        self.tags = 0
        self.day = 0
        self.merged: list[tuple[Beast, Beast]] = []

    def new_tag(self) -> str:
        self.tags += 1
        return tag(self.tags)

    def come(self, beast: Beast, how: str, *, drench: bool) -> None:
        beast.tag = beast.tag or self.new_tag()
        visual = beast.number if how != "tag" else None
        digits = beast.tag if how != "number" or visual is None else None
        self.farm.use(sheets()[0 if drench else 1])
        data = self.farm.weigh(self.day, digits, visual, kg=300.0)
        if not beast.stays and Flag.WHICH_ANIMAL in data.flags:
            self.farm.ask(self.day, kind="reply", choice="a new animal")
        beast.stays.append(data.weighing)
        beast.drenched += [self.day] if drench else []

    def lose(self, beast: Beast, how: str) -> None:
        """Let it lose its tag and wear another; tell the box in one of three ways."""
        if beast.tag is None or not beast.stays or beast.is_one_with:
            return
        old, beast.tag = beast.tag, self.new_tag()
        if how == "tag" or beast.number is None:
            assert self.farm.ask(self.day, kind="retag", was=old, tag=beast.tag).done
            return
        self.farm.use(sheets()[1])
        data = self.farm.weigh(self.day, beast.tag, beast.number if how == "both" else None, kg=300.0)
        beast.stays.append(data.weighing)
        asked = [one for one in self.farm.questions() if data.weighing in self.about(one.id)]
        right = {"yes", f"{beast.number} (tag …{old[-6:]})"}
        mine = [choice for one in asked for choice in one.choices if choice in right]
        if how == "both":
            assert mine == ["yes"], "a number that contradicts the tag is asked about"
        if mine:
            self.farm.ask(self.day, kind="reply", question=asked[0].id, choice=mine[0])
        else:
            self.answer_new()
            assert self.farm.ask(self.day, kind="retag", was=old, tag=beast.tag).done

    def about(self, question: str) -> list[str]:
        asked = self.farm.keeper.questions.get(question)
        return [asked.weighing] if asked and asked.weighing else []

    def answer_new(self) -> None:
        for one in self.farm.questions():
            self.farm.ask(self.day, kind="reply", question=one.id, choice="a new animal")

    def name(self, beast: Beast, number: int) -> None:
        if beast.stays and beast.number is None and beast.tag:
            beast.number = str(500 + number)
            assert self.farm.ask(self.day, kind="name", tag=beast.tag, visual=beast.number).done

    def merge(self, one: Beast, two: Beast) -> None:
        if one is two or not (one.stays and two.stays and one.tag and two.tag) or one.is_one_with or two.is_one_with:
            return
        done = self.farm.ask(self.day, kind="merge", animal=self.id_of(one), other=two.tag)
        if done.ask is not None:
            done = self.farm.ask(self.day, kind="reply", question=done.ask.id, choice="yes")
        assert done.done, done.text
        one.is_one_with, two.is_one_with = [two], [one]
        self.merged.append((one, two))

    def split(self) -> None:
        if self.merged:
            one, two = self.merged.pop()
            assert self.farm.ask(self.day, kind="split", animal=self.id_of(one)).done
            one.is_one_with, two.is_one_with = [], []

    def id_of(self, beast: Beast) -> str:
        return str((self.farm.latest[beast.stays[0]].animal or {})["id"])

    def withheld(self, day: int) -> set[str]:
        """Return the stays of the beasts that may not go on a day: those drenched up to 28 days before, and a day."""
        held = [
            beast
            for beast in self.beasts
            if any(day <= drenched + HELD_DAYS for one in (beast, *beast.is_one_with) for drenched in one.drenched)
        ]
        return {stay for beast in held for stay in beast.stays}

    def withheld_here(self, day: int) -> set[str]:
        book = self.farm.keeper.book
        roots = {book.root(animal) for animal, _ in self.farm.keeper.held.on(self.farm.day(day))}
        return {name for name, one in self.farm.latest.items() if book.root(own_id(one) or "") in roots}


@example([("come", 0, 0, "tag", False), ("come", 1, 0, "tag", True), ("come", 0, 0, "tag", True), *ONE_AND_TWO])
@settings(deadline=None, max_examples=25)
@given(STEPS)
def test_who_is_withheld_is_who_was_drenched_whatever_became_of_its_tag(
    steps: list[tuple[str, int, int, str, bool]],
) -> None:
    model = Reference()
    for what, first, second, how, drench in steps:
        one, two = model.beasts[first], model.beasts[second]
        match what:
            case "come":
                model.come(one, how, drench=drench)
            case "lose":
                model.lose(one, how)
            case "name":
                model.name(one, first)
            case "merge":
                model.merge(one, two)
            case "split":
                model.split()
            case "restart":
                model.farm.restart()
            case _:
                model.day += 1 + 7 * second
        for day in (model.day, model.day + 10, model.day + HELD_DAYS, model.day + HELD_DAYS + 1):
            assert model.withheld_here(day) == model.withheld(day), (what, day)


ANIMALS = st.builds(
    Animal,
    animal=st.sampled_from(["a", "b", "c", "d"]),
    revision=st.integers(1, 4),
    visuals=st.lists(st.sampled_from(["1", "2"]), max_size=2).map(tuple),
    merged_into=st.sampled_from([None, None, "a", "b"]),
).filter(lambda one: one.merged_into is None or one.merged_into < one.animal)


@settings(deadline=None)
@given(st.lists(ANIMALS, max_size=8, unique_by=lambda one: (one.animal, one.revision)), st.integers())
def test_a_book_is_the_same_in_whatever_order_and_however_often_it_is_told(animals: list[Animal], seed: int) -> None:
    told = animals * 2
    random.Random(seed).shuffle(told)
    one, two = Book(), Book()
    for animal in animals:
        one.fold(animal)
    for animal in told:
        two.fold(animal)

    assert one.bodies() == two.bodies()
    assert one.digest == two.digest
    assert {animal.animal for animal in one} == {animal.animal for animal in two}
    for visual in ("1", "2"):
        assert {a.animal for a in one.by_visual(visual)} == {a.animal for a in two.by_visual(visual)}


MOMENTS = st.datetimes(datetime(2020, 1, 1), datetime(2030, 1, 1)).map(  # noqa: DTZ001  the zone is laid on
    lambda one: one.replace(microsecond=0, tzinfo=UTC)
)
WORDS = st.text(alphabet="abc 105-/éß,;\"'", min_size=1, max_size=9).map(str.strip).filter(bool)
DAYS = st.none() | st.dates(date(2020, 1, 1), date(2030, 1, 1)).map(date.isoformat)


@st.composite
def herds(draw: st.DrawFn) -> list[Animal]:
    """Draw animals as a box may know them, each with tags of its own; some were merged into the one before."""
    animals: list[Animal] = []
    for number in range(draw(st.integers(1, 5))):
        since = sorted(draw(st.lists(MOMENTS, min_size=1, max_size=3, unique=True)))
        tags = [WornTag(id=tag(10 * number + at), since=moment) for at, moment in enumerate(since)]
        ended = [one.model_copy(update={"until": later.since}) for one, later in pairwise(tags)]
        animals.append(
            Animal(
                animal=f"animal-{number}",
                tags=(*ended, *tags[-1:]),
                visuals=tuple(draw(st.lists(WORDS, max_size=2, unique=True))),
                roster_id=draw(st.none() | WORDS),
                born=draw(DAYS),
                sex=draw(st.sampled_from([None, "steer"])),
                lasting=draw(
                    st.dictionaries(st.sampled_from(["breed", "colour"]), WORDS | st.integers() | st.booleans())
                ),
                marks=tuple(draw(st.lists(st.builds(Mark, text=WORDS, begins=DAYS, until=DAYS), max_size=2))),
                withheld_until=draw(DAYS | st.just("unknown")),
                first=draw(st.none() | st.just(f"w{number}")),
                merged_into=draw(st.sampled_from([None, None, f"animal-{number - 1}"])) if number else None,
            )
        )
    return animals


@settings(deadline=None, max_examples=60)
@given(herds())
def test_a_book_written_out_and_read_in_again_says_the_same_of_everybody(animals: list[Animal]) -> None:
    book, again = Book(), Book()
    for animal in animals:
        book.fold(animal)
    with tempfile.TemporaryDirectory() as folder:
        path = Path(folder) / "herd.csv"
        with path.open("w", encoding="utf-8", newline="") as out:
            write(book, out)
        troubles = Troubles(path)
        list(read_export("larkmoor", again, read_table(path), MORNING, troubles))
    assert list(troubles.each()) == []
    assert [row_of(one) for one in again] == [row_of(one) for one in book]
    for animal in animals:
        assert again.root(animal.animal) == book.root(animal.animal)
        for worn in animal.tags:
            one, two = book.by_tag(worn.id), again.by_tag(worn.id)
            assert (one and one.animal) == (two and two.animal) is not None
