"""Backup and restore: made while it weighs, whole or not at all, and the new box goes on where the old one stopped."""

import asyncio
import sqlite3
import zipfile
from datetime import UTC, datetime
from pathlib import Path

import pytest

from neckyoke.bridge.cli import main
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.daemon.build import build
from neckyoke.bridge.journal.journal import Journal, JournalError
from neckyoke.bridge.journal.reading import StoreError, read_only
from neckyoke.bridge.moving.archive import BackupError, check, make, read
from neckyoke.bridge.moving.copy import copy, look
from neckyoke.bridge.moving.restore import restore
from tests.support.broker import Broker
from tests.support.daemon import CONFIG
from tests.support.events import weighed
from tests.support.running import run, until
from tests.support.shed import shed

NOW = datetime(2026, 11, 24, 20, 30, tzinfo=UTC)
MORE = """
[outlets.farm]
mqtt = "mqtt://127.0.0.1:1"
username = "crush"
password_file = "broker.secret"
"""


def written(folder: Path, count: int) -> None:
    """Write a journal of so many weighings."""

    async def write() -> None:
        journal = await Journal.open(folder / "neckyoke.db", outlets=["farm"])
        await journal.append([weighed(number) for number in range(1, count + 1)])
        await journal.close()

    run(write())


@pytest.fixture
def box(tmp_path: Path) -> Path:
    """A box's folder: configuration, sheet, roster, secret, and a journal of 20 weighings."""
    folder = tmp_path / "old"
    folder.mkdir()
    config = CONFIG.format(indicator="tcp://127.0.0.1:9", panel="tcp://127.0.0.1:10")
    (folder / "neckyoke.toml").write_text(config + MORE, encoding="utf-8")
    (folder / "sheet.toml").write_text('title = "autumn weigh-in"\nroster = "roster.csv"\n', encoding="utf-8")
    (folder / "roster.csv").write_text("visual\n101\n", encoding="utf-8")
    (folder / "broker.secret").write_text("hush", encoding="utf-8")
    (folder / "sheets" / "9f86d081884c").mkdir(parents=True)
    (folder / "sheets" / "9f86d081884c" / "sheet.toml").write_text('title = "given by phone"\n', encoding="utf-8")
    written(folder, 20)
    return folder


def test_a_copy_made_at_full_pace_is_one_moment_and_makes_nobody_wait(tmp_path: Path) -> None:
    async def day() -> tuple[int, int, int]:
        journal = await Journal.open(tmp_path / "neckyoke.db")
        await journal.append([weighed(number) for number in range(1, 3001)])
        copying = asyncio.create_task(asyncio.to_thread(copy, tmp_path / "neckyoke.db", tmp_path / "copy.db"))
        number = 3000
        while not copying.done():  # each is safe before the next is handed in
            number += 1
            await journal.append([weighed(number)])
        contents = await copying
        await journal.close()
        return number, contents.last, contents.events

    last, copied, events = run(day())
    assert last > 3000, "it weighed meanwhile"
    assert 3000 <= copied == events <= last, "what the copy holds is all up to one moment"
    assert look(tmp_path / "neckyoke.db").last == last, "and the journal has everything"
    assert not list(tmp_path.glob("copy.db-*")), "the copy is one file"


def test_the_new_box_sends_what_the_old_one_had_not_and_nothing_twice(
    box: Path, tmp_path: Path, broker: Broker, capsys: pytest.CaptureFixture[str]
) -> None:
    recorder = broker.record("neckyoke/larkmoor/crush/weighing", "-c")
    new = tmp_path / "new"
    nowhere = "mqtt://127.0.0.1:1"

    async def weigh(folder: Path, url: str, first: int, last: int) -> None:
        async with shed(folder, url, "larkmoor") as one:
            await one.weigh(range(first, last + 1))
            if url != nowhere:
                await until(one.delivered, "everything is delivered")

    (box / "neckyoke.db").unlink()
    for place in (box, new):
        place.mkdir(exist_ok=True)
        text = (box / "neckyoke.toml").read_text().split("[journal]")[0]
        (place / "neckyoke.toml").write_text(f'{text}\n[journal]\npath = "journal.db"\n', encoding="utf-8")
    run(weigh(box, broker.url, 1, 10))
    run(weigh(box, nowhere, 11, 15))

    assert main(["backup", str(tmp_path / "b"), "--config", str(box / "neckyoke.toml")]) == 0
    assert main(["restore", str(tmp_path / "b"), "--config", str(new / "neckyoke.toml")]) == 0
    assert "15 weighings" in capsys.readouterr().out
    run(weigh(new, broker.url, 16, 20))

    got = [message.event["id"] for message in recorder.wait_for(20, "weighing")]
    assert len(got) == len(set(got)) == 20


def test_everything_but_secrets_comes_along(box: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main(["backup", str(tmp_path / "b"), "--config", str(box / "neckyoke.toml")]) == 0
    names = zipfile.ZipFile(tmp_path / "b").namelist()
    assert not [name for name in names if "secret" in name]
    assert main(["restore", str(tmp_path / "b"), "--look"]) == 0
    new = tmp_path / "new" / "neckyoke.toml"
    assert main(["restore", str(tmp_path / "b"), "--config", str(new)]) == 0

    said = capsys.readouterr().out
    assert "20 weighings of larkmoor" in said
    assert f"still missing, since secrets stay where they are unless asked for: {new.parent / 'broker.secret'}" in said
    for name in ("neckyoke.toml", "sheet.toml", "roster.csv", "sheets/9f86d081884c/sheet.toml"):
        assert (new.parent / name).read_bytes() == (box / name).read_bytes()
    with read_only(new.parent / "neckyoke.db") as theirs, read_only(box / "neckyoke.db") as ours:
        assert theirs.read(0, 100) == ours.read(0, 100)


def test_secrets_that_are_asked_for_go_to_their_places(box: Path, tmp_path: Path) -> None:
    assert main(["backup", str(tmp_path / "b"), "--secrets", "--config", str(box / "neckyoke.toml")]) == 0
    assert (tmp_path / "b").stat().st_mode & 0o077 == 0
    for name in ("broker.secret", "neckyoke.db", "sheet.toml"):
        (box / name).unlink()

    assert main(["restore", str(tmp_path / "b"), "--config", str(box / "neckyoke.toml")]) == 0
    assert (box / "broker.secret").read_text() == "hush"
    assert (box / "broker.secret").stat().st_mode & 0o077 == 0


def made(box: Path, path: Path) -> Path:
    config = box / "neckyoke.toml"
    make(path, load_config(config), config, now=NOW, version="0")
    return path


def test_nothing_that_is_there_is_written_over(box: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    backup = str(made(box, tmp_path / "b"))

    assert main(["restore", backup, "--config", str(box / "neckyoke.toml")]) == 1
    assert f"there is a journal already: {box / 'neckyoke.db'}" in capsys.readouterr().err
    assert main(["backup", backup, "--config", str(box / "neckyoke.toml")]) == 1
    assert "say --replace" in capsys.readouterr().err
    (tmp_path / "notes").write_text("mine")
    assert main(["backup", str(tmp_path / "notes"), "--replace", "--config", str(box / "neckyoke.toml")]) == 1
    assert (tmp_path / "notes").read_text() == "mine"
    assert main(["backup", backup, "--replace", "--config", str(box / "neckyoke.toml")]) == 0


def test_a_box_of_another_site_or_one_that_runs_takes_none(
    box: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    backup = str(made(box, tmp_path / "b"))
    other = tmp_path / "other"
    other.mkdir()
    config = (box / "neckyoke.toml").read_text()
    (other / "neckyoke.toml").write_text(config.replace("larkmoor", "highfold"))

    assert main(["restore", backup, "--config", str(other / "neckyoke.toml")]) == 1
    assert "is of site 'highfold', the backup of 'larkmoor'" in capsys.readouterr().err

    (other / "neckyoke.toml").write_text(config)

    async def meanwhile() -> int:
        journal = await Journal.open(other / "neckyoke.db")
        code = await asyncio.to_thread(main, ["restore", backup, "--config", str(other / "neckyoke.toml")])
        await journal.close()
        return code

    assert run(meanwhile()) == 1
    assert "the daemon runs; stop it first" in capsys.readouterr().err


def test_what_is_damaged_anywhere_is_refused(box: Path, tmp_path: Path) -> None:
    whole = made(box, tmp_path / "b").read_bytes()
    config = tmp_path / "new" / "neckyoke.toml"
    for place in range(40, len(whole), len(whole) // 25):
        (tmp_path / "b").write_bytes(whole[:place] + bytes([whole[place] ^ 0x55]) + whole[place + 1 :])
        try:
            list(restore(read(tmp_path / "b"), config))
        except BackupError:
            assert not (config.parent / "neckyoke.db").exists()
            continue
        assert look(config.parent / "neckyoke.db").events == 20, "a byte that matters to nobody"
        (config.parent / "neckyoke.db").unlink()


@pytest.mark.parametrize("cut", [0, 10, -1, -100])
def test_half_a_backup_is_none(box: Path, tmp_path: Path, cut: int) -> None:
    whole = made(box, tmp_path / "b").read_bytes()
    (tmp_path / "b").write_bytes(whole[:cut])
    with pytest.raises(BackupError, match="no backup of neckyoke, or not a whole one"):
        read(tmp_path / "b")


def test_a_part_that_would_be_written_elsewhere_is_refused(tmp_path: Path, box: Path) -> None:
    made(box, tmp_path / "b")
    with zipfile.ZipFile(tmp_path / "b") as archive:
        parts = {name: archive.read(name) for name in archive.namelist()}
    parts["backup.json"] = parts["backup.json"].replace(b"configuration/sheet.toml", b"configuration/../../x.toml")
    parts["configuration/../../x.toml"] = parts["configuration/sheet.toml"]
    with zipfile.ZipFile(tmp_path / "b", "w") as archive:
        for name, data in parts.items():
            archive.writestr(name, data)
    with pytest.raises(BackupError):
        check(read(tmp_path / "b"))


def test_a_journal_copied_by_hand_while_it_was_written_is_seen(tmp_path: Path) -> None:
    """The file alone, without what stands beside it, is one page and no table."""
    connection = sqlite3.connect(tmp_path / "neckyoke.db", isolation_level=None)
    connection.execute("pragma journal_mode = wal")
    connection.execute("create table event(seq)")
    (tmp_path / "copied.db").write_bytes((tmp_path / "neckyoke.db").read_bytes())
    connection.close()

    with pytest.raises(StoreError, match="lacks the tables of one"):
        look(tmp_path / "copied.db")


def test_the_daemon_does_not_begin_on_another_sites_journal_or_on_half_a_copy(
    box: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    def refused(config: Path) -> str:
        """Return why the check and the daemon refuse, which both must."""
        capsys.readouterr()
        assert main(["check", str(config)]) == 1
        said = capsys.readouterr().err.strip()
        with pytest.raises(JournalError) as raised:
            run(build(load_config(config)))
        assert str(raised.value) == said
        return said

    config = box / "neckyoke.toml"
    assert main(["check", str(config)]) == 0
    config.write_text(config.read_text().replace("larkmoor", "highfold"))
    assert "neckyoke.db is the journal of site 'larkmoor', and this is 'highfold'" in refused(config)

    half = tmp_path / "half"
    half.mkdir()
    (half / "neckyoke.toml").write_text(config.read_text())
    connection = sqlite3.connect(half / "one.db", isolation_level=None)
    connection.execute("pragma journal_mode = wal")
    connection.execute("create table event(seq)")
    (half / "neckyoke.db").write_bytes((half / "one.db").read_bytes())
    connection.close()
    assert "neckyoke.db holds nothing: it was copied by hand while it was written" in refused(half / "neckyoke.toml")
