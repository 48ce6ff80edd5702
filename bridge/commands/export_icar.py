"""`neckyoke export --format icar`: a folder a farm, a collection of each kind of resource in it."""

import argparse
import json
import sys
from datetime import tzinfo
from pathlib import Path
from typing import Any

from neckyoke.bridge.commands.selection import selected
from neckyoke.bridge.commands.weighings import animal_bodies, weighing_lines
from neckyoke.bridge.config.model import load_config
from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.many import many

KINDS = ("weights", "treatments", "group-weights", "animal-sets", "animals")
SPECIES = ("Buffalo", "Cattle", "Deer", "Elk", "Goat", "Horse", "Pig", "Sheep")
"""As the exchange has them (icarAnimalSpecieType)."""


def add_icar(parser: argparse.ArgumentParser) -> None:
    """Declare the options."""
    group = parser.add_argument_group("ICAR resources (FOLDER/FARM/KIND.json, deletions included)")
    group.add_argument("--icar", choices=["1.3", "1.4"], help="the release that the receiver knows (1.3)")
    group.add_argument("--resource", choices=KINDS, help="only this kind; with one farm it may go to standard output")
    group.add_argument("--species", choices=SPECIES, help="of these animals: the animals themselves are sent too")


def export_icar(args: argparse.Namespace, zone: tzinfo) -> int:
    """Write the collections and say how many resources of each."""
    from neckyoke.bridge.reports.icar.told import Told

    intervals = None
    if args.events is None or args.config is not None:
        intervals = {name: table.interval_kg for name, table in load_config(args.config).stations.items()}
    told = Told(args.icar or "1.3", resolution_kg=intervals, zone=zone)
    with weighing_lines(args, every=True) as lines:
        told.add(json.loads(line) for line in selected(lines, args, zone))
    farms = told.farms
    made = {farm: told.resources(farm) for farm in farms}
    if args.species is not None:
        for farm, animals in _animals(args, zone).items():
            made.setdefault(farm, {})["animals"] = animals
    if args.resource is not None:
        made = {farm: {args.resource: kinds.get(args.resource, [])} for farm, kinds in made.items()}
    if args.out is None:
        _print(args, made)
    else:
        for farm, kinds in made.items():
            _write(args.out / farm, kinds)
    for count, why in zip(
        told.left_out(), ("neither tag nor visual number: see group-weights", "graded poor"), strict=True
    ):
        if count:
            print(f"{many(count, 'weighing')} without a weight event of their own: {why}", file=sys.stderr)
    return 0


def _animals(args: argparse.Namespace, zone: tzinfo) -> dict[str, list[dict[str, Any]]]:
    from neckyoke.bridge.reports.icar.groups import animals

    newest: dict[str, dict[str, tuple[dict[str, Any], str]]] = {}
    for body in animal_bodies(args):
        event = json.loads(body)
        of_farm = newest.setdefault(event["source"].split("/")[1], {})
        data = event["data"]
        if data["revision"] >= of_farm.get(data["animal"], ({"revision": 0}, ""))[0]["revision"]:
            of_farm[data["animal"]] = data, event["time"]
    return {farm: list(animals(told, farm, args.species, zone)) for farm, told in newest.items()}


def _collection(members: list[dict[str, Any]]) -> dict[str, Any]:
    """Put resources into the collection that their kind has (icarResourceCollection)."""
    return {"view": {"totalItems": len(members)}, "member": members}


def _print(args: argparse.Namespace, made: dict[str, dict[str, list[dict[str, Any]]]]) -> None:
    if args.resource is None or len(made) > 1:
        what = "several kinds of resources, or several farms, are no one collection"
        hint = "Give --out FOLDER, or --resource weights (and --job, --day) for one."
        raise ConfigError([Problem(file="export", where="--format icar", what=what, hint=hint)])
    members = next(iter(made.values()))[args.resource] if made else []
    json.dump(_collection(members), sys.stdout, indent=2)
    print()


def _write(folder: Path, kinds: dict[str, list[dict[str, Any]]]) -> None:
    folder.mkdir(parents=True, exist_ok=True)
    for kind, members in kinds.items():
        path = folder / f"{kind}.json"
        path.write_text(json.dumps(_collection(members), indent=2) + "\n", encoding="utf-8")
        print(f"{len(members)} {kind} in {path}")
