"""What a configuration may not mean as it stands: said, never refused."""

from pathlib import Path

import pytest

from neckyoke.bridge.cli import main
from neckyoke.bridge.config.doubts import config_doubts
from neckyoke.bridge.config.model import load_config

SURE = """
site = "larkmoor"
[links.indicator]
url = "serial:/dev/serial/by-id/usb-adapter-port0?baud=9600"
[links.race]
url = "tcp://127.0.0.1:4002"
[stations.crush]
scale = "indicator"
readers = [{ link = "race", position = "ahead", places = 2 }]
"""


@pytest.fixture
def file(tmp_path: Path) -> Path:
    return tmp_path / "neckyoke.toml"


def test_nothing_is_said_where_nothing_is_doubtful(file: Path) -> None:
    file.write_text(SURE)
    assert list(config_doubts(load_config(file))) == []


@pytest.mark.parametrize(
    ("right", "doubtful", "said"),
    [
        ("serial/by-id/usb-adapter-port0", "ttyUSB0", ["[links.indicator] url", "/dev/ttyUSB0", "neckyoke ports"]),
        ("serial/by-id/usb-adapter-port0", "ttyACM1", ["[links.indicator] url", "/dev/ttyACM1", "by-id"]),
        (", places = 2", "", ["[stations.crush] readers", "race is ahead", "Add places = 2"]),
    ],
)
def test_each_doubt_names_its_place_and_what_would_be_surer(
    file: Path, capsys: pytest.CaptureFixture[str], right: str, doubtful: str, said: list[str]
) -> None:
    file.write_text(SURE.replace(right, doubtful))
    (doubt,) = config_doubts(load_config(file))
    for part in said:
        assert part in doubt
    assert main(["check", str(file)]) == 0
    assert f"look again: {doubt}" in capsys.readouterr().out


@pytest.mark.parametrize(("smallest", "said"), [("", 2), ("smallest_kg = 17\n", 0), ("smallest_kg = 17.5\n", 1)])
def test_animals_that_are_lighter_than_the_smallest_are_told(
    file: Path, capsys: pytest.CaptureFixture[str], smallest: str, *, said: int
) -> None:
    """Of lambs of 17, 24 and 31 kg the usual 25 would make two no animals."""
    file.write_text(SURE.replace("scale =", f'sheet = "lambs.toml"\n{smallest}scale ='))
    (file.parent / "lambs.toml").write_text('title = "Lambs"\nroster = "lambs.csv"\n')
    rows = [f"{n};99900000000000{n};{kg};2026-11-01" for n, kg in enumerate((17, 24, 31))]
    (file.parent / "lambs.csv").write_text("\n".join(["visual;tag;last_kg;last_date", *rows]))
    assert main(["check", str(file)]) == 0
    told = [line for line in capsys.readouterr().out.splitlines() if "smallest_kg" in line]
    if not said:
        assert told == []
    else:
        (line,) = told
        assert line.startswith("look again: [stations.crush] smallest_kg: what is lighter than ")
        assert f"and {said} of the roster of lambs.toml weighed less, the lightest 17 kg." in line
        assert line.endswith("smallest_kg = 14 would be below them all.")
