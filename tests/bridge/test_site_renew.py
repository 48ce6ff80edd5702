"""A station that goes on by another table in the middle of the day weighs on as if nothing had been.

The yard and its truth are the simulator's; the reference is the same day under one table.
"""

from pathlib import Path

import pytest

from neckyoke.bridge.config.model import Config
from neckyoke.bridge.events import Flag
from neckyoke.bridge.site.wires import rewired
from tests.support.crush import LAMBS, Crush


def with_station(config: Config, **keys: object) -> Config:
    crush = config.stations["crush"].model_copy(update=keys)
    return config.model_copy(update={"stations": {"crush": crush}})


def with_link(config: Config, name: str, **keys: object) -> Config:
    links = {**config.links, name: config.links[name].model_copy(update=keys)}
    return config.model_copy(update={"links": links})


def day(folder: Path, *, renewed: bool) -> Crush:
    crush = Crush(folder)
    crush.say("begin", text=LAMBS)
    for first in range(6):
        crush.weigh(first, first + 1)
        if renewed:
            config = crush.site.config
            crush.events += crush.site.renew(crush.t, with_station(config, capacity_kg=1500.0 + first))
    return crush


def test_a_station_renewed_after_each_animal_weighs_as_one_that_was_not(tmp_path: Path) -> None:
    (tmp_path / "plain").mkdir()
    (tmp_path / "renewed").mkdir()
    plain, renewed = day(tmp_path / "plain", renewed=False), day(tmp_path / "renewed", renewed=True)

    def told(crush: Crush) -> list[object]:
        return [
            (one.weighing, one.number, one.job_number, one.pen, one.weight.kg, one.weight.grade, one.tag, one.flags)
            for one in crush.latest.values()
        ]

    assert len(told(plain)) == 6
    assert told(renewed) == told(plain)
    ids = [event.id for event in renewed.events]
    assert len(ids) == len({*ids}), "no id is given twice"


def test_what_the_new_table_says_holds_for_the_next_animal(tmp_path: Path) -> None:
    crush = Crush(tmp_path).weigh(0, 1)
    crush.events += crush.site.renew(crush.t, with_station(crush.site.config, capacity_kg=100.0))
    crush.weigh(1, 2)
    assert crush.latest[1].weight.grade in {"good", "fair"}
    assert crush.latest[2].weight.grade == "poor", "heavier than the platform can weigh"
    assert not crush.site.renew(crush.t, crush.site.config), "what has not changed is left alone"


def test_an_animal_weighed_before_is_known_after(tmp_path: Path) -> None:
    crush = Crush(tmp_path).weigh(0, 2)
    crush.events += crush.site.renew(crush.t, with_station(crush.site.config, smallest_kg=30.0))
    assert crush.say("note", text="lame", number=1).done
    assert crush.latest[1].notes == ("lame",)
    crush.weigh(0, 1)
    assert Flag.REPEAT in crush.latest[3].flags


@pytest.mark.parametrize(
    ("link", "keys"), [("panel", {"url": "tcp://127.0.0.1:4003"}), ("indicator", {"layout": "weight"})]
)
def test_only_the_link_that_changed_begins_anew(tmp_path: Path, link: str, keys: dict[str, object]) -> None:
    crush = Crush(tmp_path)
    for name in ("indicator", "panel"):
        crush.events += crush.site.link(crush.t, name, "up")
    crush.weigh(0, 1)
    before = {name: crush.site.counts(name) for name in ("indicator", "panel")}
    assert all(before.values())
    crush.events += crush.site.renew(crush.t, with_link(crush.site.config, link, **keys))
    other = "indicator" if link == "panel" else "panel"
    assert crush.site.counts(other) == before[other]
    assert (crush.site.counts(link), crush.site.state(link)) == ({}, "")
    assert crush.site.state(other) == "up"


def test_a_reader_that_is_taken_away_is_no_more_listened_to(tmp_path: Path) -> None:
    crush = Crush(tmp_path).weigh(0, 1)
    config = with_station(crush.site.config, readers=[])
    crush.events += crush.site.renew(crush.t, config)
    crush.weigh(1, 2)
    assert crush.latest[1].tag is not None
    assert crush.latest[2].tag is None


def test_what_is_told_before_and_after_has_ids_of_its_own(tmp_path: Path) -> None:
    crush = Crush(tmp_path)
    for interval_kg in (5.0, 0.05):  # neither is what the simulated scale shows
        crush.events += crush.site.renew(crush.t, with_station(crush.site.config, interval_kg=interval_kg))
        crush.weigh(0, 3)
    assert len(crush.attentions("steps")) == 2
    ids = [event.id for event in crush.events]
    assert len(ids) == len({*ids})


def test_a_reader_that_was_lost_before_is_known_to_be_lost_after(tmp_path: Path) -> None:
    """The reference is the same animal under one table, its reader lost too."""

    def lost(folder: Path, *, renewed: bool) -> tuple[Flag, ...]:
        folder.mkdir()
        crush = Crush(folder).weigh(0, 1)
        for link, state in (("indicator", "up"), ("panel", "up"), ("panel", "lost")):
            crush.events += crush.site.link(crush.t, link, state)
        if renewed:
            crush.events += crush.site.renew(crush.t, with_station(crush.site.config, capacity_kg=1501.0))
        silent = [item for item in crush.items if item[1] == "indicator"]
        crush.items = silent
        return crush.weigh(1, 2).latest[2].flags

    flags = lost(tmp_path / "renewed", renewed=True)
    assert Flag.READER_LOST in flags
    assert flags == lost(tmp_path / "plain", renewed=False)


def test_a_link_that_becomes_a_scale_or_is_one_no_more_is_read_another_way(tmp_path: Path) -> None:
    config = Crush(tmp_path).site.config
    assert rewired(config, config) == set()
    assert rewired(config, with_station(config, scale="panel", readers=[])) == {"indicator", "panel"}
    less = config.model_copy(update={"links": {"indicator": config.links["indicator"]}})
    assert rewired(config, less) == rewired(less, config) == {"panel"}
