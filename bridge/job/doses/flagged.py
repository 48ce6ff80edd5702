"""What is to be flagged of an animal's treatments: one that it missed, one that may not have been given as recorded."""

from collections.abc import Iterable, Iterator, Sequence
from datetime import datetime

from neckyoke.bridge.events import Flag, Settled, Treatment, Weighing
from neckyoke.bridge.job.doses.doubtful import asks
from neckyoke.bridge.job.doses.given import had_in, never_shown, plain, spoken
from neckyoke.bridge.job.doses.held import PastDose
from neckyoke.bridge.job.doses.shown import NOT_SHOWN


def flags(
    made: Sequence[Treatment],
    data: Settled | Weighing,
    when: datetime,
    before: Iterable[PastDose],
    perhaps: Iterable[str] = (),
) -> Iterator[Flag]:
    """Yield what is to be flagged of an animal's treatments."""
    if _missed(made, data, when, before, perhaps):
        yield Flag.NOT_GIVEN
    if _doubtful(made, data):
        yield Flag.DOSE_DOUBTFUL


def over(made: Sequence[Treatment], data: Weighing) -> frozenset[Flag]:
    """Return what is to be flagged no more of a weighing of long ago."""
    missed = any(one.skipped and one.given_before is not None for one in made) or any(_unseen(made, data))
    kept = {Flag.NOT_GIVEN: missed, Flag.DOSE_DOUBTFUL: _doubtful(made, data)}
    return frozenset(flag for flag, still in kept.items() if not still)


def _doubtful(made: Iterable[Treatment], data: Settled | Weighing) -> bool:
    """Return whether anything is asked of a treatment that was given, and that no person spoke of."""
    spoke = spoken(data)
    given = (one for one in made if not one.skipped and plain(one.name) not in spoke)
    return Flag.PAUSED not in data.flags and any(map(asks, given))


def _missed(
    made: Sequence[Treatment],
    data: Settled | Weighing,
    when: datetime,
    before: Iterable[PastDose],
    perhaps: Iterable[str] = (),
) -> bool:
    """Return whether any of its treatments was not given though it had not been.

    It was taken for one that had it, or nobody saw what it was to get.  `perhaps`: what it may have been given, by
    plain name.
    """
    had = {*had_in(before, data.job, when), *perhaps}
    taken = any(one.skipped and one.given_before is not None and plain(one.name) not in had for one in made)
    return taken or any(_unseen(made, data))


def _unseen(made: Iterable[Treatment], data: Settled | Weighing) -> Iterator[bool]:
    """Yield of each treatment whether it is not given since nobody can have seen it, nor said anything of it."""
    none = isinstance(data, Weighing) and data.none_given
    said = spoken(data)
    for one in () if none else made:
        unseen = never_shown(data) or one.remark == NOT_SHOWN
        yield unseen and one.skipped and one.given_before is None and plain(one.name) not in said
