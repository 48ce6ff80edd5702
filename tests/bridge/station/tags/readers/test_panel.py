"""The points of a reader at the platform: the arithmetic against scipy.stats.betabinom, and the table in its page."""

import re
from math import log

import pytest

from neckyoke.bridge.station.tags.readers import panel
from neckyoke.bridge.station.tags.readers.detections import Detection, Span
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel


@pytest.mark.parametrize("usual", [0.05, 0.3, 0.8])
@pytest.mark.parametrize(("n", "of"), [(1, 1), (1, 10), (5, 10), (10, 10), (3, 30)])
def test_standing_is_the_beta_binomial_chance_over_that_of_being_heard_by_chance(usual: float, n: int, of: int) -> None:
    from scipy.stats import betabinom

    spread = betabinom(of, 3.0 * usual, 3.0 * (1 - usual))
    heard = spread.pmf(n) / (1 - spread.pmf(0)) * of  # 1: as likely as any other share
    expected = log(0.95 * (0.85 * heard + 0.15) / 0.002)
    assert panel.stands(n, of, usual) == pytest.approx(expected)


def test_the_table_in_the_page_is_what_the_code_gives() -> None:
    lines = re.findall(r"^ +(\d+) of 10 +([+-][\d.]+) +([+-][\d.]+) +([+-][\d.]+)$", panel.__doc__ or "", re.MULTILINE)
    assert len(lines) == 4
    for heard, standing, neighbour, pen in lines:
        n = int(heard)
        assert panel.stands(n, 10, 0.8) == pytest.approx(float(standing), abs=0.05)
        assert panel.beside(n, 10, 0.8) == pytest.approx(float(neighbour), abs=0.05)
        assert panel.in_pen(n, 10, 0.8) == pytest.approx(float(pen), abs=0.05)


@pytest.mark.parametrize("usual_s", [0.5, 2.0, 6.0])
@pytest.mark.parametrize("after_s", [0.0, 1.0, 4.0, 10.0])
def test_entering_is_the_truncated_exponential_over_any_moment_of_the_stay(usual_s: float, after_s: float) -> None:
    from scipy.stats import truncexpon

    span = Span(1, 30.0, 42.0)
    soon = truncexpon(12.0 / usual_s, scale=usual_s).pdf(after_s) * 12.0
    expected = log((1 - panel.LATE) * soon + panel.LATE)
    assert panel.entered(after_s, span, usual_s) == pytest.approx(expected)


def first_heard(*times: float) -> list[str]:
    """Return the names of the points for entering of a tag heard so, in the second of two stays."""
    spans = [Span(1, 10.0, 20.0), Span(2, 24.0, 34.0)]
    points = panel.score(detections(*times), spans, ReaderModel())
    return [name for name in points.get(1, {}) if name.startswith("first heard")]


def test_only_a_tag_that_was_not_heard_before_its_stay_enters_with_it() -> None:
    assert first_heard(26.5, 27.0) == ["first heard 2.5 s after stepping on"]
    assert first_heard(23.0) == ["first heard 0.0 s after stepping on"]  # the head is there before the feet
    assert first_heard(22.9, 26.5) == []
    assert first_heard(15.0, 26.5) == []
    assert first_heard(34.0) == ["first heard 10.0 s after stepping on"]
    assert first_heard(34.2) == []


def detections(*times: float) -> list[Detection]:
    return [Detection(t, "panel", "platform") for t in times]


def test_a_slot_counts_once_however_often_the_reader_repeats_itself() -> None:
    span = Span(1, 10.0, 20.0)
    assert panel.heard_slots(detections(10.1, 10.3, 10.5, 10.9), span) == 1
    assert panel.heard_slots(detections(10.1, 11.3, 19.99, 20.0), span) == 3


def test_more_of_the_stay_is_more_points_and_none_of_it_is_less_than_none() -> None:
    points = [panel.stands(n, 10, 0.7) for n in range(11)]
    assert points[0] < 0 < points[1]
    assert points[1] < points[5] < points[10]


THREE = [Span(1, 10.0, 20.0), Span(2, 24.0, 34.0), Span(3, 38.0, 48.0)]


def named(*times: float, at: int, spans: list[Span] = THREE) -> dict[str, float]:
    return panel.score(detections(*times), spans, ReaderModel()).get(at, {})


def test_what_was_heard_just_before_or_after_or_beside_speaks_for_a_stay_in_which_nothing_was() -> None:
    assert named(22.0, at=1)["came up before"] == 2.0
    assert named(22.0, at=0)["lingered"] == 1.0  # in front, while nobody stood
    assert named(12.0, at=1)["waited before"] > 0
    assert named(28.0, at=0)["lingered after"] > 0
    assert named(12.0, at=2) == {}
    assert named(36.0, at=1)["heard in 0 of 10 s"] < 0


def test_one_that_lingers_into_the_next_stay_is_gone_within_eight_seconds() -> None:
    assert "lingered after" in named(15.0, 31.9, at=0)
    assert "lingered after" not in named(15.0, 32.1, at=0)


def test_a_moment_before_the_first_foot_is_the_first_slot() -> None:
    assert panel.heard_slots(detections(8.5, 9.2, 10.2), Span(1, 10.0, 20.0)) == 1


def test_a_tag_that_was_quiet_in_a_stay_between_is_less_likely_in_the_next_pen() -> None:
    spans = [Span(n, 20.0 * n, 20.0 * n + 10.0) for n in range(1, 6)]
    heard = [t for span in spans for t in (span.on + 2, span.on + 5)]
    gap = [t for t in heard if not spans[2].on <= t <= spans[2].off]
    in_pen = panel.score(detections(*heard), spans, ReaderModel())[1]["may be in the next pen"]
    less = panel.score(detections(*gap), spans, ReaderModel())[1]["may be in the next pen"]
    assert in_pen < less < 0


def test_only_stays_within_a_minute_before_and_eight_seconds_after_are_spoken_for() -> None:
    far = Span(9, 95.0, 105.0)
    assert set(panel.score(detections(34.9), [far], ReaderModel())) == set()
    assert set(panel.score(detections(35.1), [far], ReaderModel())) == {0}
    assert set(panel.score(detections(112.9), [far], ReaderModel())) == {0}
    assert set(panel.score(detections(113.1), [far], ReaderModel())) == set()


def test_a_tag_is_believed_in_the_next_pen_only_by_reads_in_several_stays() -> None:
    spans = [Span(n, 20.0 * n, 20.0 * n + 10.0) for n in range(1, 6)]
    for stays, believed in ((1, False), (2, True)):
        heard = [t for span in spans[:stays] for t in (span.on + 2, span.on + 5)]
        points = panel.score(detections(*heard), spans, ReaderModel())
        assert any("may be in the next pen" in parts for parts in points.values()) is believed


def test_a_tag_speaks_for_every_stay_up_to_when_it_was_last_heard() -> None:
    long = [Span(n, 200.0 * n, 200.0 * n + 10.0) for n in range(1, 4)]
    assert set(panel.score(detections(205.0, 405.0, 605.0), long, ReaderModel())) == {0, 1, 2}
