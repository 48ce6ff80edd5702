"""Laws of decoding: any cut of the bytes, any bytes at all, and the way back from what was spelled."""

import tomllib
from collections.abc import Callable
from functools import partial

import pytest
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from neckyoke.protocols.decoder import Decoder, scale_decoder, tag_decoder
from neckyoke.protocols.framing.framer import CAP, make_framer
from neckyoke.protocols.readings import FRAME_KEPT, KG_PER, Outcome, Reject, TagRead, WeightReading
from neckyoke.protocols.recognise import Sure, recognise, score
from neckyoke.protocols.scale.builtin import BUILT_IN, layout_from_table
from tests.protocols.spelling import SAYS_MODE, SAYS_STABLE, SCALES, TAGS_SHORT, TAGS_WHOLE, Code, Shown

OWN = {
    "fixed": layout_from_table("fixed", {"pattern": r"=(?P<value>[0-9]{6})", "framing": "fixed:7", "decimals": 1}),
    "parity": layout_from_table("parity", {"like": "status-mode-weight", "parity": "even"}),
    "tail": layout_from_table(
        "tail",
        {
            "pattern": r"(?s)(?P<value>[0-9.]{7})\x03(?P<check>.)",
            "framing": "stx-etx:1",
            "checksum": {"kind": "xor", "spelled": "byte"},
        },
    ),
    "shifted": layout_from_table("shifted", {"like": "weight-unit", "decimals": 1}),
    "mirrored": layout_from_table("mirrored", {"pattern": r" *(?P<value>[0-9.,-]+)(?P<unit>..)?", "backwards": True}),
    "spaces": layout_from_table("spaces", {"pattern": r"\s*(?P<value>.*?)\s*(?P<unit>[a-z]*)", "blank_unit": "moving"}),
    "optional": layout_from_table(
        "optional",
        {"pattern": r" *(?P<sign>[+-])? *(?P<value>[0-9.,]*)(?: (?P<unit>[a-z]*))?", "blank_unit": "moving"},
    ),
    "blank": layout_from_table("blank", {"like": "sign-weight-flags", "blank_unit": "moving", "framing": "auto"}),
    "words": layout_from_table("words", {"like": "print-block", "framing": "block:NET"}),
}
MAKERS: dict[str, Callable[[], Decoder]] = {
    "auto": scale_decoder,
    "line": partial(scale_decoder, "auto", "line"),
    "tags": tag_decoder,
    "tags-air": partial(tag_decoder, None, "air"),
    "tags-fixed": partial(tag_decoder, "fixed:30"),
    **{name: partial(scale_decoder, name) for name in BUILT_IN},
    **{name: partial(scale_decoder, name, None, OWN) for name in OWN},
}

shown = st.builds(
    Shown,
    tenths=st.integers(-9999, 99999),
    stable=st.booleans(),
    unit=st.sampled_from(["kg", "lb"]),
    mode=st.sampled_from(["gross", "net"]),
    zero=st.booleans(),
)
codes = st.builds(
    Code,
    country=st.integers(1, 999),
    national=st.integers(0, 2**38 - 1),
    animal=st.integers(0, 1),
    retag=st.integers(0, 7),
    user=st.integers(0, 31),
    reserved=st.integers(0, 63),
    block=st.integers(0, 1),
)
marks = st.sampled_from([b"\r", b"\n", b"\x02", b"\x03", b"\x00", b"\xff", b"=", b"\x0c", b"\r\n\r\n"])
frames = st.one_of(
    st.builds(lambda name, show: SCALES[name](show), st.sampled_from(sorted(SCALES)), shown),
    st.builds(lambda name, code: TAGS_SHORT[name](code), st.sampled_from(sorted(TAGS_SHORT)), codes),
    st.builds(lambda name, code: TAGS_WHOLE[name](code), st.sampled_from(sorted(TAGS_WHOLE)), codes),
    marks,
    st.binary(max_size=40),
    st.builds(lambda length: b"7" * length, st.integers(CAP - 2, CAP + 2)),
    st.builds(lambda digits: b"=" + digits.encode(), st.text("0123456789", min_size=6, max_size=6)),
)
streams = st.lists(frames, max_size=8).map(b"".join)


def cut(stream: bytes, at: list[int]) -> list[bytes]:
    places = sorted({place % (len(stream) + 1) for place in at})
    return [stream[start:end] for start, end in zip([0, *places], [*places, len(stream)], strict=True)]


@pytest.mark.parametrize("name", sorted(MAKERS))
@pytest.mark.parametrize("joined", [False, True])
@given(stream=streams, at=st.lists(st.integers(0, 2000), max_size=12))
@settings(max_examples=25, deadline=None)
def test_any_cut_of_the_bytes_gives_the_same_outcomes(name: str, joined: bool, stream: bytes, at: list[int]) -> None:  # noqa: FBT001
    whole, pieces, bytewise = MAKERS[name](), MAKERS[name](), MAKERS[name]()
    for decoder in (whole, pieces, bytewise) if joined else ():
        decoder.reset()
    expected = whole.feed(stream)
    assert [outcome for piece in cut(stream, at) for outcome in pieces.feed(piece)] == expected
    assert [outcome for byte in stream for outcome in bytewise.feed(bytes([byte]))] == expected


@pytest.mark.parametrize("name", sorted(MAKERS))
@given(data=st.lists(st.binary(max_size=200), max_size=5))
@settings(max_examples=25, deadline=None)
def test_random_bytes_give_outcomes_and_never_raise(name: str, data: list[bytes]) -> None:
    decoder = MAKERS[name]()
    for piece in data:
        for outcome in decoder.feed(piece):
            assert isinstance(outcome, WeightReading | TagRead | Reject)
            if isinstance(outcome, Reject):
                assert len(outcome.frame) <= FRAME_KEPT


def read_one(decoder: Decoder, frame: bytes) -> Outcome:
    outcomes = decoder.feed(frame)
    assert len(outcomes) == 1, (frame, outcomes)
    return outcomes[0]


def check_weight(name: str, show: Shown, reading: Outcome) -> None:
    assert isinstance(reading, WeightReading), (name, show, reading)
    unit = "kg" if name in {"weight", "sign-weight-status"} else show.unit
    assert reading.unit == unit
    assert reading.kg == pytest.approx(show.tenths / 10 * KG_PER[unit], rel=1e-15, abs=0)
    says = SAYS_STABLE.get(name)
    moving_only = says == "moving only"
    assert reading.stable == (None if says is None or (moving_only and show.stable) else show.stable)
    said_mode = name in SAYS_MODE and (show.stable or not moving_only)
    if said_mode:
        assert reading.mode == show.mode
    if name == "sign-weight-flags":
        assert reading.at_zero == show.zero


@pytest.mark.parametrize("name", sorted(SCALES))
@given(show=shown)
@settings(max_examples=60, deadline=None)
def test_a_spelled_weight_is_read_back(name: str, show: Shown) -> None:
    decoder = scale_decoder(name)
    decoder.feed(SCALES[name](Shown(0, unit=show.unit)))  # names the unit, for the shape that blanks it while moving
    check_weight(name, show, read_one(decoder, SCALES[name](show)))


FREE = sorted(
    set(SCALES) - {"weight-nibbles", "gross-tare-net", "print-block", "weight-xor", "weight-sum", "weight-crc"}
)
"""Shapes with one number and known words: what the free-form layout is for."""


@pytest.mark.parametrize("name", FREE)
@given(show=shown)
@settings(max_examples=60, deadline=None)
def test_the_free_form_layout_reads_what_has_one_number_and_known_words(name: str, show: Shown) -> None:
    decoder = scale_decoder()
    decoder.feed(SCALES[name](Shown(0, unit=show.unit)))
    reading = read_one(decoder, SCALES[name](show))
    if name == "sign-weight-flags":  # a blank means "no" only to the layout that knows the columns
        assert isinstance(reading, WeightReading)
        assert reading.stable == (None if show.stable else False)
        assert reading.at_zero == (True if show.zero else None)
        assert reading.kg == pytest.approx(show.tenths / 10 * KG_PER[show.unit], rel=1e-15, abs=0)
        return
    if name == "weight-unit-mark" and show.stable and isinstance(reading, WeightReading):
        reading = reading._replace(stable=True)  # likewise a blank mark
    check_weight(name, show, reading)


@pytest.mark.parametrize("name", sorted(TAGS_WHOLE))
@given(code=codes)
@settings(max_examples=60, deadline=None)
def test_a_code_spelled_whole_is_read_back(name: str, code: Code) -> None:
    spelled = TAGS_WHOLE[name](code)
    assume(not (name.startswith("hex") and spelled.strip()[1:].isdigit()))  # may be decimal: test_taglines
    read = read_one(tag_decoder(), spelled)
    assert isinstance(read, TagRead)
    assert {field: getattr(read.code, field) for field in code.fields} == code.fields


@pytest.mark.parametrize("name", sorted(TAGS_SHORT))
@given(code=codes)
@settings(max_examples=60, deadline=None)
def test_a_code_spelled_short_is_read_back(name: str, code: Code) -> None:
    read = read_one(tag_decoder(), TAGS_SHORT[name](code.plain))
    assert isinstance(read, TagRead)
    assert str(read.code) == code.digits
    assert {field: getattr(read.code, field) for field in code.fields} == code.plain.fields


@given(code=codes)
@settings(max_examples=60, deadline=None)
def test_air_order_is_read_back_by_setting(code: Code) -> None:
    spelled = f"{int(code.bits, 2):016X}\r\n".encode()
    read = read_one(tag_decoder(hex_order="air"), spelled)
    assert isinstance(read, TagRead)
    assert {field: getattr(read.code, field) for field in code.fields} == code.fields


@pytest.mark.parametrize("framing", ["auto", "line", "stx-etx", "stx-etx:1", "fixed:7", "block", "block:NET"])
@given(junk=st.binary(max_size=3))
@settings(max_examples=5, deadline=None)
def test_a_megabyte_without_an_end_costs_one_reject_and_constant_memory(framing: str, junk: bytes) -> None:
    framer = make_framer(framing)
    start = b"\x02" if framing.startswith("stx") else b""
    pieces = framer.feed(start + junk.translate(None, b"\r\n\x0c\x02\x03"))
    for _ in range(64):
        pieces += framer.feed(b"5" * 16384)
    assert len(pieces) == 1
    kept = sum(len(value) for value in vars(framer).values() if isinstance(value, bytes))
    assert kept <= 2 * CAP + 256  # 256: the table of the marks


@given(pieces=st.lists(st.one_of(streams, st.binary(max_size=400)), max_size=4), repeats=st.integers(1, 30))
@settings(max_examples=40, deadline=None)
def test_recognition_never_raises_and_is_sure_of_no_damage(pieces: list[bytes], repeats: int) -> None:
    sample = b"".join(pieces) * repeats
    finding = recognise(sample)
    assert 0.0 <= score(sample) <= 1.0
    if finding.table is not None:
        table = tomllib.loads(finding.toml("indicator", "tcp://127.0.0.1:4001"))["layouts"]["own"]
        assert layout_from_table("own", table) == layout_from_table("own", dict(finding.table))
    if finding.sure is Sure.SURE:
        assert finding.fit >= 0.2
        assert not finding.doubts or finding.parity
