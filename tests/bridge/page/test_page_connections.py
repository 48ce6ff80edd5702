"""Whoever connects and says nothing keeps nobody out, neither from the page nor from the daemon's descriptors."""

import contextlib
import http.client
import socket
import time
from collections.abc import Iterator

import pytest

from neckyoke.bridge.page import app, connection
from neckyoke.bridge.page.connection import whose
from tests.bridge.page.asking import ask
from tests.bridge.page.yard import Yard


def dial(yard: Yard, whence: str, said: bytes = b"") -> socket.socket:
    """Connect from an address and say something, or nothing."""
    line = socket.create_connection(("127.0.0.1", yard.port), timeout=120, source_address=(whence, 0))
    with contextlib.suppress(ConnectionError):
        line.sendall(said)
    return line


@pytest.fixture
def lines() -> Iterator[list[socket.socket]]:
    made: list[socket.socket] = []
    yield made
    for line in made:
        line.close()


def is_open(line: socket.socket) -> bool:
    line.settimeout(0)
    try:
        return line.recv(1) != b""
    except BlockingIOError:
        return True
    except ConnectionError:
        return False


@pytest.mark.parametrize("said", [b"", b"GET /now HTTP/1.1\r\nHost: 127"])
def test_hundreds_of_silent_connections_keep_nobody_out(yard: Yard, lines: list[socket.socket], said: bytes) -> None:
    lines += [dial(yard, "127.0.0.2", said) for _ in range(450)]

    for whence in ("127.0.0.1", "127.0.0.2"):  # not even those from whose address they come
        assert ask(yard, "GET", "/health", whence=whence).status == 200
    assert yard.page.places.taken <= app.FROM_ONE
    assert sum(map(is_open, lines)) <= app.FROM_ONE


def test_who_is_being_answered_gives_way_to_nobody(yard: Yard, lines: list[socket.socket]) -> None:
    follow = b"GET /events HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\n"
    for _ in range(app.FROM_ONE):
        lines.append(dial(yard, "127.0.0.2", follow))
        assert lines[-1].recv(1) == b"H"
    others = [dial(yard, "127.0.0.2") for _ in range(20)]

    assert [line.recv(1) for line in others if not is_reset(line)] == []
    lines += others
    assert all(map(is_open, lines[: app.FROM_ONE]))
    assert yard.page.places.turned_away == 20
    assert ask(yard, "GET", "/health").status == 200


def is_reset(line: socket.socket) -> bool:
    try:
        return line.recv(1) == b""
    except ConnectionError:
        return True


@pytest.mark.parametrize(
    "said", [b"", b"GET /he", b"GET /health HTTP/1.1\r\nHost: 127.0.0.1\r\n\r\nGET /health HTTP/1.1\r\n"]
)
def test_who_does_not_ask_to_the_end_is_hung_up_on(yard: Yard, monkeypatch: pytest.MonkeyPatch, said: bytes) -> None:
    monkeypatch.setattr(connection, "HEADER_S", 0.2)
    line, end = dial(yard, "127.0.0.1", said), time.monotonic() + 120
    with line, contextlib.suppress(ConnectionError):
        while line.recv(65536):
            with contextlib.suppress(ConnectionError):
                line.sendall(b"X")  # dribbling does not help
            assert time.monotonic() < end

    assert yard.page.places.taken == 0


def test_an_asker_may_use_its_connection_again_and_again(yard: Yard) -> None:
    line = http.client.HTTPConnection("127.0.0.1", yard.port, timeout=120)
    with contextlib.closing(line):
        for _ in range(3):
            line.request("GET", "/health")
            assert line.getresponse().read().startswith(b'{"healthy"')
        assert yard.page.places.taken == 1


@pytest.mark.parametrize(
    ("peer", "counted"),
    [
        (("192.168.4.7", 40000), "192.168.4.7"),
        (("::ffff:192.168.4.7", 40000, 0, 0), "192.168.4.7"),
        (("2001:db8:1:2:3:4:5:6", 40000, 0, 0), "2001:db8:1:2::/64"),  # RFC 3849: for documentation
        (("fe80::1%wlan0", 40000, 0, 2), "fe80::1"),
        (None, "?"),
    ],
)
def test_a_connection_counts_for_its_address_or_its_network(peer: tuple[object, ...] | None, counted: str) -> None:
    assert whose(peer) == counted
