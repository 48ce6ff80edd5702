"""One request about many animals: its parts, and how it is taken back."""

import pytest

from neckyoke.bridge.asking.at_once import parts_of, together
from neckyoke.bridge.asking.requests import Answer, Refusal, parse_request


def parts(**words: object) -> list[dict[str, object]]:
    request = parse_request(words)
    assert not isinstance(request, Refusal), request
    return [one.model_dump(mode="json", exclude_none=True) for one in parts_of(request)]


def test_a_dose_for_numbers_from_to_is_a_dose_for_each() -> None:
    made = parts(kind="dose", treatment="drench", amount=40, number=3, to=5, id="x")
    assert [(one["number"], one["id"], one["amount"]) for one in made] == [
        *((3, "x/3", 40.0), (4, "x/4", 40.0), (5, "x/5", 40.0))
    ]
    assert all("to" not in one for one in made)


def test_without_an_id_the_parts_share_one_of_ours() -> None:
    first, second = (str(one["id"]) for one in parts(kind="skip", treatment="drench", number=1, to=2))
    assert first.partition("/")[0] == second.partition("/")[0] != ""


def test_a_request_about_one_animal_stands_for_itself() -> None:
    assert parts(kind="dose", treatment="drench", amount=40, number=3) == []
    assert parts(kind="undo", asked="x/3") == []


def test_it_is_taken_back_from_the_last_to_the_first() -> None:
    made = parts(kind="undo", asked="x/3-5", id="u")
    assert [(one["asked"], one["id"]) for one in made] == [("x/5", "u/5"), ("x/4", "u/4"), ("x/3", "u/3")]


def test_what_was_done_of_it_can_be_taken_back() -> None:
    done = [Answer(done=True, text="", asked=f"x/{n}") for n in (3, 4, 6)]
    assert together([*done, Answer(done=False, text="no")]) == "x/3-6"
    assert together([Answer(done=False, text="no")]) is None


@pytest.mark.parametrize(
    "words",
    [{"to": 5}, {"number": 5, "to": 4}, {"number": 1, "to": 501}, {"weighing": "w", "number": 1, "to": 2}],
)
def test_a_span_that_means_nothing_is_refused(words: dict[str, object]) -> None:
    refused = parse_request({"kind": "skip", "treatment": "drench", **words})
    assert isinstance(refused, Refusal)
    assert "to goes with number" in refused.text
