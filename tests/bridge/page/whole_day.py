"""What a whole day by touch is made of: the mob and its roster, and the crush as it is led through the day."""

from collections.abc import Iterator
from pathlib import Path

from neckyoke.bridge.events import Weighing
from neckyoke.bridge.telling.status import PlatformView
from neckyoke.simulators.yard import Yard
from tests.bridge.page.browser import SAVES
from tests.bridge.page.shed import Shed
from tests.bridge.page.touching import Finger

CALM = Yard.named("calm", seed=5, animals=22)
TAGS = [stay.tag or "" for stay in CALM.truth]
UNTAGGED, LOST, PERSON = 5, 6, 8
"""Stays, from 0: one wears no tag, one another tag than the roster says, one is a person while the job is paused."""
PATIENT = "AbortSignal.timeout = () => new AbortController().signal"
"""A busy machine may take longer to answer than a phone waits."""
OLD_TAG = "999000000000042"


class Mob:
    """The yard, with some of its tags not heard; a second round begins where the first has ended."""

    def __init__(self, *unheard: int) -> None:
        self.truth = CALM.truth
        self._unheard = [(CALM.truth[at].on_t - 6, CALM.truth[at].off_t + 4) for at in unheard]

    def items(self) -> Iterator[tuple[float, str, bytes]]:
        """Yield what comes over the wires."""
        for t, link, data in CALM.items():
            if link != "panel" or not any(begin < t < end for begin, end in self._unheard):
                yield t, link, data


def visual(at: int) -> str:
    """Return the number on an animal's ear."""
    return str(200 + at)


def roster(folder: Path) -> Path:
    """Write the mob's roster: the file that is uploaded."""
    tags = [OLD_TAG if at == LOST else "" if at == UNTAGGED else tag for at, tag in enumerate(TAGS) if at != PERSON]
    numbers = [at for at in range(len(TAGS)) if at != PERSON]
    rows = [
        f"{tag},{visual(at)},{CALM.truth[at].kg - 40:.1f},2026-10-01" for at, tag in zip(numbers, tags, strict=True)
    ]
    path = folder / "mob.csv"
    path.write_text("\n".join(["tag,visual,last_kg,last_date", *rows]) + "\n")
    return path


class Day:
    """The crush during the day."""

    def __init__(self, shed: Shed, finger: Finger) -> None:
        self.shed, self.finger, self.browser = shed, finger, finger.browser
        self.mob = Mob(UNTAGGED, PERSON)
        self.gone = 0

    def to(self, t: float) -> None:
        """Let time pass up to a moment of the yard, and show the platform as the daemon does five times a second."""
        self.shed.wait(self.shed.box.to(self.mob, t))  # type: ignore[arg-type]
        self.tick()

    def tick(self) -> None:
        """Show the platform as it is now."""
        self.shed.loop.call_soon_threadsafe(self.shed.box.service.pace._show)

    def on(self, at: int) -> None:
        """Let an animal step on and settle."""
        stay = self.mob.truth[at]
        t = stay.all_on_t
        self.to(t)
        while t < stay.leave_t and self.view.settled_kg is None:
            t += 0.5
            self.to(t)

    @property
    def view(self) -> PlatformView:
        """What the station shows."""
        return self.shed.box.service.status().stations["crush"].view

    def off(self, at: int) -> None:
        """Let it go, and see it recorded."""
        self.to(self.mob.truth[at].off_t + 1.5)
        self.gone += 1
        self.browser.until("document.querySelectorAll('#rows li').length >= arguments[0]", min(self.gone, 30))

    def settled(self, verdict: str = "Let it go") -> None:
        """Wait until the sign says so, of the animal that stands there, with its doses: what is below moves no more."""
        self.browser.until(
            "document.querySelector('#verdict').textContent === arguments[0]"
            " && document.querySelector('#kg').textContent === arguments[1]"
            " && (arguments[0] === 'Hold it' || document.querySelector('#give').innerText.trim() !== '')",
            verdict,
            f"{self.view.settled_kg:.1f}",
        )

    def condition(self, value: int) -> None:
        """Touch a finding; see that the box has it."""
        since = self.finger.touches
        self.finger.tap(str(value), "#see button")
        self.finger.step("a finding", since)
        self.browser.until("document.querySelector('#toast')?.innerText.includes('condition')")

    def saved(self, button: str) -> str:
        """Touch a button that saves a file, and give what is in it."""
        self.browser.run(SAVES)
        self.finger.tap(None, button)
        return str(self.browser.until("window.saved"))

    def stays(self) -> dict[int, Weighing]:
        """Return what the journal has, by the number in the first job."""
        return {
            one.job_number: one for one in self.shed.weighings().values() if one.job_number and one.sheet == "Weaning"
        }
