"""Packages of the npm registry for tests: fetched once, into pytest's cache, for all workers."""

import fcntl
import subprocess
from pathlib import Path

import pytest

TOGETHER = {
    "@asyncapi/specs": "6.11.1",  # the AsyncAPI Initiative's JSON Schemas of its documents (Apache-2.0)
    "aedes": "0.51.3",  # the last that runs on Debian 12's Node.js, as are the next two
    "cloudevents": "8.0.3",
    "mqtt": "5.16.0",
    "axe-core": "4.14.1",
    "json-schema-to-typescript": "16.0.0",
}
"""What is asked for by several tests or is small: npm takes as long to begin, for each, as to fetch it."""


def npm_packages(config: pytest.Config, patience_s: float = 240.0) -> Path:
    """Return the folder node_modules with the packages of `TOGETHER` in it, fetched within `patience_s`."""
    return npm_package(config, TOGETHER, patience_s)


def npm_package(config: pytest.Config, packages: dict[str, str], patience_s: float = 240.0) -> Path:
    """Return the folder node_modules with packages of these versions in it, fetched within `patience_s`."""
    assert config.cache is not None
    wanted = [f"{name}@{version}" for name, version in packages.items()]
    folder = Path(config.cache.mkdir("npm")) / "+".join(wanted).replace("/", "-")
    with folder.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)  # of several workers one fetches them
        _fetch(folder, wanted, patience_s)
    return folder / "node_modules"


def _fetch(folder: Path, wanted: list[str], patience_s: float) -> None:
    if (folder / "whole").exists():
        return
    command = ["npm", "install", "--no-audit", "--no-fund", "--ignore-scripts", "--prefix", str(folder)]
    try:
        subprocess.run([*command, *wanted], check=True, capture_output=True, text=True, timeout=patience_s)
    except (OSError, subprocess.SubprocessError) as error:
        said = getattr(error, "stderr", "") or error
        pytest.fail(f"{' '.join(wanted)} could not be had from the npm registry (is npm there, and the net?): {said}")
    (folder / "whole").touch()
