"""The tally of a day told out: what counts, and what it says."""

import gzip
import json
from collections.abc import Callable
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.config.problems import ConfigError
from neckyoke.bridge.events import Event, Finding, Flag, Gain, Treatment
from neckyoke.bridge.job.sheet import load_sheet
from neckyoke.bridge.reports.reading import EventsFile
from neckyoke.bridge.reports.show import as_json, as_line, as_text, histogram
from neckyoke.bridge.reports.tally import Count, Tally, tally

Make = Callable[..., Event]
Dose = Callable[..., Treatment]
A = "999000000000001"


@pytest.fixture
def day(event: Make, dose: Dose) -> list[Event]:
    """Eight stays, six animals: one struck out, one weighed again, one untagged, one poor, one without a weight."""
    gain = Gain(kg=60, days=60, since="2026-09-25", kg_per_day=1.0)
    steer, heifer = {"sex": "steer", "block": "east"}, {"sex": "heifer", "block": "east"}
    return [
        event(1, 300.0, details=steer, pen="middle", treatments=[dose(30)], gain=gain),
        event(2, 200.0, details=steer),
        event(2, 200.0, details=steer, revision=2, flags=[Flag.VOIDED]),
        event(3, 350.0, details=steer, pen="heavy", treatments=[dose(35, batch="B7")]),
        event(4, 280.0, tag=None, details=heifer, pen="light", treatments=[dose(skipped=True)]),
        event(5, 310.0, grade="poor", details=heifer, treatments=[dose(35)]),
        event(6, None, details=heifer, treatments=[dose(None)]),
        event(7, 306.0, tag=A, flags=[Flag.REPEAT], details=steer, pen="middle", treatments=[dose(35)], grade="fair"),
        event(8, 310.0, flags=[Flag.NOT_EXPECTED, Flag.WITHHELD], grade="fair", details=steer, pen="middle"),
    ]


def test_counts(day: list[Event]) -> None:
    found = tally(day, expected=[A, "999000000000009", "visual 7"])
    assert found.counts == {
        "animals": 6,
        "weighings": 7,
        "untagged": 1,
        "repeats": 1,
        "not_expected": 1,
        "not_seen": 2,
        "voided": 1,
        "paused": 0,
        "withheld": 1,
        "poor": 1,
        "no_weight": 1,
    }
    assert found.not_seen == ("999000000000009", "visual 7")
    assert tally(day).counts["not_seen"] is None, "nobody said who was expected"


def test_figures_rest_on_good_and_fair_weights_of_each_animal_once(day: list[Event]) -> None:
    shown = as_json(tally(day))
    assert shown["weight"] == {
        "count": 4,
        "mean_kg": 310.0,
        "median_kg": 305.0,
        "sd_kg": pytest.approx(29.439, abs=5e-4),
        "cv_percent": pytest.approx(9.497, abs=5e-4),
        "min_kg": 280.0,
        "max_kg": 350.0,
        "total_kg": 1240.0,
        "within_10_percent": 75.0,
    }
    assert (shown["lightest"], shown["heaviest"]) == (None, "999000000000003")
    assert {pen: one["count"] for pen, one in shown["by_pen"].items()} == {"heavy": 1, "light": 1, "middle": 2}
    assert {value: one["total_kg"] for value, one in shown["by_detail"]["sex"].items()} == {"heifer": 280, "steer": 960}
    assert shown["gain"]["mean_kg_per_day"] == 1.0
    assert shown["gain_by_pen"]["middle"]["count"] == 1


def test_the_best_weighing_of_an_animal_speaks_for_it(event: Make) -> None:
    poor_then_good = [event(1, 250.0, tag=A, grade="poor"), event(2, 300.0, tag=A)]
    assert tally(poor_then_good).weight.mean == 300
    good_then_good = [event(1, 300.0, tag=A), event(2, 302.0, tag=A)]
    assert tally(good_then_good).weight.mean == 302, "of equals the later"
    another_sheet = [event(1, 300.0, tag=A), event(2, 302.0, tag=A, sheet="Second")]
    assert tally(another_sheet).counts["animals"] == 2


@pytest.mark.parametrize("as_lines", [False, True])
def test_an_animal_goes_by_its_id_whatever_tag_it_wears(event: Make, dose: Dose, *, as_lines: bool) -> None:
    b, c, d = "999000000000002", "999000000000003", "999000000000004"

    def of(beast: str | None, number: int, tag: str, **more: Any) -> Event:
        return event(number, 300.0 + number, tag, animal={"id": beast} if beast else None, **more)

    day = [
        of(None, 1, A, treatments=[dose(30)]),
        of("x", 2, A),
        of("x", 3, b, treatments=[dose(40)], grade="fair"),  # retagged in mid-job
        of("y", 4, c),
        of("z", 5, c),  # two animals under one tag, and one weighing that may be either's
        of(None, 6, c),
        of("w", 7, d, sheet="Drench"),  # another job: the tag without an id stays alone there
        of(None, 8, d, sheet="Weaning"),
    ]
    events = [one.to_json() for one in day] if as_lines else day
    found = tally(events)
    assert (found.counts["animals"], found.counts["repeats"]) == (6, 2)
    assert found.weight.total == 302 + 304 + 305 + 306 + 307 + 308
    assert found.treatments["oral drench"].given == 1, "once an animal, and x is one"
    count = Count()
    for one in events:
        count.add_line(one) if isinstance(one, str) else count.add(one)
    merged = count.tally(root=lambda beast: {"z": "y"}.get(beast, beast))
    assert merged.counts["animals"] == 4, "y and z are one, and the tag is theirs"


def test_treatments_count_once_an_animal_where_first_given(day: list[Event]) -> None:
    assert as_json(tally(day))["treatments"] == [
        {
            "name": "oral drench",
            "given": 4,
            "skipped": 1,
            "undosed": 1,
            "total_ml": 100.0,
            "totals": [{"amount": 100.0, "unit": "mL"}],
            "batches": ["B7"],
        }
    ]


def test_a_treatment_skipped_at_first_and_given_later_is_given(event: Make, dose: Dose) -> None:
    events = [event(1, tag=A, treatments=[dose(skipped=True)]), event(2, tag=A, treatments=[dose(25)])]
    used = tally(events).treatments["oral drench"]
    assert (used.given, used.skipped, used.total_ml) == (1, 0, 25)


def test_of_a_dose_that_is_not_known_no_amount_is_told(event: Make) -> None:
    text = as_text(tally([event(1, tag=A, treatments=[Treatment(name="copper", unit="bolus")])]))
    assert "\ncopper: 1 given, 1 without a known dose\n" in text


def test_order_and_repeats_of_delivery_do_not_matter(day: list[Event]) -> None:
    assert tally([*day[::-1], *day]).counts == tally(day).counts
    assert tally([*day[::-1], *day]).weight == tally(day).weight


def test_it_lives(day: list[Event]) -> None:
    count = Count()
    for event in day[:2]:
        count.add(event)
    assert count.tally().counts["animals"] == 2
    for event in day[2:]:
        count.add(event)
    assert count.tally() == tally(day)


def test_limits(day: list[Event], event: Make) -> None:
    more = [*day, event(20, 400.0, sheet="Other", station="race")]
    assert tally(more, sheet="Other").weight.mean == 400
    assert tally(more, station="crush").counts == tally(day).counts
    assert tally(more, since="2026-11-24T02:20:00.000Z").counts["weighings"] == 1
    assert tally(more, until="2026-11-24T02:02:00.000Z").counts["weighings"] == 1


def test_a_file_torn_and_with_other_events_in_it(day: list[Event], tmp_path: Path) -> None:
    lines = [event.to_json() for event in day]
    other = json.dumps({"type": "neckyoke.link", "data": {"link": "panel"}}, separators=(",", ":"))
    text = "\n".join([other, *lines, "not json", lines[0][: len(lines[0]) // 2]]) + "\n"
    plain, packed = tmp_path / "events.jsonl", tmp_path / "events.jsonl.gz"
    plain.write_text(text)
    packed.write_bytes(gzip.compress(text.encode()))
    for path in (plain, packed):
        file = EventsFile(path)
        assert tally(file.lines()) == tally(day)
        assert [data["weighing"] for data in file] == [event.data.weighing for event in day]  # type: ignore[union-attr]
        assert file.unread == 2
    with pytest.raises(ConfigError, match="there is no such file"):
        EventsFile(tmp_path / "none.jsonl")


def test_json_as_another_program_spells_it_counts_the_same(day: list[Event]) -> None:
    loose = [json.dumps(dict(reversed(json.loads(event.to_json()).items())), indent=None) for event in day]
    assert tally(loose) == tally(day)


def test_nothing_yet() -> None:
    empty = tally([])
    assert as_json(empty)["weight"]["count"] == 0
    assert as_line(empty) == "0 animals"
    assert "0 animals" in as_text(empty)


def test_told_in_a_line_and_in_text(day: list[Event]) -> None:
    found = tally(day, expected=[A, "visual 7"])
    assert as_line(found) == (
        "6 animals, 1 untagged, 1 weighed again, 1 not on the roster, 1 not seen, 1 withheld, 1 with a poor weight, "
        "1 without a weight, 1 struck out, mean 310.0 kg over 4 (280.0 to 350.0), gain 1.00 kg/day "
        "over 1"
    )
    text = as_text(found)
    assert "Weaning\n2026-11-24 02:01 to 02:08 UTC\n" in text
    assert "not seen: visual 7" in text
    assert "weight, over 4 of 6: mean 310.0 kg, median 305.0 kg, SD 29.4 kg, CV 9.5 %" in text
    assert "lost weight: none of 1" in text
    assert "\noral drench: 4 given, 100 mL in all, 1 skipped, 1 without a known dose, batch B7\n" in text
    assert "all: block east" in text
    assert "label, veterinarian and local rules decide" in text
    assert "not for trade" in text


def test_the_histogram_is_drawn_in_readable_bins(event: Make) -> None:
    drawn = list(histogram(tally([event(i, 290 + 2 * i) for i in range(1, 51)])))
    assert [line.split()[0] for line in drawn] == [str(kg) for kg in range(290, 400, 10)]
    assert [line.split()[-1] for line in drawn] == ["4", *["5"] * 9, "1"]
    assert drawn[1].count("#") == 40, "the longest bar is full"


def test_a_sheet_adds_pencil_shrink_and_group_doses(day: list[Event], tmp_path: Path) -> None:
    path = tmp_path / "sheet.toml"
    path.write_text(
        'title = "Weaning"\nshrink_percent = 4\n[[treatments]]\nname = "pour-on"\nml_per_kg = 0.1\n'
        "dose_to_heaviest = true\nround_to_ml = 1\nwithhold_days = 7\n"
    )
    sheet = load_sheet(path)
    shown = as_json(tally(day), sheet)
    assert shown["shrunk"] == {"percent": 4.0, "mean_kg": 297.6, "total_kg": 1190.4}
    assert [(one["pen"], one["amount"]) for one in shown["group_doses"]] == [
        (None, 35.0),
        ("heavy", 35.0),
        ("light", 28.0),
        ("middle", 31.0),
    ]
    text = as_text(tally(day), sheet)
    assert "less 4 % pencil shrink: mean 297.6 kg, total 1190.4 kg, over 4" in text


def test_poor_tallies_show_no_figures(event: Make) -> None:
    found: Tally = tally([event(1, 250.0, grade="poor")])
    assert found.weight.count == 0
    assert "1 with a poor weight" in as_line(found)
    assert "mean" not in as_text(found)


def seen(**values: Any) -> tuple[Finding, ...]:
    return tuple(Finding(name=name, value=value, by="person") for name, value in values.items())


def test_what_was_seen_is_counted_by_value_with_mean_weight_and_gain(event: Make) -> None:
    """Means against numpy; an animal with a poor weight counts among the animals and not in the mean."""
    import numpy as np

    gain = Gain(kg=20, days=20, since="2026-11-04", kg_per_day=1.0)
    events = [
        event(1, 300.0, findings=seen(condition=3, signs=("lame", "thin")), gain=gain),
        event(2, 320.0, findings=seen(condition=3, signs=())),
        event(3, 340.0, findings=seen(condition=2.5, signs=("thin",))),
        event(4, 500.0, findings=seen(condition=3, pregnant=True), grade="poor"),
    ]
    shown = as_json(tally(events))["by_finding"]
    assert {value: one["animals"] for value, one in shown["condition"].items()} == {"2.5": 1, "3": 3}
    assert shown["condition"]["3"]["weight"]["mean_kg"] == np.mean([300.0, 320.0])
    assert shown["condition"]["3"]["weight"]["count"] == 2
    assert shown["condition"]["3"]["gain"] | {"count": 1, "mean_kg_per_day": 1.0} == shown["condition"]["3"]["gain"]
    assert {value: one["animals"] for value, one in shown["signs"].items()} == {"lame": 1, "thin": 2}
    assert shown["pregnant"]["yes"]["weight"]["count"] == 0
    text = as_text(tally(events))
    assert "condition  animals  mean kg  kg/day" in text
    assert "3                3    310.0    1.00" in text
