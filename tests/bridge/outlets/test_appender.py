"""The events file: torn at every byte, rotated, moved away, on a full disk."""

import json
import os
import tempfile
from collections.abc import Iterator
from datetime import date
from pathlib import Path

import pytest

from neckyoke.bridge.outlets.files.appender import TAIL_EVENTS, Appender
from tests.support.disk import files_limited
from tests.support.events import weighed

DAY = date(2026, 11, 24)


def lines(first: int, last: int) -> list[str]:
    return [
        weighed(number).model_copy(update={"sequence": f"{number:010d}"}).to_json() for number in range(first, last)
    ]


@pytest.fixture
def in_memory(tmp_path: Path) -> Iterator[Path]:
    """Yield a folder in memory where there is one: two thousand syncs cost nothing there."""
    memory = Path("/dev/shm")
    with tempfile.TemporaryDirectory(dir=memory if memory.is_dir() else tmp_path) as folder:
        yield Path(folder)


def appender(path: Path, rotate_bytes: float = 1e9, *, daily: bool = False) -> Appender:
    one = Appender(path, rotate_bytes=rotate_bytes, daily=daily)
    one.open()
    return one


def test_every_line_is_an_event_of_its_own(tmp_path: Path, no_leaks: None) -> None:
    path = tmp_path / "events.jsonl"
    file = appender(path)
    assert file.append(lines(0, 3), DAY) == 3
    assert file.append(lines(3, 5), DAY) == 2
    file.close()
    assert path.read_text() == "".join(line + "\n" for line in lines(0, 5))


@pytest.mark.parametrize("tail", [b"", b"\0" * 600], ids=["cut", "zeros"])
def test_a_tail_torn_at_any_byte_is_mended_and_written_again(in_memory: Path, tail: bytes) -> None:
    """What the power cut may leave of an unsynced batch: any prefix of it, also with never-written blocks behind."""
    path = in_memory / "events.jsonl"
    safe = "".join(line + "\n" for line in lines(0, 2)).encode()
    batch = lines(2, 4)
    whole = safe + "".join(line + "\n" for line in batch).encode()
    for size in range(len(safe), len(whole) + 1):
        path.write_bytes(whole[:size] + tail)
        file = appender(path)
        file.append(batch, DAY)
        file.close()
        assert path.read_bytes() == whole, f"torn at byte {size}"


def test_what_is_there_already_is_not_written_twice(tmp_path: Path) -> None:
    path = tmp_path / "events.jsonl"
    file = appender(path)
    file.append(lines(0, TAIL_EVENTS), DAY)
    file.close()
    file = appender(path)
    assert file.append(lines(0, TAIL_EVENTS), DAY) == 0
    assert file.append(lines(TAIL_EVENTS - 2, TAIL_EVENTS + 2), DAY) == 2
    file.close()
    assert path.read_text().splitlines() == lines(0, TAIL_EVENTS + 2)


def test_lines_of_others_do_not_disturb(tmp_path: Path) -> None:
    path = tmp_path / "events.jsonl"
    path.write_text("a remark\n[1]\n{}\n" + '{"id": 7}\n')
    file = appender(path)
    assert file.append(lines(0, 1), DAY) == 1
    file.close()
    assert path.read_text().splitlines()[:4] == ["a remark", "[1]", "{}", '{"id": 7}']
    assert path.read_text().splitlines()[4:] == lines(0, 1)


def test_it_rotates_by_size_and_by_day_and_overwrites_nothing(tmp_path: Path) -> None:
    path = tmp_path / "events.jsonl"
    size = len(lines(0, 1)[0]) + 1
    file = appender(path, 2.5 * size, daily=True)
    for number in range(5):
        file.append(lines(number, number + 1), DAY)
    file.append(lines(5, 6), date(2026, 11, 25))
    file.append(lines(6, 7), DAY)  # the clock was set back
    assert file.rotations == 4
    file.close()
    kept = {
        one.name: [json.loads(line)["data"]["number"] for line in one.read_text().splitlines()]
        for one in tmp_path.iterdir()
    }
    assert kept == {
        "events-20261124-001.jsonl": [0, 1],
        "events-20261124-002.jsonl": [2, 3],
        "events-20261124-003.jsonl": [4],
        "events-20261125-001.jsonl": [5],
        "events.jsonl": [6],
    }


@pytest.mark.parametrize("how", ["deleted", "renamed", "replaced"])
def test_a_file_that_somebody_moved_is_made_anew(tmp_path: Path, how: str) -> None:
    path = tmp_path / "events.jsonl"
    file = appender(path)
    file.append(lines(0, 1), DAY)
    if how == "deleted":
        path.unlink()
    else:
        path.rename(tmp_path / "mine.jsonl")
    if how == "replaced":
        path.write_text("")
    file.append(lines(1, 2), DAY)
    file.close()
    assert path.read_text().splitlines() == lines(1, 2)


def test_a_write_cut_short_leaves_nothing_behind(tmp_path: Path) -> None:
    path = tmp_path / "events.jsonl"
    file = appender(path)
    file.append(lines(0, 2), DAY)
    size = path.stat().st_size
    with files_limited(size + 100), pytest.raises(OSError, match="No space left"):
        file.append(lines(2, 4), DAY)
    assert path.stat().st_size == size
    with files_limited(size), pytest.raises(OSError, match="File too large"):
        file.append(lines(2, 4), DAY)
    file.close()
    file.open()
    assert file.append(lines(2, 4), DAY) == 2
    file.close()
    assert path.read_text().splitlines() == lines(0, 4)


def test_what_a_failed_sync_left_in_memory_is_not_taken_for_written(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After a sync that failed the pages look written to whoever reads them, and may never reach the card."""
    path = tmp_path / "events.jsonl"
    file = appender(path)
    file.append(lines(0, 1), DAY)

    def broken(_fd: int) -> None:
        raise OSError(5, "Input/output error")

    with monkeypatch.context() as patch:
        patch.setattr(os, "fdatasync", broken)
        patch.setattr(os, "ftruncate", broken_truncate)
        with pytest.raises(OSError, match="Input/output"):
            file.append(lines(1, 3), DAY)
    assert len(path.read_text().splitlines()) == 3
    file.close()
    file.open()
    assert len(path.read_text().splitlines()) == 1
    assert file.append(lines(1, 3), DAY) == 2
    file.close()
    assert path.read_text().splitlines() == lines(0, 3)


def broken_truncate(_fd: int, _size: int) -> None:
    raise OSError(5, "Input/output error")
