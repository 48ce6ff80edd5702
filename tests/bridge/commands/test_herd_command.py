"""The herd from the shell: listed, shown, written out and read into an empty box, made anew; a journal of before."""

import asyncio
import contextlib
import sqlite3
from datetime import UTC, timedelta
from pathlib import Path

import pytest

from neckyoke.bridge.cli import main
from neckyoke.bridge.commands.replay import known_of
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.daemon.herd import open_herd
from neckyoke.bridge.events import Event, Flag, Weighing, spell_time
from neckyoke.bridge.job.past import Past
from neckyoke.bridge.journal.herd_tables import HerdReading
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.telling.alerts import unheard
from tests.support.daemon import CONFIG
from tests.support.herd import MORNING, Farm, sheet_of, tag

SHEET = """
mob = "autumn"
[details]
breed = "cross"
[[treatments]]
name = "drench"
ml = 5
withhold_days = 900
"""
SCHEMA_1 = (
    """create table event(seq integer primary key, type text not null, at integer,
       weighing text, revision integer, tag text, began text, body text not null) strict""",
    "create unique index event_weighing on event(weighing, revision) where weighing is not null",
    "create index event_tag on event(tag) where tag is not null",
    "create index event_began on event(began) where began is not null",
    "create table kept(kind text, name text, body text not null, primary key(kind, name)) strict, without rowid",
    "insert into kept values ('base', '', '0')",
    "pragma user_version = 1",
)
"""The journal's schema of the version that had no herd book, as it was."""


def configured(folder: Path) -> Path:
    """Make the folder of a box; return its configuration."""
    folder.mkdir(exist_ok=True)
    (folder / "neckyoke.toml").write_text(CONFIG.format(indicator="tcp://127.0.0.1:4001", panel="tcp://127.0.0.1:4002"))
    return folder / "neckyoke.toml"


def box(folder: Path, events: list[Event]) -> Path:
    """Make a box whose journal has these events; return its configuration."""
    config = configured(folder)

    async def fill() -> None:
        journal = await Journal.open(folder / "neckyoke.db")
        await journal.append(events)
        await journal.close()

    asyncio.run(fill())
    return config


@pytest.fixture
def farm(tmp_path: Path) -> Farm:
    """A farm whose 105 was drenched, lost its tag, and is marked; and a nameless one."""
    farm = Farm(sheet_of(tmp_path, SHEET))
    farm.weigh(0, tag(1), "105", kg=300.0)
    farm.weigh(0, tag(2))
    farm.ask(5, kind="retag", visual="105", tag=tag(3))
    farm.ask(5, kind="mark", visual="105", text="keep back", until="2099-12-24")
    farm.weigh(30, tag(3), kg=330.0)
    return farm


def test_a_story_is_told_from_the_first_tag_on(farm: Farm, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    config = box(tmp_path / "box", farm.events)
    for word in ("105", tag(1), "999-000000000003"):
        assert main(["herd", "show", word, "--config", str(config)]) == 0
        told = capsys.readouterr().out
        assert f"tag {tag(1)} from 2026-11-01 to 2026-11-06" in told
        assert f"tag {tag(3)} since 2026-11-06" in told
        assert "marked: keep back until 2099-12-24" in told
        assert "300.0" in told
        assert "1.00" in told, "its gain is over both tags"
        assert "drench" in told
    assert main(["herd", "show", "999", "--config", str(config)]) == 1
    assert "nobody here is called 999" in capsys.readouterr().err


def test_the_list_has_a_line_an_animal(farm: Farm, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    config = box(tmp_path / "box", farm.events)
    assert main(["herd", "--config", str(config)]) == 0
    heading, first, second = capsys.readouterr().out.splitlines()
    assert heading.split()[:2] == ["visual", "tag"]
    assert first.split() == ["105", tag(3), "2029-05-20", "keep", "back"]
    assert second.split() == [tag(2), "2029-04-20"]


@pytest.mark.parametrize("suffix", [".csv", ".xlsx"])
def test_an_export_read_into_an_empty_box_is_the_same_book(
    farm: Farm, tmp_path: Path, capsys: pytest.CaptureFixture[str], suffix: str
) -> None:
    import pandas as pd

    config, out = box(tmp_path / "box", farm.events), tmp_path / "herd.csv"
    assert main(["herd", "export", str(out), "--config", str(config)]) == 0
    told = out.read_text()
    if suffix == ".xlsx":  # written by pandas, which takes tags and numbers for what they look like
        pd.read_csv(out).to_excel(tmp_path / "herd.xlsx", index=False)
    empty = box(tmp_path / "empty", [])
    assert main(["herd", "import", str(tmp_path / f"herd{suffix}"), "--config", str(empty)]) == 0
    assert main(["herd", "rebuild", "--config", str(empty)]) == 0
    assert "The book was right." in capsys.readouterr().out
    assert main(["herd", "export", "--config", str(empty)]) == 0
    again = capsys.readouterr().out
    assert sorted(again.splitlines()) == sorted(told.splitlines())


def test_rebuilt_it_equals_itself_and_a_book_that_was_spoiled_is_mended(
    farm: Farm, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    config = box(tmp_path / "box", farm.events)
    assert main(["herd", "rebuild", "--config", str(config)]) == 0
    assert "The book was right." in capsys.readouterr().out
    with contextlib.closing(sqlite3.connect(tmp_path / "box" / "neckyoke.db", isolation_level=None)) as spoiled:
        spoiled.execute("delete from animal where animal = (select min(animal) from animal)")
    assert main(["herd", "rebuild", "--config", str(config)]) == 0
    capsys.readouterr()
    assert main(["herd", "export", "--config", str(config)]) == 0
    assert len(capsys.readouterr().out.splitlines()) == 1 + len(list(farm.keeper.book))


def test_at_the_smallest_retention_nobody_unexpired_comes_out_clear(farm: Farm, tmp_path: Path) -> None:
    farm.use(None)
    for number in range(700):
        farm.weigh(31, tag(1000 + number))
    wall = (MORNING + timedelta(days=60)).timestamp()
    day = farm.day(60)

    async def much_later() -> tuple[int, int, set[str], int, str | None]:
        journal = await Journal.open(tmp_path / "journal.db", keep_days=0.0, keep_mb=0.001, wall=lambda: wall)
        await journal.append(farm.events)
        await journal.close()
        journal = await Journal.open(tmp_path / "journal.db", keep_days=0.0, keep_mb=0.001, wall=lambda: wall)
        while await journal._writer.call(
            lambda store: store.prune(floor=10**9, before=wall + 1, keep_bytes=0, today="2026-12-30")
        ):
            pass
        left = await journal.weighings()
        bodies = await journal.herd(HerdReading.animals)
        keeper = await open_herd("larkmoor", journal, {}, unheard, UTC)
        held = {keeper.book.root(animal) for animal, _ in keeper.held.on(day)}
        past = Past.of(left, group=keeper.book.group)
        (animal,) = keeper.book.by_visual("105")
        clear = past.clear_from(animal.animal, MORNING + timedelta(days=60))
        wrong = await journal.rebuild_herd("2026-12-30")
        await journal.close()
        return len(left), len(bodies), held, wrong, clear

    left, animals, held, wrong, clear = asyncio.run(much_later())

    assert left < 10, "all but what holds, and the last, was let go"
    assert animals == len(farm.keeper.book.bodies())
    assert wrong == 0
    assert held == {farm.keeper.book.root(animal) for animal, _ in farm.keeper.held.on(day)} != set()
    assert clear == "2029-05-20"


def test_each_tag_of_a_journal_of_before_becomes_an_animal(tmp_path: Path) -> None:
    farm = Farm()
    for day, number in ((0, 1), (0, 2), (30, 1)):
        farm.weigh(day, tag(number))
    old = [event for event in farm.events if isinstance(event.data, Weighing)]
    stays = [event.data.model_copy(update={"animal": None}) for event in old if isinstance(event.data, Weighing)]
    voided = stays[1].model_copy(update={"flags": (Flag.VOIDED,), "weighing": "v", "number": 9, "tag": stays[1].tag})
    configured(tmp_path / "box")
    with contextlib.closing(sqlite3.connect(tmp_path / "box" / "neckyoke.db", isolation_level=None)) as journal:
        for statement in SCHEMA_1:
            journal.execute(statement)
        for seq, data in enumerate([*stays, voided], 1):
            event = old[0].model_copy(update={"data": data, "id": f"e{seq}", "sequence": f"{seq:010d}"})
            row = (seq, event.type, 0, data.weighing, 1, data.tag and data.tag.id, spell_time(data.on), event.to_json())
            journal.execute("insert into event values (?, ?, ?, ?, ?, ?, ?, ?)", row)

    async def take_over() -> list[tuple[list[str], int]]:
        told = []
        for _ in range(2):
            journal = await Journal.open(tmp_path / "box" / "neckyoke.db")
            keeper = await open_herd("larkmoor", journal, await journal.kept("value"), unheard, UTC)
            told.append((sorted(one.tag or "" for one in keeper.book), len(await journal.herd(HerdReading.events))))
            await journal.close()
        return told

    assert asyncio.run(take_over()) == [([tag(1), tag(2)], 2)] * 2


def test_a_replay_beside_a_journal_knows_the_animals_as_they_were_then(farm: Farm, tmp_path: Path) -> None:
    """The book as of the capture's beginning: 105 under its first tag before the retag, under its second after it."""
    config = load_config(box(tmp_path / "box", farm.events))
    for day, digits in ((1, tag(1)), (29, tag(3))):
        past, keeper = known_of(tmp_path / "box" / "neckyoke.db", config, MORNING + timedelta(days=day))
        (animal,) = keeper.book.by_visual("105")
        assert animal.tag == digits
        assert past.clear_from(animal.animal, MORNING + timedelta(days=40)) is not None
        assert {root for root, _ in keeper.held.on(farm.day(40))} >= {animal.animal}
