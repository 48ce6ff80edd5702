"""Streams to recognise: animals crossing a platform, spelled in many shapes, and what a line does to them.

`uart` is a serial line bit by bit: the sender's start, data, parity and stop bits as levels in time, and a receiver
that, at its own rate, waits for a falling edge, samples the middle of each of its bits, and hands on whatever byte that
gives.  So a stream garbled by the wrong baud rate, data bits or parity is what such a receiver would deliver.
"""

import random
from collections.abc import Callable, Iterator
from dataclasses import dataclass

from tests.protocols.spelling import Shown


def crossing(rate_hz: float, seconds: float, seed: int, unit: str = "kg", step_tenths: int = 5) -> Iterator[Shown]:
    """Show what an indicator shows while animals come and go: zero, a climb, a plateau that settles, a fall."""
    noise = random.Random(seed)
    frames = round(rate_hz * seconds)
    period = round(rate_hz * 8)
    level = previous = 0.0
    heavy = 4000
    for number in range(frames):
        phase = number % period / period
        if number % period == 0:
            heavy = noise.randrange(2500, 6500)
        target = 0 if phase < 0.2 or phase > 0.9 else heavy
        level += (target - level) * min(1.0, 6 / rate_hz)
        sway = noise.gauss(0, 25) if target and phase < 0.55 else 0.0
        tenths = round((level + sway) / step_tenths) * step_tenths
        yield Shown(tenths, stable=abs(tenths - previous) <= step_tenths, unit=unit, zero=tenths == 0)
        previous = tenths


def damaged(stream: bytes, share: float, seed: int) -> bytes:
    """Damage a share of the bytes: a flipped bit, a lost byte, or a byte of noise in between."""
    noise = random.Random(seed)
    out = bytearray()
    for byte in stream:
        if noise.random() >= share:
            out.append(byte)
            continue
        kind = noise.randrange(3)
        if kind == 0:
            out.append(byte ^ 1 << noise.randrange(8))
        elif kind == 1:
            out += bytes([byte, noise.randrange(256)])
    return bytes(out)


@dataclass(frozen=True)
class Port:
    """A serial setting."""

    baud: int
    bits: int = 8
    parity: str = "N"

    @property
    def name(self) -> str:
        return f"{self.baud} {self.bits}{self.parity}1"


def uart(frames: list[bytes], sender: Port, receiver: Port, pause_bits: int = 40) -> bytes:
    """Send frames over a line, idle between them, and return what the receiver makes of it."""
    levels = [1] * pause_bits
    for frame in frames:
        for byte in frame:
            levels += _character(byte, sender)
        levels += [1] * pause_bits
    return bytes(_received(levels, sender.baud, receiver))


def _character(byte: int, port: Port) -> list[int]:
    data = [byte >> bit & 1 for bit in range(port.bits)]
    parity = {"N": [], "E": [sum(data) % 2], "O": [1 - sum(data) % 2]}[port.parity]
    return [0, *data, *parity, 1]


def _received(levels: list[int], baud: int, port: Port) -> Iterator[int]:
    step = baud / port.baud  # sender's bits in one of the receiver's
    length = len(levels)

    def level(at: float) -> int:
        return levels[int(at)] if at < length else 1

    at = 0.0
    while at < length:
        if level(at):
            at = int(at) + 1.0
            continue
        byte = sum(level(at + (1.5 + bit) * step) << bit for bit in range(port.bits))
        yield byte  # a wrong parity or stop bit is not looked at, as with most drivers' default
        at += (1 + port.bits + (port.parity != "N") + 0.5) * step
        while at < length and not level(at):  # the line must be seen idle before the next start
            at += step / 4


def spelled(spell: Callable[[Shown], bytes], shows: Iterator[Shown]) -> list[bytes]:
    return [spell(show) for show in shows]
