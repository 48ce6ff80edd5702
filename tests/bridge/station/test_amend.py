"""What people say of an animal and what becomes of it when the box stops: while it stands there, and afterwards."""

import asyncio
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.asking.requests import ASKED
from neckyoke.bridge.asking.socket import ask
from neckyoke.bridge.journal.reading import read_only
from neckyoke.simulators.wires.ends import PtyEnd
from neckyoke.simulators.yard import Yard
from tests.support.daemon import CONFIG, Daemon, until

SPEED = 8.0
SHEET = """
title = "Backgrounding induction"
[[treatments]]
name = "oral drench"
ml = 10
"""


@pytest.fixture
def ends(tmp_path: Path) -> Iterator[dict[str, PtyEnd]]:
    with PtyEnd(tmp_path / "indicator") as indicator, PtyEnd(tmp_path / "panel") as panel:
        yield {"indicator": indicator, "panel": panel}


@pytest.fixture
def daemon(tmp_path: Path, ends: dict[str, PtyEnd]) -> Iterator[Daemon]:
    urls = {name: f"serial:{tmp_path / name}?baud=9600" for name in ends}
    (tmp_path / "sheet.toml").write_text(SHEET)
    config = CONFIG.format(**urls).replace("capacity_kg = 1500", 'capacity_kg = 1500\nsheet = "sheet.toml"')
    made = Daemon(tmp_path, config, SPEED)
    yield made
    made.close()


def done(daemon: Daemon, **request: Any) -> str:
    answer = daemon.ask(request)
    assert answer["done"], answer
    return str(answer["text"])


def numbered(daemon: Daemon) -> dict[int, dict[str, Any]]:
    return {int(data["number"]): data for data in daemon.weighings().values()}


def asked(daemon: Daemon) -> list[str]:
    """What the journal has been asked, in order."""
    with read_only(daemon.folder / "neckyoke.db") as journal:
        kept = [json.loads(body) for name, body in journal.kept("value").items() if name.startswith(ASKED)]
    return [one["request"]["kind"] for one in sorted(kept, key=lambda one: int(one["turn"]))]


def test_what_is_said_of_an_animal_outlives_a_kill(daemon: Daemon, ends: dict[str, PtyEnd]) -> None:
    yard = Yard.named("calm", seed=8, animals=1)
    (stay,) = yard.truth
    daemon.start()
    daemon.play([item for item in yard.items() if item[0] < stay.off_t - 0.5], ends)
    until(lambda: any(e["type"] == "neckyoke.settled" for e in daemon.events()), "the settled weight")
    noted = done(daemon, kind="note", text="lame", id="n-1")
    done(daemon, kind="skip", treatment="oral drench")
    done(daemon, kind="void", reason="leant on the gate")
    daemon.kill(*ends.values())
    daemon.start()

    until(lambda: len(daemon.weighings()) == 1, "the weighing")
    assert done(daemon, kind="note", text="lame", id="n-1") == noted, "it came twice, and is done once"
    data = numbered(daemon)[1]
    assert data["notes"] == ["lame"]
    assert data["treatments"][0]["skipped"]
    assert {"interrupted", "voided"} <= set(data["flags"])
    assert asked(daemon) == ["note", "skip", "void"]


def test_animals_of_an_earlier_run_can_be_spoken_of(daemon: Daemon, ends: dict[str, PtyEnd]) -> None:
    """One ended and one was cut off; then the box starts anew and is told of both, twice at once of one of them."""
    yard = Yard.named("calm", seed=8, animals=2)
    daemon.start()
    items = [item for item in yard.items() if item[0] < yard.truth[1].off_t - 0.5]
    daemon.play(items, ends)
    until(lambda: any(e["type"] == "neckyoke.settled" and e["data"]["number"] == 2 for e in daemon.events()), "two")
    daemon.kill(*ends.values())
    daemon.start()
    until(lambda: len(daemon.weighings()) == 2, "the interrupted one")
    first, second = (numbered(daemon)[number] for number in (1, 2))

    async def both() -> list[Any]:
        notes = [{"kind": "note", "number": 1, "text": text} for text in ("lame", "ringworm")]
        return list(await asyncio.gather(*(ask(daemon.socket, note) for note in notes)))

    assert all(answer["done"] for answer in asyncio.run(both()))
    assert "number 2" in done(daemon, kind="identify", tag="999 000000112233")
    done(daemon, kind="skip", treatment="drench", weighing=second["weighing"])
    done(daemon, kind="void", number=1)
    until(lambda: [numbered(daemon)[n]["revision"] for n in (1, 2)] == [4, 3], "all revisions")

    now = numbered(daemon)
    assert sorted(now[1]["notes"]) == ["lame", "ringworm"]
    assert "voided" in now[1]["flags"]
    assert now[1]["weight"] == first["weight"]
    assert now[2]["tag"]["id"] == "999000000112233"
    assert {"interrupted", "by-person"} <= set(now[2]["flags"])
    assert now[2]["treatments"][0]["skipped"]
    assert (now[2]["why"], now[2]["final"]) == ("a person said that oral drench was not given", True)
    refused = daemon.ask({"kind": "note", "number": 7, "text": "x"})
    assert not refused["done"]
    assert "No number 7 is at hand" in refused["text"]
