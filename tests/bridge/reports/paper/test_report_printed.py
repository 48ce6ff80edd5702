"""The report in a real browser: on A4 and US Letter no row is cut, axe has nothing against it, a phone can read it."""

import base64
import io
import json
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

from neckyoke.bridge.cli import main
from tests.bridge.page.browser import Browser
from tests.bridge.page.judging import axe, complaints

__all__ = ["axe"]  # the fixture

SHEETS = {"A4": (8.27, 11.69), "Letter": (8.5, 11.0)}
"""Inches, as the DevTools protocol's Page.printToPDF takes them."""


@pytest.fixture(scope="module")
def browser(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Browser]:
    with Browser(tmp_path_factory.mktemp("browser")) as opened:
        yield opened


@pytest.fixture(scope="module")
def pages(season: Path, tmp_path_factory: pytest.TempPathFactory) -> dict[str, str]:
    """Write the report and an animal's page, each animal with a remark so long that it takes several lines."""
    folder = tmp_path_factory.mktemp("pages")
    told = []
    for number, line in enumerate(season.read_text(encoding="utf-8").splitlines()):
        event = json.loads(line)
        if event["type"] == "neckyoke.weighing":
            event["data"]["notes"] = [" ".join(f"n{number}p{part}" for part in range(20))]
        told.append(json.dumps(event, separators=(",", ":")))
    events, report, animal = folder / "events.jsonl", folder / "report.html", folder / "animal.html"
    events.write_text("\n".join(told) + "\n", encoding="utf-8")
    assert main(["tally", str(events), "--html", str(report)]) == 0
    assert main(["tally", str(events), "--animal", "0105", "--html", str(animal)]) == 0
    return {"report": report.as_uri(), "animal": animal.as_uri()}


@pytest.mark.parametrize("sheet", SHEETS)
def test_no_row_is_cut_between_two_pages(browser: Browser, pages: dict[str, str], sheet: str) -> None:
    import pypdf

    browser.go(pages["report"])
    wide, tall = SHEETS[sheet]
    made = browser.cdp("Page.printToPDF", paperWidth=wide, paperHeight=tall, printBackground=True)
    pdf = pypdf.PdfReader(io.BytesIO(base64.b64decode(made["data"])))
    assert [float(one) / 72 for one in pdf.pages[0].mediabox[2:]] == pytest.approx([wide, tall], abs=0.02)
    words = [set(re.findall(r"n\d+p\d+", page.extract_text())) for page in pdf.pages]
    rows = {word.partition("p")[0] for page in words for word in page}
    assert len(rows) >= 60
    for row in rows:
        parts = [{word for word in page if word.startswith(f"{row}p")} for page in words]
        assert sorted(map(len, parts))[-2:] == [0, 20], f"the row of {row} is cut"
    texts = [page.extract_text() for page in pdf.pages]
    headed = [text for text, page in zip(texts, words, strict=True) if page]
    assert all("remarks" in text for text in headed), "the headings stand on every page of the table"
    assert all(re.search(r"\S", text) for text in texts), "no page is empty"


@pytest.mark.parametrize("name", ["report", "animal"])
@pytest.mark.parametrize("width", [390, 1280])
def test_axe_has_nothing_against_it(browser: Browser, pages: dict[str, str], axe: str, name: str, width: int) -> None:
    browser.resize(width, 844)
    browser.go(pages[name])
    assert complaints(browser, axe) == []


@pytest.mark.parametrize("name", ["report", "animal"])
def test_a_phone_reads_it_without_moving_the_page_sideways(browser: Browser, pages: dict[str, str], name: str) -> None:
    browser.resize(360, 780)
    browser.go(pages[name])
    assert browser.run("return document.documentElement.scrollWidth") <= 360
    sizes = browser.run(
        "return [...document.querySelectorAll('svg text')].map((one) => one.getBoundingClientRect().height)"
    )
    assert min(sizes) >= 10, "CSS pixels of a line of text in a picture"


def test_in_black_and_white_it_says_the_same(browser: Browser, pages: dict[str, str]) -> None:
    """What is said by colour is said by shape too: of two colours in a picture one is paper."""
    browser.go(pages["report"])
    fills = browser.run(
        "return [...document.querySelectorAll('svg rect[x], svg circle')].map((one) => one.getAttribute('fill'))"
    )
    assert set(fills) == {"#4a6f8a", "#fff"}
