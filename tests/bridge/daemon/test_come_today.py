"""Who was weighed minutes ago has come, whatever the date says by then: no new tag is asked to be a lost one of theirs.

Which animals may be whose is a rule of our own (bridge/herd/identity.py), no outside source.
"""

import pytest

from neckyoke.bridge.events import Flag, Weighing
from tests.support.box import Box, lived

TAGS = tuple(f"9990000001122{n}" for n in range(33, 40))
DAY_S = 86_400.0


async def passes(box: Box, *tags: str) -> None:
    for tag in tags:
        await box.shows(7.0, 300.0 + 7 * TAGS.index(tag), tag)
        await box.shows(4.0, 0.0)


def asked(box: Box) -> list[str]:
    assert box.service is not None
    return [one.text for one in box.service.pipeline.site.keeper.questions.open()]


@pytest.mark.parametrize("paused", [False, True])
@pytest.mark.parametrize("restarts", [False, True])
def test_a_clock_put_right_makes_nobody_doubtful(*, restarts: bool, paused: bool) -> None:
    """All five had a dose by the wrong date and hold by the right one, four before their own turn has come."""

    async def day(box: Box) -> tuple[list[Weighing], list[str]]:
        await box.shows(3.0, 0.0)
        await passes(box, *TAGS[:3])
        if paused:
            await box.says(kind="pause")
        if restarts:
            await box.restart(20.0)
            await box.shows(3.0, 0.0)
        await passes(box, *TAGS[3:5])
        box.hears_the_time()
        await box.shows(60.0, 0.0)
        return box.weighings(), asked(box)

    weighings, questions = lived(day, synchronised=False, slow_s=40 * DAY_S)
    assert [Flag.WHICH_ANIMAL in one.flags for one in weighings] == [False] * 5
    assert {one.on.date().isoformat() for one in weighings} == {"2026-11-24"}
    assert questions == []


def test_a_kill_while_questions_wait_asks_about_nobody_who_was_weighed_before_it() -> None:
    """Two were given a dose the day before, and have not come; three new ones have, and each may be one of the two."""

    async def days(box: Box) -> list[str]:
        await box.shows(3.0, 0.0)
        await passes(box, *TAGS[:2])
        await box.to(box.t + DAY_S)
        await box.shows(3.0, 0.0)
        await box.says(kind="begin", file="sheet.toml")
        await passes(box, *TAGS[2:5])
        await box.restart(20.0)
        await box.shows(3.0, 0.0)
        await passes(box, TAGS[5])
        return asked(box)

    questions = lived(days)
    assert len(questions) == 4
    assert all("2 withheld have not come today" in text for text in questions), questions


def test_what_was_said_of_a_day_holds_for_it_by_the_right_date() -> None:
    """A person said that every unknown tag is a new animal's today; by the wrong date that was another day."""

    async def days(box: Box) -> list[str]:
        await box.shows(3.0, 0.0)
        await passes(box, *TAGS[:2])
        await box.to(box.t + DAY_S)
        await box.shows(3.0, 0.0)
        await box.says(kind="begin", file="sheet.toml")
        await passes(box, TAGS[2])
        assert (await box.says(kind="reply", choice="all new today"))["done"]
        box.hears_the_time()
        await passes(box, TAGS[3])
        return asked(box)

    assert lived(days, synchronised=False, slow_s=40 * DAY_S) == []
