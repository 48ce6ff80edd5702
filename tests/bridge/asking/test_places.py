"""Places at a door: held to a plain list of who is there, whatever comes and goes."""

import resource
from collections import Counter
from functools import partial

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.asking.places import Place, Places, share

steps = st.lists(
    st.tuples(st.sampled_from(["come", "go", "ask", "done"]), st.integers(0, 3), st.integers(0, 9)), max_size=60
)


@given(steps)
@settings(max_examples=200, deadline=None)
def test_nobody_is_turned_away_while_somebody_waits_in_the_way(steps: list[tuple[str, int, int]]) -> None:
    places = Places(5, 3)
    here: list[Place] = []
    gone: list[Place] = []

    def hang_up(at: int) -> None:
        gone.append(known[at])

    known: list[Place] = []
    for what, address, which in steps:
        if what == "come":
            before, gone[:] = list(here), []
            of_mine = [place for place in before if place.address == str(address)]
            place = places.enter(str(address), partial(hang_up, len(known)))
            here = [one for one in here if one not in gone]
            if place is not None:
                known.append(place)
                here.append(place)
            else:
                assert not any(one.waiting for one in (of_mine if len(of_mine) >= 3 else before))
            assert all(one.waiting for one in gone)
            assert len(gone) <= (len(of_mine) >= 3 or len(before) >= 5)
            if gone and len(of_mine) >= 3:
                assert gone[0] is next(one for one in of_mine if one.waiting)
        elif here and what == "go":
            leaving = here.pop(which % len(here))
            places.leave(leaving)
            places.leave(leaving)
        elif here:
            here[which % len(here)].waiting = what == "done"
        assert places.taken == len(here) <= 5
        assert max(Counter(one.address for one in here).values(), default=0) <= 3


def test_the_one_that_waits_longest_of_the_fullest_address_gives_way() -> None:
    gone: list[str] = []
    places = Places(4, 3)
    for name in ("a1", "b1", "b2", "b3"):
        places.enter(name[0], partial(gone.append, name))

    assert places.enter("c", lambda: None) is not None
    assert gone == ["b1"]


def test_one_address_gets_its_share_and_no_more_though_there_is_room() -> None:
    gone: list[str] = []
    places = Places(100, 3)
    for name in ("a1", "a2", "b1", "a3", "a4", "a5"):
        assert places.enter(name[0], partial(gone.append, name)) is not None

    assert gone == ["a1", "a2"]
    assert places.taken == 4


def test_doors_for_people_get_a_quarter_of_the_descriptors() -> None:
    soft, hard = resource.getrlimit(resource.RLIMIT_NOFILE)
    try:
        resource.setrlimit(resource.RLIMIT_NOFILE, (256, hard))
        assert (share(400), share(10)) == (64, 10)
    finally:
        resource.setrlimit(resource.RLIMIT_NOFILE, (soft, hard))


@pytest.mark.parametrize("most", [0, 1])
def test_there_may_be_no_place_at_all(most: int) -> None:
    places = Places(most, 1)
    first = places.enter("a", lambda: None)
    if first is not None:
        first.waiting = False

    assert places.enter("b", lambda: None) is None
    assert places.turned_away == 2 - most
