"""Captures: what is written is read again; a cut anywhere gives what is whole; a ring is bounded; disks may refuse."""

import asyncio
import gzip
import itertools
import json
import tempfile
import tracemalloc
from collections.abc import Iterator, Mapping
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.capture import lines, read
from neckyoke.bridge.capture import write as capture
from neckyoke.bridge.capture.format import Asked, Bytes, CaptureError, LinkChange, Record, read_memory
from neckyoke.bridge.capture.read import read_capture
from neckyoke.bridge.capture.write import CaptureWriter
from neckyoke.bridge.station.settings import Memory
from tests.support.running import run, until

STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)

EXAMPLE = """\
{"capture":1,"started":"2026-11-24T02:11:00.000Z","site":"larkmoor"}
{"t":0.104211,"link":"indicator","data":"ST,GS,+00000.0kg\\r\\n"}
{"t":0.310002,"link":"panel","data":"999 000000112233\\r\\n"}
{"t":9.000000,"link":"panel","state":"lost"}
{"t":9.500000,"request":{"kind":"note","station":"crush","text":"lame, near hind"}}
"""
RECORDS: list[Record] = [
    Bytes(0.104211, "indicator", b"ST,GS,+00000.0kg\r\n"),
    Bytes(0.310002, "panel", b"999 000000112233\r\n"),
    LinkChange(9.0, "panel", "lost"),
    Asked(9.5, {"kind": "note", "station": "crush", "text": "lame, near hind"}),
]


def put(writer: CaptureWriter, records: list[Record]) -> None:
    for record in records:
        match record:
            case Bytes(t, link, data):
                writer.data(t, link, data)
            case LinkChange(t, link, state):
                writer.link(t, link, state)
            case Asked(t, request):
                writer.request(t, request)


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


@pytest.fixture(scope="module")
def plain() -> bytes:
    return EXAMPLE.encode()


def test_a_capture_cut_anywhere_gives_what_is_whole_and_a_note(tmp_path: Path, plain: bytes) -> None:
    file = tmp_path / "cut.jsonl"
    first = plain.index(b"\n") + 1
    for length in range(len(plain) + 1):
        file.write_bytes(plain[:length])
        if length < first:
            with pytest.raises(CaptureError):
                read_capture(file)
            continue
        day = read_capture(file)
        whole = plain[:length].count(b"\n") - 1
        assert list(day) == RECORDS[:whole]
        assert day.notes == ([] if plain[:length].endswith(b"\n") else [day.notes[0]])
        assert all("cut" in note for note in day.notes)


def test_a_compressed_capture_cut_anywhere_gives_what_is_whole_and_a_note(tmp_path: Path) -> None:
    async def work() -> None:
        writer = CaptureWriter(tmp_path / "ring", site="larkmoor", started=STARTED)
        for record in RECORDS:
            put(writer, [record])
            await writer.flush()
        await writer.flush(end=True)

    run(work())
    (part,) = (tmp_path / "ring").iterdir()
    data = part.read_bytes()
    file = tmp_path / "cut.jsonl.gz"
    most = 0
    for length in range(len(data)):
        file.write_bytes(data[:length])
        try:
            day = read_capture(file)
        except CaptureError:
            assert most == 0
            continue
        found = list(day)
        assert found == RECORDS[: len(found)]
        assert len(found) >= most
        most = len(found)
        assert len(day.notes) == 1
        assert "breaks off" in day.notes[0]
    assert most == len(RECORDS)


@pytest.mark.parametrize("filling", [b"0" * 1024, b"\n" * 1024, b'{"t":1}\n' * 128])
def test_a_small_file_that_unfolds_without_end_is_read_only_so_far(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, filling: bytes
) -> None:
    monkeypatch.setattr(lines, "FREE", 1 << 17)
    monkeypatch.setattr(lines, "FOLDED", 2)
    file = tmp_path / "bomb.jsonl.gz"
    with gzip.open(file, "wb") as out:
        out.write(EXAMPLE.encode())
        for _ in range(2):
            out.write(filling * 128)
    assert file.stat().st_size < 1 << 18
    tracemalloc.start()
    day = read_capture(file)
    assert list(day) == RECORDS
    most = tracemalloc.get_traced_memory()[1]
    tracemalloc.stop()

    assert "unfolds to more than" in " ".join(day.notes)
    assert most < 4 << 20


def test_a_line_that_is_too_long_is_passed_over(tmp_path: Path) -> None:
    file = tmp_path / "long.jsonl"
    head, *rest = EXAMPLE.splitlines(keepends=True)
    file.write_text("".join([head, rest[0], "7" * (lines.LONGEST + 5) + "\n", *rest[1:]]))
    day = read_capture(file)

    assert list(day) == RECORDS
    assert day.notes == ["long.jsonl, line 3 is no record and was skipped"]


def test_a_header_that_remembers_more_or_otherwise_is_read_or_refused_in_words() -> None:
    assert read_memory({"number": 7, "later": [1]}) == Memory(7)
    with pytest.raises(CaptureError, match="zero_kg"):
        read_memory({"zero_kg": "heavy"})


def test_what_was_flushed_is_there_when_the_program_is_killed(tmp_path: Path) -> None:
    async def work() -> list[Record]:
        writer = CaptureWriter(tmp_path, site="larkmoor", started=STARTED)
        put(writer, RECORDS)
        await writer.flush()
        found = list(read_capture(tmp_path))  # while the part is still being written
        await writer.flush(end=True)
        return found

    assert run(work()) == RECORDS


def test_broken_lines_in_the_middle_are_skipped_and_noted(tmp_path: Path) -> None:
    lines = EXAMPLE.splitlines()
    broken = [
        "no json",
        "[1,2]",
        '{"t":"soon","link":"panel","data":"x"}',
        '{"t":1,"link":"panel"}',
        '{"t":1}',
        '{"t":NaN,"link":"a"}',
    ]
    file = tmp_path / "broken.jsonl"
    file.write_text("\n".join([*lines[:3], *broken * 3, *lines[3:]]) + "\n")
    day = read_capture(file)
    assert list(day) == RECORDS
    assert len(day.notes) == read.NOTES + 1
    assert "line 4" in day.notes[0]
    assert "8 more" in day.notes[-1]


def test_time_never_goes_back(tmp_path: Path) -> None:
    file = tmp_path / "back.jsonl"
    head = EXAMPLE.splitlines()[0]
    file.write_text(
        head + '\n{"t":5,"link":"a","data":"x"}\n{"t":4,"link":"a","data":"y"}\n{"t":6,"link":"a","data":"z"}\n'
    )
    day = read_capture(file)
    assert [record.t for record in day] == [5, 6]
    assert "back in time" in day.notes[0]


def test_parts_of_other_runs_and_other_files_are_left_out_with_a_note(tmp_path: Path) -> None:
    one, other, junk = tmp_path / "1.jsonl", tmp_path / "2.jsonl", tmp_path / "3.jsonl"
    one.write_text(EXAMPLE)
    other.write_text(EXAMPLE.replace("02:11", "03:00"))
    junk.write_text('{"weights": []}\n')
    day = read_capture(one, other, junk)
    assert list(day) == RECORDS
    assert ["2.jsonl" in day.notes[0], "3.jsonl" in day.notes[1]] == [True, True]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("", "empty"),
        ("{}\n", "header"),
        ('{"capture":2,"started":"2026-11-24T02:11:00Z","site":"x"}\n', "version 2"),
        ('{"capture":1,"site":"x"}\n', "incomplete"),
        ('{"capture":1,"started":"2026-11-24T02:11:00Z","site":"x","stations":[1]}\n', "incomplete"),
        ('{"capture":1,"started":"2026-11-24T02:11:00Z","site":"x","stations":{"crush":5}}\n', "incomplete"),
        ("weight,tag\n1,2\n", "no capture"),
    ],
)
def test_what_is_no_capture_is_said_plainly(tmp_path: Path, text: str, says: str) -> None:
    file = tmp_path / "x.jsonl"
    file.write_text(text)
    with pytest.raises(CaptureError, match=says):
        read_capture(file)
    with pytest.raises(CaptureError, match="capture-"):
        read_capture(tmp_path)


@settings(max_examples=60, deadline=None)
@given(st.binary(max_size=300))
def test_any_bytes_for_a_file_raise_nothing_but_a_capture_error(data: bytes) -> None:
    with tempfile.TemporaryDirectory() as name:
        file = Path(name) / "x"
        for head in (b"", EXAMPLE.splitlines(keepends=True)[0].encode(), b"\x1f\x8b"):
            file.write_bytes(head + data)
            try:
                list(read_capture(file))
            except CaptureError:
                assert not head.startswith(b"{")


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
