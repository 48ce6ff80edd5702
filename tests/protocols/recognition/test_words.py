"""Which words stand beside the weight and what they mean: as told by the shapes' descriptions (`spelling`)."""

from collections import Counter

from neckyoke.protocols.recognise import recognise
from neckyoke.protocols.recognition.finding import Word
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
