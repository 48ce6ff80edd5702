"""`neckyoke replay --explain`: the weighing is found in whichever run it was, and what was published is told."""

import asyncio
import gzip
import json
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.capture.format import Bytes
from neckyoke.bridge.capture.read import read_capture
from neckyoke.bridge.cli import main
from neckyoke.bridge.commands.replay import replay, site_for
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.events import Event, Flag, Weighing, Weight
from neckyoke.bridge.job.past import Past
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.station.explain import ROWS
from neckyoke.simulators.capture import write_capture
from neckyoke.simulators.yard import Yard

ROUGH = """
site = "larkmoor"
[links]
indicator = { url = "tcp://127.0.0.1:4001" }
panel = { url = "tcp://127.0.0.1:4002" }
race = { url = "tcp://127.0.0.1:4003" }
stick = { url = "tcp://127.0.0.1:4004" }
[stations.crush]
scale = "indicator"
readers = [
  { link = "panel", position = "platform" },
  { link = "race", position = "ahead" },
  { link = "stick", position = "hand" },
]
"""


def lines_of(capture: Path) -> list[dict[str, Any]]:
    return [json.loads(line) for line in gzip.open(capture, "rt", encoding="utf-8")]


def keep_part(ring: Path, number: int, lines: Sequence[dict[str, Any]]) -> None:
    ring.mkdir(exist_ok=True)
    with gzip.open(ring / f"capture-{number:06}-20261124T021100Z.jsonl.gz", "wt", encoding="utf-8") as part:
        part.writelines(json.dumps(line) + "\n" for line in lines)


@pytest.fixture
def yard(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> Path:
    """Return the folder of a small day: its configuration and capture."""
    folder = tmp_path / "day"
    assert main(["demo", "--fast", "--animals", "3", "--folder", str(folder)]) == 0
    capsys.readouterr()
    return folder


def explained(folder: Path, capture: Path, which: str, *more: str) -> int:
    return main(["replay", str(capture), "--config", str(folder / "neckyoke.toml"), "--explain", which, *more])


def test_a_weighing_of_an_earlier_run_is_found_and_the_run_is_named(
    yard: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    header, *records = lines_of(yard / "capture.jsonl.gz")
    ring = yard / "captures"
    keep_part(ring, 1, [header | {"started": "2026-11-24T02:11:00.000Z"}, *records])
    later = header | {"started": "2026-11-24T09:30:00.000Z", "stations": {"crush": {"number": 3}}}
    keep_part(ring, 2, [later, *records])

    assert explained(yard, ring, "2") == 0
    earlier = " ".join(capsys.readouterr().out.split())  # the folder's name decides where its line is broken
    assert earlier.startswith("Number 2: ")
    assert "In the run begun 2026-11-24 02:11:00 UTC, one of 2 in " in earlier

    assert explained(yard, ring, "5") == 0
    assert "In the run begun 2026-11-24 09:30:00 UTC, one of 2 in " in " ".join(capsys.readouterr().out.split())

    assert explained(yard, ring, "17") == 1
    assert "None of the 2 runs in " in (said := capsys.readouterr().err)
    assert "since 2026-11-24 02:11:00 UTC, has a weighing 17." in said


def test_every_page_of_a_rough_day_fits_a_terminal(tmp_path: Path) -> None:
    config = tmp_path / "neckyoke.toml"
    config.write_text(ROUGH, encoding="utf-8")
    write_capture(tmp_path / "day.jsonl", Yard.named("rough", seed=2, animals=20).items())
    run = read_capture(tmp_path / "day.jsonl")
    site = site_for(run, load_config(config), Past())
    crush = site.stations["crush"]
    crush.keep_traces()
    for record in run:
        if isinstance(record, Bytes):
            site.data(record.t, record.link, record.data)
    site.finish(3600.0)
    pages = [page for number in range(1, 60) if (page := crush.explain(str(number)))]
    assert len(pages) >= 20
    assert max(len(page) for page in pages) <= ROWS + 2
    assert max(len(line) for page in pages for line in page) <= 80


def cut(yard: Path) -> tuple[Path, Weighing, Event]:
    """Cut the capture off while the last animal stands; return that, its weighing as replayed, and the event."""
    config, capture = load_config(yard / "neckyoke.toml"), yard / "capture.jsonl.gz"
    whole = [event.data for event in replay(read_capture(capture), config) if isinstance(event.data, Weighing)]
    header, *records = lines_of(capture)
    started = read_capture(capture).header.started
    left_s = (whole[-1].off - started).total_seconds() - 1.0
    short = yard / "cut.jsonl.gz"
    with gzip.open(short, "wt", encoding="utf-8") as out:
        kept = [header, *(record for record in records if record["t"] < left_s)]
        out.writelines(json.dumps(line) + "\n" for line in kept)
    last = [event for event in replay(read_capture(short), config) if isinstance(event.data, Weighing)][-1]
    assert isinstance(last.data, Weighing)
    assert Flag.INTERRUPTED in last.data.flags
    return short, last.data, last


def test_of_a_stay_that_was_cut_off_the_published_weighing_is_told(
    yard: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    short, replayed, event = cut(yard)
    published = replayed.model_copy(update={"weight": Weight(kg=301.5, grade="fair"), "tag": None})
    unheard = replayed.model_copy(update={"weighing": "w", "number": 44, "tag": None, "flags": ()})

    async def write() -> None:
        journal = await Journal.open(yard / "journal.db")
        await journal.append([event.model_copy(update={"data": published, "subject": None})])
        await journal.append([event.model_copy(update={"data": unheard, "subject": None, "id": "another"})])
        await journal.close()

    asyncio.run(write())
    assert explained(yard, short, str(replayed.number), "--journal", str(yard / "journal.db")) == 0

    page = capsys.readouterr().out
    assert page.startswith(f"Number {replayed.number}: {replayed.weight.kg:g} kg")
    told = " ".join(page.split("\n\n")[0].split())
    assert "The capture ends while it stood there; published: 301.5 kg (fair), no tag, flagged " in told
    assert max(map(len, page.splitlines())) <= 80

    assert explained(yard, short, "44", "--journal", str(yard / "journal.db")) == 1
    assert "has a weighing 44.  It was published: " in capsys.readouterr().err, "though nothing of it was recorded"


@pytest.mark.parametrize("broken", [False, True])
def test_without_a_journal_that_can_be_read_it_is_said_that_something_else_may_have_been_published(
    yard: Path, capsys: pytest.CaptureFixture[str], *, broken: bool
) -> None:
    short, replayed, _ = cut(yard)
    config = yard / "neckyoke.toml"
    config.write_text('state = "."\n' + config.read_text(encoding="utf-8"), encoding="utf-8")
    if broken:
        made = load_config(config)
        made.state_path(made.journal.path).write_bytes(b"no journal at all" * 100)
    assert explained(yard, short, replayed.weighing) == 0
    assert "The capture ends while it stood there; what was published may differ." in capsys.readouterr().out
