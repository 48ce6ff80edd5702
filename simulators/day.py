"""A simulated day at Larkmoor: what was written the night before, and what the person at the crush says during it.

All invented: the place, the steers, their tags (999 is the manufacturer code kept for testing) and their last weights.
One animal wears no tag and is told by the number on its ear, one has a note, one is not on the roster, one misses a
treatment.
"""

import random
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from neckyoke.simulators.capture import Asked, write_capture
from neckyoke.simulators.yard import Yard

CONFIG = """\
site = "larkmoor"

[links.indicator]
url = "serial:{folder}/indicator?baud=9600"

[links.panel]
url = "serial:{folder}/panel?baud=9600"

[stations.crush]
scale = "indicator"
readers = [{{ link = "panel", position = "platform" }}]
capacity_kg = 1500
interval_kg = 0.5
smallest_kg = 25
require_tag = true
sheet = "sheet.toml"

[outlets.events]
file = "events.jsonl"
"""

PAGE = """
[page]
listen = "0.0.0.0:{port}"
"""
FINDINGS = """
[[findings]]
name = "condition"
choices = [1, 2, 3, 4, 5]

[[findings]]
name = "signs"
choices = ["lame", "eye", "cough", "horn"]
several = true
"""
"""What a person gives by touch, where there is one to look at the page."""

DRENCH = """
[[treatments]]
name = "oral drench"
ml_per_step = 5.0
step_kg = 50
at_least_ml = 10.0
round_to_ml = 5.0
round = "up"
withhold_days = 28
export_days = 42
"""
PENS = """
[[draft]]
pen = "heavy"
at_least_kg = 340
[[draft]]
pen = "light"
below_kg = 300
[[draft]]
pen = "middle"
"""
SHEET = f"""\
title = "autumn weigh-in"
mob = "dairy-beef steers"
roster = "roster.csv"

[details]
sex = "steer"
breed = "dairy cross"
{DRENCH}
[[treatments]]
name = "clostridial vaccine"
ml = 2.0
withhold_days = 0
export_days = 0
{PENS}"""

DAYS_AGO = 62
"""How long ago the mob was weighed last."""
NOTED, UNEXPECTED, SKIPPED = 3, 4, 6
"""Animals, by number, that something is said of.  The scenario says which wears no tag."""
SAID_AFTER_S = 1.5
"""A person speaks so long after the animal stands there with all feet."""


@dataclass(frozen=True, slots=True)
class Day:
    """The files of a simulated day."""

    folder: Path
    started: datetime
    said: tuple[Asked, ...]

    @property
    def config(self) -> Path:
        """The configuration."""
        return self.folder / "neckyoke.toml"

    @property
    def events(self) -> Path:
        """Where the events go, one a line."""
        return self.folder / "events.jsonl"

    @property
    def socket(self) -> Path:
        """The daemon's local socket."""
        return self.folder / "neckyoke.sock"

    @property
    def capture(self) -> Path:
        """What the devices sent and the person said."""
        return self.folder / "capture.jsonl.gz"

    @property
    def log(self) -> Path:
        """What the daemon said."""
        return self.folder / "daemon.log"


def lay_out(yard: Yard, folder: Path, started: datetime | None = None, *, page_port: int | None = None) -> Day:
    """Write the day's files, taking away those of an earlier one in the same folder; with a page, also its findings."""
    folder = folder.absolute()
    folder.mkdir(parents=True, exist_ok=True)
    for old in ("events*.jsonl*", "neckyoke.db*", "neckyoke.sock", "daemon.log", "capture.jsonl.gz"):
        for path in folder.glob(old):
            path.unlink()
    day = Day(folder, started or datetime.now(UTC).replace(microsecond=0), tuple(_said(yard)))
    page = "" if page_port is None else PAGE.format(port=page_port)
    day.config.write_text(CONFIG.format(folder=folder) + page, encoding="utf-8")
    (folder / "sheet.toml").write_text(SHEET + (FINDINGS if page else ""), encoding="utf-8")
    (folder / "roster.csv").write_text(roster(yard, day.started), encoding="utf-8")
    return day


def record(yard: Yard, day: Day) -> None:
    """Write the day's capture, as the daemon would have recorded it."""
    write_capture(day.capture, yard.items(), started=day.started, asked=day.said)


def _said(yard: Yard) -> Iterator[Asked]:
    """Yield what the person at the crush says of the animal standing there."""
    words: dict[int, dict[str, object]] = {
        NOTED: {"kind": "note", "text": "lame, near hind"},
        SKIPPED: {"kind": "skip", "treatment": "clostridial vaccine"},
    }
    for stay in yard.truth:
        if stay.tag is None:
            yield stay.all_on_t + SAID_AFTER_S, {"kind": "identify", "visual": str(visual(stay.animal))}
        if stay.animal in words:
            yield stay.all_on_t + SAID_AFTER_S, words[stay.animal]


def visual(animal: int) -> int:
    """Return the number on an animal's ear."""
    return 100 + animal


def roster(yard: Yard, today: datetime) -> str:
    """Spell the mob's roster: what each animal weighed last time is what it weighs now less a plausible gain."""
    rng = random.Random(f"roster {yard.seed}")
    last = (today - timedelta(days=DAYS_AGO)).date().isoformat()
    rows = ["tag,visual,last_kg,last_date"]
    animals = {stay.animal: stay for stay in yard.truth}
    for number, stay in sorted(animals.items()):
        then_kg = stay.kg - DAYS_AGO * rng.gauss(0.95, 0.18)
        if number != UNEXPECTED:
            rows.append(f"{stay.tag or ''},{visual(number)},{then_kg:.1f},{last}")
    return "\n".join(rows) + "\n"
