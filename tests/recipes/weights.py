"""The newest weight of each animal, read from an events file with pandas: python3 weights.py events.jsonl."""

import json
import sys
from pathlib import Path

import pandas as pd

events = [json.loads(line) for line in Path(sys.argv[1]).read_text(encoding="utf-8").splitlines()]
frame = pd.json_normalize([event["data"] for event in events if event["type"] == "neckyoke.weighing"])
frame = frame.sort_values("revision").drop_duplicates("weighing", keep="last")  # the highest revision is the truth
counts = frame["weight.grade"].isin(["good", "fair"]) & ~frame["flags"].map(lambda flags: "voided" in flags)
weights = frame[counts & frame["tag.id"].notna()].sort_values("settled").groupby("tag.id")["weight.kg"].last()
print(weights.to_csv(), end="")
