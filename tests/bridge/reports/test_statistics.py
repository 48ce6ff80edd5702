"""Statistics against numpy, scipy and worked examples of the trade."""

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.reports.statistics import MOST_BINS, STEPS, bins, figures

WEIGHTS = st.lists(st.floats(0.5, 3000).map(lambda kg: round(kg, 1)), min_size=2, max_size=60)


@settings(deadline=None)
@given(WEIGHTS)
def test_figures_are_numpys_and_scipys(sample: list[float]) -> None:
    import numpy as np
    from scipy import stats

    one = figures(sample)
    assert one.count == len(sample)
    assert one.mean == pytest.approx(np.mean(sample))
    assert one.median == pytest.approx(np.median(sample))
    assert one.sd == pytest.approx(np.std(sample, ddof=1), abs=1e-9)
    assert one.cv_percent == pytest.approx(100 * stats.variation(sample, ddof=1), abs=1e-9)
    assert (one.smallest, one.largest) == (min(sample), max(sample))
    assert one.total == pytest.approx(np.sum(sample))


def test_evenness_worked_example() -> None:
    """A poultry handbook's example: 115 birds, mean 1050 g, 95 of them from 945 to 1155 g: 83 %."""
    one = figures([945.0] + [1050.0] * 93 + [1155.0] + [900.0] * 10 + [1200.0] * 10)
    assert one.mean == 1050
    assert one.within_10_percent is not None
    assert round(one.within_10_percent) == 83, "both limits are inside"


@pytest.mark.parametrize(("cv", "share"), [(8, 78.9), (10, 68.3), (12, 59.5)])
def test_evenness_of_a_normal_herd(cv: float, share: float) -> None:
    """2 Phi(10 / CV) - 1, for weights that stand at the quantiles of a normal law (scipy)."""
    import numpy as np
    from scipy import stats

    herd = 300 + 3 * cv * stats.norm.ppf((np.arange(20000) + 0.5) / 20000)
    found = figures(list(herd)).within_10_percent
    assert found == pytest.approx(share, abs=0.1)
    assert found == pytest.approx(100 * (2 * stats.norm.cdf(10 / cv) - 1), abs=0.1)


def test_few_and_none() -> None:
    assert figures([]).mean is None
    one = figures([300.0])
    assert (one.mean, one.median, one.sd, one.cv_percent, one.within_10_percent) == (300, 300, None, None, 100)


@settings(deadline=None)
@given(WEIGHTS)
def test_bins_hold_every_weight_once_as_numpy_counts(sample: list[float]) -> None:
    import numpy as np

    made = bins(sample)
    spans = made.spans()
    assert made.width in STEPS
    assert len(spans) <= MOST_BINS
    assert sum(made.counts) == len(sample)
    edges = np.array([low for low, _, _ in spans] + [spans[-1][1]]) - 1e-6
    assert list(made.counts) == np.histogram(sample, edges)[0].tolist()


@pytest.mark.parametrize(
    ("low", "high", "width"), [(264, 370, 10), (226, 420, 20), (150, 440, 25), (30, 52, 2), (3.0, 5.2, 0.2)]
)
def test_widths_can_be_read(low: float, high: float, width: float) -> None:
    """Cattle 10, 20 or 25 kg, sheep and lambs less: judgement, no source."""
    assert bins([low, high]).width == width


def test_no_weights_no_bins() -> None:
    assert bins([]).spans() == []
