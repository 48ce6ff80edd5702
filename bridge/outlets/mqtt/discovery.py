"""What home automation is told of a station, by the general convention of discovery over MQTT; off by default.

    PREFIX/COMPONENT/NODE/OBJECT/config   retained; its JSON names the topics of ours that hold the state

A program that knows the convention then shows a station as a device without being told anything: the weight, whether
the animal may leave, whether it is withheld, the animals counted and the troubles.  The states are the topics that are
there anyway.  It is a hint and no safety device: nothing here opens a gate.
"""

import json
from collections.abc import Iterator

ENTITIES: tuple[tuple[str, str, str, str, dict[str, str]], ...] = (
    ("sensor", "weight", "platform", "{{ value_json.kg }}", {"device_class": "weight", "unit_of_measurement": "kg"}),
    ("sensor", "settled", "platform", "{{ value_json.settled_kg }}", {"unit_of_measurement": "kg"}),
    ("binary_sensor", "may_leave", "platform", "{{ 'ON' if value_json.may_leave else 'OFF' }}", {}),
    ("binary_sensor", "withheld", "platform", "{{ 'ON' if value_json.withheld else 'OFF' }}", {}),
    ("sensor", "animals", "status", "{{ value_json.stations['STATION'].counts.animals }}", {}),
    ("sensor", "troubles", "status", "{{ value_json.troubles | count }}", {}),
)
"""Component, object, topic of the state, how its value is read there, and what else is known of it."""
NAMES = {"weight": "Weight", "settled": "Settled weight", "may_leave": "May leave", "withheld": "Withheld",
         "animals": "Animals", "troubles": "Troubles"}  # fmt: skip


def announcements(prefix: str, top: str, station: str, version: str) -> Iterator[tuple[str, str]]:
    """Yield what is to be retained for one station: topic and JSON.  `top` begins our topics (PREFIX/SITE)."""
    site = top.rsplit("/", 1)[-1]
    node = f"neckyoke_{site}_{station}"
    device = {"identifiers": [node], "name": f"{site} {station}", "model": "neckyoke", "sw_version": version}
    for component, thing, state, template, known in ENTITIES:
        told = {
            "name": NAMES[thing],
            "unique_id": f"{node}_{thing}",
            "state_topic": f"{top}/{station}/platform" if state == "platform" else f"{top}/status",
            "value_template": template.replace("STATION", station),
            "availability_topic": f"{top}/status",
            "availability_template": "{{ value_json.state }}",
            "device": device,
            **known,
        }
        yield f"{prefix}/{component}/{node}/{thing}/config", json.dumps(told)
