"""What a sheet would do: the doses of a label's table, and heads counted by hand."""

from datetime import date
from typing import Any

from neckyoke.bridge.job.making.foreseen import Beast, foreseen
from neckyoke.bridge.job.sheet import Sheet

DAY = date(2026, 10, 1)


def _sheet(**more: Any) -> Sheet:
    return Sheet.model_validate({"title": "Weaning", **more})


def _mob(*weights: float | None) -> list[Beast]:
    return [Beast(str(at), kg, None if kg is None else DAY) for at, kg in enumerate(weights)]


def test_doses_stand_at_every_50_kg_as_on_a_label() -> None:
    """A label's staircase, 5 mL for each 50 kg: common practice, no source; the figures are by hand."""
    drench = {"name": "drench", "ml_per_step": 5, "step_kg": 50, "round_to_ml": 5}
    fixed = {"name": "vaccine", "ml": 2}

    told = foreseen(_sheet(treatments=[drench, fixed]), None)["doses"]

    assert [(row["kg"], row["amount"]) for row in told[0]["rows"]] == [(kg, kg / 10) for kg in range(50, 801, 50)]
    assert told[1]["rows"] == [{"kg": None, "amount": 2.0, "unit": "mL", "remark": None}]


def test_doses_go_on_as_far_as_the_mob_weighs() -> None:
    told = foreseen(_sheet(treatments=[{"name": "x", "ml_per_kg": 0.1}]), _mob(1010))

    assert told["doses"][0]["rows"][-1]["kg"] == 1050


def test_heads_are_counted_by_last_weights_the_first_pen_that_takes_an_animal() -> None:
    pens = [{"pen": "top", "heads": 2, "heaviest": True}, {"pen": "heavy", "at_least_kg": 300}, {"pen": "rest"}]

    told = foreseen(_sheet(draft=pens), _mob(250, 310, 400, 320, None, 390))

    assert told["pens"] == [{"pen": "top", "heads": 2}, {"pen": "heavy", "heads": 2}, {"pen": "rest", "heads": 1}]
    assert (told["expected"], told["weighed"], told["open"], told["none"]) == (6, 5, 0, 0)
    assert (told["from"], told["to"]) == ("2026-10-01", "2026-10-01")


def test_an_animal_whose_pen_hangs_on_a_needed_finding_is_open_and_one_without_a_pen_is_told() -> None:
    findings = [{"name": "lame", "yes_no": True, "needed": True}]
    pens = [{"pen": "vet", "match": {"lame": True}, "at_least_kg": 300}, {"pen": "light", "below_kg": 280}]

    told = foreseen(_sheet(draft=pens, findings=findings), _mob(250, 310, 290))

    assert told["pens"] == [{"pen": "vet", "heads": 0}, {"pen": "light", "heads": 1}]
    assert (told["open"], told["none"]) == (1, 1)


def test_a_usual_finding_and_what_is_known_of_an_animal_count() -> None:
    findings = [{"name": "condition", "choices": [1, 2, 3], "usual": 3}]
    pens = [{"pen": "fat", "match": {"condition": 3, "sex": "steer"}}, {"pen": "rest"}]
    mob = [Beast("a", 300, DAY, known={"sex": "steer"}), Beast("b", 300, DAY, known={"sex": "steer", "condition": 1})]

    assert foreseen(_sheet(draft=pens, findings=findings), mob)["pens"] == [
        {"pen": "fat", "heads": 1},
        {"pen": "rest", "heads": 1},
    ]


def test_nobody_known_is_not_nobody() -> None:
    assert foreseen(_sheet(), None)["expected"] is None
    assert foreseen(_sheet(), [])["expected"] == 0
