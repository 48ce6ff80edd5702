"""The journal's pages read without SQLite, against SQLite itself and the tables of its file format.

"Database File Format" of SQLite's documentation: 1.6 (varints, cells, overflow chains), 2.1 (records).
"""

import sqlite3
import struct
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.journal.pages import FRAME_HEADER, LOG_HEADER, PAGE, Pages, _frames, _loose, _values, _varint
from neckyoke.bridge.journal.rows import Found, total_of


def varint(value: int) -> bytes:
    """Write a varint by the document: seven bits a byte, the highest first; of a ninth byte all eight."""
    if value >= 1 << 56:
        high = [value >> (8 + 7 * n) & 0x7F | 0x80 for n in range(7, -1, -1)]
        return bytes([*high, value & 0xFF])
    groups = [value & 0x7F]
    while value := value >> 7:
        groups.append(value & 0x7F | 0x80)
    return bytes(reversed(groups))


@given(st.integers(0, 2**64 - 1) | st.integers(0, 300), st.binary(max_size=3), st.binary(max_size=3))
def test_varints_are_read_as_they_are_written(value: int, before: bytes, behind: bytes) -> None:
    spelled = varint(value)
    assert _varint(before + spelled + behind, len(before)) == (value, len(before) + len(spelled))


@pytest.mark.parametrize(
    ("kind", "piece", "value"),
    [
        (0, b"", None),
        (1, b"\xfe", -2),
        (2, b"\x01\x02", 258),
        (3, b"\xff\xff\xfd", -3),
        (4, b"\x00\x00\x01\x00", 256),
        (5, b"\x00\x00\x00\x00\x01\x01", 257),
        (6, b"\x80\x00\x00\x00\x00\x00\x00\x00", -(2**63)),
        (7, struct.pack(">d", 1.5), struct.pack(">d", 1.5)),  # none of ours: its eight bytes are passed
        (8, b"", 0),
        (9, b"", 1),
        (12, b"", b""),
        (14, b"x", b"x"),
        (13, b"", b""),
        (19, b"tag", b"tag"),
    ],
)
def test_each_type_of_value_has_the_length_of_the_table(kind: int, piece: bytes, value: object) -> None:
    assert _values(bytes([4, 1, kind, 1]) + b"\x07" + piece + b"\x09") == [7, value, 9]


def test_a_record_that_breaks_off_is_none() -> None:
    assert _values(bytes([3, 1, 19]) + b"\x07tag") == [7, b"tag"]
    with pytest.raises(ValueError, match="19"):
        _values(bytes([3, 1, 19]) + b"\x07ta")


def event(seq: int, filler: str) -> str:
    return f'{{"specversion":"1.0","sequence":"{seq:010d}","data":{{"x":"{filler}"}}}}'


SIZES = st.lists(st.sampled_from([0, 10, 900, 3900, 3960, 3990, 4020, 4050, 8100, 12300, 40000]), max_size=12)


@settings(max_examples=30)
@given(SIZES, st.sampled_from(["x", "\u00e9", "\\u0000"]))
def test_what_sqlite_wrote_is_read_from_its_pages(
    tmp_path_factory: pytest.TempPathFactory, sizes: list[int], x: str
) -> None:
    path = tmp_path_factory.mktemp("pages") / "journal.db"
    with sqlite3.connect(path) as connection:
        connection.execute(f"pragma page_size = {PAGE}")
        connection.execute("create table event(seq integer primary key, a, at, b, c, d, e, body, sum)")
        connection.execute("create table kept(kind, name, body, sum, primary key(kind, name)) without rowid")
        rows = {}
        for n, size in enumerate(sizes):
            body = event(7 * n + 1, x * (size // len(x)))
            rows[7 * n + 1] = body
            connection.execute(
                "insert into event values (?, 't', ?, null, -1, 2.5, 'x', ?, ?)",
                (7 * n + 1, 1000 * n if n % 2 else None, body, total_of(body)),
            )
            connection.execute(
                "insert into kept values ('value', ?, ?, ?)", (str(n), body, total_of("value", str(n), body))
            )
    connection.close()
    pages = Pages(path, b"")
    assert {found.seq: found.body for found in pages.events()} == rows
    assert sorted((one.name, one.body) for one in pages.kept()) == sorted(
        (str(n), rows[7 * n + 1]) for n in range(len(sizes))
    )


def test_a_row_of_the_wrong_sum_and_one_of_another_table_are_passed(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    with sqlite3.connect(path) as connection:
        connection.execute(f"pragma page_size = {PAGE}")
        connection.execute("create table event(seq integer primary key, a, at, b, c, d, e, body, sum)")
        connection.execute("create table other(a, b, c)")
        connection.execute("create table kept(kind, name, body, sum, primary key(kind, name)) without rowid")
        for seq, total in ((1, total_of(event(1, "x"))), (2, "00000000"), (4, total_of(event(3, "x")))):
            body = event(min(seq, 3), "x")
            connection.execute("insert into event values (?, 't', 5, 1, 1, 1, 1, ?, ?)", (seq, body, total))
        connection.execute("insert into other values (1, 2, 3)")
        connection.execute("insert into kept values ('value', 'right', 'a', ?)", (total_of("value", "right", "a"),))
        connection.execute("insert into kept values ('value', 'wrong', 'a', '00000000')")
        connection.execute("insert into kept values ('value', 'of old', 'a', null)")
    connection.close()
    pages = Pages(path, b"")
    assert {(found.seq, found.at) for found in pages.events()} == {(1, 5), (3, None)}  # the last by its text alone
    assert {one.name for one in pages.kept()} == {"right", "of old"}


def test_rows_of_before_the_sums_are_read_with_their_moment(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    body = '{"type":"t","source":"s","data":{},"sequence":"0000000003"}'
    with sqlite3.connect(path) as connection:
        connection.execute(f"pragma page_size = {PAGE}")
        connection.execute("create table event(seq integer primary key, a, at, b, c, d, e, body)")
        connection.execute("create table kept(kind, name, body, primary key(kind, name)) without rowid")
        connection.executemany(
            "insert into event values (?, 't', 1790000000250, 1, 1, 1, 1, ?)", [(3, body), (4, body)]
        )
        connection.execute("insert into kept values ('value', 'of old', 'a')")
    connection.close()
    pages = Pages(path, b"")
    assert list(pages.events()) == [Found(3, 1790000000250, body, None)], "the other is not what it says"
    assert list(pages.kept()) == [("value", "of old", "a")]


def test_an_event_among_rubbish_is_found_by_its_text_and_sum() -> None:
    one, other = event(5, "a}00000000b"), event(6, "")
    image = (
        b"\x00\xff"
        + one.encode()
        + total_of(one).encode()
        + b"\x81"
        + other.encode()
        + b"00000000"
        + b'{"specversion":'
    )
    assert [(found.seq, found.body, found.at) for found in _loose(image)] == [(5, one, None)]


def frame(number: int, salt: bytes, fill: int) -> bytes:
    return struct.pack(">II", number, 0) + salt + bytes(8) + bytes([fill]) * PAGE


def test_frames_of_the_logs_own_generation_have_their_page_and_others_none() -> None:
    head = bytes(16) + b"saltsalt" + bytes(8)
    log = head + frame(3, b"saltsalt", 1) + frame(5, b"old salt", 2) + frame(3, b"saltsalt", 4)
    assert len(head) == LOG_HEADER
    assert len(log) == LOG_HEADER + 3 * (FRAME_HEADER + PAGE)
    assert [(number, image[0]) for number, image in _frames(log)] == [(3, 1), (0, 2), (3, 4)]
    broken = bytes(16) + b"damaged!" + bytes(8) + log[LOG_HEADER:]
    assert [number for number, _ in _frames(broken)] == [3, 0, 3], "the first frame's generation, then"
    assert list(_frames(head)) == []
    assert list(_frames(b"")) == []
