"""A day of the journal with the power cut at any moment, and what must hold after each cut."""

import contextlib
import random
import tempfile
from dataclasses import dataclass
from pathlib import Path

import apsw

from neckyoke.bridge.events import read_event
from neckyoke.bridge.journal.salvage import open_store
from neckyoke.bridge.journal.store import Entry, Store
from tests.support.events import link_state, weighed
from tests.support.power import Tape, TapeSystem, lay_out


@dataclass(frozen=True, slots=True)
class Known:
    """What had been acknowledged when the tape had so many operations on it."""

    moment: int
    last: int
    position: int
    first: int
    stay: str | None


def day(commits: int, seed: int) -> tuple[Tape, list[Known]]:
    """Write events, positions, open stays and retention through our own statements, on tape."""
    chance = random.Random(seed)
    tape = Tape()
    system = TapeSystem(f"tape-{seed}", tape)
    known = [Known(0, 0, 0, 1, None)]
    with tempfile.TemporaryDirectory() as folder:
        connection = apsw.Connection(f"{folder}/journal.db", vfs=f"tape-{seed}")
        store = Store(connection)
        tape.sync_folder()  # as open_store does before anybody is told of the journal
        position, first, number = 0, 1, 0
        stay: str | None = None
        for _ in range(commits):
            entries = []
            for _ in range(chance.choice((1, 1, 1, 2, 5))):
                number += 1
                event = weighed(number) if chance.random() < 0.7 else link_state(number)
                stay = chance.choice((None, f"stay {number}"))
                position = max(position, chance.randint(0, store.last))
                entries.append(Entry((event,), {"crush": stay}, positions={"farm": position}))
            store.commit(entries, float(number))
            known.append(Known(len(tape.operations), store.last, position, first, stay))
            if chance.random() < 0.05:
                store.prune(floor=position, before=float(number - 100), keep_bytes=10**9)
                first = store.read(0, 1)[0][0]
                known.append(Known(len(tape.operations), store.last, position, first, stay))
        store.close()
    system.unregister()
    return tape, known


def check_cut(tape: Tape, known: list[Known], moment: int, chance: random.Random) -> None:
    """Cut the power at a moment and look at what is left: nothing acknowledged is lost, nothing torn is read."""
    before = max((one for one in known if one.moment <= moment), key=lambda one: one.moment)
    after = min((one for one in known if one.moment > moment), key=lambda one: one.moment, default=before)
    with tempfile.TemporaryDirectory(dir=in_memory()) as folder:
        lay_out(tape.cut(moment, chance), Path(folder))
        opened = open_store(Path(folder) / "journal.db", 0.0)
        with contextlib.closing(opened.store) as store:
            assert opened.damage is None, f"cut at {moment}: {opened.damage}"
            rows = store.read(0, 10**6)
            sequences = [sequence for sequence, _ in rows]
            assert before.last <= store.last <= after.last, f"cut at {moment}"
            assert sequences == list(range(store.last - len(rows) + 1, store.last + 1)), f"cut at {moment}"
            if before.last:
                assert sequences[0] <= after.first, f"cut at {moment}"
            for sequence, body in rows:
                assert int(read_event(body).sequence or 0) == sequence
            positions = store.kept("position")
            assert before.position <= int(positions.get("farm", 0)) <= after.position, f"cut at {moment}"
            assert store.kept("open-stay").get("crush") in {before.stay, after.stay}, f"cut at {moment}"
            (written,) = store.commit([Entry((weighed(10**6),))], None)[0]
            assert written.sequence == max(sequences, default=0) + 1


def in_memory() -> str | None:
    """Rebuild in memory where there is a file system in it: the syncs of what is only looked at cost nothing then."""
    return "/dev/shm" if Path("/dev/shm").is_dir() else None
