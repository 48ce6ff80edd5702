"""`neckyoke schema`: the JSON Schemas of what is published, made from the models; or all topics as AsyncAPI."""

import argparse
import json
from importlib.metadata import version

from neckyoke.bridge.reference.schemas import NAMES, schema


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument(
        "name", nargs="?", choices=NAMES, default="event", help="which one (event: all, each data tied to its type)"
    )
    parser.add_argument("--closed", action="store_true", help="refuse what this version does not write")
    parser.add_argument("--asyncapi", action="store_true", help="all that goes over MQTT as an AsyncAPI 3 document")
    parser.add_argument("--list", action="store_true", help="list the names of the schemas")


def run(args: argparse.Namespace) -> int:
    """Print the schema."""
    if args.asyncapi:
        from neckyoke.bridge.outlets.mqtt.asyncapi import document

        print(json.dumps(document(version("neckyoke")), indent=2, ensure_ascii=False))
    elif args.list:
        print("\n".join(NAMES))
    else:
        print(json.dumps(schema(args.name, closed=args.closed), indent=2))
    return 0
