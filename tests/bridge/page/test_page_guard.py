"""Nobody changes anything without the code, from elsewhere, or too fast; what comes in wrong is refused in words."""

import json
import re
import socket
from collections.abc import Iterator
from importlib import resources
from pathlib import Path

import pytest

from neckyoke.bridge.page import access
from neckyoke.bridge.page.guard import Allowance, known_host, own_names, same_origin
from tests.bridge.page.asking import ask, post
from tests.bridge.page.yard import CODE, Yard, weighing

NOTE = {"kind": "note", "station": "crush", "number": 1, "text": "lame, near hind"}
LOOKS = ("/", "/main.js", "/style.css", "/now", "/tally", "/export.csv", "/health", "/metrics", "/no-such")


@pytest.fixture(scope="module")
def patient(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Yard]:
    """Yield a yard whose every look at the clock is a minute later, so that no limit is reached."""
    minutes = iter(range(0, 10**9, 60))
    yard = Yard(tmp_path_factory.mktemp("patient")).begin(monotonic=lambda: float(next(minutes)))
    yard.tell(weighing(1, 318.5))
    yield yard
    yard.end()


@pytest.fixture
def weighed(patient: Yard) -> Yard:
    patient.asked.clear()
    access.keep(patient.code_file, CODE)
    return patient


def test_with_the_code_a_note_is_put_to_the_daemon_and_its_answer_given(weighed: Yard) -> None:
    answer = post(weighed, NOTE)

    assert (answer.status, answer.json["done"]) == (200, True)
    assert weighed.asked == [NOTE]


@pytest.mark.parametrize(
    ("code", "status"), [(None, 401), ("", 401), ("000000000", 401), ("48291306", 401), ("482913067x", 401)]
)
def test_without_the_code_nothing_is_asked(weighed: Yard, code: str | None, status: int) -> None:
    answer = post(weighed, NOTE, code)

    assert (answer.status, answer.json["done"]) == (status, False)
    assert weighed.asked == []


def test_the_code_may_be_typed_as_it_was_printed(weighed: Yard) -> None:
    assert post(weighed, NOTE, access.spell(CODE)).status == 200


def test_without_a_code_on_the_box_nothing_is_asked_and_the_person_is_told_what_to_do(tmp_path: Path) -> None:
    yard = Yard(tmp_path).begin(make_code=False)
    try:
        answer = post(yard, NOTE, "000000000")
    finally:
        yard.end()

    assert answer.status == 403
    assert "neckyoke page code" in answer.json["text"]
    assert yard.asked == []


def test_a_new_code_ends_the_old_one_at_once(weighed: Yard) -> None:
    assert post(weighed, NOTE).status == 200

    access.keep(weighed.code_file, "111222333")

    assert post(weighed, NOTE).status == 401
    assert post(weighed, NOTE, "111222333").status == 200


@pytest.mark.parametrize(
    "headers",
    [
        {"origin": "http://elsewhere.example"},
        {"origin": "null"},
        {"sec_fetch_site": "cross-site"},
        {"sec_fetch_site": "same-site"},
    ],
)
def test_another_sites_page_may_not_ask_even_with_the_code(weighed: Yard, headers: dict[str, str]) -> None:
    assert post(weighed, NOTE, CODE, **headers).status == 403
    assert weighed.asked == []


def test_no_preflight_is_ever_allowed(weighed: Yard) -> None:
    headers = {"origin": "http://elsewhere.example", "access-control-request-method": "POST"}

    answer = ask(weighed, "OPTIONS", "/requests", headers=headers)

    assert answer.status == 405
    assert not any(name.startswith("access-control") for name in answer.headers)


@pytest.mark.parametrize("kind", ["text/plain", "application/x-www-form-urlencoded", "multipart/form-data", ""])
def test_what_a_form_could_send_is_not_taken(weighed: Yard, kind: str) -> None:
    assert post(weighed, NOTE, CODE, content_type=kind).status == 415
    assert weighed.asked == []


@pytest.mark.parametrize(
    "host", ["elsewhere.example", "crush.elsewhere.example:8370", "127.0.0.1.elsewhere.example", "a b"]
)
def test_a_name_that_is_not_this_boxs_gets_nothing(weighed: Yard, host: str) -> None:
    for path in LOOKS:
        assert ask(weighed, "GET", path, headers={"host": host}).status == 421


def test_the_box_answers_to_its_addresses_its_name_and_the_names_of_the_configuration() -> None:
    names = own_names("127.0.0.1", ["Yards.example"])

    for host in ("127.0.0.1:8370", "[::1]:8370", "192.168.4.1", "localhost:8370", "yards.example", "YARDS.example."):
        assert known_host(host, names), host
    assert known_host(f"{socket.gethostname()}.local:8370", names)


def test_an_origin_counts_only_as_a_whole() -> None:
    assert same_origin({"host": "crush.local:8370", "origin": "http://crush.local:8370"})
    assert not same_origin({"host": "crush.local:8370", "origin": "http://crush.local:8370.elsewhere.example"})
    assert not same_origin({"host": "crush.local:8370", "origin": "http://crush.local"})


def test_every_answer_has_the_headers_that_keep_a_browser_safe(weighed: Yard) -> None:
    for path in LOOKS:
        headers = ask(weighed, "GET", path).headers
        policy = headers["content-security-policy"]
        assert "default-src 'none'" in policy
        assert "script-src 'self';" in policy
        assert "unsafe" not in policy
        assert headers["x-content-type-options"] == "nosniff"
        assert headers["referrer-policy"] == "no-referrer"
        assert "server" not in headers


def test_too_many_wrong_codes_are_not_even_tried(yard: Yard) -> None:
    statuses = [post(yard, NOTE, f"{wrong:09d}").status for wrong in range(8)]

    assert statuses == [401] * 5 + [429] * 3
    answer = post(yard, NOTE)  # not even the right one, for a while: else every try would be worth its while
    assert answer.status == 429
    assert int(answer.headers["retry-after"]) > 30


def test_a_phone_that_is_in_is_not_kept_out_by_someone_who_guesses(yard: Yard) -> None:
    yard.tell(weighing(1, 318.5))
    assert post(yard, NOTE).status == 200
    for wrong in range(7):
        post(yard, NOTE, f"{wrong:09d}")

    assert post(yard, NOTE).status == 200


def test_someone_who_guesses_on_and_on_does_not_keep_the_owners_phone_out(yard: Yard) -> None:
    statuses = [post(yard, NOTE, f"{wrong:09d}", whence=f"127.0.0.{2 + wrong % 4}").status for wrong in range(24)]

    assert statuses.count(401) == 4 + 10  # each address once as a newcomer; then they share ten
    assert post(yard, NOTE, "111222333", whence="127.0.0.2").status == 429
    assert post(yard, NOTE, whence="127.0.0.9").status == 409  # let in: there is no such weighing


def test_newcomers_share_an_allowance_so_that_many_addresses_find_nothing(yard: Yard) -> None:
    statuses = [post(yard, NOTE, f"{wrong:09d}", whence=f"127.0.1.{1 + wrong}").status for wrong in range(30)]

    assert 20 <= statuses.count(401) <= 22  # one more every six seconds
    assert statuses[-1] == 429


def test_an_address_that_knew_the_code_shares_its_allowance_with_nobody(yard: Yard) -> None:
    assert post(yard, NOTE, whence="127.0.0.9").status == 409
    for wrong in range(40):  # newcomers, and then guessers: both have nothing left
        post(yard, NOTE, f"{wrong:09d}", whence=f"127.0.1.{1 + wrong // 2}")
    access.keep(yard.code_file, "111222333")  # another code: the old one is known no more

    assert post(yard, NOTE, "111222333", whence="127.0.0.9").status == 409


def test_an_allowance_is_so_many_at_once_and_then_so_many_a_second() -> None:
    now = 0.0
    allowance = Allowance(3, 0.5, lambda: now)

    assert [allowance.take("a") for _ in range(5)] == [True, True, True, False, False]
    assert allowance.take("b")
    now = 2.0
    assert [allowance.take("a") for _ in range(2)] == [True, False]
    assert allowance.wait_s("a") == 2


def test_many_askers_do_not_fill_the_memory() -> None:
    allowance = Allowance(1, 1.0, lambda: 0.0)
    for asker in range(5000):
        allowance.take(str(asker))

    assert len(allowance._askers) <= 1024


@pytest.mark.parametrize(
    ("body", "status"),
    [
        (b"", 422), (b"{", 422), (b"[]", 422), (b'"note"', 422), (b"\xff\xfe", 422), (b"[" * 9000, 422),
        (b"x" * 20000, 413),
        (b'{"kind":"explode"}', 422), (b'{"kind":"note"}', 422), (b'{"kind":"note","text":"a","more":1}', 422),
        (b'{"kind":"identify","tag":"12"}', 422), (b'{"kind":"zero","station":"../etc"}', 422),
    ],
)  # fmt: skip
def test_what_is_no_request_is_refused_in_words(weighed: Yard, body: bytes, status: int) -> None:
    headers = {"content-type": "application/json", "x-neckyoke-code": CODE}

    answer = ask(weighed, "POST", "/requests", body, headers)

    assert answer.status == status
    assert answer.json["text"]
    assert weighed.asked == []


def test_what_the_daemon_would_not_do_is_told_with_its_reason(weighed: Yard) -> None:
    answer = post(weighed, {"kind": "zero"})

    assert answer.status == 409
    assert "Something stands on the platform" in answer.json["text"]


def test_the_codes_file_does_not_hold_the_code_and_only_its_owner_reads_it(tmp_path: Path) -> None:
    path = tmp_path / "page.code"
    access.keep(path, CODE)

    assert path.stat().st_mode & 0o777 == 0o600
    assert CODE not in path.read_text()
    assert access.Access(path).check(CODE)
    assert not access.Access(path).check("482913068")
    assert set(json.loads(path.read_text())) == {"scrypt", "salt", "hash"}


@pytest.mark.parametrize("text", ["", "{}", '{"salt":"zz","hash":"aa"}', "[1]", "null"])
def test_a_damaged_code_file_lets_nobody_in(tmp_path: Path, text: str) -> None:
    path = tmp_path / "page.code"
    path.write_text(text)

    assert not access.Access(path).check(CODE)


def test_codes_are_nine_digits_and_differ() -> None:
    codes = {access.new_code() for _ in range(200)}

    assert len(codes) == 200
    assert all(re.fullmatch(r"[0-9]{9}", code) for code in codes)


def test_the_whole_page_is_under_200_kibibytes_and_takes_nothing_from_elsewhere() -> None:
    with resources.as_file(resources.files("neckyoke.bridge.page") / "static") as folder:
        files = [entry for entry in folder.rglob("*") if entry.is_file()]

    assert sum(len(entry.read_bytes()) for entry in files) < 200 * 1024
    for entry in files:
        text = entry.read_text(encoding="utf-8").replace("http://www.w3.org/2000/svg", "")
        assert not re.search(r"https?://|//cdn|@import|url\(", text), entry.name
        assert "innerHTML" not in text
