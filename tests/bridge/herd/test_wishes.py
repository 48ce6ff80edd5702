"""What people ask of the herd book, and what is asked back."""

from typing import Any

import pytest

from neckyoke.bridge.asking.requests import Refusal, parse_request
from neckyoke.bridge.events import Flag
from tests.support.herd import Farm, tag


@pytest.fixture
def farm() -> Farm:
    """A farm of 105 and 106, and a nameless one."""
    farm = Farm()
    farm.weigh(0, tag(1), "105")
    farm.weigh(0, tag(2), "106")
    farm.weigh(0, tag(3))
    return farm


def test_a_mark_is_on_every_weighing_from_its_first_day_to_its_last(farm: Farm) -> None:
    days: dict[str, Any] = {"from": "2026-11-03", "until": "2026-11-04"}
    assert farm.ask(kind="mark", visual="105", text="keep back", **days).done
    seen = [farm.weigh(day, tag(1)) for day in range(1, 5)]

    assert [Flag.MARKED in one.flags for one in seen] == [False, True, True, False]
    assert [one.marks for one in seen] == [(), ("keep back",), ("keep back",), ()]
    assert [one.text for one in farm.attentions() if one.about == "marked"] == ["105 is marked: keep back."] * 2


def test_a_mark_is_taken_off_by_its_words_or_all_are(farm: Farm) -> None:
    for text in ("vet", "sold"):
        farm.ask(kind="mark", tag=tag(1), text=text)
    assert not farm.ask(kind="unmark", tag=tag(1), text="lame").done
    assert farm.ask(kind="unmark", tag=tag(1), text="VET").done
    assert farm.weigh(1, tag(1)).marks == ("sold",)
    farm.ask(kind="unmark", visual="105")
    assert farm.weigh(2, tag(1)).marks == ()


def test_a_name_is_found_by_and_what_is_said_is_the_animals_own(farm: Farm) -> None:
    facts: dict[str, Any] = {"sex": "Heifer", "born": "2026-01-02", "lasting": {"colour": "red"}}
    assert farm.ask(kind="name", tag=tag(3), visual="107", **facts).done
    data = farm.weigh(1, None, "107")

    assert data.animal is not None
    assert {key: data.animal[key] for key in ("sex", "born", "colour")} == {
        "sex": "heifer",
        "born": "2026-01-02",
        "colour": "red",
    }


def test_a_number_of_another_is_asked_about_and_either_answer_is_done(farm: Farm) -> None:
    done = farm.ask(kind="name", tag=tag(3), visual="105")
    assert done.ask is not None
    assert [*done.ask.effects] == ["it is 105 (tag …000001)", "another animal, also 105"]

    farm.ask(kind="reply", choice="another animal")
    assert len(farm.keeper.book.by_visual("105")) == 2
    shared = farm.ask(kind="mark", visual="105", text="vet")
    assert shared.ask is not None
    farm.ask(kind="reply", question=shared.ask.id, choice="105 (tag …000003)")
    assert farm.weigh(1, tag(3)).marks == ("vet",)
    assert farm.weigh(1, tag(1)).marks == ()


def test_merged_they_are_one_and_split_they_are_two_as_before(farm: Farm) -> None:
    farm.weigh(20, tag(1))
    before = [(one.tags, one.visuals) for one in farm.keeper.book]
    assert farm.ask(20, kind="merge", visual="105", other=tag(3)).done
    assert len(list(farm.keeper.book)) == 2
    assert farm.weigh(30, tag(3)).gain is not None

    assert farm.ask(20, kind="split", visual="105").done
    assert [(one.tags, one.visuals) for one in farm.keeper.book] == before


def test_animals_that_differ_are_merged_only_on_a_second_word(farm: Farm) -> None:
    done = farm.ask(kind="merge", visual="105", other="106")
    assert done.ask is not None
    assert "differ in visual" in done.ask.text
    farm.ask(kind="reply", choice="yes")
    assert len(list(farm.keeper.book)) == 2


def test_a_retag_taken_back_by_a_split_gives_each_its_own_tag_again(farm: Farm) -> None:
    farm.ask(1, kind="retag", visual="105", tag=tag(3))
    assert farm.ask(2, kind="split", visual="105").done
    (one,) = farm.keeper.book.by_visual("105")
    other = farm.keeper.book.by_tag(tag(3))
    assert one.tag == tag(1)
    assert other is not None
    assert other.animal != one.animal


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"kind": "retag", "visual": "999", "tag": tag(9)}, "Nobody here is called 999."),
        ({"kind": "mark", "text": "vet"}, "Nobody is known by that stay: say its tag or its visual number first."),
        ({"kind": "merge", "visual": "105", "other": "999"}, "Nobody here is called 999."),
        ({"kind": "merge", "visual": "105", "other": tag(1)}, "are one animal already."),
        ({"kind": "split", "visual": "105"}, "Nobody was merged into 105 (tag …000001)."),
        ({"kind": "reply", "choice": "yes"}, "Nothing was asked that waits for a reply."),
    ],
)
def test_what_cannot_be_done_is_said(farm: Farm, words: dict[str, Any], said: str) -> None:
    done = farm.ask(**words)
    assert not done.done
    assert said in done.text


@pytest.mark.parametrize(
    ("words", "said"),
    [
        ({"kind": "retag", "visual": "105"}, "The key 'tag' is missing in retag."),
        ({"kind": "retag", "visual": "105", "tag": "12"}, "a tag is 15 digits"),
        ({"kind": "name", "tag": tag(1)}, "say what is known"),
        ({"kind": "name", "tag": tag(1), "sex": "steak"}, "no sex known here"),
        (
            {"kind": "mark", "visual": "105", "text": "x", "from": "2026-12-02", "until": "2026-12-01"},
            "before it begins",
        ),
    ],
)
def test_what_is_no_request_is_refused(words: dict[str, str], said: str) -> None:
    refused = parse_request(words)
    assert isinstance(refused, Refusal)
    assert said in refused.text


def test_questions_outlive_a_restart(farm: Farm) -> None:
    farm.weigh(1, tag(9), "105")
    (asked,) = farm.questions()
    farm.restart()

    assert farm.questions() == [asked]
    assert farm.ask(1, kind="reply", question=asked.id, choice="y").done
    (animal,) = farm.keeper.book.by_visual("105")
    assert animal.tag == tag(9)
