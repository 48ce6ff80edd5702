"""Killing that process at random moments, and what must hold afterwards."""

import random
import threading
from collections import Counter
from dataclasses import dataclass
from pathlib import Path

from neckyoke.bridge.events import Event, Flag, Weighing, read_event
from neckyoke.bridge.journal.reading import read_only
from tests.support.broker import Broker, Message, wait_until
from tests.support.warm import Forked


@dataclass(frozen=True, slots=True)
class Toll:
    """What came of it all: stays, and messages that the recorder received more than once."""

    stays: int
    interrupted: int
    messages: int
    repeated: int


def kill_again_and_again(folder: Path, broker: Broker, kills: int, seed: int) -> Toll:
    """Kill the process `kills` times with SIGKILL, let it end once, and compare journal, file and recorder."""
    chance = random.Random(seed)
    recorder = broker.record("neckyoke/larkmoor/crush/#", "-c")
    told: Counter[str] = Counter()
    for _ in range(kills):
        told.update(_life(folder, broker.url, kill_after=chance.randint(1, 120), late_s=chance.random() * 0.003))
    last = max(int(line.split()[1]) for line in told) + 20
    told.update(_life(folder, broker.url, last=last))

    with read_only(folder / "journal.db") as journal:
        events = [read_event(body) for _, body in journal.read(0, 10**7)]
        assert journal.kept("open-stay") == {}
    weighings = [event.data for event in events if isinstance(event.data, Weighing)]
    counted = Counter(weighing.number for weighing in weighings)
    assert set(counted.values()) == {1}, "a stay has one weighing"
    assert set(counted) == set(range(1, last + 1)), "every stay has a weighing"
    ended = {weighing.number for weighing in weighings if Flag.INTERRUPTED not in weighing.flags}
    assert {int(line.split()[1]) for line in told if line.startswith("ended")} <= ended, "what was told of stands"
    assert [int(event.sequence or 0) for event in events] == list(range(1, len(events) + 1))

    filed = _filed(folder)
    assert [event.id for event in filed] == [event.id for event in events], "the file has each event once, in order"

    ids = {event.id for event in events}

    def heard() -> list[Message]:
        """List what was received of the events, but for the last weighing as it stands, told again on connecting."""
        return [message for message in recorder.messages() if not message.topic.endswith("/last")]

    wait_until(lambda: {message.event["id"] for message in heard()} >= ids, "the recorder has them all")
    received = heard()
    repeated = Counter(message.event["id"] for message in received)
    assert set(repeated) == ids, "the recorder has the same set"
    first = dict.fromkeys(message.event["sequence"] for message in received)
    assert list(first) == sorted(first), "in order, but for repeats"
    return Toll(last, last - len(ended), len(received), len(received) - len(ids))


def _life(folder: Path, url: str, *, last: int = 10**9, kill_after: int = 0, late_s: float = 0.0) -> list[str]:
    """Let it live until it has told of `kill_after` things and a little longer; return what it told of."""
    lines = []
    with Forked("tests.support.killed", str(folder), url, str(last)) as process:
        assert process.stdout is not None
        for line in process.stdout:
            if line.endswith("\n"):  # else it was cut off by the kill
                lines.append(line.strip())
            if len(lines) == kill_after:
                threading.Timer(late_s, process.kill).start()
    assert process.returncode == (-9 if kill_after else 0)
    return lines


def _filed(folder: Path) -> list[Event]:
    paths = [*sorted(folder.glob("events-*.jsonl")), folder / "events.jsonl"]
    return [read_event(line) for path in paths for line in path.read_bytes().splitlines()]
