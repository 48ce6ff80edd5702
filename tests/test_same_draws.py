"""What lands is tested with draws that are always the same, whichever tests ran before in the same process."""

import sys
from pathlib import Path
from types import ModuleType

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st


def test_what_is_drawn_rests_on_no_import(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    drawn: list[str] = []

    @settings(max_examples=300)
    @given(st.text())
    def law(text: str) -> None:
        drawn.append(text)

    law()
    before = [*drawn]
    drawn.clear()
    module = ModuleType("of_ours")
    module.__file__ = str(tmp_path / "of_ours.py")
    Path(module.__file__).write_text("".join(f"A{at} = 'constant {at}'\n" for at in range(300)))
    monkeypatch.setitem(sys.modules, "of_ours", module)
    law()

    assert drawn == before
