"""Pairing as a table of what was heard and what is said of it: every line of the table in tags/verdict.py."""

from collections.abc import Sequence
from dataclasses import dataclass, field

import pytest

from neckyoke.bridge.events import Flag, Position
from neckyoke.bridge.station.tags.pairing import WINDOW_S, WINDOW_STAYS, Pairing
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.protocols.tagcode import TagCode

PANEL: dict[str, Position] = {"panel": "platform"}
RACE: dict[str, Position] = {"race": "ahead"}
STICK: dict[str, Position] = {"stick": "hand"}
A, B, C, D = (TagCode(999, 112200 + n) for n in range(4))


def steadily(tag: TagCode, start: float, end: float, every_s: float = 0.4) -> list[tuple[float, TagCode]]:
    return [(start + n * every_s, tag) for n in range(int((end - start) / every_s) + 1)]


@dataclass
class Day:
    """Stays and reads, told in order of time; `verdicts` keeps each stay's every verdict."""

    readers: dict[str, Position]
    stays: Sequence[tuple[float, float]]
    reads: Sequence[tuple[float, TagCode]] = ()
    link: str = ""
    words: Sequence[tuple[float, int, TagCode | None]] = ()
    downs: Sequence[tuple[float, bool]] = ()
    verdicts: dict[int, list[Verdict]] = field(default_factory=dict)

    def told(self) -> dict[int, list[Verdict]]:
        pairing = Pairing(self.readers)
        link = self.link or next(iter(self.readers), "")
        steps: list[tuple[float, int, object]] = [(t, 1, tag) for t, tag in self.reads]
        for number, (on, off) in enumerate(self.stays, 1):
            steps += [(on, 2, number), (off, 0, number)]
        steps += [(t, 3, (number, tag)) for t, number, tag in self.words]
        steps += [(t, 4, up) for t, up in self.downs]
        for t, kind, what in sorted(steps, key=lambda step: step[:2]):
            while (due := pairing.due) is not None and due <= t:
                self.keep(pairing.settle(due))
            if kind == 0:
                assert isinstance(what, int)
                self.keep(pairing.ended(what, t))
            elif kind == 1:
                assert isinstance(what, TagCode)
                pairing.read(t, link, what)
            elif kind == 2:
                assert isinstance(what, int)
                pairing.began(what, t)
            elif kind == 3:
                assert isinstance(what, tuple)
                self.keep(pairing.word(t, *what))
            else:
                pairing.link(t, link, up=bool(what))
        while (due := pairing.due) is not None:
            self.keep(pairing.settle(due))
        return self.verdicts

    def keep(self, verdicts: Sequence[Verdict]) -> None:
        for verdict in verdicts:
            self.verdicts.setdefault(verdict.number, []).append(verdict)


def last(day: Day) -> list[tuple[TagCode | None, tuple[Flag, ...]]]:
    return [(verdicts[-1].code, verdicts[-1].flags) for _, verdicts in sorted(day.told().items())]


THREE = ((0.0, 10.0), (14.0, 24.0), (28.0, 38.0))
OWN = steadily(A, 1, 9) + steadily(B, 15, 23) + steadily(C, 29, 37)


def test_who_else_may_be_a_doubtful_tags_owner_is_said() -> None:
    told = Day(PANEL, THREE, steadily(A, 1, 9) + steadily(B, 15, 35)).told()
    said = {number: verdicts[-1] for number, verdicts in told.items()}
    assert [said[number].code for number in (1, 2, 3)] == [A, B, None]
    assert Flag.TAG_DOUBTFUL in said[2].flags
    assert said[2].rule == "number 3 had no tag and may be its owner"


def test_each_heard_in_its_own_stay_is_paired_without_a_flag() -> None:
    assert last(Day(PANEL, THREE, OWN)) == [(A, ()), (B, ()), (C, ())]


def test_no_tag_heard_is_said() -> None:
    assert last(Day(PANEL, THREE, steadily(A, 1, 9))) == [(A, ()), (None, (Flag.NO_TAG,)), (None, (Flag.NO_TAG,))]


def test_the_next_animals_tag_heard_here_belongs_to_the_next() -> None:
    early = [(7.0, B), (7.8, B)]
    assert last(Day(PANEL, THREE, OWN + early)) == [(A, ()), (B, ()), (C, ())]


def test_the_last_animals_tag_heard_as_it_leaves_belongs_to_the_last() -> None:
    late = steadily(A, 10.2, 16.5)
    assert last(Day(PANEL, THREE, OWN + late)) == [(A, ()), (B, ()), (C, ())]


def test_an_untagged_animal_does_not_keep_the_tag_of_the_next() -> None:
    stays = [(20.0 * n, 20.0 * n + 10) for n in range(10)]
    tags = [TagCode(999, 500 + n) for n in range(10)]
    reads = [read for n, tag in enumerate(tags) if n != 7 for read in steadily(tag, 20.0 * n + 1, 20.0 * n + 9)]
    day = Day(PANEL, stays, sorted(reads + steadily(tags[8], 146.0, 149.0), key=lambda read: read[0]))
    said = last(day)
    assert said[7] == (None, (Flag.NO_TAG, Flag.TAG_ELSEWHERE))
    assert said[8] == (tags[8], ()), "heard before it came, but well in its own stay"
    assert [verdict.code for verdict in day.verdicts[8]] == [tags[8], None]  # said at once, amended on evidence


def test_two_tags_that_fit_alike_are_not_guessed_between_and_the_next_stay_decides() -> None:
    day = Day(PANEL, THREE, steadily(A, 1, 9) + steadily(B, 1.2, 9) + steadily(B, 15, 23) + steadily(C, 29, 37))
    assert last(day) == [(A, ()), (B, ()), (C, ())]
    assert day.verdicts[1][0].code is None
    assert day.verdicts[1][0].flags == (Flag.TWO_TAGS,)
    assert day.verdicts[1][0].seen == 2


def test_two_tags_stay_two_tags_when_nothing_decides() -> None:
    (only,) = last(Day(PANEL, ((0.0, 10.0),), steadily(A, 1, 9) + steadily(B, 1.2, 9)))
    assert only == (None, (Flag.TWO_TAGS,))


def test_thin_evidence_is_flagged_where_this_reader_usually_hears_more() -> None:
    stays = [(20.0 * n, 20.0 * n + 10) for n in range(12)]
    tags = [TagCode(999, 500 + n) for n in range(12)]
    reads = [read for n, tag in enumerate(tags[:11]) for read in steadily(tag, 20.0 * n + 1, 20.0 * n + 9)]
    *_, before, thin = last(Day(PANEL, stays, [*reads, (221.0, tags[11])]))
    assert before == (tags[10], ())
    assert thin == (tags[11], (Flag.TAG_DOUBTFUL,))


def test_a_reader_that_says_each_animal_once_pairs_as_well() -> None:
    stays = [(20.0 * n, 20.0 * n + 10) for n in range(12)]
    tags = [TagCode(999, 500 + n) for n in range(12)]
    assert last(Day(PANEL, stays, [(20.0 * n + 4, tag) for n, tag in enumerate(tags)])) == [(tag, ()) for tag in tags]


def test_a_head_before_the_panel_before_the_feet_weigh_counts() -> None:
    assert last(Day(PANEL, ((10.0, 20.0),), [(9.3, A)])) == [(A, ())]


def test_a_tag_in_the_next_pen_heard_for_minutes_is_nobodys() -> None:
    stays = [(16.0 * n, 16.0 * n + 10) for n in range(8)]
    tags = [TagCode(999, 500 + n) for n in range(8)]
    reads = [read for n, tag in enumerate(tags) if n != 4 for read in steadily(tag, 16.0 * n + 1, 16.0 * n + 9)]
    stray = [(float(t), D) for t in range(0, 128, 5)]
    said = last(Day(PANEL, stays, sorted(reads + stray, key=lambda read: read[0])))
    assert [code for n, (code, _) in enumerate(said) if n != 4] == [tag for n, tag in enumerate(tags) if n != 4]
    assert said[4][0] is None or Flag.TAG_DOUBTFUL in said[4][1]


def test_an_animal_that_goes_round_again_keeps_both_weighings() -> None:
    stays = [(0.0, 10.0), *((100.0 + 14 * n, 110.0 + 14 * n) for n in range(3)), (200.0, 210.0)]
    reads = steadily(A, 1, 9) + [
        read for n in range(3) for read in steadily(TagCode(999, 7 + n), 101 + 14 * n, 109 + 14 * n)
    ]
    said = last(Day(PANEL, stays, reads + steadily(A, 201, 209)))
    assert said[0] == said[-1] == (A, ())


def test_a_tag_on_two_stays_running_belongs_to_one_of_them() -> None:
    said = last(Day(PANEL, THREE[:2], steadily(A, 1, 9) + steadily(A, 15, 23)))
    assert [code for code, _ in said].count(A) <= 1


def test_a_queue_ahead_is_paired_in_order_and_always_flagged() -> None:
    stays = [(30.0 + 20 * n, 40.0 + 20 * n) for n in range(8)]
    tags = [TagCode(999, 500 + n) for n in range(8)]
    reads = [(on - 28 + 1.5 * again, tag) for (on, _), tag in zip(stays, tags, strict=True) for again in range(2)]
    assert last(Day(RACE, stays, sorted(reads, key=lambda read: read[0]))) == [
        (tag, (Flag.TAG_DOUBTFUL,)) for tag in tags
    ]


def test_an_animal_that_the_reader_ahead_missed_does_not_shift_the_others() -> None:
    stays = [(30.0 + 20 * n, 40.0 + 20 * n) for n in range(10)]
    tags = [TagCode(999, 500 + n) for n in range(10)]
    reads = [(on - 28, tag) for n, ((on, _), tag) in enumerate(zip(stays, tags, strict=True)) if n != 5]
    said = last(Day(RACE, stays, reads))
    assert said[5] == (None, (Flag.NO_TAG,))
    assert [code for n, (code, _) in enumerate(said) if n != 5] == [tag for n, tag in enumerate(tags) if n != 5]


def test_an_animal_that_backed_out_ahead_stands_where_it_came_again() -> None:
    stays = [(30.0 + 20 * n, 40.0 + 20 * n) for n in range(8)]
    tags = [TagCode(999, 500 + n) for n in range(8)]
    reads = [(on - 28, tag) for (on, _), tag in zip(stays, tags, strict=True)]
    backed = (reads[2][0] + 3, tags[6])
    said = last(Day(RACE, stays, sorted([*reads, backed], key=lambda read: read[0])))
    assert [code for code, _ in said] == tags


@pytest.mark.parametrize("away_s", [-5.0, -1.0, 1.0, 5.0])
def test_a_read_by_hand_early_or_late_is_for_the_nearest_in_turn(away_s: float) -> None:
    stays = ((0.0, 10.0), (30.0, 40.0), (60.0, 70.0))
    middle = 30.0 + away_s if away_s < 0 else 40.0 + away_s
    codes = [code for code, _ in last(Day(STICK, stays, [(5.0, A), (middle, B), (65.0, C)]))]
    assert codes == [A, B, C]


def test_two_read_by_hand_in_one_stay_and_none_in_the_next_means_one_was_early() -> None:
    for t, doubt in (9.5, ()), (7.5, (Flag.TAG_DOUBTFUL,)):
        said = last(Day(STICK, ((0.0, 10.0), (14.0, 24.0)), [(4.0, A), (t, B)]))
        assert [code for code, _ in said] == [A, B]
        assert said[1][1] == doubt, "so early it may be of neither"


def test_a_persons_word_stands_and_takes_the_tag_from_where_it_was() -> None:
    day = Day(PANEL, THREE, OWN, words=[(40.0, 1, B)])
    said = last(day)
    assert said[0] == (B, (Flag.BY_PERSON,))
    assert said[1][0] != B
    assert said[1][1] != ()  # what is left for the second is doubtful at best


@pytest.mark.parametrize("at", [68.0, 88.0, 135.0])
@pytest.mark.parametrize("word", [D, None])
def test_the_tag_that_a_person_says_is_anothers_stays_where_it_was_heard(at: float, word: TagCode | None) -> None:
    """The fourth stands or has stood when they speak; the fifth has no tag, and gets none by it."""
    stays = [(20.0 * n, 20.0 * n + 10) for n in range(7)]
    tags = [TagCode(999, 500 + n) for n in range(7)]
    reads = [read for n, tag in enumerate(tags) if n != 4 for read in steadily(tag, 20.0 * n - 0.5, 20.0 * n + 10.3)]
    day = Day(PANEL, stays, reads, words=[(at, 4, word)])
    said = last(day)
    assert said[3] == (word, (Flag.BY_PERSON,) if word else (Flag.NO_TAG, Flag.BY_PERSON))
    assert said[4] == (None, (Flag.NO_TAG,))
    others = [n for n in range(7) if n not in {3, 4}]
    assert [said[n] for n in others] == [(tags[n], ()) for n in others]


def test_a_tag_heard_more_where_a_person_denied_it_is_not_the_neighbours() -> None:
    said = last(Day(PANEL, THREE[:2], steadily(A, 1, 9) + steadily(A, 14.5, 16), words=[(12.0, 1, D)]))
    assert said == [(D, (Flag.BY_PERSON,)), (None, (Flag.NO_TAG, Flag.TAG_ELSEWHERE))]


def test_a_final_stay_that_loses_its_tag_to_a_word_gets_none_that_was_heard_beside_it() -> None:
    stays = [(20.0 * n, 20.0 * n + 10) for n in range(8)]
    tags = [TagCode(999, 500 + n) for n in range(8)]
    reads = [read for n, tag in enumerate(tags) for read in steadily(tag, 20.0 * n + 1, 20.0 * n + 9)]
    stray = [(12.5, D), (13.5, D), (14.5, D)]
    said = last(Day(PANEL, stays, sorted(reads + stray, key=lambda read: read[0]), words=[(160.0, 2, tags[0])]))
    assert said[:3] == [(None, (Flag.NO_TAG, Flag.TAG_ELSEWHERE)), (tags[0], (Flag.BY_PERSON,)), (tags[2], ())]


def test_two_words_can_change_two_tags_over() -> None:
    said = last(Day(PANEL, THREE, OWN, words=[(40.0, 1, B), (41.0, 2, A)]))
    assert said == [(B, (Flag.BY_PERSON,)), (A, (Flag.BY_PERSON,)), (C, ())]


def test_a_tag_that_the_next_stay_heard_more_of_is_free_for_it() -> None:
    """The first had both, its own once; a person says so, and the next is left with what it heard all along."""
    reads = sorted([*steadily(B, 6, 9), (5.0, A), *steadily(B, 15, 23), *steadily(C, 29, 37)], key=lambda read: read[0])
    assert last(Day(PANEL, THREE, reads, words=[(40.0, 1, A)])) == [(A, (Flag.BY_PERSON,)), (B, ()), (C, ())]


def test_a_person_may_say_that_there_is_no_tag() -> None:
    assert last(Day(PANEL, THREE[:1], steadily(A, 1, 9), words=[(12.0, 1, None)]))[0] == (
        None,
        (Flag.NO_TAG, Flag.BY_PERSON),
    )


def test_a_second_word_moves_the_tag_once_more() -> None:
    said = last(Day(PANEL, THREE, [], words=[(40.0, 1, A), (41.0, 3, A)]))
    assert [code for code, _ in said] == [None, None, A]


def test_a_reader_that_is_down_is_said_where_no_tag_was_heard() -> None:
    said = last(Day(PANEL, THREE, steadily(A, 1, 9) + steadily(C, 29, 37), downs=[(12.0, False), (26.0, True)]))
    assert said == [(A, ()), (None, (Flag.NO_TAG, Flag.READER_LOST)), (C, ())]


def test_without_readers_a_weighing_is_final_at_once() -> None:
    assert Day({}, THREE).told()[1][-1].final_at is None


def test_a_verdict_says_when_it_will_be_final_and_is() -> None:
    pairing = Pairing(PANEL)
    pairing.began(1, 0.0)
    (verdict,) = pairing.ended(1, 10.0)
    assert verdict.final_at == pairing.due == 10.0 + WINDOW_S
    assert not pairing.is_final(1)
    pairing.settle(10.0 + WINDOW_S)
    assert pairing.is_final(1)
    assert pairing.due is None


def test_a_verdict_is_final_when_enough_later_stays_have_ended() -> None:
    pairing = Pairing(PANEL)
    for number in range(1, WINDOW_STAYS + 2):
        assert number == 1 or not pairing.is_final(1)
        pairing.began(number, 20.0 * number)
        pairing.ended(number, 20.0 * number + 10)
    assert pairing.is_final(1)


def test_a_babbling_reader_costs_bounded_memory() -> None:
    pairing = Pairing(PANEL)
    pairing.began(1, 0.0)
    for n in range(20_000):
        pairing.read(n * 0.01, "panel", TagCode(999, n % 5000))
    assert len(pairing.ended(1, 201.0)) == 1
