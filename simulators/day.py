"""The night before a simulated day: its configuration, job sheet and roster, written into a folder.

All invented: Larkmoor, its steers, their tags (999 is the manufacturer code kept for testing) and their last weights.
"""

import random
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from pathlib import Path

from simulators.yard import Yard

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

SHEET = """\
title = "autumn weigh-in"
mob = "dairy-beef steers"
roster = "roster.csv"

[details]
sex = "steer"
breed = "dairy cross"

[[treatments]]
name = "oral drench"
ml_per_step = 5.0
step_kg = 50
at_least_ml = 10.0
round_to_ml = 5.0
round = "up"
withhold_days = 28

[[draft]]
pen = "heavy"
at_least_kg = 340
[[draft]]
pen = "light"
below_kg = 300
[[draft]]
pen = "middle"
"""

DAYS_AGO = 62
"""How long ago the mob was weighed last."""


@dataclass(frozen=True, slots=True)
class Day:
    """The files of a simulated day."""

    folder: Path
    started: datetime

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
    def log(self) -> Path:
        """What the daemon said."""
        return self.folder / "daemon.log"


def lay_out(yard: Yard, folder: Path, started: datetime | None = None) -> Day:
    """Write the day's files, taking away those of an earlier one in the same folder."""
    folder = folder.absolute()
    folder.mkdir(parents=True, exist_ok=True)
    for old in ("events*.jsonl*", "neckyoke.db*", "neckyoke.sock", "daemon.log", "capture.jsonl.gz"):
        for path in folder.glob(old):
            path.unlink()
    day = Day(folder, started or datetime.now(UTC).replace(microsecond=0))
    day.config.write_text(CONFIG.format(folder=folder), encoding="utf-8")
    (folder / "sheet.toml").write_text(SHEET, encoding="utf-8")
    (folder / "roster.csv").write_text(roster(yard, day.started), encoding="utf-8")
    return day


def roster(yard: Yard, today: datetime) -> str:
    """Spell the mob's roster: what each animal weighed last time is what it weighs now less a plausible gain."""
    rng = random.Random(f"roster {yard.seed}")
    last = (today - timedelta(days=DAYS_AGO)).date().isoformat()
    rows = ["tag,visual,last_kg,last_date"]
    animals = {stay.animal: stay for stay in yard.truth}
    for number, stay in sorted(animals.items()):
        then_kg = stay.kg - DAYS_AGO * rng.gauss(0.95, 0.18)
        rows.append(f"{stay.tag or ''},{100 + number},{then_kg:.1f},{last}")
    return "\n".join(rows) + "\n"
