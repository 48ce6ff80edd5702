"""What was typed once is offered again: of all sheets at hand, the latest first, one of each name."""

import os
from pathlib import Path

import pytest

from neckyoke.bridge.job.making import offered as module
from neckyoke.bridge.job.making.offered import offered

DRENCH = '[[treatments]]\nname = "{name}"\nml = {ml}\n'


def sheet(folder: Path, place: int, text: str) -> Path:
    """Write a sheet that was changed so many days after others."""
    path = folder / f"{9 - place}.toml"
    path.write_text(text)
    os.utime(path, (1.79e9 + 86400 * place,) * 2)
    return path


def test_one_of_each_name_is_offered_as_the_latest_sheet_has_it(tmp_path: Path) -> None:
    files = [
        sheet(tmp_path, 1, 'mob = "steers"\n' + DRENCH.format(name="Drench", ml=5) + DRENCH.format(name="tick", ml=1)),
        sheet(tmp_path, 3, 'mob = "heifers"\n' + DRENCH.format(name=" drench", ml=10) + "expires = 2027-03-01\n"),
        sheet(tmp_path, 2, 'mob = "steers"\n[[findings]]\nname = "lame"\nyes_no = true\n'),
    ]
    assert offered(files) == {
        "treatments": [{"name": " drench", "ml": 10, "expires": "2027-03-01"}, {"name": "tick", "ml": 1}],
        "findings": [{"name": "lame", "yes_no": True}],
        "mobs": ["heifers", "steers"],
    }
    files[0].write_text('mob = "cows"\n')  # now the latest
    assert offered(files)["mobs"] == ["cows", "heifers", "steers"]


@pytest.mark.parametrize(
    "text",
    ["no = = toml", "mob = 7\ntreatments = 3\n", "[treatments]\nname = 'x'\n", "treatments = ['x', {}, {name = 7}]\n"],
)
def test_of_a_sheet_that_makes_no_sense_nothing_is_offered_and_the_others_are(tmp_path: Path, text: str) -> None:
    files = [sheet(tmp_path, 2, text), tmp_path / "gone.toml", sheet(tmp_path, 1, DRENCH.format(name="drench", ml=5))]
    assert offered(files) == {"treatments": [{"name": "drench", "ml": 5}], "findings": [], "mobs": []}


def test_only_the_latest_are_read_and_only_so_many_offered(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    files = [sheet(tmp_path, n, f'mob = "m{n}"\n' + DRENCH.format(name=f"d{n}", ml=1)) for n in range(4)]
    monkeypatch.setattr(module, "MOST_FILES", 3)
    assert offered(files)["mobs"] == ["m3", "m2", "m1"]
    monkeypatch.setattr(module, "MOST_OFFERED", 2)
    assert offered(files)["mobs"] == ["m3", "m2"]
    assert [one["name"] for one in offered(files)["treatments"]] == ["d3", "d2"]
