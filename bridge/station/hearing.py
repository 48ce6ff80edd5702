"""What a tag read leads to besides pairing: a tag that was unheard for a while is announced, the open stay looked at.

A reader may repeat a tag ten times a second, or babble; both are kept within bounds here.
"""

from collections import deque

from neckyoke.bridge.events import TagSeen
from neckyoke.bridge.station.record import tag
from neckyoke.bridge.station.settings import Settings
from neckyoke.protocols.tagcode import TagCode

UNHEARD_S = 60.0
"""A tag unheard for so long is announced again."""
KEPT_TAGS = 300
"""Tags of which it is remembered when they were heard last."""
LOOK_S = 0.25
"""While an animal stands without a sure tag, reads of a known tag lead to a new verdict this often."""
MOST_LOOKS = 8
"""And all reads to no more than so many a second, whatever a reader babbles."""


class Hearing:
    """When each tag was heard last, and when the open stay was last looked at.  Times are monotonic seconds."""

    def __init__(self, settings: Settings) -> None:
        self._settings = settings
        self._heard: dict[tuple[str, TagCode], float] = {}
        self._looks: deque[float] = deque(maxlen=MOST_LOOKS)
        self._is_new = False

    def heard(self, t: float, link: str, code: TagCode) -> TagSeen | None:
        """Take a read; return the tag when it is to be announced."""
        before = self._heard.pop((link, code), None)
        self._heard[link, code] = t
        self._is_new = before is None
        if len(self._heard) > KEPT_TAGS:
            del self._heard[next(iter(self._heard))]
        if before is not None and t - before < UNHEARD_S:
            return None
        position = self._settings.readers[link]
        return TagSeen(station=self._settings.name, link=link, position=position, tag=tag(code, reads=1, link=link))

    def looks(self, t: float) -> bool:
        """Return whether the read just taken is worth a new look at an open stay without a sure tag."""
        often = len(self._looks) == MOST_LOOKS and t - self._looks[0] < 1.0
        if often or (not self._is_new and self._looks and t - self._looks[-1] < LOOK_S):
            return False
        self._looks.append(t)
        return True
