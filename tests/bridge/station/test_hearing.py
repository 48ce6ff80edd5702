"""A reader that babbles is said once, and what it says is bounded; one that reads a day's list out is not."""

import pytest

from neckyoke.bridge.events import Attention, TagSeen
from neckyoke.bridge.station.hearing import AT_ONCE, KEPT_TAGS, MOST_LOOKS, STEADILY_PER_S, Hearing
from neckyoke.bridge.station.settings import Settings
from neckyoke.protocols.tagcode import TagCode


def code(number: int) -> TagCode:
    made = TagCode.from_digits(f"999{number:012d}")
    assert isinstance(made, TagCode)
    return made


@pytest.fixture
def hearing() -> Hearing:
    readers = {"panel": "platform", "stick": "hand"}
    return Hearing(Settings("larkmoor", "crush", "indicator", readers))  # type: ignore[arg-type]


def test_ever_new_tags_are_announced_up_to_a_bound(hearing: Hearing) -> None:
    """A minute of a thousand new tags a second; the other reader is heard as ever."""
    told = [one for n in range(60_000) for one in hearing.heard(n / 1000, "panel", code(n))]
    assert sum(isinstance(one, TagSeen) for one in told) <= AT_ONCE + 60 * STEADILY_PER_S
    assert len(hearing._heard) <= KEPT_TAGS, "nor are they all remembered"
    said = [one for one in told if isinstance(one, Attention)]
    assert [(one.about, one.link, one.station, one.over) for one in said] == [("babble", "panel", "crush", False)]
    assert [type(one) for one in hearing.heard(60.0, "stick", code(1))] == [TagSeen]

    calm_s = 60.0 + AT_ONCE / STEADILY_PER_S
    over, seen = hearing.heard(calm_s, "panel", code(70_000))
    assert isinstance(over, Attention)
    assert isinstance(seen, TagSeen)
    assert over.over
    assert over.lasted_s == pytest.approx(calm_s - AT_ONCE / 1000, abs=2.0)


def test_a_days_list_at_once_and_a_busy_race_are_announced_whole(hearing: Hearing) -> None:
    """A hand reader gives what it has collected; a race lets an animal pass each second for an hour."""
    told = [one for n in range(AT_ONCE) for one in hearing.heard(0.0, "stick", code(n))]
    told += [one for n in range(3600) for one in hearing.heard(float(n), "panel", code(1000 + n))]
    assert [type(one) for one in told] == [TagSeen] * (AT_ONCE + 3600)


def test_a_tag_is_announced_again_when_it_was_unheard_for_a_minute(hearing: Hearing) -> None:
    heard = [bool(hearing.heard(t, "panel", code(1))) for t in (0.0, 0.1, 59.0, 118.9, 178.9, 238.8)]
    assert heard == [True, False, False, False, True, False]


def test_a_read_of_a_known_tag_is_worth_a_look_four_times_a_second_and_a_new_ones_is_at_once(hearing: Hearing) -> None:
    def look(t: float, number: int) -> bool:
        hearing.heard(t, "panel", code(number))
        return hearing.looks(t)

    assert [look(n / 100, 1) for n in range(101)] == [n % 25 == 0 for n in range(101)]
    assert look(1.01, 2), "a new one"
    assert not look(1.02, 2), "it is known now"
    assert [look(10.0 + n / 100, 10 + n) for n in range(12)] == [True] * MOST_LOOKS + [False] * 4
    assert not look(10.99, 50), "and all to no more than so many a second"
    assert look(11.0, 51)


def test_a_read_of_the_tag_that_is_held_is_worth_a_look_every_two_seconds(hearing: Hearing) -> None:
    """Between two of them reads of another tag are looked at as ever: they may change which it is."""

    def look(t: float, number: int) -> bool:
        hearing.heard(t, "panel", code(number))
        return hearing.looks(t, held=number == 1)

    assert look(0.0, 1)
    assert [look(n / 100, 1) for n in range(1, 201)] == [n == 200 for n in range(1, 201)]
    assert look(2.1, 2), "a new one"
    assert [look(2.1 + n / 100, 2) for n in range(1, 51)] == [n % 25 == 0 for n in range(1, 51)]
    assert not look(4.5, 1)


def test_one_that_babbled_is_heard_again_only_when_its_allowance_is_whole(hearing: Hearing) -> None:
    told = [one for n in range(AT_ONCE + 1) for one in hearing.heard(0.0, "panel", code(n))]
    assert [type(one) for one in told] == [TagSeen] * AT_ONCE + [Attention]
    whole_s = AT_ONCE / STEADILY_PER_S
    assert hearing.heard(10.0, "panel", code(1000)) == []
    assert hearing.heard(whole_s, "panel", code(1001)) == [], "one was taken at 10 s"
    over, seen = hearing.heard(whole_s + 1.0, "panel", code(1002))
    assert isinstance(over, Attention)
    assert isinstance(seen, TagSeen)
    assert (seen.tag.reads, seen.tag.link) == (1, "panel")
    (began,) = (one for one in told if isinstance(one, Attention))
    assert (began.over, "See to the reader." in began.text) == (False, True)
    assert (over.over, over.text) == (True, "panel reads no more tags than animals can pass.")


@pytest.mark.parametrize(("others", "again"), [(299, False), (300, True)])
def test_so_many_tags_are_remembered(hearing: Hearing, others: int, *, again: bool) -> None:
    hearing.heard(0.0, "panel", code(1))
    for n in range(others):
        hearing.heard(1.0, "panel", code(10 + n))
    assert bool(hearing.heard(2.0, "panel", code(1))) is again
