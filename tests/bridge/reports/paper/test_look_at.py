"""Who is to be looked at, and what would settle it: every flag of the list, each weighing once, the same everywhere."""

from collections.abc import Callable

import pytest

from neckyoke.bridge.events import FLAG_TEXT, Event, Flag
from neckyoke.bridge.reports.page_report import html
from neckyoke.bridge.reports.paper.look_at import OF_DOSES, SETTLED, to_look_at
from neckyoke.bridge.reports.show import as_json, as_text
from neckyoke.bridge.reports.tally import tally

Make = Callable[..., Event]
TELLS_NOTHING_TO_SETTLE = {
    Flag.REPEAT, Flag.ALREADY_WEIGHED, Flag.TAG_ELSEWHERE, Flag.BY_PERSON, Flag.VOIDED, Flag.PAUSED, Flag.MARKED,
    Flag.WITHHELD, Flag.INTERRUPTED, Flag.ON_AT_START, Flag.CROWDED, Flag.CAME_BACK, Flag.SHORT, Flag.LEANING,
    Flag.OVERLOAD, Flag.FROZEN, Flag.ZERO_MOVED, Flag.ZERO_OFF, Flag.INDICATOR_LOST, Flag.READER_LOST,
}  # fmt: skip
"""Counted or told elsewhere; of the weight, which its grade speaks for; or always beside one that is in the list."""


def test_every_flag_is_in_the_list_or_known_to_need_nobody() -> None:
    assert {Flag(name) for name in SETTLED} == set(FLAG_TEXT) - TELLS_NOTHING_TO_SETTLE


@pytest.mark.parametrize("flag", SETTLED)
def test_who_has_the_flag_is_named_with_what_would_settle_it(event: Make, flag: str) -> None:
    what, settle = SETTLED[flag]
    (one,) = to_look_at(tally([event(7, 300.0, flags=[Flag(flag)])]))
    assert (one.what, one.settle) == (what, settle)
    assert one.told == f"1 {what}; {settle}"
    assert one.names == ["999 000000000007 (number 7)"]


def test_a_weighing_stands_in_one_line_the_most_urgent(event: Make) -> None:
    found = to_look_at(tally([event(4, 300.0, tag=None, flags=[Flag.NOT_EXPECTED, Flag.NO_TAG, Flag.TAG_ELSEWHERE])]))
    assert [(one.what, one.names) for one in found] == [("without a tag", ["number 4"])]


@pytest.mark.parametrize("flag", sorted(set(SETTLED) - set(OF_DOSES)))
def test_a_dose_is_settled_beside_whatever_else_is(event: Make, flag: str) -> None:
    """Whoever reads a tag again and says it has not said what was given."""
    day = [event(4, 300.0, flags=[Flag(flag), *map(Flag, OF_DOSES)])]
    lines = {flag, *OF_DOSES}
    assert [one.what for one in to_look_at(tally(day))] == [SETTLED[one][0] for one in SETTLED if one in lines]
    assert {name for one in to_look_at(tally(day)) for name in one.names} == {"999 000000000004 (number 4)"}
    told = as_text(tally(day)), html(tally(day))
    assert all(SETTLED[dose][0] in text for dose in OF_DOSES for text in told)


def test_a_weight_is_settled_beside_a_tag(event: Make) -> None:
    found = to_look_at(tally([event(4, None, flags=[Flag.TAG_DOUBTFUL]), event(5, 280.0, grade="poor")]))
    assert [(one.what, one.names) for one in found] == [
        ("with a doubtful tag", ["999 000000000004 (number 4)"]),
        ("with a poor weight, in no figure of weight", ["999 000000000005"]),
        ("without a weight", ["999 000000000004"]),
    ]


def test_a_flag_that_a_later_animal_took_away_is_not_in_it(event: Make) -> None:
    day = [event(1, 300.0, flags=[Flag.TAG_DOUBTFUL]), event(1, 300.0, revision=2)]
    assert to_look_at(tally(day)) == []
    assert "Look at these" not in as_text(tally(day)) + html(tally(day))
    assert as_json(tally(day))["look_at"] == []


def test_what_does_not_count_is_not_in_it(event: Make) -> None:
    day = [event(n, 300.0, tag=None, flags=[Flag.NO_TAG, flag]) for n, flag in enumerate((Flag.VOIDED, Flag.PAUSED), 1)]
    assert to_look_at(tally(day)) == []


def test_each_weighing_of_one_animal_is_in_it(event: Make) -> None:
    tag = "999000000000009"
    day = [event(1, 300.0, tag=tag, flags=[Flag.TAG_DOUBTFUL], grade="fair"), event(2, 301.0, tag=tag)]
    (one,) = to_look_at(tally(day))
    assert one.names == ["999 000000000009 (number 1)"], "though the second, better one speaks for the animal"


def test_text_json_and_page_tell_the_same(event: Make) -> None:
    day = [event(n, 300.0, flags=[Flag.TAG_DOUBTFUL]) for n in range(1, 80)] + [
        event(80, 300.0, tag=None, flags=["no-tag"])
    ]
    found = tally(day)
    text, page, spelt = as_text(found).splitlines(), html(found), as_json(found)["look_at"]
    at = text.index("Look at these:")
    settle = SETTLED["tag-doubtful"][1]
    assert text[at + 1].startswith("- 1 without a tag; read its tag by hand")
    assert text[at + 1].endswith(": number 80")
    assert text[at + 2].startswith(f"- 79 with a doubtful tag; {settle}: 999 000000000001 (number 1), ")
    assert text[at + 2].endswith(" (number 20) and 59 more")
    assert f"79 with a doubtful tag; {settle}: 999 000000000001 (number 1), " in page
    assert " (number 60) and 19 more." in page
    assert [len(one["animals"]) for one in spelt] == [1, 79], "a program is told all"
    assert spelt[1]["animals"][78] == {
        "name": "999 000000000079 (number 79)",
        "animal": "999000000000079",
        "number": 79,
        "station": "crush",
    }
    assert spelt[1]["settle"] == settle
