"""Is the right tag on the right stay?  Simulated days, each regime beside two simple rules in the same run.

    python tests/bench/pairing.py [--stays 2000] [--regime NAME ...] [--seed 1] [--worst]
    python tests/bench/pairing.py --drawn 40 [--row NAME ...] [--half HALF] [--after 1000]
                                                            yards drawn from priors: see drawn.py; others than the first

Stays and reads come from `simulators.yard`; the platform is taken as exact, so that only the pairing is measured.  The
figures count final revisions:

    right       right tag among stays whose own tag was heard in its turn
    flagged     a right tag, but flagged
    none        no tag although it was readable, flagged
    wrong       a wrong tag, flagged
    SILENT      a wrong tag with no flag: what must not be
    last, first the share of right and silent wrong tags by "last tag read before settling", "first tag of the stay"
    order       with one reader, ahead: what the order of the tags can tell at most; animals that changed places behind
                the reader leave no trace in it

A reader ahead is told its places, as the README says to do, but in wide-ahead-untold.

The regimes named wide-* vary what nobody knows beforehand: how fast and how well a reader reads, how often neighbours
are heard, how long the queue is.  Every range is an assumption (simulators/scenarios.py).
"""

import argparse
import sys
import time
from bisect import bisect_left, bisect_right
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import replace
from itertools import pairwise
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.tags.pairing import Pairing
from neckyoke.bridge.station.tags.verdict import SURENESS, Verdict
from neckyoke.protocols.tagcode import TagCode
from neckyoke.simulators.crush.hearing import Hearing
from neckyoke.simulators.crush.reader import Reader
from neckyoke.simulators.scenario import Gaps, Mob, Scenario
from neckyoke.simulators.scenarios import AHEAD, HAND, PAIRING, PANEL
from neckyoke.simulators.yard import Stay, Yard
from tests.bench.drawn import ROWS, draw

A_DAY = 250
"""Animals of one yard: a day's mob."""

ONCE = replace(PANEL, reader=Reader(repeat_s=120.0))
SLOW = replace(PANEL, reader=Reader(repeat_s=3.0), chance=(0.1, 0.6))
WEAK = replace(PANEL, chance=(0.01, 0.08), reader=Reader(repeat_s=0.0, turn_chance=0.5))
FAST = replace(PANEL, reader=Reader(repeat_s=0.0), chance=(0.6, 1.0))


def around(reader: Hearing) -> Hearing:
    """Let a reader hear neighbours too, and miss some."""
    return replace(reader, next_read=0.2, last_read=0.2, missed=0.05)


def upset(reader: Hearing, jumps: float = 0.01) -> Hearing:
    """Let a queue have its faults."""
    return replace(reader, stops=0.05, backs=0.02, jumps=jumps, missed=0.01)


SURE_BINS = (0.0, *SURENESS, 99.9, 100.0)
"""Of what is said of a tag's chance to be right, in percent."""
HALVES = {"looked at": 0, "held out": 1}
"""First seed of the drawn yards that may be looked at while something is tuned, and of those only ever reported."""
UNTOLD = "wide-ahead-untold"
"""The one regime in which nobody says how many places there are."""


def _wide(name: str, *readers: Hearing, mob: Mob | None = None, gaps: Gaps | None = None) -> Scenario:
    pattern = next(one for one in PAIRING if one.name == "tags-clean")
    return replace(
        pattern,
        name=f"wide-{name}",
        readers=readers,
        mob=mob or pattern.mob,
        gaps=gaps or pattern.gaps,
    )


WIDE: tuple[Scenario, ...] = (
    _wide("ahead-untold", upset(AHEAD)),
    _wide("ahead-jumps", upset(AHEAD, jumps=0.02)),
    _wide("ahead-late", replace(upset(AHEAD), outages=((0.0, 60.0), (900.0, 30.0)))),
    _wide("once", ONCE),
    _wide("once-around", around(ONCE)),
    _wide("slow-around", around(SLOW)),
    _wide("weak", WEAK),
    _wide("weak-around", around(WEAK)),
    _wide("fast-around", around(FAST)),
    _wide("crowd", replace(PANEL, next_read=0.6, last_read=0.5)),
    _wide("crowd-missed", replace(PANEL, next_read=0.6, last_read=0.5, missed=0.05), mob=Mob(dead=0.03)),
    _wide("no-gap-missed", around(PANEL), gaps=Gaps(none=1.0)),
    _wide("strays", replace(PANEL, strays_per_hour=20.0, missed=0.05)),
    _wide("untagged", replace(PANEL, next_read=0.2, last_read=0.2), mob=Mob(untagged=0.2)),
    _wide("ahead-one", upset(replace(AHEAD, places=1))),
    _wide("ahead-four", upset(replace(AHEAD, places=4))),
    _wide("ahead-bad", replace(AHEAD, stops=0.1, backs=0.05, jumps=0.05, missed=0.05)),
    _wide("hand-bad", replace(HAND, early=0.2, late=0.2, wrong=0.03, missed=0.05)),
    _wide("hand-no-gap", replace(HAND, early=0.1, late=0.1), gaps=Gaps(none=1.0)),
    _wide("hand-and-panel", replace(PANEL, missed=0.3), replace(HAND, early=0.1, late=0.1, missed=0.7)),
    _wide("again", around(PANEL), mob=Mob(rounds=3)),
    _wide("outages", replace(around(PANEL), outages=tuple((90.0 * n, 30.0) for n in range(1, 400)))),
)


def code_of(tag: str) -> TagCode:
    """Take fifteen digits apart."""
    return TagCode(int(tag[:3]), int(tag[3:]))


def spans(yard: Yard) -> list[tuple[float, float]]:
    """Return when a platform would say that each stay began and ended: some feet on, few feet on, never two at once."""
    seen = [(stay.on_t + 0.3, max(stay.off_t - 0.3, stay.on_t + 0.6)) for stay in yard.truth]
    ends = [min(off, following[0]) for (_, off), following in pairwise(seen)] + [off for _, off in seen[-1:]]
    return [(on, max(off, on + 0.1)) for (on, _), off in zip(seen, ends, strict=True)]


def pair(yard: Yard) -> dict[int, Verdict]:
    """Run the pairing over a day; return each stay's last verdict."""
    readers = yard.scenario.readers
    told = {} if yard.scenario.name == UNTOLD else {one.link: one.places for one in readers if one.position == "ahead"}
    pairing = Pairing({one.link: one.position for one in readers}, told)
    steps: list[tuple[float, int, int, str, str]] = [(t, 1, 0, link, tag) for t, link, tag in yard.reads]
    for number, (on, off) in enumerate(spans(yard), 1):
        steps += [(on, 2, number, "", ""), (off, 0, number, "", "")]
    verdicts: dict[int, Verdict] = {}
    for t, what, number, link, tag in sorted(steps):
        while (due := pairing.due) is not None and due <= t:
            verdicts.update((one.number, one) for one in pairing.settle(due))
        if what == 0:
            verdicts.update((one.number, one) for one in pairing.ended(number, t))
        elif what == 1:
            pairing.read(t, link, code_of(tag))
        else:
            pairing.began(number, t)
    verdicts.update((one.number, one) for one in pairing.finish())
    return verdicts


def simple(yard: Yard) -> Iterator[tuple[Stay, str | None, str | None]]:
    """Yield each stay with what the two simple rules say."""
    times = [t for t, _, _ in yard.reads]
    for stay, (on, off) in zip(yard.truth, spans(yard), strict=True):
        settled = min(off, stay.all_on_t + 1.5)
        last = yard.reads[bisect_left(times, settled - 30.0) : bisect_right(times, settled)]
        first = yard.reads[bisect_left(times, on) : bisect_right(times, off)]
        yield stay, last[-1][2] if last else None, first[0][2] if first else None


def judge(tally: Counter[str], stay: Stay, tag: str | None, flagged: bool, prefix: str = "") -> str:  # noqa: FBT001
    """Count one stay."""
    if tag is None:
        what = "none" if stay.readable else "rightly-none"
    elif tag == stay.tag:
        what = "flagged" if flagged else "right"
    else:
        what = "wrong" if flagged else "SILENT"
    tally[prefix + what] += 1
    tally[prefix + "right-readable"] += what in ("right", "flagged") and stay.readable
    return what


def run(scenario: Scenario, stays: int, seed: int, *, worst: bool = False) -> Counter[str]:
    """Measure one regime."""
    tally: Counter[str] = Counter()
    ordered = [one.position for one in scenario.readers] == ["ahead"]
    while tally["stays"] < stays:
        yard = Yard(scenario, seed, A_DAY)
        began = time.process_time()
        verdicts = pair(yard)
        tally["ms"] += round(1000 * (time.process_time() - began))
        for stay, last, first in simple(yard):
            verdict = verdicts[stay.number]
            tag = str(verdict.code) if verdict.code else None
            what = judge(tally, stay, tag, bool(verdict.flags))
            if worst and what in ("SILENT", "wrong", "none"):
                print(f"  seed {seed} number {stay.number}: {what} {tag} for {stay.tag}, {verdict.rule}")
            judge(tally, stay, last, flagged=False, prefix="last-")
            judge(tally, stay, first, flagged=False, prefix="first-")
            tally["stays"] += 1
            tally["readable"] += stay.readable
            tally["overtaken"] += ordered and stay.readable and stay.number in yard.overtaken
        seed += 1
    return tally


def run_drawn(row: str, yards: int, halves: Sequence[str] = tuple(HALVES), after: int = 0) -> None:
    """Measure so many drawn yards of a row and half, but for the first `after`, and print a line each.

    Of all stays: right tags, those flagged `tag-doubtful`, and wrong ones, flagged or not, at the end of the day; and
    of the pairs said to be so sure, how many are right.
    """
    for half in halves:
        tally: Counter[str] = Counter()
        for seed in range(HALVES[half] + 2 * after, 2 * (after + yards), 2):
            yard = draw(row, seed)
            verdicts = pair(yard)
            for stay in yard.truth:
                verdict = verdicts[stay.number]
                tag = str(verdict.code) if verdict.code else None
                tally["stays"] += 1
                tally[judge(tally, stay, tag, Flag.TAG_DOUBTFUL in verdict.flags, "all-")] += 1
                if tag is not None and verdict.sure_percent is not None:
                    low = SURE_BINS[bisect_right(SURE_BINS, verdict.sure_percent) - 1]
                    tally[f"said {low}"] += 1
                    tally[f"wrong {low}"] += tag != stay.tag
        right = tally["right"] + tally["flagged"]
        share = 100 * tally["flagged"] / right
        print(
            f"{row:9} {half:9} {tally['stays']:6} {right:6} {tally['flagged']:7} {share:6.1f} %"
            f" {tally['wrong']:6} {tally['SILENT']:6}",
            flush=True,
        )
        for low, high in pairwise(SURE_BINS):
            said, wrong = tally[f"said {low}"], tally[f"wrong {low}"]
            if said:
                print(f"{'':20} said {low:4} to {high:5} % sure: {said:5}, right {100 * (1 - wrong / said):6.2f} %")


def _order(scenario: Scenario, tally: Counter[str]) -> str:
    alone = [one.position for one in scenario.readers] == ["ahead"]
    return f"{100 - 100 * tally['overtaken'] / max(1, tally['readable']):6.2f}" if alone else ""


def main() -> None:
    """Print one line a regime."""
    parser = argparse.ArgumentParser()
    parser.add_argument("--stays", type=int, default=2000)
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--regime", nargs="*")
    parser.add_argument("--worst", action="store_true", help="name the stays that went wrong")
    parser.add_argument("--drawn", type=int, metavar="YARDS", help="so many drawn yards a row and half")
    parser.add_argument("--after", type=int, default=0, metavar="YARDS", help="leave out the first so many drawn yards")
    parser.add_argument("--half", nargs="*", choices=tuple(HALVES), default=tuple(HALVES))
    parser.add_argument("--row", nargs="*", choices=tuple(ROWS), default=tuple(ROWS))
    args = parser.parse_args()
    if args.drawn:
        print(f"{'yards':9} {'half':9} {'stays':>6} {'right':>6} flagged  share    wrong SILENT")
        for row in args.row:
            run_drawn(row, args.drawn, args.half, args.after)
        return
    print(
        f"{'regime':18} stays readable  right% flagged  none  wrong SILENT | last% silent first% silent  ms/stay order%"
    )
    for scenario in (*PAIRING, *WIDE):
        if args.regime and scenario.name not in args.regime:
            continue
        tally = run(scenario, args.stays, args.seed, worst=args.worst)
        readable, stays = max(1, tally["readable"]), tally["stays"]
        print(
            f"{scenario.name:18} {stays:5} {readable:8} {100 * tally['right-readable'] / readable:7.2f}"
            f" {tally['flagged']:7} {tally['none']:5} {tally['wrong']:6} {tally['SILENT']:6}"
            f" | {100 * tally['last-right-readable'] / readable:5.1f} {tally['last-SILENT']:6}"
            f" {100 * tally['first-right-readable'] / readable:6.1f} {tally['first-SILENT']:6}"
            f" {tally['ms'] / stays:8.2f} {_order(scenario, tally)}",
            flush=True,
        )


if __name__ == "__main__":
    main()
