"""Link URLs: taken apart, and refused with what would be right."""

import contextlib

import pytest
from hypothesis import given
from hypothesis import strategies as st

from neckyoke.bridge.config.address import EXAMPLES, KEYS, VALUES, parse_address


@pytest.mark.parametrize("url", EXAMPLES.values())
def test_the_examples_shown_are_right(url: str) -> None:
    assert parse_address(url).target


def test_every_option_has_its_values() -> None:
    assert {key for keys in KEYS.values() for key in keys} == set(VALUES)


@pytest.mark.parametrize(
    ("url", "says"),
    [
        ("", "is no link"),
        ("/dev/ttyUSB0", "is no link"),
        ("fax:1", "is no link"),
        ("serial:ttyUSB0", "needs the port's path"),
        ("tcp://host", "needs a host and a port"),
        ("tcp://host:99999", "needs a host and a port"),
        ("tcp://[::1:4001", "needs a host and a port"),
        ("ble:scale", "Bluetooth address"),
        ("rfcomm:AA:BB:CC:DD:EE", "Bluetooth address"),
        ("tcp://host:1?baud=9600", "'baud' is not understood here"),
        ("serial:/dev/ttyUSB0?speed=9600", "serial: knows baud"),
        ("serial:/dev/ttyUSB0?baud=fast", "a speed such as 9600"),
        ("serial:/dev/ttyUSB0?baud=0", "a speed such as 9600"),
        ("serial:/dev/ttyUSB0?bits=9", "7 or 8"),
        ("serial:/dev/ttyUSB0?parity=maybe", "none, even or odd"),
        ("serial:/dev/ttyUSB0?stop=3", "1 or 2"),
        ("serial:/dev/ttyUSB0?flow=yes", "rtscts"),
        ("rfc2217://host:1?dtr=high", "on or off"),
        ("ble:AA:BB:CC:DD:EE:01?notify=tx", "36 characters"),
        ("rfcomm:AA:BB:CC:DD:EE:02?channel=31", "from 1 to 30"),
        ("rfcomm:AA:BB:CC:DD:EE:02?adapter=usb", "hci0"),
        ("serial:/dev/ttyUSB0?baud=", "a speed such as 9600"),
    ],
)
def test_what_is_wrong_is_said_with_what_would_be_right(url: str, says: str) -> None:
    with pytest.raises(ValueError, match=says.replace("(", "\\(")):
        parse_address(url)


@given(st.text(max_size=60), st.sampled_from(["", "serial:", "tcp://", "rfc2217://", "ble:", "rfcomm:"]))
def test_any_text_is_an_address_or_a_value_error(text: str, scheme: str) -> None:
    with contextlib.suppress(ValueError):
        assert parse_address(scheme + text).target
