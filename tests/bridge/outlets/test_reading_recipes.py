"""Recipes for those who read: an events file by SQL and by pandas, and a dashboard's queries, each run as it is."""

import csv
import io
import json
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from neckyoke.bridge.events import Flag, wrap
from neckyoke.bridge.telling.openmetrics import write
from tests.support.daemon import ROOT
from tests.support.events import SITE, weighed, weighing
from tests.support.status import status_of

RECIPES = ROOT / "tests" / "recipes"
WANT = {"999000000000001": 318.5, "999000000000002": 301.0, "999000000000007": 300.0}


@pytest.fixture
def events(tmp_path: Path) -> Path:
    """An events file: one amended, one struck out, one whose tag turned out to be another's, one repeated."""
    void = weighing(3, revision=2).model_copy(update={"flags": (Flag.VOIDED,)})
    untagged = weighing(4, revision=2).model_copy(update={"tag": None, "flags": (Flag.NO_TAG,)})
    made = [
        *(weighed(number) for number in (1, 2, 3, 4)),
        weighed(2, revision=2, kg=301.0),
        wrap(void, site=SITE, time=void.off, key="3/2"),
        wrap(untagged, site=SITE, time=untagged.off, key="4/2"),
        weighed(7, kg=299.0),
        weighed(8, tag="999000000000007", kg=300.0),
        weighed(2),
    ]
    path = tmp_path / "events.jsonl"
    path.write_text("".join(event.to_json() + "\n" for event in made))
    return path


def test_duckdb_finds_the_newest_weight_of_each_animal(events: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    import duckdb

    monkeypatch.chdir(events.parent)
    answer = duckdb.execute((RECIPES / "weights.sql").read_text())
    assert dict(answer.fetchall()) == WANT


def test_pandas_finds_the_same(events: Path) -> None:
    command = [sys.executable, str(RECIPES / "weights.py"), str(events)]
    made = subprocess.run(command, check=True, capture_output=True, text=True).stdout
    assert {
        row["tag.id"].removesuffix(".0"): float(row["weight.kg"]) for row in csv.DictReader(io.StringIO(made))
    } == WANT


def test_the_dashboard_asks_for_figures_that_there_are(tmp_path: Path) -> None:
    """Its queries are PromQL by promtool (Debian's package prometheus), and every name in them is one of ours."""
    dashboard = json.loads((RECIPES / "dashboard.json").read_text())
    queries = [target["expr"] for panel in dashboard["panels"] for target in panel["targets"]]
    assert len(queries) == len(dashboard["panels"]) > 5
    link = {"state": "up", "rejects": {"bad-bytes": 1}}
    status = status_of(
        links={"indicator": link}, outlets={"farm": {"kind": "mqtt"}}, stations={"crush": {"counts": {"animals": 1}}}
    )
    there = set(re.findall(r"^(neckyoke_\w+)\{", write(status, plain=True), re.MULTILINE))
    for query in [*queries, dashboard["templating"]["list"][0]["query"]]:
        names = set(re.findall(r"\b(neckyoke_\w+)(?=[{,)])", query.replace('neckyoke_link_state="up"', "")))
        assert names, query
        assert names <= there, query
    rules = {"groups": [{"name": "dashboard", "rules": []}]}
    for number, query in enumerate(queries):
        rules["groups"][0]["rules"].append({"record": f"query:{number}", "expr": query.replace("$site", ".*")})  # type: ignore[attr-defined]
    path = tmp_path / "rules.yml"
    path.write_text(json.dumps(rules))  # JSON is YAML too
    promtool = shutil.which("promtool") or pytest.fail("promtool is needed: apt-get install prometheus")
    checked = subprocess.run([promtool, "check", "rules", str(path)], capture_output=True, text=True, check=False)
    assert checked.returncode == 0, checked.stderr
