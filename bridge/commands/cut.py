"""`neckyoke cut --heads 20`: at which weight so many would have gone, of those weighed."""

import argparse
import json

from neckyoke.bridge.commands.selection import add_selection
from neckyoke.bridge.commands.weighings import add_source
from neckyoke.bridge.many import many


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    add_source(parser)
    parser.add_argument("--heads", type=int, required=True, metavar="N", help="how many go")
    parser.add_argument("--lightest", action="store_true", help="the lightest instead of the heaviest")
    parser.add_argument("--json", action="store_true", help="for a program")
    add_selection(parser)


def run(args: argparse.Namespace) -> int:
    """Print the cut: of the animals of the job that have a sure weight, each by its best weighing."""
    from neckyoke.bridge.commands.counted import counted
    from neckyoke.bridge.job.pens.heads import cut_after

    weights = [row.kg for row in counted(args).tally.sure if row.kg is not None]
    cut = cut_after(weights, args.heads, heaviest=not args.lightest)
    which = "lightest" if args.lightest else "heaviest"
    if args.json:
        last, first = cut or (None, None)
        shown = {"heads": args.heads, "which": which, "of": len(weights), "last_kg": last, "first_left_kg": first}
        print(json.dumps(shown))
    elif cut is None:
        print(f"{many(len(weights), 'animal')} with a sure weight: no cut for {args.heads}.")
    else:
        print(f"The {args.heads} {which} of {len(weights)}: the last that goes has {cut[0]:.1f} kg,")
        print(f"the first that stays {cut[1]:.1f} kg.")
    return 0
