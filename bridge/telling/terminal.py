"""How weighings and the animal on the platform look on a terminal: in the demo, and in `watch` over ssh."""

import shutil
import sys
import textwrap

from neckyoke.bridge.events import FLAG_TEXT, Attention, Event, Flag, JobState, LinkState, Settled, Weighing
from neckyoke.bridge.telling.plain import drawing, plain
from neckyoke.bridge.telling.status import PlatformView

BOLD, DIM, OFF = "\x1b[1m", "\x1b[2m", "\x1b[0m"

INDENT = " " * 6
AMENDED = "a weighing of it was amended"
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
    number = f"({weighing.number})" if Flag.PAUSED in weighing.flags else weighing.job_number or weighing.number
    return (
        f"{number:>4}  {tag:<16}  {kg:>9}  {weight.grade:<5}  {weighing.pen or '':<8}  {per_day:>10}  "
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


def job_line(event: Event) -> str | None:
    """Tell what became of a job on a line; None for any other event, and for figures of it that were amended."""
    job = event.data
    if not isinstance(job, JobState) or (job.state == "ended" and job.why == AMENDED):
        return None
    tally = f", {job.tally.animals} animal{'' if job.tally.animals == 1 else 's'}" if job.tally else ""
    return f"   ·  {job.station}: job {job.turn}, {job.sheet or 'no sheet'}, is {job.state}{tally}: {job.why}"


class Now:
    """What stands on each platform: live, and from when it has settled with all that was decided by that weight."""

    def __init__(self) -> None:
        self._settled: dict[str, Settled] = {}

    def take(self, event: Event) -> None:
        """Take an event; all but a settled weight is passed over."""
        if isinstance(event.data, Settled):
            self._settled[event.data.station] = event.data

    def line(self, view: PlatformView) -> str:
        """Return what stands on a platform, and what to do next."""
        settled = self._settled.get(view.station)
        if settled is None or view.state not in {"settled", "leaving"} or settled.weighing != view.weighing:
            return now_line(view)
        return settled_line(settled, view.next or advice(settled))


def settled_line(settled: Settled, todo: str) -> str:
    """Return the weight that an animal has settled at, and what follows from it: pen, doses, until when withheld."""
    weight, ear = settled.weight, (settled.animal or {}).get("visual")
    given = [one for one in settled.treatments if not one.skipped]
    doses = [one.name if one.amount is None else f"{one.name} {one.amount:g} {one.unit or 'mL'}" for one in given]
    until = [one.withheld_until for one in given if one.withheld_until]
    parts = [
        f"{weight.kg:6.1f} kg" if weight.kg is not None else "no weight",
        weight.grade,
        f"ear {ear}" if ear else spaced(settled.tag.id if settled.tag else None),
        *([f"pen {settled.pen}"] if settled.pen else []),
        *doses,
        *([f"withheld until {'not known' if 'unknown' in until else max(until)}"] if until else []),
        todo,
    ]
    return "now   " + " · ".join(parts)


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
    again = settled.maybe_same if any(one.skipped and one.given_before for one in settled.treatments) else None
    if again is not None and not settled.missing:
        return f"Hold it: it may be number {again.number} again.  Look, and tell give, or tell skip."
    if not settled.missing:
        until = max((one.until or "a date not known" for one in settled.withheld), default="a date not known")
        return f"Hold it: withheld until {until}."
    return f"Hold it: {' and '.join(settled.missing)} missing."


def legend(flags: set[Flag]) -> list[str]:
    """Explain the flags that were shown in a sentence each."""
    return [f"{flag.value}: {FLAG_TEXT[flag]}" for flag in sorted(flags)]


class Screen:
    """A terminal with a line at the bottom that changes, or a few where it is long, and lines above that stay.

    On anything but a terminal only the lines that stay are written.
    """

    def __init__(self) -> None:
        self._live = sys.stdout.isatty()
        self._shown = 0

    def keep(self, text: str) -> None:
        """Write a line that stays."""
        self._clear()
        print(text, flush=True)

    def now(self, text: str) -> None:
        """Change the bottom line; what does not fit goes on in the next."""
        if self._live:
            self._clear()
            width = max(20, shutil.get_terminal_size().columns - 1)
            lines = textwrap.wrap(plain(text), width, subsequent_indent=INDENT, break_on_hyphens=False) or [""]
            out = drawing(sys.stdout)
            out.write("\n".join(f"{BOLD}{one}{OFF}" for one in lines))
            out.flush()
            self._shown = len(lines)

    def _clear(self) -> None:
        if self._shown:
            drawing(sys.stdout).write("\r\x1b[K" + "\x1b[A\x1b[K" * (self._shown - 1))
            self._shown = 0
