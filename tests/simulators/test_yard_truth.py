"""A simulated day: the same for the same seed, and its truth agrees with its bytes."""

import hashlib
import re
import subprocess
import sys
from dataclasses import replace
from itertools import pairwise
from pathlib import Path
from statistics import fmean

import pytest

from neckyoke.simulators.scenario import Bother, Gaps, Mob
from neckyoke.simulators.scenarios import PAIRING, SCENARIOS, WEIGHT
from neckyoke.simulators.spelling.tags import SPELLINGS, Tag
from neckyoke.simulators.yard import Stay, Yard

CALM = SCENARIOS["calm"]


def day(yard: Yard) -> str:
    return hashlib.sha256(repr(list(yard.items())).encode()).hexdigest()


@pytest.mark.parametrize("name", sorted(SCENARIOS))
def test_every_scenario_is_a_day_in_order(name: str) -> None:
    yard = Yard.named(name, seed=3, animals=12)
    items = list(yard.items())
    assert all(a[0] <= b[0] for a, b in pairwise(items))
    assert {link for _, link, _ in items} <= {"indicator", "panel", "race", "stick"}
    assert [stay.number for stay in yard.truth] == list(range(1, len(yard.truth) + 1))
    assert all(stay.on_t < stay.all_on_t < stay.leave_t < stay.off_t < yard.end_t for stay in yard.truth)
    assert all(a.on_t < b.on_t for a, b in pairwise(yard.truth))


def test_a_seed_is_a_day_on_every_machine() -> None:
    """Another process has another hash seed: nothing may hang on it."""
    program = (
        "import hashlib\nfrom neckyoke.simulators.yard import Yard\n"
        "print(hashlib.sha256(repr(list(Yard.named('rough', 5, 4).items())).encode()).hexdigest())"
    )
    other = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    assert other.stdout.strip() == day(Yard.named("rough", 5, 4))
    assert other.stdout.strip() != day(Yard.named("rough", 6, 4))


def test_another_reader_leaves_the_animals_as_they_were() -> None:
    one, other = Yard.named("tags-clean", 2, 10), Yard.named("tags-ahead", 2, 10)
    assert [(stay.tag, stay.kg, stay.on_t) for stay in one.truth] == [
        (stay.tag, stay.kg, stay.on_t) for stay in other.truth
    ]
    assert list(one.weights()) == list(other.weights())


@pytest.mark.parametrize("name", ["calm", "typical", "restless", "half-on", "sheep"])
def test_the_mean_force_of_a_standing_animal_is_its_weight(name: str) -> None:
    """Newton: the mean vertical force between two moments of rest is the weight."""
    yard = Yard.named(name, seed=4, animals=25)
    force = yard.force()
    errors = []
    for stay in yard.truth:
        steps = range(int(stay.all_on_t * 50) + 1, int(stay.leave_t * 50))
        mean = fmean(force(step / 50) for step in steps)
        errors.append(mean / stay.kg - 1)
    assert abs(fmean(errors)) < 0.004
    assert max(map(abs, errors)) < 0.04


def test_the_platform_is_empty_between_stays() -> None:
    yard = Yard(CALM, seed=1, animals=10)
    force = yard.force()
    for before, after in pairwise(yard.truth):
        assert force((before.off_t + after.on_t) / 2) == 0.0


def test_residue_stays_until_it_is_scraped_away() -> None:
    scenario = replace(
        CALM, manner=replace(CALM.manner, residue_chance=1.0, residue_kg=(2.0, 2.0)), bother=Bother(cleaned_every=3)
    )
    yard = Yard(scenario, seed=1, animals=7)
    force = yard.force()
    left = []
    for stay in yard.truth:
        force(stay.off_t)
        left.append(force(stay.off_t + 0.1))
    assert left == [2.0, 4.0, 6.0, 2.0, 4.0, 6.0, 2.0]
    assert len(yard.scraped) == 2


def test_what_is_shown_agrees_with_the_truth() -> None:
    yard = Yard(CALM, seed=2, animals=8)
    shown = list(yard.shown())
    for stay in yard.truth:
        late = [one.kg for one in shown if stay.leave_t - 1.0 < one.t < stay.leave_t and one.kg is not None]
        assert fmean(late) == pytest.approx(stay.kg, rel=0.01)


def test_crowded_stays_are_marked_and_share_the_platform() -> None:
    yard = Yard(replace(CALM, gaps=Gaps(together=1.0)), seed=1, animals=6)
    assert all(stay.crowded for stay in yard.truth)
    assert all(after.on_t < before.off_t for before, after in pairwise(yard.truth))
    assert not any(stay.crowded for stay in Yard(CALM, 1, 6).truth)


def test_an_animal_that_came_back_stands_twice() -> None:
    yard = Yard(replace(CALM, bother=Bother(came_back=1.0)), seed=1, animals=4)
    assert [stay.animal for stay in yard.truth] == [1, 1, 2, 2, 3, 3, 4, 4]
    assert [stay.came_back for stay in yard.truth] == [False, True] * 4


@pytest.mark.parametrize(
    ("bother", "kind"),
    [
        (Bother(person_on=1.0), "person"),
        (Bother(person_leans=1.0), "leaning"),
        (Bother(gate=1.0), "gate"),
        (Bother(false_start=1.0), "false-start"),
    ],
)
def test_others_press_on_the_platform_too(bother: Bother, kind: str) -> None:
    yard = Yard(replace(CALM, bother=bother), seed=1, animals=5)
    assert {touch.kind for touch in yard.others} == {kind}
    touch = yard.others[0]
    middle = (touch.on_t + touch.off_t) / 2
    alone = sum(visit.force_kg(middle) for visit in yard._visits)
    assert yard.force()(middle) - alone == pytest.approx(touch.force_kg(middle))
    assert touch.force_kg(touch.on_t - 1) == touch.force_kg(touch.off_t + 1) == 0.0


def test_people_walk_over_an_empty_platform() -> None:
    yard = Yard(replace(CALM, bother=Bother(person_on=1.0)), seed=1, animals=10)
    for touch in yard.others:
        assert not any(stay.on_t < touch.off_t and touch.on_t < stay.off_t for stay in yard.truth)


def heard_in(yard: Yard, stay: Stay) -> list[str]:
    return [tag for t, _, tag in yard.reads if stay.on_t <= t <= stay.off_t]


def test_truth_says_what_the_readers_heard() -> None:
    yard = Yard.named("tags-both-missed", seed=1, animals=150)
    assert 0.85 < fmean(stay.readable for stay in yard.truth) < 0.98
    assert 0.2 < fmean(bool(stay.others) for stay in yard.truth) < 0.45
    for stay in yard.truth:
        assert set(stay.others) == set(heard_in(yard, stay)) - {stay.tag}
        assert stay.works or not stay.readable


def test_an_untagged_animal_and_a_dead_tag_are_never_heard() -> None:
    scenario = replace(SCENARIOS["tags-next"], mob=Mob(dead=0.3, bare=(3,)))
    yard = Yard(scenario, seed=1, animals=30)
    assert yard.truth[2].tag is None
    assert not yard.truth[2].readable
    silent = {stay.tag for stay in yard.truth if not stay.works}
    assert silent
    assert not silent & {tag for _, _, tag in yard.reads}


def test_a_reader_that_is_out_says_nothing_and_is_seen_to_go_and_come() -> None:
    yard = Yard.named("tags-outage", seed=1, animals=40)
    start, length = yard.scenario.readers[0].outages[0]
    assert not any(start <= t < start + length for t, _, _ in yard.reads)
    states = [t for t, _, data in yard.tags() if not data]
    assert states[:2] == [start, start + length]


def test_a_reader_ahead_hears_animals_before_they_step_on() -> None:
    yard = Yard.named("tags-ahead", seed=1, animals=40)
    first = {tag: t for t, _, tag in reversed(yard.reads)}
    assert all(first[stay.tag] < stay.on_t for stay in yard.truth if stay.tag in first)
    assert len(first) > 35


def test_the_same_animals_go_round_again() -> None:
    yard = Yard.named("tags-again", seed=1, animals=10)
    assert [stay.round for stay in yard.truth] == [1] * 10 + [2] * 10
    assert {stay.tag for stay in yard.truth[:10]} == {stay.tag for stay in yard.truth[10:]}


def test_tags_are_spelt_as_the_reader_spells() -> None:
    yard = Yard.named("larkmoor", seed=1, animals=3)
    spelt = {SPELLINGS["space"](Tag(int(stay.tag[3:]))) for stay in yard.truth if stay.tag}
    assert spelt <= {data for _, _, data in yard.tags()}
    assert all(stay.tag and stay.tag.startswith("999") for stay in yard.truth)


def test_the_demonstration_is_lively_and_plausible() -> None:
    yard = Yard.named("larkmoor", seed=1, animals=60)
    assert 6.0 < yard.end_t / 60 < 9.0
    assert all(255.0 <= stay.kg <= 390.0 for stay in yard.truth)
    bare = Yard.named("larkmoor-untagged", seed=1, animals=8).truth
    assert [stay.number for stay in bare if stay.tag is None] == [5]


def test_an_unknown_scenario_is_refused_with_the_known_ones() -> None:
    with pytest.raises(KeyError, match="calm"):
        Yard.named("storm")


def test_an_empty_yard_is_quiet() -> None:
    yard = Yard(CALM, animals=0)
    assert yard.truth == []
    assert {data for _, _, data in yard.items()} == {b"ST,GS,+00000.0kg\r\n", b"US,GS,+00000.0kg\r\n"}


def test_regimes_have_names_of_their_own() -> None:
    assert len(SCENARIOS) == len(WEIGHT) + len(PAIRING) + 3


def test_simulators_import_neither_the_bridge_nor_the_decoders() -> None:
    """A mistake shared with the decoders could hide; the ready-made scenarios alone may use the tag code."""
    for path in (Path(__file__).parents[2] / "simulators").rglob("*.py"):
        for line in path.read_text().splitlines():
            assert not re.match(r"\s*(import|from) (neckyoke\.)?(bridge|protocols)\b", line)
