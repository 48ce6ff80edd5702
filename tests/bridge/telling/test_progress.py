"""How far something long is: on a terminal and in its own time, nowhere else."""

import asyncio
import io
import itertools

import pytest

from neckyoke.bridge.telling.progress import Progress
from tests.support.running import run


class Terminal(io.StringIO):
    def isatty(self) -> bool:
        return True


def shown(out: io.StringIO, steps: list[tuple[float, int]], of: int | None = None) -> str:
    clock = [0.0]
    progress = Progress("copying", out, lambda: clock[0])
    for now, done in steps:
        clock[0] = now
        progress(done, of)
    progress.end()
    return out.getvalue()


def test_a_pipe_hears_nothing() -> None:
    assert shown(io.StringIO(), [(1.0, 10), (60.0, 50)], 100) == ""


def test_what_ends_soon_shows_nothing_and_leaves_nothing() -> None:
    assert shown(Terminal(), [(0.5, 10), (1.9, 99)], 100) == ""


def test_from_the_third_second_on_it_says_how_far_at_most_five_times_a_second() -> None:
    steps = [(2.0 + n / 100, n) for n in range(100)]
    said = shown(Terminal(), steps, 200).split("\r\x1b[K")

    assert said[1:3] == ["copying: 0 %", "copying: 10 %"]
    assert len(said) == 7
    assert said[-1] == "", "the line is taken away"


def test_what_has_no_known_end_is_counted() -> None:
    out = Terminal()
    assert list(Progress("reading", out, iter([0.0, *(3.0 + n for n in range(9))]).__next__).along("abc")) == [*"abc"]
    assert "reading: 3" in out.getvalue()


class Watched(Terminal):
    """A terminal that tells when a word has been written."""

    def __init__(self, word: str) -> None:
        super().__init__()
        self._word, self.seen = word, asyncio.Event()

    def write(self, text: str) -> int:
        if self._word in text:
            self.seen.set()
        return super().write(text)


def test_what_is_waited_for_tells_how_much_of_its_time_has_gone_by() -> None:
    seconds = itertools.count()  # a second goes by whenever it looks at the clock

    async def wait() -> str:
        out = Watched("listening: 100 %")
        assert await Progress("listening", out, lambda: float(next(seconds))).while_waiting(out.seen.wait(), 20.0)
        return out.getvalue()

    said = run(wait())
    assert "listening: 15 %" in said
    assert said.endswith("\r\x1b[K"), "the line is taken away"


def test_what_goes_wrong_while_waited_for_goes_wrong_as_it_would_alone() -> None:
    async def fail() -> None:
        raise ConnectionError("gone")

    with pytest.raises(ConnectionError, match="gone"):
        run(Progress("listening", Terminal()).while_waiting(fail(), 20.0))
