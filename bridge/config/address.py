"""A link's URL taken apart and checked: serial:, tcp:, rfc2217:, ble: and rfcomm:."""

import contextlib
import re
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Literal, TypeAlias, get_args
from urllib.parse import parse_qsl, urlsplit

Scheme: TypeAlias = Literal["serial", "tcp", "rfc2217", "ble", "rfcomm"]

KEYS: dict[Scheme, frozenset[str]] = {
    "serial": frozenset({"baud", "bits", "parity", "stop", "flow", "dtr", "rts"}),
    "tcp": frozenset(),
    "rfc2217": frozenset({"baud", "bits", "parity", "stop", "flow", "dtr", "rts"}),
    "ble": frozenset({"service", "notify", "write", "adapter"}),
    "rfcomm": frozenset({"channel", "adapter"}),
}
"""What may stand behind the question mark, for each kind of link."""

VALUES: dict[str, tuple[str, str]] = {
    "baud": (r"[1-9][0-9]{1,6}", "a speed such as 9600"),
    "bits": (r"[78]", "7 or 8"),
    "parity": (r"none|even|odd|mark|space", "none, even or odd"),
    "stop": (r"1|1\.5|2", "1 or 2"),
    "flow": (r"none|rtscts|xonxoff|dsrdtr", "none, rtscts, xonxoff or dsrdtr"),
    "dtr": (r"on|off", "on or off"),
    "rts": (r"on|off", "on or off"),
    "service": (r"[0-9a-fA-F]{4}|[0-9a-fA-F-]{36}", "an identifier such as fff0, or all 36 characters"),
    "notify": (r"[0-9a-fA-F]{4}|[0-9a-fA-F-]{36}", "an identifier such as fff1, or all 36 characters"),
    "write": (r"[0-9a-fA-F]{4}|[0-9a-fA-F-]{36}", "an identifier such as fff2, or all 36 characters"),
    "channel": (r"[1-9]|[12][0-9]|30", "a number from 1 to 30"),
    "adapter": (r"hci[0-9]+", "an adapter such as hci0"),
}
"""What an option's value looks like, and in words."""

EXAMPLES: dict[Scheme, str] = {
    "serial": "serial:/dev/serial/by-id/usb-adapter-port0?baud=9600",
    "tcp": "tcp://192.168.1.20:4001",
    "rfc2217": "rfc2217://192.168.1.20:4001?baud=9600",
    "ble": "ble:AA:BB:CC:DD:EE:01",
    "rfcomm": "rfcomm:AA:BB:CC:DD:EE:02?channel=1",
}

MEANT = (
    (r"/dev/\S+", "serial:{}?baud=9600, with the speed that the device is set to"),
    (r"[\w.-]+:[0-9]+", "tcp://{}"),
)
"""What people write without its kind, and how it is written."""


@dataclass(frozen=True, slots=True)
class Address:
    """Where a device is.  `target` is a path, a host or a Bluetooth address; `port` is 0 where there is none."""

    scheme: Scheme
    target: str
    port: int = 0
    options: Mapping[str, str] = field(default_factory=dict)


def parse_address(url: str) -> Address:
    """Take a link URL apart.  Raises ValueError that says what would be right."""
    scheme, colon, rest = url.partition(":")
    if not colon or scheme not in get_args(Scheme):
        likely = next((made.format(url) for pattern, made in MEANT if re.fullmatch(pattern, url)), None)
        told = f"write {likely}" if likely else "write one like " + ", ".join(EXAMPLES.values())
        raise ValueError(f"{url!r} is no link; {told}")
    kind: Scheme = scheme  # type: ignore[assignment]  # narrowed by the check above
    target, _, query = rest.partition("?")
    options = dict(parse_qsl(query, keep_blank_values=True))
    if unknown := sorted(set(options) - KEYS[kind]):
        known = ", ".join(sorted(KEYS[kind])) or "none"
        raise ValueError(f"{url!r}: {unknown[0]!r} is not understood here; {kind}: knows {known}")
    for key, value in options.items():
        pattern, words = VALUES[key]
        if not re.fullmatch(pattern, value):
            raise ValueError(f"{url!r}: {key}={value} is not understood; {key} is {words}")
    if kind in {"tcp", "rfc2217"}:
        host, port = _host_and_port(url)
        if not host or not port:
            raise ValueError(f"{url!r} needs a host and a port, as in {EXAMPLES[kind]}")
        return Address(kind, host, port, options)
    if kind in {"ble", "rfcomm"}:
        if not re.fullmatch(r"([0-9A-Fa-f]{2}:){5}[0-9A-Fa-f]{2}", target):
            raise ValueError(f"{url!r} needs the device's Bluetooth address, as in {EXAMPLES[kind]}")
        return Address(kind, target.upper(), 0, options)
    if not target.startswith("/"):
        raise ValueError(f"{url!r} needs the port's path, as in {EXAMPLES[kind]}")
    return Address(kind, target, 0, options)


def _host_and_port(url: str) -> tuple[str | None, int | None]:
    with contextlib.suppress(ValueError):  # a port out of range, a bracket left open
        parts = urlsplit(url)
        return parts.hostname, parts.port
    return None, None
