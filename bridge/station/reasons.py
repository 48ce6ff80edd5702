"""Why a weighing is amended, in words."""

from collections.abc import Iterable

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.record import Record
from neckyoke.bridge.station.tags.verdict import Verdict


def reason(
    record: Record, before: Verdict | None, said: tuple[int, str] | None, records: Iterable[Record]
) -> str | None:
    """Return why a weighing is amended, None when it is not.

    `before`: what was held of its tag when it was published, None when it was not; `said`: the number a person spoke
    of, and what they said; `records`: all that are at hand.
    """
    if said is not None and said[0] == record.number:
        return said[1]
    shown = _shown(record, before, records)
    return f"{shown}, after a person's word on number {said[0]}" if shown and said else shown


def _shown(record: Record, before: Verdict | None, records: Iterable[Record]) -> str | None:
    """Return what was shown of a weighing's tag since it was published."""
    now = record.verdict
    if before is None or now is None:
        return None
    if before.code is not None and before.code != now.code:
        holder = next((one.number for one in records if one.verdict and one.verdict.code == before.code), None)
        gone = f"{before.code} belongs to number {holder}" if holder is not None else f"{before.code} does not fit"
        return gone if now.code is None else f"{gone}; {now.code} fits: {now.rule}"
    if now.code is not None and before.code is None:
        doubt = ", but not surely" if Flag.TAG_DOUBTFUL in now.flags else ""
        return f"{now.code} fits, as the stays beside it show{doubt}: {now.rule}"
    if now.code is None:
        return now.rule
    fewer = before.reads > now.reads
    if before.flags == now.flags and (fewer or before.sure_percent != now.sure_percent):
        heard = f"heard {now.reads} times, where {before.reads} was said: the rest is another's"
        return heard if fewer else f"final now: {now.sure_percent} % sure, where {before.sure_percent} % was said"
    return f"in doubt now: {now.rule}" if Flag.TAG_DOUBTFUL in now.flags else f"no doubt is left: {now.rule}"
