"""The serial port on the far side of a Telnet connection: RFC 2217 (Experimental, October 1997), without any I/O.

Telnet sends commands between the data, each behind a byte 255 (a 255 in the data is doubled).  Options are offered and
asked for (WILL, WONT, DO, DONT); RFC 2217 is option 44, and its settings travel as subnegotiations:

    client   IAC SB 44  1  <baud, 4 bytes, highest first>  IAC SE
    server   IAC SB 44 101 <the baud rate it has set>      IAC SE        (each answer is the request's number + 100)

`ComPort` takes what came in and gives the data in it and what to answer; it never raises on what a server sends.
Numbers are those of the RFC, read in pyserial 3.5's implementation; the tests set both it and ser2net against this one.
"""

from collections.abc import Mapping
from enum import Enum, auto
from typing import Final

IAC, DONT, DO, WONT, WILL, SB, SE = 255, 254, 253, 252, 251, 250, 240
BINARY, SUPPRESS_GO_AHEAD, COM_PORT = 0, 3, 44
SET_BAUD, SET_BITS, SET_PARITY, SET_STOP, SET_CONTROL = 1, 2, 3, 4, 5
SERVER: Final = 100
"""What a server adds to the number of the request that it answers."""

NAMES: Final = {SET_BAUD: "baud", SET_BITS: "bits", SET_PARITY: "parity", SET_STOP: "stop", SET_CONTROL: "flow"}
PARITY: Final = {"N": 1, "O": 2, "E": 3, "M": 4, "S": 5}
STOP: Final = {1: 1, 2: 2, 1.5: 3}
NO_FLOW, XON_XOFF, RTS_CTS, DSR, DTR_ON, DTR_OFF, RTS_ON, RTS_OFF = 1, 2, 3, 19, 8, 9, 11, 12
LONGEST: Final = 64
"""Bytes kept of a subnegotiation: none of ours is longer than 6."""


class _Reading(Enum):
    DATA = auto()
    COMMAND = auto()  # behind a 255
    OPTION = auto()  # behind WILL, WONT, DO or DONT
    SUB = auto()  # in a subnegotiation
    SUB_COMMAND = auto()  # behind a 255 in one


def escape(data: bytes) -> bytes:
    """Spell data for the wire."""
    return data.replace(b"\xff", b"\xff\xff")


def requests(settings: Mapping[str, object]) -> dict[int, list[bytes]]:
    """Turn serial settings (those of `serial.port_settings`) into what to ask for, by the number of the request."""
    baud = int(str(settings["baudrate"]))
    flow = RTS_CTS if settings.get("rtscts") else XON_XOFF if settings.get("xonxoff") else NO_FLOW
    control = [DSR if settings.get("dsrdtr") else flow]
    if "dtr" in settings:
        control.append(DTR_ON if settings["dtr"] else DTR_OFF)
    if "rts" in settings and flow != RTS_CTS:
        control.append(RTS_ON if settings["rts"] else RTS_OFF)
    return {
        SET_BAUD: [baud.to_bytes(4, "big")],
        SET_BITS: [bytes([int(str(settings["bytesize"]))])],
        SET_PARITY: [bytes([PARITY[str(settings["parity"])]])],
        SET_STOP: [bytes([STOP[float(str(settings["stopbits"]))]])],
        SET_CONTROL: [bytes([value]) for value in control],
    }


class ComPort:
    """The client's side.  `ready` when the server has done all that was asked; `refused` says why it will not."""

    def __init__(self, settings: Mapping[str, object]) -> None:
        self._asked = requests(settings)
        self._open = set(self._asked) - {SET_CONTROL}  # a port without modem lines leaves control unanswered
        self._reading = _Reading.DATA
        self._verb = 0
        self._sub = bytearray()
        self._said: set[tuple[int, int]] = set()
        self._payload, self._answer = bytearray(), bytearray()
        self._steps = {
            _Reading.DATA: self._data,
            _Reading.COMMAND: self._command,
            _Reading.OPTION: self._option,
            _Reading.SUB: self._subnegotiation,
            _Reading.SUB_COMMAND: self._sub_command,
        }
        self._begun = False
        self.refused: str | None = None

    @property
    def ready(self) -> bool:
        """Return whether every setting that matters to the bytes is acknowledged."""
        return self._begun and not self._open

    def hello(self) -> bytes:
        """Return what to send first: clean eight-bit lines both ways, and the offer of RFC 2217."""
        return b"".join(
            self._say(verb, option)
            for verb, option in (
                (WILL, COM_PORT),
                (DO, BINARY),
                (WILL, BINARY),
                (DO, SUPPRESS_GO_AHEAD),
                (WILL, SUPPRESS_GO_AHEAD),
            )
        )

    def feed(self, data: bytes) -> tuple[bytes, bytes]:
        """Take bytes of the connection; return the data among them, and what to answer."""
        if self._reading is _Reading.DATA and IAC not in data:
            return data, b""
        for byte in data:
            self._steps[self._reading](byte)
        payload, answer = bytes(self._payload), bytes(self._answer)
        self._payload.clear()
        self._answer.clear()
        return payload, answer

    def _data(self, byte: int) -> None:
        if byte == IAC:
            self._reading = _Reading.COMMAND
        else:
            self._payload.append(byte)

    def _command(self, byte: int) -> None:
        self._reading = _Reading.DATA
        if byte == IAC:
            self._payload.append(byte)
        elif byte == SB:
            self._sub.clear()
            self._reading = _Reading.SUB
        elif byte in {WILL, WONT, DO, DONT}:
            self._verb = byte
            self._reading = _Reading.OPTION

    def _option(self, byte: int) -> None:
        self._reading = _Reading.DATA
        self._answer += self._agree(self._verb, byte)

    def _subnegotiation(self, byte: int) -> None:
        if byte == IAC:
            self._reading = _Reading.SUB_COMMAND
        elif len(self._sub) < LONGEST:
            self._sub.append(byte)

    def _sub_command(self, byte: int) -> None:
        self._reading = _Reading.SUB
        if byte == IAC:
            self._sub.append(byte)
        elif byte == SE:
            self._reading = _Reading.DATA
            self._answered(bytes(self._sub))

    def _say(self, verb: int, option: int) -> bytes:
        """Answer once: an answer to an answer would go on for ever."""
        if (verb, option) in self._said:
            return b""
        self._said.add((verb, option))
        return bytes([IAC, verb, option])

    def _agree(self, verb: int, option: int) -> bytes:
        known = option in {BINARY, SUPPRESS_GO_AHEAD, COM_PORT}
        if option == COM_PORT and verb == DONT:
            self.refused = "it does not do RFC 2217"
        if option == COM_PORT and verb == DO and not self._begun:
            self._begun = True
            return self._say(WILL, option) + b"".join(
                bytes([IAC, SB, COM_PORT, number]) + escape(value) + bytes([IAC, SE])
                for number, values in self._asked.items()
                for value in values
            )
        if verb == DO:
            return self._say(WILL if known else WONT, option)
        if verb == WILL:
            return self._say(DO if known else DONT, option)
        return b""

    def _answered(self, sub: bytes) -> None:
        """Take an acknowledgement: it carries what the server has set, which may be something else."""
        if len(sub) < 3 or sub[0] != COM_PORT or sub[1] - SERVER not in self._asked:
            return
        number, value = sub[1] - SERVER, sub[2:]
        if number != SET_CONTROL and value != self._asked[number][0]:
            self.refused = f"it cannot set {NAMES[number]} as asked (it set {int.from_bytes(value, 'big')})"
        self._open.discard(number)
