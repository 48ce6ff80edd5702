"""TLS, logins and access lists on a real mosquitto: who gets in, and what a person is told when not."""

import asyncio
import io
import logging
import subprocess
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest
import structlog

from neckyoke.bridge.outlets.mqtt.broker import broker_of
from neckyoke.bridge.outlets.mqtt.refusals import CONNECT_CODES
from tests.support.broker import Broker, find
from tests.support.certificates import Authority
from tests.support.events import weighed
from tests.support.outlet import Yard, yard
from tests.support.running import run, until

SECRET = "correct-horse-battery"
Maker = Callable[..., Broker]


@pytest.fixture(scope="module")
def authority(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    return Authority(tmp_path_factory.mktemp("certificates") / "ours")


@pytest.fixture(scope="module")
def stranger(tmp_path_factory: pytest.TempPathFactory) -> Authority:
    return Authority(tmp_path_factory.mktemp("certificates") / "theirs")


def tls_lines(authority: Authority, certificate: tuple[Path, Path], *more: str) -> list[str]:
    return [
        f"cafile {authority.certificate}",
        f"certfile {certificate[0]}",
        f"keyfile {certificate[1]}",
        "allow_anonymous true",
        *more,
    ]


def attempt(folder: Path, url: str, **outlet: Any) -> Yard:
    """Deliver one weighing, or be told why that cannot be."""

    async def day() -> Yard:
        async with yard(folder, url, **outlet) as one:
            await one.journal.append([weighed(1)])
            await until(lambda: one.health().backlog == 0 or bool(one.said), "delivered, or told why not")
            await asyncio.sleep(0)
            one.outlet._stopping.set()
            return one

    return run(day())


def told(one: Yard) -> str:
    assert one.abouts() == ["outlet-farm-refused"]
    assert one.outlet._backoff._next_s == one.outlet._backoff._longest_s  # a person must act: the slow end at once
    return one.said[0].text


def test_the_right_authority_is_trusted(make_broker: Maker, authority: Authority, tmp_path: Path) -> None:
    broker = make_broker(tls_lines(authority, authority.sign("right"), "tls_version tlsv1.2"))
    assert attempt(tmp_path, f"mqtts://localhost:{broker.port}", ca_file=str(authority.certificate)).said == []


def test_an_unknown_authority_is_not(
    make_broker: Maker, authority: Authority, stranger: Authority, tmp_path: Path
) -> None:
    broker = make_broker(tls_lines(authority, authority.sign("unknown")))
    url = f"mqtts://localhost:{broker.port}"
    assert "set ca_file" in told(attempt(tmp_path, url, ca_file=str(stranger.certificate)))
    assert "ca_file" in told(attempt(tmp_path, url))  # the system's authorities do not know ours either


def test_an_expired_certificate_is_told_from_a_wrong_clock(
    make_broker: Maker, authority: Authority, tmp_path: Path
) -> None:
    broker = make_broker(tls_lines(authority, authority.sign("old", expired=True)))
    one = attempt(tmp_path, f"mqtts://localhost:{broker.port}", ca_file=str(authority.certificate))
    assert "has expired (or this box's clock is ahead)" in told(one)


def test_a_certificate_for_another_name_is_refused(make_broker: Maker, authority: Authority, tmp_path: Path) -> None:
    broker = make_broker(tls_lines(authority, authority.sign("elsewhere", "DNS:broker.invalid")))
    ca_file = str(authority.certificate)
    assert "for another name" in told(attempt(tmp_path, f"mqtts://localhost:{broker.port}", ca_file=ca_file))
    assert "for another address" in told(attempt(tmp_path, f"mqtts://127.0.0.1:{broker.port}", ca_file=ca_file))


def test_a_client_certificate_is_given_when_asked_for(
    make_broker: Maker, authority: Authority, stranger: Authority, tmp_path: Path
) -> None:
    broker = make_broker(tls_lines(authority, authority.sign("strict"), "require_certificate true"))
    url, ca_file = f"mqtts://localhost:{broker.port}", str(authority.certificate)
    certificate, key = map(str, authority.sign("crush"))
    one = attempt(tmp_path, url, ca_file=ca_file, certificate_file=certificate, key_file=key)
    assert one.said == []
    assert "set certificate_file and key_file" in told(attempt(tmp_path, url, ca_file=ca_file))
    certificate, key = map(str, stranger.sign("thief"))
    one = attempt(tmp_path, url, ca_file=ca_file, certificate_file=certificate, key_file=key)
    assert "does not know the authority that signed our certificate_file" in told(one)


@pytest.mark.parametrize("key", ["ca_file", "certificate_file"])
def test_a_file_that_cannot_be_read_is_named(broker: Broker, tmp_path: Path, key: str) -> None:
    one = attempt(tmp_path, f"mqtts://localhost:{broker.port}", **{key: "nowhere.crt"})
    assert key in told(one)


def test_tls_on_a_plain_port_says_so(broker: Broker, tmp_path: Path) -> None:
    """mosquitto hangs up, or answers what is no TLS, as its version likes."""
    one = attempt(tmp_path, f"mqtts://127.0.0.1:{broker.port}")
    assert one.said[0].text.startswith(f"mqtts://127.0.0.1:{broker.port}")


def test_plain_on_a_tls_port_says_so(make_broker: Maker, authority: Authority, tmp_path: Path) -> None:
    broker = make_broker(tls_lines(authority, authority.sign("plain")))
    one = attempt(tmp_path, broker.url)
    assert "hung up before the greeting" in one.said[0].text


@pytest.fixture
def guarded(make_broker: Maker, tmp_path: Path) -> Broker:
    """A broker with a login and an access list: `crush` may write below its site, but for `race`."""
    passwords, access = tmp_path / "passwords", tmp_path / "access"
    passwords.touch()
    for user in ("crush", "clerk"):
        subprocess.run([find("mosquitto_passwd"), "-b", passwords, user, SECRET], check=True, capture_output=True)
    access.write_text(
        "user crush\ntopic write neckyoke/larkmoor/status\ntopic write neckyoke/larkmoor/link/#\n"
        "topic write neckyoke/larkmoor/crush/settled\ntopic read neckyoke/larkmoor/+/request\n"
        "user clerk\ntopic readwrite #\n"
    )
    return make_broker([f"password_file {passwords}", f"acl_file {access}", "allow_anonymous false"])


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_a_wrong_password_is_not_tried_again_and_again(guarded: Broker, tmp_path: Path, protocol: str) -> None:
    (tmp_path / "secret").write_text("wrong")
    login = {"username": "crush", "password_file": "secret", "protocol": protocol}
    assert "does not let us in: check username, password_file" in told(attempt(tmp_path, guarded.url, **login))


def test_what_the_access_list_refuses_is_noticed(guarded: Broker, tmp_path: Path) -> None:
    """The broker says so only in its acknowledgement, and the library does not look."""
    (tmp_path / "secret").write_text(SECRET + "\n")

    async def day() -> Yard:
        async with yard(tmp_path, guarded.url, username="crush", password_file="secret") as one:
            await one.journal.append([weighed(1)])
            await until(lambda: bool(one.said), "the refusal is said")
            assert one.health().backlog == 1
            assert one.journal.position("farm") == 0
            return one

    text = told(run(day()))
    assert "refuses what we publish (code 0x87)" in text
    assert "let this user write neckyoke/larkmoor/#" in text


def test_asking_for_an_answer_where_we_may_not_write_stops_nothing(guarded: Broker, tmp_path: Path) -> None:
    """A broker that refuses the answer must not park the events: anybody who may ask could stop the outlet."""
    (tmp_path / "secret").write_text(SECRET)
    ask = [
        *(find("mosquitto_pub"), "-h", "127.0.0.1", "-p", str(guarded.port), "-V", "5", "-u", "clerk", "-P", SECRET),
        *(
            "-q",
            "1",
            "-t",
            "neckyoke/larkmoor/crush/request",
            "-m",
            "{}",
            "-D",
            "publish",
            "response-topic",
            "not/ours",
        ),
    ]

    async def day() -> None:
        async with yard(tmp_path, guarded.url, username="crush", password_file="secret") as one:
            await until(lambda: "larkmoor/+/request" in guarded.logged(), "it listens")
            for count in (1, 2, 3):
                await asyncio.to_thread(subprocess.run, ask, check=True)
                await until(lambda: len(one.asked) == count, "the request is taken")  # noqa: B023
            assert one.health().connections == 1
            assert one.said == []

    run(day())


def test_a_password_from_the_environment(guarded: Broker, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    one = attempt(tmp_path, guarded.url, username="crush", password_env="YARD_SECRET")
    assert "password_env names YARD_SECRET, which is not set" in told(one)
    monkeypatch.setenv("YARD_SECRET", SECRET)
    one = attempt(tmp_path, guarded.url, username="crush", password_env="YARD_SECRET")
    assert "code 0x87" in told(one)  # it got in, as far as the access list


def test_a_password_that_was_put_right_is_read_again(guarded: Broker, tmp_path: Path) -> None:
    async def day() -> None:
        async with yard(tmp_path, guarded.url, username="crush", password_file="secret") as one:
            one.outlet._backoff._longest_s = 0.02
            await until(lambda: bool(one.said), "told")
            assert "password_file" in one.said[0].text
            (tmp_path / "secret").write_text(SECRET)
            await until(lambda: one.health().connected, "it got in")

    run(day())


def test_two_boxes_of_one_name_are_told(broker: Broker, tmp_path: Path) -> None:
    async def day() -> Yard:
        for folder in ("a", "b"):
            (tmp_path / folder).mkdir()
        async with yard(tmp_path / "a", broker.url) as one:
            await until(lambda: one.health().connected, "the first is in")
            async with yard(tmp_path / "b", broker.url):
                await until(lambda: bool(one.said), "the first is told")
            return one

    said = run(day()).said[0].text
    # a broker of Debian 13 says why it hangs up (MQTT 5, reason code 0x8E), one of Debian 12 does not
    assert "another program" in said
    assert "'neckyoke-larkmoor-farm'" in said
    assert "client_id" in said


def test_the_secret_is_in_no_output(
    guarded: Broker, tmp_path: Path, capfd: pytest.CaptureFixture[str], caplog: pytest.LogCaptureFixture
) -> None:
    """Whatever is logged at any level, printed, said, kept or shown: the password is not in it."""
    caplog.set_level(logging.DEBUG)
    (tmp_path / "secret").write_text(SECRET)
    out = io.StringIO()
    log = structlog.wrap_logger(structlog.PrintLogger(out))

    async def day() -> Yard:
        async with yard(tmp_path, guarded.url, username="crush", password_file="secret") as one:
            one.outlet._backoff._longest_s = 0.02
            await until(lambda: one.health().connected, "it got in")
            broker = broker_of(one.table, one.broker._client_id, one.folder)
            log.info("all", outlet=one.outlet, broker=broker, spelled=str(broker), figures=one.health())
            await one.journal.append([weighed(1)])
            await until(lambda: bool(one.said), "refused")
            guarded.stop()
            await until(lambda: len(one.said) == 2, "gone")
            log.info("said", said=one.said)
            return one

    run(day())
    written = b"".join(path.read_bytes() for path in tmp_path.glob("journal*"))
    captured = capfd.readouterr()
    for text in (out.getvalue(), captured.out, captured.err, caplog.text, written.decode("latin-1")):
        assert SECRET not in text
    assert "crush" in out.getvalue()


def test_a_refused_subscription_does_not_hold_up_the_events(tmp_path: Path) -> None:
    """A broker that lets us publish and not listen.  mosquitto 2.0 grants any subscription, so this one is our own."""

    async def serve(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        while True:
            try:
                head = await reader.readexactly(2)
            except asyncio.IncompleteReadError:
                break
            kind, rest = head[0], await reader.readexactly(await _length(head[1], reader))
            if kind >> 4 == 1:
                writer.write(bytes([0x20, 3, 0, 0, 0]))
            elif kind >> 4 == 3:
                start = 2 + int.from_bytes(rest[:2])
                writer.write(bytes([0x40, 2]) + rest[start : start + 2])
            elif kind >> 4 == 8:
                writer.write(bytes([0x90, 4]) + rest[:2] + bytes([0, 0x87]))
        writer.close()

    async def day() -> Yard:
        server = await asyncio.start_server(serve, "127.0.0.1", 0)
        async with yard(tmp_path, f"mqtt://127.0.0.1:{server.sockets[0].getsockname()[1]}") as one:
            await until(lambda: bool(one.said), "told")
            await one.journal.append([weighed(1)])
            await until(lambda: one.health().backlog == 0, "delivered")
        server.close()
        return one

    one = run(day())
    assert one.abouts() == ["outlet-farm-requests"]
    assert "refuses our subscription to neckyoke/larkmoor/+/request" in one.said[0].text


async def _length(byte: int, reader: asyncio.StreamReader) -> int:
    """Read on in a variable byte integer (MQTT 5, 1.5.5)."""
    length, shift = byte & 127, 7
    while byte & 128:
        byte = (await reader.readexactly(1))[0]
        length |= (byte & 127) << shift
        shift += 7
    return length


async def refusing_broker(code: int, then: bytes = b"") -> asyncio.Server:
    """Listen like a broker that greets with a reason code (MQTT 5, 3.2), and may say something more."""

    async def greet(reader: asyncio.StreamReader, writer: asyncio.StreamWriter) -> None:
        await reader.read(1024)
        writer.write(bytes([0x20, 3, 0, code, 0]) + then)
        await reader.read()
        writer.close()

    return await asyncio.start_server(greet, "127.0.0.1", 0)


@pytest.mark.parametrize("code", sorted(CONNECT_CODES))
def test_every_refusal_says_what_to_do(tmp_path: Path, code: int) -> None:
    async def day() -> Yard:
        server = await refusing_broker(code)
        async with yard(tmp_path, f"mqtt://127.0.0.1:{server.sockets[0].getsockname()[1]}") as one:
            await until(lambda: bool(one.said), "told")
        server.close()
        return one

    text, slow = CONNECT_CODES[code]
    one = run(day())
    assert text in one.said[0].text
    assert one.abouts() == ["outlet-farm-refused" if slow else "outlet-farm"]


def test_a_broker_that_says_who_took_our_place_is_quoted(tmp_path: Path) -> None:
    async def day() -> Yard:
        server = await refusing_broker(0, bytes([0xE0, 2, 0x8E, 0]))  # DISCONNECT, session taken over
        async with yard(tmp_path, f"mqtt://127.0.0.1:{server.sockets[0].getsockname()[1]}") as one:
            await until(lambda: bool(one.said), "told")
        server.close()
        return one

    assert "give each its own client_id" in told(run(day()))
