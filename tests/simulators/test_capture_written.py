"""The capture file of a simulated day, line by line."""

import gzip
import json
from datetime import UTC, datetime
from pathlib import Path

from neckyoke.simulators.capture import capture_lines, write_capture
from neckyoke.simulators.yard import Yard

STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)


def test_lines_are_those_of_the_contract() -> None:
    items = [
        (0.104211, "indicator", b"ST,GS,+00000.0kg\r\n"),
        (0.310002, "panel", b"999 000000112233\r\n"),
        (9.0, "panel", b""),
        (9.5, "panel", b""),
        (9.6, "panel", b"\x02\xff\x00"),
    ]
    assert list(capture_lines(items, started=STARTED)) == [
        '{"capture":1,"started":"2026-11-24T02:11:00.000Z","site":"larkmoor"}\n',
        '{"t":0.104211,"link":"indicator","data":"ST,GS,+00000.0kg\\r\\n"}\n',
        '{"t":0.310002,"link":"panel","data":"999 000000112233\\r\\n"}\n',
        '{"t":9.0,"link":"panel","state":"lost"}\n',
        '{"t":9.5,"link":"panel","state":"up"}\n',
        '{"t":9.6,"link":"panel","data":"\\u0002\\u00ff\\u0000"}\n',
    ]


def test_no_byte_is_lost(tmp_path: Path) -> None:
    yard = Yard.named("tags-outage", seed=1, animals=25)
    path = tmp_path / "day.jsonl"
    yard.write_capture(path)
    records = [json.loads(line) for line in path.read_text().splitlines()[1:]]
    read = [(one["t"], one["link"], one.get("data", "").encode("latin-1")) for one in records]
    assert read == [(round(t, 6), link, data) for t, link, data in yard.items()]
    assert [one["state"] for one in records if "state" in one] == ["lost", "up"]


def test_compressed_files_are_the_same_every_time(tmp_path: Path) -> None:
    items = list(Yard.named("calm", seed=1, animals=2).items())
    one, other = tmp_path / "one.jsonl.gz", tmp_path / "other.jsonl.gz"
    write_capture(one, items)
    write_capture(other, items)
    assert one.read_bytes() == other.read_bytes()
    assert gzip.decompress(one.read_bytes()).decode() == "".join(capture_lines(items))
