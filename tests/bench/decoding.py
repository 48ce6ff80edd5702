"""Decoding speed, each decoder beside a bare loop of `re.match` and beside `construct`, on the same bytes in one run.

    python tests/bench/decoding.py [FRAMES]

The bare loop does what a script of ten lines would: split at the line ends, match one regular expression, `float` the
number; it knows no status, unit, damage or chunks.  The decoder is the whole of it, fed 1024 bytes at a time: framing,
layout, status words, unit, reading.  Two streams: `steady` repeats itself as a platform does, and `fresh` never shows
the same frame twice, so that remembering outcomes cannot help.  The best of five rounds counts.
"""

import re
import sys
import time
from collections.abc import Callable, Iterable
from itertools import islice

import construct

from protocols.decoder import Decoder, scale_decoder, tag_decoder
from protocols.layouts import BUILT_IN
from protocols.telegram import decode_fdxb, decode_hdx
from tests.protocols.spelling import SCALES, TAGS_SHORT, TAGS_WHOLE, Code, Shown, fdxb, hdx
from tests.protocols.streams import crossing

CHUNK = 1024
ROUNDS = 5

ENDS = {"sign-weight-status": b"\x03", "sign-weight-flags": b"\x03", "print-block": b"\r\n\r\n"}
LEFT = {"sign-weight-status": 1, "sign-weight-flags": 1}
"""Bytes before what the layout's pattern matches: STX."""


def best(work: Callable[[], object]) -> float:
    """Seconds of the fastest round."""
    took = []
    for _ in range(ROUNDS):
        begun = time.perf_counter()
        work()
        took.append(time.perf_counter() - begun)
    return min(took)


def feed(make: Callable[[], Decoder], stream: bytes) -> int:
    decoder = make()
    return sum(len(decoder.feed(stream[at : at + CHUNK])) for at in range(0, len(stream), CHUNK))


def bare(pattern: re.Pattern[bytes], end: bytes, left: int, group: str, stream: bytes) -> int:
    count = 0
    match = pattern.match
    for line in stream.split(end):
        found = match(line, left)
        if found:
            float(found[group])
            count += 1
    return count


def parser(name: str) -> construct.Construct | None:
    """One shape told to `construct`: a line, its fields at their places."""
    if name not in {"status-mode-weight", "auto"}:
        return None
    return construct.GreedyRange(
        construct.Struct(
            "status" / construct.Bytes(2),
            construct.Const(b","),
            "mode" / construct.Bytes(2),
            construct.Const(b","),
            "number" / construct.ExprAdapter(construct.Bytes(8), lambda text, _: float(text), lambda number, _: number),
            "unit" / construct.Bytes(2),
            construct.Const(b"\r\n"),
        )
    )


FDXB = construct.Bitwise(
    construct.Struct(
        "header" / construct.BitsInteger(11),
        "blocks" / construct.Array(13, construct.Struct("data" / construct.BitsInteger(8), "one" / construct.Flag)),
    )
)


def row(name: str, frames: int, ours: float, plain: float, other: float | None) -> str:
    beside = f"{other / frames * 1e6:9.2f}" if other else "        -"
    return (
        f"{name:28} {ours / frames * 1e6:8.2f} {plain / frames * 1e6:8.2f} {beside} {ours / plain:7.2f}"
        f" {frames / ours:12,.0f}"
    )


def scales(frames: int) -> Iterable[str]:
    steady = list(islice(crossing(10, frames / 10 + 1, 1), frames))
    fresh = [Shown(number, stable=number % 3 > 0) for number in range(frames)]
    for kind, shows in (("steady", steady), ("fresh", fresh)):
        for name in ("auto", *BUILT_IN):
            spell = SCALES.get(name, SCALES["status-mode-weight"])
            layout = BUILT_IN.get(name, BUILT_IN["status-mode-weight"])
            stream = b"".join(map(spell, shows))
            group = "value" if "value" in layout.pattern.groupindex else "gross"
            ends, left = ENDS.get(name, b"\r\n"), LEFT.get(name, 0)
            pattern = re.compile(layout.pattern.pattern.replace(b"(?P<gross>[+-]? *", b"(?:[+-]? *)(?P<gross>"))
            assert feed(lambda name=name: scale_decoder(name), stream) == frames  # type: ignore[misc]
            assert bare(pattern, ends, left, group, stream) == frames, name
            ours = best(lambda name=name, stream=stream: feed(lambda: scale_decoder(name), stream))  # type: ignore[misc]
            plain = best(lambda: bare(pattern, ends, left, group, stream))  # noqa: B023
            declared = parser(name)
            other = best(lambda: declared.parse(stream)) if declared else None  # noqa: B023
            yield row(f"{kind} {name}", frames, ours, plain, other)


def tags(frames: int) -> Iterable[str]:
    steady = [Code(999, number // 20) for number in range(frames)]
    fresh = [Code(999, number * 2999 + 10**9) for number in range(frames)]
    patterns = {
        "fifteen": rb"([0-9]{15})",
        "three-twelve": rb"([0-9]{3}) ([0-9]{12})",
        "hex-value": rb"([0-9A-F]{16})",
        "fields-spaced": rb"([01]) ([0-7]) ([0-9]{2}) ([0-9]{2}) ([01]) ([0-9]{3}) ([0-9]{12})",
    }
    for kind, codes in (("steady", steady), ("fresh", fresh)):
        for name, pattern in patterns.items():
            stream = b"".join(map((TAGS_SHORT | TAGS_WHOLE)[name], codes))
            match = re.compile(pattern).match

            def plain(stream: bytes = stream, match: Callable[[bytes], object] = match) -> int:
                return sum(match(line) is not None for line in stream.split(b"\r\n"))

            assert feed(tag_decoder, stream) == plain() == frames
            yield row(f"{kind} {name}", frames, best(lambda stream=stream: feed(tag_decoder, stream)), best(plain), None)  # type: ignore[misc]


def telegrams(frames: int) -> Iterable[str]:
    codes = [Code(999, number * 2999 + 10**9) for number in range(frames)]
    fdxbs, hdxs = [fdxb(code) for code in codes], [hdx(code) for code in codes]
    fdxb_match, hdx_match = re.compile(r"0{10}1(?:[01]{8}1){13}").match, re.compile(r"01111110[01]{104}").match
    packed = [int(bits, 2).to_bytes(16, "big") for bits in fdxbs]
    ours = best(lambda: [decode_fdxb(bits) for bits in fdxbs])
    yield row("fresh FDX-B", frames, ours, best(lambda: [fdxb_match(bits) for bits in fdxbs]), best(lambda: [FDXB.parse(bits) for bits in packed]))
    yield row("fresh HDX", frames, best(lambda: [decode_hdx(bits) for bits in hdxs]), best(lambda: [hdx_match(bits) for bits in hdxs]), None)


def main() -> None:
    frames = int(sys.argv[1]) if len(sys.argv) > 1 else 5000
    print(f"{frames} frames; microseconds a frame (best of {ROUNDS} rounds)")
    print(f"{'':28} {'decoder':>8} {'bare':>8} {'construct':>9} {'ratio':>7} {'frames/s':>12}")
    for measure in (scales, tags, telegrams):
        for line in measure(frames):
            print(line, flush=True)


if __name__ == "__main__":
    main()
