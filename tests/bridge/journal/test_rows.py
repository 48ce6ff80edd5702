"""A row of the journal: its sum, and its spelling."""

import zlib

import pytest

from neckyoke.bridge.journal.rows import is_sound, spelled, total_of


@pytest.mark.parametrize(
    ("body", "total", "sound"),
    [
        ('{"sequence":"0000000007"}', None, False),  # no event of ours
        ('{"type":"t","source":"s","data":{},"sequence":"0000000007"}', None, True),
        ('{"type":"t","source":"s","data":{},"sequence":"0000000008"}', None, False),
        ('{"sequence":"0000000007"}', "good", True),
        ('{"sequence":"0000000008"}', "good", False),
        ('{"sequence":"0000000007"}', "bad", False),
        ("[" * 100_000, None, False),
        ("7", None, False),
        ('{"type":"\udcff","source":"s","data":{},"sequence":"0000000007"}', None, False),
    ],
)
def test_a_row_is_believed_when_it_agrees_with_itself(body: str, total: str | None, sound: bool) -> None:  # noqa: FBT001
    sums = {"good": total_of(body), "bad": f"{int(total_of(body), 16) ^ 1:08x}"}
    assert is_sound(7, body, total and sums[total]) is sound


def test_the_sum_is_the_one_of_the_standard() -> None:
    assert total_of("123456789") == "cbf43926"  # the check value of CRC-32: ISO 3309, as in the catalogues of CRCs
    assert total_of("a", "b") == f"{zlib.crc32(b'a' + bytes([31]) + b'b'):08x}"


def test_numbers_are_spelled_by_their_runs() -> None:
    assert spelled([1, 3, 4, 5, 9]) == "1, 3 to 5, 9"
    assert spelled([]) == ""
    assert spelled(range(0, 18, 2)) == "0, 2, 4, 6, 8, 10, 12, 14 and more"
    assert spelled(range(0, 16, 2)) == "0, 2, 4, 6, 8, 10, 12, 14"
