"""`neckyoke cut --heads 20`: at which weight so many would have gone, of those weighed."""

import argparse
import json

from neckyoke.bridge.commands.weighings import add_source, parsed, weighing_lines
from neckyoke.bridge.reports.reading import is_void, known_as, latest


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_source(parser)
    parser.add_argument("--heads", type=int, required=True, metavar="N", help="how many go")
    parser.add_argument("--lightest", action="store_true", help="the lightest instead of the heaviest")
    parser.add_argument("--title", help="only weighings under the job sheet of this title")
    parser.add_argument("--json", action="store_true", help="for a program")


def run(args: argparse.Namespace) -> int:
    """Print the cut."""
    from neckyoke.bridge.job.pens.heads import cut_after

    weights: dict[str, float] = {}
    with weighing_lines(args) as lines:
        for data in latest(list(parsed(lines))):
            sure = data["weight"]["kg"] is not None and data["weight"]["grade"] in {"good", "fair"}
            if sure and not is_void(data) and (args.title is None or data.get("sheet") == args.title):
                weights[known_as(data) or data["weighing"]] = data["weight"]["kg"]
    cut = cut_after(weights.values(), args.heads, heaviest=not args.lightest)
    which = "lightest" if args.lightest else "heaviest"
    if args.json:
        last, first = cut or (None, None)
        shown = {"heads": args.heads, "which": which, "of": len(weights), "last_kg": last, "first_left_kg": first}
        print(json.dumps(shown))
    elif cut is None:
        print(f"{len(weights)} animals with a sure weight: no cut for {args.heads}.")
    else:
        print(f"The {args.heads} {which} of {len(weights)}: the last that goes has {cut[0]:.1f} kg,")
        print(f"the first that stays {cut[1]:.1f} kg.")
    return 0
