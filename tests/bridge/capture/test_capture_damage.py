"""Captures that are cut, broken, swollen or none: what is whole is read, and the rest is said."""

import gzip
import tempfile
import tracemalloc
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.capture import lines, read
from neckyoke.bridge.capture.format import CaptureError, read_memory
from neckyoke.bridge.capture.read import read_capture
from neckyoke.bridge.capture.write import CaptureWriter
from neckyoke.bridge.station.settings import Memory
from tests.support.captures import EXAMPLE, RECORDS, STARTED, put
from tests.support.running import run


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
    assert [len(line) for line in lines.read_lines(file)] == [len(head), len(rest[0]), 0, *map(len, rest[1:])]


def test_a_header_that_remembers_more_or_otherwise_is_read_or_refused_in_words() -> None:
    assert read_memory({"number": 7, "later": [1]}) == Memory(7)
    with pytest.raises(CaptureError, match="zero_kg"):
        read_memory({"zero_kg": "heavy"})


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
