"""What each doubt of a weight is worth: the fit behind `bridge/station/weight/grading`, and how it is calibrated.

    python tests/bench/doubts.py --yards 300 [--half tuning]

Over drawn yards (yards.py) the error of each weight's level, the zero's own aside, is taken for a Student's t of three
degrees of freedom whose squared scale is the sum of the squared doubts, each times a factor; the factors that make the
errors likeliest are found by alternation (each error gets the weight that the t gives it, then every factor is moved by
the ratio of what speaks for it to what speaks against it, which never makes the errors less likely).  Stays that a
rule forbids to grade, and those with something unseen on the platform, are left out.  What is set by hand is kept.

Printed: each factor as in use and as fitted, what all are worth together in short and in late stays, and for classes
of the chance that a promise is broken, as predicted now, how often it was.
"""

import argparse
import sys
from concurrent.futures import ProcessPoolExecutor
from itertools import pairwise
from pathlib import Path
from typing import TYPE_CHECKING

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))

import numpy as np

from neckyoke.bridge.station.weight.grading import BEHIND, FITTED, GUARDED, PROMISED_PERCENT, Doubts
from tests.bench.yards import HALVES, draw

if TYPE_CHECKING:
    from numpy.typing import NDArray

FREEDOM = 3
"""Degrees of freedom."""
ROUNDS = 1500
UNSEEN_PERCENT = 0.05
"""What may lie unseen on the platform of a stay that is fitted, at most."""
CLASSES = (0.0, 0.002, 0.005, 0.01, 0.02, 0.05, 0.1, 0.2, 1.0)
"""Bounds of the chances that are counted together."""


def seen(number: int) -> list[tuple[Doubts, float]]:
    """Return what was doubted of each stay of a yard that may be graded, and its level's error in per cent."""
    out = list[tuple[Doubts, float]]()
    for stay in draw(number).stays:
        ended = stay.ended[-1] if stay.ended else None
        if ended is None or ended.weight.kg is None or ended.reckoned.doubts is None:
            continue
        doubts = ended.reckoned.doubts
        if ended.reckoned.limit != "poor" and doubts.zero_percent <= UNSEEN_PERCENT:
            off_kg = ended.weight.kg + ended.weight.zero_kg - stay.lies_kg - stay.kg
            out.append((doubts, 100 * off_kg / stay.kg))
    return out


def fit(sizes: "NDArray[np.float64]", kept: "NDArray[np.float64]", errors: "NDArray[np.float64]") -> list[float]:
    """Return the factors of the columns of `sizes`; `kept` is the squared scale that they are added to."""
    squares, off = sizes**2, errors**2
    factors = np.full(sizes.shape[1], np.median(off)) / (squares.mean(axis=0) + 1e-12) / sizes.shape[1]
    for _ in range(ROUNDS):
        scale = kept + squares @ factors
        weight = (FREEDOM + 1) / (FREEDOM + off / scale)
        factors *= np.sqrt((squares.T @ (weight * off / scale**2)) / (squares.T @ (1 / scale)))
    return [float(factor) ** 0.5 for factor in factors]


def scale_of(ratios: "NDArray[np.float64]") -> float:
    """Return the scale of the t distribution that makes these likeliest."""
    scale = 1.0
    for _ in range(200):
        weights = (FREEDOM + 1) / (FREEDOM + (ratios / scale) ** 2)
        scale = float(np.sqrt((weights * ratios**2).mean()))
    return scale


def main() -> None:
    """Print the factors and the calibration."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--yards", type=int, default=300, help="of the half")
    parser.add_argument("--half", choices=sorted(HALVES), default="tuning")
    args = parser.parse_args()
    numbers = [HALVES[args.half] + 2 * n for n in range(args.yards)]
    with ProcessPoolExecutor() as pool:
        every = [one for some in pool.map(seen, numbers, chunksize=2) for one in some]
    worth = FITTED | GUARDED
    parts = [doubts.parts() for doubts, _ in every]
    errors = np.array([error for _, error in every])
    sizes = np.array([[part[name] / worth[name] for name in FITTED] for part in parts])
    kept = np.array([sum(part[name] ** 2 for name in part if name not in FITTED) for part in parts])
    print(f"{len(every)} stays\n{'doubt':10} in use  fitted")
    for name, factor in zip(FITTED, fit(sizes, kept + 1e-9, errors), strict=True):
        print(f"{name:10} {worth[name]:6.3f} {factor:7.3f}")
    print("\nall of them, by short and late: in use  fitted")
    scales = np.array([doubts.error_percent() for doubts, _ in every]) + 1e-3
    for behind, factor in [((*kind, late), one) for kind, some in BEHIND.items() for late, one in some.items()]:
        some = np.array([(doubts.short, doubts.rests, doubts.late) == behind for doubts, _ in every])
        if some.any():
            fitted = factor * scale_of(errors[some] / scales[some])
            print(f"{behind!s:15} {factor:6.2f} {fitted:6.2f}  of {some.sum()}")
    for promised in PROMISED_PERCENT.values():
        print(f"\nbeyond {promised:g} %: predicted, and seen")
        chances = np.array([doubts.chance_beyond(promised) for doubts, _ in every])
        for low, high in pairwise(CLASSES):
            some = (chances >= low) & (chances < high)
            if some.any():
                share = 100 * (np.abs(errors[some]) > promised).mean()
                print(f"{100 * chances[some].mean():6.2f} %  {share:6.2f} %  of {some.sum()}")


if __name__ == "__main__":
    main()
