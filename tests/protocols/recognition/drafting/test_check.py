"""Checks found by computing them: spelled here with plain loops, and the CRC bit by bit (`spelling`)."""

import random
from collections.abc import Callable
from itertools import product
from typing import Any

import pytest

from neckyoke.protocols.recognition.drafting.check import Checked, find_check_behind, find_check_within, find_checksum
from neckyoke.protocols.recognition.drafting.sketch import COMPARE, Draft
from tests.protocols.spelling import crc_kermit
from tests.protocols.streams import crossing

BODIES = [f"{'ST' if s.stable else 'US'}{s.sign}{s.padded(7)}kg".encode() for s in crossing(10, 20, 1)]


def xor(data: bytes) -> int:
    check = 0
    for byte in data:
        check ^= byte
    return check


CHECKS: dict[str, tuple[int, Callable[[bytes], int]]] = {
    "xor": (1, xor),
    "sum": (1, lambda data: sum(data) % 256),
    "negated-sum": (1, lambda data: -sum(data) % 256),
    "crc16-kermit": (2, crc_kermit),
}


def with_check(
    body: bytes, kind: str, *, spelled: str = "hex", low_first: bool = False, stx: bool = False, etx: bool = False
) -> tuple[bytes, bytes]:
    """Compute a body's check."""
    width, compute = CHECKS[kind]
    value = compute(b"\x02" * stx + body + b"\x03" * etx)
    raw = value.to_bytes(width, "little" if low_first else "big")
    return body, raw.hex().upper().encode() if spelled == "hex" else raw


@pytest.mark.parametrize(
    ("kind", "spelled", "low_first", "stx", "etx"),
    [
        one
        for one in product(CHECKS, ("hex", "byte"), (False, True), (False, True), (False, True))
        if not (one[2] and CHECKS[one[0]][0] == 1)  # one byte has no order
    ],
)
def test_a_check_is_found_whatever_it_covers(kind: str, spelled: str, *, low_first: bool, stx: bool, etx: bool) -> None:
    found = find_checksum(
        [with_check(body, kind, spelled=spelled, low_first=low_first, stx=stx, etx=etx) for body in BODIES]
    )
    flags = {"low_first": low_first, "stx": stx, "etx": etx}
    assert found == {"kind": kind, "spelled": spelled, **{name: True for name, is_so in flags.items() if is_so}}


def test_hexadecimal_digits_may_be_small() -> None:
    pairs = [with_check(body, "sum") for body in BODIES]
    assert find_checksum([(body, check.lower()) for body, check in pairs]) == {"kind": "sum", "spelled": "hex"}


DIFFERENT = [f"+{at:07.1f}kg".encode() for at in range(40)]


@pytest.mark.parametrize(
    ("frames", "proving", "found"),
    [
        (40, 12, True),  # three tenths
        (40, 11, False),
        (20, 6, True),
        (20, 5, False),
        (8, 5, True),  # five at least
        (8, 4, False),
        (7, 7, False),  # of fewer frames nobody can tell
    ],
)
def test_three_in_ten_frames_and_five_at_least_must_prove_themselves(frames: int, proving: int, *, found: bool) -> None:
    pairs = [with_check(body, "sum") for body in DIFFERENT[:proving]]
    pairs += [(body, b"%02X" % ((sum(body) + 1) % 256)) for body in DIFFERENT[proving:frames]]
    assert (find_checksum(pairs) is not None) is found
    assert (find_checksum(pairs[::-1]) is not None) is found


def test_frames_that_came_often_are_tried_since_damage_comes_once() -> None:
    good = [with_check(body, "sum") for body in DIFFERENT[:12]] * 2
    hurt = [(b"+%d" % at, b"00") for at in range(500)]
    assert find_checksum(hurt + good) == {"kind": "sum", "spelled": "hex"}
    assert find_checksum(hurt + good[:12]) is None


def within(kind: str, mark: bytes = b"") -> list[bytes]:
    """Spell frames with a check at their end, behind a mark."""
    return [body + mark + check for body, check in (with_check(body, kind) for body in BODIES)]


def test_a_check_at_the_end_is_cut_off() -> None:
    checked = find_check_within(within("sum"))
    assert checked == Checked(BODIES, 2, {"kind": "sum", "spelled": "hex"})
    checked = find_check_within(within("crc16-kermit"))
    assert checked == Checked(BODIES, 4, {"kind": "crc16-kermit", "spelled": "hex"})


@pytest.mark.parametrize(("mark", "between"), [(b"*", r"\*"), (b" ", r"\ "), (b":", ":"), (b",", ","), (b"|", r"\|")])
def test_a_mark_before_it_is_cut_off_too(mark: bytes, between: str) -> None:
    assert find_check_within(within("sum", mark)) == Checked(BODIES, 2, {"kind": "sum", "spelled": "hex"}, between)


def test_a_mark_may_be_covered() -> None:
    frames = [b"".join(with_check(body + b"*", "sum")) for body in BODIES]
    assert find_check_within(frames) == Checked([body + b"*" for body in BODIES], 2, {"kind": "sum", "spelled": "hex"})


@pytest.mark.parametrize(("stars", "cut_off"), [(120, True), (119, False)])
def test_a_mark_stands_in_six_frames_of_ten(stars: int, *, cut_off: bool) -> None:
    """Of 200; the others have another.  The check covers neither."""
    pairs = [with_check(body, "crc16-kermit") for body in BODIES]
    frames = [body + (b"*" if at < stars else b" ") + check for at, (body, check) in enumerate(pairs)]
    checked = find_check_within(frames)
    assert checked is not None
    assert (checked.checksum, checked.between) == (
        ({"kind": "crc16-kermit", "spelled": "hex"}, r"\*") if cut_off else (None, "")
    )


@pytest.mark.parametrize(
    ("count", "other", "found"),
    [(60, 40, True), (59, 40, False), (20, 0, True), (19, 0, False), (20, 13, True), (20, 14, False)],
)
def test_six_in_ten_frames_and_twenty_must_have_one(count: int, other: int, *, found: bool) -> None:
    bodies = [f"+{at:07.1f}kg".encode() for at in range(count)]
    frames = [b"".join(with_check(body, "crc16-kermit")) for body in bodies] + [b"STANDBY!"] * other
    checked = find_check_within(frames)
    assert (checked is not None) is found
    assert checked is None or checked.bodies == bodies


def ends(*texts: str) -> list[bytes]:
    """End forty frames in these digits, in turn."""
    return [f"S+00412.5kg{texts[at % len(texts)]}".encode() for at in range(60)]


TWELVE = [f"{at:02d}" for at in range(10, 20)]


@pytest.mark.parametrize(
    ("frames", "found"),
    [
        (ends(*TWELVE, "A0", "B0"), True),
        (ends(*TWELVE, "A0"), False),  # eleven texts may be a status
        (ends(*TWELVE, "20", "B0"), False),  # numbers, but for a twelfth of them
        (ends(*(f"{at:02d}" for at in range(15))), False),
        (ends("AA"), False),
    ],
)
def test_many_texts_and_letters_among_them_are_a_check(frames: list[bytes], *, found: bool) -> None:
    checked = find_check_within(frames)
    assert (checked is not None) is found
    assert checked is None or (checked.width, checked.checksum) == (2, None)


def behind(tail: Callable[[bytes], bytes], count: int = 21) -> bytes:
    """Send frames between STX and ETX, each with something behind; the last is followed by none."""
    return b"".join(b"\x02" + body + b"\x03" + tail(body) for body in DIFFERENT[:count])


@pytest.mark.parametrize("end", [b"", b"\r\n", b"\n\r", b"\r", b"\n"])
def test_a_check_behind_the_end_mark_is_found_whatever_ends_the_line(end: bytes) -> None:
    checked = find_check_behind(behind(lambda body: with_check(body, "sum")[1] + end))
    assert checked == Checked(DIFFERENT[:20], 2, {"kind": "sum", "spelled": "hex"}, r"\x03", "stx-etx:2")


@pytest.mark.parametrize("length", range(10))
def test_one_to_eight_characters_may_be_a_check(length: int) -> None:
    checked = find_check_behind(behind(lambda _: b"#" * length + b"\r\n"))
    if not 1 <= length <= 8:
        assert checked is None
    else:
        assert checked == Checked(DIFFERENT[:20], length, None, r"\x03", f"stx-etx:{length}")


def test_of_fewer_than_twenty_frames_nobody_can_tell_what_stands_behind_them() -> None:
    assert find_check_behind(behind(lambda _: b"##", 20)) is None
    assert find_check_behind(b"") is None


def test_damage_behind_some_frames_hides_no_check() -> None:
    chance = random.Random(1)
    hurt = {*chance.sample(range(40), 12)}

    def tail(body: bytes) -> bytes:
        check = with_check(body, "sum")[1]
        return check[:1] if DIFFERENT.index(body) in hurt else check

    checked = find_check_behind(behind(tail, 40))
    assert checked is not None
    assert (checked.width, checked.checksum) == (2, {"kind": "sum", "spelled": "hex"})
    cut = find_check_behind(behind(lambda body: b"##\r\n"[: 3 if body in DIFFERENT[:2] else 4], 40))
    assert cut is not None
    assert cut.width == 2  # one line in twenty lost its end
    assert find_check_behind(behind(lambda body: b"##"[: DIFFERENT.index(body) % 2 + 1], 40)) is None


DRAFT = Draft({"pattern": "(?P<value>[0-9.]{7})kg", "unit": "kg"}, (COMPARE,))


@pytest.mark.parametrize(
    ("checked", "table", "said"),
    [
        (
            Checked([], 2, {"kind": "sum", "spelled": "hex"}),
            {
                "pattern": "(?P<covered>(?P<value>[0-9.]{7})kg)(?P<check>[0-9A-Fa-f]{2})",
                "checksum": {"kind": "sum", "spelled": "hex"},
            },
            None,
        ),
        (
            Checked([], 1, {"kind": "xor", "spelled": "byte", "etx": True}, r"\x03", "stx-etx:1"),
            {
                "pattern": r"(?P<covered>(?P<value>[0-9.]{7})kg)\x03(?P<check>[\s\S]{1})",
                "framing": "stx-etx:1",
                "checksum": {"kind": "xor", "spelled": "byte", "etx": True},
            },
            None,
        ),
        (
            Checked([], 3, None, r"\x03", "stx-etx:3"),
            {"pattern": r"(?P<value>[0-9.]{7})kg\x03[\s\S]{3}", "framing": "stx-etx:3"},
            "Behind the end of each frame stand 3 more, a check that none of the usual ones gives: not looked at.",
        ),
        (
            Checked([], 2, None),
            {"pattern": r"(?P<value>[0-9.]{7})kg[\s\S]{2}"},
            "The last 2 characters look like a check that none of the usual ones gives: they are not looked at.",
        ),
    ],
)
def test_a_draft_of_the_bodies_is_made_one_of_the_frames(
    checked: Checked, table: dict[str, Any], said: str | None
) -> None:
    draft = checked.covering(DRAFT)
    assert draft.table == {"unit": "kg", **table}
    assert [doubt.text for doubt in draft.doubts] == [COMPARE.text, *filter(None, [said])]
