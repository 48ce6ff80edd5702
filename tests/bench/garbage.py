"""Random bytes over every decoder: none raises, none keeps more than a frame, and what it costs.

    python tests/bench/garbage.py [--bytes 1000000000] [--seed 1] [-j 2]

The bytes are shared out among all decoders: every built-in layout, the free-form one, layouts of one's own, and readers
in each way of spelling.  A third is purely random; a third is random over the characters that devices use; a third is
frames as devices send them, with a byte here and there cut, changed or doubled.  Seconds of processor time beside the
bytes' own length in a bare `bytes.split` over the same stream.
"""

import argparse
import gc
import random
import sys
import time
import tracemalloc
from collections import Counter
from collections.abc import Iterator
from concurrent.futures import ProcessPoolExecutor
from itertools import repeat
from pathlib import Path

sys.path.insert(0, str(Path(__file__).parents[2]))

from tests.laws.test_decoder_laws import MAKERS
from tests.protocols.spelling import SCALES, TAGS_SHORT, TAGS_WHOLE, Code, Shown

CHUNK = 4096
USED = b"0123456789+-.,;:=* \r\n\x02\x03ABCDEFGKLMNOSTUZgkblt#\x0c"


def whole_frames(rng: random.Random) -> bytes:
    """Spell some frames as devices do."""
    parts = [spell(Shown(rng.randrange(-999, 9999), stable=rng.random() < 0.5)) for spell in SCALES.values()]
    parts += [spell(Code(999, rng.randrange(2**38))) for spell in (*TAGS_SHORT.values(), *TAGS_WHOLE.values())]
    rng.shuffle(parts)
    return b"".join(parts)


def damaged(frames: bytes, rng: random.Random) -> bytes:
    """Cut, change or double a byte here and there."""
    made = bytearray(frames)
    for _ in range(rng.randrange(1, 40)):
        at = rng.randrange(len(made))
        made[at : at + rng.randrange(2)] = rng.choice((b"", made[at : at + 1] * 2, bytes([rng.randrange(256)])))
    return bytes(made)


def chunks(count: int, rng: random.Random) -> Iterator[bytes]:
    """Yield about so many bytes."""
    given = 0
    while given < count:
        kind = rng.randrange(3)
        if kind == 0:
            piece = rng.randbytes(CHUNK)
        elif kind == 1:
            piece = rng.randbytes(CHUNK).translate(bytes(USED[code % len(USED)] for code in range(256)))
        else:
            piece = damaged(whole_frames(rng), rng)[:CHUNK]
        given += len(piece)
        yield piece


def feed(name: str, count: int, seed: int) -> tuple[str, int, Counter[str], float, float, int]:
    """Feed one decoder: its name, bytes fed, what came, seconds, those of a bare split, and bytes kept at the end."""
    rng = random.Random(f"{seed} {name}")
    decoder = MAKERS[name]()
    came, given, ours, bare = Counter[str](), 0, 0.0, 0.0
    for piece in chunks(count, rng):
        began = time.thread_time()
        outcomes = decoder.feed(piece)
        ours += time.thread_time() - began
        began = time.thread_time()
        piece.split(b"\n")
        bare += time.thread_time() - began
        given += len(piece)
        came.update(type(outcome).__name__ for outcome in outcomes)
    gc.collect()
    tracemalloc.start()
    before = tracemalloc.get_traced_memory()[0]
    for piece in chunks(64 * CHUNK, rng):
        decoder.feed(piece)
    gc.collect()
    kept = tracemalloc.get_traced_memory()[0] - before
    tracemalloc.stop()
    return name, given, came, ours, bare, kept


def main() -> None:
    """Feed all and print a line each; an exception of a decoder ends it."""
    parser = argparse.ArgumentParser(description=(__doc__ or "").splitlines()[0])
    parser.add_argument("--bytes", type=int, default=30_000_000, help="over all decoders")
    parser.add_argument("--seed", type=int, default=1)
    parser.add_argument("-j", type=int, default=1, help="processes")
    args = parser.parse_args()
    names = sorted(MAKERS)
    total, most = 0, 0
    with ProcessPoolExecutor(args.j) as pool:
        for name, given, came, ours, bare, kept in pool.map(
            feed, names, repeat(args.bytes // len(names)), repeat(args.seed)
        ):
            total, most = total + given, max(most, kept)
            share = f"{given / ours / 1e6:5.1f} MB/s, {ours / bare:6.0f} times a bare split"
            print(f"{name:20} {given:12,} bytes  {dict(sorted(came.items()))}  {share}, keeps {kept:,}", flush=True)
    print(
        f"{total:,} bytes over {len(names)} decoders, none raised; the most kept over a further 256 kB: {most:,} bytes"
    )


if __name__ == "__main__":
    main()
