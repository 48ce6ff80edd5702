"""From an assigned tag and its margin to a verdict: the table at the head of the module, line by line."""

from math import inf

import pytest

from neckyoke.bridge.events import Flag, Position
from neckyoke.bridge.station.tags.assignment import Assigned
from neckyoke.bridge.station.tags.readers.closer import Around
from neckyoke.bridge.station.tags.readers.detections import Detection, Pass, Span
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel
from neckyoke.bridge.station.tags.scores import Score
from neckyoke.bridge.station.tags.verdict import SAID, Case, Verdict, by_person, is_given, is_stale, judge
from neckyoke.protocols.tagcode import TagCode

AT: dict[str, Position] = {"panel": "platform", "gate": "platform", "race": "ahead", "stick": "hand"}
SPANS = [Span(n + 11, 20.0 * n, 20.0 * n + 10.0) for n in range(6)]
HERE = [40.5, 41.5, 42.5, 43.5, 44.5]


def one(tag: int, *heard: tuple[float, str], reads: int = 1) -> Pass:
    return Pass(TagCode(999, tag), [Detection(t, link, AT[link], reads) for t, link in heard])


def panel(tag: int, *times: float) -> Pass:
    return one(tag, *((t, "panel") for t in times))


def verdict(
    got: Assigned, *passes: Pass, score: Score | None = None, doubt_percent: float = 10.0, share: float = 0.5
) -> Verdict:
    models = {link: ReaderModel(kept={"share": share}) for link in AT}
    return judge(2, SPANS, passes, got, score, models, doubt_percent)


def test_a_tag_that_is_clearly_ahead_is_given_with_what_was_heard_of_it() -> None:
    mine = Pass(
        TagCode(999, 1),
        [
            *(Detection(t, "panel", "platform", 3) for t in HERE),
            Detection(45.0, "gate", "platform", 7),
            Detection(61.0, "panel", "platform", 9),  # in the next stay
        ],
    )
    others = (panel(2, 49.0), panel(3, 90.0), panel(4, 39.5), one(5, (45.0, "race")))
    got = verdict(Assigned(0, 9.0, None), mine, *others)
    assert (got.number, got.code, got.flags) == (13, TagCode(999, 1), ())
    assert (got.link, got.reads) == ("gate", 22)  # where it was heard most at once; all of its reads here
    assert got.seen == 2  # not those heard before it, in another stay, or only ahead
    assert got.rule == "one tag is clearly ahead"
    assert got.sure_percent is not None
    assert got.sure_percent > 90
    assert got.final_at is None


def test_no_tag_heard_here_and_one_that_belongs_elsewhere() -> None:
    nothing = verdict(Assigned(None, inf, None), panel(1, 90.0))
    assert (nothing.code, nothing.flags, nothing.seen, nothing.sure_percent) == (None, (Flag.NO_TAG,), 0, None)
    assert nothing.rule == "no tag was heard"
    other = verdict(Assigned(None, 2.0, 0), panel(1, 41.0, 61.0))
    assert (other.code, other.flags, other.seen) == (None, (Flag.NO_TAG, Flag.TAG_ELSEWHERE), 1)
    assert other.rule == "the tag heard here belongs elsewhere"


@pytest.mark.parametrize(
    ("margin", "rival", "given"), [(1.19, 1, False), (1.2, 1, True), (0.3, None, True), (0.0, 1, False)]
)
def test_two_tags_that_both_fit_are_none(margin: float, rival: int | None, *, given: bool) -> None:
    got = verdict(Assigned(0, margin, rival), panel(1, *HERE), panel(2, *HERE))
    assert (got.code is not None) is given
    assert got.seen == 2
    if not given:
        assert got.flags == (Flag.TWO_TAGS,)
        assert got.rule.endswith("both fit, neither is clearly ahead")


@pytest.mark.parametrize(("chance", "rival", "given"), [(0.29, 1, False), (0.3, 1, True), (0.29, None, True)])
def test_by_hand_alone_the_chance_of_all_orders_says_which_of_two_fits(
    chance: float, rival: int | None, *, given: bool
) -> None:
    read, other = one(1, (41.0, "stick")), one(2, (43.0, "stick"))
    for margin in (0.1, 9.0):
        got = verdict(Assigned(0, margin, rival), read, other, score=Score(chance=chance))
        assert (got.code is not None) is given
        assert (got.flags == (Flag.TWO_TAGS,)) is not given


def test_by_hand_alone_the_other_stay_it_may_be_of_is_named() -> None:
    got = verdict(Assigned(0, 9.0, None, 1), one(1, (41.0, "stick")), score=Score(chance=0.5, owner=3))
    assert got.rule == "by the order in which tags were read: number 14 may be its owner"


def test_of_two_heard_only_ahead_order_decides_whatever_its_margin() -> None:
    got = verdict(Assigned(0, 0.1, 1), one(1, (20.0, "race")), one(2, (21.0, "race")))
    assert got.code == TagCode(999, 1)
    assert got.flags == (Flag.TAG_DOUBTFUL,)  # 35 in a hundred
    assert verdict(Assigned(0, 9.0, None), one(1, (20.0, "race")), doubt_percent=1.5).flags == (Flag.TAG_DOUBTFUL,)
    assert verdict(Assigned(0, 9.0, None), one(1, (20.0, "race")), doubt_percent=1.6).flags == ()


def test_between_two_that_were_heard_here_order_is_in_no_doubt() -> None:
    passes = [one(1, (20.0, "race")), panel(2, 21.0), panel(3, 61.0)]
    models = {link: ReaderModel() for link in AT}
    for given, sure in (({1: 1, 2: 0, 3: 2}, True), ({1: 1, 2: 0, 3: None}, False)):
        got = judge(2, SPANS, passes, Assigned(0, 3.0, None), None, models, 0.5, Around(given))
        assert (got.flags == ()) is sure
        assert got.rule.endswith("both neighbours were heard at the platform in theirs") is sure
    heard = judge(
        2, SPANS, [panel(1, *HERE), *passes[1:]], Assigned(0, 9.0, None), None, models, 50.0, Around({1: 1, 3: 2})
    )
    assert heard.rule == "one tag is clearly ahead"


@pytest.mark.parametrize(
    ("margin", "timed", "sure_percent"), [(4.5, True, 99.9), (4.4, True, 98.4), (9.0, False, 98.4)]
)
def test_a_steady_time_from_the_race_makes_order_sure(margin: float, sure_percent: float, *, timed: bool) -> None:
    got = verdict(Assigned(0, margin, None), one(1, (20.0, "race")), score=Score(timed=timed))
    assert got.sure_percent == sure_percent
    assert got.rule.startswith("it came past the reader ahead" if sure_percent == 99.9 else "one tag")


@pytest.mark.parametrize("margin", [0.5, 9.0])
def test_one_that_alone_can_have_come_past_is_sure_by_order(margin: float) -> None:
    got = verdict(Assigned(0, margin, None), one(1, (20.0, "race")), score=Score(alone=True), doubt_percent=1.0)
    assert (got.flags, got.sure_percent) == ((), 99.9)
    assert got.rule == "one animal fits between the reader ahead and the platform, and it alone came past"
    heard = verdict(Assigned(0, 0.5, None), panel(1, 41.0), score=Score(alone=True), doubt_percent=1.0)
    assert heard.flags == (Flag.TAG_DOUBTFUL,), "a panel heard something too: it is weighed"


@pytest.mark.parametrize(
    ("heard", "chance", "doubtful"),
    [
        ([(41.0, "stick")], 0.9951, False),
        ([(41.0, "stick")], 0.9949, True),
        ([(41.0, "stick"), (20.0, "race")], 0.9949, True),
        ([(41.0, "stick"), (42.0, "panel")], None, False),
    ],
)
def test_what_is_read_by_hand_alone_is_flagged_from_the_bound_on(
    heard: list[tuple[float, str]], chance: float | None, *, doubtful: bool
) -> None:
    mine = one(1, *sorted(heard))
    said = verdict(Assigned(0, 14.0, None), mine, score=Score(chance=chance), doubt_percent=0.5)
    assert (said.flags == (Flag.TAG_DOUBTFUL,)) is doubtful
    assert said.sure_percent is not None
    assert said.sure_percent >= 99.4


@pytest.mark.parametrize(("stays", "doubtful"), [(3, False), (4, True)])
def test_a_tag_heard_in_four_stays_may_be_in_the_next_pen(stays: int, *, doubtful: bool) -> None:
    more = [1.0, 21.0, 61.0, 81.0][: stays - 1]
    got = verdict(Assigned(0, 14.0, None), panel(1, *sorted([*HERE, *more])), doubt_percent=99.0)
    assert (got.flags == (Flag.TAG_DOUBTFUL,)) is doubtful
    assert (got.rule == "it was heard in 4 stays, as a tag in the next pen is") is doubtful


@pytest.mark.parametrize(("of", "until", "doubtful"), [(1, 21.5, True), (1, 0.0, False), (2, 21.5, False)])
def test_a_tag_in_the_next_pen_is_one_also_where_it_was_silent_for_a_whole_stay(
    of: int, until: float, *, doubtful: bool
) -> None:
    """Drawn yards: split in two passes it was heard in two stays and three; a minute later it is another time round."""
    before = panel(of, 1.0, *([until] if until else []))
    got = verdict(Assigned(0, 14.0, None), panel(1, *HERE, 81.0), before, doubt_percent=99.0)
    assert (got.flags == (Flag.TAG_DOUBTFUL,)) is doubtful
    late = panel(1, 141.5, 161.0)
    assert verdict(Assigned(0, 14.0, None), panel(1, *HERE, 81.0), late, doubt_percent=99.0).flags == ()


@pytest.mark.parametrize(
    ("got", "mine", "share", "rule"),
    [
        (Assigned(0, 2.0, None, 3), panel(1, *HERE), 0.5, "number 14 may be its owner"),
        (Assigned(0, 2.0, None, 3, taker_untagged=True), panel(1, *HERE), 0.5, "number 14 had no tag and may be its"),
        (Assigned(0, 2.0, None), panel(1, 41.0), 0.5, "heard in 10 % of the stay, where 50 % is usual"),
        (Assigned(0, 2.0, None), panel(1, 41.0, 42.0), 0.5, "it fits, but the evidence is thin"),
        (Assigned(0, 2.0, None), one(1, (41.0, "stick")), 0.5, "it fits, but the evidence is thin"),
        (Assigned(0, 2.0, None), one(1, (41.0, "panel"), (42.0, "stick")), 0.9, "it fits, but the evidence is thin"),
        (Assigned(0, 2.0, None), one(1, (20.0, "race")), 0.5, "heard only ahead of the platform: by its place"),
    ],
)
def test_why_a_tag_is_doubtful_is_said(got: Assigned, mine: Pass, share: float, rule: str) -> None:
    told = verdict(got, mine, doubt_percent=0.0, share=share)
    assert told.flags == (Flag.TAG_DOUBTFUL,)
    assert told.rule.startswith(rule)


def test_what_was_heard_near_but_not_in_the_stay_is_told_of_a_tag_that_has_it_all_the_same() -> None:
    beside = verdict(Assigned(0, 9.0, None), panel(1, 35.0, 36.0))
    assert (beside.link, beside.reads, beside.seen) == ("panel", 2, 0)
    ahead = verdict(Assigned(0, 9.0, None), one(1, (20.0, "race"), reads=4))
    assert (ahead.link, ahead.reads) == ("race", 4)


def test_a_persons_word_is_told_as_they_said_it() -> None:
    mine = Pass(TagCode(999, 1), [Detection(41.0, "panel", "platform", 5), Detection(61.0, "panel", "platform", 2)])
    told = by_person(13, TagCode(999, 1), SPANS[2], [mine, panel(2, 42.0)])
    assert told == Verdict(13, TagCode(999, 1), "panel", 5, (Flag.BY_PERSON,), seen=2, rule=SAID)
    assert by_person(13, TagCode(999, 1)) == Verdict(13, TagCode(999, 1), flags=(Flag.BY_PERSON,), rule=SAID)
    none = by_person(13, None, SPANS[2], [mine])
    assert (none.code, none.flags, none.seen, none.reads) == (None, (Flag.NO_TAG, Flag.BY_PERSON), 1, 0)


def test_a_case_has_every_candidate_the_best_first_and_who_has_it_now() -> None:
    passes = [panel(1, *HERE), panel(2, *HERE), panel(3, *HERE)]
    scores = {0: Score({"a": 2.0}), 1: Score({"a": 3.0, "b": 4.0}), 2: Score({"a": -1.0})}
    held = {0: 13, 1: 14}
    said = Verdict(13, TagCode(999, 1))
    case = Case.of(SPANS, 2, passes, scores, held, Assigned(0, 2.5, 1, 3), said)
    assert [(one.one.code.national, one.elsewhere) for one in case.candidates] == [(2, 14), (1, None), (3, None)]
    assert (case.span, case.margin, case.rival, case.taker) == (SPANS[2], 2.5, TagCode(999, 2), 14)
    bare = Case.of(SPANS, 2, passes, scores, held, Assigned(0, 2.5, None), said)
    assert (bare.rival, bare.taker) == (None, None)
    spoken = Case.of(SPANS, 2, passes, scores, held, None, said)
    assert (spoken.margin, spoken.rival, spoken.taker, len(spoken.candidates)) == (inf, None, None, 3)


@pytest.mark.parametrize(
    ("said", "now", "stale"),
    [
        (99.0, 99.0, False),
        (98.9, 96.2, True),  # across 97, and wrong more than three times as often
        (96.2, 98.9, True),
        (98.9, 97.0, False),  # none between
        (99.4, 99.6, False),  # across 99.5, but hardly another
        (99.5, 98.5, True),
        (99.5, 98.6, False),  # not three times as often
        (98.5, 99.5, True),
        (99.9, 99.5, False),  # either is as sure as flags want it
        (49.9, 50.0, False),
        (10.0, 80.0, True),
        (None, 99.0, False),
        (99.0, None, False),
    ],
)
def test_what_was_said_of_how_sure_it_is_is_stale_when_far_off_and_across_a_bound(
    said: float | None, now: float | None, *, stale: bool
) -> None:
    assert is_stale(Verdict(1, None, sure_percent=said), Verdict(1, None, sure_percent=now)) is stale


@pytest.mark.parametrize(
    ("margin", "rival", "chance", "given"),
    [
        (1.2, 1, None, True),
        (1.19, 1, None, False),
        (0.0, None, None, True),
        (inf, None, None, True),
        (0.0, 1, 0.3, True),  # of what is read by hand, or said once, the chance of all ways tells
        (9.0, 1, 0.29, False),
        (9.0, None, 0.29, True),
    ],
)
def test_a_guess_between_two_tags_is_not_given(
    margin: float, rival: int | None, chance: float | None, *, given: bool
) -> None:
    assert is_given(Assigned(0, margin, rival), Score(chance=chance)) is given
    assert chance is not None or is_given(Assigned(0, margin, rival), None) is given
