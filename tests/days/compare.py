"""A committed day: sixty simulated steers at Larkmoor, and every event that neckyoke makes of them.

    python tests/days/compare.py             show what today's code would change, line by line
    python tests/days/compare.py --accept    and write it: only when each changed line is meant
    python tests/days/compare.py --draw      draw the capture and its truth anew, which changes every line

Simulated throughout (`neckyoke.simulators`), names and tags of our own: two steers without a tag, dead tags, neighbours
heard, a stick for those that the panel missed, a lost link, a few that lean or will not stand; and people who note,
skip, strike out, name an animal by its ear, give a wrong tag and put it right.

    capture.jsonl.gz                         what the devices sent and what was asked
    truth.csv                                who stood there, which no device tells
    neckyoke.toml, sheet.toml, roster.csv    what was written the night before
    events.jsonl                             expected: an event a line, in short
    reasons.txt                              expected: why each weighing got its tag
"""

import argparse
import csv
import difflib
import json
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path
from typing import Any

if __name__ == "__main__":
    sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.bridge.capture.read import read_capture
from neckyoke.bridge.commands.replay import events_of, site_for
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.events import Event, Weighing, spell_time
from neckyoke.bridge.job.past import Past
from neckyoke.bridge.site.site import Site
from neckyoke.simulators.capture import STARTED, Asked, write_capture
from neckyoke.simulators.crush.hearing import Hearing
from neckyoke.simulators.crush.indicator import Indicator
from neckyoke.simulators.crush.reader import Reader
from neckyoke.simulators.day import SHEET, roster, visual
from neckyoke.simulators.scenario import Scenario
from neckyoke.simulators.scenarios import LARKMOOR, TYPICAL
from neckyoke.simulators.yard import Stay, Yard

FOLDER = Path(__file__).parent / "larkmoor"
SEED, ANIMALS = 7, 60
TYPES = ("neckyoke.weighing", "neckyoke.settled", "neckyoke.tag", "neckyoke.attention", "neckyoke.link")
TOLD = (
    *("weighing", "number", "revision", "tag", "tags_seen", "weight", "on", "settled", "off", "flags", "pen", "notes"),
    *("skipped", "final", "final_at", "why", "may_leave", "missing", "link", "state", "about", "text", "over"),
    "lasted_s",
)
"""Of each event: what does not say the same all day."""
CONFIG = """\
site = "larkmoor"

[links.indicator]
url = "tcp://127.0.0.1:4001"

[links.panel]
url = "tcp://127.0.0.1:4002"

[links.stick]
url = "tcp://127.0.0.1:4003"

[stations.crush]
scale = "indicator"
readers = [{ link = "panel", position = "platform" }, { link = "stick", position = "hand" }]
capacity_kg = 1500
interval_kg = 0.5
smallest_kg = 25
require_tag = true
sheet = "sheet.toml"

[outlets.events]
file = "events.jsonl"
"""
SCENARIO: Scenario = replace(
    LARKMOOR,
    name="committed",
    mob=replace(LARKMOOR.mob, bare=(9, 33), dead=0.03),
    manner=replace(TYPICAL, stay_median_s=5.0, stay_s=(1.2, 14.0), lean_chance=0.05, pause_chance=0.1),
    indicator=Indicator(rate_hz=5.0),
    readers=(
        Hearing(
            reader=Reader(repeat_s=0.8),
            next_read=0.2,
            last_read=0.15,
            missed=0.08,
            outages=((400.0, 12.0),),
            spelling="space",
        ),
        Hearing(link="stick", position="hand", spelling="space", missed=0.8, early=0.1, late=0.1),
    ),
)


# -- drawing it ----------------------------------------------------------------------------------------------------


def draw() -> None:
    """Draw the capture, its truth and what was written the night before."""
    yard = Yard(SCENARIO, SEED, ANIMALS)
    FOLDER.mkdir(exist_ok=True)
    write_capture(FOLDER / "capture.jsonl.gz", yard.items(), asked=_asked(yard.truth))
    (FOLDER / "neckyoke.toml").write_text(CONFIG)
    (FOLDER / "sheet.toml").write_text(SHEET)
    (FOLDER / "roster.csv").write_text(roster(yard, STARTED))
    with (FOLDER / "truth.csv").open("w", newline="") as out:
        rows = csv.writer(out, lineterminator="\n")
        rows.writerow(["number", "animal", "tag", "readable", "kg"])
        for stay in yard.truth:
            rows.writerow([stay.number, stay.animal, stay.tag or "", int(stay.readable), round(stay.kg, 1)])


def _asked(truth: list[Stay]) -> Iterator[Asked]:
    """Yield what people say: of the animal that stands there, of one just gone, of one long gone."""
    stays = {stay.animal: stay for stay in truth}

    def after(animal: int, s: float, **request: object) -> Asked:
        return stays[animal].all_on_t + s, request

    for stay in truth:
        if stay.tag is None:
            yield stay.all_on_t + 1.5, {"kind": "identify", "visual": str(visual(stay.animal))}
    yield after(5, 2.0, kind="note", text="lame, near hind")
    yield after(12, 1.0, kind="skip", treatment="clostridial vaccine")
    yield after(14, 3.0, kind="skip", treatment="clostridial vaccine", number=stays[12].number, given=True)
    yield after(20, 2.0, kind="identify", number=stays[17].number, tag=stays[18].tag)  # a wrong word
    yield after(24, 2.0, kind="identify", number=stays[17].number, tag=stays[17].tag)  # put right
    yield after(25, 2.0, kind="identify", number=stays[18].number, tag=stays[18].tag)
    yield after(30, 1.0, kind="void", number=stays[28].number, reason="weighed with the gate on it")
    yield after(41, 2.0, kind="identify", tag=None, number=stays[40].number)
    yield after(58, 1.0, kind="note", text="horn broken", number=stays[3].number)


# -- what neckyoke makes of it -------------------------------------------------------------------------------------


def replayed() -> tuple[Site, list[Event]]:
    """Replay the day."""
    capture = read_capture(FOLDER / "capture.jsonl.gz")
    site = site_for(capture, load_config(FOLDER / "neckyoke.toml"), Past())
    for station in site.stations.values():
        station.keep_traces()
    return site, list(events_of(capture, site))


def made() -> dict[str, list[str]]:
    """Replay the day; return the lines of both expected files."""
    site, events = replayed()
    numbers = {event.data.weighing: event.data.number for event in events if isinstance(event.data, Weighing)}
    reasons: list[str] = []
    for weighing, number in numbers.items():
        page = next(page for one in site.stations.values() if (page := one.explain(weighing)) is not None)
        at = next(n for n, line in enumerate(page) if line.startswith("Decided"))
        reasons += [f"{number}: {page[0]}", *(f"    {line}" for line in page[at:])]
    return {"events.jsonl": [_line(event) for event in events if event.type in TYPES], "reasons.txt": reasons}


def _line(event: Event) -> str:
    """Spell an event in short: its kind, its time, and of the rest what a person would look at."""
    data: dict[str, Any] = event.data.model_dump(mode="json", exclude_defaults=True)
    told = {name: data[name] for name in TOLD if name in data}
    if tag := data.get("tag"):
        told["tag"] = f"{tag['id']} {tag.get('reads', 0)} x {tag.get('link')}"
    if given := data.get("treatments"):
        told["treatments"] = [f"{one['name']} {one.get('dose_ml')} {one.get('remark', '')}".strip() for one in given]
    if gain := data.get("gain"):
        told["kg_per_day"] = gain.get("kg_per_day")
    return json.dumps({"type": event.type.removeprefix("neckyoke."), "at": spell_time(event.time), **told})


def expected() -> dict[str, list[str]]:
    """Read both expected files."""
    return {
        name: (FOLDER / name).read_text(encoding="utf-8").splitlines() if (FOLDER / name).exists() else []
        for name in ("events.jsonl", "reasons.txt")
    }


def difference() -> list[str]:
    """Return the lines that differ, as a unified diff without context; none when all is as expected."""
    before, now = expected(), made()
    return [
        line
        for name in now
        for line in difflib.unified_diff(before[name], now[name], f"expected {name}", f"now {name}", n=0, lineterm="")
    ]


def truth() -> dict[int, dict[str, str]]:
    """Return the truth of each stay by its number."""
    with (FOLDER / "truth.csv").open() as rows:
        return {int(row["number"]): row for row in csv.DictReader(rows)}


def main() -> int:
    """Show the difference; with --accept write it.  Exit code 1 when there is one that was not accepted."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--accept", action="store_true", help="write what today's code makes of the day")
    parser.add_argument("--draw", action="store_true", help="draw the capture and its truth anew first")
    args = parser.parse_args()
    if args.draw:
        draw()
    lines = difference()
    print("\n".join(lines) if lines else "The day is as expected.")
    if args.accept:
        for name, now in made().items():
            (FOLDER / name).write_text("\n".join(now) + "\n", encoding="utf-8")
    return 1 if lines and not args.accept else 0


if __name__ == "__main__":
    sys.exit(main())
