"""What the README and the pages of reference show of the demo: `python -m tests.support.readme` makes it afresh.

A block behind `<!-- shown: NAME -->` is real output; tests/test_readme.py fails when it is not what comes out today.
"""

import re
import subprocess
import sys
import tempfile
from pathlib import Path

ROOT = Path(__file__).parents[2]
README = ROOT / "README.md"
PAGES = (README, *sorted((ROOT / "bridge/reference/pages").glob("*.md")))
BLOCK = re.compile(r"<!-- shown: (?P<name>[a-z-]+) -->\n```\n(?P<text>.*?)```\n", re.DOTALL)


def neckyoke(folder: Path, *words: str) -> str:
    """Run a command in a folder and return what it printed."""
    command = [sys.executable, "-m", "neckyoke.bridge.cli", *words]
    done = subprocess.run(
        command, cwd=folder, env={"PYTHONPATH": str(ROOT / ".src")}, check=True, capture_output=True, text=True
    )
    return done.stdout


def shown(folder: Path) -> dict[str, str]:
    """Make every block that is shown somewhere."""
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


def text() -> str:
    """Return the README and the pages of reference, one behind the other."""
    return "\n".join(page.read_text(encoding="utf-8") for page in PAGES)


def blocks(kind: str, pages: str = "") -> list[str]:
    """Return the blocks of a kind, such as `toml`, of the README and the pages, or of what is given."""
    return re.findall(rf"^```{kind}\n(.*?)^```$", pages or text(), re.DOTALL | re.MULTILINE)


def written(pages: str) -> dict[str, str]:
    """Return the shown blocks as they are written."""
    return {found["name"]: found["text"] for found in BLOCK.finditer(pages)}


def renewed(page: str, today: dict[str, str]) -> str:
    """Put today's blocks into a page."""
    return BLOCK.sub(lambda found: f"<!-- shown: {found['name']} -->\n```\n{today[found['name']]}```\n", page)


if __name__ == "__main__":
    with tempfile.TemporaryDirectory() as made:
        today = shown(Path(made))
    for path in PAGES:
        path.write_text(renewed(path.read_text(encoding="utf-8"), today), encoding="utf-8")
