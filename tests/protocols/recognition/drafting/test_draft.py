"""Drafting: shapes with more than one number, with checks, with a minus behind; and the shapes nobody may draft.

Each shape is spelled from what an indicator shows, drafted from one stream, and the draft, as it is printed, then reads
another.  The shapes are common practice, no source.
"""

import tomllib
from collections.abc import Callable, Iterator
from dataclasses import replace
from itertools import count

import pytest

from neckyoke.protocols.decoder import scale_decoder
from neckyoke.protocols.readings import Mode, Reject, RejectReason, WeightReading
from neckyoke.protocols.recognise import Finding, Kind, Sure, recognise
from neckyoke.protocols.recognition.drafting.draft import draft, is_bracketed
from neckyoke.protocols.recognition.drafting.sketch import Draft
from neckyoke.protocols.scale.builtin import layout_from_table
from tests.protocols.spelling import Shown, crc_kermit
from tests.protocols.streams import crossing, damaged

Spell = Callable[[int, Shown], bytes]


def number(tenths: int) -> str:
    return f"{tenths / 10:.1f}"


def net(shown: Shown) -> str:
    return number(shown.tenths - 120)


def word(shown: Shown) -> str:
    return "ST" if shown.stable else "US"


def xor(text: str) -> int:
    check = 0
    for character in text:
        check ^= ord(character)
    return check


def enclosed(body: str, tail: str) -> bytes:
    return f"\x02{body}\x03{tail}\r\n".encode("latin-1")


def body(shown: Shown) -> str:
    return f"{word(shown)}{shown.sign}{shown.padded(7)}kg"


def with_check(text: str) -> bytes:
    return f"{text}{xor(text):02X}\r\n".encode()


GROSS: dict[str, Spell] = {
    "gross-net-tare": lambda _, s: f"G{number(s.tenths):>8}kg N{net(s):>8}kg T    12.0kg\r\n".encode(),
    "status-gross-tare-net": lambda _, s: f"{word(s)},G{number(s.tenths)},T12.0,N{net(s)}\r\n".encode(),
    "gross-and-net": lambda _, s: f"{word(s)} G{number(s.tenths):>8}kg N{net(s):>8}kg\r\n".encode(),
    "without-words": lambda _, s: f"{number(s.tenths)},12.0,{net(s)},kg,{int(s.stable)}\r\n".encode(),
}
PLAIN: dict[str, Spell] = {
    "address": lambda _, s: f"01 {number(s.tenths):>8} kg {word(s)}\r\n".encode(),
    "running-number": lambda at, s: f"{at:05d} {number(s.tenths):>8} kg {word(s)}\r\n".encode(),
    "wrapping-number": lambda at, s: f"{at % 100:02d} {number(s.tenths)} kg\r\n".encode(),
    "semicolons": lambda _, s: f"1;{number(s.tenths)};kg;{int(s.stable)}\r\n".encode(),
    "letters-around": lambda _, s: f"A;{number(s.tenths)};kg;{'S' if s.stable else 'D'};B\r\n".encode(),
    "json": lambda _, s: f'{{"w":{number(s.tenths)},"u":"kg","s":{int(s.stable)}}}\r\n'.encode(),
    "clock": lambda at, s: f"08:{at // 600:02d}:{at // 10 % 60:02d} {number(s.tenths):>7} kg {word(s)}\r\n".encode(),
    "minus-behind": lambda _, s: f"{s.number:>7}{s.minus or ' '} kg {'S' if s.stable else 'U'}\r\n".encode(),
    "to-the-left": lambda _, s: f"A;{f'{s.minus}{s.number}kg;{word(s)}'.ljust(14)}X\r\n".encode(),
    "word-beside": lambda _, s: f"X;{f'W{s.minus}{s.number}'.rjust(10)} kg {word(s)}\r\n".encode(),
    "whole-to-the-left": lambda _, s: f"A;{f'{s.minus}{abs(s.tenths) // 10}kg'.ljust(8)};{word(s)}\r\n".encode(),
    "minus-behind-loosely": lambda _, s: f"A {s.number}{s.minus} kg {word(s)}\r\n".encode(),
    "thousands": lambda _, s: f"{word(s)},{s.tenths * 10 // 5 * 5 / 10:,.1f} kg\r\n".encode(),
}
CHECKED: dict[str, tuple[Spell, dict[str, object]]] = {
    "xor-within": (lambda _, s: with_check(body(s)), {"kind": "xor", "spelled": "hex"}),
    "xor-byte": (
        lambda _, s: enclosed(body(s), chr(xor(body(s) + "\x03"))),
        {"kind": "xor", "spelled": "byte", "etx": True},
    ),
    "xor-all": (
        lambda _, s: enclosed(body(s), f"{xor(f'{chr(2)}{body(s)}{chr(3)}'):02X}"),
        {"kind": "xor", "spelled": "hex", "stx": True, "etx": True},
    ),
    "negated-sum": (
        lambda _, s: enclosed(body(s), f"{-sum(body(s).encode()) & 255:02X}"),
        {"kind": "negated-sum", "spelled": "hex"},
    ),
    "crc-low-first": (
        lambda _, s: enclosed(body(s), crc_kermit(body(s).encode()).to_bytes(2, "little").hex().upper()),
        {"kind": "crc16-kermit", "spelled": "hex", "low_first": True},
    ),
}


def negative_now_and_then(seed: int) -> Iterator[Shown]:
    """Show animals on a scale that does not return to nought, as after dung was scraped off."""
    for at, shown in enumerate(crossing(10, 25, seed)):
        yield replace(shown, tenths=-15, stable=True) if at % 80 < 12 and shown.tenths == 0 else shown


def stream(spell: Spell, seed: int) -> bytes:
    return b"".join(map(spell, count(), negative_now_and_then(seed)))


def read(finding: Finding, data: bytes) -> list[WeightReading | Reject]:
    """Read bytes by what is printed to be pasted."""
    table = tomllib.loads(finding.toml("scale", "tcp://127.0.0.1:4001"))
    assert table["links"]["scale"]["layout"] == "own"
    decoder = scale_decoder("own", None, {"own": layout_from_table("own", table["layouts"]["own"])})
    return [one for one in decoder.feed(data) if isinstance(one, WeightReading | Reject)]


def recognised(finding: Finding, data: bytes) -> list[WeightReading]:
    """Read bytes by a built-in layout that was found."""
    assert finding.layout is not None
    return [one for one in scale_decoder(finding.layout).feed(data) if isinstance(one, WeightReading)]


@pytest.mark.parametrize("noise", [0.0, 0.02])
@pytest.mark.parametrize("name", sorted(GROSS | PLAIN))
def test_frames_of_several_numbers_are_drafted(name: str, noise: float) -> None:
    spell = (GROSS | PLAIN)[name]
    finding = recognise(damaged(stream(spell, 3), noise, 3))
    assert (finding.kind, finding.sure, finding.layout) == (Kind.SCALE, Sure.LIKELY, "own"), finding
    outcomes = read(finding, stream(spell, 4))
    shows = list(negative_now_and_then(4))
    weights = [one.kg if isinstance(one, WeightReading) else None for one in outcomes]
    shown = [(s.tenths * 10 // 5 * 5 if name == "thousands" else s.tenths) / 10 for s in shows]
    assert weights == ([int(kg) for kg in shown] if name == "whole-to-the-left" else shown)
    modes = {one.mode for one in outcomes if isinstance(one, WeightReading)}
    assert modes == {Mode.GROSS if name in GROSS else None}
    if name not in {"gross-net-tare", "wrapping-number"}:
        assert [one.stable for one in outcomes if isinstance(one, WeightReading)] == [s.stable for s in shows]


@pytest.mark.parametrize("noise", [0.0, 0.01])
@pytest.mark.parametrize("name", sorted(CHECKED))
def test_checks_are_found_and_demanded(name: str, noise: float) -> None:
    spell, checksum = CHECKED[name]
    finding = recognise(damaged(stream(spell, 3), noise, 3))
    assert (finding.kind, finding.sure, finding.layout) == (Kind.SCALE, Sure.LIKELY, "own")
    assert finding.table is not None
    assert finding.table["checksum"] == checksum
    outcomes = read(finding, stream(spell, 4))
    shows = list(negative_now_and_then(4))
    assert [(one.kg, one.stable) for one in outcomes if isinstance(one, WeightReading)] == [
        (s.tenths / 10, s.stable) for s in shows
    ]
    hurt = stream(spell, 4).replace(b"4", b"5")
    assert RejectReason.BAD_CHECKSUM in {one.reason for one in read(finding, hurt) if isinstance(one, Reject)}


def test_a_check_of_no_usual_kind_is_told_and_never_taken_for_a_weight_or_a_status() -> None:
    behind = recognise(stream(lambda _, s: enclosed(body(s), f"{sum(body(s).encode()) % 199:03d}"), 3))
    within = recognise(stream(lambda _, s: f"{body(s)}{sum(body(s).encode()) * 7 % 251:02X}\r\n".encode(), 3))
    for finding in (behind, within):
        assert (finding.kind, finding.sure) == (Kind.SCALE, Sure.LIKELY)
        assert finding.table is not None
        assert finding.table["tokens"] == {"status": {"stable": ["ST"], "moving": ["US"]}}
        assert any("a check that none of the usual ones gives" in doubt for doubt in finding.doubts)


def test_brackets_may_be_a_minus_and_are_not_guessed_at() -> None:
    always = recognise(stream(lambda _, s: f"({s.number}) kg\r\n".encode(), 3))
    assert (always.kind, always.sure) == (Kind.UNKNOWN, Sure.UNSURE)
    assert any("Brackets" in doubt for doubt in always.doubts)


def test_brackets_around_some_numbers_are_quoted() -> None:
    def spell(_: int, shown: Shown) -> bytes:
        return f"({shown.number}) kg\r\n".encode() if shown.tenths < 0 else f" {shown.number}  kg\r\n".encode()

    finding = recognise(stream(spell, 3))
    assert (finding.layout, finding.sure) == ("weight-unit", Sure.LIKELY)
    assert any("'(1.5) kg'" in doubt for doubt in finding.doubts)
    assert min(one.kg or 0 for one in recognised(finding, stream(spell, 4))) == 0


def test_two_numbers_that_change_alike_are_a_guess() -> None:
    finding = recognise(stream(lambda _, s: f"{net(s):>8}{number(s.tenths):>8}\r\n".encode(), 3))
    assert (finding.kind, finding.sure) == (Kind.SCALE, Sure.UNSURE)
    assert any("perhaps gross and net; the second is taken" in doubt for doubt in finding.doubts)


@pytest.mark.parametrize("seed", range(8))
def test_the_order_of_digits_is_found_and_always_to_be_compared(seed: int) -> None:
    def backwards(_: int, shown: Shown) -> bytes:
        return f"={shown.padded(7)[::-1]}".encode()

    def forwards(_: int, shown: Shown) -> bytes:
        return f"={shown.padded(7)}".encode()

    for spell in (backwards, forwards):
        finding = recognise(stream(spell, seed))
        assert finding.sure is not Sure.SURE
        assert any("frames of = and a number" in doubt and "backwards = true" in doubt for doubt in finding.doubts)
        assert [one.kg for one in read(finding, stream(spell, 9)) if isinstance(one, WeightReading)] == [
            abs(s.tenths) / 10 for s in negative_now_and_then(9)
        ]
        assert ("# backwards = true" in finding.toml("scale", "tcp://127.0.0.1:1")) is (spell is forwards)


@pytest.mark.parametrize(
    ("spell", "like"),
    [
        (lambda _, s: f"{abs(s.tenths):7d} {s.unit}\r\n".encode(), "weight-unit"),
        (lambda _, s: f"{word(s)},GS,{s.sign}{abs(s.tenths):07d}{s.unit}\r\n".encode(), "status-mode-weight"),
        (lambda _, s: f"{word(s)} kg {abs(s.tenths):07d}\r\n".encode(), None),
    ],
)
def test_advice_to_add_decimals_can_be_followed(spell: Spell, like: str | None) -> None:
    finding = recognise(stream(spell, 3))
    assert (finding.sure, finding.layout) == (Sure.LIKELY, "own")
    assert any("take the # from decimals = 1" in doubt for doubt in finding.doubts)
    spelled = finding.toml("scale", "tcp://127.0.0.1:4001")
    table = tomllib.loads(spelled)["layouts"]["own"]
    assert table.get("like") == like
    followed = tomllib.loads(spelled.replace("# decimals = 1", "decimals = 1"))["layouts"]["own"]
    for wanted, per in ((table, 1), (followed, 10)):
        decoder = scale_decoder("own", None, {"own": layout_from_table("own", wanted)})
        assert [one.kg for one in decoder.feed(stream(spell, 4)) if isinstance(one, WeightReading)] == [
            float(f"{s.minus if like == 'status-mode-weight' else ''}{abs(s.tenths) / per}")
            for s in negative_now_and_then(4)
        ]


def test_what_cannot_be_drafted_is_counted_truly() -> None:
    finding = recognise(stream(lambda _, s: f"{s.tenths} {6000 - 2 * s.tenths}\r\n".encode(), 3))
    assert (finding.kind, finding.sure, finding.frames) == (Kind.UNKNOWN, Sure.UNSURE, 250)
    assert any("250 frames came" in ground for ground in finding.why)


@pytest.mark.parametrize(
    "spell",
    [
        lambda at, s: f"{at % 9},{number(s.tenths)},{12.0 + at % 2},kg\r\n".encode(),
        lambda _, s: f"ST, {number(s.tenths).replace('.', ',')} kg, X\r\n".encode(),
        lambda _, s: f"N {number(s.tenths)} kg G 3 X\r\n".encode(),
    ],
)
def test_commas_part_numbers_or_are_decimal_as_the_sample_shows(spell: Spell) -> None:
    finding = recognise(stream(spell, 3))
    assert (finding.kind, finding.layout) == (Kind.SCALE, "own")
    weights = [one.kg for one in read(finding, stream(spell, 4)) if isinstance(one, WeightReading)]
    assert weights == [shown.tenths / 10 for shown in negative_now_and_then(4)]


def test_a_dash_in_front_of_every_number_may_be_no_minus() -> None:
    finding = recognise(stream(lambda _, s: f"{word(s)}-{s.padded(7)} kg X\r\n".encode(), 3))
    assert finding.sure is Sure.UNSURE
    assert any("No weight is above nought" in doubt for doubt in finding.doubts)


def test_the_unit_behind_the_weight_goes_before_one_in_front() -> None:
    finding = recognise(stream(lambda _, s: f"A KG {number(s.tenths)} lb {int(s.stable)}\r\n".encode(), 3))
    assert finding.table is not None
    assert finding.table["unit"] == "lb"


def test_the_order_is_to_be_compared_whatever_the_numbers_length() -> None:
    finding = recognise(stream(lambda _, s: f"={s.minus}{s.number}\r\n".encode(), 3))
    assert finding.sure is not Sure.SURE
    assert any("frames of = and a number" in doubt for doubt in finding.doubts)


def lines(spell: Spell) -> list[bytes]:
    """Spell lines without their ends."""
    return [spell(at, shown).rstrip(b"\r\n") for at, shown in enumerate(negative_now_and_then(3))]


def drafted(frames: list[bytes]) -> Draft | None:
    """Draft from lines, sent behind the end of one that began before."""
    found = draft(b"\r\n" + b"".join(frame + b"\r\n" for frame in frames), frames)
    return found[0] if found else None


@pytest.mark.parametrize(
    ("frames", "so"),
    [
        ([b"(1.5) kg"] * 4 + [b"1.5 kg"] * 96, True),
        ([b"(1.5) kg"] * 3 + [b"1.5 kg"] * 97, False),  # damage
        ([b"W ( -  1,5 ) kg"], True),
        ([b"(+.5)"], True),
        ([b"(kg) 1.5"], False),
        ([b"() 1.5"], False),
        ([b"(1.5 kg"], False),
        ([b"1.5)"], False),
        ([], False),
    ],
)
def test_numbers_in_brackets_are_seen(frames: list[bytes], *, so: bool) -> None:
    assert is_bracketed(frames) is so


@pytest.mark.parametrize(("short", "plainer"), [(0, True), (12, True), (13, False)])
def test_columns_are_taken_unless_they_read_a_twentieth_less(short: int, *, plainer: bool) -> None:
    """Of 250 lines so many are not filled up with blanks."""
    frames = lines(lambda at, s: f"X;{number(s.tenths):>{8 if at % 19 or at >= 19 * short else 0}};kg".encode())
    assert sum(len(frame) < 13 for frame in frames) == short
    found = drafted(frames)
    assert found is not None
    assert found.table["pattern"].startswith("X;(?P<value>") is plainer


def test_a_check_is_demanded_though_without_it_more_would_be_read() -> None:
    hurt = lines(lambda at, s: with_check(body(s)).replace(b".5", b".7") if at % 4 == 0 else with_check(body(s)))
    found = drafted(hurt)
    assert found is not None
    assert found.table["checksum"] == {"kind": "xor", "spelled": "hex"}


LIKELY, UNSURE = Sure.LIKELY, Sure.UNSURE
BACK = "seem to send the last digit first"
FORTH = "may send the last digit first"


@pytest.mark.parametrize(
    ("spell", "backwards", "said", "at_most"),
    [
        (lambda _, s: f"={s.padded(7)}", False, FORTH, LIKELY),
        (lambda _, s: f"={s.padded(7)[::-1]}", True, BACK, LIKELY),
        (lambda _, s: f"* = {s.padded(7)[::-1]}", True, BACK, LIKELY),
        (lambda _, s: f"= {s.sign}{s.padded(7)}", False, FORTH, LIKELY),  # turned round it is no number
        (lambda at, _: f"={at * 919 % 1000:04d}.0", False, FORTH, UNSURE),  # as rough either way
        (lambda _, s: f"W={s.padded(7)}", None, None, None),  # no question
        (lambda _, s: f"={s.padded(7)} kg", None, None, None),
        (lambda _, s: f"W={s.padded(7)[::-1]}", True, BACK, LIKELY),  # it jumps
        (lambda at, s: f"W={s.sign}{at * 389 % 1000:04d}.0", None, None, None),  # turned round it is no number
    ],
)
def test_the_order_of_digits_is_asked_where_it_is_a_question(
    spell: Callable[[int, Shown], str], *, backwards: bool | None, said: str | None, at_most: Sure | None
) -> None:
    found = drafted(lines(lambda at, s: spell(at, s).encode()))
    assert found is not None
    assert found.table.get("backwards", False) is bool(backwards)
    assert found.hints == (("backwards = true",) if backwards is False else ())
    order = [doubt for doubt in found.doubts if "frames of = and a number" in doubt.text]
    assert [doubt.at_most for doubt in order] == ([at_most] if said else [])
    assert all(said in doubt.text for doubt in order if said)
