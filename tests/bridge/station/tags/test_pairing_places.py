"""A reader ahead of the platform: order alone cannot tell a day from the same day shifted by one; the places can.

That animals in a single-file race keep their order, and how many fit into it, is common practice, no source.
"""

from collections.abc import Sequence

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.settings import MOST_PLACES
from neckyoke.bridge.station.tags.pairing import Pairing
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel
from neckyoke.bridge.station.tags.verdict import STEADY, Verdict
from neckyoke.protocols.tagcode import TagCode

TAGS = [TagCode(999, 700 + n) for n in range(40)]
STAYS = [(30.0 + 20 * n, 40.0 + 20 * n) for n in range(40)]


def came_past(n: int, places: int) -> float:
    """Each comes when a place is free: the first ones fill the race, the others when a stay begins."""
    return STAYS[n - places][0] + 2.0 if n >= places else 4.0 + 6.0 * n


def weighed(pairing: Pairing, heard: dict[int, float], stays: range) -> list[TagCode | None]:
    """Let some of the animals stand there; return each stay's last verdict."""
    steps = [(on, 2, n) for n in stays for on in STAYS[n][:1]] + [(STAYS[n][1], 0, n) for n in stays]
    steps += [(t, 1, n) for n, t in heard.items()]
    codes: dict[int, TagCode | None] = {}
    for t, kind, n in sorted(steps):
        while (due := pairing.due) is not None and due <= t:
            codes.update((one.number, one.code) for one in pairing.settle(due))
        if kind == 0:
            codes.update((one.number, one.code) for one in pairing.ended(n, t))
        elif kind == 1:
            pairing.read(t, "race", TAGS[n])
        else:
            pairing.began(n, t)
    codes.update((one.number, one.code) for one in pairing.finish())
    return [codes[n] for n in stays]


def test_with_the_places_told_a_miss_near_the_start_shifts_nobody() -> None:
    heard = {n: came_past(n, 2) for n in range(20) if n != 2}
    codes = weighed(Pairing({"race": "ahead"}, {"race": 2}), heard, range(20))
    assert codes == [None if n == 2 else TAGS[n] for n in range(20)]


def test_a_box_that_starts_while_animals_stand_in_the_race_says_none_rather_than_another() -> None:
    told = Pairing({"race": "ahead"}, {"race": 3})
    heard = {n: came_past(n, 3) for n in range(3, 20)}
    assert weighed(told, heard, range(20)) == [None, None, None, *TAGS[3:20]]


def test_the_places_are_learned_and_an_animal_missed_later_shifts_nobody() -> None:
    pairing = Pairing({"race": "ahead"})
    heard = {n: came_past(n, 2) for n in range(40) if n not in (20, 21, 33)}
    codes = weighed(pairing, heard, range(40))
    assert codes == [None if n in (20, 21, 33) else TAGS[n] for n in range(40)]
    assert pairing.habits["race"]["places"] == 2


def test_what_one_run_learned_the_next_one_knows() -> None:
    before = Pairing({"race": "ahead", "panel": "platform"})
    weighed(before, {n: came_past(n, 2) for n in range(30)}, range(30))
    after = Pairing({"race": "ahead", "panel": "platform"}, habits=before.habits)
    assert after.habits == before.habits
    missed = {n: came_past(n, 2) for n in range(20) if n != 1}
    assert weighed(after, missed, range(20))[2:] == TAGS[2:20]


def test_a_person_knows_the_places_better_than_an_earlier_run() -> None:
    assert Pairing({"race": "ahead"}, {"race": 4}, {"race": {"places": 2}}).habits["race"]["places"] == 4


def test_a_wrong_word_on_the_places_is_unlearned_from_what_other_readers_prove() -> None:
    habits = ReaderModel(5)
    assert habits.usual == 5
    for _ in range(60):
        habits.learn_queue(2)
    assert habits.usual == 2
    assert habits.places() == {2: 0.0}


def test_while_nothing_is_known_every_number_is_tried_and_the_smallest_liked_best() -> None:
    costs = ReaderModel().places()
    assert list(costs) == list(range(1, MOST_PLACES + 1))
    assert sorted(costs.values()) == list(costs.values())


def test_a_pair_by_the_queue_alone_is_never_free_of_doubt() -> None:
    pairing = Pairing({"race": "ahead"}, {"race": 1})
    pairing.read(1.0, "race", TAGS[0])
    pairing.began(1, 8.0)
    (verdict,) = pairing.ended(1, 16.0)
    assert (verdict.code, verdict.flags) == (TAGS[0], (Flag.TAG_DOUBTFUL,))


def close_before(lags_s: Sequence[float], stays: Sequence[tuple[float, float]]) -> dict[int, list[Verdict]]:
    """Let each animal come past a reader so long before its first foot; return every verdict of each stay."""
    pairing = Pairing({"race": "ahead"})
    steps = [(on, 2, n) for n, (on, _) in enumerate(stays)] + [(off, 0, n) for n, (_, off) in enumerate(stays)]
    steps += [(stays[n][0] - lag_s, 1, n) for n, lag_s in enumerate(lags_s)]
    told: dict[int, list[Verdict]] = {}
    for t, kind, n in sorted(steps):
        verdicts = pairing.ended(n, t) if kind == 0 else []
        if kind == 1:
            pairing.read(t, "race", TAGS[n])
        elif kind == 2:
            pairing.began(n, t)
        for verdict in [*verdicts, *(pairing.finish() if (t, n) == (stays[-1][1], len(stays) - 1) else [])]:
            told.setdefault(verdict.number, []).append(verdict)
    return told


def test_a_steady_time_from_the_reader_to_the_first_foot_takes_the_doubt_away_from_the_first_animals_too() -> None:
    lags_s = [1.8, 2.2, 1.9, 2.1, 2.0, 1.7, 2.3, 2.0, 1.9, 2.1]
    told = close_before(lags_s, STAYS[: len(lags_s)])
    assert [verdicts[-1].code for verdicts in told.values()] == TAGS[: len(lags_s)]
    assert told[0][0].flags == (Flag.TAG_DOUBTFUL,)
    assert [verdicts[-1].flags for verdicts in told.values()] == [()] * len(lags_s)
    assert told[0][-1].rule == STEADY


def test_one_that_comes_past_at_another_time_than_usual_stays_doubtful() -> None:
    lags_s = [1.8, 2.2, 1.9, 2.1, 2.0, 1.7, 7.5, 2.0, 1.9, 2.1]
    told = close_before(lags_s, STAYS[: len(lags_s)])
    flagged = [n for n, verdicts in told.items() if verdicts[-1].flags]
    assert flagged == [6]


def test_a_time_that_varies_as_much_as_the_stays_do_proves_nothing() -> None:
    lags_s = [1.0, 9.0, 4.0, 7.5, 2.0, 8.0, 5.5, 3.0, 9.5, 6.5]
    told = close_before(lags_s, [(20.0 * n, 20.0 * n + 8) for n in range(2, 12)])
    assert all(verdicts[-1].flags == (Flag.TAG_DOUBTFUL,) for verdicts in told.values())
