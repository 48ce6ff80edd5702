"""How weighings and the animal on the platform look on a terminal: in the demo, and in `watch` over ssh."""

import shutil
import sys

from neckyoke.bridge.events import FLAG_TEXT, Attention, Event, Flag, LinkState, Settled, Weighing
from neckyoke.bridge.telling.plain import drawing, plain
from neckyoke.bridge.telling.status import PlatformView

BOLD, DIM, OFF = "\x1b[1m", "\x1b[2m", "\x1b[0m"

HEADER = f"{'no.':>4}  {'tag':<16}  {'weight':>9}  {'grade':<5}  {'pen':<8}  {'gain':>10}  remarks"

STATE_TEXT = {
    "empty": "platform empty",
    "arriving": "stepping on",
    "standing": "standing, not settled yet",
    "settled": "settled",
    "leaving": "stepping off",
}


def spaced(tag: str | None) -> str:
    """Spell a tag's digits for reading aloud: country, space, national code."""
    return f"{tag[:-12]} {tag[-12:]}" if tag else "no tag"


def row(weighing: Weighing) -> str:
    """Put one weighing on one line."""
    weight = weighing.weight
    kg = "—" if weight.kg is None else f"{weight.kg:.1f} kg"
    gain = weighing.gain
    per_day = f"{gain.kg_per_day:+.2f} kg/d" if gain and gain.kg_per_day is not None else ""
    remarks = [*(flag.value for flag in weighing.flags), *(f"“{note}”" for note in weighing.notes)]
    if weighing.revision > 1:
        remarks.append(f"amended: {weighing.why}")
    ear = (weighing.animal or {}).get("visual")
    tag = spaced(weighing.tag.id if weighing.tag else None) if weighing.tag or not ear else f"no tag, ear {ear}"
    return (
        f"{weighing.number:>4}  {tag:<16}  {kg:>9}  {weight.grade:<5}  {weighing.pen or '':<8}  {per_day:>10}  "
        + ", ".join(remarks)
    ).rstrip()


def line(event: Event) -> str | None:
    """Put an event on a line, or say None when it is nothing for a person's eye."""
    match event.data:
        case Weighing() as weighing:
            return row(weighing)
        case Attention(over=False) as attention:
            return f"   !  {attention.text}"
        case Attention() as attention:
            return f"   ·  over after {attention.lasted_s or 0:.0f} s: {attention.text}"
        case LinkState() as link:
            return f"   ·  {link.link}: {link.state}  {link.text}".rstrip()
        case _:
            return None


def now_line(view: PlatformView) -> str:
    """Return what stands on the platform and what to do next."""
    shown = "   —  " if view.kg is None else f"{view.kg:6.1f}"
    parts = [f"{shown} kg", STATE_TEXT[view.state]]
    if view.state in {"standing", "settled", "leaving"}:
        parts.append(spaced(view.tag))
    if view.next:
        parts.append(view.next)
    return "now   " + " · ".join(parts)


def advice(settled: Settled) -> str:
    """Return in one sentence whether the animal may go."""
    if settled.may_leave:
        pen = f" to pen {settled.pen}" if settled.pen else ""
        return f"Weighed: let it go{pen}."
    if not settled.missing:
        until = max((one.until or "a date not known" for one in settled.withheld), default="a date not known")
        return f"Keep it: withheld until {until}."
    return f"Keep it: {' and '.join(settled.missing)} missing."


def legend(flags: set[Flag]) -> list[str]:
    """Explain the flags that were shown in a sentence each."""
    return [f"{flag.value}: {FLAG_TEXT[flag]}" for flag in sorted(flags)]


class Screen:
    """A terminal with one line at the bottom that changes, and lines above it that stay.

    On anything but a terminal only the lines that stay are written.
    """

    def __init__(self) -> None:
        self._live = sys.stdout.isatty()
        self._shown = False

    def keep(self, text: str) -> None:
        """Write a line that stays."""
        self._clear()
        print(text, flush=True)

    def now(self, text: str) -> None:
        """Change the bottom line."""
        if self._live:
            self._clear()
            width = shutil.get_terminal_size().columns - 1
            out = drawing(sys.stdout)
            out.write(f"{BOLD}{plain(text)[:width]}{OFF}")
            out.flush()
            self._shown = True

    def _clear(self) -> None:
        if self._shown:
            drawing(sys.stdout).write("\r\x1b[K")
            self._shown = False
