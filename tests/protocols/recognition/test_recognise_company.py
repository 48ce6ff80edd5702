"""Recognition where a device is not alone, or says more than its layout knows: never sure, and saying what it saw."""

from collections.abc import Callable

import pytest

from neckyoke.protocols.decoder import scale_decoder
from neckyoke.protocols.readings import WeightReading
from neckyoke.protocols.recognise import Kind, Sure, recognise
from neckyoke.protocols.scale.builtin import layout_from_table
from tests.protocols.spelling import SCALES, TAGS_SHORT, Code, Shown
from tests.protocols.streams import crossing, damaged, spelled


def told_apart(shown: Shown) -> bytes:
    """Spell a shape that only `auto` reads."""
    return f"{(shown.minus + shown.number).rjust(8)} {shown.unit} {'S' if shown.stable else 'U'}\r\n".encode()


def marked(shown: Shown) -> bytes:
    """Spell a shape that nothing built in reads."""
    return f"X  {(shown.minus + shown.number).rjust(8)} kg Q\r\n".encode()


SPELLED: dict[str, Callable[[Shown], bytes]] = {**SCALES, "auto": told_apart}


@pytest.mark.parametrize("name", ["auto", "weight-unit", "status-mode-weight", "sign-weight-status"])
@pytest.mark.parametrize("every", [7, 15, 60])
def test_a_reader_on_the_scales_line_is_named_however_rarely_it_speaks(name: str, every: int) -> None:
    frames = spelled(SPELLED[name], crossing(10, 20, 1))
    tag = TAGS_SHORT["fifteen"](Code(999, 112233))
    finding = recognise(b"".join(frame + tag * (number % every == 0) for number, frame in enumerate(frames)))
    assert (finding.kind, finding.layout, finding.sure) == (Kind.SCALE, name, Sure.UNSURE)
    assert any("999000000112233" in doubt and "two devices" in doubt for doubt in finding.doubts)


def test_a_scale_on_the_readers_line_is_named() -> None:
    tags = [TAGS_SHORT["fifteen"](Code(999, number)) for number in range(60)]
    weights = spelled(SCALES["weight-unit"], crossing(10, 20, 1))
    finding = recognise(b"".join(tag * 3 + weight for tag, weight in zip(tags, weights, strict=False)))
    assert (finding.kind, finding.sure) == (Kind.READER, Sure.UNSURE)
    assert any("two devices" in doubt for doubt in finding.doubts)


@pytest.mark.parametrize("name", ["auto", "weight-unit", "sign-weight-flags"])
@pytest.mark.parametrize(("every", "other"), [(4, b"LOW BATTERY"), (25, b"SET POINT 1 REACHED")])
def test_what_comes_again_and_again_unread_is_quoted(name: str, every: int, other: bytes) -> None:
    frames = spelled(SPELLED[name], crossing(10, 20, 1))
    stream = b"".join(frame + (other + b"\r\n") * (at % every == 0) for at, frame in enumerate(frames))
    finding = recognise(stream)
    assert (finding.layout, finding.sure) == (name, Sure.LIKELY)
    assert any(repr(other.decode()) in doubt for doubt in finding.doubts)


def test_an_alarm_with_a_number_in_it_is_no_weight() -> None:
    shows = list(crossing(10, 20, 1))
    for name, spell in {**SPELLED, "unknown": marked}.items():
        alarm = b"LOW BATTERY -- CHARGE SOON -- 12\r\n"
        data = b"".join(spell(show) + alarm * (at % 4 == 0) for at, show in enumerate(shows))
        finding = recognise(data)
        beside = b"\x02" in data or name == "print-block"  # it stands outside all frames, or is a print's heading
        assert finding.sure is not Sure.SURE or beside
        if finding.layout is None:
            continue
        own = {"own": layout_from_table("own", finding.table)} if finding.table else {}
        read = [one for one in scale_decoder(finding.layout, None, own).feed(data) if isinstance(one, WeightReading)]
        assert 0.8 * len(shows) < len(read) <= len(shows), name


@pytest.mark.parametrize("name", ["weight-unit", "status-mode-weight", "print-block", "weight-xor"])
def test_damage_is_not_taken_for_a_stranger(name: str) -> None:
    for seed in range(3):
        finding = recognise(damaged(b"".join(spelled(SCALES[name], crossing(10, 20, seed))), 0.005, seed))
        assert (finding.layout, finding.sure, finding.doubts) == (name, Sure.SURE, ())
