"""The herd book while the daemon runs: read into through the daemon, recorded, and replayed beside the right book."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from neckyoke.bridge.asking.requests import Refusal, parse_request
from neckyoke.bridge.capture.read import read_capture
from neckyoke.bridge.cli import main
from neckyoke.bridge.commands.replay import replay
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.events import Animal
from tests.support.daemon import CONFIG, Daemon, until
from tests.support.herd import tag

HEADER = "animal,visual,tag,former_tags,tag_times,sex,merged"
ROWS = [f"id-{n},{n},{tag(n)},,,steer," for n in range(1, 230)]


@pytest.fixture
def daemon(tmp_path: Path) -> Iterator[Daemon]:
    """A daemon whose devices are not there."""
    made = Daemon(tmp_path, CONFIG.format(indicator=f"serial:{tmp_path}/none", panel=f"serial:{tmp_path}/nor-this"))
    made.start()
    yield made
    made.close()


def herd(daemon: Daemon, *words: str) -> int:
    """Run `neckyoke herd`."""
    return main(["herd", *words, "--config", str(daemon.config)])


def test_a_file_is_taken_in_by_the_running_daemon_and_stays(
    daemon: Daemon, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    export, roster = tmp_path / "export.csv", tmp_path / "roster.csv"
    export.write_text("\n".join([HEADER, *ROWS, f"id-230,230,{tag(230)},{tag(900)},..;..,heifer,id-other"]) + "\n")
    assert herd(daemon, "import", str(export)) == 0
    assert "231 animals added or filled in; the book has 231." in capsys.readouterr().out

    answer = daemon.ask({"kind": "retag", "visual": "7", "tag": tag(707)})
    assert answer["done"], answer
    assert herd(daemon, "import", str(export)) == 1
    told = capsys.readouterr()
    assert "0 animals added or filled in" in told.out
    otherwise = "row 8, column animal: 7 (tag …000707) is otherwise here.  It stays as it is."
    assert told.err == f"{export}: {otherwise}\n"

    # 400 bad cells are one sentence a kind, over all parts of the file
    lines = [f"{n:03};{tag(n)};13/4/2026;{'giraffe' if n % 2 else 'heifer'}" for n in range(300, 700)]
    roster.write_text("\n".join(["visual;eid;born;sex", *lines, f"8;{tag(999)};;"]) + "\n")
    assert herd(daemon, "import", str(roster)) == 1
    told = capsys.readouterr()
    assert "400 animals added or filled in; the book has 631." in told.out
    assert len(told.err.splitlines()) == 2
    assert "rows 3, 5, 7, 9, 11 and 195 more, column sex: 200 cells" in told.err
    assert f"row 402, column tag: 8 wears {tag(8)} here, and not {tag(999)}" in told.err

    assert daemon.stop() == 0
    assert herd(daemon, "rebuild") == 0
    assert "The book was right." in capsys.readouterr().out
    assert herd(daemon, "export") == 0
    rows = capsys.readouterr().out.splitlines()
    assert len(rows) == 1 + 630, "the one that was merged into another has no row of its own"
    assert any(row.startswith(f"id-7,7,{tag(707)},{tag(7)},") for row in rows), "what was told meanwhile stands"
    known = {one["data"]["animal"] for one in daemon.events() if one["type"] == "neckyoke.animal"}
    assert len(known) == 631, "recorders hear of each"


def test_its_capture_replayed_beside_another_book_says_so(daemon: Daemon, tmp_path: Path) -> None:
    config = load_config(daemon.config)
    for n in (1, 2):
        assert daemon.ask({"kind": "import", "header": ["visual", "tag"], "rows": {n: [str(n), tag(n)]}})["taken"] == 1
        if n == 1:
            assert daemon.stop() == 0
            daemon.start()
    assert daemon.stop() == 0
    until(lambda: len(list((tmp_path / "captures").iterdir())) == 2, "the second run's capture")

    capture = read_capture(tmp_path / "captures")
    assert capture.header.herd is not None
    events = [event.data for event in replay(capture, config, tmp_path / "neckyoke.db")]
    assert capture.notes == []
    assert [event.visual for event in events if isinstance(event, Animal)] == ["2"], "1 was known before"

    list(replay(capture, config))
    assert [note for note in capture.notes if "--journal" in note] == capture.notes != []


@pytest.mark.parametrize("rows", [{}, {0: ["1"]}, {1: ["x" * 2001]}, {n: ["1"] for n in range(1, 202)}])
def test_what_is_too_much_is_refused(rows: dict[int, list[str]]) -> None:
    read = parse_request({"kind": "import", "header": ["visual"], "rows": rows})
    assert isinstance(read, Refusal)
    assert read.text.startswith("rows: ")
