"""The figures for a monitor, read back by prometheus_client's OpenMetrics parser: an outside reader of the standard."""

import asyncio
import subprocess
import time
from typing import Any
from urllib.error import HTTPError
from urllib.request import Request, urlopen

import pytest
from hypothesis import given
from hypothesis import strategies as st
from prometheus_client import parser as plain_parser
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from neckyoke.bridge.telling.alerts import Troubles, unheard
from neckyoke.bridge.telling.openmetrics import CONTENT_TYPE, PLAIN_TYPE, told, write
from neckyoke.bridge.telling.scrape import Scrape
from neckyoke.protocols.rejects import RejectReason
from tests.support.broker import free_port
from tests.support.running import run, until
from tests.support.status import status_of

STATUS: dict[str, Any] = {
    "site": "larkmoor", "version": "0.1.0", "up_s": 360.5, "cpu_s": 4.25, "loop_lag_s": 0.002, "disk_free_mb": 9000,
    "stations": {"crush": {"counts": {"animals": 17, "expected": 40}}},
    "links": {"indicator": {"state": "up", "frames": 8123, "rejects": {"bad-bytes": 2}, "openings": 1, "bytes": 170_000,
                            "last_byte_age_s": 0.1},
              "panel": {"state": "lost", "frames": 120, "last_byte_age_s": None}},
    "outlets": {"farm": {"kind": "mqtt", "connected": True, "backlog": 3}, "events": {"kind": "file", "backlog": 0}},
    "journal": {"last": 42, "waiting": 0, "trouble": {}}, "clock": {"state": "synchronised", "steps": 1},
    "troubles": [{"about": "zero-off", "text": "…"}],
}  # fmt: skip


def samples(status: dict[str, Any]) -> dict[tuple[str, frozenset[tuple[str, str]]], float]:
    """Read the text back: every sample by its name and labels."""
    found = {}
    for family in text_string_to_metric_families(write(status_of(**status))):  # type: ignore[no-untyped-call]
        for one in family.samples:
            labels = frozenset((name, value) for name, value in one.labels.items() if name != "site")
            assert (one.name, labels) not in found
            found[one.name, labels] = one.value
    return found


def test_every_figure_comes_back_by_the_standards_own_reader() -> None:
    found = samples(STATUS)

    def value(name: str, **labels: str) -> float:
        return found[name, frozenset(labels.items())]

    assert value("neckyoke_link_frames_total", link="indicator") == 8123
    assert value("neckyoke_link_rejects_total", link="indicator", reason="bad-bytes") == 2
    assert value("neckyoke_link_state", link="indicator", neckyoke_link_state="up") == 1
    assert value("neckyoke_link_state", link="panel", neckyoke_link_state="up") == 0
    assert value("neckyoke_link_state", link="panel", neckyoke_link_state="lost") == 1
    assert value("neckyoke_outlet_backlog", outlet="farm") == 3
    assert value("neckyoke_animals", station="crush", of="expected") == 40
    assert value("neckyoke_events_total") == 42
    assert value("neckyoke_clock_synchronised") == 1
    assert value("neckyoke_disk_free_bytes") == 9e9
    assert value("neckyoke_cpu_seconds_total") == 4.25
    assert value("neckyoke_build_info", version="0.1.0") == 1
    assert value("neckyoke_troubles") == 1


@pytest.mark.parametrize(("trouble", "stuck"), [({}, False), ({"journal-stuck": "The disk is full."}, True)])
def test_a_monitor_is_told_of_a_journal_whose_disk_takes_nothing(trouble: dict[str, str], stuck: bool) -> None:  # noqa: FBT001
    text = write(status_of(journal={"waiting": 3, "trouble": trouble}), plain=True)
    found = {line.split("{")[0]: line.rsplit(" ", 1)[-1] for line in text.splitlines() if not line.startswith("#")}
    assert float(found["neckyoke_journal_stuck"]) == stuck


def test_what_is_not_known_is_left_out() -> None:
    assert not any(dict(labels).get("link") == "panel" for name, labels in samples(STATUS) if "age" in name)
    assert not any(name == "neckyoke_disk_free_bytes" for name, _ in samples({**STATUS, "disk_free_mb": None}))
    assert {dict(labels)["of"] for name, labels in samples(STATUS) if name == "neckyoke_animals"} == {
        "animals", "number", "expected",
    }  # fmt: skip


def test_the_content_type_is_the_standards() -> None:
    assert CONTENT_TYPE == "application/openmetrics-text; version=1.0.0; charset=utf-8"  # OpenMetrics 1.0, section 4


@given(
    st.text(max_size=20),
    st.dictionaries(
        st.text(max_size=10),
        st.fixed_dictionaries(
            {
                "frames": st.integers(0, 10**15),
                "rejects": st.dictionaries(st.sampled_from(RejectReason), st.integers(0, 10**9)),
            }
        ),
        max_size=3,
    ),
)
def test_any_names_and_numbers_make_a_text_that_can_be_read(site: str, links: dict[str, Any]) -> None:
    found = samples({"site": site, "links": links})

    for name, row in links.items():
        assert found["neckyoke_link_frames_total", frozenset({("link", name)})] == row["frames"]


def test_promtool_has_nothing_to_say_of_it() -> None:
    """By the monitor's own tool (Debian's package prometheus)."""
    text = write(status_of(**STATUS), plain=True)
    ran = subprocess.run(["promtool", "check", "metrics"], input=text, capture_output=True, text=True, check=False)
    assert (ran.returncode, ran.stderr, ran.stdout) == (0, "", "")


def test_both_formats_say_the_same() -> None:
    plain = {
        (one.name, frozenset(one.labels.items())): one.value
        for family in plain_parser.text_string_to_metric_families(write(status_of(**STATUS), plain=True))
        for one in family.samples
    }
    site = frozenset({("site", "larkmoor")})
    assert {(name, labels - site): value for (name, labels), value in plain.items()} == samples(STATUS)


@pytest.mark.parametrize(
    ("accept", "kind"),
    [
        ("", PLAIN_TYPE),
        ("*/*", PLAIN_TYPE),
        ("text/plain", PLAIN_TYPE),
        ("application/openmetrics-text;q=0,text/plain", PLAIN_TYPE),
        ("application/openmetrics-text;version=1.0.0;q=0.5,text/plain;version=0.0.4;q=0.3", CONTENT_TYPE),
    ],
)
def test_the_format_is_what_is_asked_for(accept: str, kind: str) -> None:
    assert told(status_of(**STATUS), accept)[1] == kind


def test_a_port_of_its_own_answers_one_question() -> None:
    port = free_port()

    def ask(path: str, method: str = "GET") -> tuple[int, str, bytes]:
        accept = {"Accept": "application/openmetrics-text"}
        try:
            request = Request(f"http://127.0.0.1:{port}{path}", headers=accept, method=method)
            with urlopen(request, timeout=10) as answer:
                return answer.status, answer.headers["Content-Type"], answer.read()
        except HTTPError as error:
            return error.code, "", b""

    async def day() -> list[tuple[int, str, bytes]]:
        scrape = Scrape(f"127.0.0.1:{port}", lambda: status_of(**STATUS), Troubles(unheard, time.monotonic))
        serving = asyncio.create_task(scrape.run())
        try:
            reader, writer = None, None
            while reader is None:
                try:
                    reader, writer = await asyncio.open_connection("127.0.0.1", port)
                except OSError:
                    await asyncio.sleep(0.01)
            assert writer is not None
            writer.write(b"nonsense\r\n\r\n")
            assert await reader.read() == b""
            writer.close()
            asked = [("/metrics", "GET"), ("/metrics", "HEAD"), ("/", "GET"), ("/metrics", "DELETE")]
            return [await asyncio.to_thread(ask, *one) for one in asked]
        finally:
            serving.cancel()
            await asyncio.gather(serving, return_exceptions=True)

    good, head, elsewhere, wrong = run(day())
    assert good == (200, CONTENT_TYPE, write(status_of(**STATUS)).encode())
    assert (head[0], head[2]) == (200, b"")
    assert (elsewhere[0], wrong[0]) == (404, 405)


def test_a_port_that_cannot_be_had_is_said_once() -> None:
    said: list[Any] = []

    async def day() -> None:
        server = await asyncio.start_server(lambda _r, _w: None, "127.0.0.1", 0)
        port = server.sockets[0].getsockname()[1]
        scrape = Scrape(f"127.0.0.1:{port}", lambda: status_of(**STATUS), Troubles(said.append, time.monotonic))
        serving = asyncio.create_task(scrape.run())
        await until(lambda: bool(said), "it is said")
        serving.cancel()
        await asyncio.gather(serving, return_exceptions=True)
        server.close()

    run(day())
    assert "choose another port" in said[0].text
