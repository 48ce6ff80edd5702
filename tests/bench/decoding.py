"""Decoding speed, each decoder beside a bare loop of `re.match` and beside `construct`, on the same bytes in one run.

    python tests/bench/decoding.py [FRAMES]

Frames come one at a time, as they do from a wire.  The bare loop does what a script of ten lines would: match one
regular expression, `float` the number; it knows no status, unit, damage or chunks.  The decoder is the whole of it:
framing, layout, status words, unit, reading.  Two streams: `steady` repeats itself as a platform does, and `fresh`
never shows the same frame twice, so that remembering outcomes cannot help.  Contenders take turns, and the processor
time of each one's fastest round counts, so that what else the machine does disturbs little.
"""

import re
import sys
import time
from collections.abc import Callable, Iterable
from itertools import islice
from pathlib import Path

import construct

sys.path.insert(0, str(Path(__file__).parents[2]))

from neckyoke.protocols.decoder import Decoder, scale_decoder, tag_decoder
from neckyoke.protocols.scale.builtin import BUILT_IN
from neckyoke.protocols.tags.telegram import decode_fdxb, decode_hdx
from tests.protocols.spelling import SCALES, TAGS_SHORT, TAGS_WHOLE, Code, Shown, fdxb, hdx
from tests.protocols.streams import crossing

ROUNDS = 10

LEFT = {"sign-weight-status": 1, "sign-weight-flags": 1}
"""Bytes before what the layout's pattern matches: STX."""


def best(*contenders: Callable[[], object]) -> list[float]:
    """Return the processor seconds of each contender's fastest round."""
    fastest = [float("inf")] * len(contenders)
    for _ in range(ROUNDS):
        for number, work in enumerate(contenders):
            begun = time.process_time()
            work()
            fastest[number] = min(fastest[number], time.process_time() - begun)
    return fastest


def feed(make: Callable[[], Decoder], frames: list[bytes]) -> int:
    decoder = make()
    return sum(len(decoder.feed(frame)) for frame in frames)


def bare(pattern: re.Pattern[bytes], left: int, group: str, frames: list[bytes]) -> int:
    count = 0
    match = pattern.match
    for frame in frames:
        found = match(frame, left)
        if found:
            float(found[group])
            count += 1
    return count


LINE = (("", 2),)
FIELDS: dict[str, tuple[tuple[str, int], ...]] = {
    "sign-weight-status": (("", 1), ("number", 8), ("status", 1), ("", 1)),
    "sign-weight-flags": (("", 1), ("number", 8), ("flags", 4), ("unit", 3), ("", 1)),
    "status-mode-weight": (("status", 2), ("", 1), ("mode", 2), ("", 1), ("number", 8), ("unit", 2), *LINE),
    "weight-unit-mark": (("number", 9), ("", 1), ("unit", 2), ("", 1), ("mark", 1), *LINE),
    "weight-nibbles": (("number", 8), ("", 1), ("unit", 2), ("", 1), ("status", 4), *LINE),
    "status-weight": (("status", 1), ("", 1), ("number", 8), ("", 1), ("unit", 2), *LINE),
    "weight-unit-letter": (("number", 8), ("", 1), ("unit", 2), ("", 1), ("status", 1), *LINE),
    "weight-unit": (("number", 8), ("", 1), ("unit", 2), *LINE),
    "weight": (("number", 7), *LINE),
    "gross-tare-net": (("", 1), ("number", 8), ("unit", 2), ("", 2), ("tare", 8), ("", 4), ("net", 8), ("", 2), *LINE),
    "print-block": (("", 6), ("number", 9), ("", 1), ("unit", 2), ("", 8), ("tare", 9), ("", 11), ("net", 9), ("", 7)),
    "weight-xor": (("number", 8), ("unit", 2), ("", 1), ("check", 2), *LINE),
    "weight-sum": (("number", 8), ("unit", 2), ("", 1), ("check", 2), *LINE),
    "weight-crc": (("number", 8), ("unit", 2), ("", 1), ("check", 4), *LINE),
    "fifteen": (("country", 3), ("national", 12), *LINE),
    "three-twelve": (("country", 3), ("", 1), ("national", 12), *LINE),
    "hex-value": (("code", 16), *LINE),
    "fields-spaced": (("flags", 12), ("country", 3), ("", 1), ("national", 12), *LINE),
}
"""Where each shape's fields stand, as a declarative parser wants to know: (name, width), blank names passed over."""

NUMBERS: dict[str, Callable[[bytes], object]] = {
    "number": float,
    "tare": float,
    "net": float,
    "country": int,
    "national": int,
}


def declared(name: str) -> construct.Construct:
    """Tell one shape to `construct`: all its frames, their fields at their places, numbers as numbers."""
    parts = []
    for field, width in FIELDS[name]:
        if not field:
            parts.append(construct.Padding(width))
            continue
        make = NUMBERS.get(field, bytes)
        parts.append(field / construct.ExprAdapter(construct.Bytes(width), lambda text, _, make=make: make(text), None))
    return construct.GreedyRange(construct.Struct(*parts))


HDX = construct.Bitwise(
    construct.Struct(
        "start" / construct.BitsInteger(8),
        "code" / construct.BitsInteger(64),
        "crc" / construct.BitsInteger(16),
        construct.Padding(24),
    )
)
FDXB = construct.Bitwise(
    construct.Struct(
        "header" / construct.BitsInteger(11),
        "blocks" / construct.Array(13, construct.Struct("data" / construct.BitsInteger(8), "one" / construct.Flag)),
    )
)


RATIOS: dict[str, float] = {}


def row(name: str, frames: int, *contenders: Callable[[], object]) -> str:
    ours, plain, other = (seconds / frames * 1e6 for seconds in best(*contenders))
    RATIOS[name] = ours / plain
    return f"{name:28} {ours:8.2f} {plain:8.2f} {other:9.2f} {ours / plain:7.2f} {1e6 / ours:12,.0f}"


def scale_row(kind: str, name: str, shows: list[Shown]) -> str:
    layout = BUILT_IN.get(name, BUILT_IN["status-mode-weight"])
    frames = list(map(SCALES[layout.name], shows))
    stream = b"".join(frames)
    group = "value" if "value" in layout.pattern.groupindex else "gross"
    left = LEFT.get(name, 0)
    pattern = re.compile(layout.pattern.pattern.replace(b"(?P<gross>[+-]? *", b"(?:[+-]? *)(?P<gross>"))
    parser = declared(layout.name)

    def ours() -> int:
        return feed(lambda: scale_decoder(name), frames)

    def plain() -> int:
        return bare(pattern, left, group, frames)

    assert ours() == plain() == len(parser.parse(stream)) == len(shows)
    return row(f"{kind} {name}", len(shows), ours, plain, lambda: parser.parse(stream))


def scales(frames: int) -> Iterable[str]:
    steady = list(islice(crossing(10, frames / 10 + 1, 1), frames))
    fresh = [Shown(number, stable=number % 3 > 0) for number in range(frames)]
    for kind, shows in (("steady", steady), ("fresh", fresh)):
        for name in ("auto", *BUILT_IN):
            yield scale_row(kind, name, shows)


TAG_PATTERNS = {
    "fifteen": rb"([0-9]{3})([0-9]{12})",
    "three-twelve": rb"([0-9]{3}) ([0-9]{12})",
    "hex-value": rb"([0-9A-F]{6})([0-9A-F]{10})",
    "fields-spaced": rb"[01] [0-7] [0-9]{2} [0-9]{2} [01] ([0-9]{3}) ([0-9]{12})",
}


def tag_row(kind: str, name: str, codes: list[Code]) -> str:
    frames = list(map((TAGS_SHORT | TAGS_WHOLE)[name], codes))
    stream = b"".join(frames)
    match = re.compile(TAG_PATTERNS[name]).match
    base = 16 if name.startswith("hex") else 10

    def ours() -> int:
        return feed(tag_decoder, frames)

    def plain() -> int:
        count = 0
        for frame in frames:
            found = match(frame)
            if found:
                int(found[1], base), int(found[2], base)
                count += 1
        return count

    parser = declared(name)
    assert ours() == plain() == len(parser.parse(stream)) == len(codes)
    return row(f"{kind} {name}", len(codes), ours, plain, lambda: parser.parse(stream))


def tags(frames: int) -> Iterable[str]:
    steady = [Code(999, number // 20) for number in range(frames)]
    fresh = [Code(999, number * 2999 + 10**9) for number in range(frames)]
    for kind, codes in (("steady", steady), ("fresh", fresh)):
        for name in TAG_PATTERNS:
            yield tag_row(kind, name, codes)


def telegrams(frames: int) -> Iterable[str]:
    codes = [Code(999, number * 2999 + 10**9) for number in range(frames)]
    fdxbs, hdxs = [fdxb(code) for code in codes], [hdx(code) for code in codes]
    fdxb_match = re.compile("00000000001" + "([01]{8})1" * 13).match
    hdx_match = re.compile("01111110([01]{64})([01]{16})[01]{24}").match
    packed = [int(bits, 2).to_bytes(16, "big") for bits in fdxbs]

    def plain_fdxb() -> None:
        for bits in fdxbs:
            found = fdxb_match(bits)
            if found:
                int("".join(found.groups()[:8])[::-1], 2)

    def plain_hdx() -> None:
        for bits in hdxs:
            found = hdx_match(bits)
            if found:
                int(found[1][::-1], 2)

    yield row(
        "fresh FDX-B",
        frames,
        lambda: [decode_fdxb(bits) for bits in fdxbs],
        plain_fdxb,
        lambda: [FDXB.parse(bits) for bits in packed],
    )
    packed_hdx = [int(bits, 2).to_bytes(14, "big") for bits in hdxs]
    yield row(
        "fresh HDX",
        frames,
        lambda: [decode_hdx(bits) for bits in hdxs],
        plain_hdx,
        lambda: [HDX.parse(bits) for bits in packed_hdx],
    )


def main() -> None:
    frames = int(sys.argv[1]) if len(sys.argv) > 1 else 3000
    print(f"{frames} frames; microseconds a frame (fastest of {ROUNDS} rounds), the last column for the decoder")
    print(f"{'':28} {'decoder':>8} {'bare':>8} {'construct':>9} {'ratio':>7} {'frames/s':>12}")
    for measure in (scales, tags, telegrams):
        for line in measure(frames):
            print(line, flush=True)
    worst = max(RATIOS, key=RATIOS.__getitem__)
    print(f"the slowest beside its bare loop: {worst}, {RATIOS[worst]:.2f} times its time")


if __name__ == "__main__":
    main()
