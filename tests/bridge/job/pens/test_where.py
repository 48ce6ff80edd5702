"""Where an animal went, by what was known when it left, and where it should be by what is known now."""

from collections.abc import Sequence
from datetime import timedelta
from typing import Any

import pytest

from neckyoke.bridge.events import Finding, Gain, Settled, Weighing
from neckyoke.bridge.job.pens.where import pens
from neckyoke.bridge.job.sheet import Sheet
from tests.support.events import weighing

SHEET = Sheet.model_validate(
    {
        "title": "Autumn draft",
        "findings": [
            {"name": "Lame", "yes_no": True, "usual": False},
            {"name": "Mouth", "choices": ["full", "broken"], "needed": True},
        ],
        "draft": [
            {"pen": "hospital", "match": {"lame": [True]}},
            {"pen": "cull", "match": {"mouth": ["broken"]}},
            {"pen": "slow", "below_gain": 0.5},
            {"pen": "sale", "heads": 1, "heaviest": True},
            {"pen": "heifers", "match": {"sex": ["heifer"]}},
            {"pen": "keep"},
        ],
    }
)
YES, NO = True, False
LEFT = weighing(1)
STANDS = Settled(**{name: getattr(LEFT, name) for name in Settled.model_fields if hasattr(LEFT, name)})


def found(name: str, value: Any, after_s: float | None = None, by: str = "person") -> Finding:
    """Make a finding, given so many seconds after the animal left."""
    at = None if after_s is None else LEFT.off + timedelta(seconds=after_s)
    return Finding.model_validate({"name": name, "value": value, "by": by, "at": at})


FULL, BROKEN = found("Mouth", "full", -5.0), found("mouth", "broken", -5.0)
LAME = found("lame", YES, -5.0)


def where(*seen: Finding, data: Settled | Weighing = LEFT, **more: Any) -> tuple[str | None, str | None]:
    gain = Gain(kg=30.0, days=40, kg_per_day=more["gain"], since="2026-10-15") if "gain" in more else None
    return pens(SHEET, data, 318.5, gain, more.get("known", {}), seen, lambda _: more.get("goes", NO))


@pytest.mark.parametrize("data", [LEFT, STANDS], ids=["left", "stands"])
@pytest.mark.parametrize(
    ("seen", "more", "pen"),
    [
        ([], {}, None),  # whether its mouth is broken is still to be said
        ([found("mouth", "full", by="roster")], {}, None),  # by a person
        ([FULL], {}, "keep"),
        ([BROKEN], {}, "cull"),
        ([LAME], {}, "hospital"),  # whatever its mouth is like
        ([LAME, BROKEN], {}, "hospital"),
        ([found("lame", NO, by="usual"), FULL], {}, "keep"),
        ([FULL], {"gain": 0.4}, "slow"),
        ([FULL], {"gain": 0.5}, "keep"),
        ([FULL], {"goes": True}, "sale"),
        ([FULL], {"known": {"sex": "heifer"}}, "heifers"),
        ([FULL], {"known": {"lame": True}}, "hospital"),
        ([FULL, found("lame", NO, -2.0)], {"known": {"lame": True}}, "keep"),  # what was seen today comes first
    ],
)
def test_it_goes_by_what_is_known_while_it_stands_there(
    data: Settled | Weighing, seen: Sequence[Finding], more: dict[str, Any], pen: str | None
) -> None:
    assert where(*seen, data=data, **more) == (pen, None)


@pytest.mark.parametrize(
    ("seen", "went", "should"),
    [
        ([FULL, found("lame", YES, 0.0)], "hospital", None),  # as it left
        ([FULL, found("lame", YES, 1.0)], "keep", "hospital"),
        ([FULL, found("lame", YES)], "hospital", None),  # nobody knows when: it is taken as known
        ([found("mouth", "full", 60.0)], None, "keep"),
        ([FULL, found("lame", NO, 60.0)], "keep", None),
    ],
)
def test_what_was_said_after_it_left_moves_no_gate_and_says_where_it_should_be(
    seen: Sequence[Finding], went: str | None, should: str | None
) -> None:
    assert where(*seen) == (went, should)


def test_without_a_sheet_there_are_no_pens() -> None:
    assert pens(None, LEFT, 318.5, None, {}, []) == (None, None)


def test_nobody_gets_a_place_by_head_count_where_nobody_counts() -> None:
    assert pens(SHEET, LEFT, 318.5, None, {}, [FULL]) == ("keep", None)
