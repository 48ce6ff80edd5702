"""How commands find the running daemon: by the configuration it runs with."""

import argparse
from pathlib import Path

from bridge.config import Config


def add_daemon(parser: argparse.ArgumentParser) -> None:
    """Add the options that say which daemon is meant."""
    parser.add_argument("--config", "-c", type=Path, default=Path("neckyoke.toml"), help="the daemon's configuration")
    parser.add_argument("--socket", type=Path, help="its socket, when it is not where the configuration says")


def socket_of(args: argparse.Namespace, config: Config) -> Path:
    """Give the path of the daemon's socket."""
    path: Path = args.socket or config.socket_path
    return path
