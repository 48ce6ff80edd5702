"""The printable page and the pictures."""

import re
from collections.abc import Callable
from html.parser import HTMLParser
from pathlib import Path
from zoneinfo import ZoneInfo

from neckyoke.bridge.events import Event, Treatment
from neckyoke.bridge.job.sheet import load_sheet
from neckyoke.bridge.reports.page_report import html
from neckyoke.bridge.reports.tally import tally

Make = Callable[..., Event]
Dose = Callable[..., Treatment]
VOID = {"meta", "br"}


class Balanced(HTMLParser):
    """Follows the tags and keeps the text."""

    def __init__(self) -> None:
        super().__init__()
        self.open: list[str] = []
        self.text = ""

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        assert not {name for name, _ in attrs} & {"src", "href", "onload", "onclick"}, "nothing is fetched or run"
        assert tag != "script"
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        """An element of the picture, closed where it opens."""

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.text += data + " "


def read(page: str) -> str:
    parser = Balanced()
    parser.feed(page)
    parser.close()
    assert parser.open == []
    return re.sub(r"\s+", " ", parser.text)


def test_the_page_tells_the_day(event: Make, dose: Dose, tmp_path: Path) -> None:
    sheet = tmp_path / "sheet.toml"
    sheet.write_text('title = "Weaning"\nmob = "autumn steers"\nshrink_percent = 3\n')
    events = [
        event(i, 280.0 + i, pen="middle", treatments=[dose(30)], details={"sex": "steer" if i % 2 else "heifer"})
        for i in range(1, 41)
    ]
    text = read(
        html(
            tally([*events, event(41, 300.0, grade="poor")], expected=["visual 7"]),
            load_sheet(sheet),
            "larkmoor",
            ZoneInfo("Pacific/Honolulu"),
        )
    )
    assert "larkmoor Weaning autumn steers · 2026-11-23 16:01 to 16:41 Pacific/Honolulu" in text
    assert "41 animals 1 not seen" in text
    assert "1 with a poor weight, in no figure of weight; weigh again: 999 000000000041." in text
    assert "Not seen: visual 7." in text
    assert "mean 300.5 kg" in text
    assert "less 3 % pencil shrink" in text
    assert "Pens pen animals mean kg over" in text
    assert "Sex sex animals" in text
    assert "oral drench 40 0 1200 mL, over 40 2026-12-23 2027-01-06" in text
    assert "not for trade" in text
    assert "label, veterinarian and local rules decide" in text


def test_an_empty_day_has_a_page_too() -> None:
    assert "No weight good enough to count." in read(html(tally([])))


def test_what_people_type_stays_text(event: Make) -> None:
    evil = "<script>alert('x')</script>&\"'"
    page = html(tally([event(1, sheet=evil, pen=evil, details={"a": evil}), event(2, pen="b", details={"a": evil})]))
    assert evil in read(page).replace("  ", " ")
    assert "<script" not in page
