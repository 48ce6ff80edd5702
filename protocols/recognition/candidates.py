"""Every decoder tried on one sample: what share of the sample's frames each of them reads."""

import re
from collections import Counter
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from functools import lru_cache
from statistics import fmean
from typing import Final

from neckyoke.protocols.framing.framer import Framing, PartialFrame, Piece, make_framer
from neckyoke.protocols.readings import Outcome, Reject, TagRead, WeightReading
from neckyoke.protocols.scale.builtin import BUILT_IN
from neckyoke.protocols.scale.freeform import FreeForm
from neckyoke.protocols.scale.layout import Layout, LayoutReader
from neckyoke.protocols.tagcode import HexOrder
from neckyoke.protocols.tags.lines import decode_tag_line
from neckyoke.protocols.tags.module_frame import ModuleFramer

AUTO: Final = "auto"
FITS: Final = 0.97
"""Survival a decoder must reach: that of a line which damages three bytes in a hundred."""
LEAST: Final = 0.2
"""Share of frames it must read in any case."""
HANDICAP: Final = 0.02
"""How much of its survival `auto` gives up: it reads damaged frames that a layout refuses, and says less of them."""

_NAMED: Final = re.compile(
    rb"(?P<sign>[+-]?) *(?P<value>[0-9]+(?:[.,][0-9]+)?|\.[0-9]+) *(?P<unit>kg|lb|g|t)?", re.IGNORECASE
)
"""Where the free-form layout finds its number and unit."""


@dataclass(frozen=True, slots=True)
class Trial:
    """What one decoder made of a sample: frame by frame, its outcome.  A frame never cut out is empty."""

    name: str
    frames: tuple[tuple[bytes, Outcome], ...]
    pattern: re.Pattern[bytes] | None = None
    hex_order: HexOrder = "value"
    layout: Layout | None = None

    @property
    def readings(self) -> list[WeightReading]:
        """The weights read."""
        return [outcome for _, outcome in self.frames if isinstance(outcome, WeightReading)]

    @property
    def tags(self) -> list[TagRead]:
        """The tags read."""
        return [outcome for _, outcome in self.frames if isinstance(outcome, TagRead)]

    @property
    def share(self) -> float:
        """Share of the frames that were read; 0 when there are none."""
        read = sum(not isinstance(outcome, Reject) for _, outcome in self.frames)
        return read / len(self.frames) if self.frames else 0.0

    @property
    def survival(self) -> float:
        """Share of bytes that would have to come undamaged to read as many frames: comparable whatever their length.

        A decoder that fits loses only damaged frames, and the longer a frame the likelier a byte of it is damaged.
        """
        lengths = [len(frame) for frame, _ in self.frames if frame]
        return self.share ** (1 / fmean(lengths)) if lengths else 0.0

    def example(self) -> bytes:
        """Return a frame that was read: the commonest."""
        read = Counter(frame for frame, outcome in self.frames if not isinstance(outcome, Reject))
        return read.most_common(1)[0][0] if read else b""


def fits(trial: Trial) -> bool:
    """Return whether a decoder reads all that came undamaged."""
    return trial.survival >= FITS and trial.share >= LEAST


def try_layout(sample: bytes, layout: Layout) -> Trial:
    """Read the sample by one layout."""
    reader = LayoutReader(layout)

    def accept(frame: bytes) -> bool:
        return isinstance(reader.decode(frame, "kg"), WeightReading)

    if layout.framing.startswith("fixed"):  # only there it matters what a frame says
        pieces = tuple(_cut(sample, make_framer(layout.framing, accept)))
    else:
        pieces = _cut_alike(sample, layout.framing)
    return Trial(layout.name, tuple(_run(pieces, reader.decode)), layout.pattern, layout=layout)


def try_auto(sample: bytes) -> Trial:
    """Read the sample by the free-form layout."""
    return Trial(AUTO, tuple(_run(_cut_alike(sample, "auto"), FreeForm().decode)), _NAMED)


def try_tags(sample: bytes, order: HexOrder) -> Trial:
    """Read the sample as a tag reader's."""
    read = _run(_cut(sample, ModuleFramer()), lambda frame, _: decode_tag_line(frame, order))
    return Trial("tags", tuple(read), hex_order=order)


def try_all(sample: bytes) -> list[Trial]:
    """Read the sample by everything built in; the best first, `auto` behind a layout that reads nearly as much."""
    trials = [try_layout(sample, layout) for layout in BUILT_IN.values()]
    trials += [try_auto(sample), try_tags(sample, "value")]
    return sorted(trials, key=lambda trial: (trial.name == AUTO) * HANDICAP - trial.survival)


def _cut(sample: bytes, framer: Framing) -> list[Piece]:
    framer.reset()
    return framer.feed(sample)


@lru_cache(maxsize=2)
def _cut_alike(sample: bytes, framing: str) -> tuple[Piece, ...]:
    """Cut a sample once for all the layouts that are framed alike: most are tried on it one after the other."""
    return tuple(_cut(sample, make_framer(framing)))


def _run(pieces: Iterable[Piece], read: Callable[[bytes, str | None], Outcome]) -> Iterator[tuple[bytes, Outcome]]:
    unit: str | None = None
    for piece in pieces:
        if isinstance(piece, Reject):
            yield b"", piece
        elif not isinstance(piece, PartialFrame):
            outcome = read(piece, unit)
            if isinstance(outcome, WeightReading):
                unit = outcome.unit
            yield piece, outcome
