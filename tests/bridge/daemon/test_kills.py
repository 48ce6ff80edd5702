"""kill -9 at random moments while weighing.  The full count: tests/bench/delivery.py."""

from pathlib import Path

from tests.support.broker import Broker
from tests.support.killed_daemon import kill_the_daemon
from tests.support.killing import kill_again_and_again


def test_no_kill_loses_or_doubles_a_weighing(broker: Broker, tmp_path: Path) -> None:
    toll = kill_again_and_again(tmp_path, broker, kills=8, seed=5)
    assert toll.stays > 20


def test_no_kill_of_the_whole_daemon_loses_a_stay(broker: Broker, tmp_path: Path) -> None:
    toll = kill_the_daemon(tmp_path, broker, kills=2, seed=6, life_s=1.5)
    assert toll.stays >= 1
