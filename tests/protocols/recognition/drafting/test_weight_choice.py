"""Which of a frame's numbers is the weight: animals that come and go (`streams.crossing`), and what stands beside."""

import random
from itertools import accumulate

import pytest

from neckyoke.protocols.recognition.drafting.sketch import Values
from neckyoke.protocols.recognition.drafting.weight_choice import ADD_UP, Roles, find_roles
from neckyoke.protocols.recognition.finding import Sure
from neckyoke.protocols.scale.status import Meaning
from tests.protocols.streams import crossing

GROSS: Values = [shown.tenths / 10 for shown in crossing(10, 20, 1)]
NET: Values = [round((kg or 0.0) - 12.0, 1) for kg in GROSS]
TARE: Values = [12.0] * len(GROSS)
TURNED: Values = [round(500 - (kg or 0.0) * 0.9, 1) for kg in GROSS]
"""As many values as the weight has, but not the same from frame to frame."""
_CHANCE = random.Random(1)
CHECK: Values = [float(_CHANCE.randrange(256)) for _ in GROSS]
WANDERS: Values = [round(20 + at / 100 + at % 3 * 0.7, 2) for at in range(len(GROSS))]
FEW: Values = [abs(at // 7 % 8 - 4.0) for at in range(len(GROSS))]
"""Five values, up and down: a battery, a temperature."""
COUNTS: Values = [float(at) for at in range(len(GROSS))]


def mostly(usual: Values, other: Values, percent: int) -> Values:
    """Take so many of the second in place of the first, spread over all."""
    taken = [(at + 1) * percent // 100 > at * percent // 100 for at in range(len(usual))]
    return [two if instead else one for instead, one, two in zip(taken, usual, other, strict=True)]


@pytest.mark.parametrize(
    ("columns", "roles"),
    [
        ([GROSS], {0: "value"}),
        ([TARE, GROSS], {1: "value"}),
        ([[1.0, 2.0, 3.0] * 66 + [1.0, 2.0], GROSS], {1: "value"}),  # a weight has more than three values
        ([TARE], None),
        ([], None),
        ([COUNTS, GROSS], {1: "value"}),
        ([GROSS, COUNTS], {0: "value"}),
        ([[7 * (kg or 0.0) for kg in COUNTS], GROSS], {1: "value"}),
        ([[(kg or 0.0) % 60 for kg in COUNTS], GROSS], {1: "value"}),  # seconds of a clock
        ([[(kg or 0.0) // 10 for kg in COUNTS], GROSS], {1: "value"}),
        ([COUNTS], None),
        ([CHECK, GROSS], {1: "value"}),
        ([GROSS, CHECK], {0: "value"}),
        ([CHECK], {0: "value"}),  # who knows
        ([CHECK, CHECK[::-1]], None),
        ([mostly(TARE, CHECK, 9), GROSS], {1: "value"}),  # it hardly moved
        ([mostly(TARE, GROSS, 9)], {0: "value"}),  # but where there is no other it is the weight
        ([GROSS, NET, TARE], {0: "gross", 1: "net", 2: "tare"}),
        ([TARE, NET, GROSS], {2: "gross", 1: "net", 0: "tare"}),
        ([WANDERS, GROSS, NET, TARE], {1: "gross", 2: "net", 3: "tare"}),  # what changes more is no tare
        ([COUNTS, NET, FEW, TARE, GROSS], {4: "gross", 1: "net", 3: "tare"}),
        ([GROSS, NET], {0: "value"}),
        ([NET, GROSS], {1: "value"}),
        ([GROSS, GROSS], {0: "value"}),
        ([GROSS, GROSS, [0.0] * len(GROSS)], {0: "value"}),  # nobody tared
        ([GROSS, FEW], {0: "value"}),
        ([FEW, GROSS], {1: "value"}),
        ([GROSS, TURNED], None),
        ([GROSS, NET, TURNED], None),
    ],
)
def test_what_moves_as_a_weight_does_is_the_weight(columns: list[Values], roles: dict[int, str] | None) -> None:
    found = find_roles(columns)
    assert (found.roles if found else None) == roles


@pytest.mark.parametrize(
    ("columns", "labels", "roles"),
    [
        ([GROSS, NET], [Meaning.GROSS, Meaning.NET], {0: "gross", 1: "net"}),
        ([NET, GROSS], [Meaning.NET, Meaning.GROSS], {0: "net", 1: "gross"}),
        ([NET, TARE], [Meaning.NET, Meaning.TARE], {0: "value"}),  # one that moves needs no word
        ([NET, GROSS, FEW], [Meaning.NET, Meaning.GROSS, None], None),  # one that moves and has none
        ([NET, GROSS, TARE], [Meaning.NET, Meaning.GROSS, None], {0: "net", 1: "gross"}),
        ([NET, GROSS], [Meaning.GROSS, Meaning.GROSS], {1: "value"}),  # one word for both tells nothing
        ([TURNED, GROSS], [Meaning.GROSS, Meaning.GROSS], None),
        ([TURNED, GROSS], [Meaning.NET, Meaning.TARE], {0: "net", 1: "tare"}),
        ([TARE, TURNED, GROSS], [Meaning.GROSS, Meaning.NET, Meaning.TARE], None),  # a gross weight that never moves
    ],
)
def test_words_in_front_of_the_numbers_say_what_they_are(
    columns: list[Values], labels: list[Meaning | None], roles: dict[int, str] | None
) -> None:
    found = find_roles(columns, labels)
    assert (found.roles if found else None) == roles


@pytest.mark.parametrize(
    ("columns", "said", "sure"),
    [
        ([GROSS], None, None),
        ([GROSS, NET, TARE], "Three numbers add up as gross, tare and net; gross is taken", Sure.LIKELY),
        ([GROSS, NET], "perhaps gross and net; the first is taken", Sure.UNSURE),
        ([NET, GROSS], "perhaps gross and net; the second is taken", Sure.UNSURE),
        ([FEW, GROSS], "Another number changes too, though less; the 2. number is taken", Sure.UNSURE),
        ([GROSS, FEW], "Another number changes too, though less; the 1. number is taken", Sure.UNSURE),
    ],
)
def test_what_must_be_compared_is_said(columns: list[Values], said: str | None, sure: Sure | None) -> None:
    found = find_roles(columns)
    assert found is not None
    assert [doubt.at_most for doubt in found.doubts] == [sure] * (said is not None)
    assert all(str(said) in doubt.text for doubt in found.doubts)
    words = find_roles(columns, [Meaning.NET, Meaning.GROSS][: len(columns)])
    assert words is not None
    if len(columns) == 2:
        assert "told apart by their words; gross is taken" in words.doubts[0].text


@pytest.mark.parametrize(
    ("of", "roles"),
    [
        ({0: "tare", 1: "value"}, 1),
        ({0: "tare", 1: "net"}, 1),
        ({0: "net", 1: "gross"}, 1),
        ({0: "gross", 1: "value"}, 1),
    ],
)
def test_gross_goes_before_net_and_a_tare_is_no_weight(of: dict[int, str], roles: int) -> None:
    assert Roles(of).main == roles


@pytest.mark.parametrize(("percent", "so"), [(19, True), (20, False)])
def test_more_than_four_in_five_frames_must_add_up(percent: int, *, so: bool) -> None:
    net = mostly(NET, [1.0] * len(NET), percent)
    found = find_roles([GROSS, net, TARE])
    assert (found is not None and ADD_UP in found.doubts) is so
    found = find_roles([GROSS, net])
    assert (found is not None) is so  # neither do they change alike


def test_a_tare_must_be_there_in_most_frames() -> None:
    for percent, so in ((49, True), (50, False)):
        tare = mostly(TARE, [0.0] * len(TARE), percent)
        net = [round((kg or 0.0) - (less or 0.0), 1) for kg, less in zip(GROSS, tare, strict=True)]
        found = find_roles([GROSS, net, tare])
        assert (found is not None and ADD_UP in found.doubts) is so


def test_numbers_that_are_not_there_are_no_numbers() -> None:
    holes: Values = mostly(GROSS, [None] * len(GROSS), 10)
    found = find_roles([holes, NET])
    assert found is not None
    assert found.roles == {0: "value"}
    found = find_roles([NET, holes, TARE])
    assert found is not None
    assert found.roles == {1: "gross", 0: "net", 2: "tare"}
    never: Values = [None if at % 2 else kg for at, kg in enumerate(GROSS)]
    others: Values = [None if not at % 2 else kg for at, kg in enumerate(GROSS)]
    assert find_roles([never, others]) is None


def rising(ones: int) -> Values:
    """Rise a hundred times, so often by one and then each time by more."""
    return list(accumulate([1.0] * ones + [2.0 + at for at in range(100 - ones)], initial=0.0))


@pytest.mark.parametrize(
    ("beside", "counts"),
    [
        (COUNTS, True),
        (COUNTS[::-1], False),  # nothing that runs runs down
        (rising(41), True),
        (rising(40), False),  # two in five of its steps alike, the others larger
        ([kg / 2 for kg in range(len(GROSS))], False),  # half numbers are measured
        ([kg + (0.5 if kg % 10 == 0 else 0) for kg in range(len(GROSS))], True),  # a tenth of them damaged
        ([kg + (0.5 if kg % 5 == 0 else 0) for kg in range(len(GROSS))], False),
        ([float(at * at) for at in range(len(GROSS))], False),  # never twice by the same
        ([float(at % 4) for at in range(len(GROSS))], False),  # it begins anew at every fourth
        ([float(at % 10) for at in range(len(GROSS))], True),
        ([0.0] * (len(GROSS) - 11) + [float(at) for at in range(11)], True),
        ([0.0] * (len(GROSS) - 10) + [float(at) for at in range(10)], False),  # nine steps are not many
    ],
)
def test_a_running_number_is_no_weight(beside: Values, *, counts: bool) -> None:
    assert (find_roles([beside]) is None) is counts


def range_of(*some: tuple[int, float]) -> Values:
    """Let a number swing between nought and something small, and be far away so often."""
    beside = [float(at % 4) for at in range(len(GROSS))]
    for times, far in some:
        beside[-times:] = [far] * times
    return beside


@pytest.mark.parametrize(
    ("beside", "jumps"),
    [
        (range_of(), True),
        (range_of((10, 99.0)), True),  # a twentieth far away is damage
        (range_of((11, 99.0)), False),
        (range_of((10, -99.0)), True),
        (range_of((11, -99.0)), False),
        ([float(at // 22 % 4) for at in range(len(GROSS))], False),  # nine steps are not many
        ([float(at // 19 % 4) for at in range(len(GROSS))], True),
        ([float((0, 3, 6, 9, 10, 7, 4, 1)[at % 8]) for at in range(len(GROSS))], False),  # three tenths of it
        ([float((0, 4, 8, 10, 6, 2)[at % 6]) for at in range(len(GROSS))], True),
        ([4.0 - at % 5 for at in range(len(GROSS))], False),  # a quarter of its range at a time
    ],
)
def test_what_jumps_over_its_range_is_no_weight(beside: Values, *, jumps: bool) -> None:
    found = find_roles([beside, GROSS])
    assert found is not None
    assert found.roles == {1: "value"}
    assert (found.doubts == ()) is jumps
