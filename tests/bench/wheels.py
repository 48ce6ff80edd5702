"""Which of the dependencies come as finished wheels for a Raspberry Pi, asked of the package index by pip itself.

    python tests/bench/wheels.py

For 64 bits (aarch64) all must, for the Pythons of Debian 12 and 13; for 32 bits (armv7l) it is said what does not.
"""

import subprocess
import sys
import tempfile
import tomllib
from pathlib import Path

ROOT = Path(__file__).parents[2]
PYTHONS = ("311", "313")
# Debian 12 has glibc 2.36 and 13 has 2.41; wheels for an older glibc run on a newer one (PEP 600).
PLATFORMS = {
    "aarch64": ["manylinux2014_aarch64", "manylinux_2_17_aarch64", "manylinux_2_28_aarch64"],
    "armv7l": ["manylinux2014_armv7l", "manylinux_2_17_armv7l", "manylinux_2_31_armv7l"],
}


def dependencies() -> list[str]:
    """Return what the wheel depends on, with the page."""
    project = tomllib.loads((ROOT / "pyproject.toml").read_text())["project"]
    return [*project["dependencies"], *project["optional-dependencies"]["page"]]


def download(python: str, machine: str, wanted: list[str], *more: str) -> tuple[bool, str]:
    """Let pip fetch wheels for another machine; return whether it could, and what it said."""
    platforms = [word for platform in PLATFORMS[machine] for word in ("--platform", platform)]
    command = [sys.executable, "-m", "pip", "download", "--quiet", "--only-binary", ":all:", *platforms]
    with tempfile.TemporaryDirectory() as folder:
        command += ["--python-version", python, "--implementation", "cp", "--dest", folder, *more, *wanted]
        ran = subprocess.run(command, capture_output=True, text=True, check=False)
        names = " ".join(sorted("==".join(path.name.split("-")[:2]) for path in Path(folder).iterdir()))
    return ran.returncode == 0, names if ran.returncode == 0 else ran.stderr.strip().splitlines()[-1]


def main() -> int:
    """Ask for both machines and both Pythons."""
    good = True
    for python in PYTHONS:
        done, said = download(python, "aarch64", dependencies())
        good &= done
        print(f"aarch64, Python {python}: {'all as wheels' if done else 'NOT ALL'}: {said}", flush=True)
        names = said.split() if done else []
        lacking = [name for name in names if not download(python, "armv7l", [name], "--no-deps")[0]]
        print(f"armv7l,  Python {python}: lacking wheels: {', '.join(lacking) or 'none'}", flush=True)
    return 0 if good else 1


if __name__ == "__main__":
    sys.exit(main())
