"""Whose a stay was: the table of bridge/herd/identity.py, line by line.  Common practice in the yards, no source."""

from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.animal_event import WornTag
from neckyoke.bridge.events import Animal, Flag
from neckyoke.bridge.job.roster.roster import Roster
from tests.support.herd import MORNING, Farm, as_tag, sheet_of, tag

WHICH = Flag.WHICH_ANIMAL


@pytest.fixture
def farm() -> Farm:
    """A farm that knows 105 by tag and number, 106 by its number alone, and one by its tag alone."""
    farm = Farm()
    farm.weigh(0, tag(1), "105")
    farm.weigh(0, None, "106")
    farm.weigh(0, tag(3))
    return farm


def who(farm: Farm, digits: str | None, visual: str | None = None) -> tuple[str | None, bool]:
    """Weigh it; return the first weighing of the animal it is held for, and whether that is doubtful."""
    data = farm.weigh(1, digits, visual)
    known = farm.keeper.book.find((data.animal or {}).get("id", ""))
    return (known.first if known else None), WHICH in data.flags


@pytest.mark.parametrize(
    ("digits", "visual", "then"),
    [
        (None, None, (None, False)),
        (tag(9), None, ("w4", False)),
        (tag(1), None, ("w1", False)),
        (tag(1), "0105", ("w1", False)),
        (tag(3), "107", ("w3", False)),
        (None, "105", ("w1", False)),
        (None, "109", ("w4", False)),
        (tag(9), "109", ("w4", False)),
        (tag(9), "106", ("w2", False)),
        (tag(9), "105", ("w4", True)),
        (tag(3), "105", ("w3", True)),
        (tag(1), "109", ("w1", True)),
        (tag(1), "106", ("w1", True)),
    ],
)
def test_each_line_of_the_table(farm: Farm, digits: str | None, visual: str | None, then: tuple[str, bool]) -> None:
    assert who(farm, digits, visual) == then
    assert len(farm.questions()) == then[1]


def test_what_a_tag_takes_on_stays_with_it(farm: Farm) -> None:
    farm.weigh(1, tag(9), "106")
    farm.weigh(1, tag(3), "107")

    assert who(farm, tag(9)) == ("w2", False)
    assert who(farm, None, "107") == ("w3", False)


@pytest.mark.parametrize(("final", "restarted"), [(True, False), (False, False), (True, True)])
def test_an_animal_goes_on_without_the_stay_that_made_it(farm: Farm, *, final: bool, restarted: bool) -> None:
    """Its tag was heard at the one before it too: that one is another animal, by whatever tells it then."""
    until = None if final else MORNING + timedelta(days=2)
    before = farm.weigh(1, tag(9), final=final, final_at=until)
    its = farm.weigh(1, tag(9), final=final, final_at=until)
    if restarted:  # nobody remembers whose the recent ones were
        farm.restart()
    untagged: dict[str, Any] = {"tag": None, "animal": {"visual": "109"}}
    for revision, told in enumerate((untagged, {"tag": as_tag(tag(8))}, untagged), 2):
        farm.publish(before.model_copy(update={"revision": revision, "animal": None, **told}))
    farm.take(farm.keeper.finish(MORNING + timedelta(days=3)))

    owner, other = farm.keeper.book.by_tag(tag(9)), farm.keeper.book.by_visual("109")
    assert owner is not None
    assert (owner.animal, owner.visuals) == ((farm.latest[its.weighing].animal or {})["id"], ())
    assert [(one.animal, one.tags) for one in other] == [((farm.latest[before.weighing].animal or {})["id"], ())]


def test_a_stay_whose_tag_is_amended_is_the_same_animal_while_nobody_else_is(farm: Farm) -> None:
    until = MORNING + timedelta(days=2)
    before = farm.weigh(1, tag(9), final=False, final_at=until)
    now = before.model_copy(update={"revision": 2, "animal": None, "tag": as_tag(tag(8))})
    farm.publish(now)
    assert farm.latest[before.weighing].animal == before.animal


def test_a_shared_number_is_asked_about_and_never_guessed(farm: Farm) -> None:
    farm.weigh(0, tag(8), "106")
    twin = Animal(animal="twin", tags=(WornTag(id=tag(7)),), visuals=("106",))
    farm.keeper.write([twin], farm.events[-1].time)

    assert who(farm, None, "106") == (None, True)
    assert [one.choices for one in farm.questions()] == [("106 (tag …000008)", "106 (tag …000007)", "a new animal")]
    assert who(farm, tag(7), "106") == (None, False), "the tag tells"


@pytest.mark.parametrize("flag", [Flag.NOT_ANIMAL, Flag.ODD_CODE])
def test_a_code_that_is_no_animals_makes_none(flag: Flag) -> None:
    farm = Farm()
    data = farm.weigh(0, tag(1), flags=(flag,))

    assert data.animal is None
    assert len(farm.keeper.book) == 0


def test_a_doubtful_pair_counts_for_the_animal_it_names_and_says_so() -> None:
    farm = Farm()
    first = farm.weigh(0, tag(1))
    again = farm.weigh(30, tag(1), flags=(Flag.TAG_DOUBTFUL,))

    assert again.animal is not None
    assert first.animal is not None
    assert (again.animal["id"], again.flags) == (first.animal["id"], (Flag.TAG_DOUBTFUL,))


def test_the_same_day_again_makes_the_same_animals() -> None:
    books = []
    for _ in range(2):
        farm = Farm()
        farm.weigh(0, tag(1), "105")
        farm.weigh(0, tag(2))
        books.append(farm.keeper.book)

    assert books[0].bodies() == books[1].bodies()
    assert books[0].digest == books[1].digest


def test_calves_inducted_by_number_are_themselves_on_day_two(tmp_path: Path) -> None:
    """Sex and birth are their own, the gain is since day one, and nobody is unexpected though no roster has them."""
    farm = Farm(sheet_of(tmp_path, 'mob = "autumn calves"\n[details]\nsex = "heifer"\nborn = 2026-09-01\n'))
    for number in range(1, 6):
        farm.weigh(0, tag(number), str(number), kg=100.0)
    farm.use(sheet_of(tmp_path, 'mob = "autumn calves"\n[details]\nsex = "steer"\n', title="Second day"), Roster())
    second = [farm.weigh(30, tag(number), kg=130.0) for number in range(1, 6)]

    assert [one.flags for one in second] == [()] * 5
    assert [one.details["sex"] for one in second] == ["heifer"] * 5
    assert [one.gain and one.gain.kg_per_day for one in second] == [1.0] * 5
    assert [(one.animal or {}).get("visual") for one in second] == ["1", "2", "3", "4", "5"]
    assert {(one.animal or {}).get("born") for one in second} == {"2026-09-01"}
    farm.use(sheet_of(tmp_path, 'mob = "cows"\n', title="Others"), Roster())
    assert farm.weigh(60, tag(1), kg=160.0).flags == (Flag.NOT_EXPECTED,)
