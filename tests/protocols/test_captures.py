"""Every capture through every decoder: its own reads it as expected, no other reads anything from it.

A capture is a folder of tests/captures: `frames.bin`, the bytes as they came, and `expected.jsonl`: a heading, then an
outcome a line.  The heading says which decoder it is for, and in `also` which others may read it.
"""

import json
from collections.abc import Callable
from functools import partial
from pathlib import Path
from typing import Any

import pytest

from neckyoke.protocols.decoder import Decoder, scale_decoder, tag_decoder
from neckyoke.protocols.readings import Outcome, Reject, TagRead
from neckyoke.protocols.scale.builtin import BUILT_IN, layout_from_table

CAPTURES = sorted(path for path in (Path(__file__).parents[1] / "captures").iterdir() if path.is_dir())


def heading(capture: Path) -> dict[str, Any]:
    with (capture / "expected.jsonl").open() as lines:
        found: dict[str, Any] = json.loads(lines.readline())
        return found


def own_name(capture: Path) -> str:
    decoder = heading(capture)["decoder"]
    if decoder["kind"] == "reader":
        return "tags-air" if decoder.get("hex_order") == "air" else "tags"
    return str(decoder.get("layout", capture.name))


def own_tables() -> dict[str, dict[str, Any]]:
    return {path.name: table for path in CAPTURES if (table := heading(path)["decoder"].get("table"))}


OWN = {name: layout_from_table(name, table) for name, table in own_tables().items()}
DECODERS: dict[str, Callable[[], Decoder]] = {
    "auto": scale_decoder,
    "tags": tag_decoder,
    "tags-air": partial(tag_decoder, None, "air"),
    **{name: partial(scale_decoder, name) for name in BUILT_IN},
    **{name: partial(scale_decoder, name, None, OWN) for name in OWN},
}


def spell(outcome: Outcome) -> dict[str, Any]:
    if isinstance(outcome, Reject):
        return {"reject": outcome.reason.value}
    if isinstance(outcome, TagRead):
        code = outcome.code
        names = ("country", "national", "animal", "retag", "user", "reserved", "data_block")
        return {"tag": {"id": str(code), **{name: getattr(code, name) for name in names}}}
    return {"weight": outcome._asdict()}


def is_like(found: dict[str, Any], expected: dict[str, Any]) -> bool:
    """Return whether all that is expected was found; a weight's spelling need not be expected."""
    if found.keys() != expected.keys():
        return False
    (kind,) = expected
    if kind == "reject":
        return bool(found == expected)
    return all(found[kind][name] == value for name, value in expected[kind].items())


@pytest.mark.parametrize("capture", CAPTURES, ids=lambda path: path.name)
def test_its_own_decoder_reads_a_capture_as_expected(capture: Path) -> None:
    lines = (capture / "expected.jsonl").read_text().splitlines()[1:]
    outcomes = [spell(outcome) for outcome in DECODERS[own_name(capture)]().feed((capture / "frames.bin").read_bytes())]
    assert len(outcomes) == len(lines)
    for found, line in zip(outcomes, lines, strict=True):
        assert is_like(found, json.loads(line)), (found, line)


@pytest.mark.parametrize("capture", CAPTURES, ids=lambda path: path.name)
def test_no_other_decoder_reads_anything_from_a_capture(capture: Path) -> None:
    data = (capture / "frames.bin").read_bytes()
    fired = {
        name
        for name, make in DECODERS.items()
        if name != own_name(capture) and any(not isinstance(outcome, Reject) for outcome in make().feed(data))
    }
    assert fired == set(heading(capture)["also"])


def test_every_layout_has_a_capture() -> None:
    assert set(BUILT_IN) <= {own_name(capture) for capture in CAPTURES}
