"""A day in the yards from one seed: who stood on the platform when, and every byte the devices sent.

    yard = Yard.named("typical", seed=7, animals=200)
    yard.truth          one `Stay` for each time an animal stood there, in order
    yard.others         what else touched the platform
    yard.scraped        when somebody scraped it clean
    yard.reads          (t, link, tag) without a byte spelt: enough to try pairing
    yard.shown()        what the indicator displays, without a byte spelt: enough to try weighing
    yard.items()        (t, link, bytes) in order of time; empty bytes: the link hung up, or came back
    yard.write_capture(path)

Everything is drawn from the seed by named streams, so that the same seed gives the same day on every machine, and a
change of one reader leaves the animals as they were.
"""

import heapq
import random
from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import datetime
from functools import cached_property
from operator import itemgetter
from pathlib import Path

from neckyoke.simulators.capture import Item, write_capture
from neckyoke.simulators.crush.hearing import Heard, Passing, listen
from neckyoke.simulators.crush.indicator import Shown
from neckyoke.simulators.crush.walk import Animal, Force, Stay, Touch, Walk
from neckyoke.simulators.scenario import Scenario
from neckyoke.simulators.scenarios import SCENARIOS
from neckyoke.simulators.spelling.frames import SHAPES
from neckyoke.simulators.spelling.tags import SPELLINGS, Tag

__all__ = ["Animal", "Force", "Stay", "Touch", "Yard"]


class Yard:
    """One day.  See the module."""

    def __init__(self, scenario: Scenario, seed: int = 1, animals: int = 40) -> None:
        self.scenario, self.seed = scenario, seed
        walk = Walk(scenario, animals, self._stream)
        self.mob, self.others, self.scraped, self.end_t = walk.mob, walk.others, walk.scraped, walk.end_t
        self._stays, self._visits = walk.stays, walk.visits

    @classmethod
    def named(cls, name: str, seed: int = 1, animals: int = 40) -> "Yard":
        """Make a yard of a named scenario; KeyError tells the names there are."""
        if name not in SCENARIOS:
            raise KeyError(f"no scenario {name!r}; there are: {', '.join(sorted(SCENARIOS))}")
        return cls(SCENARIOS[name], seed, animals)

    def _stream(self, *names: object) -> random.Random:
        """Return a random stream of its own: seeding by text is the same on every machine and in every process."""
        return random.Random("/".join(map(str, (self.seed, *names))))

    # ---- what the readers hear

    @cached_property
    def _heard(self) -> list[Heard]:
        passings = [
            Passing(
                stay.tag if stay.works else None, stay.on_t, stay.all_on_t, stay.leave_t, stay.off_t, stay.came_back
            )
            for stay in self._stays
        ]
        strays = _strays(self.mob, self._stream("strays"))
        return [
            listen(hearing, passings, strays, self._stream("reader", hearing.link)) for hearing in self.scenario.readers
        ]

    @cached_property
    def reads(self) -> list[tuple[float, str, str]]:
        """Every tag read as (t, link, fifteen digits), in order of time, without those lost in an outage."""
        return sorted(
            (t, hearing.link, tag)
            for hearing, heard in zip(self.scenario.readers, self._heard, strict=True)
            for t, tag in heard.reads
            if not any(start <= t < start + length for start, length in hearing.outages)
        )

    @cached_property
    def truth(self) -> list[Stay]:
        """Every stay, with what the readers heard of it."""
        times = [t for t, _, _ in self.reads]
        return [self._with_reads(n, stay, times) for n, stay in enumerate(self._stays)]

    def _with_reads(self, n: int, stay: Stay, times: Sequence[float]) -> Stay:
        own = 0
        for hearing, heard in zip(self.scenario.readers, self._heard, strict=True):
            if (window := heard.own[n]) is not None:
                near = self.reads[bisect_left(times, window[0]) : bisect_right(times, window[1])]
                own += sum(link == hearing.link and tag == stay.tag for _, link, tag in near)
        during = self.reads[bisect_left(times, stay.on_t) : bisect_right(times, stay.off_t)]
        others = {tag: None for _, _, tag in during if tag != stay.tag}
        return replace(stay, own_reads=own, others=tuple(others))

    @cached_property
    def overtaken(self) -> frozenset[int]:
        """Numbers of the stays whose animals did not come past the one reader, ahead, in their turn.

        Who reads the order of the tags, and nothing else, cannot know of them.
        """
        (heard,) = self._heard
        came = sorted((window[0], n) for n, window in enumerate(heard.own, 1) if window is not None)
        turns = sorted(n for _, n in came)
        return frozenset(turn for (_, n), turn in zip(came, turns, strict=True) if n != turn)

    # ---- what the devices send

    def force(self) -> "Force":
        """Return the force on the platform, to be asked for in order of time."""
        return Force(self._visits, self.others, self.scraped)

    def shown(self) -> Iterator[Shown]:
        """Yield what the indicator displays."""
        indicator = replace(self.scenario.indicator, seed=self._stream("indicator").getrandbits(32))
        return indicator.samples(self.force(), 0.0, self.end_t)

    def weights(self) -> Iterator[Item]:
        """Yield the indicator's frames."""
        spell, style, link = SHAPES[self.scenario.shape], self.scenario.style, self.scenario.scale
        return ((shown.t, link, spell(shown, style)) for shown in self.shown())

    def tags(self) -> Iterator[Item]:
        """Yield the readers' lines, and an empty one where a link hangs up and where it comes back."""
        spell = {hearing.link: SPELLINGS[hearing.spelling] for hearing in self.scenario.readers}
        states = [
            (t, hearing.link, b"")
            for hearing in self.scenario.readers
            for start, length in hearing.outages
            for t in (start, start + length)
            if start < self.end_t
        ]
        known: dict[str, Tag] = {}
        lines = (
            (t, link, spell[link](known.setdefault(tag, Tag(int(tag[3:]), int(tag[:3])))))
            for t, link, tag in self.reads
        )
        return heapq.merge(sorted(states), lines, key=itemgetter(0))

    def items(self) -> Iterator[Item]:
        """Yield all that the devices send, in order of time."""
        return heapq.merge(self.weights(), self.tags(), key=itemgetter(0))

    def write_capture(self, path: Path, site: str = "larkmoor", started: datetime | None = None) -> None:
        """Write the day as a capture file."""
        write_capture(path, self.items(), site, started)


def _strays(mob: Sequence[Animal], rng: random.Random) -> list[str]:
    """Return tags that may be heard from the adjoining pen: strangers, and a few of the mob."""
    strangers = [str(Tag(rng.randrange(10_000_000, 11_000_000))) for _ in range(20)]
    return strangers + [str(animal.tag) for animal in mob[:: max(1, len(mob) // 10)] if animal.tag and animal.works]
