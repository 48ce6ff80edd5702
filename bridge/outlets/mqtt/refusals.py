"""Why a connection to a broker cannot be had or was lost, in words that say what to do."""

import aiomqtt
from aiomqtt.exceptions import MqttConnectError
from paho.mqtt.reasoncodes import ReasonCode

from neckyoke.bridge.outlets.mqtt.broker import Broker, BrokerError
from neckyoke.bridge.outlets.secure import certificate_fault

TAKEN_OVER = 0x8E
"""The broker's farewell to a client whose name another has come with (MQTT 5, 3.14.2.1)."""
TOO_LARGE = 0x95
"""The broker's farewell to whoever sent a larger packet than it takes (MQTT 5, 3.14.2.1)."""
NOT_CONNECTED = 4
"""What paho calls it when it has just noticed, before anybody was told (MQTT_ERR_NO_CONN)."""
HUNG_UP = frozenset({4, 0x80, 0x8B})
"""How a connection ended that the broker closed without a word (paho's own codes; 4 while sending), or shut down."""

CONNECT_CODES: dict[int, tuple[str, bool]] = {
    132: ('does not speak this version of MQTT; set protocol = "3.1.1"', True),
    133: ("does not take this client_id; set another", True),
    134: ("does not know this username and password", True),
    135: ("does not let us in: check username, password_file and the broker's access list", True),
    136: ("is not available just now", False),
    137: ("is busy just now", False),
    138: ("has banned this client", True),
    140: ("wants another way of logging in", True),
    159: ("says that we connect too often", True),
}
"""Reason codes of a refused connection: what the broker says, and whether only a person can change it."""


def explain(broker: Broker, error: BaseException | None, fault: OSError | None, logged: str) -> BrokerError:
    """Turn what was raised into what is wrong and what to do.

    `fault` is the error below it, when there was one, and `logged` the last thing that paho had to say.
    """
    said = " ".join(str(part) for part in (fault or error, logged) if part)
    code = error.rc.value if isinstance(error, aiomqtt.MqttCodeError) and isinstance(error.rc, ReasonCode) else None
    refused = isinstance(error, MqttConnectError)
    if refused and code in CONNECT_CODES:
        text, slow = CONNECT_CODES[code]
        return BrokerError(f"{broker} {text}", slow=slow)
    if code == TAKEN_OVER:
        text = f"another program connects to {broker} as {broker.client_id!r}; give each its own client_id"
        return BrokerError(text, slow=True)
    if code == TOO_LARGE:
        return BrokerError(f"{broker} says that a message is too large for it", too_large=True)
    if (wrong := certificate_fault(said)) is not None:
        return BrokerError(f"{broker}: {wrong}", slow=True)
    gone = isinstance(error, aiomqtt.MqttCodeError) and error.rc == NOT_CONNECTED
    if gone or (code in HUNG_UP and not refused):
        why = f" ({logged})" if logged else ""
        return BrokerError(f"{broker} hung up or was shut down{why}", hung_up=True)
    return BrokerError(f"{broker} is out of reach: {said or 'the connection was lost'}")
