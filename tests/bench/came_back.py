"""An animal that steps off the platform and comes on again: is it offered its dose a second time?

    python tests/bench/came_back.py [--yards 6] [--row NAME ...] [--seed 1] [--worst]

Simulated days (`simulators.yard`) through the whole machine, with a sheet of one treatment; what counts is what is
shown as the animal settles, for that is when a person doses.  Every row is a way to hear tags, twice:

    again     three in ten step off in mid-stay and come on again after one to eight seconds; counted are those whose
              first stay was offered the dose
        tag       the second stay is shown with the animal's tag, and that it was given the dose
        both      with its tag, and that it may have been given the dose a minute ago, as the number that it was
        doubt     without a tag, but that
        AS NEW    offered the dose as if it never had it: what must not be
        other     with another animal's tag, and offered the dose
        kept      with its tag in the last revision
    alike     nobody comes back, and all weigh the same within half of one per cent; counted are those that follow one
              that was offered the dose
        offered   offered the dose
        doubt     that it may have been given it: somebody has to look.  Of these, still so as it leaves; and of those,
                  not offered it, nothing said by a flag afterwards
        MISSED    said to have been given it, with no word of doubt
    mob       the same, with weights as they are in a mob
    restless  as `again`, and
    wild      as `mob`, of animals that throw themselves about: their weights are rougher

With --look somebody looks wherever there is doubt, and says what is so; else nobody says anything, and of three that
weigh alike the third may be the first, too.  Wrong tags are those of last revisions, of all stays; SILENT has no flag.
"""

import argparse
import sys
import tempfile
from collections import Counter, defaultdict
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.bridge.asking.dose_requests import SkipRequest
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.events import Clock, Event, Flag, Settled, Stamp, Weighing
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.doses.given import in_doubt
from neckyoke.bridge.job.past import Past
from neckyoke.bridge.job.sheet import load_sheet
from neckyoke.bridge.site.site import Site
from neckyoke.simulators.crush.hearing import Hearing
from neckyoke.simulators.crush.reader import Reader
from neckyoke.simulators.scenario import Bother, Gaps, Mob, Scenario
from neckyoke.simulators.scenarios import AHEAD, HAND, LARKMOOR, PANEL, RESTLESS
from neckyoke.simulators.yard import Stay, Yard
from tests.support.sheets import one

STARTED = datetime(2026, 11, 24, 2, 0, tzinfo=UTC)
ANIMALS = 40
SHEET = 'title = "Drench"\n[[treatments]]\nname = "drench"\nml = 10\nwithhold_days = 28\n'
AROUND = replace(PANEL, next_read=0.2, last_read=0.2, missed=0.05, spelling="space")
ROWS: dict[str, tuple[Hearing, ...]] = {
    "panel": LARKMOOR.readers,
    "around": (AROUND,),
    "once": (replace(AROUND, reader=Reader(repeat_s=120.0)),),
    "weak": (replace(AROUND, chance=(0.01, 0.08), near_share=(0.2, 0.7)),),
    "ahead": (replace(AHEAD, spelling="space"),),
    "stick": (replace(HAND, early=0.05, late=0.05),),
    "none": (),
}
DAYS: dict[str, Scenario] = {
    "again": replace(LARKMOOR, bother=Bother(came_back=0.3)),
    "alike": replace(LARKMOOR, mob=Mob(kg=(317.2, 318.8)), gaps=Gaps(median_s=4.0, s=(1.0, 40.0))),
    "mob": LARKMOOR,
    "restless": replace(LARKMOOR, manner=RESTLESS, bother=Bother(came_back=0.3)),
    "wild": replace(LARKMOOR, manner=RESTLESS),
}

COLUMNS: dict[str, tuple[str, ...]] = {
    "again": ("again all",),
    "tag": ("again tag",),
    "both": ("again both",),
    "doubt": ("again doubt",),
    "AS NEW": ("again offered",),
    "other": ("again other",),
    "kept": ("again kept",),
    "|": (),
    "else": ("else all",),
    "offered": ("else offered", "else other"),
    "doubted": ("else doubt", "else both"),
    "still": ("else end doubt", "else end both"),
    "unsaid": ("else unsaid",),
    "MISSED": ("else wrong tag", "else tag"),
    "wrong": ("wrong",),
    "SILENT": ("SILENT",),
}
"""What is counted, each the sum of some tallies."""
WIDTH = 7


def day(scenario: Scenario, seed: int, folder: Path, *, look: bool = False) -> tuple[Yard, list[Event]]:
    """Return a day, and every event of it; `look`: somebody says what is so wherever there is doubt."""
    yard = Yard(replace(scenario, mob=replace(scenario.mob, dead=0.03)), seed, ANIMALS)
    readers = ", ".join(f'{{ link = "{at.link}", position = "{at.position}" }}' for at in scenario.readers)
    links = ("indicator", *(at.link for at in scenario.readers))
    (folder / "neckyoke.toml").write_text(
        'site = "larkmoor"\n'
        + "".join(f'[links.{link}]\nurl = "tcp://127.0.0.1:{4001 + n}"\n' for n, link in enumerate(links))
        + f'[stations.crush]\nscale = "indicator"\nreaders = [{readers}]\n'
    )
    (folder / "sheet.toml").write_text(SHEET)
    sheets, past = one(load_sheet(folder / "sheet.toml"), None), Past()
    site = Site(
        load_config(folder / "neckyoke.toml"),
        started=STARTED,
        stamp=lambda t: Stamp(STARTED + timedelta(seconds=t), Clock.SYNCHRONISED),
        clerk=lambda _: Clerk(sheets, history=past.weights, doses=past.doses, shown=past.shown, had=past.had),
        past=past,
    )
    events = [event for link in links for event in site.link(0.0, link, "up")]
    for t, link, data in yard.items():
        told = site.data(t, link, data)
        events += told
        for shown in [event.data for event in told if isinstance(event.data, Settled)] if look else ():
            if in_doubt(shown.treatments, shown):
                stay = min(yard.truth, key=lambda stay: max(stay.on_t - t, t - stay.off_t))
                said = SkipRequest(
                    station="crush", weighing=shown.weighing, treatment="drench", given=not stay.came_back
                )
                events += site.request(t, said)[1]
    return yard, [*events, *site.finish(yard.end_t)]


def matched(yard: Yard, events: Sequence[Event]) -> dict[int, int]:
    """Return for each weighing's number the stay that it overlaps most, of those that no other does so well."""
    best: dict[int, tuple[float, int]] = {}
    for data in {event.data.number: event.data for event in events if isinstance(event.data, Weighing)}.values():
        on, off = ((at - STARTED).total_seconds() for at in (data.on, data.off))
        stay = max(yard.truth, key=lambda stay: min(off, stay.off_t) - max(on, stay.on_t))
        over = min(off, stay.off_t) - max(on, stay.on_t)
        if over > best.get(stay.number, (0.0, 0))[0]:
            best[stay.number] = over, data.number
    return {number: stay for stay, (_, number) in best.items()}


def kind(shown: Settled, stay: Stay) -> str:
    """Say how one was shown."""
    (dose,) = shown.treatments
    if not dose.skipped:
        return "other" if shown.tag is not None and shown.tag.id != stay.tag else "offered"
    if "may have" in (dose.remark or ""):
        return "both" if shown.tag is not None and shown.tag.id == stay.tag else "doubt"
    return "tag" if shown.tag is not None and shown.tag.id == stay.tag else "wrong tag"


def count(yard: Yard, events: Sequence[Event], tally: Counter[str], *, worst: str = "") -> None:
    """Count one day."""
    shown: dict[int, list[Settled]] = defaultdict(list)
    last: dict[int, Weighing] = {}
    for event in events:
        if isinstance(event.data, Settled):
            shown[event.data.number].append(event.data)
        elif isinstance(event.data, Weighing):
            last[event.data.number] = event.data
    stay_of = matched(yard, events)
    number_of = {stay: number for number, stay in stay_of.items()}
    for stay in yard.truth:
        number, before = number_of.get(stay.number), number_of.get(stay.number - 1)
        if number is None or stay.crowded:
            continue
        tag = last[number].tag
        if tag is not None and tag.id != stay.tag:
            tally["wrong" if last[number].flags else "SILENT"] += 1
        if not shown[number] or before is None or not shown[before] or shown[before][0].treatments[0].skipped:
            continue
        what = kind(shown[number][0], stay)
        end = kind(shown[number][-1], stay)
        group = "again" if stay.came_back else "else"
        tally[f"{group} all"] += 1
        tally[f"{group} {what}"] += 1
        tally[f"{group} end {end}"] += 1
        tally[f"{group} kept"] += tag is not None and tag.id == stay.tag
        if group == "else" and end not in {"offered", "other"}:
            tally["else unsaid"] += not {Flag.NOT_GIVEN, Flag.MAYBE_SAME} & {*last[number].flags}
        if f"{group} {what if group == 'again' else end}" in worst.split(","):
            gap = stay.on_t - yard.truth[stay.number - 2].off_t
            told = [(one.tag.id[-4:] if one.tag else None, [*one.flags]) for one in shown[number]]
            print(
                f"  seed {yard.seed} number {number} {group} {what}, {end}: gap {gap:.1f} s, own {stay.own_reads},"
                f" {shown[before][0].weight.kg} {shown[before][0].weight.grade} then {shown[number][0].weight.kg}"
                f" {shown[number][0].weight.grade} {told}; last {[*last[number].flags]}"
            )


def main() -> None:
    """Print a line a row and day."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--yards", type=int, default=6, help="of forty animals, a row and day")
    parser.add_argument("--row", nargs="*", choices=tuple(ROWS), default=tuple(ROWS))
    parser.add_argument("--day", nargs="*", choices=tuple(DAYS), default=tuple(DAYS))
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("--look", action="store_true", help="somebody looks wherever there is doubt, and says")
    parser.add_argument("--worst", default="", help="name those shown so: 'again offered,else doubt'")
    args = parser.parse_args()
    print(f"{'row':8} {'day':6} " + " ".join(f"{name:>{WIDTH}}" for name in COLUMNS))
    for row in args.row:
        for name in args.day:
            tally: Counter[str] = Counter()
            with tempfile.TemporaryDirectory() as folder:
                for seed in range(args.seed, args.seed + args.yards):
                    yard, events = day(replace(DAYS[name], readers=ROWS[row]), seed, Path(folder), look=args.look)
                    count(yard, events, tally, worst=args.worst)
            sums = (sum(tally[one] for one in of) for of in COLUMNS.values())
            print(f"{row:8} {name:6} " + " ".join(f"{one:{WIDTH}}" for one in sums), flush=True)


if __name__ == "__main__":
    main()
