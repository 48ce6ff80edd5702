"""What a weight is told in."""

import pytest

from neckyoke.protocols.readings import KG_PER, Condition, WeightReading


def test_units_are_what_tables_of_units_say() -> None:
    """scipy.constants, whose units are those of the international system and the avoirdupois pound."""
    import scipy.constants

    units = {"g": scipy.constants.gram, "t": scipy.constants.metric_ton, "lb": scipy.constants.pound}
    assert pytest.approx({"kg": 1.0, **units}, rel=1e-15) == KG_PER


def test_a_weight_of_which_nothing_else_is_said_is_in_kilograms_and_in_order() -> None:
    assert WeightReading(412.5) == WeightReading(412.5, None, "kg", None, None, None, Condition.OK)
