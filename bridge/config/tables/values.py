"""What a person writes into a configuration, kind by kind, and the base of its tables."""

import re
from functools import cached_property
from typing import Annotated, ClassVar

from pydantic import AfterValidator, BaseModel, ConfigDict

from neckyoke.bridge.config.escapes import spelled_bytes
from neckyoke.bridge.config.zone import zone_named

LARGEST_PORT = 65535


def shaped(pattern: str, shape: str) -> AfterValidator:
    """Take only text of a form, which `shape` says in words."""

    def check(text: str) -> str:
        if re.fullmatch(pattern, text) is None:
            raise ValueError(f"{text!r} has the wrong form: write {shape}")
        return text

    return AfterValidator(check)


def _spelled(text: str) -> str:
    if not spelled_bytes(text):
        raise ValueError("nothing would be sent: write what the device takes, or leave the key out")
    return text


def real_port(url: str) -> str:
    """Refuse a port that no computer has."""
    port = url.rpartition(":")[2]
    if port.isdecimal() and int(port) > LARGEST_PORT:
        raise ValueError(f"{url!r}: ports end at {LARGEST_PORT}")
    return url


def _zone(name: str) -> str:
    return zone_named(name).key


Zone = Annotated[str, AfterValidator(_zone)]


Name = Annotated[str, shaped(r"[a-z0-9][a-z0-9_-]{0,31}", "up to 32 small letters, digits, - and _")]
"""Names of sites, links, stations and outlets: they become parts of topics and sources."""
ToSend = Annotated[str, AfterValidator(_spelled)]
r"""What to send a device, with \r \n \x05 and the like spelled out."""
Prefix = Annotated[str, shaped(r"[a-z0-9_-]+(/[a-z0-9_-]+)*", "small letters, as in neckyoke or farm/yards")]
Mode = Annotated[str, shaped(r"0?[0-7]{3}", "an octal mode such as 0660")]
Listen = Annotated[
    str,
    shaped(r"[^\s]+:[0-9]{1,5}", "an address of this box and a port, such as 0.0.0.0:8370"),
    AfterValidator(real_port),
]


class Table(BaseModel):
    """Base of every table: closed, and read as TOML gives it."""

    model_config: ClassVar[ConfigDict] = ConfigDict(extra="forbid", frozen=True, ignored_types=(cached_property,))
