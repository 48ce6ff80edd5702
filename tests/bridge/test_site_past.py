"""What an animal had is known as of the weighings that are made anew together, in whatever order they are."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.events import Clock, Event, Flag, Stamp, Weighing, wrap
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.past import Past
from neckyoke.bridge.job.sheet import load_sheet
from neckyoke.bridge.site.site import Site
from tests.support import events
from tests.support.sheets import one

STARTED = datetime(2026, 11, 24, 2, 0, tzinfo=UTC)
CONFIG = f"""\
site = "{events.SITE}"
[links.indicator]
url = "tcp://127.0.0.1:4001"
[stations.crush]
scale = "indicator"
"""
SHEET = 'title = "Drench"\n[[treatments]]\nname = "drench"\nml = 10\nwithhold_days = 28\n'
TAGS = ("999000000000001", "999000000000002")


def weighed(number: int, tag: str, revision: int) -> Event:
    data = events.weighing(number, tag=tag, revision=revision)
    return wrap(data, site=events.SITE, time=data.off, key=f"{number}/{revision}")


@pytest.mark.parametrize("order", [(1, 2), (2, 1)])
def test_two_that_change_tags_are_not_held_by_what_the_other_was_given(tmp_path: Path, order: tuple[int, int]) -> None:
    (tmp_path / "neckyoke.toml").write_text(CONFIG)
    (tmp_path / "sheet.toml").write_text(SHEET)
    sheets, past = one(load_sheet(tmp_path / "sheet.toml"), None), Past()
    site = Site(
        load_config(tmp_path / "neckyoke.toml"),
        started=STARTED,
        stamp=lambda t: Stamp(STARTED + timedelta(seconds=t), Clock.SYNCHRONISED),
        clerk=lambda _: Clerk(sheets, history=past.weights, doses=past.doses, shown=past.shown, had=past.had),
        past=past,
    )
    for number in (1, 2):
        site.filled_all(float(number), [weighed(number, TAGS[number - 1], 1)])
    told = site.filled_all(300.0, [weighed(number, TAGS[2 - number], 2) for number in order])
    weighings = [event.data for event in told if isinstance(event.data, Weighing)]
    assert len(weighings) == 2
    for data in weighings:
        assert Flag.WITHHELD not in data.flags, data.number
        assert not data.treatments[0].skipped, "each was given it as it stood there"
