"""A weighing that is struck out, and its dose: given, it stays given, unless a person says that it was not."""

from datetime import UTC, date
from typing import Any

import pytest

from neckyoke.bridge.events import Flag, Weighing, wrap
from neckyoke.bridge.reports.doses.register import doses
from neckyoke.bridge.reports.doses.withheld import withheld_on
from tests.bridge.daemon.test_again_after_restart import DOSE, LOOK, A, held, remarks, weighed
from tests.support.box import Box, given, lived

SOON = date(2026, 11, 30)
STANDS = (
    f"Struck out number 1.  Its {DOSE} still counts as given, withheld until 2026-12-23.  "
    "If it was not, say so: skip, with --number 1."
)


def holds(box: Box) -> list[str | None]:
    """Return the tags of those on the list of who may not go."""
    found = [one.model_dump(mode="json") for one in box.weighings()]
    assert len([*doses(found, UTC)]) == sum(given(box.weighings()))
    assert box.service is not None
    return [one.tag for one in withheld_on(found, SOON, UTC, book=box.service.pipeline.site.keeper.book)]


@pytest.mark.parametrize("restart", [False, True])
@pytest.mark.parametrize("tag", [None, A])
@pytest.mark.parametrize(("said", "stands"), [({}, True), ({"given": True}, True), ({"given": False}, False)])
def test_its_dose_stands_unless_a_person_says_that_it_was_not_given(
    said: dict[str, Any], tag: str | None, *, restart: bool, stands: bool
) -> None:
    async def day(box: Box) -> None:
        await weighed(box, tag=tag)
        if restart:
            await box.restart(3.0)
        answer = await box.says(kind="void", number=1, reason="leant on the gate", **said)
        assert answer["text"] == (STANDS if stands else "Struck out number 1.")
        (struck,) = box.weighings()
        assert (Flag.VOIDED in struck.flags, struck.none_given) == (True, not stands)
        assert given([struck]) == [stands]
        assert holds(box) == ([tag] if stands else [])

        undone = await box.says(kind="undo", asked=answer["asked"])
        assert undone["text"] == "Taken back: Struck out number 1."
        (back,) = box.weighings()
        assert (Flag.VOIDED in back.flags, back.none_given, given([back])) == (False, False, [True])

        await box.says(kind="void", number=1)
        await box.says(kind="skip", treatment=DOSE, number=1)
        assert holds(box) == []

    lived(day)


@pytest.mark.parametrize("restart", [False, True])
@pytest.mark.parametrize(("said", "stands"), [({}, True), ({"given": False}, False)])
def test_weighed_again_it_is_not_offered_again_what_it_had(
    said: dict[str, Any], *, restart: bool, stands: bool
) -> None:
    async def day(box: Box) -> None:
        await weighed(box, tag=A)
        await box.says(kind="void", number=1, **said)
        await box.shows(70, 0)  # long after: by its tag
        if restart:
            await box.restart(3.0)
        await box.shows(3, 0)
        await box.shows(6, 318.0, A)
        had = ["given today at 02:11: not given again unless you say so"] if stands else [None]
        assert remarks(box.shown()) == had

    lived(day)


@pytest.mark.parametrize("restart", [False, True])
def test_the_first_of_two_stays_of_one_animal_struck_out_it_is_still_withheld(*, restart: bool) -> None:
    async def day(box: Box) -> None:
        await held(box, A)
        await box.says(kind="skip", treatment=DOSE)
        await box.shows(2, 0)
        if restart:
            await box.restart(70.0)
        await box.says(kind="void", number=1)
        assert given(box.weighings()) == [True, False]
        assert holds(box) == [A]

    lived(day)


@pytest.mark.parametrize(("said", "asked"), [({}, True), ({"given": False}, False)])
def test_struck_out_while_the_next_may_be_it_again_that_one_is_still_asked_about(
    said: dict[str, Any], *, asked: bool
) -> None:
    async def day(box: Box) -> None:
        await held(box)
        await box.says(kind="void", number=1, **said)
        assert remarks(box.shown()) == ([LOOK] if asked else [None])
        assert given(box.weighings()) == [asked]

    lived(day)


def test_what_the_box_itself_strikes_out_is_told_elsewhere_doses_and_all() -> None:
    async def day(box: Box) -> None:
        await weighed(box, tag=A)
        change = {"told_in": "w0", "flags": (Flag.VOIDED,), "revision": 2}
        struck = box.weighings()[0].model_copy(update=change)
        assert box.service is not None
        event, *_ = box.service.pipeline.site.filled(wrap(struck, site="larkmoor", time=struck.off, key="struck"))
        assert isinstance(event.data, Weighing)
        assert event.data.treatments == ()

    lived(day)
