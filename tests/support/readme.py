"""What the README shows of the demo, made afresh: `python -m tests.support.readme` puts it into the README.

A block behind `<!-- shown: NAME -->` is real output; tests/test_readme.py fails when it is not what comes out today.
"""

import re
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
BLOCK = re.compile(r"<!-- shown: (?P<name>[a-z-]+) -->\n```\n(?P<text>.*?)```\n", re.DOTALL)


def neckyoke(folder: Path, *words: str) -> str:
    """Run a command in a folder and give what it printed."""
    command = [sys.executable, "-m", "neckyoke.bridge.cli", *words]
    done = subprocess.run(
        command, cwd=folder, env={"PYTHONPATH": str(ROOT / ".src")}, check=True, capture_output=True, text=True
    )
    return done.stdout


def shown(folder: Path) -> dict[str, str]:
    """Make every block that the README shows."""
    small = neckyoke(folder, "demo", "--fast")
    neckyoke(folder, "demo", "--fast", "--animals", "40")
    day = folder / "neckyoke-demo"
    sheet = ("--sheet", str(day / "sheet.toml"))
    counted = neckyoke(folder, "tally", str(day / "events.jsonl"), *sheet).split("\n", 2)[2]  # not the day's date
    columns = "number,tag,visual,kg,grade,pen,gain_kg_per_day,dose.oral drench,notes,flags"
    rows = neckyoke(folder, "export", str(day / "events.jsonl"), "--columns", columns)
    capture = (str(day / "capture.jsonl.gz"), "--config", str(day / "neckyoke.toml"))
    return {
        "demo": small[: small.index("\n\n", small.index("no."))] + "\n",
        "tally": counted,
        "export": "".join(rows.splitlines(keepends=True)[:8]).replace("\r", ""),
        "explain": neckyoke(folder, "replay", *capture, "--explain", "4"),
    }


def written(readme: str) -> dict[str, str]:
    """Return the blocks as the README has them."""
    return {found["name"]: found["text"] for found in BLOCK.finditer(readme)}


def renewed(readme: str, blocks: dict[str, str]) -> str:
    """Put today's blocks into the README."""
    return BLOCK.sub(lambda found: f"<!-- shown: {found['name']} -->\n```\n{blocks[found['name']]}```\n", readme)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        README.write_text(renewed(README.read_text(encoding="utf-8"), shown(Path(made))), encoding="utf-8")
