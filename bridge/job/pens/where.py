"""Where an animal goes: by what was known when it left, and where it should be by what is known now."""

from collections.abc import Callable, Iterable, Mapping, Sequence
from typing import Any

from neckyoke.bridge.config.words import column_name
from neckyoke.bridge.events import Finding, Gain, Settled, Weighing
from neckyoke.bridge.job.pens import drafting
from neckyoke.bridge.job.pens.drafting import Rule
from neckyoke.bridge.job.sheet import Sheet


def pens(
    sheet: Sheet | None,
    data: Settled | Weighing,
    kg: float,
    gain: Gain | None,
    known: Mapping[str, Any],
    seen: Sequence[Finding],
    goes: Callable[[Rule], bool] = lambda _: False,
) -> tuple[str | None, str | None]:
    """Return where the animal went, by what was known when it left, and where it should be by what is known now.

    The second is None when it is no other than the first.  `goes` says whether it gets a place of a pen by head count.
    """
    if sheet is None:
        return None, None
    left = data.off if isinstance(data, Weighing) else None
    per_day = gain.kg_per_day if gain else None

    def pen(of: Iterable[Finding]) -> str | None:
        found = {column_name(one.name): one.value for one in of}
        waits = [table.column for table in sheet.findings if table.needed and table.column not in _by_person(of)]
        return drafting.pen_for(sheet.pens, kg, per_day, {**known, **found}, waits, goes)

    went = pen([one for one in seen if one.at is None or left is None or one.at <= left])
    should = pen(seen)
    return went, None if should == went else should


def _by_person(of: Iterable[Finding]) -> set[str]:
    return {column_name(one.name) for one in of if one.by == "person"}
