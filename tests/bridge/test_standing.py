"""A trouble is said once when it begins and once when it ends, with its length, whoever meets it how often."""

from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.events import Attention
from neckyoke.bridge.standing import QUIET_S, WITHIN_S, Standing

abouts = st.sampled_from(["zero-off", "unreadable"])
places = st.sampled_from([None, "crush"])
links = st.sampled_from([None, "panel"])
notes = st.builds(
    lambda about, station, link, over, n: Attention(
        station=station, link=link, about=about, over=over, text=f"look {n}"
    ),
    abouts,
    places,
    links,
    st.booleans(),
    st.integers(0, 99),
)


@given(st.lists(st.tuples(st.floats(0.0, 1e6), notes), max_size=40))
def test_beginnings_and_ends_take_turns_and_the_end_says_how_long(steps: list[tuple[float, Attention]]) -> None:
    standing = Standing()
    begun: dict[tuple[str, str | None, str | None], tuple[float, str]] = {}
    t = 0.0
    for after, note in steps:
        t += after
        key = (note.about, note.station, note.link)
        said = standing.note(t, note)
        if (key in begun) != note.over:
            assert said is None
        else:
            assert said is not None
            assert said.model_copy(update={"lasted_s": None}) == note
            assert said.lasted_s == (round(t - begun[key][0], 3) if note.over else None)
        if note.over:
            begun.pop(key, None)
        else:
            begun[key] = (begun[key][0] if key in begun else t, note.text)
        assert len(standing) == len(begun)
        assert [(one.since, one.said.text) for one in standing.all()] == [*begun.values()]


def test_one_that_comes_and_goes_is_said_a_few_times_and_then_stands_until_it_is_quiet() -> None:
    """Garbage with a good frame in it now and then: met and over ten times a second, for a quarter of an hour."""
    standing = Standing(patient=True)
    begun = Attention(station=None, link="panel", about="unreadable", text="cannot be read")
    over = begun.model_copy(update={"over": True})
    said = [
        one
        for n in range(9000)
        for told, at in ((begun, n / 10), (over, n / 10 + 0.05))
        if (one := standing.note(at, told))
    ]
    assert [one.over for one in said] == [False, True, False, True, False]
    assert standing.note(899.9 + QUIET_S - 0.1, over) is None
    last = standing.note(899.9 + QUIET_S, over)
    assert last is not None
    assert last.lasted_s == round(899.9 + QUIET_S - 0.2, 3)


def test_one_that_comes_seldom_ends_at_once() -> None:
    standing = Standing(patient=True)
    begun = Attention(station=None, about="zero-off", text="clean it")
    over = begun.model_copy(update={"over": True})
    for n in range(10):
        assert standing.note(n * WITHIN_S / 2, begun) is not None
        assert standing.note(n * WITHIN_S / 2 + 1.0, over) is not None
