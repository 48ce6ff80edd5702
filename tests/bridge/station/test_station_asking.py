"""What people may ask of a station about its animals: notes, tags, doses, zeros, and taking a weighing out."""

import pytest

from neckyoke.bridge.events import Flag
from neckyoke.bridge.station.instructions import About, Dosed, Identify, Note, Void, Zero
from neckyoke.protocols.tagcode import TagCode
from tests.bridge.station.test_station_events import A, B, C, ask, feed, make, reads, settleds, stands, weighings


class TestAsking:
    def test_a_note_lands_on_the_animal_standing_now(self) -> None:
        station = make()
        items = [*stands(5, 15)]
        feed(station, iter(items[:80]))
        assert ask(station, 8.0, Note("lame, near hind"))[0]
        (weighing,) = weighings(feed(station, iter(items[80:])))
        assert weighing.notes == ("lame, near hind",)
        assert weighing.revision == 1

    def test_a_note_on_the_last_one_amends_it(self) -> None:
        station = make()
        feed(station, stands(5, 15), reads(A, 5.5, 14.5))
        done, _, (weighing,) = ask(station, 20.0, Note("ringworm"))
        assert done
        assert (weighing.revision, weighing.notes, weighing.why) == (2, ("ringworm",), "a person added a note")

    def test_a_typed_tag_wins_over_what_was_heard(self) -> None:
        station = make()
        feed(station, stands(5, 15), reads(A, 5.5, 14.5))
        _, _, (weighing,) = ask(station, 20.0, Identify(tag=B))
        assert weighing.tag is not None
        assert weighing.tag.id == str(B)
        assert weighing.flags == (Flag.BY_PERSON,)
        assert weighing.final

    def test_a_typed_tag_lets_the_standing_animal_go(self) -> None:
        station = make(require_tag=True)
        items = [*stands(5, 15)]
        feed(station, iter(items[:100]))
        _, events = station.ask(10.0, Identify(tag=B))
        (settled,) = settleds(events)
        assert settled.may_leave
        (weighing,) = weighings(feed(station, iter(items[100:])))
        assert weighing.flags == (Flag.BY_PERSON,)

    def test_a_visual_number_the_roster_does_not_know_is_kept(self) -> None:
        station = make()
        feed(station, stands(5, 15))
        _, _, (weighing,) = ask(station, 20.0, Identify(visual="214"))
        assert weighing.animal == {"visual": "214"}
        assert weighing.tag is None

    def test_a_visual_number_leaves_the_tag_that_was_read(self) -> None:
        station = make()
        feed(station, stands(5, 15), reads(A, 5.5, 14.5))
        _, text, (weighing,) = ask(station, 20.0, Identify(visual="103"))
        assert text == "number 1 has visual 103."
        assert weighing.animal == {"visual": "103"}
        assert weighing.tag is not None
        assert weighing.tag.id == str(A)
        assert weighing.flags == ()

    def test_a_visual_number_lets_an_untagged_animal_go_and_a_tag_read_later_is_taken(self) -> None:
        station = make(require_tag=True)
        items = [*stands(5, 20)]
        feed(station, iter(items[:90]))
        _, events = station.ask(12.0, Identify(visual="103"))
        assert [settled.may_leave for settled in settleds(events)] == [True]
        (weighing,) = weighings(feed(station, iter(items[90:]), reads(A, 14, 19)))
        assert weighing.animal == {"visual": "103"}
        assert weighing.tag is not None
        assert weighing.tag.id == str(A)

    def test_each_weighing_amended_by_a_word_says_its_own_reason(self) -> None:
        station = make()
        feed(station, stands(5, 15), reads(A, 5.5, 14.5), stands(25, 35), reads(B, 25.5, 34.5))
        _, _, changed = ask(station, 40.0, Identify(tag=B, about=About(number=1)))
        why = {weighing.number: weighing.why for weighing in changed}
        assert why[1] == f"a person said: {B}"
        assert why[2] == f"{B} belongs to number 1, after a person's word on number 1"

    def test_a_tag_moved_by_a_person_amends_both_weighings(self) -> None:
        station = make()
        feed(station, stands(5, 15), reads(A, 5.5, 14.5), stands(25, 35), reads(B, 25.5, 34.5))
        _, _, changed = ask(station, 40.0, Identify(tag=B, about=About(number=1)))
        latest = {weighing.number: weighing for weighing in changed}
        assert set(latest) == {1, 2}
        assert latest[1].tag is not None
        assert latest[1].tag.id == str(B)
        assert latest[2].tag is None or latest[2].tag.id != str(B)

    def test_an_old_weighing_can_still_be_put_right(self) -> None:
        station = make()
        for n in range(1, 25):
            feed(station, stands(20 * n, 20 * n + 10), reads(TagCode(982, n), 20 * n + 0.5, 20 * n + 9.5))
        _, _, changed = ask(station, 600.0, Identify(tag=C, about=About(number=2)))
        (weighing,) = changed
        assert weighing.number == 2
        assert weighing.tag is not None
        assert weighing.tag.id == str(C)

    def test_a_voided_weighing_stands_flagged_and_frees_its_tag(self) -> None:
        station = make()
        feed(station, stands(5, 15), reads(A, 5.5, 14.5))
        _, _, (weighing,) = ask(station, 20.0, Void("two on the platform"))
        assert weighing.flags == (Flag.VOIDED,)
        assert weighing.why == "a person struck it out: two on the platform"
        again = weighings(feed(station, stands(205, 215), reads(A, 205.5, 214.5)))
        assert again[-1].flags == ()

    def test_striking_out_the_first_of_two_makes_the_second_no_repeat(self) -> None:
        station = make()
        feed(station, stands(5, 15), reads(A, 5.5, 14.5))
        (second,) = weighings(feed(station, stands(205, 215), reads(A, 205.5, 214.5)))
        assert second.flags == (Flag.REPEAT,)
        _, _, (struck, released) = ask(station, 300.0, Void(about=About(number=1)))
        assert (struck.number, struck.flags) == (1, (Flag.VOIDED,))
        assert (released.number, released.flags) == (2, ())
        assert released.why == "an earlier weighing no longer has this tag"
        again = weighings(feed(station, stands(405, 415), reads(A, 405.5, 414.5)))
        assert again[-1].flags == (Flag.REPEAT,), "the second has the tag now"

    def test_a_weighing_struck_out_is_never_a_repeat(self) -> None:
        station = make()
        feed(station, stands(5, 15), reads(A, 5.5, 14.5))
        ask(station, 20.0, Void())
        feed(station, stands(205, 215), reads(A, 205.5, 214.5))
        _, _, (noted,) = ask(station, 300.0, Note("lame", About(number=1)))
        assert noted.flags == (Flag.VOIDED,)

    def test_a_treatment_not_given_is_kept_and_can_be_taken_back(self) -> None:
        station = make()
        feed(station, stands(5, 15), reads(A, 5.5, 14.5))
        assert ask(station, 20.0, Dosed("drench", given=False))[2][0].skipped == ("drench",)
        assert ask(station, 21.0, Dosed("drench", given=True))[2][0].skipped == ()

    @pytest.mark.parametrize("about", [About(), About(number=7), About(weighing="nobody")])
    def test_an_animal_that_is_not_at_hand_is_refused_in_plain_words(self, about: About) -> None:
        done, text, events = ask(make(), 1.0, Note("x", about))
        assert not done
        assert "weighed here yet" in text or "at hand" in text
        assert events == []

    def test_a_weighing_of_another_run_is_amended_and_the_account_of_tags_follows(self) -> None:
        """The first has lost its run; the second, of this one, had its tag again, and has it alone once that is out."""
        before = make()
        (first,) = weighings(feed(before, stands(5, 15), reads(A, 5.5, 14.5)))
        station = make(before.memory)
        (second,) = weighings(feed(station, stands(5, 15), reads(A, 5.5, 14.5)))
        assert second.flags == (Flag.REPEAT,)
        assert not ask(station, 20.0, Void(about=About(number=1)))[0]

        reply, events = station.amend(20.0, first, Void("leant on the gate"))

        released, struck = weighings(events)
        assert (reply.done, reply.weighing) == (True, first.weighing)
        assert (released.number, released.revision, released.flags) == (2, 2, ())
        assert struck == first.model_copy(
            update={
                "revision": 2,
                "flags": (Flag.VOIDED,),
                "final": True,
                "final_at": None,
                "why": "a person struck it out: leant on the gate",
            }
        )

    def test_a_tag_given_to_one_of_another_run_is_taken_from_its_neighbour(self) -> None:
        before = make()
        (first,) = weighings(feed(before, stands(5, 15)))
        station = make(before.memory)
        feed(station, stands(5, 15, 340.0), reads(A, 5.5, 14.5))

        _, events = station.amend(20.0, first, Identify(tag=A))

        beside, named = weighings(events)
        assert (beside.number, beside.tag, beside.flags) == (2, None, (Flag.NO_TAG, Flag.BY_PERSON))
        assert named.tag is not None
        assert (named.number, named.tag.id, named.flags) == (1, str(A), (Flag.BY_PERSON,))
        assert station.account.weighed == {str(A): first.weighing, beside.weighing: beside.weighing}

    def test_animals_are_counted_once_each_tagged_or_not_and_not_those_struck_out(self) -> None:
        station = make()
        stays = [stands(on, on + 10) for on in (5, 25, 45, 65)]
        first, _, again, bare = weighings(feed(station, *stays, reads(A, 5.5, 14.5), reads(A, 45.5, 54.5)))
        assert (first.tag, bare.tag, again.flags) == (again.tag, None, (Flag.REPEAT,))
        assert len(station.account.weighed) == 3
        ask(station, 80.0, Void(about=About(number=2)))
        ask(station, 80.0, Void(about=About(number=1)))
        assert sorted(station.account.weighed.values()) == sorted([again.weighing, bare.weighing])

        later = make(station.memory)
        later.amend(1.0, bare, Note("lame"))
        assert later.account.weighed == station.account.weighed
        later.amend(2.0, bare, Void())
        assert later.account.weighed == {str(A): again.weighing}

    def test_zero_is_taken_only_when_the_platform_is_empty_and_quiet(self) -> None:
        station = make()
        items = [*stands(5, 15)]
        feed(station, iter(items[:100]))
        assert not station.ask(10.0, Zero())[0].done
        feed(station, iter(items[100:]))
        assert station.ask(17.0, Zero())[0].done
