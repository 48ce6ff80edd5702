"""A sheet that is named over MQTT comes with its digest, and the answer says what it changes."""

import asyncio
import hashlib
import json
from pathlib import Path
from typing import Any

from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.daemon.build import build
from neckyoke.bridge.outlets.mqtt.outlet import BrokerSide
from tests.support.broker import free_port
from tests.support.in_process import configured

SHEET = 'title = "autumn"\n[[treatments]]\nname = "oral drench"\nml = 35\n'


def ask_in_turn(folder: Path, *asked: dict[str, Any]) -> list[dict[str, Any]]:
    """Put requests to a station's own topic, as an outlet passes them on."""

    async def work() -> list[dict[str, Any]]:
        service = await build(load_config(folder / "neckyoke.toml"))
        farm = service.outlets["farm"].taker
        assert isinstance(farm, BrokerSide)
        try:
            return [json.loads(await farm._answer("crush", json.dumps(one).encode())) for one in asked]
        finally:
            await service.journal.close()

    return asyncio.run(work())


def test_without_its_digest_or_half_written_it_is_refused_and_with_it_taken(tmp_path: Path) -> None:
    configured(tmp_path, f"mqtt://127.0.0.1:{free_port()}")
    half = tmp_path / "sheet.toml"
    whole = SHEET + '[[treatments]]\nname = "clostridial"\nml = 2\n'
    digest = hashlib.sha256(whole.encode()).hexdigest()[:12]
    half.write_text(SHEET)
    by_name = {"kind": "sheet", "file": "sheet.toml"}

    bare, cut, first = ask_in_turn(
        tmp_path,
        by_name,
        {**by_name, "digest": digest},
        {"kind": "sheet", "text": SHEET, "digest": hashlib.sha256(SHEET.encode()).hexdigest()},
    )
    half.write_text(whole)
    (then,) = ask_in_turn(tmp_path, {**by_name, "digest": digest})

    assert (bare["done"], "Send its digest too" in bare["text"]) == (False, True)
    assert (cut["done"], "half written" in cut["text"]) == (False, True)
    assert (first["done"], "It has 1 treatment, 0 pens." in first["text"]) == (True, True)
    assert then["done"]
    assert "It has 2 treatments, 0 pens." in then["text"]
