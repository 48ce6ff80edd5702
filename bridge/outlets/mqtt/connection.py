"""One connection to an MQTT broker.

A connection is made, used and thrown away; a new one is a new object.  What aiomqtt 2.5.1 and paho 2.2.0 do not do by
themselves is done here, each tested on a real broker (tests/bridge/outlets/test_mqtt_wire.py):

- a publish awaits its acknowledgement or the loss of the connection, whichever comes first, and the acknowledgement's
  reason code is looked at: a broker refuses by its access list in the acknowledgement, not by an error;
- a connection given up half-way, or never greeted, leaves no socket and no task behind;
- leaving always says farewell first: a clean disconnect sends no will, also after an exception;
- the socket is watched for room only while there is something to write;
- what paho would log it tells here, once, as part of an error a person can act on.

What this needs of aiomqtt's private parts is in bridge/outlets/mqtt/seam.py.
"""

import asyncio
import contextlib
import logging
import socket
import ssl
from collections.abc import AsyncIterator, Coroutine
from dataclasses import dataclass
from typing import Any

import aiomqtt
from paho.mqtt.client import MQTT_CLEAN_START_FIRST_ONLY, MQTTMessageInfo
from paho.mqtt.packettypes import PacketTypes
from paho.mqtt.properties import Properties
from paho.mqtt.subscribeoptions import SubscribeOptions

from neckyoke.bridge.outlets.mqtt.broker import Broker, BrokerError, TooLargeError
from neckyoke.bridge.outlets.mqtt.refusals import explain
from neckyoke.bridge.outlets.mqtt.seam import Seam

REFUSED = 0x80
"""Reason codes from here on mean that it was not done (MQTT 5, 2.4)."""
QUOTA_EXCEEDED = 0x97
"""The one refusal that passes by itself."""
GREETING_S = 10.0
ACKNOWLEDGEMENT_S = 30.0
"""A broker that leaves a message unacknowledged for so long is taken for gone."""
REQUESTS_WAITING = 100
HEADER_MOST = 128
"""Bytes of a packet beside its topic and payload, at most: header, properties and their lengths (MQTT 5, 3.3)."""


@dataclass(frozen=True, slots=True)
class Incoming:
    """A message that came in.  The last two are MQTT 5's, None when not given."""

    topic: str
    payload: bytes
    retained: bool
    response_topic: str | None
    correlation: bytes | None


class _LastWords(logging.Handler):
    """Keeps the last thing paho had to say: it logs why a socket broke and tells nobody."""

    def __init__(self) -> None:
        super().__init__(logging.WARNING)
        self.text = ""

    def emit(self, record: logging.LogRecord) -> None:
        """Keep it."""
        self.text = record.getMessage()


class Connection(Seam):
    """One connection.  `enter` it, use it until it raises BrokerError, then `leave` it, always."""

    def __init__(self, broker: Broker, will_topic: str, will: str, context: ssl.SSLContext | None) -> None:
        self._words = _LastWords()
        logger = logging.Logger("mqtt")  # noqa: LOG001  # belongs to nobody: what it is told goes no further
        logger.setLevel(logging.WARNING)
        logger.addHandler(self._words)
        five = broker.version == "5"
        super().__init__(
            broker.host,
            broker.port,
            username=broker.username,
            password=broker.password.get_secret_value() if broker.password else None,
            logger=logger,
            identifier=broker.client_id,
            protocol=aiomqtt.ProtocolVersion.V5 if five else aiomqtt.ProtocolVersion.V311,
            clean_session=None if five else True,
            clean_start=True if five else MQTT_CLEAN_START_FIRST_ONLY,
            will=aiomqtt.Will(will_topic, will, qos=1, retain=True),
            keepalive=broker.keepalive_s,
            timeout=GREETING_S,
            tls_context=context,
            max_queued_incoming_messages=REQUESTS_WAITING,
            transport="websockets" if broker.path else "tcp",
            websocket_path=broker.path,
            socket_options=[(socket.IPPROTO_TCP, socket.TCP_NODELAY, 1)],
        )
        self.broker = broker
        self.five = five
        self._will_topic = will_topic
        self.of_events = self.properties(  # CloudEvents 1.0, MQTT binding: structured mode; made once, they are slow
            ContentType="application/cloudevents+json; charset=utf-8", PayloadFormatIndicator=1
        )

    async def enter(self) -> None:
        """Connect and wait for the broker's greeting.  Raises BrokerError; then nothing is left behind."""
        entering = asyncio.ensure_future(self.__aenter__())
        try:
            await asyncio.shield(entering)
        except asyncio.CancelledError:
            entering.add_done_callback(self._forget)  # the thread that connects cannot be stopped, only tidied after
            raise
        except (aiomqtt.MqttError, OSError, ValueError) as error:
            self.drop()
            raise self._explain(error) from error
        if self.lost_at_once is not None:
            self.drop()
            raise self._explain(self.lost_at_once)

    def _forget(self, entering: "asyncio.Future[Any]") -> None:
        if not entering.cancelled():
            entering.exception()
        self.drop()

    async def leave(self, farewell: str) -> None:
        """Publish a farewell in the will's place and disconnect; a broker that does not answer is waited for 2 s."""
        with contextlib.suppress(BrokerError, aiomqtt.MqttError, TimeoutError):
            async with asyncio.timeout(2.0):
                await self.acknowledged(self.post(self._will_topic, farewell, retain=True))
                await self.__aexit__(None, None, None)
        self.drop()

    def post(
        self, topic: str, payload: str, *, retain: bool = False, properties: Properties | None = None
    ) -> "asyncio.Future[int]":
        """Send a message with QoS 1; the future, for `acknowledged`, gives the reason code.  Raises BrokerError."""
        info = self._send(topic, payload, 1, retain, properties)
        future: asyncio.Future[int] = asyncio.get_running_loop().create_future()
        self.acknowledgements[info.mid] = future
        return future

    def toss(self, topic: str, payload: str, *, expires_s: int) -> None:
        """Send a message with QoS 0 that loses its worth after `expires_s`.  Raises BrokerError.

        It is retained until then; with 3.1.1, where nothing lapses, it is not.
        """
        self._send(topic, payload, 0, self.five, self.properties(MessageExpiryInterval=expires_s))

    async def until_lost(self, wait: Coroutine[Any, Any, Any], limit_s: float) -> None:
        """Wait for something, at most so long.  Raises BrokerError as soon as the connection is lost."""
        task = asyncio.ensure_future(wait)
        try:
            await asyncio.wait({task, self.ended}, timeout=limit_s, return_when=asyncio.FIRST_COMPLETED)
        finally:
            task.cancel()
        if self.ended.done():
            raise self._explain(self.ended.exception())

    def _send(self, topic: str, payload: str, qos: int, retain: bool, properties: Properties | None) -> MQTTMessageInfo:  # noqa: FBT001
        if self.ended.done():
            raise self._explain(self.ended.exception())
        size = len(payload.encode()) + len(topic.encode()) + HEADER_MOST
        if self.largest is not None and size > self.largest:
            raise TooLargeError(f"{self.broker} takes {self.largest} bytes at most, and it has {size}")
        info = self.send(topic, payload, qos, retain, properties)
        if info.rc:
            raise self._explain(None)
        return info

    async def acknowledged(self, future: "asyncio.Future[int]") -> None:
        """Wait until the broker has taken a message.  Raises BrokerError when it refuses it, is lost, or is mute."""
        if not future.done():
            waits: set[asyncio.Future[Any]] = {future, self.ended}
            await asyncio.wait(waits, timeout=ACKNOWLEDGEMENT_S, return_when=asyncio.FIRST_COMPLETED)
        if future.done():
            self._judge(future.result())
        elif self.ended.done():
            raise self._explain(self.ended.exception())
        else:
            raise BrokerError(f"{self.broker} has acknowledged nothing for {ACKNOWLEDGEMENT_S:.0f} s")

    def _judge(self, code: int) -> None:
        if code == QUOTA_EXCEEDED:
            text = "has reached its quota and takes nothing just now; look at its limits and at its disk"
            raise BrokerError(f"{self.broker} {text}", refused=True)
        if code >= REFUSED:
            raise BrokerError(
                f"{self.broker} refuses what we publish (code 0x{code:02x}): "
                f"let this user write {self._will_topic.rsplit('/', 1)[0]}/# in the broker's access list",
                slow=True,
                refused=True,
            )

    async def hear(self, *topics: str) -> bool:
        """Subscribe to topics, asking not to be given what was retained there: False when the broker refuses any.

        Some brokers grant it and then pass nothing on; that looks like silence.  Raises BrokerError when it is lost.
        """
        try:
            if self.five:
                options = SubscribeOptions(qos=1, noLocal=True, retainHandling=2)
                codes = await self.subscribe([(topic, options) for topic in topics])
            else:
                codes = await self.subscribe([(topic, 1) for topic in topics])
        except aiomqtt.MqttError as error:
            raise self._explain(error) from error
        return all((code if isinstance(code, int) else code.value) < REFUSED for code in codes)

    async def incoming(self) -> AsyncIterator[Incoming]:
        """Yield the messages that come in.  Raises BrokerError when the connection is lost."""
        try:
            async for message in self.messages:
                properties = message.properties
                yield Incoming(
                    topic=str(message.topic),
                    payload=bytes(message.payload),
                    retained=message.retain,
                    response_topic=getattr(properties, "ResponseTopic", None),
                    correlation=getattr(properties, "CorrelationData", None),
                )
        except aiomqtt.MqttError as error:
            raise self._explain(error.__cause__) from error

    def properties(self, **values: Any) -> Properties | None:
        """Make the MQTT 5 properties of a message; None with 3.1.1, which has none."""
        if not self.five:
            return None
        properties = Properties(PacketTypes.PUBLISH)  # type: ignore[no-untyped-call]
        for name, value in values.items():
            setattr(properties, name, value)
        return properties

    def _explain(self, error: BaseException | None) -> BrokerError:
        return explain(self.broker, error, self.fault, self._words.text)
