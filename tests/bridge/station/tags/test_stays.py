"""Stays whose tag may still change, and the links of the readers: small tables."""

import pytest

from neckyoke.bridge.station.tags.readers.detections import Span
from neckyoke.bridge.station.tags.stays import OpenStay, ReaderLink, taken_from
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.protocols.tagcode import TagCode

A, B, C, D = (TagCode(999, n) for n in range(1, 5))


@pytest.mark.parametrize(
    ("off", "now", "end"),
    [(20.0, 15.0, 20.0), (20.0, None, 20.0), (None, 15.0, 15.0), (None, 9.0, 10.0), (None, None, 10.0)],
)
def test_an_open_stay_ends_now_for_the_scores_and_never_before_it_began(
    off: float | None, now: float | None, end: float
) -> None:
    assert OpenStay(3, 10.0, 2, off).span(now) == Span(3, 10.0, end, 2)


def test_a_persons_word_goes_before_the_verdict_and_none_is_a_word_too() -> None:
    assert OpenStay(1, 0.0, 1).code is None
    assert OpenStay(1, 0.0, 1, verdict=Verdict(1, A)).code == A
    assert OpenStay(1, 0.0, 1, verdict=Verdict(1, A), word=True, said=B).code == B
    assert OpenStay(1, 0.0, 1, verdict=Verdict(1, A), word=True).code is None


def test_what_was_heard_of_a_tag_stays_counted_when_it_is_no_longer_at_hand() -> None:
    one = OpenStay(1, 0.0, 1)
    assert one.full(Verdict(1, A, "panel", 3)) == Verdict(1, A, "panel", 3)
    assert one.full(Verdict(1, A, "panel", 9)) == Verdict(1, A, "panel", 9)
    assert one.full(Verdict(1, A, rule="said")) == Verdict(1, A, "panel", 9, rule="said")
    assert one.full(Verdict(1, B, rule="said")) == Verdict(1, B, rule="said"), "another tag was not heard so often"
    assert one.full(Verdict(1, None)) == Verdict(1, None)


SPAN = Span(1, 10.0, 20.0)


@pytest.mark.parametrize(
    ("turns", "gone_s"),
    [
        ([], 0.0),
        ([(12.0, False), (15.0, True)], 3.0),
        ([(5.0, False), (12.0, True)], 2.0),
        ([(18.0, False)], 2.0),
        ([(5.0, False)], 10.0),
        ([(5.0, False), (8.0, True)], 0.0),
        ([(25.0, False), (28.0, True)], 0.0),
        ([(12.0, False), (13.0, False), (15.0, True), (16.0, True)], 3.0),
        ([(11.0, False), (12.0, True), (14.0, False), (17.0, True), (19.5, False)], 4.5),
    ],
)
def test_how_long_a_link_was_gone_in_a_stay(turns: list[tuple[float, bool]], gone_s: float) -> None:
    reader = ReaderLink("platform")
    for t, up in turns:
        reader.turned(t, up=up)
    assert reader.gone(SPAN) == pytest.approx(gone_s)


def test_the_last_eight_losses_of_a_link_are_kept() -> None:
    reader = ReaderLink("platform")
    for n in range(10):
        reader.turned(10.0 + n, up=False)
        reader.turned(10.5 + n, up=True)
    assert reader.downs == [(10.0 + n, 10.5 + n) for n in range(2, 10)]


@pytest.mark.parametrize(
    ("held", "now", "lost"),
    [
        ([A, B], [A, B], []),  # it went round: both have it
        ([A, B], [None, B], [1]),
        ([A, B], [B, None], [1, 2]),
        ([A, B, C], [C, B, None], [1, 3]),
        ([A, B, A], [None, B, B], [1, 3]),  # the second keeps what the third has too
        ([A, B], [B, A], [1, 2]),  # around a ring, once each
        ([B, C], [None, None], []),  # nobody had it: what else changes waits
        ([A, None], [None, C], [1]),
    ],
)
def test_who_loses_a_tag_and_who_loses_what_they_get(
    held: list[TagCode | None], now: list[TagCode | None], lost: list[int]
) -> None:
    stays = [OpenStay(n, 10.0 * n, n, verdict=Verdict(n, code)) for n, code in enumerate(held, 1)]
    verdicts = {n: Verdict(n, code) for n, code in enumerate(now, 1)}
    assert sorted(taken_from(stays, verdicts, A)) == lost
    assert all(verdicts[n] is one for n, one in taken_from(stays, verdicts, A).items())
    assert not taken_from(stays, {}, A), "of those that are final nothing is decided"
    assert not taken_from(stays, verdicts, D)


@pytest.mark.parametrize(
    ("heard", "down", "deaf"),
    [
        (None, None, True),
        (15.0, None, False),
        (-290.0, None, False),
        (-290.1, None, True),
        (15.0, 17.0, False),
        (15.0, 16.9, True),
    ],
)
def test_the_silence_of_a_reader_that_was_away_or_asleep_proves_nothing(
    heard: float | None, down: float | None, *, deaf: bool
) -> None:
    assert ReaderLink("platform", heard, down).is_deaf(SPAN) is deaf
