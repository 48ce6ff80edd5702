"""Every number on the report is found again from the events by pandas, and over how many animals it is."""

from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.cli import main
from tests.bridge.reports.paper.conftest import MOB, Page, weighings

RANK = {"good": 0, "fair": 1, "poor": 2, "none": 3}
DASH = "\N{EN DASH}"
HELD = ("voided", "paused")


@pytest.fixture(scope="module")
def page(season: Path, tmp_path_factory: pytest.TempPathFactory) -> Page:
    path = tmp_path_factory.mktemp("page") / "report.html"
    assert main(["tally", str(season), "--html", str(path)]) == 0
    return Page(path.read_text(encoding="utf-8"))


def frame(path: Path, turn: int) -> tuple[Any, Any]:
    """Return the animals of a job, each by its best weighing, and all its weighings that stand.

    Beside these, as an attribute, the doses given in those that were struck out: they count among the doses used.
    """
    import pandas as pd

    rows: Any = pd.json_normalize(weighings(path), max_level=1)
    rows = rows.sort_values("revision", kind="stable").drop_duplicates("weighing", keep="last").sort_values("on")
    rows = rows[rows["sheet"] == f"weigh-in {turn}"]
    struck = rows[["voided" in flags for flags in rows["flags"]]].explode("treatments")["treatments"]
    rows = rows[[not set(flags) & set(HELD) for flags in rows["flags"]]]
    rows["who"] = rows["tag.id"].where(rows["tag.id"].notna(), "number " + rows["job_number"].astype(str))
    rows["ear"] = rows["animal.visual"]
    rows["name"] = rows["ear"].where(rows["ear"].notna(), "number " + rows["job_number"].astype(int).astype(str))
    rows["rank"] = rows["weight.grade"].map(RANK)
    rows["kg"] = rows["weight.kg"].where(rows["rank"] <= 1)
    rows["at"] = range(len(rows))
    best = rows.sort_values(["rank", "at"], ascending=[True, False]).drop_duplicates("who").sort_values("at")
    rows.attrs["struck"] = [dose for dose in struck if isinstance(dose, dict) and not dose["skipped"]]
    return best, rows


@pytest.fixture(scope="module")
def animals(season: Path) -> Any:
    return frame(season, 2)[0]


def missing(value: Any) -> bool:
    import pandas as pd

    return bool(pd.isna(value))


def one(number: Any) -> str:
    return "" if missing(number) else f"{number:.1f}"


def two(number: Any) -> str:
    return "" if missing(number) else f"{number:.2f}"


def spaced(tag: Any) -> str:
    return "" if missing(tag) else f"{tag[:3]} {tag[3:]}"


def ordered(rows: Any, column: str, *, largest: bool) -> Any:
    """Sort by a column; of equals, ears as people count them: by their first number, as a number."""
    import numpy as np

    known = rows[rows[column].notna()].copy()
    known["ear_number"] = known["name"].str.extract(r"^(\d+)")[0].astype(float).fillna(np.inf)
    known = known.sort_values(["ear_number", "name"], kind="stable")
    return known.sort_values(column, ascending=not largest, kind="stable")


def test_who_and_when(page: Page) -> None:
    assert page.lines[0] == "Larkmoor Downs"
    assert page.lines[1] == f"{MOB} · job 2 · crush · 2026-11-24 09:01 to 10:03 Pacific/Auckland"


def test_the_counts(page: Page, season: Path, animals: Any) -> None:
    _, rows = frame(season, 2)
    untagged = animals["tag.id"].isna().sum()
    withheld = sum("withheld" in flags for flags in animals["flags"])
    assert page.counts == [str(len(animals)), str(untagged), str(len(rows) - len(animals)), str(withheld), "1"]
    assert len(animals) == 61


def test_the_figures_of_weights_and_gains(page: Page, animals: Any) -> None:
    kg, gain = animals["kg"].dropna(), animals["gain.kg_per_day"].dropna()
    name = animals["name"]
    near = (kg.sub(kg.mean()).abs() <= kg.mean() / 10).mean() * 100
    low, high = kg.quantile([0.25, 0.75])
    begin = next(at for at, line in enumerate(page.lines) if line.startswith("weight, over"))
    assert page.lines[begin : begin + 4] == [
        (
            f"weight, over {len(kg)} of {len(animals)}: mean {kg.mean():.1f} kg, median {kg.median():.1f} kg, "
            f"SD {kg.std():.1f} kg, CV {100 * kg.std() / kg.mean():.1f} %"
        ),
        f"lightest {kg.min():.1f} kg ({name[kg.idxmin()]}), heaviest {kg.max():.1f} kg ({name[kg.idxmax()]})",
        (
            f"total {kg.sum():.1f} kg over {len(kg)}; {near:.1f} % within 10 % of the mean, "
            f"half from {low:.1f} to {high:.1f} kg"
        ),
        (
            f"gain, over {len(gain)}: mean {gain.mean():.2f} kg/day, {gain.min():.2f} ({name[gain.idxmin()]}) to "
            f"{gain.max():.2f} ({name[gain.idxmax()]})"
        ),
    ]


def test_what_is_to_be_looked_at(page: Page, animals: Any) -> None:
    poor, none = (
        ordered(animals.assign(all=0), "all", largest=True)["weight.grade"] == grade for grade in ("poor", "none")
    )
    poor, none = (animals.loc[mine[mine].index, "name"] for mine in (poor, none))
    text = " ".join(page.lines)
    assert f"{len(poor)} with a poor weight, in no figure of weight; weigh again: {', '.join(poor)}." in text
    assert f"{len(none)} without a weight; weigh again: {', '.join(none)}." in text
    held = animals[[len(held) > 0 for held in animals["withheld"]]]
    assert f"{len(held)} withheld from meat when weighed, until: " in text
    assert all(f"{name} (2026-12-01)" in text for name in held["name"])


def test_losers_and_leaders(page: Page, animals: Any) -> None:
    lost = animals[animals["gain.kg"] < 0].sort_values("gain.kg", kind="stable")
    known = animals["gain.kg"].notna().sum()
    named = ", ".join(
        f"{row['name']} ({row['gain.kg']:.1f} kg in {int(row['gain.days'])} days)" for _, row in lost.iterrows()
    )
    assert len(lost) > 5
    text = " ".join(page.lines)
    assert f"{len(lost)} of {known} with a last weight: " in text
    assert set(named.split(", ")) == set(
        text.split("with a last weight: ")[1].split(".  ")[0].split(". ")[0].rstrip(".").split(", ")
    )
    for heading, column, largest, spell in (
        ("Heaviest of", "kg", True, one),
        ("Lightest of", "kg", False, one),
        ("Gained most of", "gain.kg_per_day", True, two),
        ("Gained least of", "gain.kg_per_day", False, two),
    ):
        (title,) = [title for title in page.tables if title.startswith(heading)]
        assert title == f"{heading} {animals[column].notna().sum()}"
        five = ordered(animals, column, largest=largest).head(5)
        assert page.tables[title][1:] == [[row["name"], spell(row[column])] for _, row in five.iterrows()]


def test_pens_and_findings(page: Page, animals: Any) -> None:
    seen = animals["findings"].map(lambda found: str(found[0]["value"]) if found else None)
    for heading, groups in (("Pens", animals["pen"]), ("Condition", seen), ("Sex", animals["details.sex"])):
        table = page.tables[heading]
        assert [row[0] for row in table[1:]] == sorted(groups.dropna().unique())
        for value, *cells in table[1:]:
            mine = animals[groups == value]
            kg, gain = mine["kg"].dropna(), mine["gain.kg_per_day"].dropna()
            assert cells[:3] == [str(len(mine)), one(kg.mean()), str(len(kg))]
            assert [cells[3].split(" ")[0], cells[4].split(" ")[0], cells[5]] == [
                one(kg.min()),
                one(kg.max()),
                one(kg.sum()),
            ]
            assert cells[3].endswith(f"({ordered(mine, 'kg', largest=False)['name'].iloc[0]})")
            if heading != "Sex":
                assert cells[6:8] == [two(gain.mean()), str(len(gain))]
                assert [cell.split(" ")[0] for cell in cells[8:]] == [two(gain.min()), two(gain.max())]
    assert f"All {animals['kg'].notna().sum()} with a sure weight: breed dairy cross" in page.lines


def test_doses_used(page: Page, season: Path) -> None:
    import pandas as pd

    _, rows = frame(season, 2)
    given_to = rows.explode("treatments")
    doses: Any = pd.concat(
        [given_to[["who"]].reset_index(drop=True), pd.json_normalize(given_to["treatments"].tolist())], axis=1
    )
    doses = doses.sort_values("skipped", kind="stable").drop_duplicates(["who", "name"])  # once an animal, where given
    table = {row[0]: row[1:] for row in page.tables["Doses used"][1:]}
    for name, unit, units in (("oral drench", "mL", "mL"), ("bolus", "bolus", "boluses")):
        mine = doses[doses["name"] == name]
        struck = pd.DataFrame([dose for dose in rows.attrs["struck"] if dose["name"] == name], columns=mine.columns)
        given = mine[~mine["skipped"].astype(bool)]
        given = pd.concat([given, struck]) if len(struck) else given
        assert set(given["unit"]) == {unit}
        amounts = given["amount"].dropna()
        batches = ", ".join(sorted(given["batch"].dropna().unique()))
        meat, export = (
            given[key].dropna().max() if given[key].notna().any() else "none"
            for key in ("withheld_until", "export_from")
        )
        in_all = f"{amounts.sum():g} {units}, over {len(amounts)}"
        assert table[name] == [str(len(given)), str(sum(mine["skipped"].astype(bool))), in_all, batches, meat, export]


def test_the_animals_a_row_each(page: Page, animals: Any) -> None:
    import pandas as pd

    title, table = next((title, table) for title, table in page.tables.items() if title.startswith("The animals"))
    assert title == f"The animals, {len(animals)}"
    head, *rows = table
    shown: Any = pd.DataFrame(rows, columns=head)
    assert sorted(shown["tag"]) == sorted(spaced(tag) for tag in animals["tag.id"])
    by_tag = animals.assign(tag=[spaced(tag) for tag in animals["tag.id"]]).set_index("tag")
    for _, row in shown.iterrows():
        data = by_tag.loc[row["tag"]]
        assert row["ear"] == (data["ear"] if not missing(data["ear"]) else DASH)
        assert row["kg"] == one(data["weight.kg"])
        then = data["weight.kg"] - data["gain.kg"]
        assert [row["last kg"], row["kg/day"]] == [one(then), two(data["gain.kg_per_day"])]
        assert row["+ kg"] == ("" if missing(data["gain.kg"]) else f"{data['gain.kg']:+.1f}")
        assert row["days"] == ("" if missing(data["gain.days"]) else str(int(data["gain.days"])))
        assert row["pen"] == (data["pen"] or "")
        assert all(note in row["remarks"] for note in data["notes"])
    ears = [ear for ear in shown["ear"] if ear != DASH]
    assert ears[:2] == ["0105", "201"], "as people count: 0105 is 105"


def test_the_pictures(page: Page, season: Path, animals: Any) -> None:
    import numpy as np

    kg, gain = animals["kg"].dropna(), animals["gain.kg_per_day"].dropna()
    assert " ".join(page.pictures["Weights"]).endswith(f"kg, in steps of 20: {len(kg)} animals")
    counts, _ = np.histogram(kg, np.arange(kg.min() // 20 * 20, kg.max() + 20, 20))
    assert [int(text) for text in page.pictures["Weights"][: (counts > 0).sum()]] == [int(one) for one in counts if one]
    lost = (gain < 0).sum()
    assert f"{len(gain)} animals; {lost} lost weight (hollow)" in " ".join(page.pictures["Gains"])
    pairs = animals["gain.kg"].dropna()
    drawn = page.circles["Weight against last weight"]
    assert [len(drawn), sum(drawn)] == [len(pairs), (pairs < 0).sum()]
    text = " ".join(page.pictures["Weight against last weight"])
    assert f"{len(pairs)} animals with a last weight; {(pairs < 0).sum()} lost weight (hollow)" in text
    first = frame(season, 1)[0]["kg"].dropna()
    jobs = page.pictures["The mob over its jobs"]
    assert str(len(first)) in jobs
    assert str(len(kg)) in jobs
