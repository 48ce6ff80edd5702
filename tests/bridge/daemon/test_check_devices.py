"""`neckyoke check --devices` on real ptys, sockets and brokers: what works, what is wrong, and what to do."""

import contextlib
import json
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from neckyoke.bridge.cli import main
from neckyoke.simulators.wires.ends import PtyEnd
from tests.support.broker import Broker, free_port
from tests.support.daemon import CONFIG, Daemon

SCALE = b"ST,GS,+00318.5kg\r\n"
TAG = b"999 000000112233\r\n"


@contextlib.contextmanager
def sending(end: PtyEnd, data: bytes) -> Iterator[None]:
    """A device that says the same thing ten times a second."""
    stop = threading.Event()

    def send() -> None:
        while not stop.wait(0.1):
            end.write(data)

    thread = threading.Thread(target=send)
    thread.start()
    try:
        yield
    finally:
        stop.set()
        thread.join()


@pytest.fixture
def wires(tmp_path: Path) -> Iterator[dict[str, PtyEnd]]:
    with PtyEnd(tmp_path / "indicator") as indicator, PtyEnd(tmp_path / "panel") as panel:
        yield {"indicator": indicator, "panel": panel}


def write_config(folder: Path, more: str = "") -> Path:
    path = folder / "neckyoke.toml"
    text = CONFIG.format(indicator=f"serial:{folder}/indicator", panel=f"serial:{folder}/panel")
    path.write_text(text + more)
    return path


def check(config: Path, seconds: float, capsys: pytest.CaptureFixture[str]) -> tuple[int, str]:
    code = main(["check", str(config), "--devices", "--seconds", str(seconds)])
    return code, capsys.readouterr().out


def test_everything_that_works_is_shown_to(
    tmp_path: Path, wires: dict[str, PtyEnd], broker: Broker, capsys: pytest.CaptureFixture[str]
) -> None:
    config = write_config(tmp_path, f'[outlets.farm]\nmqtt = "{broker.url}"\n')
    recorder = broker.record()
    with sending(wires["indicator"], SCALE), sending(wires["panel"], TAG):
        code, said = check(config, 30.0, capsys)
    assert code == 0, said
    assert "good  link indicator: reads 318.5 kg (sent as +00318.5 kg)" in said
    assert "good  link panel: read tag 999000000112233" in said
    assert f"good  outlet events: {tmp_path}/events.jsonl can be written" in said
    assert f"good  outlet farm: {broker.url} took a test event on neckyoke/larkmoor/check" in said
    assert not list(tmp_path.glob("*.check"))
    assert not (tmp_path / "events.jsonl").exists()
    (event,) = [json.loads(message.payload) for message in recorder.wait_for(2, "/check") if message.payload]
    assert event["data"]["about"] == "check"
    late = broker.record("#", "--retained-only", "-W", "1")
    assert not late.messages()  # nothing stays at the broker


def test_what_is_wrong_is_named_with_what_to_do(
    tmp_path: Path, wires: dict[str, PtyEnd], capsys: pytest.CaptureFixture[str]
) -> None:
    (tmp_path / "events.jsonl").mkdir()
    port = free_port()
    config = write_config(tmp_path, f'[outlets.farm]\nmqtt = "mqtt://127.0.0.1:{port}"\n')
    wires["panel"].unplug()
    with sending(wires["indicator"], b"\x13\x37\xff\xfe\x02noise\r\n"):
        code, said = check(config, 4.0, capsys)
    assert code == 1
    assert "MEND  link indicator: sends what cannot be read" in said
    assert f"neckyoke listen 'serial:{tmp_path}/indicator'" in said
    assert "MEND  link panel:" in said
    assert f"{tmp_path}/panel" in said
    assert "that is a folder; name a file" in said
    assert f"MEND  outlet farm: mqtt://127.0.0.1:{port} is out of reach" in said
    assert "4 of 4 to mend." in said


def test_a_state_folder_that_the_first_run_will_make_is_no_fault(
    tmp_path: Path, wires: dict[str, PtyEnd], capsys: pytest.CaptureFixture[str]
) -> None:
    config = write_config(tmp_path)
    config.write_text(f'state = "{tmp_path}/later"\n' + config.read_text())
    _, said = check(config, 0.1, capsys)
    assert f"good  outlet events: {tmp_path}/later is made when neckyoke first runs" in said


def test_a_device_that_is_open_and_mute_is_told_from_one_that_is_not_there(
    tmp_path: Path, wires: dict[str, PtyEnd], capsys: pytest.CaptureFixture[str]
) -> None:
    code, said = check(write_config(tmp_path), 2.0, capsys)
    assert code == 1
    assert "set to send by itself?" in said
    assert "hold a tag to the reader" in said


def test_while_the_daemon_holds_the_ports_it_is_asked_instead(
    tmp_path: Path, wires: dict[str, PtyEnd], capsys: pytest.CaptureFixture[str]
) -> None:
    config = write_config(tmp_path)
    daemon = Daemon(tmp_path, config.read_text())
    try:
        daemon.start()
        with sending(wires["indicator"], SCALE), sending(wires["panel"], TAG):
            end = time.monotonic() + 30
            while not all(link["frames"] for link in daemon.ask({"kind": "status"})["status"]["links"].values()):
                assert time.monotonic() < end
                time.sleep(0.05)
            code, said = check(config, 1.0, capsys)
        assert code == 0, said
        assert "is running" in said
        assert "holds the ports" in said
        assert "link indicator: open," in said
    finally:
        daemon.close()


def test_wrong_words_are_refused_before_any_port_is_opened(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], make_broker: Callable[..., Broker]
) -> None:
    config = write_config(tmp_path, "[outlets.farm]\nmqqt = 1\n")
    assert main(["check", str(config), "--devices"]) == 2
    assert "mqtt" in capsys.readouterr().err
