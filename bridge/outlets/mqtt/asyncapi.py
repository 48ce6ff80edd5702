"""The AsyncAPI 3.0 document of what goes over MQTT, made from the models: for integrators and their generators.

https://www.asyncapi.com/docs/reference/specification/v3.0.0; MQTT bindings 0.2.0.  JSON, which is YAML too.
"""

import json
from typing import Any, TypeAlias

from pydantic.json_schema import models_json_schema

from neckyoke.bridge.asking.requests import KINDS, Answer
from neckyoke.bridge.events import MODELS
from neckyoke.bridge.reference.schemas import schema
from neckyoke.bridge.telling.status import Offline, Online, PlatformView

Spec: TypeAlias = dict[str, Any]

EVENT_TYPE = "application/cloudevents+json"
BINDING = "0.2.0"
TEXTS = {
    "weighing": "One animal's time on the platform, when it ends; again with a higher revision when amended.",
    "settled": "The first trustworthy weight, while the animal still stands there.",
    "tag": "A reader heard a tag that it had not heard for a while.",
    "attention": "Something a person should look at now, or the end of it.",
    "link": "A device came up, was lost, fell silent or is missing.",
    "animal": "All that is known of an animal, when it is first known, retagged, named, marked, merged or split.",
    "job": "A job when it begins, pauses, goes on and ends; again with a higher revision when its tally is amended.",
}
PLATFORM = (
    "What the platform shows, live.  It says offline when neckyoke stops, and by its will.  MQTT 5: retained, and "
    "forgotten after 20 s without news; 3.1.1: not retained."
)
PARAMETERS: Spec = {
    "site": {"description": "The name of the site: site in the configuration, such as larkmoor."},
    "station": {"description": "The name of the station, such as crush."},
    "link": {"description": "The name of the link, such as indicator."},
}


def document(version: str) -> Spec:
    """Make the document; `version` is neckyoke's."""
    return {
        "asyncapi": "3.0.0",
        "info": {
            "title": "neckyoke",
            "version": version,
            "license": {"name": "MIT"},
            "description": (
                "Weighings of animals as CloudEvents 1.0.  Delivery is at least once and in order: drop repeated ids, "
                "and of each data.weighing keep the highest data.revision.  Weights are for management, not for trade."
            ),
        },
        "defaultContentType": EVENT_TYPE,
        "servers": {"broker": _server()},
        "channels": _channels(),
        "operations": _operations(),
        "components": {"messages": _messages(), "schemas": _schemas()},
    }


def _server() -> Spec:
    will = {"topic": "neckyoke/{site}/status", "qos": 1, "retain": True, "message": '{"state": "offline", …}'}
    return {
        "host": "broker.local:1883",
        "protocol": "mqtt",
        "protocolVersion": "5",
        "description": "The broker of [outlets.NAME] mqtt; 3.1.1 with protocol, TLS with mqtts://.",
        "bindings": {"mqtt": {"clientId": "neckyoke-{site}-{outlet}", "lastWill": will, "bindingVersion": BINDING}},
    }


def _kinds() -> list[str]:
    return [name.removeprefix("neckyoke.") for name in MODELS]


def _channel(address: str, message: str, text: str) -> Spec:
    names = [name for name in PARAMETERS if f"{{{name}}}" in address]
    return {
        "address": f"neckyoke/{address}",
        "description": text,
        "parameters": {name: PARAMETERS[name] for name in names},
        "messages": {message: {"$ref": f"#/components/messages/{message}"}},
    }


def _channels() -> Spec:
    places = {"link": "{site}/link/{link}", "animal": "{site}/animal"}
    channels = {
        kind: _channel(places.get(kind, f"{{site}}/{{station}}/{kind}"), kind, TEXTS[kind]) for kind in _kinds()
    }
    return {
        **channels,
        "siteAttention": _channel("{site}/attention", "attention", "Attention that concerns no one station."),
        "status": _channel("{site}/status", "status", "Whether the daemon is there, and how it is."),
        "last": _channel("{site}/{station}/last", "weighing", "The last weighing, for whoever comes late."),
        "platform": _channel("{site}/{station}/platform", "platform", PLATFORM),
        "request": _channel("{site}/{station}/request", "request", "What is asked of the daemon."),
        "answer": _channel("{site}/{station}/answer", "answer", "What was done, or why not."),
        "siteRequest": _channel("{site}/request", "request", "What is asked that belongs to no station."),
        "siteAnswer": _channel("{site}/answer", "answer", "What was done, or why not."),
    }


def _operations() -> Spec:
    def send(channel: str, *, qos: int = 1, retain: bool = False) -> Spec:
        return {
            "action": "send",
            "channel": {"$ref": f"#/channels/{channel}"},
            "bindings": {"mqtt": {"qos": qos, "retain": retain, "bindingVersion": BINDING}},
        }

    kept = {"link", "status", "platform", "job", "last"}
    names = [name for name in _channels() if not name.lower().endswith(("request", "answer"))]

    def asked(request: str, answer: str) -> Spec:
        return {
            "action": "receive",
            "channel": {"$ref": f"#/channels/{request}"},
            "reply": {"channel": {"$ref": f"#/channels/{answer}"}},
            "bindings": {"mqtt": {"qos": 1, "retain": False, "bindingVersion": BINDING}},
        }

    sent = {name: send(name, qos=0 if name == "platform" else 1, retain=name in kept) for name in names}
    answered = {
        "answerRequest": asked("request", "answer"),
        "answerSiteRequest": asked("siteRequest", "siteAnswer"),
    }
    return {**{f"send{name[0].upper()}{name[1:]}": one for name, one in sent.items()}, **answered}


def _messages() -> Spec:
    plain = {"status": "StatusTopic", "platform": "PlatformView", "request": "Request", "answer": "Answer"}
    events = {
        kind: {
            "name": f"neckyoke.{kind}",
            "title": TEXTS[kind],
            "contentType": EVENT_TYPE,
            "payload": {"$ref": f"#/components/schemas/{_named(kind)}Event"},
        }
        for kind in _kinds()
    }
    others = {
        name: {"name": name, "contentType": "application/json", "payload": {"$ref": f"#/components/schemas/{schema}"}}
        for name, schema in plain.items()
    }
    return {**events, **others}


def _named(kind: str) -> str:
    return MODELS[f"neckyoke.{kind}"].__name__


def _schemas() -> Spec:
    template = "#/components/schemas/{model}"
    published = json.dumps(schema("event")["$defs"]).replace("#/$defs/", "#/components/schemas/")
    _, written = models_json_schema([(Answer, "serialization")], ref_template=template)
    told = (Online, Offline, PlatformView)  # as read: what is left out when it is not known, need not be there
    _, read = models_json_schema([(model, "validation") for model in (*KINDS.values(), *told)], ref_template=template)
    schemas: Spec = {**written["$defs"], **read["$defs"], **json.loads(published)}
    schemas["StatusTopic"] = {"oneOf": [{"$ref": template.format(model=name)} for name in ("Online", "Offline")]}
    schemas["Request"] = {"oneOf": [{"$ref": template.format(model=model.__name__)} for model in KINDS.values()]}
    return schemas
