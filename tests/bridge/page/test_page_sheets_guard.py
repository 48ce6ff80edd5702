"""Sheets and papers are the code's to give, and what is sent is bounded."""

import base64
import http.client
import json
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest

from tests.bridge.page.shed import Shed
from tests.bridge.page.yard import CODE

PAPERS = ("/report.html", "/register.csv", "/register.html", "/export.csv", "/export.jsonl", "/tally", "/jobs")
ASKED: tuple[dict[str, Any], ...] = (
    {"kind": "sheets"},
    {"kind": "sheet-open", "file": "sheets/x.toml"},
    {"kind": "sheet-try", "form": {"title": "x"}},
    {"kind": "sheet-save", "form": {"title": "x"}},
    {"kind": "sheet-drop", "file": "sheets/x.toml", "was": "0" * 12},
    {"kind": "begin", "bare": True},
)


@pytest.fixture
def shed(tmp_path: Path) -> Iterator[Shed]:
    with Shed(tmp_path) as made:
        yield made


def _ask(shed: Shed, method: str, path: str, body: bytes | None = None, code: str | None = CODE) -> tuple[int, Any]:
    """Send a request; give its status and what came with it."""
    headers = {"content-type": "application/json", **({"x-neckyoke-code": code} if code else {})}
    line = http.client.HTTPConnection("127.0.0.1", shed.port, timeout=30)
    try:
        line.request(method, path, body, headers)
        answer = line.getresponse()
        return answer.status, answer.read()
    finally:
        line.close()


@pytest.mark.parametrize("code", [None, "123456789"])
def test_nothing_of_sheets_and_papers_is_given_or_done_without_the_code(shed: Shed, code: str | None) -> None:
    for request in ASKED[:2] if code else ASKED:  # wrong ones are few, before one has to wait
        assert _ask(shed, "POST", "/requests", json.dumps(request).encode(), code)[0] == 401
    for paper in PAPERS[:2] if code else PAPERS:
        assert _ask(shed, "GET", paper, code=code)[0] == 401
    assert not (shed.folder / "sheets").exists()
    assert shed.box.service.status().stations["crush"].job is None


def test_the_report_names_the_property_else_the_site(shed: Shed, tmp_path: Path) -> None:
    body = str(_ask(shed, "GET", "/report.html?day=2026-11-24")[1])
    assert "<header><p>larkmoor</p>" in body
    (tmp_path / "named").mkdir()
    with Shed(tmp_path / "named", head='property_name = "Larkmoor Downs"') as named:
        body = str(_ask(named, "GET", "/report.html?day=2026-11-24")[1])
    assert "<header><p>Larkmoor Downs</p>" in body


def test_papers_of_what_is_not_there_are_refused_in_words(shed: Shed) -> None:
    for paper in PAPERS[:3]:
        for query in ("job=none", "day=x", "station=!", "job=1&station=other"):
            status, body = _ask(shed, "GET", f"{paper}?{query}")
            assert status in {400, 404}
            assert json.loads(body)["text"]
        assert _ask(shed, "GET", f"{paper}?day=2026-11-24")[0] == 200


def test_a_roster_of_one_mib_is_taken_and_no_larger_one(shed: Shed) -> None:
    rows = b"visual,colour\n" + b"".join(b"%d,%s\n" % (at, b"black" * 20) for at in range(9500))
    assert 1 << 20 > len(rows) > 1_000_000

    def sent(roster: bytes) -> tuple[int, Any]:
        said = {"kind": "sheet-save", "form": {"title": "x"}, "roster_name": "x.csv"}
        return _ask(
            shed, "POST", "/requests", json.dumps(said | {"roster": base64.b64encode(roster).decode()}).encode()
        )

    assert sent(b"visual\n" + b"x" * (1 << 20))[0] == 422
    assert sent(b"x" * 4_000_000)[0] == 413
    assert not (shed.folder / "sheets").exists()
    assert sent(rows)[0] == 200
