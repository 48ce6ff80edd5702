"""The animal on the platform in a terminal: the settled weight and what follows from it, nothing cut off."""

import io
import sys

import pytest

from neckyoke.bridge.events import Clock, Settled, Tag, Treatment, Weight, wrap
from neckyoke.bridge.telling.terminal import Now, Screen
from tests.support.events import DAY
from tests.support.status import view_of

TAG = Tag(id="999000000112233", code="999", national="000000112233", animal=True)
SETTLED = Settled(
    weighing="w",
    station="crush",
    number=17,
    tag=TAG,
    weight=Weight(kg=318.5, grade="good"),
    on=DAY,
    settled=DAY,
    clock=Clock.SYNCHRONISED,
    treatments=(
        Treatment(name="oral drench", amount=35, unit="mL", withheld_until="2026-12-22"),
        Treatment(name="seven in one", amount=2, unit="mL", withheld_until=None),
        Treatment(name="tag for flies", skipped=True),
    ),
    pen="heavy",
)


def now() -> Now:
    made = Now()
    made.take(wrap(SETTLED, site="larkmoor", time=DAY, key="w/1"))
    return made


def test_the_settled_weight_is_shown_not_the_swinging_one_with_pen_doses_and_until_when_withheld() -> None:
    text = now().line(view_of("crush", "settled", 301.5, weighing="w", next="Weighed: let it go."))
    for part in ("318.5 kg", "good", "999 000000112233", "pen heavy", "oral drench 35 mL", "withheld until 2026-12-22"):
        assert part in text
    assert "301.5" not in text
    assert "flies" not in text


def test_the_next_animal_is_not_shown_with_the_weight_of_the_last() -> None:
    text = now().line(view_of("crush", "settled", 301.5, weighing="x"))
    assert "301.5" in text
    assert "318.5" not in text


@pytest.mark.parametrize("columns", [40, 80])
def test_nothing_is_cut_off(monkeypatch: pytest.MonkeyPatch, columns: int) -> None:
    class Terminal(io.StringIO):
        def isatty(self) -> bool:
            return True

    out = Terminal()
    monkeypatch.setattr(sys, "stdout", out)
    monkeypatch.setenv("COLUMNS", str(columns))
    screen = Screen()
    text = now().line(view_of("crush", "settled", 301.5, weighing="w", next="Weighed: let it go to pen heavy."))
    screen.now(text)
    screen.keep("17")
    shown = out.getvalue()
    lines = shown.split("\r")[0].replace("\x1b[1m", "").replace("\x1b[0m", "").split("\n")
    assert all(len(one) < columns for one in lines)
    assert " ".join(" ".join(lines).split()) == " ".join(text.split())
    assert shown.count("\x1b[A") == len(lines) - 1, "every line of it is taken away again"
