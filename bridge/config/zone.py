"""The farm's time zone: an IANA name, and the machine's own where none is given.

Dates that people read are this zone's, everywhere: withholding, gain, tally, export, page, report and ICAR.
"""

import os
from datetime import datetime
from pathlib import Path
from zoneinfo import ZoneInfo, available_timezones

from neckyoke.bridge.config.problems import ConfigError, Problem, nearest

LOCALTIME = Path("/etc/localtime")


def zone_named(name: str) -> ZoneInfo:
    """Return the zone of an IANA name.  Raises ValueError saying what would be right."""
    try:
        return ZoneInfo(name)
    except (KeyError, ValueError, OSError):
        known = available_timezones()
        if not known:
            raise ValueError("this machine knows no time zones: install the package tzdata") from None
        hint = nearest(name, known)
        raise ValueError(f"there is no time zone {name!r}: write one such as Europe/Berlin.  {hint}") from None


def zone_asked(name: str) -> ZoneInfo:
    """Return the zone that an option names.  Raises ConfigError saying what would be right."""
    try:
        return zone_named(name)
    except ValueError as error:
        raise ConfigError([Problem(file="--timezone", where=name, what=str(error))]) from None


def machine_zone(localtime: Path = LOCALTIME) -> ZoneInfo:
    """Return the machine's own zone: what TZ names, else what /etc/localtime leads to, else UTC."""
    for name in (os.environ.get("TZ", "").lstrip(":"), _led_to(localtime)):
        try:
            if name:
                return zone_named(name.removeprefix("/usr/share/zoneinfo/"))
        except ValueError:
            continue
    return ZoneInfo("UTC")


def _led_to(localtime: Path) -> str:
    try:
        return str(localtime.resolve(strict=True)).partition("/zoneinfo/")[2]
    except OSError:
        return ""


def spell_zone(zone: ZoneInfo, now: datetime) -> str:
    """Spell a zone, its offset now and its date: Australia/Sydney (UTC+11:00), where it is 28 November 2026, 08:00."""
    local = now.astimezone(zone)
    offset = f"{local:%z}"
    return f"{zone.key} (UTC{offset[:3]}:{offset[3:]}), where it is {local.day} {local:%B %Y, %H:%M}"
