"""Whatever a device babbles, what is said of it is bounded, though the text holds what was sent."""

import random
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.events import Attention, Clock, Stamp, Weighing
from neckyoke.bridge.site.site import Site
from tests.support.daemon import CONFIG

STARTED = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)
MINUTES = 4


@pytest.mark.parametrize("share", [1.0, 0.5, 0.9])
def test_minutes_of_garbage_are_told_a_few_times_and_weigh_nobody(tmp_path: Path, share: float) -> None:
    """Frames of which no two are alike, with a weight among them now and then: a hundred a second."""
    (tmp_path / "neckyoke.toml").write_text(CONFIG.format(indicator="tcp://127.0.0.1:1", panel="tcp://127.0.0.1:2"))
    config = load_config(tmp_path / "neckyoke.toml")
    site = Site(config, started=STARTED, stamp=lambda t: Stamp(STARTED + timedelta(seconds=t), Clock.UNKNOWN))
    chance = random.Random(7)
    events = []
    for n in range(MINUTES * 60 * 10):
        bad = chance.random() < share if n % 600 > 100 else chance.random() < 0.1  # it comes and goes
        frames = b"".join(chance.randbytes(chance.choice((12, 12, 500))).hex().encode() + b"?\r\n" for _ in range(10))
        events += site.data(n / 10, "indicator", frames if bad else b"ST,GS,+00000.0kg\r\n" * 10)
    events += site.finish(MINUTES * 60.0)

    told = [event.data for event in events if isinstance(event.data, Attention)]
    assert [one.about for one in told if not one.over].count("unreadable") in range(1, MINUTES + 1)
    assert len(told) <= 2 * MINUTES + 2
    assert max(len(one.text) for one in told) < 400
    assert not [event for event in events if isinstance(event.data, Weighing)]
