"""Packages of the Python Package Index that only a test's peers need: fetched once, into pytest's cache."""

import fcntl
import subprocess
import sys
from pathlib import Path

import pytest


def pypi_package(config: pytest.Config, name: str, version: str, patience_s: float = 120.0) -> Path:
    """Return a folder for PYTHONPATH with a package and what it needs in it, fetched within `patience_s`."""
    assert config.cache is not None
    folder = Path(config.cache.mkdir(name)) / version
    folder.parent.mkdir(parents=True, exist_ok=True)
    with folder.with_suffix(".lock").open("w") as lock:
        fcntl.flock(lock, fcntl.LOCK_EX)  # of several workers one fetches it
        if not (folder / "whole").exists():
            command = [sys.executable, "-m", "pip", "install", "--quiet", "--target", str(folder), f"{name}=={version}"]
            try:
                subprocess.run(command, check=True, capture_output=True, text=True, timeout=patience_s)
            except (OSError, subprocess.SubprocessError) as error:
                said = getattr(error, "stderr", "") or error
                pytest.fail(f"{name} {version} could not be had from the Python Package Index: {said}")
            (folder / "whole").touch()
    return folder
