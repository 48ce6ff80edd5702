"""A draft by head count, on simulated mobs: `python tests/bench/heads.py [--mobs 40]`.

For mobs of 40 to 400 animals with last weights 20 to 60 days old, of which a third go: the mean weight given up against
the best choice, known afterwards, with last weights and without, beside whom the first come would be, and how often the
count came out.  Spread of gains and of gut fill as in Kenward (1987, Appl. Stat. 36:296), the mob's mean gain unknown
by 0.15 kg/day.

Without last weights the comparison is with the best that anybody can do who sees the weights one by one, in the order
in which they come, and knows how the mob is spread: Derman, Lieberman and Ross (1972, "A sequential stochastic
assignment problem", Management Science 18:349), whose theorem gives the expected sum exactly (`best_blind_kg`).  We do
not know the spread beforehand, but learn it from those that pass.  Kleinberg (2005, SODA, "A multiple-choice secretary
algorithm with applications to online auctions") shows that not knowing it costs a share of the order of 1/sqrt(k) of
the sum at worst: that is printed too.
"""

import argparse
import random
import sys
from math import sqrt
from pathlib import Path
from statistics import fmean, stdev

sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.bridge.job.pens.heads import Heads, first_come, forecast, given_up_kg
from tests.support.blind_choice import best_blind

GAIN = 0.9


def one(seed: int, animals: int, days: int, *, known: bool) -> tuple[float, float, float, bool, float]:
    """Return for one mob the weight given up by us and the first come, the best mean, is the count right, blind."""
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
    blind = 0.0 if known else best - fmean(now.values()) - stdev(now.values()) * best_blind(animals, heads)
    return given_up_kg(now, took, heads), plain, best, len(took) == heads, blind


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--mobs", type=int, default=20, help="of each size and age of weights (20)")
    args = parser.parse_args()
    print("kg given up against the best choice known afterwards, mean of each row's mobs")
    print("animals  days  last weights    ours  first come  ratio  best blind  1/sqrt(k) of the best  count right")
    for animals in (40, 100, 200, 400):
        for days in (20, 40, 60):
            for known in (True, False):
                runs = [one(seed, animals, days, known=known) for seed in range(args.mobs)]
                ours, plain, best, _, blind = (fmean(run[at] for run in runs) for at in range(5))
                at_best = "" if known else f"{blind:.2f}"
                bound = "" if known else f"{best / sqrt(animals // 3):.1f}"
                right = sum(run[3] for run in runs)
                print(
                    f"{animals:7}  {days:4}  {'yes' if known else 'no':>12}  {ours:6.2f}  {plain:10.2f}  "
                    f"{ours / plain:5.3f}  {at_best:>10}  {bound:>21}  {right} of {len(runs)}"
                )


if __name__ == "__main__":
    main()
