"""Which words stand beside the weight and what they mean: as told by the shapes' descriptions (`spelling`)."""

from collections import Counter

import pytest

from neckyoke.protocols.readings import Condition, Mode, Reject, RejectReason, WeightReading
from neckyoke.protocols.recognise import recognise
from neckyoke.protocols.recognition.candidates import Trial
from neckyoke.protocols.recognition.finding import Part, Word
from neckyoke.protocols.recognition.words import find_parts, find_words
from neckyoke.protocols.scale.builtin import layout_from_table
from neckyoke.protocols.scale.layout import Layout
from tests.protocols.spelling import SCALES, Shown
from tests.protocols.streams import crossing, spelled

SHOWS = list(crossing(10, 20, 1))
STABLE = Counter(shown.stable for shown in SHOWS[1:])
"""The first frame may have begun before we listened where only an end is marked; it shows nought and is stable."""


def test_words_of_a_layout_are_listed_by_their_place() -> None:
    finding = recognise(b"".join(spelled(SCALES["status-mode-weight"], iter(SHOWS))))
    assert finding.words == (
        Word("mode", "GS", "gross", len(SHOWS) - 1),
        Word("status", "ST", "stable", STABLE[True]),
        Word("status", "US", "moving", STABLE[False]),
    )


def test_a_place_left_blank_is_a_word_too() -> None:
    finding = recognise(b"".join(spelled(SCALES["weight-unit-mark"], iter(SHOWS))))
    assert finding.words == (Word("status", "", "stable", STABLE[True]), Word("status", "?", "moving", STABLE[False]))


def test_words_of_the_free_form_layout_are_listed_and_the_unit_is_none() -> None:
    def spell(shown: Shown) -> bytes:
        return f"{'S' if shown.stable else 'U'} wt {shown.minus}{shown.number} kg N\r\n".encode()

    finding = recognise(b"".join(spelled(spell, iter(SHOWS))))
    assert finding.layout == "auto"
    assert set(finding.words) == {
        Word("word", "S", "stable", STABLE[True]),
        Word("word", "U", "moving", STABLE[False]),
        Word("word", "N", "net", len(SHOWS) - 1),
        Word("word", "wt", "ignored", len(SHOWS) - 1),
    }


def test_words_of_a_draft_are_listed_with_what_they_seem_to_mean() -> None:
    def spell(shown: Shown) -> bytes:
        return f"{'CALM' if shown.stable else 'BUSY'} {(shown.minus + shown.number).rjust(8)}kg\r\n".encode()

    finding = recognise(b"".join(spelled(spell, iter(SHOWS))))
    assert finding.words == (
        Word("status", "CALM", "stable", STABLE[True]),
        Word("status", "BUSY", "moving", STABLE[False]),
    )


def of(frames: list[tuple[bytes, WeightReading]], layout: Layout | None = None) -> Trial:
    """Say that some frames were read so."""
    return Trial("own", tuple(frames), layout.pattern if layout else None, layout=layout)


def said(*, stable: bool | None = None, mode: Mode | None = None, condition: Condition = Condition.OK) -> WeightReading:
    return WeightReading(412.5, "412.5", stable=stable, mode=mode, condition=condition)


CALM, BUSY = said(stable=True), said(stable=False)


@pytest.mark.parametrize(
    ("frames", "meanings"),
    [
        ([(b"QQ 412.5", CALM), (b"412.5", BUSY)], {"QQ": "stable"}),
        ([(b"QQ 412.5", BUSY), (b"412.5", CALM)], {"QQ": "moving"}),
        ([(b"QQ 412.5", CALM), (b"QQ 412.5", BUSY)], {"QQ": "ignored"}),  # it says either
        ([(b"QQ 412.5", CALM), (b"412.5", CALM)], {"QQ": "ignored"}),  # all say it
        ([(b"QQ 412.5", said()), (b"412.5", CALM)], {"QQ": "ignored"}),
        ([(b"QQ 412.5", CALM), (b"QQ 412.5", said()), (b"412.5", BUSY)], {"QQ": "ignored"}),
        ([(b"QQ 412.5", said(mode=Mode.NET)), (b"412.5", said(mode=Mode.GROSS))], {"QQ": "net"}),
        ([(b"QQ 412.5", said(mode=Mode.NET)), (b"412.5", said())], {"QQ": "net"}),
        ([(b"QQ 412.5", said(mode=Mode.NET)), (b"QQ 412.5", said(mode=Mode.GROSS))], {"QQ": "ignored"}),
        ([(b"QQ 412.5", said()), (b"412.5", said(mode=Mode.GROSS))], {"QQ": "ignored"}),
        ([(b"QQ 412.5", said(stable=True, mode=Mode.NET)), (b"412.5", BUSY)], {"QQ": "stable, net"}),
        (
            [(b"QQ 412.5", said(stable=True, mode=Mode.NET)), (b"412.5", said(stable=False, mode=Mode.NET))],
            {"QQ": "stable"},
        ),
        ([(b"QQ", said(condition=Condition.OVERLOAD)), (b"412.5", said())], {"QQ": "overload"}),
        ([(b"QQ", said(condition=Condition.OVERLOAD)), (b"QQ", said())], {"QQ": "ignored"}),
        ([(b"OL", said(condition=Condition.OVERLOAD)), (b"QQ 412.5", said())], {"OL": "overload", "QQ": "ignored"}),
        ([(b"QQ ST 412.5 *", CALM), (b"412.5", BUSY)], {"QQ": "stable", "ST": "stable", "*": "stable"}),
        ([(b"gross 412.5", CALM), (b"412.5", BUSY)], {"gross": "gross"}),  # a word the trade knows
        ([(b"QQ 412.5 kg", said()), (b"412.5 LB QQ QQ", said())], {"QQ": "ignored", "LB": "ignored"}),  # not its unit
        ([(b"412.5", said())], {}),
    ],
)
def test_an_unknown_word_means_what_all_frames_that_have_it_say_and_not_all_others(
    frames: list[tuple[bytes, WeightReading]], meanings: dict[str, str]
) -> None:
    words = find_words(of(frames))
    assert {word.text: word.meaning for word in words} == meanings
    for word in words:
        assert word.where == "word"
        assert word.frames == sum(word.text.encode() in frame for frame, _ in frames)


TABLE = {
    "pattern": r"(?P<one>.)(?P<sign>[-+ ])(?P<value>[0-9.]{5})(?P<two>..)?(?P<unit>kg|lb)",
    "tokens": {
        "one": {"stable": ["S"], "moving": [" "], "ignored": ["\xa7"]},
        "two": {"net": ["N "], "gross": ["G", ""]},
        "moving": ["M"],
    },
}


def test_words_of_a_layout_mean_what_its_tables_say() -> None:
    layout = layout_from_table("own", TABLE)
    frames = [b"S+412.5N kg", b"S 412.5Nkg", b" -412.5  kg", b"\xa7 412.5kg", b"M 412.5G kg", b"X 412.5G kg"]
    words = find_words(of([(frame, said()) for frame in frames if layout.pattern.fullmatch(frame)], layout))
    assert set(words) == {
        Word("one", "S", "stable", 1),
        Word("one", "", "moving", 1),
        Word("one", "\xa7", "ignored", 1),
        Word("one", "M", "moving", 1),
        Word("one", "X", "ignored", 1),
        Word("two", "N", "ignored", 1),
        Word("two", "", "gross", 1),
        Word("two", "G", "gross", 2),
    }
    assert [word.where for word in words] == ["one"] * 5 + ["two"] * 3


def test_the_commonest_words_are_listed_first_and_no_more_than_two_dozen() -> None:
    names = [chr(65 + at // 26) + chr(65 + at % 26) for at in range(30)]
    frames = [(f"{name} 412.5".encode(), said()) for at, name in enumerate(names) for _ in range(40 - at)]
    words = find_words(of(frames))
    assert [(word.text, word.frames) for word in words] == [(name, 40 - at) for at, name in enumerate(names[:24])]


def test_only_frames_that_were_read_have_words() -> None:
    assert find_words(Trial("own", ((b"QQ 412.5", Reject(RejectReason.WRONG_SHAPE, b"QQ 412.5")),))) == ()


def test_parts_are_where_they_stand_in_the_commonest_frame() -> None:
    layout = layout_from_table("own", TABLE)
    frames = [(b"S-412.5G kg", said()), (b"\xa7-412.5lb", said()), (b"\xa7-412.5lb", said())]
    assert find_parts(of(frames, layout)) == (
        Part("one", 0, 1, "\xa7"),
        Part("sign", 1, 2, "-"),
        Part("value", 2, 7, "412.5"),
        Part("unit", 7, 9, "lb"),
    )
    assert find_parts(of([], layout)) == ()
    assert find_parts(of(frames)) == ()  # of a reader's line there are none
