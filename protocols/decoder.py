"""One link's decoder: framing and layout joined, bytes in, outcomes out.

`scale_decoder` and `tag_decoder` make one.  A fresh decoder takes what it is fed to begin at a frame's start.  Whoever
opens a link calls `reset()`, for the device may be in mid-frame: what was pending is dropped, and so is, for a scale, a
first frame whose start was not seen, since `00.0kg` cut from `+00500.0kg` looks whole.  A scale sends the next one
soon.  A reader does not, but its codes prove themselves by their length: there the first frame is kept if it is a code.
"""

from collections.abc import Callable, Mapping
from types import MappingProxyType
from typing import TypeAlias

from neckyoke.protocols.framing.framer import STX, Framing, LayoutError, Piece, make_framer
from neckyoke.protocols.readings import Outcome, Reject, RejectReason, TagRead, WeightReading
from neckyoke.protocols.scale import ble as gatt
from neckyoke.protocols.scale.builtin import find_layout
from neckyoke.protocols.scale.freeform import FreeForm
from neckyoke.protocols.scale.layout import Layout, LayoutReader, Parity
from neckyoke.protocols.scale.parity import BAD, strip_table
from neckyoke.protocols.scale.table import check_fixed
from neckyoke.protocols.tagcode import HexOrder
from neckyoke.protocols.tags.lines import decode_tag_line
from neckyoke.protocols.tags.module_frame import ModuleFramer

__all__ = ["Decoder", "LayoutError", "scale_decoder", "tag_decoder"]

Read: TypeAlias = Callable[[bytes, str | None], Outcome]


class Decoder:
    """Framing and layout of one link."""

    def __init__(
        self,
        framing: Framing,
        read: Read,
        *,
        read_partial: Read | None = None,
        parity: Parity | None = None,
    ) -> None:
        self._framing = framing
        self._read = read if parity is None else _refuse_bad_parity(read)
        self._read_partial = read_partial
        self._strip = strip_table(parity) if parity else None
        self._unit: str | None = None

    def reset(self) -> None:
        """Begin anew: the link was opened, and its first bytes may be the middle of a frame."""
        self._framing.reset()
        self._unit = None

    def feed(self, data: bytes) -> list[Outcome]:
        """Take the next bytes; return the outcomes they complete, in order.  Never raises on what a device sends."""
        if self._strip:
            data = data.translate(self._strip)
        outcomes = map(self._outcome, self._framing.feed(data))
        return [outcome for outcome in outcomes if outcome is not None]

    def _outcome(self, piece: Piece) -> Outcome | None:
        """Return what a piece is; None for a first frame that may have been cut."""
        if type(piece) is bytes:
            return self._read_one(piece)
        return piece if isinstance(piece, Reject) else self._partial(bytes(piece))

    def _read_one(self, frame: bytes) -> Outcome:
        """Read one frame, and put its unit in force: frames that leave theirs blank now mean this one."""
        outcome = self._read(frame, self._unit)
        if type(outcome) is WeightReading:
            self._unit = outcome.unit
        return outcome

    def _partial(self, frame: bytes) -> Outcome | None:
        """Read a first frame whose start was not seen: a partial one is no error, so what is no code is nothing."""
        outcome = self._read_partial(frame, self._unit) if self._read_partial else None
        return outcome if isinstance(outcome, TagRead) else None


def _refuse_bad_parity(read: Read) -> Read:
    def careful(frame: bytes, unit: str | None) -> Outcome:
        return Reject.of(RejectReason.BAD_PARITY, frame) if BAD in frame else read(frame, unit)

    return careful


def _free_form(framing: Framing) -> Decoder:
    """Read free-form frames, and the lines a Bluetooth link makes of the weight scale service's measurements."""
    free = FreeForm()

    def read(frame: bytes, unit: str | None) -> Outcome:
        return gatt.decode_weight_line(frame) if frame.startswith(gatt.LINE) else free.decode(frame, unit)

    return Decoder(framing, read)


def scale_decoder(
    layout: str = "auto",
    framing: str | None = None,
    layouts: Mapping[str, Layout] = MappingProxyType({}),
) -> Decoder:
    """Make the decoder of a scale.  `layouts` are the user's own.  Raises LayoutError that says what would be right."""
    if layout == "auto" and "auto" not in layouts:
        if framing and framing.startswith("fixed"):
            raise LayoutError(f"framing {framing!r} needs a layout of its own, which says how a frame begins")
        return _free_form(make_framer(framing or "auto"))
    if layout == gatt.LAYOUT and gatt.LAYOUT not in layouts:
        return Decoder(make_framer("line"), gatt.decode_weight_line)
    chosen = find_layout(layout, layouts)
    check_fixed(chosen, framing or "auto")
    reader = LayoutReader(chosen)

    def accept(frame: bytes) -> bool:
        return isinstance(reader.decode(frame, "kg"), WeightReading)

    framer = make_framer(framing or chosen.framing, accept)
    return Decoder(framer, reader.decode, parity=chosen.parity)


def tag_decoder(framing: str | None = None, hex_order: HexOrder = "value") -> Decoder:
    """Make the decoder of a tag reader.  Raises LayoutError that says what would be right.

    With `fixed:N`, frames are those N bytes that begin with STX and make a tag's code.
    """

    def read(frame: bytes, _unit: str | None) -> Outcome:
        return decode_tag_line(frame, hex_order)

    def read_partial(frame: bytes, _unit: str | None) -> Outcome:
        return decode_tag_line(frame, hex_order, whole=False)

    def accept(frame: bytes) -> bool:
        return frame[:1] == STX and isinstance(read(frame, None), TagRead)

    chosen = ModuleFramer() if framing in {None, "auto"} else make_framer(framing, accept)
    return Decoder(chosen, read, read_partial=read_partial)
