"""`neckyoke schema`: the JSON Schemas of what is published, made from the models; or all topics as AsyncAPI."""

import argparse
import json
from importlib.metadata import version

from neckyoke.bridge.events import MODELS, VERSION, Event


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    names = [name.removeprefix("neckyoke.") for name in MODELS]
    parser.add_argument(
        "name", nargs="?", choices=["event", *names], default="event", help="which one (event: the envelope)"
    )
    parser.add_argument("--asyncapi", action="store_true", help="all that goes over MQTT as an AsyncAPI 3 document")
    parser.add_argument("--list", action="store_true", help="list the names of the schemas")


def schema(name: str) -> dict[str, object]:
    """Make the JSON Schema (2020-12) of the envelope, or of the data of one type of event."""
    model = Event if name == "event" else MODELS[f"neckyoke.{name}"]
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:neckyoke:{name}:{VERSION}",
        **model.model_json_schema(mode="serialization"),
    }


def run(args: argparse.Namespace) -> int:
    """Print the schema."""
    if args.asyncapi:
        from neckyoke.bridge.outlets.mqtt.asyncapi import document

        print(json.dumps(document(version("neckyoke")), indent=2, ensure_ascii=False))
    elif args.list:
        print("\n".join(["event", *(name.removeprefix("neckyoke.") for name in MODELS)]))
    else:
        print(json.dumps(schema(args.name), indent=2))
    return 0
