"""Recognition: shapes, rates, units, noise; shapes nobody built in; wrong baud rates; and knowing when not to know."""

import random
import tomllib
from collections.abc import Callable
from itertools import product

import pytest

from neckyoke.protocols.decoder import scale_decoder
from neckyoke.protocols.readings import Reject, WeightReading
from neckyoke.protocols.recognise import SAMPLE, Finding, Kind, Sure, best_setting, recognise, score
from neckyoke.protocols.scale.builtin import layout_from_table
from tests.protocols.spelling import SCALES, TAGS_SHORT, TAGS_WHOLE, Code, Shown, air_hex
from tests.protocols.streams import Port, crossing, damaged, spelled, uart

Spell = Callable[[Shown], bytes]

STREAMS = [
    (name, rate, unit, noise)
    for number, (name, rate, unit, noise) in enumerate(product(SCALES, (5, 10, 25), ("kg", "lb"), (0.0, 0.005, 0.02)))
    if number % 3 == (number // 18) % 3
]
"""84 of the 252 combinations: every shape at every rate, unit and noise at least once."""


def stream(spell: Spell, rate: float = 10, unit: str = "kg", noise: float = 0.0, seed: int = 5) -> bytes:
    return damaged(b"".join(spelled(spell, crossing(rate, 20, seed, unit))), noise, seed)


def test_built_in_shapes_are_recognised_through_noise() -> None:
    right, wrong_but_sure = 0, []
    for seed, (name, rate, unit, noise) in enumerate(STREAMS):
        finding = recognise(stream(SCALES[name], rate, unit, noise, seed)[seed % 11 :])
        if finding.layout == name and finding.sure is not Sure.UNSURE:
            right += 1
        elif finding.sure is Sure.SURE:
            wrong_but_sure.append((name, rate, unit, noise, finding))
    assert len(STREAMS) >= 60
    assert not wrong_but_sure
    assert right >= 0.95 * len(STREAMS)


def test_where_things_stand_is_said() -> None:
    finding = recognise(stream(SCALES["status-mode-weight"]))
    assert finding.sure is Sure.SURE
    assert [(part.name, part.start, part.end) for part in finding.parts] == [
        ("status", 0, 2),
        ("mode", 3, 5),
        ("sign", 6, 7),
        ("value", 7, 14),
        ("unit", 14, 16),
    ]
    assert any("Stable in" in ground for ground in finding.why)
    assert finding.toml("indicator", "serial:/dev/ttyS0?baud=9600").splitlines() == [
        "[links.indicator]",
        'url = "serial:/dev/ttyS0?baud=9600"',
        'layout = "status-mode-weight"',
    ]


def status_after(shown: Shown) -> bytes:
    return f"{(shown.minus + shown.number).rjust(8)} {shown.unit}{' ' if shown.stable else '*'}\r\n".encode()


UNKNOWN: dict[str, Spell] = {
    "letters": lambda s: f"{'X' if s.stable else 'Q'} {s.sign}{s.padded(7)} {s.unit}\r\n".encode(),
    "words": lambda s: f"{'CALM' if s.stable else 'BUSY'} {(s.minus + s.number).rjust(8)}{s.unit}\r".encode(),
    "mark-behind": status_after,
    "address": lambda s: f"01 {'S' if s.stable else 'U'} {s.sign}{s.padded(7)} {s.unit}\r\n".encode(),
    "comma": lambda s: f"{s.minus}{s.number.replace('.', ',')} {s.unit}{'' if s.stable else '*'}\r\n".encode(),
    "nibbles": lambda s: f"{s.sign}{s.padded(7)} {0 if s.stable else 1:04X}\r\n".encode(),
    "backwards": lambda s: f"={(s.minus + s.padded(7))[::-1]}\r\n".encode(),
    "unmarked": lambda s: f"={s.sign}{s.padded(7)}".encode(),
}


@pytest.mark.parametrize("name", sorted(UNKNOWN))
@pytest.mark.parametrize("noise", [0.0, 0.01])
def test_shapes_nobody_built_in_are_drafted_and_never_called_sure(name: str, noise: float) -> None:
    finding = recognise(stream(UNKNOWN[name], noise=noise))
    assert (finding.kind, finding.sure) == (Kind.SCALE, Sure.LIKELY)
    assert finding.doubts
    table = tomllib.loads(finding.toml("indicator", "tcp://127.0.0.1:4001"))["layouts"]["own"]
    decoder = scale_decoder("own", None, {"own": layout_from_table("own", table)})
    shows = list(crossing(10, 20, 77))
    outcomes = decoder.feed(b"".join(spelled(UNKNOWN[name], iter(shows))))
    readings = [outcome for outcome in outcomes if isinstance(outcome, WeightReading)]
    assert [reading.kg for reading in readings] == [
        abs(s.tenths) / 10 if "-" not in f"{UNKNOWN[name](s)!r}" else s.tenths / 10 for s in shows
    ]
    if name not in {"unmarked", "backwards"}:
        assert [reading.stable for reading in readings] == [show.stable for show in shows]


def gross_and_net(shown: Shown) -> bytes:
    return f"G {shown.number} kg\r\nN {shown.number} kg\r\n".encode()


MISLEADING: dict[str, Spell] = {
    "moving-called-stable": lambda s: f"{'D' if s.stable else 'S'}  {s.padded(7, ' ')} {s.unit}\r\n".encode(),
    "digits-shuffled": lambda s: f"W={s.padded(7)[::-1]}\r\n".encode(),
    "no-point": lambda s: f"{s.sign}{abs(s.tenths):06} {s.unit}\r\n".encode(),
    "always-stable": lambda s: f"ST,{s.sign}{s.padded(7)}{s.unit}\r\n".encode(),
    "gross-and-net-in-turn": gross_and_net,
    "three-numbers": lambda s: f"{s.padded(8, ' ')}{Shown(s.tenths - 105).padded(8, ' ')}\r\n".encode(),
    "clock": lambda s: f"12:30:{abs(s.tenths) % 60:02} {s.padded(7)} kg\r\n".encode(),
    "two-numbers": lambda s: f"G{s.padded(9, ' ')}kg N{Shown(s.tenths - 105).padded(9, ' ')}kg\r\n".encode(),
    "equals": lambda s: f"={s.padded(7)[::-1]}\r\n".encode(),
    "equals-forwards": lambda s: f"={s.padded(7)}\r\n".encode(),
    "check-behind": lambda s: f"\x02S{s.sign}{s.padded(7)}\x03{sum(s.padded(7).encode()) % 97:02}\r\n".encode(),
    "check-at-the-end": lambda s: f"S{s.sign}{s.padded(7)}kg{sum(s.padded(7).encode()) * 7 % 256:02X}\r\n".encode(),
    "brackets": lambda s: f"{'(' + s.number + ')' if s.stable else ' ' + s.number + ' '} kg\r\n".encode(),
    "minus-behind": lambda s: f"{Shown(s.tenths - 300).padded(7)}{'-' if s.tenths < 300 else ' '} kg\r\n".encode(),
    "thousands": lambda s: f"{abs(s.tenths) + 6000:9,} lb\r\n".encode(),
    "thousands-letter": lambda s: f"{'S' if s.stable else 'D'}  {abs(s.tenths) + 1000:,} lb\r\n".encode(),
    "thousands-words": lambda s: f"{'ST' if s.stable else 'US'},GS,+ {abs(s.tenths) + 1000:,}lb\r\n".encode(),
    "never-changes": lambda _: b"ST,GS,+00000.0kg\r\n",
}


@pytest.mark.parametrize("name", sorted(MISLEADING))
@pytest.mark.parametrize("noise", [0.0, 0.01, 0.02])
def test_what_the_bytes_cannot_tell_is_never_called_sure(name: str, noise: float) -> None:
    finding = recognise(stream(MISLEADING[name], noise=noise))
    assert finding.sure is not Sure.SURE
    assert finding.doubts


@pytest.mark.parametrize("seed", [49, 54, 55])
def test_digits_in_another_order_are_noticed_by_how_smooth_they_are_turned_round(seed: int) -> None:
    finding = recognise(stream(MISLEADING["digits-shuffled"], (5, 10, 25)[(seed - 40) % 3], seed=seed))
    assert finding.sure is Sure.UNSURE
    assert any("another order" in doubt for doubt in finding.doubts)


def test_noise_silence_and_mixtures_are_unsure() -> None:
    noise = random.Random(1)
    mixture = zip(
        spelled(SCALES["status-mode-weight"], crossing(10, 20, 1)),
        spelled(SCALES["weight-unit"], crossing(10, 20, 2)),
        strict=True,
    )
    samples = [b"", b"\x00" * 500, b"5" * 3000, b"".join(frame for pair in mixture for frame in pair)]
    samples += [noise.randbytes(5000) for _ in range(20)]
    for sample in samples:
        finding = recognise(sample)
        assert finding.sure is Sure.UNSURE
        assert finding.doubts


@pytest.mark.parametrize("other", ["weight-unit", "fifteen"])
def test_a_second_device_on_the_line_is_noticed(other: str) -> None:
    frames = spelled(SCALES["status-mode-weight"], crossing(10, 20, 1))
    second = SCALES["weight-unit"](Shown(4125)) if other == "weight-unit" else TAGS_SHORT["fifteen"](Code(999, 7))
    finding = recognise(b"".join(frame + (second if number % 5 == 0 else b"") for number, frame in enumerate(frames)))
    assert (finding.layout, finding.sure) == ("status-mode-weight", Sure.UNSURE)
    assert any("two devices" in doubt for doubt in finding.doubts)


def test_an_order_of_digits_that_does_not_show_is_said() -> None:
    finding = recognise(b"1234567890ABCDEF\r\n" * 8)
    assert (finding.kind, finding.sure) == (Kind.READER, Sure.UNSURE)
    assert any("order" in doubt for doubt in finding.doubts)


def test_few_frames_are_not_enough_to_be_sure() -> None:
    finding = recognise(b"".join(spelled(SCALES["status-mode-weight"], crossing(5, 3, 1))))
    assert (finding.layout, finding.sure) == ("status-mode-weight", Sure.LIKELY)


@pytest.mark.parametrize("name", sorted(TAGS_SHORT | TAGS_WHOLE))
def test_readers_are_recognised(name: str) -> None:
    noise = random.Random(2)
    spell = (TAGS_SHORT | TAGS_WHOLE)[name]
    finding = recognise(b"".join(spell(Code(999, noise.randrange(2**30))) for _ in range(12)))
    assert (finding.kind, finding.sure) == (Kind.READER, Sure.SURE)
    assert finding.hex_order == ("value" if name.startswith("hex") else None)
    assert "layout" not in finding.toml("panel", "tcp://127.0.0.1:4002")


def test_the_order_of_a_readers_hexadecimal_digits_is_found() -> None:
    noise = random.Random(3)
    lines = [air_hex(Code(826, noise.randrange(2**37))).encode() + b"\r\n" for _ in range(8)]
    finding = recognise(b"".join(lines))
    assert (finding.kind, finding.sure, finding.hex_order) == (Kind.READER, Sure.SURE, "air")
    assert 'hex_order = "air"' in finding.toml("panel", "tcp://127.0.0.1:4002")
    assert finding.why[-1] == "Its 16 hexadecimal digits make ordinary codes in air order (100% of them)."


def test_parity_seen_through_eight_bits_is_found_and_written_down() -> None:
    plain = stream(SCALES["status-mode-weight"])
    even = bytes(byte | (0x80 if byte.bit_count() % 2 else 0) for byte in plain)
    for parity, raw in (
        ("even", even),
        ("odd", bytes(b ^ 0x80 for b in even)),
        ("mark", bytes(b | 0x80 for b in plain)),
    ):
        finding = recognise(raw)
        assert (finding.sure, finding.parity) == (Sure.SURE, parity)
        table = tomllib.loads(finding.toml("indicator", "tcp://127.0.0.1:4001"))["layouts"]["own"]
        outcomes = scale_decoder("own", None, {"own": layout_from_table("own", table)}).feed(raw)
        assert not [outcome for outcome in outcomes if isinstance(outcome, Reject)]


BAUDS = (1200, 2400, 4800, 9600, 19200, 38400)
SENDERS = (Port(9600), Port(2400), Port(4800, 7, "E"), Port(19200, 7, "O"))


@pytest.mark.parametrize(
    "sender", [Port(9600), Port(2400), Port(4800, 7, "E"), Port(19200, 7, "O")], ids=lambda p: p.name
)
@pytest.mark.parametrize("name", ["status-mode-weight", "weight-unit", "sign-weight-status"])
def test_the_baud_rate_is_chosen_from_what_each_would_deliver(name: str, sender: Port) -> None:
    """Streams resampled by a receiver at each rate: see `streams.uart`."""
    frames = spelled(SCALES[name], crossing(10, 12, 3))
    choice = best_setting({str(baud): uart(frames, sender, Port(baud)) for baud in BAUDS})
    assert choice.setting == str(sender.baud)
    assert choice.finding.parity == {"N": None, "E": "even", "O": "odd"}[sender.parity]
    assert choice.finding.layout == (name if sender.parity == "N" else "own")
    others = [value for setting, value in choice.scores.items() if setting != choice.setting]
    assert max(others) < 0.5 < choice.scores[str(sender.baud)]


def test_of_wrong_settings_only_none_is_chosen() -> None:
    frames = spelled(SCALES["status-mode-weight"], crossing(10, 12, 3))
    samples = {str(baud): uart(frames, Port(9600), Port(baud)) for baud in BAUDS if baud != 9600}
    assert best_setting(samples).setting is None
    assert best_setting({}).setting is None


def test_of_two_settings_that_read_as_well_none_is_chosen_unless_they_say_the_same() -> None:
    first, second = stream(SCALES["status-mode-weight"]), stream(SCALES["weight-unit"])
    choice = best_setting({"9600": first, "4800": second})
    assert (choice.setting, choice.finding.sure) == (None, Sure.UNSURE)
    assert best_setting({"9600": second, "4800": second}).setting == "9600"
    assert best_setting({"9600": second, "4800": b"\x00" * 500}).setting == "9600"


def test_a_score_lies_between_nothing_and_one() -> None:
    assert score(b"") == 0.0
    assert 0.8 < score(stream(SCALES["weight-unit"])) <= 1.0
    assert score(random.Random(1).randbytes(4000)) < 0.3


def test_no_more_than_a_sample_is_looked_at() -> None:
    sample = stream(SCALES["weight-unit"], 25) * 5
    assert len(sample) > SAMPLE
    assert recognise(sample[:SAMPLE] + b"\x00?" * 20_000) == recognise(sample[:SAMPLE])
    assert score(sample[:SAMPLE] + b"\x00?" * 20_000) == score(sample[:SAMPLE])


def test_findings_are_values() -> None:
    sample = stream(SCALES["weight-unit"])
    first, second = recognise(sample), recognise(sample)
    assert isinstance(first, Finding)
    assert first == second


def test_lines_without_any_number_are_nothing_and_no_trouble() -> None:
    assert recognise(b"\x01\x01\n\x01\n" * 10).table is None
