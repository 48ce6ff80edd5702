"""`neckyoke page code`."""

import re
from pathlib import Path

import pytest

from neckyoke.bridge.cli import main
from neckyoke.bridge.commands.page import address
from neckyoke.bridge.page.access import Access

CONFIG = """\
site = "larkmoor"
[links.indicator]
url = "tcp://127.0.0.1:4001"
[stations.crush]
scale = "indicator"
"""


def _config(folder: Path, page: str = '[page]\nlisten = "127.0.0.1:8370"\n') -> str:
    path = folder / "neckyoke.toml"
    path.write_text(CONFIG + page, encoding="utf-8")
    return str(path)


def _code(capsys: pytest.CaptureFixture[str]) -> str:
    found = re.search(r"Access code: (\d{3} \d{3} \d{3})\n", capsys.readouterr().out)
    assert found
    return found[1].replace(" ", "")


def test_a_code_is_printed_once_and_holds(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    config = _config(tmp_path)

    assert main(["page", "code", "--config", config]) == 0
    code = _code(capsys)
    assert Access(tmp_path / "page.code").check(code)

    assert main(["page", "code", "--config", config]) == 1
    said = capsys.readouterr()
    assert code not in said.out + said.err
    assert "--new" in said.err
    assert Access(tmp_path / "page.code").check(code)


def test_a_new_code_ends_the_old_one(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    config = _config(tmp_path)
    main(["page", "code", "--config", config])
    old = _code(capsys)

    assert main(["page", "code", "--new", "--config", config]) == 0

    new = _code(capsys)
    assert new != old
    assert Access(tmp_path / "page.code").check(new)
    assert not Access(tmp_path / "page.code").check(old)


def test_without_a_page_in_the_configuration_the_remedy_is_said(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(["page", "code", "--config", _config(tmp_path, "")]) == 2
    assert "[page]" in capsys.readouterr().err


def test_a_folder_that_cannot_be_written_is_named(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    config = _config(tmp_path, '[page]\ncode_file = "nowhere/page.code"\n')

    assert main(["page", "code", "--config", config]) == 1
    assert "nowhere" in capsys.readouterr().err


def test_the_address_is_one_that_a_phone_can_open() -> None:
    assert address("192.168.4.1:8370") == "http://192.168.4.1:8370/"
    assert re.fullmatch(r"http://.+\.local:8370/", address("0.0.0.0:8370"))
