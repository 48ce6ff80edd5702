"""The register: every dose once, with what a keeper's record asks for, read back by other programs.

The columns are held against Regulation (EU) 2019/6, article 108(2), as published.
"""

import io
from collections.abc import Callable
from datetime import date
from pathlib import Path
from typing import Any
from zoneinfo import ZoneInfo

import pytest

from neckyoke.bridge.events import Event, Treatment
from neckyoke.bridge.reports.doses.register import HEADINGS, DoseRow, doses
from neckyoke.bridge.reports.export import COMMA, Style
from neckyoke.bridge.reports.paper.workbook import doses_table
from neckyoke.bridge.reports.spreadsheet import html_rows, write_rows, write_workbook

SYDNEY = ZoneInfo("Australia/Sydney")
A, B = "999000000000101", "999000000000102"
ARTICLE_108 = {
    "a": {"date"},
    "b": {"product", "batch"},
    "c": {"amount", "unit"},
    "f": {"visual", "tag", "former_tags"},
    "h": {"clear_from_meat", "clear_from_export"},
}
"""What the article asks for and the register has; d, e and g (supplier, purchase, prescriber) are the keeper's own."""


def implant(**given: Any) -> Treatment:
    return Treatment.model_validate(
        {
            "name": "implant",
            "amount": 1.0,
            "unit": "implant",
            "batch": "0105",
            "expires": "2027-03-01",
            "route": "under the skin",
            "body_site": "ear",
            "given_by": "J. Doe",
            "reason": "as prescribed",
            "withheld_until": None,
            "export_from": "unknown",
            **given,
        }
    )


@pytest.fixture
def day(event: Callable[..., Event], dose: Callable[..., Treatment]) -> list[dict[str, Any]]:
    made = [
        event(1, tag=A, animal={"visual": "0105", "former_tags": [B]}, treatments=[dose(30.0), implant()]),
        event(2, tag=B, animal={"visual": "12E5"}, treatments=[dose(35.0, skipped=True), implant(amount=2.0)]),
        event(3, tag=None, animal={"visual": "3/4"}, treatments=[dose(None)]),
        event(4, treatments=[dose(20.0)], flags=("voided",)),
        event(1, tag=A, revision=2, animal={"visual": "0105", "former_tags": [B]}, treatments=[dose(25.0), implant()]),
    ]
    return [one.data.model_dump(mode="json") for one in made]


def rows(day: list[dict[str, Any]], **given: Any) -> list[DoseRow]:
    return list(doses(day, SYDNEY, **given))


def test_every_dose_that_was_given_stands_there_once(day: list[dict[str, Any]]) -> None:
    assert [(one.visual, one.product, one.amount, one.unit) for one in rows(day)] == [
        ("0105", "oral drench", 25.0, "mL"),
        ("0105", "implant", 1.0, "implant"),
        ("12E5", "implant", 2.0, "implant"),
        ("3/4", "oral drench", None, "mL"),
        (None, "oral drench", 20.0, "mL"),  # its weighing was struck out
    ]
    assert [one.remark for one in rows(day)][-1] == "its weighing was struck out"


def test_it_has_what_the_article_asks_for(day: list[dict[str, Any]]) -> None:
    first, second = rows(day)[:2]
    assert set().union(*ARTICLE_108.values()) <= set(HEADINGS)
    assert set(first.as_dict()) == set(HEADINGS)
    assert (first.clear_from_meat, first.clear_from_export) == ("2026-12-23", "2027-01-06")
    assert (second.clear_from_meat, second.clear_from_export) == ("none", "not known")
    assert (second.batch, second.expires, second.route, second.body_site) == (
        *("0105", "2027-03-01", "under the skin", "ear"),
    )
    assert (second.given_by, second.reason, second.former_tags, second.tag) == ("J. Doe", "as prescribed", B, A)


@pytest.mark.parametrize(
    ("more", "turns", "found"),
    [
        ({"job": "j1", "job_number": 7, "sheet": "Autumn"}, {"j1": 2}, (2, 7, "Autumn")),
        ({"job": "j1", "job_number": 7, "sheet": None}, {"j2": 2}, ("j1", 7, None)),  # all that is known
        ({"job": "j1", "job_number": None}, {"j1": 2}, (None, 1, "Larkmoor steers")),  # while it was paused
    ],
)
def test_job_and_number_are_what_can_be_told_and_the_sheet_has_its_title(
    event: Callable[..., Event],
    dose: Callable[..., Treatment],
    more: dict[str, Any],
    turns: dict[str, int],
    found: tuple[int | str | None, int, str | None],
) -> None:
    made = event(1, treatments=[dose()]).data.model_dump(mode="json")
    one = next(doses([made | {"sheet": "Larkmoor steers"} | more], SYDNEY, turns=turns))
    assert (one.job, one.number, one.sheet) == found


def test_dates_are_the_farms(event: Callable[..., Event], dose: Callable[..., Treatment]) -> None:
    """02:00 UTC on the 24th is 13:00 in Sydney; 22 hours earlier it is the 23rd there, though late on the 22nd UTC."""
    made = event(1, treatments=[dose()]).data.model_dump(mode="json")
    assert next(doses([made], SYDNEY)).date == "2026-11-24"
    made |= {"settled": "2026-11-23T14:00:00.000Z"}
    assert next(doses([made], SYDNEY)).date == "2026-11-24"
    assert next(doses([made], ZoneInfo("UTC"))).date == "2026-11-23"


@pytest.mark.parametrize(
    ("wanted", "products"),
    [
        ({"product": "IMPLANT"}, ["implant", "implant"]),
        ({"animal": "0105"}, ["oral drench", "implant"]),
        ({"animal": B}, ["oral drench", "implant", "implant"]),
        ({"animal": "105"}, []),
        ({"first": date(2026, 11, 25)}, []),
        ({"last": date(2026, 11, 23)}, []),
        ({"first": date(2026, 11, 24), "last": date(2026, 11, 24), "animal": "3/4"}, ["oral drench"]),
    ],
)
def test_it_selects_by_product_animal_and_days(
    day: list[dict[str, Any]], wanted: dict[str, Any], products: list[str]
) -> None:
    assert [one.product for one in rows(day, **wanted)] == products


def test_a_spreadsheet_keeps_every_text_number_and_date(day: list[dict[str, Any]], tmp_path: Path) -> None:
    """openpyxl and pandas read the .xlsx back: visual numbers stay texts, dates are dates, amounts numbers."""
    import openpyxl
    import pandas as pd

    path = tmp_path / "register.xlsx"
    write_workbook(path, {"doses": doses_table(rows(day))})
    sheet = openpyxl.load_workbook(path)["doses"]
    cells = [[cell.value for cell in row] for row in sheet.iter_rows()]
    assert cells[0] == list(HEADINGS.values())
    visual, amount, batch = (list(HEADINGS).index(key) for key in ("visual", "amount", "batch"))
    assert [row[visual] for row in cells[1:]] == ["0105", "0105", "12E5", "3/4", None]
    assert [row[amount] for row in cells[1:]] == [25, 1, 2, None, 20]
    assert cells[2][batch] == "0105"
    assert cells[1][0].date() == date(2026, 11, 24)
    read = pd.read_excel(path, dtype={"visual": str, "tag": str, "batch": str})
    assert read["tag"].tolist()[:3] == [A, A, B]
    assert read["amount"].sum() == 48


@pytest.mark.parametrize("style", [Style(), COMMA])
def test_pandas_reads_the_csv_back(day: list[dict[str, Any]], style: Style) -> None:
    import pandas as pd

    out = io.StringIO()
    assert write_rows(HEADINGS, (one.as_dict() for one in rows(day)), out, style) == 5
    read = pd.read_csv(
        io.StringIO(out.getvalue().lstrip("\ufeff")), sep=style.separator, decimal=style.decimal, dtype={"visual": str}
    )
    assert read.columns.tolist() == list(HEADINGS.values())
    assert read["visual"].tolist()[:4] == ["0105", "0105", "12E5", "3/4"]
    assert read["amount"].sum() == 48


def test_what_a_person_typed_is_no_html(event: Callable[..., Event]) -> None:
    made = event(1, treatments=[implant(reason="<b>&")]).data.model_dump(mode="json")
    assert "&lt;b&gt;&amp;" in html_rows(HEADINGS, [one.as_dict() for one in doses([made], SYDNEY)])
