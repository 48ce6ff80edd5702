"""The points of a reader at the platform: the arithmetic against scipy.stats.betabinom, and the table in its page."""

import re
from math import log

import pytest
from scipy.stats import betabinom

from neckyoke.bridge.station.tags.readers import panel
from neckyoke.bridge.station.tags.readers.detections import Detection, Span


@pytest.mark.parametrize("usual", [0.05, 0.3, 0.8])
@pytest.mark.parametrize(("n", "of"), [(1, 1), (1, 10), (5, 10), (10, 10), (3, 30)])
def test_standing_is_the_beta_binomial_chance_over_that_of_being_heard_by_chance(usual: float, n: int, of: int) -> None:
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
