"""An animal is drenched, loses its tag, and wears a new one three weeks later: it is withheld, or a person is asked.

ICAR's recording guidelines, Section 01 (General Rules), "Rules on animal identification", as of 18 January 2024
(wiki.icar.org): an identity stays unique and is never used again (rule 4); an animal that lost its device gets one of
its own number where that can be had, and else a cross reference to the original number is kept (rule 6).  What the box
asks is common practice, no source.
"""

from collections.abc import Callable
from pathlib import Path

import pytest

from neckyoke.bridge.events import Flag, Weighing
from neckyoke.bridge.job.roster.roster import Animal, Roster
from neckyoke.protocols.tagcode import TagCode
from tests.support.herd import Farm, sheet_of, tag

OLD, NEW = tag(774149), tag(112233)
LATER = 21


@pytest.fixture
def farm(tmp_path: Path) -> Farm:
    """A farm where 105 was drenched under its old tag, among others."""
    farm = Farm(sheet_of(tmp_path))
    farm.weigh(0, OLD, "105")
    farm.weigh(0, tag(2), "106")
    farm.use(sheet_of(tmp_path, "", title="Induction"))
    farm.weigh(LATER, tag(2))
    return farm


def nothing(farm: Farm) -> Weighing:
    return farm.weigh(LATER, NEW)


def tag_and_visual(farm: Farm) -> Weighing:
    return farm.weigh(LATER, NEW, "105")


def edited_roster(farm: Farm) -> Weighing:
    farm.use(farm.sheet, Roster([Animal(2, tag=NEW, visual="105"), Animal(3, tag=tag(2), visual="106")]))
    return farm.weigh(LATER, NEW)


def by_its_number_alone(farm: Farm) -> Weighing:
    return farm.weigh(LATER, NEW, "105", flags=(Flag.BY_PERSON,))


@pytest.mark.parametrize("told", [nothing, tag_and_visual, edited_roster, by_its_number_alone])
def test_it_is_never_silently_clear(farm: Farm, told: Callable[[Farm], Weighing]) -> None:
    first = told(farm)
    assert Flag.WHICH_ANIMAL in first.flags
    assert farm.withheld(LATER) == {"w1", "w2"}, "nothing has changed"
    (question,) = farm.questions()
    yes = "yes" if "yes" in question.choices else "105 (tag …774149)"
    assert [one.question for one in farm.attentions() if one.question] == [question]

    done = farm.ask(LATER, kind="reply", question=question.id, choice=yes)

    assert done.done
    assert not farm.questions()
    now = farm.latest[first.weighing]
    assert Flag.WITHHELD in now.flags
    assert Flag.WHICH_ANIMAL not in now.flags
    assert now.revision == first.revision + 1
    (animal,) = farm.keeper.book.by_visual("105")
    assert [(one.id, one.until is None) for one in animal.tags] == [(OLD, False), (NEW, True)]
    assert now.animal is not None
    assert farm.keeper.book.root(now.animal["id"]) == farm.keeper.book.root((farm.latest["w1"].animal or {})["id"])
    assert now.gain is not None
    assert now.gain.days == LATER
    assert Flag.WITHHELD in farm.weigh(LATER + 2, NEW).flags, "and so it is when it comes again"
    assert Flag.WITHHELD not in farm.weigh(40, NEW).flags, "until 28 days have passed"


@pytest.mark.parametrize("told", [tag_and_visual, edited_roster, by_its_number_alone])
def test_no_leaves_both_alone_and_the_doubt_is_said(farm: Farm, told: Callable[[Farm], Weighing]) -> None:
    first = told(farm)
    farm.ask(LATER, kind="reply", choice="no")

    assert Flag.WHICH_ANIMAL in farm.latest[first.weighing].flags
    (animal,) = farm.keeper.book.by_visual("105")
    assert animal.tag == OLD
    other = farm.keeper.book.by_tag(NEW)
    assert other is not None
    assert other.animal != animal.animal
    assert not farm.questions()
    assert farm.withheld(LATER) == {"w1", "w2"}


def test_of_an_unknown_tag_it_is_not_asked_when_all_who_are_withheld_have_come(farm: Farm) -> None:
    farm.weigh(LATER, OLD)

    assert nothing(farm).flags == ()


def test_all_new_today_is_said_once(farm: Farm) -> None:
    stays = [farm.weigh(LATER, tag(number)) for number in (50, 51)]
    assert len(farm.questions()) == 2
    farm.ask(LATER, kind="reply", choice="all new today")

    assert not farm.questions()
    assert [farm.latest[one.weighing].flags for one in stays] == [(), ()]
    assert farm.weigh(LATER, tag(52)).flags == ()
    assert Flag.WHICH_ANIMAL in farm.weigh(LATER + 1, tag(53)).flags


def test_while_it_is_not_answered_every_stay_of_the_new_tag_says_so(farm: Farm) -> None:
    nothing(farm)
    farm.restart()

    assert farm.weigh(LATER + 1, NEW).flags == (Flag.WHICH_ANIMAL,)


def test_told_outright_nothing_need_be_asked(farm: Farm) -> None:
    done = farm.ask(LATER, kind="retag", visual="105", tag="999 000000112233")

    assert done.done
    assert "Local rules" in done.text
    assert farm.weigh(LATER, NEW).flags == (Flag.WITHHELD,)
    assert farm.weigh(LATER, OLD).flags == (Flag.WITHHELD,), "the old tag is found in somebody's hand: it is known"


def test_told_late_the_weighing_of_today_is_amended(farm: Farm) -> None:
    first = nothing(farm)
    farm.ask(LATER, kind="retag", was=OLD, tag=NEW)

    assert farm.latest[first.weighing].flags == (Flag.WITHHELD,)
    assert not farm.questions()


def test_a_tag_of_somebody_else_with_a_number_is_asked_about(farm: Farm) -> None:
    done = farm.ask(LATER, kind="retag", visual="105", tag=tag(2))
    assert not done.done
    assert done.ask is not None
    assert "106's tag" in done.ask.text

    assert farm.ask(LATER, kind="reply", choice="yes").done
    wearing = farm.keeper.book.by_tag(tag(2))
    assert wearing is not None
    assert wearing.visual == "105"
    (bare,) = farm.keeper.book.by_visual("106")
    assert bare.tag is None


def test_the_old_number_leads_to_the_animal_for_ever_and_to_no_other(farm: Farm) -> None:
    """ICAR, Section 01, rules 4 and 6: the cross reference is kept over any number of replacements, and no reuse."""
    worn = [OLD, NEW, tag(60), tag(61)]
    for day, digits in enumerate(worn[1:], LATER):
        assert farm.ask(day, kind="retag", visual="105", tag=digits).done
    farm.weigh(LATER + 5, tag(70), "170")
    farm.restart()

    (animal,) = farm.keeper.book.by_visual("105")
    assert [one.id for one in animal.tags] == worn
    for digits in worn:
        found = farm.keeper.book.by_tag(digits)
        assert found is not None
        assert (found.animal, found.tag) == (animal.animal, worn[-1])
    used_again = farm.ask(LATER + 6, kind="retag", visual="170", tag=OLD)
    assert not used_again.done
    assert used_again.ask is not None
    assert used_again.ask.text.startswith("…774149 was once 105's tag.")


def test_a_device_of_the_same_number_is_the_same_animal() -> None:
    """ICAR, Section 01, rule 6; ISO 11784 counts such devices in three bits beside the number: both read alike here."""
    assert [str(TagCode(999, 774149, retag=count)) for count in range(8)] == [OLD] * 8
