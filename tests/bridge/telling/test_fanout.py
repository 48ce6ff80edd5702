"""The hub keeps the newest word of each link, for those who begin to watch later, and nothing else."""

from neckyoke.bridge.telling.fanout import Gap, Hub
from tests.support.events import link_state, weighed


def test_the_newest_word_of_each_link_is_kept() -> None:
    hub = Hub()
    newest = {"panel": link_state(3, "up"), "indicator": link_state(2, "up", "indicator")}

    for item in (link_state(1, "missing"), newest["indicator"], weighed(1), Gap(), newest["panel"]):
        hub.put(item)

    assert hub.links == newest
