"""What is said of a draft beside what the best decoder reads: outcomes made and shares counted by hand."""

from collections.abc import Iterable, Iterator
from dataclasses import replace

import pytest

from neckyoke.protocols.readings import Outcome, Reject, RejectReason, TagRead, WeightReading
from neckyoke.protocols.recognition.candidates import Trial
from neckyoke.protocols.recognition.doubts import NO_POINT
from neckyoke.protocols.recognition.drafting.draft import BRACKETS
from neckyoke.protocols.recognition.drafting.proposal import further, propose, unknown, with_decimals
from neckyoke.protocols.recognition.finding import Finding, Kind, Sure
from neckyoke.protocols.tagcode import TagCode
from tests.protocols.spelling import Shown
from tests.protocols.streams import crossing


def shows() -> Iterator[Shown]:
    """Show animals on a scale that does not return to nought: 200 times."""
    for at, shown in enumerate(crossing(10, 20, 1)):
        yield replace(shown, tenths=-15, stable=True) if at % 80 < 12 and shown.tenths == 0 else shown


SHOWS = list(shows())
FRAMES = [f"{'ST' if s.stable else 'US'} {s.minus + s.number:>8} kg Q".encode() for s in SHOWS]


def joined(frames: Iterable[bytes]) -> bytes:
    """Send frames; the first end is that of one that began before we listened."""
    return b"kg Q\r\n" + b"".join(frame + b"\r\n" for frame in frames)


def refused(frame: bytes) -> Reject:
    return Reject(RejectReason.WRONG_SHAPE, frame)


def best(
    unread: int = 0,
    *,
    off: int = 0,
    said: str = "so",
    otherwise: int = 0,
    frames: list[bytes] = FRAMES,
    name: str = "weight-unit",
    per: float = 10.0,
) -> Trial:
    """Read the frames but for the first so many; so many of the last otherwise; the stable mark so, or never."""
    found = list[tuple[bytes, Outcome]]()
    for at, (frame, shown) in enumerate(zip(frames, SHOWS, strict=True)):
        left = len(SHOWS) - at
        stable = None if said == "never" else shown.stable if left > otherwise else not shown.stable
        reading = WeightReading(shown.tenths / per + (left <= off), shown.number, stable=stable)
        found.append((frame, refused(frame) if at < unread else reading))
    return Trial(name, tuple(found))


def test_what_nothing_reads_is_unknown_and_counted() -> None:
    some = [(b"a", refused(b"a"))] * 6 + [(b"b", WeightReading(1.0)), (b"c", WeightReading(1.0))] * 2
    finding = unknown([b"x"] * 16, Trial("weight", tuple(some)))
    assert (finding.kind, finding.sure, finding.layout) == (Kind.UNKNOWN, Sure.UNSURE, None)
    assert finding.why == ("16 frames came; the nearest layout, weight, reads 4 of them.",)
    assert (finding.frames, finding.fit, finding.example) == (16, 0.25, b"b")
    assert finding.doubts == (
        "Check baud rate and parity; send a sample to the maintainers, or write a layout (DEVELOPERS.md).",
    )
    finding = unknown([b"x"], Trial("weight", tuple(some[5:])))
    assert (finding.frames, finding.fit) == (5, 0.8)
    finding = unknown([b"(1.5)"] * 4, Trial("weight", tuple(some[:2])))
    assert finding.why == ("4 frames came, and no layout reads any of them.",)
    assert (finding.frames, finding.fit, finding.example) == (4, 0.0, b"(1.5)")
    assert finding.doubts[0] == BRACKETS
    assert len(finding.doubts) == 2
    assert unknown([], Trial("weight", tuple(some[:2]))).example == b""


@pytest.mark.parametrize(
    ("tried", "taken"),
    [
        (best(10), True),  # a twentieth more
        (best(9), False),
        (best(60), True),
        (best(60, off=4), True),  # a fiftieth read otherwise: damage
        (best(60, off=5), False),
        (best(60, otherwise=4), True),
        (best(60, otherwise=5), False),
        (best(60, said="never"), True),  # it says nothing against it
        (best(0), False),
    ],
)
def test_a_draft_that_reads_more_and_the_rest_as_before_is_taken(tried: Trial, *, taken: bool) -> None:
    finding = further(joined(FRAMES), FRAMES, [tried])
    assert (finding is not None) is taken
    if finding is not None:
        assert (finding.kind, finding.layout, finding.sure, finding.frames, finding.fit) == (
            Kind.SCALE,
            "own",
            Sure.LIKELY,
            200,
            1.0,
        )
        assert finding.why == ("A layout drafted from the frames reads 100% of 200.",)


@pytest.mark.parametrize(
    ("word", "taken"),
    [(b"ST", True), (b"st", True), (b"NT", True), (b"LO", False), (b"Z-", True), (b"4 ", True)],
)
def test_what_only_the_draft_reads_may_say_nothing_new(word: bytes, *, taken: bool) -> None:
    """A word that the frames read before had not, and nobody knows, may be an alarm's; one letter is none."""
    frames = [word + frame[2:] if at < 60 else frame for at, frame in enumerate(FRAMES)]
    finding = further(joined(frames), frames, [best(60, frames=frames)])
    assert (finding is not None) is taken


def test_without_a_draft_there_is_nothing_further() -> None:
    bracketed = [frame.replace(b"kg", b"(12)") for frame in FRAMES]
    assert further(joined(bracketed), bracketed, [best(60, frames=bracketed)]) is None
    assert propose(joined(bracketed), bracketed, [], None) is None


def test_a_reader_beside_a_drafted_scale_is_named() -> None:
    tag = b"999000000112233"
    tags = Trial("tags", ((tag, TagRead(TagCode(999, 112233))),) * 3)
    silent = Trial("tags", ((tag, refused(tag)),) * 3)
    finding = propose(joined(FRAMES), FRAMES, [silent], None)
    assert finding is not None
    assert (finding.sure, [doubt for doubt in finding.doubts if "two devices" in doubt]) == (Sure.LIKELY, [])
    both = propose(joined(FRAMES), FRAMES, [silent, tags], None)
    assert both is not None
    assert (both.sure, both.doubts[:-1]) == (Sure.UNSURE, finding.doubts)
    assert both.doubts[-1].startswith("3 frames are tag codes, the first 999000000112233: two devices")
    more = further(joined(FRAMES), FRAMES, [best(60), tags])
    assert more is not None
    assert more.sure is Sure.UNSURE


def test_weights_far_below_nought_are_doubted() -> None:
    for low, so in ((0, False), (9, False), (20, True)):  # more than a twentieth
        frames = [frame.replace(b"  -1.5", b"-150.5") if at < low else frame for at, frame in enumerate(FRAMES)]
        frames = [b"US   -150.5 kg Q" if at < low else frame for at, frame in enumerate(frames)]
        finding = propose(joined(frames), frames, [], None)
        assert finding is not None
        assert any("far below nought" in doubt for doubt in finding.doubts) is so


WHOLE = [f"{'ST' if s.stable else 'US'} {abs(s.tenths):8d} kg Q".encode() for s in SHOWS]
FOUND = Finding(Kind.SCALE, Sure.SURE, ("Seen.",), ("Another.", NO_POINT.text), layout="auto")


def test_to_a_built_in_layout_decimals_are_added() -> None:
    finding = with_decimals(FOUND, joined(WHOLE), WHOLE, best(frames=WHOLE))
    assert finding == replace(FOUND, layout="own", table={"like": "weight-unit"}, hints=("decimals = 1",))


def free(off: int = 0) -> Trial:
    """Read the whole numbers by the free-form layout."""
    found = list[tuple[bytes, Outcome]]()
    for at, (frame, shown) in enumerate(zip(WHOLE, SHOWS, strict=True)):
        reading = WeightReading(abs(shown.tenths) + float(at >= 200 - off), stable=shown.stable)
        found.append((frame, reading))
    return Trial("auto", tuple(found))


@pytest.mark.parametrize("off", [0, 4, 5])
def test_in_place_of_the_free_form_layout_one_is_drafted_that_reads_the_same(off: int) -> None:
    finding = with_decimals(FOUND, joined(WHOLE), WHOLE, free(off=off))
    if off > 4:
        assert finding.table is None
        return
    assert (finding.layout, finding.sure, finding.hints) == ("own", Sure.LIKELY, ("decimals = 1",))
    assert finding.table is not None
    assert finding.why == (
        "Seen.",
        "The layout below was drafted to read the same, so that decimals can be added to it.",
    )
    assert finding.doubts[-1] == "Another."
    assert finding.doubts.count(NO_POINT.text) == 1
    unsure = with_decimals(replace(FOUND, sure=Sure.UNSURE), joined(WHOLE), WHOLE, free())
    assert unsure.sure is Sure.UNSURE


@pytest.mark.parametrize(("damaged", "taken"), [(20, True), (21, False)])
def test_a_draft_that_reads_nine_tenths_of_it_is_enough(damaged: int, *, taken: bool) -> None:
    frames = [b"#" * (at % 7 + 1) if at % 9 == 4 and at < damaged * 9 else frame for at, frame in enumerate(WHOLE)]
    finding = with_decimals(FOUND, joined(frames), frames, free())
    assert (finding.table is not None) is taken


def test_where_none_can_be_drafted_decimals_are_for_a_layout_written_by_hand() -> None:
    bracketed = [frame.replace(b"Q", b"(12)") for frame in WHOLE]
    finding = with_decimals(FOUND, joined(bracketed), bracketed, free())
    assert finding.table is None
    assert finding.doubts == (
        "Another.",
        NO_POINT.text.replace("take the # from", "write a layout of your own (DEVELOPERS.md) with"),
    )
    assert replace(finding, doubts=FOUND.doubts) == FOUND
