"""The journal on a real file: order, one transaction for what belongs together, retention, who may open it."""

import asyncio
import sqlite3
from collections.abc import Sequence
from pathlib import Path

import pytest

from neckyoke.bridge.events import Attention, Weighing, read_event
from neckyoke.bridge.journal.journal import RECENT, Journal, JournalError
from neckyoke.bridge.journal.reading import StoreError, read_only
from neckyoke.bridge.journal.store import SCHEMA_VERSION, Entry, Written, connect
from neckyoke.bridge.journal.writer import NOTED_S
from tests.support.events import DAY, link_state, weighed
from tests.support.running import run, until


def test_sequences_are_contiguous_in_the_order_of_the_calls(tmp_path: Path, no_leaks: None) -> None:
    async def write() -> None:
        journal = await Journal.open(tmp_path / "journal.db")
        written = [journal.submit([weighed(number), link_state(number)]) for number in range(100)]
        events = [event for future in written for event in await future]
        assert [event.sequence for event in events] == [f"{number:010d}" for number in range(1, 201)]
        rows = await journal.read(0, 1000)
        assert [(sequence, read_event(body)) for sequence, body in rows] == list(enumerate(events, 1))
        assert await journal.read(198, 1) == rows[198:199]
        await journal.close()

    run(write())


def test_who_lags_and_who_keeps_up_read_the_same(tmp_path: Path) -> None:
    """The latest events come from memory, earlier ones from the file: from any position, the same rows."""

    async def write() -> None:
        journal = await Journal.open(tmp_path / "journal.db")
        for number in range(3 * RECENT):
            await journal.append([weighed(number)])
            assert [sequence for sequence, _ in await journal.read(number, 9)] == [number + 1]
        for after in sorted({*range(0, 3 * RECENT + 1, 7), *range(2 * RECENT - 3, 2 * RECENT + 3)}):
            for limit in (1, 5, 1000):
                assert await journal.read(after, limit) == journal._writer._store.read(after, limit)
        await journal.close()

    run(write())


def test_what_arrives_while_the_card_is_busy_shares_one_transaction(tmp_path: Path) -> None:
    async def write() -> int:
        journal = await Journal.open(tmp_path / "journal.db")
        commits: list[int] = []
        commit = journal._writer._store.commit

        def counted(entries: Sequence[Entry], at: float | None) -> list[list[Written]]:
            commits.append(len(entries))
            return commit(entries, at)

        journal._writer._store.commit = counted  # type: ignore[method-assign]
        await asyncio.gather(*(journal.submit([weighed(number)]) for number in range(200)))
        await journal.close()
        return len(commits)

    assert run(write()) <= 2


def test_everything_is_there_after_reopening(tmp_path: Path) -> None:
    async def write() -> None:
        journal = await Journal.open(tmp_path / "journal.db", outlets=["farm"])
        await journal.append([weighed(1)], {"crush": "a stay"}, {"memory/crush": "{}", "gone": "x"})
        await journal.append((), {"race": "another"}, {"gone": None})
        await journal.append([weighed(2), link_state(9, "lost")], {"crush": None})
        await journal.set_position("farm", 2)
        await journal.close()

    async def read() -> None:
        journal = await Journal.open(tmp_path / "journal.db", outlets=["farm"])
        assert journal.open_stays == {"race": "another"}
        assert await journal.kept("value") == {"memory/crush": "{}"}
        assert journal.position("farm") == 2
        assert journal.position("new") == 0
        assert journal.last == 3
        links = await journal.kept("link")
        assert read_event(links["panel"]).sequence == "0000000003"
        assert (await journal.append([weighed(3)]))[0].sequence == "0000000004"
        await journal.close()

    run(write())
    run(read())


def test_how_far_an_outlet_got_is_the_furthest_that_was_said_and_outlives_a_stop(tmp_path: Path) -> None:
    async def write() -> None:
        journal = await Journal.open(tmp_path / "journal.db", outlets=["farm"])
        await journal.append([weighed(number) for number in range(5)])
        journal.note_position("farm", 2)
        assert (journal.position("farm"), journal.kept_position("farm")) == (2, 0)
        await journal.set_position("farm", 3)
        journal.note_position("farm", 4)
        assert (journal.position("farm"), journal.kept_position("farm")) == (4, 3)
        await journal.close()

    async def read() -> None:
        journal = await Journal.open(tmp_path / "journal.db", outlets=["farm"])
        assert (journal.position("farm"), journal.kept_position("farm")) == (4, 4)
        await journal.close()

    run(write())
    run(read())


def test_what_was_noted_is_written_with_what_comes_next_and_wakes_nobody_later(tmp_path: Path) -> None:
    async def write() -> None:
        loop = asyncio.get_running_loop()
        journal = await Journal.open(tmp_path / "journal.db", outlets=["farm"])
        journal.note_position("farm", 2)
        due = journal._writer._due
        assert due is not None
        assert 0 < due.when() - loop.time() <= NOTED_S
        journal.note_position("farm", 3)
        assert journal._writer._due is due, "it is written by then, however often more is noted"
        await journal.append([weighed(1)])
        assert journal.kept_position("farm") == 3
        assert due.cancelled()
        journal.note_position("farm", 4)
        assert journal._writer._due is not due
        await journal.close()

    run(write())


def test_closed_before_all_was_looked_through_it_leaves_nothing_running(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("neckyoke.bridge.journal.salvage.LOOKED_AT_FIRST", 0)
    monkeypatch.setattr("neckyoke.bridge.journal.journal.REST_S", 3600.0)
    said: list[Attention] = []

    async def stopped() -> None:
        journal = await Journal.open(tmp_path / "journal.db", say=said.append)
        await asyncio.sleep(0)  # it begins to look
        assert not journal.looked_through
        await journal.close()
        assert asyncio.all_tasks() == {asyncio.current_task()}

    async def begun() -> None:
        journal = await Journal.open(tmp_path / "journal.db")
        await journal.append([weighed(1)])
        await journal.close()

    run(begun())
    run(stopped())
    assert said == []


def test_a_stay_has_one_weighing_whatever_is_asked_twice(tmp_path: Path) -> None:
    async def write() -> None:
        journal = await Journal.open(tmp_path / "journal.db")
        first = await journal.append([weighed(1), weighed(1)])
        again = await journal.append([weighed(1), weighed(2)])
        assert [event.sequence for event in first + again] == ["0000000001", "0000000002"]
        assert journal.health.repeats == 2
        await journal.close()

    run(write())


def test_reports_get_the_latest_revision_by_tag_and_time(tmp_path: Path) -> None:
    async def ask() -> None:
        journal = await Journal.open(tmp_path / "journal.db")
        await journal.append([weighed(number) for number in range(5)])
        await journal.append([weighed(2, revision=2, kg=250.0), link_state(1), weighed(7, tag="999000000000001")])
        every = await journal.weighings()
        assert [(event.data.number, event.data.revision) for event in every] == [  # type: ignore[union-attr]
            *((0, 1), (1, 1), (2, 2), (3, 1), (4, 1), (7, 1))
        ]
        one = await journal.weighings(tag="999000000000001")
        assert [event.data.number for event in one] == [1, 7]  # type: ignore[union-attr]
        late = await journal.weighings(since=every[2].data.on, until=every[4].data.on)  # type: ignore[union-attr]
        assert [event.data.number for event in late] == [2, 3]  # type: ignore[union-attr]
        assert [event.data.number for event in await journal.weighings(limit=2)] == [4, 7]  # type: ignore[union-attr]
        await journal.close()

    run(ask())


def test_one_weighing_is_found_by_id_by_number_or_as_the_last_in_its_newest_revision(tmp_path: Path) -> None:
    """Numbers begin anew where a box has lost what it remembered: then the later one is meant."""

    async def ask() -> None:
        journal = await Journal.open(tmp_path / "journal.db")
        assert await journal.weighing("crush") is None
        await journal.append([weighed(1), weighed(2), weighed(1, run="later"), link_state(1)])
        await journal.append([weighed(2, revision=2), weighed(1, revision=2), weighed(1, revision=3)])
        old, new = weighed(1, revision=3).data, weighed(1, run="later").data
        assert isinstance(old, Weighing)
        assert await journal.weighing("crush", weighing=old.weighing) == old
        assert await journal.weighing("crush", number=1) == await journal.weighing("crush") == new
        assert await journal.weighing("crush", number=2) == weighed(2, revision=2).data
        assert await journal.weighing("crush", number=3) is None
        assert await journal.weighing("pen") is None
        assert await journal.weighing("pen", weighing=old.weighing) is None
        await journal.close()

    run(ask())


def test_who_follows_is_woken(tmp_path: Path) -> None:
    async def follow() -> None:
        journal = await Journal.open(tmp_path / "journal.db")
        waiting = asyncio.create_task(journal.beyond(0))
        await journal.append((), values={"a": "b"})
        assert not waiting.done()
        await journal.append([weighed(1)])
        assert await waiting == 1
        await journal.close()

    run(follow())


def test_age_and_size_delete_only_what_every_outlet_has_taken(tmp_path: Path) -> None:
    now = DAY.timestamp()

    said: list[Attention] = []

    async def fill(keep_days: float, keep_mb: float, positions: dict[str, int], wall: float | None) -> list[int]:
        journal = await Journal.open(
            tmp_path / "journal.db",
            outlets=positions,
            keep_days=keep_days,
            keep_mb=keep_mb,
            wall=lambda: wall,
            say=said.append,
        )
        for outlet, position in positions.items():
            await journal.set_position(outlet, position)
        await journal.append((), values={"a": "b"})
        await until(lambda: journal._pruned_at == journal.last, "retention has looked")
        rows = await journal.read(0, 10_000)
        await journal.close()
        return [sequence for sequence, _ in rows]

    async def write() -> None:
        journal = await Journal.open(tmp_path / "journal.db", wall=lambda: now)
        await journal.append([weighed(number) for number in range(2000)])
        await journal.close()

    run(write())
    assert run(fill(10, 500, {"a": 700, "b": 1500}, now + 86400))[0] == 1
    assert run(fill(10, 500, {"a": 700, "b": 1500}, None))[0] == 1
    assert run(fill(10, 500, {"a": 700, "b": 1500}, now + 11 * 86400))[0] == 701
    assert said == []
    assert run(fill(1000, 1.0, {"a": 900, "b": 2000}, now))[0] == 901  # far too large, but a lacks what comes after
    assert [one.about for one in said] == ["journal-large"]
    assert "for outlets that are behind: a." in said[0].text
    left = run(fill(1000, 1.0, {"a": 2000, "b": 2000}, now))
    assert left[-1] == 2000
    with read_only(tmp_path / "journal.db") as reading:
        assert reading.size() <= 1_000_000
    assert 100 < len(left) < 1100
    assert run(fill(0.1, 500, {"a": 2000, "b": 2000}, now + 12 * 86400)) == [2000]  # the last one keeps the count


def test_a_journal_that_is_too_large_says_so_once_and_when_it_is_not_any_more(tmp_path: Path) -> None:
    said: list[Attention] = []

    async def day() -> None:
        journal = await Journal.open(tmp_path / "journal.db", outlets=["farm"], keep_mb=0.2, say=said.append)
        await journal.append([weighed(number) for number in range(600)])
        await until(lambda: bool(said), "that it is too large")
        for position, over in ((100, False), (600, True)):
            journal._pruned_at = -1_000_000
            await journal.set_position("farm", position)
            await until(lambda: journal._pruned_at == journal.last, "retention has looked")
            assert said[-1].over is over
        await journal.close()

    run(day())
    assert [(one.about, one.over) for one in said] == [("journal-large", False), ("journal-large", True)]
    assert "is within keep_mb again" in said[-1].text


def test_a_second_daemon_is_refused(tmp_path: Path) -> None:
    async def twice() -> None:
        journal = await Journal.open(tmp_path / "journal.db")
        with pytest.raises(JournalError, match="another neckyoke has it open"):
            await Journal.open(tmp_path / "journal.db")
        await journal.close()
        await (await Journal.open(tmp_path / "journal.db")).close()

    run(twice())


def test_a_journal_of_a_later_version_is_left_alone(tmp_path: Path) -> None:
    connection = connect(tmp_path / "journal.db")
    connection.execute(f"pragma user_version = {SCHEMA_VERSION + 1}")
    connection.close()
    with pytest.raises(JournalError, match="later neckyoke"):
        run(Journal.open(tmp_path / "journal.db"))
    assert not list(tmp_path.glob("*.damaged*"))


def test_a_missing_folder_says_what_to_do(tmp_path: Path) -> None:
    with pytest.raises(JournalError, match="check that its folder is there"):
        run(Journal.open(tmp_path / "nowhere" / "journal.db"))


def test_it_can_be_read_while_the_daemon_runs_and_when_it_does_not(tmp_path: Path) -> None:
    path = tmp_path / "journal.db"
    with pytest.raises(StoreError, match="there is no journal"), read_only(path):
        pass

    async def both() -> None:
        journal = await Journal.open(path)
        await journal.append([weighed(1)])
        with read_only(path) as reading:
            assert len(reading.weighings()) == 1
        await journal.append([weighed(2)])
        await journal.close()

    run(both())
    before = path.read_bytes()
    with read_only(path) as reading:
        assert len(reading.weighings()) == 2
        with pytest.raises(sqlite3.OperationalError, match="readonly"):
            reading.rows("delete from event")
    assert path.read_bytes() == before
