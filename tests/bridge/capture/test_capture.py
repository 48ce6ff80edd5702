"""Captures: what is written is read again, a part by itself too, and a ring is bounded."""

import asyncio
import gzip
import itertools
import json
import tempfile
from collections.abc import Iterator, Mapping
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.capture import write as capture
from neckyoke.bridge.capture.format import Asked, Bytes, LinkChange, Record
from neckyoke.bridge.capture.read import read_capture
from neckyoke.bridge.capture.write import CaptureWriter
from tests.support.captures import EXAMPLE, RECORDS, STARTED, put
from tests.support.running import run, until


def write(folder: Path, records: list[Record], **options: Any) -> CaptureWriter:
    async def work() -> CaptureWriter:
        writer = CaptureWriter(folder, site="larkmoor", started=STARTED, **options)
        put(writer, records)
        await writer.flush(end=True)
        return writer

    return run(work())


def test_the_documented_example_is_read(tmp_path: Path) -> None:
    file = tmp_path / "day.jsonl"
    file.write_text(EXAMPLE)
    day = read_capture(file)
    assert day.header.site == "larkmoor"
    assert day.header.started == STARTED
    assert list(day) == RECORDS
    assert day.notes == []


def test_what_is_written_is_the_documented_example(tmp_path: Path) -> None:
    write(tmp_path, RECORDS)
    (part,) = tmp_path.iterdir()
    assert part.name == "capture-000001-20261124T021100Z.jsonl.gz"
    lines = [json.loads(line) for line in gzip.decompress(part.read_bytes()).splitlines()]
    assert lines == [json.loads(line) for line in EXAMPLE.splitlines()]


data_records = st.builds(Bytes, st.just(0.0), st.sampled_from(["indicator", "panel"]), st.binary(max_size=60))


link_records = st.builds(
    LinkChange, st.just(0.0), st.sampled_from(["indicator", "panel"]), st.sampled_from(["up", "lost", "silent"])
)


asked_records = st.builds(Asked, st.just(0.0), st.dictionaries(st.text(max_size=5), st.text(max_size=8), max_size=3))


@st.composite
def histories(draw: st.DrawFn) -> list[Record]:
    records = draw(st.lists(data_records | link_records | asked_records, max_size=30))
    steps = draw(st.lists(st.floats(0, 1e5), min_size=len(records), max_size=len(records)))
    times = [round(t, 6) for t in itertools.accumulate(steps)]
    return [_at(record, t) for record, t in zip(records, times, strict=True)]


def _at(record: Record, t: float) -> Record:
    match record:
        case Bytes(_, link, data):
            return Bytes(t, link, data)
        case LinkChange(_, link, state):
            return LinkChange(t, link, state)
        case Asked(_, request):
            return Asked(t, request)


@settings(max_examples=40, deadline=None)
@given(histories(), st.integers(1, 8))
def test_what_is_recorded_is_read_again_however_it_was_parted(records: list[Record], flushes: int) -> None:
    async def work(folder: Path) -> None:
        writer = CaptureWriter(folder, site="larkmoor", started=STARTED, part_bytes=200, parts=1000)
        size = len(records) // flushes + 1
        for start in range(0, len(records), size):
            put(writer, records[start : start + size])
            await writer.flush()
        await writer.flush(end=True)

    with tempfile.TemporaryDirectory() as name:
        folder = Path(name)
        run(work(folder))
        if records:
            day = read_capture(folder)
            assert list(day) == records
            assert day.notes == []
        else:
            assert list(folder.iterdir()) == []


def test_each_part_can_be_read_alone_and_tells_what_was_remembered(tmp_path: Path) -> None:
    numbers = iter(range(100))

    async def work() -> None:
        writer = CaptureWriter(
            tmp_path,
            site="larkmoor",
            started=STARTED,
            part_bytes=1,
            memory=lambda: {"crush": {"number": next(numbers), "zero_kg": 0.5}},
        )
        writer.link(0.0, "indicator", "up")
        for second in range(4):
            writer.data(float(second), "indicator", b"ST,GS,+00000.0kg\r\n")
            await writer.flush()
        await writer.flush(end=True)

    run(work())
    parts = sorted(tmp_path.iterdir())
    assert len(parts) >= 2
    remembered = [read_capture(part).header.stations["crush"]["number"] for part in parts]
    assert remembered == sorted(set(remembered))
    second = read_capture(parts[1])
    assert next(iter(second)) == LinkChange(next(record.t for record in second), "indicator", "up")
    whole = read_capture(*parts)
    assert len(list(whole)) == 5
    assert whole.notes == []


def test_a_part_does_not_end_while_an_animal_stands_until_it_is_twice_its_size(tmp_path: Path) -> None:
    async def work(*, calm: bool) -> int:
        folder = tmp_path / str(calm)
        writer = CaptureWriter(folder, site="larkmoor", started=STARTED, part_bytes=400, parts=1000, calm=lambda: calm)
        for second in range(60):
            writer.data(float(second), "indicator", f"ST,GS,+{second * 7919 % 99999:05}.0kg\r\n".encode())
            await writer.flush()
        await writer.flush(end=True)
        return len(list(folder.iterdir()))

    calm, busy = run(work(calm=True)), run(work(calm=False))
    assert 1 < busy < calm


def test_the_ring_is_bounded_and_its_numbers_count_on_over_runs(tmp_path: Path) -> None:
    async def work() -> None:
        writer = CaptureWriter(tmp_path, site="larkmoor", started=STARTED, part_bytes=1, parts=3)
        for second in range(20):
            writer.data(float(second), "indicator", b"0.0 kg\r\n")
            await writer.flush()
        await writer.flush(end=True)

    run(work())
    run(work())
    names = sorted(path.name for path in tmp_path.iterdir())
    assert len(names) == 3
    numbers = [int(name[8:14]) for name in names]
    assert numbers == list(range(numbers[0], numbers[0] + 3))
    assert numbers[0] > 10  # ten a run, of which the first run's are gone


def test_what_was_flushed_is_there_when_the_program_is_killed(tmp_path: Path) -> None:
    async def work() -> list[Record]:
        writer = CaptureWriter(tmp_path, site="larkmoor", started=STARTED)
        put(writer, RECORDS)
        await writer.flush()
        found = list(read_capture(tmp_path))  # while the part is still being written
        await writer.flush(end=True)
        return found

    assert run(work()) == RECORDS


def test_the_task_writes_by_itself_and_ends_the_part_when_cancelled(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(capture, "FLUSH_S", 0.01)

    async def work() -> None:
        writer = CaptureWriter(tmp_path, site="larkmoor", started=STARTED)
        task = asyncio.ensure_future(writer.run())
        put(writer, RECORDS[:2])
        await until(lambda: bool(list(tmp_path.glob("*.gz"))), "the first part")
        put(writer, RECORDS[2:])
        task.cancel()
        await asyncio.wait({task})

    run(work())
    day = read_capture(tmp_path)
    assert list(day) == RECORDS
    assert day.notes == []


def test_much_data_is_written_before_its_time(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(capture, "FLUSH_S", 1e6)

    async def work() -> None:
        writer = CaptureWriter(tmp_path, site="larkmoor", started=STARTED)
        task = asyncio.ensure_future(writer.run())
        writer.data(0.0, "indicator", bytes(capture.SOON_BYTES))
        await until(lambda: bool(list(tmp_path.glob("*.gz"))), "the first part")
        task.cancel()
        await asyncio.wait({task})

    run(work())


def lines_of(folder: Path) -> Iterator[Mapping[str, Any]]:
    for part in sorted(folder.iterdir()):
        yield from map(json.loads, gzip.decompress(part.read_bytes()).splitlines())


def test_bytes_stand_as_latin_1_text_in_ascii_lines(tmp_path: Path) -> None:
    write(tmp_path, [Bytes(1.0, "indicator", bytes(range(256)))])
    (part,) = tmp_path.iterdir()
    text = gzip.decompress(part.read_bytes())
    assert text.isascii()
    assert list(lines_of(tmp_path))[1]["data"].encode("latin-1") == bytes(range(256))
