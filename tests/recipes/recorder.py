"""Keeps every weighing of every site in farm.db, whatever is sent twice or amended."""

import json
import sqlite3
import sys

from paho.mqtt import client as mqtt  # pip install "paho-mqtt>=2"
from paho.mqtt import enums

host, port = (sys.argv[1:] + ["broker.local", "1883"][len(sys.argv) - 1 :])[:2]
farm = sqlite3.connect("farm.db")
farm.execute("create table if not exists weighing(id primary key, revision, site, tag, kg, body)")


def keep(_client: object, _userdata: object, message: mqtt.MQTTMessage) -> None:
    event = json.loads(message.payload)
    data = event["data"]
    tag = data["tag"]["id"] if data["tag"] else None
    with farm:  # a repeated id is a revision that is there already; only a higher one takes its place
        farm.execute(
            "insert into weighing values(?, ?, ?, ?, ?, ?) on conflict(id) do update set revision = excluded.revision,"
            " tag = excluded.tag, kg = excluded.kg, body = excluded.body where excluded.revision > revision",
            (data["weighing"], data["revision"], event["source"], tag, data["weight"]["kg"], message.payload),
        )


def subscribe(client: mqtt.Client, *_: object) -> None:
    client.subscribe("neckyoke/+/+/weighing", qos=1)


recorder = mqtt.Client(enums.CallbackAPIVersion.VERSION2, client_id="recorder", clean_session=False)
recorder.on_connect = subscribe
recorder.on_message = keep  # acknowledged to the broker only after it is kept
recorder.connect(host, int(port))
recorder.loop_forever()
