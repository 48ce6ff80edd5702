"""What can be asked of the daemon: every kind, every way to get it wrong, and what is said then."""

import json
from collections.abc import Iterator
from datetime import UTC, datetime
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.asking.dose_requests import WithheldRequest
from neckyoke.bridge.asking.herd_requests import HerdRequest
from neckyoke.bridge.asking.job_requests import JobRequest, SheetRequest, UndoRequest
from neckyoke.bridge.asking.parts import read_tag
from neckyoke.bridge.asking.requests import (
    KINDS,
    LARGEST,
    Answer,
    Answered,
    CorrectRequest,
    IdentifyRequest,
    NoteRequest,
    Refusal,
    ReloadRequest,
    Request,
    StatusRequest,
    VoidRequest,
    ZeroRequest,
    parse_request,
    to_ask,
)
from neckyoke.bridge.asking.sheet_requests import ShelfRequest
from neckyoke.bridge.station.instructions import About, Dosed, Found, Identify, Note, Void, Zero
from neckyoke.protocols.tagcode import TagCode

TAG = TagCode(999, 112233)

GOOD: list[tuple[dict[str, object], object]] = [
    ({"kind": "zero", "station": "crush"}, Zero()),
    ({"kind": "note", "station": "crush", "text": "lame, near hind"}, Note("lame, near hind")),
    ({"kind": "note", "text": " lame ", "number": 17}, Note("lame", About(number=17))),
    ({"kind": "identify", "tag": "999000000112233"}, Identify(TAG)),
    ({"kind": "identify", "tag": "999 000000112233", "weighing": "w"}, Identify(TAG, about=About(weighing="w"))),
    ({"kind": "identify", "tag": "999-000000112233", "visual": "214"}, Identify(TAG, "214")),
    ({"kind": "identify", "visual": "214"}, Identify(visual="214")),
    ({"kind": "identify"}, Identify()),
    ({"kind": "correct", "number": 3, "tag": "999.000000112233"}, Identify(TAG, about=About(number=3))),
    ({"kind": "void"}, Void()),
    ({"kind": "void", "reason": "two on the platform", "number": 3}, Void("two on the platform", About(number=3))),
    ({"kind": "skip", "treatment": "drench"}, Dosed("drench", given=False)),
    ({"kind": "skip", "treatment": "drench", "given": True}, Dosed("drench", given=True)),
    ({"kind": "dose", "treatment": "drench", "amount": 30, "batch": "B8"}, Dosed("drench", None, 30.0, batch="B8")),
    ({"kind": "finding", "name": "condition", "value": 3}, Found("condition", 3)),
    ({"kind": "finding", "name": "signs", "value": ["lame", "eye"]}, Found("signs", ("lame", "eye"))),
    ({"kind": "finding", "name": "pregnant", "value": None}, Found("pregnant", None)),
    ({"kind": "begin", "file": "lambs.toml"}, None),
    ({"kind": "pause"}, None),
    ({"kind": "resume", "job": "2", "from": 17}, None),
    ({"kind": "end"}, None),
    ({"kind": "sheet", "text": 'title = "Lambs"', "roster": "dGFnCg=="}, None),
    ({"kind": "undo", "asked": "a1"}, None),
    ({"kind": "batch", "treatment": "drench", "batch": "B8", "expires": "2027-05-01"}, None),
    ({"kind": "status"}, None),
    ({"kind": "reload"}, None),
    ({"kind": "withheld", "on": "2026-12-01"}, None),
    ({"kind": "retag", "visual": "105", "tag": "999 000000112233"}, None),
    ({"kind": "name", "tag": "999000000112233", "visual": "105"}, None),
    ({"kind": "mark", "visual": "105", "text": "keep back", "until": "2026-12-24"}, None),
    ({"kind": "unmark", "visual": "105"}, None),
    ({"kind": "merge", "visual": "105", "other": "999000000112233"}, None),
    ({"kind": "split", "visual": "105"}, None),
    ({"kind": "reply", "choice": "yes"}, None),
    ({"kind": "import", "header": ["visual", "tag"], "rows": {"2": ["105", "999000000112233"]}}, None),
    ({"kind": "sheets"}, None),
    ({"kind": "sheet-open", "file": "sheets/weaning.toml"}, None),
    ({"kind": "sheet-try", "form": {"title": "Weaning"}}, None),
    ({"kind": "sheet-save", "text": 'title = "Weaning"', "file": "sheets/weaning.toml", "was": "0123456789ab"}, None),
    ({"kind": "sheet-drop", "file": "sheets/weaning.toml", "was": "0123456789ab"}, None),
]


@pytest.mark.parametrize(("raw", "ask"), GOOD, ids=lambda one: one.get("kind") if isinstance(one, dict) else "")
def test_each_kind_is_read_and_put_in_the_stations_words(raw: dict[str, object], ask: object) -> None:
    request = parse_request(raw)
    assert not isinstance(request, Refusal), request
    assert to_ask(request) == ask
    assert parse_request(json.dumps(raw)) == parse_request(json.dumps(raw).encode()) == request


def test_every_kind_has_an_example_above() -> None:
    assert {raw["kind"] for raw, _ in GOOD} == set(KINDS)


@pytest.mark.parametrize(
    ("raw", "said"),
    [
        ("", "one JSON object"),
        ("[1, 2]", "one JSON object"),
        ('"zero"', "one JSON object"),
        ("{" * 5000, "one JSON object"),
        (b"\xff\xfe", "one JSON object"),
        (" " * (LARGEST + 1), f"at most {LARGEST} bytes"),
        ({}, "'kind' is missing"),
        ({"kind": "zeroo"}, "Did you mean 'zero'?"),
        ({"kind": 5}, "Unknown kind '5'"),
        ({"kind": "dance"}, "Known: batch, begin, correct, dose, end, finding, identify, import, mark, merge,"),
        ({"kind": "note"}, "'text' is missing in note"),
        ({"kind": "note", "text": ""}, "text: string should have at least 1 character"),
        ({"kind": "note", "text": "x" * 501}, "text: string should have at most 500 characters"),
        ({"kind": "note", "text": "a\nb"}, "control characters and line breaks are not allowed"),
        ({"kind": "note", "text": "\u202e \u2066"}, "nothing in it can be read"),
        ({"kind": "note", "text": "a\x1b[2Jb"}, "control characters and line breaks are not allowed"),
        ({"kind": "note", "text": "lame", "numbr": 3}, "Unknown key 'numbr' in note.  Did you mean 'number'?"),
        ({"kind": "note", "text": "lame", "number": 0}, "number: input should be greater than or equal to 1"),
        ({"kind": "zero", "station": "Crush 1"}, "station: small letters, digits, - and _"),
        ({"kind": "identify", "tag": "99900000011223"}, "has 14"),
        ({"kind": "identify", "tag": "9990000001122333"}, "has 16"),
        ({"kind": "identify", "tag": "999 274877906944"}, "the last 12 digits go up to 274877906943"),
        ({"kind": "identify", "tag": "no tag"}, "a tag is 15 digits"),
        ({"kind": "identify", "tag": 999000000112233}, "tag: input should be a valid string"),
        ({"kind": "correct", "tag": "999000000112233"}, "say which weighing"),
        ({"kind": "correct", "number": 4}, "say what is right"),
        ({"kind": "skip"}, "'treatment' is missing in skip"),
        ({"kind": "begin", "bare": True, "file": "lambs.toml"}, "a bare job has no sheet"),
        ({"kind": "sheet", "roster": "dGFnCg=="}, "a roster goes with the text of its sheet"),
        ({"kind": "sheet", "text": "x", "roster": "no base64"}, "roster is base64"),
        ({"kind": "resume", "from": 0}, "from: input should be greater than or equal to 1"),
    ],
)
def test_a_request_that_is_none_is_refused_in_words_that_say_what_would_be_right(
    raw: str | bytes | dict[str, object], said: str
) -> None:
    refusal = parse_request(raw)
    assert isinstance(refusal, Refusal)
    assert said in refusal.text
    assert refusal.answer() == Answer(done=False, text=refusal.text)


def test_marks_that_turn_writing_round_are_dropped() -> None:
    request = parse_request({"kind": "note", "text": "\u202elame, \u2067near\u2069 hind\u200f"})
    assert isinstance(request, NoteRequest)
    assert request.text == "lame, near hind"


def test_the_id_comes_back_even_in_a_refusal() -> None:
    refusal = parse_request({"kind": "nott", "id": "7"})
    assert isinstance(refusal, Refusal)
    assert refusal.answer().id == "7"


@pytest.mark.parametrize(
    "text", ["999000000112233", " 999 000000112233", "999-000000112233", "999_000000112233", "999/0.0.0 000112233"]
)
def test_a_tag_is_read_as_people_spell_it(text: str) -> None:
    assert read_tag(text) == TAG


@settings(max_examples=100, deadline=None)
@given(
    st.one_of(
        st.text(max_size=80),
        st.binary(max_size=80),
        st.dictionaries(st.text(max_size=8), st.none() | st.integers() | st.text(max_size=8)),
    )
)
def test_nothing_that_comes_in_raises(raw: str | bytes | dict[str, object]) -> None:
    assert isinstance(parse_request(raw), Refusal)


@settings(max_examples=100, deadline=None)
@given(
    st.sampled_from(sorted(KINDS)),
    st.dictionaries(
        st.sampled_from(["id", "station", "text", "tag", "visual", "number", "weighing", "reason", "given"]),
        st.none() | st.integers() | st.text(max_size=20) | st.booleans() | st.lists(st.integers(), max_size=2),
    ),
)
def test_a_request_is_taken_or_refused_and_what_is_taken_can_be_done(kind: str, rest: dict[str, object]) -> None:
    request = parse_request({"kind": kind, **rest})
    if not isinstance(request, Refusal):
        apart = StatusRequest | ReloadRequest | HerdRequest | UndoRequest | JobRequest | WithheldRequest | ShelfRequest
        assert (to_ask(request) is None) == isinstance(request, apart)


def parsed(raw: dict[str, object]) -> Request:
    request = parse_request(raw)
    assert not isinstance(request, Refusal)
    return request


NOW = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)


class TestAnswered:
    """A request that comes twice is done once: a broker may deliver it again."""

    def test_the_same_id_gets_the_answer_it_had(self) -> None:
        kept = Answered()
        request = parsed({"kind": "zero", "id": "a"})
        assert kept.before(request) is None
        kept.keep(request, Answer(id="a", done=True, text="Zeroed."), NOW)
        assert kept.before(request) == Answer(id="a", done=True, text="Zeroed.")

    def test_without_an_id_every_request_is_new(self) -> None:
        kept = Answered()
        kept.keep(ZeroRequest(), Answer(done=True, text="Zeroed."), NOW)
        assert kept.before(ZeroRequest()) is None

    def test_only_the_last_ones_are_kept_by_the_journal_too_and_outlive_a_restart(self) -> None:
        kept, journal = Answered(kept=2), dict[str, str]()
        for name in "abc":
            journal |= kept.keep(ZeroRequest(id=name), Answer(id=name, done=False, text=f"not {name}"), NOW)
            kept = Answered(journal, kept=2)
        assert kept.before(ZeroRequest(id="a")) is None
        assert kept.before(ZeroRequest(id="c")) == Answer(id="c", done=False, text="not c")
        assert len(journal) == 2
        assert json.loads(journal["asked/1"]) == {
            "turn": 3,
            "time": "2026-11-24T02:11:00.000Z",
            "request": {"id": "c", "kind": "zero"},
            "answer": {"id": "c", "done": False, "text": "not c"},
        }


def test_requests_cannot_be_changed_after_they_were_checked() -> None:
    for request in (NoteRequest(text="x"), IdentifyRequest(), CorrectRequest(number=1, visual="2"), VoidRequest()):
        with pytest.raises(ValueError, match="frozen"):
            setattr(request, "station", "other")  # noqa: B010 -- the type checker would see it


@pytest.mark.parametrize("far", [99999999999999999999, -99999999999999999999, 1e300, float("inf"), float("nan")])
@pytest.mark.parametrize(("kind", "key"), [("void", "number"), ("dose", "amount"), ("finding", "value")])
def test_every_number_has_its_bound(kind: str, key: str, far: float) -> None:
    whole: dict[str, str] = {"void": {}, "dose": {"treatment": "drench"}, "finding": {"name": "condition"}}[kind]
    for value in [far, [far]] if key == "value" else [far]:
        assert isinstance(parse_request(json.dumps({"kind": kind, **whole, key: value})), Refusal)


def test_no_number_is_without_a_bound() -> None:
    """What JSON Schema calls a number has both ends, in every request."""

    def unbounded(node: Any, at: str) -> Iterator[str]:
        if isinstance(node, dict):
            if node.get("type") in {"number", "integer"}:
                low, high = {"minimum", "exclusiveMinimum"}, {"maximum", "exclusiveMaximum"}
                yield from () if low & node.keys() and high & node.keys() else [at]
            for key, value in node.items():
                yield from unbounded(value, f"{at}/{key}")
        elif isinstance(node, list):
            for value in node:
                yield from unbounded(value, at)

    assert [found for kind, model in KINDS.items() for found in unbounded(model.model_json_schema(), kind)] == []


@pytest.mark.parametrize(
    ("more", "unproven"),
    [({}, False), ({"file": "a.toml"}, True), ({"text": "x"}, True), ({"file": "a.toml", "digest": "0" * 12}, False)],
)
def test_a_sheet_that_is_named_without_its_digest_is_unproven(more: dict[str, str], unproven: object) -> None:
    asked = parse_request({"kind": "sheet", **more})

    assert isinstance(asked, SheetRequest)
    assert asked.unproven is unproven
