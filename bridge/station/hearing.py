"""What a tag read leads to besides pairing: a tag that was unheard for a while is announced, the open stay looked at.

A reader may repeat a tag ten times a second, or babble; both are kept within bounds here.  One that babbles is said
once, and its new tags are no longer announced; they count for the pairing all the same.

    announces --(more than AT_ONCE new tags, beyond STEADILY_PER_S)--> babbles --(allowance whole again)--> announces
"""

from collections import deque

from neckyoke.bridge.events import Attention, TagSeen
from neckyoke.bridge.standing import Standing
from neckyoke.bridge.station.record import tag
from neckyoke.bridge.station.settings import Settings
from neckyoke.protocols.tagcode import TagCode

AT_ONCE = 500
"""New tags of one reader announced at once: a hand reader may give a whole day's list."""
STEADILY_PER_S = 2.0
"""And so many a second from then on: no race lets more animals pass."""
UNHEARD_S = 60.0
"""A tag unheard for so long is announced again."""
KEPT_TAGS = 300
"""Tags of which it is remembered when they were heard last."""
LOOK_S = 0.25
"""While an animal stands without a sure tag, reads of a known tag lead to a new verdict this often,"""
SURER_S = 2.0
"""and reads of the tag that is held to be its own so often: they change nothing but how sure it is."""
MOST_LOOKS = 8
"""And all reads to no more than so many a second, whatever a reader babbles."""


class Hearing:
    """When each tag was heard last, and when the open stay was last looked at.  Times are monotonic seconds."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._heard: dict[tuple[str, TagCode], float] = {}
        self._looks: deque[float] = deque(maxlen=MOST_LOOKS)
        self._is_new = False
        self._allowance: dict[str, tuple[float, float]] = {}  # of each link: when, and how many then
        self._babbling: set[str] = set()
        self._standing = Standing()

    def heard(self, t: float, link: str, code: TagCode) -> list[TagSeen | Attention]:
        """Take a read; return the tag when it is to be announced, and what is to be said of its reader."""
        before = self._heard.pop((link, code), None)
        self._heard[link, code] = t
        self._is_new = before is None
        if len(self._heard) > KEPT_TAGS:
            del self._heard[next(iter(self._heard))]
        if before is not None and t - before < UNHEARD_S:
            return []
        allowed, said = self._allowed(t, link)
        if not allowed:
            return said
        position, station = self._settings.readers[link], self._settings.name
        return [*said, TagSeen(station=station, link=link, position=position, tag=tag(code, reads=1, link=link))]

    def _allowed(self, t: float, link: str) -> tuple[bool, list[TagSeen | Attention]]:
        """Take from a reader's allowance; return whether it is announced, and what is to be said when that changes."""
        since, left = self._allowance.get(link, (t, float(AT_ONCE)))
        left = min(float(AT_ONCE), left + (t - since) * STEADILY_PER_S)
        self._allowance[link] = (t, max(0.0, left - 1.0))
        before = link in self._babbling
        babbles = left < (AT_ONCE if before else 1.0)
        if babbles == before:
            return not babbles, []
        self._babbling ^= {link}
        text = f"{link} reads no more tags than animals can pass."
        if babbles:
            text = f"{link} reads ever new tags, more than animals can pass: they are not announced. See to the reader."
        told = Attention(station=self._settings.name, link=link, about="babble", text=text, over=not babbles)
        said = self._standing.note(t, told)
        return not babbles, [said] if said else []

    def looks(self, t: float, *, held: bool = False) -> bool:
        """Return whether the read just taken is worth a new look at an open stay without a sure tag.

        `held`: it was of the tag that the stay has, in doubt.
        """
        often = len(self._looks) == MOST_LOOKS and t - self._looks[0] < 1.0
        if often or (not self._is_new and self._looks and t - self._looks[-1] < (SURER_S if held else LOOK_S)):
            return False
        self._looks.append(t)
        return True
