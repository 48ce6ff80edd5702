"""Packages of the npm registry for tests: fetched once, into pytest's cache."""

import fcntl
import subprocess
from pathlib import Path

import pytest


def npm_package(config: pytest.Config, name: str, version: str, patience_s: float = 90.0) -> Path:
    """Return the folder node_modules with a package in it, fetched within `patience_s`."""
    assert config.cache is not None
    folder = Path(config.cache.mkdir(name.strip("@").replace("/", "-"))) / version
    modules = folder / "node_modules"
    folder.parent.mkdir(parents=True, exist_ok=True)
    with folder.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)  # of several workers one fetches it
        _fetch(folder, modules, name, version, patience_s)
    return modules


def _fetch(folder: Path, modules: Path, name: str, version: str, patience_s: float) -> None:
    if not (modules / name / "package.json").exists():
        command = ["npm", "install", "--no-audit", "--no-fund", "--ignore-scripts", "--prefix", str(folder)]
        try:
            subprocess.run(
                [*command, f"{name}@{version}"], check=True, capture_output=True, text=True, timeout=patience_s
            )
        except (OSError, subprocess.SubprocessError) as error:
            said = getattr(error, "stderr", "") or error
            pytest.fail(f"{name} {version} could not be had from the npm registry (is npm there, and the net?): {said}")
