"""A link's decoder: joined in mid-stream, kept small, and fed what should not come."""

import random
import tracemalloc
from collections.abc import Callable

import pytest

from neckyoke.protocols.decoder import Decoder, LayoutError, scale_decoder, tag_decoder
from neckyoke.protocols.readings import FRAME_KEPT, Reject, RejectReason, TagRead, WeightReading
from neckyoke.protocols.scale import ble
from neckyoke.protocols.scale.builtin import BUILT_IN, layout_from_table
from tests.protocols.spelling import SCALES, TAGS_SHORT, Code, Shown


def weights(decoder: Decoder, data: bytes) -> list[float | None]:
    return [outcome.kg for outcome in decoder.feed(data) if isinstance(outcome, WeightReading)]


@pytest.mark.parametrize("name", ["auto", *BUILT_IN])
def test_a_scale_joined_in_mid_frame_gives_no_wrong_weight(name: str) -> None:
    """The tail of +00500.0kg is 00.0kg, a whole frame to look at."""
    spell = SCALES.get(name, SCALES["weight"])
    for shown in (Shown(5000), Shown(-5000), Shown(5000, stable=False)):
        frame = spell(shown)
        for place in range(1, len(frame)):
            decoder = scale_decoder(name)
            decoder.feed(frame)
            decoder.reset()
            outcomes = decoder.feed(frame[place:] + 2 * spell(Shown(4000)))
            read = {outcome.kg for outcome in outcomes if isinstance(outcome, WeightReading)}
            assert read <= {400.0}, frame[place:]
            assert not [outcome for outcome in outcomes if isinstance(outcome, Reject)], frame[place:]


def test_a_fresh_decoder_trusts_its_first_frame_and_a_started_one_is_always_trusted() -> None:
    assert weights(scale_decoder(), b"500.0 kg\r\n") == [500.0]
    decoder = scale_decoder()
    decoder.reset()
    assert weights(decoder, b"\x02500.0 kg\x03") == [500.0]
    decoder.reset()
    assert weights(decoder, b"500.0 kg\r\n400.0 kg\r\n") == [400.0]


@pytest.mark.parametrize("name", sorted(TAGS_SHORT))
def test_a_reader_joined_between_reads_loses_none(name: str) -> None:
    decoder = tag_decoder()
    decoder.reset()
    (read,) = decoder.feed(TAGS_SHORT[name](Code(999, 112233)))
    assert isinstance(read, TagRead)
    assert str(read.code) == "999000000112233"


def test_two_devices_mixed_on_one_line_are_counted_and_harm_no_frame_beside_them() -> None:
    scale = [SCALES["status-mode-weight"](Shown(tenths)) for tenths in range(4000, 4040)]
    tags = [TAGS_SHORT["fifteen"](Code(999, number)) for number in range(40)]
    stream = b"".join(frame for pair in zip(scale, tags, strict=True) for frame in pair)
    outcomes = scale_decoder().feed(stream)
    assert [outcome.kg for outcome in outcomes if isinstance(outcome, WeightReading)] == [
        tenths / 10 for tenths in range(4000, 4040)
    ]
    rejects = [outcome.reason for outcome in outcomes if isinstance(outcome, Reject)]
    assert rejects == [RejectReason.OUT_OF_RANGE] * 40


def test_garbage_between_frames_costs_only_itself() -> None:
    noise = random.Random(5)
    good = 0
    decoder = scale_decoder("status-mode-weight")
    for _ in range(200):
        garbage = bytes(noise.choices(range(256), k=noise.randrange(60)))
        outcomes = decoder.feed(garbage + b"\r\n" + SCALES["status-mode-weight"](Shown(4125)))
        good += [outcome.kg for outcome in outcomes if isinstance(outcome, WeightReading)] == [412.5]
    assert good == 200


@pytest.mark.parametrize("make", [scale_decoder, tag_decoder])
def test_memory_is_bounded_whatever_comes(make: Callable[[], Decoder]) -> None:
    decoder = make()
    noise = random.Random(7)
    lines = b"".join(b"%d kg\r\n" % noise.randrange(10**6) for _ in range(20_000))
    for piece in (b"5" * 1_000_000, b"\n", lines, noise.randbytes(300_000)):
        decoder.feed(piece)
    tracemalloc.start()
    try:
        for _ in range(50):
            decoder.feed(b"\x02" + b"5" * 20_000)
        held, _ = tracemalloc.get_traced_memory()
    finally:
        tracemalloc.stop()
    assert held < 100_000


def test_a_megabyte_without_an_end_is_one_reject_with_a_little_of_it() -> None:
    decoder = scale_decoder()
    outcomes = [outcome for _ in range(100) for outcome in decoder.feed(b"5" * 10_000)]
    assert outcomes == [Reject(RejectReason.TOO_LONG, b"5" * FRAME_KEPT)]
    assert weights(decoder, b"\r\n12.5 kg\r\n") == [12.5]


def test_a_device_that_changes_its_format_in_mid_stream_is_named_and_read_again() -> None:
    decoder = scale_decoder("status-mode-weight")
    other = SCALES["weight-unit"](Shown(4125)) * 3
    outcomes = decoder.feed(SCALES["status-mode-weight"](Shown(4125)) + other + SCALES["status-mode-weight"](Shown(5)))
    assert [getattr(outcome, "reason", None) for outcome in outcomes] == [None, *["wrong-shape"] * 3, None]


def test_frames_of_fixed_length_from_a_reader_are_found_by_stx_and_code_among_others() -> None:
    frame = b"\x02999000000112233"
    decoder = tag_decoder("fixed:16")
    outcomes = decoder.feed(b"7" + frame + b"\x02not a code 1234" + frame + b"0999000000112234" + frame)
    read = [str(outcome.code) for outcome in outcomes if isinstance(outcome, TagRead)]

    assert read == ["999000000112233"] * 3  # and not the sixteen digits without STX


@pytest.mark.parametrize("layout", ["weight-unit", "weight"])
def test_a_link_may_not_cut_a_layout_to_a_length_that_would_not_be_found_again(layout: str) -> None:
    with pytest.raises(LayoutError, match="needs a pattern that begins with one fixed character"):
        scale_decoder(layout, "fixed:12")


def test_the_free_form_layout_has_no_fixed_length() -> None:
    with pytest.raises(LayoutError, match="needs a layout of its own"):
        scale_decoder("auto", "fixed:12")


def test_a_unit_that_was_named_is_in_force_until_the_link_is_opened_again() -> None:
    decoder = scale_decoder()
    decoder.feed(b"10 lb\r\n")
    pound = pytest.approx(0.45359237, rel=1e-15)  # exactly so many kilograms (from memory; two public parsers)
    assert weights(decoder, b"1\r\n") == [pound]
    decoder.feed(b"rubbish\r\n")
    assert weights(decoder, b"1\r\n") == [pound]
    decoder.reset()
    decoder.feed(b"\r\n")
    assert weights(decoder, b"10\r\n") == [10.0]


@pytest.mark.parametrize("line", [b"3E7000001B669\r\n", b"00 000 999 000000112233\r\n"])
def test_a_readers_first_line_that_may_be_the_end_of_a_longer_one_is_not_believed(line: bytes) -> None:
    fresh = tag_decoder()
    assert isinstance(fresh.feed(b"999000000112233\r\n")[0], TagRead)
    joined = tag_decoder()
    joined.reset()

    assert joined.feed(line) == []
    (later,) = joined.feed(b"3E7000001B669\r\n")
    assert isinstance(later, TagRead)
    assert str(later.code) == "999000000112233"


OWN = layout_from_table("own", {"pattern": "N(?P<value>[ 0-9.]{6})(?P<unit>kg|lb| {2})", "framing": "fixed:9"})


def test_a_frame_of_fixed_length_that_leaves_its_unit_blank_is_found_too() -> None:
    decoder = scale_decoder("own", layouts={"own": OWN})
    decoder.feed(b"N 412.5kg")
    assert weights(decoder, b"5N 413.0  N 413.5  ") == [413.0, 413.5]


def test_a_layout_of_ones_own_goes_before_a_built_in_one_of_that_name() -> None:
    assert weights(scale_decoder(ble.LAYOUT), b"N 412.5kg") == []
    assert weights(scale_decoder(ble.LAYOUT, layouts={ble.LAYOUT: OWN}), b"N 412.5kg") == [412.5]
    assert weights(scale_decoder("auto", layouts={"auto": OWN}), b"N 412.5kg") == [412.5]
