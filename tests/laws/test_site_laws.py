"""Laws of the whole line, bytes to events: cutting, ticking and garbage change nothing that should not change."""

from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.config.model import Config, load_config
from neckyoke.bridge.events import Clock, Event, Stamp, Weighing
from neckyoke.bridge.site.site import Site
from neckyoke.simulators.yard import Yard
from tests.support.daemon import CONFIG

STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)
DAY = [item for item in Yard.named("larkmoor", seed=21, animals=4).items() if item[2]]


@pytest.fixture(scope="module")
def config(tmp_path_factory: pytest.TempPathFactory) -> Config:
    path = tmp_path_factory.mktemp("laws") / "neckyoke.toml"
    path.write_text(CONFIG.format(indicator="tcp://127.0.0.1:4001", panel="tcp://127.0.0.1:4002"))
    return load_config(path)


def _site(config: Config) -> Site:
    return Site(config, started=STARTED, stamp=lambda t: Stamp(STARTED + timedelta(seconds=t), Clock.UNKNOWN))


def _events(config: Config, items: list[tuple[float, str, bytes]]) -> list[Event]:
    site = _site(config)
    events = [event for t, link, data in items for event in site.data(t, link, data)]
    return events + site.finish(items[-1][0] + 60)


@given(cuts=st.lists(st.integers(1, 7), min_size=1, max_size=40))
@settings(max_examples=15, deadline=None)
def test_any_cutting_of_the_bytes_gives_the_same_events(config: Config, cuts: list[int]) -> None:
    cut: list[tuple[float, str, bytes]] = []
    for n, (t, link, data) in enumerate(DAY):
        size = cuts[n % len(cuts)]
        cut += [(t, link, data[at : at + size]) for at in range(0, len(data), size)]

    assert _events(config, cut) == _events(config, DAY)


@given(ticks=st.lists(st.floats(0.001, 5.0), min_size=1, max_size=20))
@settings(max_examples=10, deadline=None)
def test_how_often_time_is_let_pass_makes_no_difference(config: Config, ticks: list[float]) -> None:
    site = _site(config)
    ticked: list[Event] = []
    now, turn = 0.0, 0
    for t, link, data in DAY:
        while now + ticks[turn % len(ticks)] < t:
            now += ticks[turn % len(ticks)]
            turn += 1
            ticked += site.advance(now)
        ticked += site.data(t, link, data)
        now = t
    ticked += site.finish(DAY[-1][0] + 60)

    assert ticked == _events(config, DAY)


@given(noise=st.lists(st.tuples(st.sampled_from(["indicator", "panel"]), st.binary(max_size=200)), max_size=60))
@settings(max_examples=40, deadline=None)
def test_random_bytes_on_every_link_never_raise(config: Config, noise: list[tuple[str, bytes]]) -> None:
    site = _site(config)

    for n, (link, data) in enumerate(noise):
        site.data(n * 0.1, link, data)
    site.finish(len(noise) * 0.1 + 60)


@given(junk=st.binary(min_size=1, max_size=300).filter(lambda data: not any(48 <= byte <= 57 for byte in data)))
@settings(max_examples=20, deadline=None)
def test_garbage_between_animals_leaves_the_stays_around_it_unharmed(config: Config, junk: bytes) -> None:
    quiet = [n for n, (_, link, data) in enumerate(DAY) if link == "indicator" and b"+00000.0kg" in data]
    spoilt = list(DAY)
    for n in reversed(quiet[2::15]):
        t, link, _ = DAY[n]
        spoilt.insert(n + 1, (t, link, junk + b"\r\n"))

    assert _stays(_events(config, spoilt)) == _stays(_events(config, DAY))


def _stays(events: list[Event]) -> dict[int, tuple[float | None, str | None]]:
    weighings = [event.data for event in events if isinstance(event.data, Weighing)]
    return {one.number: (one.weight.kg, one.tag.id if one.tag else None) for one in weighings}
