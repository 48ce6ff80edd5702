"""kill -9 at random moments while weighing.  The full count: tests/bench/delivery.py."""

from pathlib import Path

import pytest

from tests.support.broker import Broker
from tests.support.killed_daemon import kill_the_daemon
from tests.support.killed_stays import kill_within_stays
from tests.support.killing import kill_again_and_again


def test_no_kill_loses_or_doubles_a_weighing(broker: Broker, tmp_path: Path) -> None:
    toll = kill_again_and_again(tmp_path, broker, kills=8, seed=5)
    assert toll.stays > 20


def test_no_kill_of_the_whole_daemon_loses_a_stay(broker: Broker, tmp_path: Path) -> None:
    toll = kill_the_daemon(tmp_path, broker, kills=2, seed=6, life_s=1.5)
    assert toll.stays >= 1


def test_no_kill_within_a_stay_that_was_heard_for_a_second_leaves_it_without_a_weighing() -> None:
    toll = kill_within_stays(kills=24, seed=8, animals=10)
    heard = {kind: count for kind, count in toll.stays.items() if "1 s or more" in kind}
    assert sum(heard.values()) > 10
    assert [
        wrong for wrong in toll.wrong if wrong.startswith(("heard 1 s", "no kill")) and wrong.endswith("has []")
    ] == []
    assert toll.disagree == [], "herd book and journal agree after every kill"
    assert toll.right["no kill"] == toll.stays["no kill"] > 0
    assert sum(toll.right[kind] for kind in heard) >= 0.8 * sum(heard.values())


@pytest.mark.parametrize("seed", [8, 38, 55])
def test_where_the_next_steps_on_as_the_last_one_leaves_none_is_taken_for_the_one_before(seed: int) -> None:
    """One day each on which an animal was, as long as every yard was held to be as slow as a calm one."""
    toll = kill_within_stays(kills=1, seed=seed, animals=10, scenario="no-gap")
    assert sum(count for kind, count in toll.stays.items() if "1 s or more" in kind) >= 5
    assert sum(count for kind, count in toll.none.items() if "1 s or more" in kind or kind == "no kill") == 0
    assert toll.disagree == []
