"""Who came on a day is not asked after as if it had lost its tag, also when the box was started in between."""

from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import pytest

from neckyoke.bridge.daemon.herd import open_herd
from neckyoke.bridge.events import Flag, Treatment, Weighing, wrap
from neckyoke.bridge.herd.came import Came
from neckyoke.bridge.herd.keeper import Keeper
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.telling.alerts import unheard
from tests.support.events import SITE, weighing
from tests.support.running import run

DAY = date(2026, 11, 24)
DRENCHED = Treatment(name="drench", amount=30.0, withheld_until="2026-12-24", export_from="2026-12-24")


def stay(number: int, animal: str | None = "own", *flags: Flag, days: int = 0) -> Weighing:
    """Make a weighing of an animal, which it says was merged into another since."""
    of = {"id": "root", "known_as": animal} if animal else None
    known = weighing(number)
    moved = {"on": known.on + timedelta(days=days), "off": known.off + timedelta(days=days)}
    return known.model_copy(update={"animal": of, "flags": flags, **moved})


def test_an_animal_came_on_the_day_of_its_weighing_by_the_id_of_its_own() -> None:
    came = Came()
    came.add(stay(1), DAY)
    came.add(stay(2, "another"), DAY)
    assert came.on(DAY) == {"own", "another"}
    assert came.on(DAY + timedelta(days=1)) == set()


@pytest.mark.parametrize(
    "data",
    [stay(1, None), stay(1, "own", Flag.WHICH_ANIMAL), stay(1, "own", Flag.VOIDED)],
    ids=["none", "which", "void"],
)
def test_a_weighing_in_doubt_shows_nobody(data: Weighing) -> None:
    came = Came()
    came.add(data, DAY)
    assert came.on(DAY) == set()


def test_who_was_held_to_have_come_counts_whatever_is_said_later() -> None:
    came = Came()
    came.add(stay(1), DAY)
    came.add(stay(1, "another"), DAY)
    came.add(stay(1, "another", Flag.VOIDED), DAY)
    assert came.on(DAY) == {"own", "another"}


def test_of_the_days_before_it_is_known_and_of_no_earlier_one() -> None:
    came = Came()
    for day in (0, 1, 2, 3):
        came.add(stay(day, f"{day}"), DAY + timedelta(days=day))
    assert [came.on(DAY + timedelta(days=day)) for day in range(5)] == [None, {"1"}, {"2"}, {"3"}, set()]


def test_a_clock_that_leaps_ahead_makes_no_day_old() -> None:
    came = Came()
    for at, days in enumerate((0, 3650, 0, 3650, 0, 1)):
        came.add(stay(at, f"{at}"), DAY + timedelta(days=days))
    assert [came.on(DAY + timedelta(days=days)) for days in (0, 1, 2)] == [{"0", "2", "4"}, {"5"}, set()]


def test_a_visit_moves_with_the_clock() -> None:
    came = Came()
    came.add(stay(1, days=-40), DAY - timedelta(days=40))
    came.add(stay(1), DAY)
    assert (came.on(DAY), came.on(DAY - timedelta(days=40))) == ({"own"}, None)


@pytest.mark.parametrize(
    ("job", "apart", "has_come"),
    [("job", 20.0, True), (None, 3.9, True), (None, 4.1, False), ("other", 20.0, False), (None, -20.0, True)],
)
def test_who_was_weighed_in_the_same_job_or_around_that_time_has_come(
    job: str | None, apart: float, *, has_come: bool
) -> None:
    """The date is another: it was midnight in between.  Whose tag was heard later had not lost it by then."""
    came, now = Came(), stay(2, "another").model_copy(update={"job": "job"})
    assert now.tag is not None
    earlier = stay(1).model_copy(update={"job": job, "on": now.on - timedelta(hours=apart)})
    came.add(earlier, DAY)
    arrived = came.by(now, DAY + timedelta(days=1))
    assert arrived is not None
    assert (arrived.animals, arrived.weighings) == (({"own"}, {earlier.weighing}) if has_come else (set(), set()))


def test_one_in_doubt_has_come_by_its_weighing_alone_and_one_struck_out_not_at_all() -> None:
    came = Came()
    came.add(stay(1, "own", Flag.WHICH_ANIMAL), DAY)
    came.add(stay(2, "another", Flag.VOIDED), DAY)
    arrived = came.by(stay(3), DAY)
    assert arrived is not None
    assert (arrived.animals, arrived.weighings) == (set(), {stay(1).weighing})


def test_by_a_day_before_all_that_are_known_nobody_can_tell() -> None:
    came = Came()
    came.add(stay(1), DAY)
    assert came.by(stay(2, days=-1), DAY - timedelta(days=1)) is None


def test_after_a_start_those_that_came_today_and_yesterday_are_not_looked_for(tmp_path: Path) -> None:
    """A box that lost its power at noon asked whether a new tag was one of sixty that had come in the morning."""
    first = datetime(2026, 11, 24, 2, 0, tzinfo=UTC)

    async def started() -> Keeper:
        journal = await Journal.open(tmp_path / "journal.db")
        stays = [
            stay(number, f"animal {number}", days=days).model_copy(update={"treatments": (DRENCHED,)})
            for number, days in ((1, -3), (2, 0), (3, 1), (4, 1))
        ]
        await journal.append([wrap(one, site=SITE, time=first, key=one.weighing) for one in stays])
        keeper = await open_herd(SITE, journal, {}, unheard, UTC)
        await journal.close()
        return keeper

    keeper = run(started())
    assert {animal for animal, _ in keeper.held.on(DAY)} == {f"animal {number}" for number in (1, 2, 3, 4)}
    days = [keeper.came.on(DAY + timedelta(days=days)) for days in (-3, 0, 1)]
    assert days == [{"animal 1"}, {"animal 2"}, {"animal 3", "animal 4"}]
