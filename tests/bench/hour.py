"""One hour of a busy yard, replayed: `python tests/bench/hour.py [--scenario tags-both-missed]`.

36,000 frames of an indicator at 10 Hz, some 6,600 tag reads, some 250 animals.  The replay decodes, weighs, pairs and
spells every event; the baseline, in the same run, only decodes the same capture, line by line, with the same decoders.
Processor time of one core.
"""

import argparse
import sys
import tempfile
import time
from collections import Counter
from itertools import takewhile
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.bridge.capture.format import Bytes
from neckyoke.bridge.capture.read import read_capture
from neckyoke.bridge.commands.replay import replay
from neckyoke.bridge.config.model import Config, load_config
from neckyoke.bridge.site.wires import make_decoders
from neckyoke.simulators.capture import write_capture
from neckyoke.simulators.scenarios import SCENARIOS
from neckyoke.simulators.yard import Yard
from tests.support.daemon import CONFIG

HOUR_S = 3600.0


def decode(capture: Path, config: Config) -> int:
    """Only decode: give how many outcomes there were."""
    decoders = make_decoders(config)
    parts = (part for part in read_capture(capture) if isinstance(part, Bytes))
    return sum(len(decoders[part.link].feed(part.data)) for part in parts)


def main() -> None:
    """Measure and print."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--scenario", default="tags-both-missed", choices=sorted(SCENARIOS))
    args = parser.parse_args()
    with tempfile.TemporaryDirectory(prefix="neckyoke-bench-") as made:
        folder = Path(made)
        wires = {"indicator": "tcp://127.0.0.1:4001", "panel": "tcp://127.0.0.1:4002"}
        (folder / "neckyoke.toml").write_text(CONFIG.format(**wires))
        config = load_config(folder / "neckyoke.toml")
        items = list(takewhile(lambda item: item[0] < HOUR_S, Yard.named(args.scenario, 3, 400).items()))
        write_capture(folder / "hour.jsonl", items, "larkmoor", None)
        began = time.process_time()
        outcomes = decode(folder / "hour.jsonl", config)
        decoded = time.process_time()
        kinds = Counter(event.type for event in replay(read_capture(folder / "hour.jsonl"), config))
        replayed = time.process_time()
    links = Counter(link for _, link, _ in items)
    print(f"{links['indicator']} frames, {links['panel']} tag reads, {outcomes} outcomes, {dict(kinds)}")
    print(f"decoded in {decoded - began:.2f} s, replayed in {replayed - decoded:.2f} s:", end=" ")
    print(f"{(replayed - decoded) / (decoded - began):.1f} times that")


if __name__ == "__main__":
    main()
