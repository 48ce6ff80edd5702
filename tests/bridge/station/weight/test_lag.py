"""How slowly an indicator follows: undone beside scipy's own filters, and learned from falls whose time is known."""

import math
import random
from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import pytest

from neckyoke.bridge.events import Grade
from neckyoke.bridge.station.weight import lag
from neckyoke.bridge.station.weight.estimators import BIN_S
from neckyoke.bridge.station.weight.final import NOTHING, Estimate
from neckyoke.bridge.station.weight.grading import FITTED, Doubts
from neckyoke.bridge.station.weight.lag import FEW, RELEASES, STAGE_S, Lag, Lags, without
from neckyoke.bridge.station.weight.settling import Known, Settling, surer

KG = 300.0


def pressed(stands_s: float = 4.0, *, leaves_s: float = 0.6, kg: float = KG) -> list[float]:
    """Return what stands there every 0.1 s: nothing, an animal, and half a second after it has left."""
    lifted = max(2, round(leaves_s / BIN_S))
    off = [kg * (1 - n / (lifted - 1)) for n in range(lifted)]
    return [0.0] * 5 + [kg / 2] * 3 + [kg] * round(stands_s / BIN_S) + off


def shown(force: Sequence[float], stage_s: float, *, stages: int = 2, interval_kg: float = 0.5) -> list[float]:
    """Return what an indicator shows of it: scipy's one-pole filters in a row, until a fiftieth is left; in steps."""
    from scipy import signal

    keep = math.exp(-BIN_S / stage_s)
    run: Any = [*force, *[0.0] * 100]
    for _ in range(stages):
        run = signal.lfilter([1 - keep], [1, -keep], run)
    end = max(place for place, kg in enumerate(run) if kg > 0.02 * max(force))
    return [round(float(kg) / interval_kg) * interval_kg for kg in run[: end + 1]]


@pytest.mark.parametrize("stage_s", [0.1, 0.35, 0.6, 1.0])
def test_undone_it_is_what_stood_there_in_means_of_half_a_second(stage_s: float) -> None:
    from scipy import signal

    force = pressed()
    undone = without(Lag(stage_s), shown(force, stage_s, interval_kg=1e-9))
    meant = signal.convolve(force, [0.2] * 5, mode="same")
    assert undone[3 : len(force) - 3] == pytest.approx([*meant[3:-3]], abs=1e-3)


def test_as_many_come_as_were_given() -> None:
    assert without(Lag(0.5), [0.0] * 7) == pytest.approx([0.0] * 7)
    for count in range(1, 12):
        assert len(without(Lag(0.3), [7.0] * count)) == count


def learned(lags: Lags) -> float | None:
    return lags.lag.stage_s if lags.lag else None


@pytest.mark.parametrize("stage_s", [0.25, 0.35, 0.5, 0.7])
@pytest.mark.parametrize("interval_kg", [0.1, 1.0])
def test_its_time_is_learned_however_slowly_the_feet_are_lifted(stage_s: float, interval_kg: float) -> None:
    rng, lags = random.Random(3), Lags()
    for _ in range(RELEASES):
        force = pressed(leaves_s=rng.uniform(0.3, 1.5), kg=rng.uniform(200, 500))
        lags.learn(shown(force, stage_s, interval_kg=interval_kg), max(force))
    assert learned(lags) == pytest.approx(stage_s, rel=0.15)


def test_nothing_is_undone_of_one_that_follows_at_once_or_is_a_moving_mean() -> None:
    from scipy import signal

    rng, quick, mean = random.Random(4), Lags(), Lags()
    for _ in range(RELEASES):
        force = pressed(leaves_s=rng.uniform(0.3, 1.5))
        quick.learn(shown(force, 0.01), KG)
        mean.learn([float(kg) for kg in signal.lfilter([1 / 8] * 8, [1], [*force, *[0.0] * 7])], KG)
    assert (quick.lag, mean.lag) == (None, None)


def test_a_few_animals_tell_nothing_and_those_who_disagree_neither() -> None:
    lags = Lags()
    for _ in range(FEW - 1):
        lags.learn(shown(pressed(), 0.5), KG)
    assert lags.lag is None
    lags.learn(shown(pressed(), 0.5), KG)
    assert learned(lags) == pytest.approx(0.5, rel=0.1)
    for _ in range(RELEASES // 2):
        lags.learn(shown(pressed(), 0.01), KG)
    assert lags.lag is None
    for _ in range(RELEASES):
        lags.learn(shown(pressed(), 0.35), KG)
    assert learned(lags) == pytest.approx(0.35, rel=0.1), "the last ones count"


@pytest.mark.parametrize("seen_to_kg", [0.95 * KG, 0.5 * KG])
def test_one_that_was_not_seen_to_leave_tells_nothing(seen_to_kg: float) -> None:
    lags, bins = Lags(), shown(pressed(), 0.5)
    end = max(place for place, kg in enumerate(bins) if kg >= seen_to_kg) + 1
    for _ in range(RELEASES):
        lags.learn(bins[:end], KG)
    assert lags.lag is None


def test_only_the_leaving_tells(monkeypatch: pytest.MonkeyPatch) -> None:
    """One odd reading while it stands is quicker than any indicator that smooths; what fits again beyond does not."""
    lags, bins = Lags(), shown(pressed(), 0.5)
    bins[20] = 0.7 * KG
    for _ in range(FEW):
        lags.learn(bins, KG)
    assert learned(lags) == pytest.approx(0.5, rel=0.1)
    monkeypatch.setattr(lag, "STAGE_S", (*STAGE_S, 0.3))
    for _ in range(RELEASES):
        lags.learn(bins, KG)
    assert learned(lags) == pytest.approx(0.5, rel=0.1)


@pytest.mark.parametrize("stages", [1, 3])
def test_of_another_chain_a_part_is_undone_of_what_it_did_to_a_short_stay(stages: int) -> None:
    """A body comes on within a second or so: four feet (simulators/crush/body.py)."""
    lags, stage_s = Lags(), 1.0 / stages
    for _ in range(FEW):
        lags.learn(shown(pressed(), stage_s, stages=stages), KG)
    assert lags.lag is not None
    force = [0.0] * 3 + [KG * n / 12 for n in range(12)] + [KG] * 10 + [KG * n / 6 for n in range(5, -1, -1)]
    seen = shown(force, stage_s, stages=stages)
    assert abs(max(without(lags.lag, seen)) - KG) < 0.4 * abs(max(seen) - KG)


def of(grade: Grade, error_percent: float = 0.3, span_s: float = 2.0) -> Estimate:
    return Estimate(KG, grade, doubts=Doubts(trend_percent=error_percent / FITTED["trend"]), span_s=span_s)


@pytest.mark.parametrize(
    ("as_shown", "undone", "which"),
    [
        (of("poor"), of("fair", 0.4), "undone"),
        (of("fair", 0.4), of("poor"), "as shown"),
        (of("fair", 0.4), of("fair", 0.3), "undone"),
        (of("fair", 0.3), of("fair", 0.4), "as shown"),
        (of("fair"), NOTHING, "as shown"),
        (NOTHING, of("poor"), "undone"),
        (NOTHING, NOTHING, "neither"),
        (of("poor", 0.9, span_s=2.4), of("poor", 1.2), "undone"),  # it had not arrived
        (of("poor", 0.9, span_s=2.6), of("poor", 0.5), "as shown"),
        (of("poor"), of("fair", span_s=4.1), "poor"),  # two animals may stand on that level
        (of("poor"), of("fair", span_s=3.9), "undone"),
    ],
)
def test_the_surer_of_two_is_believed(as_shown: Estimate, undone: Estimate, which: str) -> None:
    undone = replace(undone, delay_s=0.5)
    found = surer(as_shown, undone)
    if which == "poor":
        assert (found.span_s, found.grade) == (undone.span_s, "poor")
    else:
        assert found == {"undone": undone, "as shown": as_shown, "neither": undone}[which]


def test_each_of_the_two_is_doubted_by_how_far_the_other_is() -> None:
    """GUM (JCGM 100:2008), 4.3: that two ways of measuring one thing disagree is what is known of their error."""
    as_shown, undone = Estimate(300.0, "good", doubts=Doubts()), Estimate(304.0, "good", doubts=Doubts(), limit="fair")
    seen, bare = as_shown.beside(undone), undone.beside(as_shown)
    assert seen.doubts is not None
    assert bare.doubts is not None
    assert seen.doubts.undone_percent == pytest.approx(100 * 4 / 300)
    assert bare.doubts.undone_percent == pytest.approx(100 * 4 / 304)
    assert (seen.grade, bare.grade) == ("fair", "fair"), "1.3 per cent of it leaves no good weight"
    assert undone.beside(replace(undone, kg=304.1)).grade == "fair", "whatever is doubted, how it stood limits it"
    assert as_shown.beside(replace(undone, kg=300.1)).grade == "good"
    assert as_shown.beside(NOTHING) == as_shown
    assert NOTHING.beside(as_shown) == NOTHING
    assert NOTHING.error_percent == math.inf


@pytest.mark.parametrize("residue", [False, True])
def test_what_is_hidden_of_a_residue_is_doubted_also_where_the_smoothing_is_undone(*, residue: bool) -> None:
    settling = Settling(0.5, Known(lag=Lag(0.4)))
    for n, kg in enumerate(shown(pressed(1.5), 0.4)):
        settling.feed(n * BIN_S, kg)
    found = settling.final(residue=residue)
    assert found.delay_s > 0, "what was undone is believed of so short a stay"
    assert found.doubts is not None
    assert found.doubts.residue is residue
