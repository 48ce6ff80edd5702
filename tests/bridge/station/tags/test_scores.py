"""What all readers of a station say of each pass at each stay, added up: worked by hand from the table of points."""

from math import inf, log

import pytest

from neckyoke.bridge.events import Position
from neckyoke.bridge.station.tags.readers import panel as panels
from neckyoke.bridge.station.tags.readers.detections import Detection, Pass, Span
from neckyoke.bridge.station.tags.readers.habit import Habit
from neckyoke.bridge.station.tags.readers.hand import in_turn
from neckyoke.bridge.station.tags.readers.once import in_turn as says_in_turn
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel
from neckyoke.bridge.station.tags.scores import Decided, Score, Scorer, Scores
from neckyoke.protocols.tagcode import TagCode

AT: dict[str, Position] = {"panel": "platform", "gate": "platform", "race": "ahead", "stick": "hand"}
SPANS = [Span(n + 11, 20.0 * n, 20.0 * n + 10.0, n + 1) for n in range(1, 5)]  # 20 to 30, 40 to 50, ...
BEGAN = [span.on for span in SPANS]


def one(tag: int, *heard: tuple[float, str]) -> Pass:
    return Pass(TagCode(999, tag), [Detection(t, link, AT[link]) for t, link in heard])


def scores(
    *passes: Pass,
    links: str = "panel",
    deaf: frozenset[tuple[str, int]] = frozenset(),
    decided: Decided | None = None,
    models: dict[str, ReaderModel] | None = None,
) -> Scores:
    readers = {link: AT[link] for link in links.split()}
    models = models or {link: ReaderModel(1) for link in readers}
    return Scorer(readers, models, SPANS, BEGAN, deaf).score(passes, decided or Decided())


def test_a_score_is_the_sum_of_its_parts() -> None:
    assert Score({"a": 1.5, "b": -4.0}).total == -2.5
    assert Score().total == 0.0
    assert Score().order_margin == (inf, None)


def test_what_a_panel_says_is_taken_as_it_says_it_and_a_stay_has_a_tag() -> None:
    mine = one(1, *((t, "panel") for t in (40.5, 42.5, 44.5)))
    told = panels.score(mine.heard, SPANS, ReaderModel(1))
    got = scores(mine)
    assert set(got) == {(at, 0) for at in told}
    for at, parts in told.items():
        assert got[at, 0].parts == {f"panel: {name}": value for name, value in parts.items()} | {
            "a stay has a tag": 3.0
        }
        assert got[at, 0].heard_well is (sum(parts.values()) > 0)
    assert got[1, 0].heard_well


@pytest.mark.parametrize(("reads", "well"), [((40.2, 45.0), False), ((40.2, 43.4, 46.6), True)])
def test_a_panel_speaks_for_a_tag_by_however_little_is_left_for_it(reads: tuple[float, ...], *, well: bool) -> None:
    """Heard in two stays, it may have stood in the next but one: just below nothing, and just above."""
    mine = one(1, *((t, "panel") for t in (*reads, 60.2)))
    said = sum(panels.score(mine.heard, SPANS, ReaderModel(1))[3].values())
    assert -0.5 < said < 0.5
    assert scores(mine)[3, 0].heard_well is well is (said > 0)


def test_two_panels_add_up_and_one_that_never_heard_it_speaks_against_it() -> None:
    mine = one(1, (41.0, "panel"))
    alone, both = scores(mine)[1, 0], scores(mine, links="panel gate")[1, 0]
    against = panels.unheard(SPANS[1], ReaderModel(1))
    assert against < 0
    assert both.parts == alone.parts | {"gate: not heard": against}
    deaf = scores(mine, links="panel gate", deaf=frozenset({("gate", 13)}))[1, 0]
    assert deaf.parts == alone.parts, "its silence proves nothing"
    elsewhere = scores(mine, links="panel gate", deaf=frozenset({("gate", 12), ("panel", 13)}))[1, 0]
    assert elsewhere.parts == both.parts


# -- a reader ahead, with one place: an animal comes past as the one before it steps on


def test_in_its_place_a_tag_ahead_scores_three_and_elsewhere_what_it_costs() -> None:
    got = scores(one(1, (25.0, "race")), one(2, (45.0, "race")), links="race")
    in_place = {"race: its place in the queue": 3.0, "a stay has a tag": 3.0}
    assert got[1, 0].parts == in_place
    assert got[2, 1].parts == in_place
    wrong = got[2, 0].parts["race: not its place in the queue"]
    assert wrong == pytest.approx(-3.0 - 3.0), "it costs more than three: counted to three, and what a stay's tag gave"
    assert "race: its place in the queue" not in got[2, 0].parts
    assert (0, 0) not in got, "it came past after that one stepped on"


def test_a_place_that_costs_little_more_is_little_less_likely() -> None:
    got = scores(one(1, (25.0, "race")), links="race", models={"race": ReaderModel(2)})
    assert got[2, 0].parts["race: its place in the queue"] == 3.0
    sooner = got[1, 0].parts["race: not its place in the queue"]
    assert sooner == pytest.approx(-2.5 - 3.0, abs=0.001)  # it would have hung back, and what a stay's tag gave


def test_what_a_panel_hears_well_makes_its_place_cheaper_and_costs_no_tag() -> None:
    mine = one(1, (25.0, "race"), *((t, "panel") for t in (60.5, 61.5, 62.5, 63.5)))
    got = scores(mine, links="race panel")
    assert got[2, 0].heard_well
    assert got[2, 0].parts["race: its place in the queue"] == 3.0, (
        "six points outweigh one place too many, which is five"
    )
    assert got[1, 0].parts["race: not its place in the queue"] == pytest.approx(-1.0 - 3.0, abs=0.001)
    assert got[3, 0].heard_well, "it may have waited behind"
    assert got[3, 0].parts["race: not its place in the queue"] == pytest.approx(-3.0)


def test_only_a_panel_that_heard_nothing_of_it_speaks_against_a_tag() -> None:
    both = scores(one(1, (41.0, "panel"), (42.0, "gate")), links="panel gate race stick")[1, 0]
    assert [name for name in both.parts if name.endswith("not heard")] == []


def test_a_tag_that_came_past_again_after_the_stay_began_did_not_stand_there() -> None:
    got = scores(one(1, (25.0, "race"), (45.0, "race")), links="race")
    assert got[2, 0].parts == {"race: its place in the queue": 3.0, "a stay has a tag": 3.0}
    seen = scores(one(1, (25.0, "race"), (41.0, "panel"), (45.0, "race")), links="race panel")
    assert seen[1, 0].parts["race: came past again later"] == seen[1, 0].came == -9.0
    assert "race: came past again later" not in seen.get((2, 0), Score()).parts


def test_what_its_coming_is_worth_by_itself_is_kept_whatever_the_order_says() -> None:
    got = scores(one(1, (25.0, "race")), one(2, (26.0, "race")), one(3, (41.0, "panel")), links="race panel")
    assert got[1, 0].came == got[1, 1].came == 0.0, "each came when the place was free"
    assert got[2, 0].came == pytest.approx(-5.0), "a stay sooner"
    assert got[1, 2].came is None, "it was never heard there"
    two = {link: ReaderModel(1) for link in ("race", "run")}
    AT["run"] = "ahead"
    both = scores(one(1, (25.0, "race"), (26.0, "run")), links="race run", models=two)
    assert both[2, 0].came == pytest.approx(-10.0), "two readers heard it"


def test_how_sure_an_order_is_is_kept() -> None:
    got = scores(one(1, (25.0, "race")), one(2, (26.0, "race")), links="race")
    assert got[1, 1].parts["race: not its place in the queue"] == pytest.approx(-3.0 - 3.0)  # 1 would have backed out
    margin, rival = got[1, 0].order_margin
    assert margin == pytest.approx(3.5, abs=0.01), "else the stay were one unheard"
    assert rival is None
    alone = scores(one(1, (25.0, "race"), (41.0, "panel")), links="race panel")
    assert alone[1, 0].order_margin[0] > margin, "a panel heard it too"


def test_a_steady_time_ahead_is_evidence_of_its_own() -> None:
    model = ReaderModel(1)
    for _ in range(12):
        model.lag.learn(3.0)
    steady = scores(one(1, (37.0, "race")), links="race", models={"race": model})[1, 0]
    assert steady.timed
    assert steady.parts["race: 3.0 s before it, as usual"] == pytest.approx(model.lag.points(3.0, 20.0))
    wide = ReaderModel(1)
    for lag_s in [8.4, 10.0, 11.6] * 4:
        wide.lag.learn(lag_s)
    far = scores(one(1, (23.0, "race")), links="race", models={"race": wide})[1, 0]
    assert wide.lag.points(17.0, 20.0) < 0
    assert far.parts["race: 17.0 s before it, as usual"] == 0.0, "it is no evidence against it"
    odd = scores(one(1, (25.0, "race")), links="race", models={"race": model})
    assert not any(score.timed for score in odd.values())


@pytest.mark.parametrize(
    ("places", "behind", "alone"), [(1, 45.0, True), (1, 65.0, False), (2, 45.0, False), (None, 45.0, False)]
)
def test_where_somebody_said_that_one_fits_it_may_have_come_past_alone(
    places: int | None, behind: float, *, alone: bool
) -> None:
    model = ReaderModel(places, {"places": 1})
    got = scores(one(1, (25.0, "race")), one(2, (behind, "race")), links="race", models={"race": model})
    assert model.single_file is (places == 1)
    if (1, 0) in got:
        assert got[1, 0].alone is alone
    assert not got.get((2, 0), Score()).alone, "another had stepped on since"


@pytest.mark.parametrize(("lag_s", "alone"), [(15.0, True), (3.0, False), (None, True)])
def test_one_that_came_past_alone_is_not_sure_where_it_took_quite_another_time_than_always(
    lag_s: float | None, *, alone: bool
) -> None:
    """Drawn yards: the tag was heard late, its animal's foot on the platform; the next one's was dead."""
    model = ReaderModel(1, {"lag_s": lag_s, "lag_scale_s": 0.6} if lag_s is not None else {})
    got = scores(one(1, (25.0, "race")), one(2, (45.0, "race")), links="race", models={"race": model})
    assert got[1, 0].alone is alone


# -- a reader in the hand


def test_beside_a_panel_a_read_by_hand_costs_its_distance() -> None:
    got = scores(one(1, (45.0, "stick")), links="stick panel", deaf=frozenset(("panel", n) for n in range(20)))
    assert got[1, 0].parts == {"stick: read while it stood": 6.0, "a stay has a tag": 3.0}
    away = got[2, 0].parts["stick: read 15.0 s away"]
    assert away == pytest.approx(6.0 - (0.05 * 15 + 0.6 * 9 - log(0.1)))
    assert (3, 0) not in got, "35 s away it is meant for another"


def turns(*reads: tuple[float, ...]) -> dict[tuple[int, int], float]:
    """Return the chance of each (stay, tag) of all ways."""
    tags = [[Detection(t, "stick", "hand") for t in times] for times in reads]
    found = in_turn(tags, SPANS, Habit(), lambda *_: True)
    return {(at, of): chance for (of, at), chance in found.items()}


def test_without_one_the_order_of_reading_tells() -> None:
    got = scores(one(1, (45.0, "stick")), one(2, (56.0, "stick")), links="stick")
    expected = turns((45.0,), (56.0,))
    assert {pair: score.chance for pair, score in got.items()} == pytest.approx(expected)
    assert expected[1, 0] > 0.99
    assert 0.99 < expected[2, 1] < 0.999, "56 is four seconds before its stay, and may be late for the one before"
    odds = log(expected[2, 1] / (1 - expected[2, 1]))
    assert got[2, 1].parts == {
        f"stick: read 4.0 s away, {100 * expected[2, 1]:.1f} % likely in its turn": pytest.approx(odds - 1.0),
        "a stay has a tag": 3.0,
    }


def test_the_other_stay_that_may_be_its_owner_is_named() -> None:
    got = scores(one(1, (45.0, "stick")), one(2, (56.0, "stick")), links="stick")
    assert got[2, 1].owner == 3, "read in its place, for the one before has a tag that fits"
    assert got[1, 1].owner == 2
    assert got[1, 0].owner == 0
    barred = scores(one(1, (11.0, "stick")), links="stick", decided=Decided({1: None}))
    assert barred[0, 0].owner is None, "the others are too far off"


def test_a_tag_has_its_turn_when_it_is_first_read() -> None:
    got = scores(one(1, (45.0, "stick"), (62.0, "stick")), one(2, (56.0, "stick")), links="stick")
    assert {pair: score.chance for pair, score in got.items()} == pytest.approx(turns((45.0, 62.0), (56.0,)))


def test_what_is_next_to_sure_scores_no_more_than_can_be_said() -> None:
    score = Score()
    score.take_turn("stick: read while it stood", 1.0, None)
    assert score.parts == {"stick: read while it stood, 100.0 % likely in its turn": pytest.approx(log(1e9) - 1.0)}


def test_a_read_is_nobodys_who_has_another_tag_for_sure() -> None:
    got = scores(
        one(1, (45.0, "stick")), one(2, (46.0, "stick")), links="stick", decided=Decided({1: 0}, frozenset({0}))
    )
    assert (1, 1) not in got
    assert (2, 0) not in got


# -- a reader that says each tag once


def test_where_one_reader_says_each_tag_once_the_order_tells() -> None:
    once = ReaderModel(kept={"again": 0.01})
    got = scores(one(1, (41.0, "panel")), one(2, (48.0, "panel")), models={"panel": once})
    tags = [[Detection(t, "panel", "platform")] for t in (41.0, 48.0)]
    expected = says_in_turn(tags, SPANS, once.once, lambda *_: True)
    assert {(at, of): score.chance for (at, of), score in got.items()} == pytest.approx(
        {(at, of): chance for (of, at), chance in expected.items()}
    )
    chance = expected[1, 2]
    assert chance > 0.9
    odds = log(chance / (1 - chance))
    assert got[2, 1].parts == {
        f"panel: said once, 12.0 s before stepping on, {100 * chance:.1f} % likely in its turn": pytest.approx(
            odds - 1.0
        ),
        "a stay has a tag": 3.0,
    }
    assert any(name.startswith("panel: said once, 1.0 s after stepping on, ") for name in got[1, 0].parts)
    assert (got[2, 1].owner, got[2, 1].heard_well, got[1, 1].heard_well) == (1, True, False)


@pytest.mark.parametrize(
    ("links", "again", "once"),
    [("panel", 0.01, True), ("panel", 0.5, False), ("panel race", 0.01, False), ("stick", 0.01, False)],
)
def test_beside_other_readers_or_while_it_may_say_them_again_a_panel_tells_by_how_much_it_hears(
    links: str, again: float, *, once: bool
) -> None:
    link = links.split(maxsplit=1)[0]
    models = {name: ReaderModel(kept={"again": again}) for name in links.split()}
    got = scores(one(1, (41.0, link)), links=links, models=models)[1, 0]
    assert any("said once" in name for name in got.parts) is once


def test_where_order_tells_what_is_decided_moves_the_scores_of_the_others() -> None:
    for links, again, ordered in (
        ("panel", 0.5, False),
        ("panel gate", 0.01, False),
        ("panel", 0.01, True),
        ("panel race", 0.5, True),
        ("stick", 0.5, True),
    ):
        readers = {link: AT[link] for link in links.split()}
        models = {link: ReaderModel(kept={"again": again}) for link in readers}
        assert Scorer(readers, models, SPANS, BEGAN).ordered is ordered


# -- what is decided


def test_what_is_spoken_for_can_be_nobodys_else() -> None:
    decided = Decided({1: 4, 2: None}, frozenset({4, 7}))
    assert decided.may(4, 1)
    assert not decided.may(3, 1)
    assert not decided.may(3, 2)
    assert decided.may(3, 0)
    assert not decided.may(7, 0)


def test_a_stay_decided_without_these_tags_costs_no_order_anything_and_one_with_one_keeps_it() -> None:
    decided = Decided({1: 4, 2: None, 3: 9})
    assert decided.skips(5, [4, 5]) == [1.0, inf, 0.0, 0.0, 1.0]


def test_an_order_leaves_alone_what_is_decided() -> None:
    passes = (one(1, (25.0, "race")), one(2, (45.0, "race")))
    got = scores(*passes, links="race", decided=Decided({1: None}, frozenset()))
    assert (1, 0) not in got
    by_hand = scores(one(1, (45.0, "stick")), links="stick", decided=Decided({1: None}, frozenset()))
    assert (1, 0) not in by_hand
