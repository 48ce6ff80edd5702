"""What the page and its papers said of the whole day, held against the journal."""

import csv
import io
import statistics
from collections import Counter

import pytest

from tests.bridge.page.browser import Browser
from tests.bridge.page.whole_day import (
    HERE,
    Day,
    visual,
)


def _table(browser: Browser, title: str) -> dict[str, list[str]]:
    """Return what a table of the figures says, by the first word of each row."""
    rows = browser.run(
        "const head = [...document.querySelectorAll('#tally h3')].find((one) => one.innerText === arguments[0]);"
        "return [...head.parentNode.querySelectorAll('tbody tr')]"
        ".map((row) => [...row.children].map((one) => one.innerText))",
        title,
    )
    return {first: rest for first, *rest in rows}


def figures_are_the_journals(day: Day) -> None:
    stays, browser = [*day.stays().values()], day.browser
    browser.until("document.querySelector('#tally .figures dd')?.innerText === '20'")
    shown = dict(
        browser.run(
            "return [...document.querySelectorAll('#tally .figures div')]"
            ".map((one) => [one.querySelector('dt').innerText, one.querySelector('dd').innerText])"
        )
    )
    good = [one["weight"]["kg"] for one in stays if one["weight"]["grade"] in {"good", "fair"}]
    gains = [one["gain"]["kg_per_day"] for one in stays if one["gain"]]
    counts = {
        "animals": 20,
        "without a tag": sum(one["tag"] is None for one in stays),
        "poor weights": sum(one["weight"]["grade"] == "poor" for one in stays),
    }
    assert {name: int(shown.pop(name, 0)) for name in counts} == counts
    weights = {
        "mean kg": statistics.fmean(good),
        "median kg": statistics.median(good),
        "lightest kg": min(good),
        "heaviest kg": max(good),
        "spread (SD) kg": statistics.stdev(good),
    }
    assert {name: float(shown.pop(name)) for name in weights} == pytest.approx(weights, abs=0.051)
    assert float(shown.pop("total kg").replace(",", "")) == pytest.approx(sum(good), abs=0.51)
    assert float(shown.pop("mean gain kg a day")) == pytest.approx(statistics.fmean(gains), abs=0.0051)
    assert shown == {}, "nothing is shown that is not compared"

    heads = Counter(one["pen"] for one in stays if one["pen"] is not None)  # a poor weight goes to none
    assert {pen: int(row[0]) for pen, row in _table(browser, "By pen").items()} == heads
    for pen, (_, mean, total) in _table(browser, "By pen").items():
        kgs = [one["weight"]["kg"] for one in stays if one["pen"] == pen]
        assert float(mean) == pytest.approx(statistics.fmean(kgs), abs=0.051)
        assert float(total.replace(",", "")) == pytest.approx(sum(kgs), abs=0.51)
    for name, (given, _, total) in _table(browser, "Treatments").items():
        doses = [dose["amount"] for one in stays for dose in one["treatments"] if dose["name"] == name]
        assert (int(given), float(total.split()[0])) == (len(doses), sum(doses))
    values = Counter(str(one["findings"][0]["value"]) for one in stays)
    assert {value: int(row[0]) for value, row in _table(browser, "Seen: condition").items()} == values
    browser.until(
        "(document.querySelector('#mob').scrollIntoView({ block: 'end' }),"
        " document.querySelectorAll('#mob .no').length) === 20"
    )
    listed = browser.run("return [...document.querySelectorAll('#mob .no')].map((one) => Number(one.textContent))")
    assert sorted(listed) == sorted(day.stays())


def papers_are_the_journals(day: Day) -> None:
    stays = day.stays()
    rows = list(csv.DictReader(io.StringIO(day.saved("#csv"))))
    weights = {number: one["weight"]["kg"] for number, one in stays.items()}  # as the list has them: the job's
    assert {int(row["number"]): float(row["kg"]) for row in rows} == pytest.approx(weights, abs=0.06)
    doses = list(csv.DictReader(io.StringIO(day.saved("#register"))))
    given = [
        (dose["name"], dose["batch"] or "", dose["amount"], dose["withheld_until"] or "none")
        for one in stays.values()
        for dose in one["treatments"]
    ]
    columns = ("product", "batch", "amount", "clear from (meat)")
    told = [tuple(row[name] for name in columns) for row in doses]
    assert sorted((name, batch, float(amount), date) for name, batch, amount, date in told) == sorted(given)
    report = day.saved("#report")
    assert "Weaning" in report
    assert all(visual(at) in report for at in HERE)
