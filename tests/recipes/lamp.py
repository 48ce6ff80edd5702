"""Lights a lamp on GPIO 17 for a second, and beeps, when the animal is weighed and nothing is missing.

mosquitto_sub -h broker.local -t 'neckyoke/+/crush/settled' | python3 lamp.py
"""

import json
import sys

from gpiozero import LED  # apt install python3-gpiozero; there already on Raspberry Pi OS

lamp = LED(17)
for line in sys.stdin:
    data = json.loads(line)["data"]
    if data["may_leave"]:
        lamp.blink(on_time=1, n=1)
        print("\a", data["weight"]["kg"], "kg", flush=True)
