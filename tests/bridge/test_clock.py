"""The clock: a box without a battery, set in mid-stay, believed once, corrected afterwards."""

from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge import clock
from neckyoke.bridge.clock import (
    CORRECTIONS_KEPT,
    SURE_S,
    Corrections,
    Step,
    WallClock,
    boot_id,
    corrected,
    kernel_synchronised,
)
from neckyoke.bridge.events import Clock, Weighing
from tests.support.events import weighing

MORNING = datetime(2026, 11, 24, 2, 11, tzinfo=UTC).timestamp()


class Box:
    """A machine's clocks, to be turned by hand."""

    def __init__(self) -> None:
        self.up_s = 1000.0
        self.wall = MORNING
        self.synchronised: bool | None = False
        self.clock = WallClock(lambda: self.up_s, lambda: self.wall, lambda: self.synchronised)

    def run(self, seconds: float) -> None:
        self.up_s += seconds
        self.wall += seconds

    def spelled(self, t: float) -> str:
        return self.clock.stamp(t).time.isoformat()


def test_now_counts_from_the_run_and_no_step_moves_it() -> None:
    box = Box()
    assert box.clock.now() == 0.0
    box.run(5.0)
    box.wall += 86400
    assert box.clock.now() == 5.0


def test_a_stamp_is_wall_time_and_how_far_to_trust_it() -> None:
    box = Box()
    box.run(5.0)
    assert box.clock.stamp(5.0) == (datetime(2026, 11, 24, 2, 11, 5, tzinfo=UTC), Clock.UNSYNCHRONISED)
    assert box.clock.trusted() is None


@pytest.mark.parametrize("delta_s", [3600.0, -3600.0, 0.6, -0.6])
def test_a_step_is_told_once_and_later_stamps_follow_it(delta_s: float) -> None:
    box = Box()
    box.run(1.0)
    assert box.clock.sample() is None
    box.run(0.5)
    box.wall += delta_s
    box.run(0.5)
    step = box.clock.sample()
    assert step is not None
    assert step.delta_s == pytest.approx(delta_s)
    assert box.clock.sample() is None
    assert box.clock.steps == 1
    assert box.clock.stamp(2.0).time.timestamp() == pytest.approx(MORNING + 2.0 + delta_s)


def test_slewing_is_no_step_however_long_it_goes_on() -> None:
    """The kernel slews by at most 500 parts in a million (adjtime(3)); here a whole minute is taken away so."""
    box = Box()
    for _ in range(120_000):
        box.run(1.0)
        box.wall -= 0.0005
        assert box.clock.sample() is None
    assert box.clock.stamp(120_000.0).time.timestamp() == pytest.approx(MORNING + 120_000 - 60)


def test_a_step_in_mid_stay_moves_the_stay_and_does_not_stretch_it() -> None:
    box = Box()
    box.run(10.0)
    box.clock.sample()
    box.wall += 7200.0
    box.run(10.0)
    box.clock.sample()
    on, off = (box.clock.stamp(t).time for t in (5.0, 17.0))
    assert off - on == timedelta(seconds=12)


def test_the_kernels_word_stands_for_the_run() -> None:
    """Offline, the kernel takes its word back after hours; the clock is no worse for that than a crystal is."""
    box = Box()
    box.synchronised = True
    box.run(1.0)
    box.clock.sample()
    assert box.clock.state is Clock.SYNCHRONISED
    assert box.clock.trusted() == MORNING + 1.0
    box.synchronised = False
    box.clock.sample()
    assert box.clock.state is Clock.SYNCHRONISED


def test_a_leap_of_a_believed_clock_is_doubted_until_it_is_back_where_it_was() -> None:
    box = Box()
    box.synchronised = True
    box.run(1.0)
    box.clock.sample()
    states = []
    for leap in (315_360_000.0, 0.0, 30.0, 0.0, -315_360_000.0, 0.0):  # ten years ahead, and put right
        box.wall += leap
        box.run(60.0)
        box.clock.sample()
        states.append(box.clock.state)
        assert (box.clock.trusted() is None) == (box.clock.state is not Clock.SYNCHRONISED)
    assert states == [Clock.UNSYNCHRONISED] * 4 + [Clock.SYNCHRONISED] * 2


def test_a_leap_that_stands_is_believed_in_the_end_where_the_kernel_says_so() -> None:
    box = Box()
    box.synchronised = True
    box.run(1.0)
    box.clock.sample()
    box.wall -= 86_400.0
    box.synchronised = False
    seen = []
    for _ in range(int(SURE_S / 60) + 2):
        box.run(60.0)
        box.clock.sample()
        seen.append(box.clock.state)
    assert set(seen) == {Clock.UNSYNCHRONISED}, "the kernel does not say so"
    box.synchronised = True
    box.run(1.0)
    box.clock.sample()
    assert box.clock.state is Clock.SYNCHRONISED


def test_what_was_weighed_during_a_leap_waits_and_is_put_right() -> None:
    box = Box()
    box.synchronised = True
    waiting = Corrections("boot-1")
    box.run(1.0)
    box.clock.sample()
    box.wall += 315_360_000.0
    box.run(1.0)
    box.clock.sample()
    waiting.note(weighing(1).model_copy(update={"clock": box.clock.state}), box.clock.offset)
    box.wall -= 315_360_000.0
    box.run(1.0)
    box.clock.sample()
    (amended,) = waiting.settle(box.clock.offset, box.up_s)
    assert box.clock.state is Clock.SYNCHRONISED
    assert amended.after.on - amended.before.on == timedelta(seconds=-315_360_000)


def test_what_cannot_be_told_is_unknown() -> None:
    box = Box()
    box.synchronised = None
    box.clock.sample()
    assert box.clock.state is Clock.UNKNOWN


def test_the_kernel_answers(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """On this machine, and where the call is forbidden: then systemd's mark tells, or nothing does."""
    assert kernel_synchronised() in {True, False}

    def forbidden(*_: object, **__: object) -> None:
        raise OSError(1, "Operation not permitted")

    monkeypatch.setattr("ctypes.CDLL", forbidden)
    monkeypatch.setattr(clock, "TIMESYNC_MARK", tmp_path / "synchronized")
    assert kernel_synchronised() is None
    (tmp_path / "synchronized").touch()
    assert kernel_synchronised() is True


def test_a_boot_has_a_name(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    assert boot_id() == boot_id() != "unknown"
    monkeypatch.setattr(clock, "BOOT_ID", tmp_path / "none")
    assert boot_id() == "unknown"


def unsynchronised(number: int, revision: int = 1) -> Weighing:
    return weighing(number, revision=revision).model_copy(update={"clock": Clock.UNSYNCHRONISED})


@given(delta_s=st.floats(-1e9, 1e9))
def test_a_correction_moves_every_time_by_the_same_and_nothing_else(delta_s: float) -> None:
    before = unsynchronised(3)
    after = corrected(before, delta_s, before.on, 1e6).after
    moved = timedelta(seconds=delta_s)
    for earlier, later in ((before.on, after.on), (before.settled, after.settled), (before.off, after.off)):
        assert earlier is not None
        assert later == earlier + moved
    assert (after.clock, after.revision) == (Clock.SYNCHRONISED, 2)
    same = {"weighing", "station", "number", "tag", "weight", "flags", "notes", "final"}
    assert after.model_dump(include=same) == before.model_dump(include=same)
    assert after.why is not None


def test_what_was_published_unsynchronised_is_amended_when_the_clock_is_known() -> None:
    box = Box()
    waiting = Corrections("boot-1")
    waiting.note(unsynchronised(1), box.clock.offset)
    waiting.note(unsynchronised(2), box.clock.offset)
    waiting.note(unsynchronised(2, revision=2), box.clock.offset)
    waiting.note(weighing(3), box.clock.offset)
    assert len(waiting) == 2
    box.wall += 3600.0
    box.run(1.0)
    assert box.clock.sample() == Step(3600.0)
    kept = {name: body for name, body in waiting.changes().items() if body is not None}
    amended = waiting.settle(box.clock.offset, box.up_s)
    assert [(one.number, one.revision, one.on - weighing(one.number).on) for _, one, _ in amended] == [
        (1, 2, timedelta(hours=1)),
        (2, 3, timedelta(hours=1)),
    ]
    assert len(waiting) == 0
    assert (
        Corrections("boot-1", kept).settle(box.clock.offset, box.up_s) == amended
    )  # a restart in between forgets nothing
    assert len(Corrections("boot-2", kept)) == 0  # another boot's monotonic time means nothing here
    assert len(Corrections("unknown", {**kept, "unclocked/boot": "unknown"})) == 0
    assert set(waiting.changes()) == set(Corrections("boot-2", kept).changes()) - {"unclocked/boot"}  # all taken out


def test_an_amendment_without_new_times_is_corrected_by_the_offset_that_they_were_made_with() -> None:
    """A person's note on a weighing of before the clock was moved does not make its times anew."""
    waiting = Corrections("boot-1")
    waiting.note(unsynchronised(1), 100.0)
    waiting.note(unsynchronised(1, revision=2), 160.0)
    (amended,) = waiting.settle(220.0, 1e9)
    assert amended.after.on - weighing(1).on == timedelta(minutes=2)


def test_a_later_revision_of_a_weighing_of_another_boot_does_not_wait() -> None:
    waiting = Corrections("boot-2")
    waiting.note(unsynchronised(1, revision=2), 100.0)
    assert len(waiting) == 0


def test_a_shed_that_is_never_online_costs_the_same_for_every_weighing() -> None:
    waiting = Corrections("boot-1")
    waiting.changes()
    sizes = []
    for number in range(CORRECTIONS_KEPT + 200):
        waiting.note(unsynchronised(number), 0.0)
        sizes.append(sum(len(name) + len(body or "") for name, body in waiting.changes().items()))
    assert len(waiting) == CORRECTIONS_KEPT
    assert max(sizes) < 1.2 * sizes[0]
