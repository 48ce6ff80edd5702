"""What is answered when something was said of an animal, and why its weighing is amended: word by word."""

import pytest

from neckyoke.bridge.station.instructions import (
    NOTES_MAX,
    About,
    AnimalInstruction,
    Dosed,
    Found,
    Identify,
    NewJob,
    Note,
    Void,
    is_one_too_many,
    nobody,
    told,
)
from neckyoke.protocols.tagcode import TagCode

TAG = TagCode(999, 112233)


@pytest.mark.parametrize(
    ("said", "text", "why"),
    [
        (Note("lame"), "Noted on number 7.", "a person added a note"),
        (Void("two on it"), "Struck out number 7.", "a person struck it out: two on it"),
        (Void(), "Struck out number 7.", "a person struck it out: no reason given"),
        (Found("teeth", 4), "teeth: 4 at number 7.", "a person said: teeth 4"),
        (Found("teeth", None), "teeth: taken back at number 7.", "a person said: teeth taken back"),
        (Found("lame", value=True), "lame: yes at number 7.", "a person said: lame yes"),
        (Found("lame", value=False), "lame: no at number 7.", "a person said: lame no"),
        (Found("coat", ("red", True)), "coat: red, yes at number 7.", "a person said: coat red, yes"),
        (Found("coat", ()), "coat: none of them at number 7.", "a person said: coat none of them"),
        (Dosed("drench", given=False), "drench: not given to number 7.", "a person said that drench was not given"),
        (Dosed("drench"), "drench: given to number 7.", "a person said that drench was given"),
        (Dosed("drench", given=True), "drench: given to number 7.", "a person said that drench was given"),
        (
            Dosed("drench", amount=32.5, unit="ml", batch="B7"),
            "drench: 32.5 ml given from batch B7 to number 7.",
            "a person said that drench was 32.5 ml given from batch B7",
        ),
        (Dosed("bolus", amount=2.0), "bolus: 2 given to number 7.", "a person said that bolus was 2 given"),
        (Identify(TAG), f"number 7 has {TAG}.", f"a person said: {TAG}"),
        (Identify(TAG, "47"), f"number 7 has {TAG}.", f"a person said: {TAG}"),
        (Identify(visual="47"), "number 7 has visual 47.", "a person said: visual 47"),
        (Identify(), "number 7 has no tag.", "a person said: no tag"),
    ],
)
def test_what_was_done_and_why_it_is_amended(said: AnimalInstruction, text: str, why: str) -> None:
    assert told(said, 7) == (text, why)


@pytest.mark.parametrize(
    ("said", "of_tag"),
    [(Identify(), True), (Identify(TAG), True), (Identify(TAG, "47"), True), (Identify(visual="47"), False)],
)
def test_a_visual_number_alone_says_nothing_of_the_tag(said: Identify, *, of_tag: bool) -> None:
    assert said.of_tag is of_tag


def test_who_is_not_to_be_found_is_named_as_they_were_asked_for() -> None:
    assert nobody(About(weighing="w1", number=7)) == "No weighing w1 is at hand here, nor in the journal."
    assert nobody(About(number=0)) == "No number 0 is at hand here, nor in the journal."
    assert nobody(About()) == "Nobody has been weighed here yet."
    assert NewJob().job is None


@pytest.mark.parametrize(("notes", "too_many"), [(NOTES_MAX - 1, False), (NOTES_MAX, True), (NOTES_MAX + 1, True)])
def test_fifty_notes_are_as_many_as_a_weighing_has(notes: int, *, too_many: bool) -> None:
    assert NOTES_MAX == 50
    assert is_one_too_many(Note("x"), ["n"] * notes) is too_many
    assert not is_one_too_many(Void(), ["n"] * notes)
