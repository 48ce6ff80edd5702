"""Fit the weights of `bridge/station/tags/doubt.py` anew: how likely a tag heard at the platform is wrong.

    python tests/bench/sureness.py [--yards 500] [--after 1000]      two minutes a hundred yards

Of the yards that may be looked at (tests/bench/drawn.py, even seeds; rows wide, panel and both), but for the first
`after`, by which much else was tried, it takes every pair as it is held at the end of the day, whether it is right, and
its features.  It prints each weight fitted (logistic regression, L2 of `RIDGE` on features of one standard deviation),
and for each row what would be flagged, rightly and not, when each tenth of the yards is told by the weights of the
others.
"""

import argparse
import sys
from collections.abc import Iterator, Mapping, Sequence
from pathlib import Path
from unittest.mock import patch

sys.path.insert(0, str(Path(__file__).parents[2]))

import numpy as np
from numpy.typing import NDArray
from scipy.optimize import minimize

from neckyoke.bridge.station.settings import DOUBT_PERCENT
from neckyoke.bridge.station.tags import doubt, verdict
from tests.bench.drawn import draw
from tests.bench.pairing import pair

Array = NDArray[np.float64]
RIDGE, PARTS = 3.0, 10
ROWS = ("wide", "panel", "both")


class Pair:
    """One pair at the day's end: its row and seed, whether it was said once, its features, and whether it is wrong."""

    def __init__(self, row: str, seed: int, features: Mapping[str, float], *, once: bool, wrong: bool) -> None:
        self.row, self.seed, self.features, self.once, self.wrong = row, seed, features, once, wrong


def pairs(row: str, yards: int, after: int) -> Iterator[Pair]:
    """Yield every pair that a reader at the platform heard, of so many yards of a row but for the first `after`."""
    seen: dict[int, tuple[str, bool, dict[str, float]]] = {}
    real = doubt.wrong_percent

    def listen(at, spans, passes, got, score, models, around, *, steady):  # type: ignore[no-untyped-def]  # noqa: ANN001, ANN202
        one = passes[got.tag]
        seen.pop(spans[at].number, None)
        if any(heard.position == "platform" for heard in one.heard):
            found = doubt.heard_features(at, spans, passes, got, score, models, around)
            seen[spans[at].number] = str(one.code), score is not None and score.chance is not None, found
        return real(at, spans, passes, got, score, models, around, steady=steady)

    with patch.object(verdict, "wrong_percent", listen):
        for seed in range(2 * after, 2 * (after + yards), 2):
            seen.clear()
            yard = draw(row, seed)
            verdicts = pair(yard)
            for stay in yard.truth:
                code, once, features = seen.get(stay.number, ("", False, {}))
                if features and code == str(verdicts[stay.number].code):
                    yield Pair(row, seed, features, once=once, wrong=code != stay.tag)


def fit(values: Array, wrong: Array) -> Array:
    """Return the bias and the weights."""
    scale = np.where(values.std(0) > 0, values.std(0), 1.0)
    scaled = values / scale

    def loss(weights: Array) -> tuple[float, Array]:
        logit = scaled @ weights[1:] + weights[0]
        off = 1 / (1 + np.exp(-logit)) - wrong
        slope = np.concatenate([[off.sum()], scaled.T @ off + RIDGE * weights[1:]])
        return float((np.logaddexp(0, logit) - wrong * logit).sum() + RIDGE / 2 * (weights[1:] ** 2).sum()), slope

    found = minimize(loss, np.zeros(values.shape[1] + 1), jac=True, method="L-BFGS-B", options={"maxiter": 5000}).x
    return np.concatenate([found[:1], found[1:] / scale])


def told(weights: Array, values: Array) -> Array:
    """Return the chance of each to be wrong."""
    return np.asarray(1 / (1 + np.exp(-weights[0] - values @ weights[1:])))


def show(name: str, names: Sequence[str], of: Sequence[Pair]) -> None:
    """Fit and print."""
    values = np.array([[one.features[feature] for feature in names] for one in of])
    wrong, part = np.array([float(one.wrong) for one in of]), np.array([one.seed // 2 % PARTS for one in of])
    for feature, weight in zip(["bias", *names], fit(values, wrong), strict=True):
        print(f"{name} {feature:12} {weight:6.2f}")
    apart = np.zeros(len(of))
    for n in range(PARTS):
        apart[part == n] = told(fit(values[part != n], wrong[part != n]), values[part == n])
    flagged = 100 * apart > DOUBT_PERCENT
    for row in ROWS:
        mine = np.array([one.row == row for one in of])
        print(
            f"{name} {row:6} {mine.sum():6} pairs, {int(wrong[mine].sum()):4} wrong; flagged"
            f" {int((mine & flagged & (wrong == 0)).sum()):5} right, and all wrong"
            f" but {int((mine & ~flagged & (wrong == 1)).sum())} (expected {apart[mine & ~flagged].sum():.1f})"
        )


def main() -> None:
    """Fit both."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--yards", type=int, default=500)
    parser.add_argument("--after", type=int, default=1000)
    args = parser.parse_args()
    found = [one for row in ROWS for one in pairs(row, args.yards, args.after)]
    show("PANEL", list(doubt.PANEL), [one for one in found if not one.once])
    show("ONCE", list(doubt.ONCE), [one for one in found if one.once])


if __name__ == "__main__":
    main()
