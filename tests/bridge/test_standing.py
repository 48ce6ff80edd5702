"""A trouble is said once when it begins and once when it ends, with its length, whoever meets it how often."""

from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.events import Attention
from neckyoke.bridge.standing import Standing

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
