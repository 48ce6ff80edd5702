"""Why a weighing is amended, in words: a table of what was held of its tag before, and what is now."""

from dataclasses import replace

import pytest

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.instructions import Dosed
from neckyoke.bridge.station.reasons import reason
from neckyoke.bridge.station.record import Record, over
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.protocols.tagcode import TagCode

A, B = TagCode(999, 101), TagCode(999, 102)
NO_TAG = Verdict(1, None, rule="no tag was heard near it")
HAS_A, HAS_B = Verdict(1, A, rule="clearly ahead"), Verdict(1, B, rule="clearly ahead")
LESS_SURE = replace(HAS_A, sure_percent=96.2)
REST = "the rest is another's"
DOUBTS_A = replace(HAS_A, flags=(Flag.TAG_DOUBTFUL,))


def record(number: int, verdict: Verdict | None) -> Record:
    made = Record("crush", number, f"w{number}", 0.0, None)
    made.verdict = verdict
    return made


OTHERS = (record(2, None), record(3, Verdict(3, A)))


@pytest.mark.parametrize(
    ("before", "now", "others", "why"),
    [
        (None, HAS_A, (), None),  # it was not published yet
        (HAS_A, None, (), None),
        (HAS_A, NO_TAG, (), f"{A} does not fit"),
        (HAS_A, NO_TAG, OTHERS, f"{A} belongs to number 3"),
        (HAS_A, HAS_B, OTHERS, f"{A} belongs to number 3; {B} fits: clearly ahead"),
        (HAS_A, HAS_B, OTHERS[:1], f"{A} does not fit; {B} fits: clearly ahead"),
        (NO_TAG, HAS_A, OTHERS, f"{A} fits, as the stays beside it show: clearly ahead"),
        (NO_TAG, DOUBTS_A, (), f"{A} fits, as the stays beside it show, but not surely: clearly ahead"),
        (NO_TAG, NO_TAG, (), "no tag was heard near it"),
        (HAS_A, DOUBTS_A, (), "in doubt now: clearly ahead"),
        (DOUBTS_A, HAS_A, (), "no doubt is left: clearly ahead"),
        (replace(HAS_A, reads=7), replace(HAS_A, reads=2), (), f"heard 2 times, where 7 was said: {REST}"),
        (replace(LESS_SURE, sure_percent=99.2), LESS_SURE, (), "final now: 96.2 % sure, where 99.2 % was said"),
    ],
)
def test_what_the_stays_beside_it_showed_is_said(
    before: Verdict | None, now: Verdict | None, others: tuple[Record, ...], why: str | None
) -> None:
    this = record(1, now)
    assert reason(this, before, None, (this, *others)) == why
    word = (2, "a person said: no tag")
    assert reason(this, before, word, (this, *others)) == (why and f"{why}, after a person's word on number 2")
    assert reason(this, before, (1, "a person said: no tag"), (this, *others)) == "a person said: no tag"


@pytest.mark.parametrize(
    ("before", "said", "now"),
    [
        (Dosed("drench"), Dosed("drench", given=False), Dosed("drench", given=False)),
        (Dosed("drench", given=False), Dosed("drench", amount=12.0), Dosed("drench", given=True, amount=12.0)),
        (
            Dosed("drench", amount=12.0),
            Dosed("drench", batch="B8"),
            Dosed("drench", given=True, amount=12.0, batch="B8"),
        ),
        (Dosed("drench", batch="B8"), Dosed("drench", amount=9.0), Dosed("drench", given=True, amount=9.0, batch="B8")),
        (Dosed("drench", amount=12.0), Dosed("drench", amount=9.0), Dosed("drench", given=True, amount=9.0)),
    ],
)
def test_what_is_said_of_a_dose_is_laid_over_what_was_said_before(before: Dosed, said: Dosed, now: Dosed) -> None:
    assert over(before, said) == now
