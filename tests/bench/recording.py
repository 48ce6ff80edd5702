"""A recorder for tests/bench/sheds.py: MQTT into PostgreSQL, acknowledged only once it is committed.

    python -m tests.bench.recording PORT POSTGRES-PORT PASSWORD

The tables and statements are those of the outlet with `sql`.  What came is told when a line comes in: one line of JSON.

A message is acknowledged over the connection that brought it or not at all: after a new connection it comes again (MQTT
3.1.1, 4.4) and is acknowledged then.  Acknowledged twice, mosquitto 2.0.11 counts one message more as room than it has
(`handle__pubackcomp` raises the quota before it looks the message up), and sends the next new message before those that
wait: 2 to 14 of 5,000 came out of order by that, each after such an acknowledgement in its log.
"""

import json
import queue
import sys
import threading
import time
from collections import defaultdict
from pathlib import Path
from typing import Any

import psycopg
from paho.mqtt import client as paho
from paho.mqtt.enums import CallbackAPIVersion

from neckyoke.bridge.outlets.database.tables import schema, statements

BATCH = 500


class Recorder:
    """Takes messages in and commits them batch by batch."""

    def __init__(self, database: "psycopg.Connection[Any]") -> None:
        self.waiting: queue.SimpleQueue[tuple[int, paho.MQTTMessage]] = queue.SimpleQueue()
        self.connection = 0
        self.client = paho.Client(CallbackAPIVersion.VERSION2, "recorder", clean_session=False, manual_ack=True)
        self.client.on_message = lambda _client, _data, message: self.waiting.put((self.connection, message))
        self.client.on_connect = lambda client, *_: client.subscribe("neckyoke/+/+/weighing", 1)
        self.client.on_disconnect = self._lost
        self._database = database
        self._seen: set[str] = set()
        self.newest: dict[str, str] = defaultdict(str)
        self.count = self.out_of_order = 0
        self.lags: list[float] = []
        self.began = self.ended = 0.0

    def _lost(self, *_: object) -> None:
        self.connection += 1

    def commit(self) -> None:
        """Take in what waits, for ever."""
        while True:
            batch = [self.waiting.get()]
            while len(batch) < BATCH and not self.waiting.empty():
                batch.append(self.waiting.get())
            self.began = self.began or time.time()
            events = [json.loads(message.payload) for _, message in batch]
            with self._database.transaction(), self._database.pipeline():
                for event in events:
                    for sql, values in statements(event):
                        self._database.execute(sql.replace("?", "%s").encode(), values)
            for connection, message in batch:
                if connection == self.connection:
                    self.client.ack(message.mid, message.qos)
            self.ended = time.time()
            for event in events:
                if "sentat" in event:
                    self.lags.append(self.ended - float(event["sentat"]))
                if event["id"] not in self._seen:
                    self.out_of_order += event["sequence"] < self.newest[event["source"]]
                    self._seen.add(event["id"])
                self.newest[event["source"]] = max(self.newest[event["source"]], event["sequence"])
            self.count += len(batch)


def main() -> None:
    """Record until a line comes in, then tell."""
    port, postgres, password = int(sys.argv[1]), int(sys.argv[2]), sys.argv[3]
    where = f"host=127.0.0.1 port={postgres} user=farm dbname=postgres"
    with psycopg.connect(where, password=password, autocommit=True) as database:
        for sql in schema():
            database.execute(sql.replace("timestamp", "timestamptz").encode())
        recorder = Recorder(database)
        recorder.client.reconnect_delay_set(1, 2)
        recorder.client.connect("127.0.0.1", port, 600)
        recorder.client.loop_start()
        threading.Thread(target=recorder.commit, daemon=True).start()
        print("ready", flush=True)
        for _ in sys.stdin:
            lags = sorted(recorder.lags) or [0.0]
            told = {
                "count": recorder.count, "sites": len(recorder.newest), "out_of_order": recorder.out_of_order,
                "took_s": recorder.ended - recorder.began, "lag_median_s": lags[len(lags) // 2],
                "lag_99_s": lags[int(len(lags) * 0.99)],
                "mb": int(Path("/proc/self/statm").read_text().split()[1]) * 4096 / 1e6,
            }  # fmt: skip
            print(json.dumps(told), flush=True)


if __name__ == "__main__":
    main()
