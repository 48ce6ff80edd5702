"""A draft by head count, on simulated mobs: `python tests/bench/heads.py [--mobs 40]`.

For mobs of 40 to 400 animals with last weights 20 to 60 days old, of which a third go: the mean weight given up against
the best choice, known afterwards, with last weights and without, beside whom the first come would be, and how often the
count came out. Spread of gains and of gut fill as in Kenward (1987, Appl. Stat. 36:296), the mob's mean gain unknown by
0.15 kg/day. Without last weights the loss is bounded from below by what picking the k best of n in random order costs,
of the order of 1/sqrt(k) of their sum (Kleinberg 2005, SODA); that share of the best mean is printed beside it.
"""

import argparse
import random
import sys
from math import sqrt
from pathlib import Path
from statistics import fmean

sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.bridge.job.pens.heads import Heads, first_come, forecast, given_up_kg

GAIN = 0.9


def one(seed: int, animals: int, days: int, *, known: bool) -> tuple[float, float, float, bool]:
    """Return for one mob the weight given up by us and by the first come, the best mean, is the count right."""
    draw = random.Random(seed)
    gain, heads = draw.gauss(GAIN, 0.15), animals // 3
    last = {f"{n}": draw.gauss(300, 25) for n in range(animals)}
    now = {key: kg + days * draw.gauss(gain, 0.18) + draw.gauss(0, 0.016 * kg) for key, kg in last.items()}
    places = Heads(heads, {key: forecast(kg, days, GAIN) if known else None for key, kg in last.items()})
    took = []
    for key, kg in now.items():
        went = places.goes(key, kg)
        places.passed(key, kg, went=went)
        took += [key] if went else []
    best = fmean(sorted(now.values(), reverse=True)[:heads])
    plain = given_up_kg(now, first_come(now.items(), heads), heads)
    return given_up_kg(now, took, heads), plain, best, len(took) == heads


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--mobs", type=int, default=20, help="of each size and age of weights (20)")
    args = parser.parse_args()
    print("animals  days  last weights  given up kg  first come kg  ratio  1/sqrt(k) of the best mean, kg  count right")
    for animals in (40, 100, 200, 400):
        for days in (20, 40, 60):
            for known in (True, False):
                runs = [one(seed, animals, days, known=known) for seed in range(args.mobs)]
                ours, plain, best = (fmean(run[at] for run in runs) for at in range(3))
                bound = "" if known else f"{best / sqrt(animals // 3):.1f}"
                right = sum(run[3] for run in runs)
                print(
                    f"{animals:7}  {days:4}  {'yes' if known else 'no':>12}  {ours:11.2f}  {plain:13.2f}  "
                    f"{ours / plain:5.3f}  {bound:>30}  {right} of {len(runs)}"
                )


if __name__ == "__main__":
    main()
