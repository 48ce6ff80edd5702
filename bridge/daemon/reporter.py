"""What the daemon tells of itself: every trouble once when it begins and once when it ends, and a line a weighing.

It goes to the log (systemd's journal, or a terminal), and troubles also into a small file of their own, since a Pi
forgets its logs when the power goes.
"""

from pathlib import Path

import structlog

from neckyoke.bridge.events import Attention, Event, LinkState, Weighing
from neckyoke.bridge.standing import Standing
from neckyoke.bridge.telling.alert_log import TroubleLog


class Daybook:
    """Writes events down for people.  `standing` knows the troubles of the moment, `kept` those of the last days."""

    def __init__(self, folder: Path) -> None:
        self.standing = Standing()
        self.kept = TroubleLog(folder)
        self._log = structlog.get_logger()

    def event(self, event: Event) -> None:
        """Write one event down."""
        match event.data:
            case Attention() as told:
                self._attention(event, told)
            case LinkState() as link:
                say = self._log.info if link.state == "up" else self._log.warning
                say(f"link {link.state}", link=link.link, text=link.text, lasted_s=link.lasted_s)
                about = f"link-{link.state}"
                self.kept.note(event.time, about, link.text, link=link.link, lasted_s=link.lasted_s)
            case Weighing() as one:
                tag = one.tag.id if one.tag else None
                flags = [flag.value for flag in one.flags]
                self._log.info(
                    "weighing", number=one.number, kg=one.weight.kg, grade=one.weight.grade, tag=tag, flags=flags
                )
            case _:
                pass

    def _attention(self, event: Event, told: Attention) -> None:
        say = self._log.info if told.over else self._log.warning
        say(told.text, about=told.about, station=told.station, lasted_s=told.lasted_s)
        self.standing.note(event.time.timestamp(), told)
        where = {"station": told.station, "link": told.link}
        self.kept.note(event.time, told.about, told.text, **where, lasted_s=told.lasted_s)
