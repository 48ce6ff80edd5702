"""`neckyoke page code`: the access code without which the page changes nothing and shows little."""

import argparse
import json
import socket
import sys
from urllib.parse import urlsplit

from neckyoke.bridge.commands.daemon import add_config
from neckyoke.bridge.config.model import load_config, usual_config
from neckyoke.bridge.page import access
from neckyoke.bridge.page.invite import invitation

HERE = {"127.0.0.1", "localhost", "::1"}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("what", choices=["code"], help="make the page's access code and print it, once")
    add_config(parser)
    parser.add_argument("--json", action="store_true", help="for a program")
    parser.add_argument("--new", action="store_true", help="make another; the old one ends at once")


def run(args: argparse.Namespace) -> int:
    """Make a code and print it."""
    config = load_config(file := args.config or usual_config())
    if config.page is None:
        print(f'{file} has no page yet. Add:\n\n[page]\nlisten = "127.0.0.1:8370"', file=sys.stderr)
        return 2
    path = config.state_path(config.page.code_file)
    if access.Access(path).there and not args.new:
        print("There is a code already; it is kept so that nobody can read it, this command neither.", file=sys.stderr)
        print("neckyoke page code --new makes another, and ends the old one.", file=sys.stderr)
        return 1
    code = access.new_code()
    try:
        access.keep(path, code)
    except access.AccessError as error:
        print(error, file=sys.stderr)
        return 1
    where = address(config.page.listen)
    if args.json:
        print(json.dumps({"code": access.spell(code), "address": where}))
        return 0
    print(f"Access code: {access.spell(code)}")
    if urlsplit(where).hostname in HERE:
        print(f"Open {where} on this computer; no phone reaches it there.")
        print(f'For phones write listen = "0.0.0.0:{urlsplit(where).port}" under [page] in {file}, and restart.')
    else:
        print(f"Open {where} on the phone; it asks for the code once, when the page is first opened.\n")
        print(invitation(where, code))
    return 0


def address(listen: str) -> str:
    """Return where a phone finds the page; a page that listens everywhere goes by this machine's name."""
    host, _, port = listen.rpartition(":")
    if host.strip("[]") in {"", "0.0.0.0", "::"}:  # noqa: S104 -- compared, not bound
        host = f"{socket.gethostname()}.local"
    return f"http://{host}:{port}/"
