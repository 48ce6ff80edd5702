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
