"""How commands find the running daemon: by the configuration it runs with."""

import argparse
from pathlib import Path

from neckyoke.bridge.config.model import INSTALLED, USUAL, Config

WHERE = f"{USUAL} here, else in {INSTALLED}"
"""Which configuration is meant when none is named."""


def add_config(parser: argparse.ArgumentParser) -> None:
    """Add the option that names the configuration."""
    parser.add_argument("--config", "-c", type=Path, help=f"the daemon's configuration ({WHERE})")


def add_daemon(parser: argparse.ArgumentParser) -> None:
    """Add the options that say which daemon is meant."""
    add_config(parser)
    parser.add_argument("--socket", type=Path, help="its socket, when it is not where the configuration says")


def socket_of(args: argparse.Namespace, config: Config) -> Path:
    """Return the path of the daemon's socket."""
    path: Path = args.socket or config.socket_path
    return path
