"""One stay's record: which flags stand when what the platform thinks and what the tags say are put together."""

import pytest

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.record import Record
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.protocols.tagcode import TagCode

ONE, OTHER = TagCode(999, 112233), TagCode(999, 445566)


def _record(code: TagCode | None, before: TagCode | None) -> Record:
    record = Record("crush", 2, "w", 0.0)
    record.platform_flags = (Flag.CAME_BACK,)
    record.verdict = Verdict(number=2, code=code)
    record.code_before = before
    return record


@pytest.mark.parametrize(
    ("code", "before", "came_back"),
    [
        (ONE, OTHER, False),  # alike in weight, but two animals
        (ONE, ONE, True),
        (None, ONE, True),  # not known to be another
        (ONE, None, True),
    ],
)
def test_another_tag_before_shows_that_nobody_came_back(
    code: TagCode | None, before: TagCode | None, *, came_back: bool
) -> None:
    assert (Flag.CAME_BACK in _record(code, before).flags({})) is came_back
