"""Whatever comes in, the answer is 4xx at worst, and nothing is asked of the daemon without the code."""

import contextlib
import http.client
import json
import socket
from collections.abc import Iterator
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from neckyoke.bridge.asking.requests import KINDS
from tests.bridge.page.asking import ask, post
from tests.bridge.page.yard import CODE, Yard, a_mob

PATHS = ["/", "/now", "/events", "/tally", "/export.csv", "/export.jsonl", "/requests", "/code", "/health", "/metrics",
         "/animals/999000000000001", "/animals/x", "/main.js", "/../x", "/herd", "/herd/x", "/herd/%00", "/rows",
         "/changes", "/weighings/crush/x", "/weighings/%ff/%2f", "/jobs", "/views/now/now.js", "/views",
         "/%2e%2e/%2e%2e/etc/passwd", "//", "/now/"]  # fmt: skip
METHODS = ["GET", "HEAD", "POST", "PUT", "DELETE", "PATCH", "OPTIONS", "TRACE", "BREW"]
HEADER_NAMES = ["host", "origin", "content-type", "last-event-id", "x-neckyoke-code", "range", "accept", "cookie",
                "if-none-match", "sec-fetch-site", "content-encoding", "expect", "x-forwarded-for"]  # fmt: skip
VALUES = st.one_of(
    st.text(st.characters(min_codepoint=32, max_codepoint=255, exclude_characters="\x7f"), max_size=40),
    st.sampled_from(
        ["0", "-1", "9" * 40, "null", "*", "bytes=0-", "application/json", "127.0.0.1", CODE, "100-continue"]
    ),
)
LIKELY = [
    "2026-11-24",
    "9999-12-31",
    "0001-01-01",
    "2026-W48-2",
    "crush",
    "last",
    "1",
    "-1",
    "9" * 30,
    "999000000000001",
]
QUERIES = st.dictionaries(
    st.sampled_from(["after", "day", "station", "x", "find", "from", "job", "weighing", "animal", "tag"]),
    st.one_of(st.text(max_size=70), st.sampled_from(LIKELY)),
    max_size=3,
)
JSON = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=8), inner, max_size=4),
    max_leaves=12,
)
KEYS = sorted({name for model in KINDS.values() for name in model.model_fields} - {"kind"})
PLAUSIBLE: dict[str, st.SearchStrategy[Any]] = {
    "station": st.just("crush"),
    "number": st.integers(1, 9),
    "text": st.text(max_size=9),
    "reason": st.text(max_size=9),
    "treatment": st.just("oral drench"),
    "visual": st.text(max_size=9),
    "tag": st.just("999 000000000001"),
    "given": st.booleans(),
    "file": st.just("sheet.toml"),
}
REQUESTS = st.builds(
    lambda kind, more: {"kind": kind, **more},
    st.sampled_from(sorted(KINDS)) | st.text(max_size=8),
    st.fixed_dictionaries({}, optional={key: PLAUSIBLE.get(key, JSON) | JSON for key in KEYS}),
)
FUZZ = settings(max_examples=120, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.fixture(scope="module")
def yard(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Yard]:
    leaps = iter(range(0, 10**9, 60))  # every look at the clock is a minute later: no limit is ever reached
    made = Yard(tmp_path_factory.mktemp("fuzz")).begin(monotonic=lambda: float(next(leaps)))
    a_mob(made, 5)
    yield made
    made.end()


def _status(yard: Yard, method: str, target: str, body: bytes | None, headers: dict[str, str]) -> int:
    """Send a request and return the status of its answer; a stream is not read to its end, which never comes."""
    line = http.client.HTTPConnection("127.0.0.1", yard.port, timeout=120)
    with contextlib.closing(line):
        line.putrequest(method, target, skip_host="host" in headers, skip_accept_encoding=True)
        for name, value in headers.items():
            line.putheader(name, value.encode("latin-1"))
        line.putheader("content-length", str(len(body or b"")))
        line.endheaders(body)
        return line.getresponse().status


@given(
    st.sampled_from(METHODS), st.sampled_from(PATHS), QUERIES,
    st.dictionaries(st.sampled_from(HEADER_NAMES), VALUES, max_size=4), st.none() | st.binary(max_size=60),
)  # fmt: skip
@FUZZ
def test_no_request_is_answered_by_an_error_of_ours(
    yard: Yard, method: str, path: str, query: dict[str, str], headers: dict[str, str], body: bytes | None
) -> None:
    from urllib.parse import quote, urlencode

    target = quote(path, safe="/%") + (f"?{urlencode(query)}" if query else "")

    status = _status(yard, method, target, body, headers)

    assert 200 <= status < 500, (method, target, headers, body)


@given(JSON | REQUESTS)
@FUZZ
def test_what_is_asked_with_the_code_is_done_or_refused_in_words(yard: Yard, request_: Any) -> None:
    answer = post(yard, request_)

    assert answer.status in {200, 409, 422}
    assert isinstance(answer.json["text"], str)


@given(
    REQUESTS,
    st.none() | st.text(st.characters(max_codepoint=255, min_codepoint=32, exclude_characters="\x7f"), max_size=20),
)
@FUZZ
def test_without_the_code_nothing_is_ever_asked(yard: Yard, request_: Any, code: str | None) -> None:
    before = len(yard.asked)

    answer = post(yard, request_, None if code is None or "482" in code else code)

    assert answer.status == 401
    assert len(yard.asked) == before


@given(st.binary(min_size=1, max_size=300))
@FUZZ
def test_bytes_that_are_no_request_do_no_harm(yard: Yard, noise: bytes) -> None:
    with socket.create_connection(("127.0.0.1", yard.port), timeout=120) as line:
        line.sendall(noise + b"\r\n\r\n")
        line.shutdown(socket.SHUT_WR)
        with contextlib.suppress(ConnectionError):
            while line.recv(4096):
                pass

    assert ask(yard, "GET", "/health").status == 200


@pytest.mark.parametrize(
    ("path", "status"),
    [
        ("/tally?day=2026-02-30", 400), ("/tally?day=9999-12-31", 400), ("/tally?day=0001-01-01", 400),
        ("/tally?station=../x", 400), ("/export.csv?day=x", 400), ("/animals/1", 400),
        ("/animals/999000000099999", 404),
        ("/herd?from=x", 400), ("/herd?from=-1", 400), (f"/herd?find={'9' * 65}", 400), ("/herd?find=201", 200),
        ("/herd/nobody", 404), ("/herd/nobody?tag=999000000000001", 200), ("/rows?day=x", 400), ("/rows", 200),
        ("/rows?job=99", 404), ("/weighings/crush/nothing", 404), ("/changes?weighing=x", 200),
        ("/now", 200), ("/tally?day=2001-01-01", 200), ("/export.jsonl?station=nowhere", 200), ("/nothing", 404),
    ],
)  # fmt: skip
def test_looking(yard: Yard, path: str, status: int) -> None:
    answer = ask(yard, "GET", path)

    assert answer.status == status


def test_ill_health_is_told_to_machines(yard: Yard) -> None:
    yard.status["journal"]["trouble"] = {"journal-stuck": "The disk is full."}
    try:
        answer = ask(yard, "GET", "/health")
    finally:
        yard.status["journal"]["trouble"] = {}

    assert answer.status == 503
    assert "The disk is full." in json.dumps(answer.json)
    assert ask(yard, "GET", "/health").json["healthy"] is True
