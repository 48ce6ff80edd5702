"""The capture on a disk in trouble: full, failing, slow.  Said once, counted, and recording goes on by itself."""

import gzip
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.capture import write as capture
from neckyoke.bridge.capture.format import Bytes
from neckyoke.bridge.capture.read import read_capture
from neckyoke.bridge.capture.write import CaptureWriter
from tests.support.running import run

STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)


class Refusing:
    """A disk that refuses while it is told to."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.refuse = False
        real = capture._Ring._begin

        def begin(ring: Any, header: Any) -> None:
            if self.refuse:
                raise OSError(28, "No space left on device")
            real(ring, header)

        monkeypatch.setattr(capture._Ring, "_begin", begin)


def test_a_full_disk_is_said_once_and_recording_resumes_by_itself(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    disk = Refusing(monkeypatch)
    said: list[str | None] = []

    async def work() -> CaptureWriter:
        writer = CaptureWriter(tmp_path, site="larkmoor", started=STARTED, on_trouble=said.append)
        disk.refuse = True
        for second in range(0, 600, 5):
            if second == 400:
                disk.refuse = False
            writer.data(float(second), "indicator", b"0.0 kg\r\n")
            await writer.flush()
        await writer.flush(end=True)
        return writer

    writer = run(work())
    assert len(said) == 2
    assert "No space left" in (said[0] or "")
    assert said[1] is None
    times = [record.t for record in read_capture(tmp_path)]
    assert times == [float(second) for second in range(int(times[0]), 600, 5)]
    assert 400 <= times[0] <= 400 + capture.RETRY_S + 5
    assert writer.dropped + len(times) == writer.records == 120


def test_a_disk_that_fails_in_the_midst_of_a_part_loses_only_what_came_then(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    said: list[str | None] = []
    real = gzip.GzipFile.flush

    async def work() -> None:
        writer = CaptureWriter(tmp_path, site="larkmoor", started=STARTED, on_trouble=said.append)
        writer.data(0.0, "indicator", b"a")
        await writer.flush()

        def fail(*_: object) -> None:
            raise OSError(5, "Input/output error")

        monkeypatch.setattr(gzip.GzipFile, "flush", fail)
        writer.data(5.0, "indicator", b"b")
        await writer.flush()
        monkeypatch.setattr(gzip.GzipFile, "flush", real)
        writer.data(100.0, "indicator", b"c")
        await writer.flush()
        await writer.flush(end=True)

    run(work())
    assert ["Input/output error" in (said[0] or ""), said[1:]] == [True, [None]]
    whole = [record for record in read_capture(tmp_path) if isinstance(record, Bytes)]
    assert (whole[0].data, whole[-1].data) == (b"a", b"c")


def test_a_disk_too_slow_drops_records_counts_them_and_says_so_in_the_capture(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(capture, "PENDING_BYTES", 1000)
    records = [Bytes(float(number), "indicator", b"x" * 100) for number in range(50)]

    async def work() -> CaptureWriter:
        writer = CaptureWriter(tmp_path, site="larkmoor", started=STARTED)
        for record in records:
            writer.data(record.t, record.link, record.data)
        await writer.flush(end=True)
        return writer

    writer = run(work())
    day = read_capture(tmp_path)
    kept = list(day)
    assert kept == records[: len(kept)]
    assert writer.dropped == 50 - len(kept) > 0
    assert f"{writer.dropped} records are missing" in day.notes[0]
