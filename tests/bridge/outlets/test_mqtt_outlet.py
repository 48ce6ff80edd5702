"""The MQTT outlet against a real mosquitto, received by mosquitto_sub."""

from pathlib import Path

from tests.support.broker import Broker
from tests.support.events import link_state, weighed
from tests.support.outlet import yard
from tests.support.running import run, until


def test_events_arrive_in_order_on_their_topics(broker: Broker, tmp_path: Path) -> None:
    recorder = broker.record()

    async def day() -> None:
        async with yard(tmp_path, broker.url) as one:
            await one.journal.append([link_state(1), *(weighed(number) for number in range(1, 51))])
            await until(lambda: one.outlet.health()["backlog"] == 0, "delivered")

    run(day())
    weighings = recorder.wait_for(50, "crush/weighing")
    assert [message.event["data"]["number"] for message in weighings] == list(range(1, 51))
    print(recorder.messages()[0], weighings[0])
