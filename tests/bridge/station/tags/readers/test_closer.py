"""A closer look: the chance of a pair against all ways to deal, counted one by one, and by example."""

from collections.abc import Sequence
from itertools import product
from math import exp, log

import pytest

from neckyoke.bridge.station.tags.readers.closer import AGAIN_S, BARE, Around, hears, look, together
from neckyoke.bridge.station.tags.readers.detections import Detection, Pass, Span
from neckyoke.bridge.station.tags.readers.presence import PEN, Hears, roamed, stood
from neckyoke.bridge.station.tags.readers.race import BACKED_OUT, UNHEARD
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel
from neckyoke.bridge.station.tags.scores import Score
from neckyoke.protocols.tagcode import TagCode

SPANS = [Span(n + 1, 20.0 * n, 20.0 * n + 10.0) for n in range(6)]
DEALT = range(5)
"""The stays about the third."""
MODEL = ReaderModel(kept={"share": 0.5})
MODELS = {"panel": MODEL, "race": ReaderModel()}


def heard(tag: int, *times: float, link: str = "panel") -> Pass:
    position = "platform" if link == "panel" else "ahead"
    return Pass(TagCode(999, tag), [Detection(t, link, position) for t in times])  # type: ignore[arg-type]


def through(start: float, end: float) -> list[float]:
    return [start + 0.5 * n for n in range(int((end - start) / 0.5))]


def by_hand(at: int, of: int, passes: Sequence[Pass], points: dict[tuple[int, int], float]) -> float:
    """Add up all ways to give each tag to one of the stays or to none, no stay two."""
    model = hears("panel", passes, MODEL)

    def stands(stay: int, times: tuple[float, ...]) -> float:
        before, after = (SPANS[n] if 0 <= n < len(SPANS) else None for n in (stay - 1, stay + 1))
        return stood(times, before, SPANS[stay], after, model)

    every = mine = 0.0
    for way in product((None, *DEALT), repeat=len(passes)):
        taken = [stay for stay in way if stay is not None]
        if len(set(taken)) < len(taken):
            continue
        total = sum(log(BARE + (1 - BARE) * exp(stands(stay, ()))) for stay in DEALT if stay not in taken)
        for tag, stay in enumerate(way):
            times = tuple(one.t for one in passes[tag].heard if one.link == "panel")
            if stay is None:
                total += log(PEN) + roamed(times, model.repeat_s)
            else:
                total += log(1 - BARE) + stands(stay, times) + points.get((stay, tag), 0.0)
        every += exp(total)
        mine += exp(total) * (way[of] == at)
    return mine / every


WAITED = [heard(1, *through(20.0, 30.0)), heard(2, *through(47.0, 50.0), *through(60.0, 64.0))]
TWICE = [heard(1, *through(45.0, 55.0)), heard(2, *through(40.0, 44.0))]


@pytest.mark.parametrize(("passes", "of"), [(WAITED, 0), (WAITED, 1), (TWICE, 0), (TWICE, 1)])
def test_it_is_the_share_of_all_ways_to_deal(passes: list[Pass], of: int) -> None:
    """Also of those in which a tag's animal stood two stays further, unheard, and the tag was noise since."""
    assert look(2, of, SPANS, passes, MODELS, Around()) == pytest.approx(by_hand(2, of, passes, {}), rel=1e-6)


def test_the_points_of_other_readers_count_but_for_what_each_pair_has() -> None:
    """Of a reader ahead the coming of the tag itself, not its place in an order that the platform had a say in."""
    passes = [heard(1, *through(45.0, 55.0)), heard(2, *through(40.0, 44.0)), heard(3, 5.0, link="race")]
    passes[1].heard.insert(0, Detection(3.0, "race", "ahead"))
    scores = {
        (2, 0): Score({"stick: read while it stood": 3.0, "panel: heard in 9 of 10 s": 9.0, "a stay has a tag": 3.0}),
        (2, 1): Score({"race: its place in the queue": 3.0}, came=-1.0),
        (3, 1): Score({"race: not its place in the queue": -3.0, "a stay has a tag": 3.0}, came=-4.0),
        (2, 2): Score({"race: its place in the queue": 3.0, "a stay has a tag": 3.0}, came=0.5),
    }
    points = {(stay, 0): -UNHEARD for stay in DEALT} | {(2, 0): 3.0 - UNHEARD}
    points |= {(2, 1): BACKED_OUT - 1.0, (3, 1): BACKED_OUT - 4.0, (2, 2): BACKED_OUT + 0.5}
    for of in range(3):
        found = look(2, of, SPANS, passes, MODELS, Around(scores=scores))
        assert found == pytest.approx(by_hand(2, of, passes, points), rel=1e-6)


def test_the_last_stay_s_tag_may_be_of_an_animal_still_to_come() -> None:
    passes = [heard(n, *through(20.0 * n, 20.0 * n + 10.0)) for n in range(3)] + [heard(9, 62.0)]
    last = look(3, 3, SPANS[:4], passes, MODELS, Around())
    followed = look(3, 3, SPANS, [*passes, heard(10, *through(80.0, 90.0))], MODELS, Around())
    assert last < followed < 1.0, "heard once, where this reader hears half of a stay: it may have waited"


def test_after_a_long_pause_nobody_waited() -> None:
    """Found by the laws of what is taken back: an animal alone after twenty minutes was in doubt."""
    alone = [Span(1, 0.0, 10.0), Span(2, 1200.0, 1204.0)]
    passes = [heard(1, *through(1.0, 9.0)), heard(2, 1201.0, 1201.5, 1203.0)]
    assert all(look(stay, stay, alone, passes, MODELS, Around()) > 0.95 for stay in range(2))


def test_what_a_person_gave_another_stay_is_not_dealt() -> None:
    passes = [heard(1, *through(40.0, 50.0)), heard(2, *through(46.0, 50.0))]
    doubtful = look(2, 1, SPANS, passes, MODELS, Around())
    assert doubtful < 0.01, "the other tag was heard through the stay"
    assert look(2, 1, SPANS, passes, MODELS, Around(words={1: 0})) > 10 * doubtful


def test_a_stay_of_which_silence_says_nothing_may_be_the_owner_s() -> None:
    passes = [heard(1, *through(47.0, 50.5))]
    sure = look(2, 0, SPANS, passes, MODELS, Around())
    assert look(2, 0, SPANS, passes, MODELS, Around(deaf=frozenset({("panel", 4)}))) < sure


def test_a_tag_that_was_heard_through_another_stay_too_stood_there_and_lingered() -> None:
    """Drawn yards: it lingered in front, silent through one whole stay; the next one's own tag was dead."""
    first, second = heard(1, *through(20.5, 29.0)), heard(1, 61.0)
    assert look(3, 0, SPANS, [second], MODELS, Around()) > 0.2, "by itself"
    for passes in ([first, second], [second, first]):
        of = passes.index(second)
        assert together(of, SPANS, passes) == [of, 1 - of]
        assert look(3, of, SPANS, passes, MODELS, Around()) < 1e-3
        assert look(1, 1 - of, SPANS, passes, MODELS, Around()) > 0.99


def test_two_passes_of_one_tag_are_dealt_to_one_stay_when_another_s_is_looked_at() -> None:
    passes = [heard(1, 63.0), heard(2, *through(20.5, 29.0)), heard(2, 61.0)]
    joined = [heard(1, 63.0), heard(2, *through(20.5, 29.0), 61.0)]
    assert look(3, 0, SPANS, passes, MODELS, Around()) == pytest.approx(look(3, 0, SPANS, joined, MODELS, Around()))


WELL, BRIEFLY = heard(1, *through(80.5, 89.0)), heard(1, 81.0)


@pytest.mark.parametrize(
    ("mine", "other", "one"),
    [
        (BRIEFLY, heard(1, *through(22.0, 29.0)), True),
        (BRIEFLY, heard(2, *through(22.0, 29.0)), False),
        (WELL, heard(1, *through(22.0, 29.0)), False),  # it went round, or came on again
        (WELL, heard(1, 61.0, 65.9), True),
        (WELL, heard(1, 61.0, 66.0), False),
        (BRIEFLY, heard(1, 21.5), True),
        (BRIEFLY, heard(1, 81.0 - AGAIN_S), False),
    ],
)
def test_two_passes_are_one_animal_s_but_for_those_heard_well_both_times(mine: Pass, other: Pass, *, one: bool) -> None:
    assert together(0, SPANS, [mine, other]) == ([0, 1] if one else [0])
    assert together(1, SPANS, [mine, other]) == ([1, 0] if one else [1])


def test_what_a_reader_ahead_never_heard_is_the_likelier_nobody_s() -> None:
    """Drawn yards: a tag in the next pen, heard now and then, also in the stay of an animal whose own was dead."""
    stray = heard(1, 24.0, 42.0, 64.0)
    before = look(2, 0, SPANS, [stray], MODELS, Around())
    race = heard(2, 5.0, link="race")
    unheard = look(2, 0, SPANS, [stray, race], MODELS, Around())
    assert 1 - unheard > 5 * (1 - before)
    deaf = frozenset(("race", span.number) for span in SPANS)
    assert look(2, 0, SPANS, [stray, race], MODELS, Around(deaf=deaf)) == pytest.approx(before)
    came = Pass(stray.code, [*heard(1, 6.0, link="race").heard, *stray.heard])
    assert look(2, 0, SPANS, [came, race], MODELS, Around()) == pytest.approx(before)


def coarse(share: float) -> float:
    """Return a share in steps of an eighth of itself."""
    return round(exp(round(8 * log(share)) / 8), 3)


@pytest.mark.parametrize(
    ("times", "expected"),
    [
        ([through(0.0, 9.0), through(20.0, 29.0)], Hears(coarse(1 - 0.5**0.8), 0.0, 0.15, 0.04)),
        ([[0.0, 3.0, 6.0], [20.0, 23.1]], Hears(coarse(1 - exp(-2.0)), 3.0, 0.15, 0.04)),
        ([[0.0], [20.0], [40.0]], Hears(coarse(1 - exp(-0.5 / 4.0)), 60.0, 0.15, 0.04)),
        ([], Hears(coarse(1 - exp(-0.5 / 4.0)), 60.0, 0.15, 0.04)),
    ],
)
def test_how_a_reader_hears_is_told_by_what_it_said_and_what_is_known(
    times: list[list[float]], expected: Hears
) -> None:
    assert hears("panel", [heard(n, *one) for n, one in enumerate(times)], MODEL) == expected


def test_one_known_to_say_each_tag_once_is_told_by_when_it_says_them() -> None:
    once = ReaderModel(kept={"again": 0.0, "said_entry_s": 1.0})
    assert hears("panel", [heard(1, 5.0)], once).share == coarse(1 - exp(-0.5))
