"""An event too large for the broker: set aside and said, and what comes after it is delivered."""

from collections.abc import Callable
from pathlib import Path

import aiomqtt
import pytest
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.reasoncodes import ReasonCode

from neckyoke.bridge.outlets.mqtt.broker import Broker, BrokerError
from neckyoke.bridge.outlets.mqtt.misfits import HANGS_UP, LARGE, Misfits
from neckyoke.bridge.outlets.mqtt.refusals import explain
from tests.support import broker as real
from tests.support.events import weighed
from tests.support.outlet import Yard, yard
from tests.support.running import run, until

LIMIT = 20_000


@pytest.mark.parametrize("protocol", ["5", "3.1.1"])
def test_one_too_large_event_does_not_hold_up_the_others(
    make_broker: Callable[..., real.Broker], tmp_path: Path, protocol: str, monkeypatch: pytest.MonkeyPatch
) -> None:
    """To MQTT 5 mosquitto says how large a packet may be; on 3.1.1 it hangs up without a word."""
    monkeypatch.setattr("neckyoke.bridge.outlets.mqtt.outlet.BrokerSide.steady_s", 0.3)
    broker = make_broker(["allow_anonymous true", f"max_packet_size {LIMIT}"])
    recorder = broker.record("neckyoke/larkmoor/crush/weighing")
    large = weighed(7)
    large = large.model_copy(update={"data": large.data.model_copy(update={"notes": ("lame " * LIMIT,)})})

    async def day() -> Yard:
        async with yard(tmp_path, broker.url, protocol=protocol) as one:
            one.outlet._backoff._next_s = one.outlet._backoff._longest_s = 0.02
            await one.journal.append([*(weighed(number) for number in range(7)), large])
            await one.journal.append([weighed(number) for number in range(8, 40)])
            await until(lambda: one.health().backlog == 0, "all others are delivered")
            return one

    one = run(day())
    recorder.wait_for(39, "weighing")
    numbers = [message.event["data"]["number"] for message in recorder.messages()]
    assert list(dict.fromkeys(numbers)) == [*range(7), *range(8, 40)]
    assert one.health().set_aside == 1
    (told,) = [said for said in one.said if said.about == "outlet-farm-set-aside"]
    assert "Event 8 was passed over: " in told.text
    assert "max_packet_size" in told.text
    assert not any("client_id" in said.text for said in one.said)


def test_a_farewell_that_names_the_size_blames_nothing_else() -> None:
    """Reason code 0x95, "Packet too large" (MQTT 5, 3.14.2.1)."""
    farewell = aiomqtt.MqttCodeError(ReasonCode(PacketTypes.DISCONNECT, identifier=0x95))
    said = explain(Broker("farm", 1883), farewell, None, "")
    assert (said.too_large, said.slow) == (True, False)
    assert str(said) == "mqtt://farm:1883 says that a message is too large for it"


LOST = BrokerError("hung up", hung_up=True)
AWAY = BrokerError("out of reach")
TOO_LARGE = BrokerError("too large", too_large=True)


@pytest.mark.parametrize(
    ("losses", "misfit"),
    [
        ([([(5, LARGE), (6, 100)], TOO_LARGE)], 0),  # of two, which?
        ([([(5, LARGE), (6, 100)], TOO_LARGE), ([(5, LARGE)], TOO_LARGE)], 5),
        ([([(5, 100)], TOO_LARGE)], 5),  # a broker with a very small limit
        ([([(5, LARGE)], LOST)] * (HANGS_UP - 1), 0),
        ([([(5, LARGE)], LOST)] * HANGS_UP, 5),
        ([([(5, LARGE - 1)], LOST)] * 100, 0),  # of the usual size: a broker that comes and goes
        ([([(5, LARGE)], AWAY)] * 100, 0),  # a wire that is cut
        ([([(5, LARGE)], LOST), ([(6, LARGE)], LOST)] * 10, 0),  # now one, now another
        ([([], LOST)] * 10, 0),
    ],
)
def test_what_makes_a_misfit(losses: list[tuple[list[tuple[int, int]], BrokerError]], misfit: int) -> None:
    one = Misfits()
    for under_way, error in losses:
        one.lost(under_way, error)
    assert one.misfit == misfit
    one.acknowledged(10)
    assert not one.careful
