"""Whatever a phone says of sheets, the box answers in words; nothing breaks, nothing is written beside the shelf."""

import base64
from collections.abc import Iterator
from pathlib import Path
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from neckyoke.bridge.job.making.form import KEYS, SEVERAL
from neckyoke.bridge.job.sheet import Sheet
from tests.bridge.page.shed import Shed

ANYTHING = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=20) | st.just("2026-02-30"),
    lambda inner: st.lists(inner, max_size=3) | st.dictionaries(st.text(max_size=8), inner, max_size=3),
    max_leaves=8,
)


def _fields(key: str) -> list[str]:
    """List the keys of one of a sheet's several tables."""
    annotation: Any = Sheet.model_fields[key].annotation
    return [*annotation.__args__[0].model_fields, "was"]


TABLE = {
    key: st.dictionaries(st.sampled_from(_fields(key)) | st.text(max_size=8), ANYTHING, max_size=5) for key in SEVERAL
}
FORMS = st.dictionaries(st.sampled_from(KEYS) | st.text(max_size=8), ANYTHING, max_size=4) | st.fixed_dictionaries(
    {"title": st.text(max_size=20) | ANYTHING},
    optional={key: st.lists(table, max_size=3) | ANYTHING for key, table in TABLE.items()},
)
FILES = st.text(max_size=20) | st.sampled_from(
    ["sheets/x.toml", "neckyoke.toml", "../neckyoke.toml", "/etc/passwd", "x.csv"]
)
REQUESTS = st.fixed_dictionaries(
    {"kind": st.sampled_from(["sheet-try", "sheet-save", "sheet-open", "sheet-drop", "sheets"])},
    optional={
        "file": FILES,
        "was": st.just("0" * 12) | st.text(max_size=13),
        "form": FORMS,
        "text": st.text(max_size=60) | st.just('title = "x"\n[[draft]]\npen = "a"\n'),
        "copy_of": FILES,
        "roster": st.binary(max_size=80).map(lambda raw: base64.b64encode(raw).decode()) | st.text(max_size=9),
        "roster_name": st.sampled_from(["a.csv", "a.xlsx", "../../a.csv", ".xlsx"]) | st.text(max_size=9),
    },
)
FUZZ = settings(max_examples=150, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])


@pytest.fixture(scope="module")
def shed(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Shed]:
    with Shed(tmp_path_factory.mktemp("shed")) as made:
        yield made


def _asked(shed: Shed, request: dict[str, Any]) -> dict[str, Any]:
    async def ask() -> dict[str, Any]:
        return await shed.box.service.desk.ask(request)

    return shed.wait(ask())


def _beside(folder: Path) -> dict[str, bytes]:
    """Read what lies beside the shelf, but for what the box itself writes."""
    return {one.name: one.read_bytes() for one in folder.iterdir() if one.suffix in {".toml", ".csv", ".code"}}


@FUZZ
@given(request=REQUESTS)
def test_every_word_on_sheets_is_answered_in_words(shed: Shed, request: dict[str, Any]) -> None:
    before = _beside(shed.folder)

    answer = _asked(shed, request)

    assert isinstance(answer["done"], bool)
    assert "Look whether it was done" not in answer["text"]  # as a mistake of ours is answered
    assert answer["done"] or answer["text"]
    assert _beside(shed.folder) == before


@FUZZ
@given(form=FORMS)
def test_a_form_that_is_good_can_be_saved_opened_and_saved_again_as_it_is(shed: Shed, form: dict[str, Any]) -> None:
    made = _asked(shed, {"kind": "sheet-save", "form": form})
    if not made["done"]:
        return
    file = made["sheet"]["file"]
    opened = _asked(shed, {"kind": "sheet-open", "file": file})["sheet"]

    again = _asked(shed, {"kind": "sheet-save", "file": file, "was": opened["digest"], "form": opened["form"]})

    assert again["text"].startswith("Saved already")
    assert _asked(shed, {"kind": "undo", "asked": made["asked"]})["done"]
    assert not (shed.folder / file).exists()
