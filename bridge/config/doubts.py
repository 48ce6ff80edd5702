"""What in a configuration is right as written and may yet not be what is meant: `neckyoke check` says it."""

import os
from collections.abc import Iterator
from pathlib import PurePosixPath

from neckyoke.bridge.config.crosscheck import shared_urls
from neckyoke.bridge.config.model import Config


def config_doubts(config: Config) -> Iterator[str]:
    """Yield each doubt in a sentence or two: table and key, what may happen, what would be surer."""
    for name, link in config.links.items():
        place = PurePosixPath(link.address.target)
        if link.address.scheme == "serial" and place.name.startswith(("ttyUSB", "ttyACM")):
            yield (
                f"[links.{name}] url: {place} is numbered by the order of plugging in, and may be another device "
                "tomorrow.  `neckyoke ports` shows the name below /dev/serial/by-id that stays."
            )
    for name, other in shared_urls(config):
        yield f"[links.{name}] url: is the url of link {other!r} too.  Right only if that port serves two at a time."
    for name, outlet in config.outlets.items():
        for key in ("password_file", "token_file", "ca_file", "certificate_file", "key_file"):
            file = getattr(outlet, key)
            if file is not None and not os.access(config.path(file), os.F_OK):
                yield f"[outlets.{name}] {key}: {config.path(file)} is not there, or this user may not see it."
    for name, station in config.stations.items():
        for reader in station.readers:
            if reader.position == "ahead" and reader.places is None:
                yield (
                    f"[stations.{name}] readers: {reader.link} is ahead of the platform, but not how many animals fit "
                    "between them.  Add places = 2 (your number): until it is learned, one unread tag can shift a "
                    "whole day by one animal."
                )
