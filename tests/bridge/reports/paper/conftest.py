"""A mob over two jobs as events tell it, from one seed; and a reader of the pages that knows nothing of the project."""

import json
import random
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.events import (
    Clock,
    Finding,
    Gain,
    JobState,
    Tag,
    Treatment,
    Weighing,
    Weight,
    WithheldFor,
    make_id,
    wrap,
)

AUTUMN, SPRING = datetime(2026, 9, 22, 20, 0, tzinfo=UTC), datetime(2026, 11, 23, 20, 0, tzinfo=UTC)
ZONE = "Pacific/Auckland"
MOB = "dairy-beef steers"
EARS = ["0105", "12E5", "3/4", *(str(number) for number in range(201, 260))]
TREATMENTS = ("oral drench", "bolus")


def digits(ear: str) -> str:
    """Return the tag of an animal."""
    return f"999{1000 + EARS.index(ear):012d}"


class Season:
    """Writes the events: `job` a whole job, `told` what was written."""

    def __init__(self, seed: int = 7) -> None:
        self._draw = random.Random(seed)
        self._lines: list[str] = []
        self._last: dict[str, tuple[float, datetime]] = {}

    def _add(self, data: Any, time: datetime, key: str) -> None:
        event = wrap(data, site="larkmoor", time=time, key=key)
        sequence = f"{len(self._lines) + 1:010d}"
        self._lines.append(event.model_copy(update={"sequence": sequence}).to_json())

    def job(self, turn: int, begun: datetime, ears: Sequence[str], grown_kg: float, spread_kg: float = 28.0) -> None:
        """Write a job: each animal once, and at its end what goes wrong on a day."""
        job, end = make_id("job", turn), begun + timedelta(hours=2)
        title = f"weigh-in {turn}"
        state = {"job": job, "station": "crush", "turn": turn, "sheet": title, "mob": MOB, "timezone": ZONE}
        state |= {"begun": begun, "property_name": "Larkmoor Downs"}
        self._add(JobState(state="open", why="begun", **state), begun, f"{job}/1")
        number = 0
        for ear in ears:
            number += 1
            kg = round(2 * self._draw.gauss(250 + grown_kg, 22)) / 2
            if ear in self._last:
                kg = round(2 * (self._last[ear][0] + self._draw.gauss(grown_kg, spread_kg))) / 2
            grade = "poor" if number % 17 == 0 else "none" if number % 23 == 0 else "fair" if number % 4 else "good"
            self._weigh(number, job, title, begun, ear, kg, grade)
        wrong: tuple[tuple[str | None, str, str | None, int], ...] = (
            (ears[3], "repeat", job, 1),
            (ears[5], "voided", job, 2),
            (None, "no-tag", job, 1),
            (ears[6], "paused", None, 1),
        )
        for at, (who, flag, of, revision) in enumerate(wrong, number + 1):
            self._weigh(at, of, title, begun, who, 301.5, "good", flag, revision=revision)
        self._add(JobState(revision=2, state="ended", why="ended", ended=end, **state), end, f"{job}/2")

    def _weigh(
        self,
        number: int,
        job: str | None,
        title: str,
        begun: datetime,
        ear: str | None,
        kg: float,
        grade: str,
        *marked: str,
        revision: int = 1,
    ) -> None:
        on, known = begun + timedelta(minutes=number), kg if grade != "none" else None
        sure = grade in {"good", "fair"}
        tag = digits(ear) if ear else None
        last = self._last.get(ear) if ear else None
        days = (on.date() - last[1].date()).days if last else 0
        gain = None
        if last and sure and days:
            gained = round(kg - last[0], 3)
            per_day = round(gained / days, 3) if days >= 14 else None
            gain = Gain(kg=gained, days=days, since=last[1].date().isoformat(), kg_per_day=per_day)
        held = (WithheldFor(product="bolus", kind="meat", until="2026-12-01"),) if number % 19 == 0 else ()
        data = Weighing.model_validate(
            {
                "weighing": make_id("weighing", begun, number),
                "revision": revision,
                "station": "crush",
                "number": 100 + number,
                "tag": Tag(id=tag, code=tag[:3], national=tag[3:], animal=True) if tag else None,
                "weight": Weight(kg=known, grade=grade, first_kg=known),
                "on": on,
                "settled": on + timedelta(seconds=4),
                "off": on + timedelta(seconds=12),
                "clock": Clock.SYNCHRONISED,
                "flags": (*marked, *(("withheld",) if held else ())),
                "sheet": title,
                "job": job,
                "job_number": number if job else None,
                "animal": {"id": make_id("animal", ear), "visual": ear, "tag": tag} if ear else None,
                "details": {"sex": "steer" if number % 3 else "heifer", "breed": "dairy cross"},
                "treatments": self._doses(number, kg, known=known is not None),
                "gain": gain,
                "pen": ("heavy" if kg >= 320 else "light" if kg < 280 else "middle") if sure else None,
                "notes": (f"=note {number}",) if number % 13 == 0 else (),
                "findings": (Finding(name="condition", value=2 + number % 3, by="person"),) if number % 5 else (),
                "withheld": held,
            }
        )
        if ear and sure and not {"voided", "paused"} & {*marked}:
            self._last[ear] = (kg, on)
        self._add(data, data.off, f"{data.weighing}/{revision}")

    def _doses(self, number: int, kg: float, *, known: bool) -> tuple[Treatment, ...]:
        ml = 5.0 * -(-kg // 50) if known else None
        drench = Treatment(
            name="oral drench",
            amount=ml,
            exact=kg / 10 if known else None,
            unit="mL",
            dose_ml=ml,
            withheld_until=None if number % 11 == 0 else "2026-12-22",
            export_from=None if number % 11 == 0 else "2027-01-05",
            skipped=number % 11 == 0,
            batch="0105" if number % 2 else "12E5",
            expires="2027-06-30",
        )
        bolus = Treatment(name="bolus", amount=1.0, exact=1.0, unit="bolus", withheld_until=None, export_from=None)
        return (drench, bolus)

    @property
    def told(self) -> str:
        """The events, one a line."""
        return "\n".join(self._lines) + "\n"


@pytest.fixture(scope="session")
def season(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two jobs of one mob: 60 animals, then 57 of them with two others, 62 days later."""
    made = Season()
    made.job(1, AUTUMN, EARS[:60], 0.0)
    made.job(2, SPRING, [*EARS[3:60], *EARS[60:62], EARS[0]], 30.0)
    path = tmp_path_factory.mktemp("season") / "events.jsonl"
    path.write_text(made.told, encoding="utf-8")
    return path


def weighings(path: Path) -> list[dict[str, Any]]:
    """Read the weighings of an events file, by nothing but json."""
    events = [json.loads(line) for line in path.read_text(encoding="utf-8").splitlines()]
    return [event["data"] for event in events if event["type"] == "neckyoke.weighing"]


class Page(HTMLParser):
    """A page taken apart: its tables by the heading above them, its paragraphs, its pictures' texts by caption."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tables: dict[str, list[list[str]]] = {}
        self.lines: list[str] = []
        self.pictures: dict[str, list[str]] = {}
        self.circles: dict[str, list[bool]] = {}
        self.counts: list[str] = []
        self._heading, self._text, self._caption = "", "", ""
        self._in: list[str] = []
        self.feed(text)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Begin an element."""
        if tag == "circle":
            self.circles.setdefault(self._caption, []).append(dict(attrs).get("fill") == "#fff")
        if tag in {"h1", "h2", "h3", "p", "td", "th", "text", "figcaption", "b"}:
            self._text = ""
        if tag == "table":
            self.tables[self._heading] = []
        if tag == "tr":
            self.tables[self._heading].append([])
        self._in.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """Take an element that is closed where it opens."""
        if tag == "circle":
            self.circles.setdefault(self._caption, []).append(dict(attrs).get("fill") == "#fff")

    def handle_data(self, data: str) -> None:
        """Gather text."""
        self._text += data

    def handle_endtag(self, tag: str) -> None:
        """End an element: put its text where it belongs."""
        if tag in {"h1", "h2", "h3"}:
            self._heading = self._text
        elif tag == "figcaption":
            self._caption = self._text
        elif tag == "p":
            self.lines.append(self._text)
        elif tag == "b":
            self.counts.append(self._text)
        elif tag in {"td", "th"}:
            self.tables[self._heading][-1].append(self._text)
        elif tag == "text":
            self.pictures.setdefault(self._caption, []).append(self._text)
