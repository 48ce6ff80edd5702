"""`neckyoke listen URL`: show what a device sends, and find out by itself how to read it."""

import argparse
import asyncio
import io
import json
import sys
from datetime import UTC, datetime
from pathlib import Path

from neckyoke.bridge.capture.format import Bytes, Header, spell_header, spell_record
from neckyoke.bridge.config.model import Poll
from neckyoke.bridge.config.problems import ConfigError, problems_of
from neckyoke.bridge.links.listen import Chunk, Ended, Frame, Listened, Step, Tell, Tried, judge, listen
from neckyoke.bridge.links.wires.link import LinkTrouble
from neckyoke.bridge.telling.progress import Progress
from neckyoke.protocols.readings import Reject, TagRead, WeightReading
from neckyoke.protocols.recognise import Finding, Sure
from neckyoke.protocols.recognition.finding import Word
from neckyoke.protocols.scale.status import Meaning

SURE = {
    Sure.SURE: "This is sure:",
    Sure.LIKELY: "This is likely; see what to check:",
    Sure.UNSURE: "This is NOT sure; take it as a first guess:",
}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("url", help="a link, such as serial:/dev/ttyUSB0, tcp://HOST:PORT or ble:ADDRESS")
    parser.add_argument("--seconds", type=float, default=20.0, help="how long to listen (20)")
    parser.add_argument(
        "--send", metavar="TEXT", help=r"ask the device again and again, with TEXT such as W\r\n or \x05"
    )
    parser.add_argument("--every", type=float, default=0.5, metavar="S", help="how often it is asked (0.5 s)")
    parser.add_argument("--bytes", action="store_true", help="show the bytes as they come, not only whole frames")
    parser.add_argument("--json", action="store_true", help="only what was found out, for a program")
    parser.add_argument("--quiet", action="store_true", help="show only what was found out")
    parser.add_argument("--save", type=Path, metavar="FILE", help="keep what comes as a capture (.jsonl)")


def run(args: argparse.Namespace) -> int:
    """Listen, show, and say what it is."""
    poll = _poll(args)
    chunks: list[Chunk] = []
    quiet = args.quiet or args.json
    progress = Progress("listening", None if quiet else io.StringIO())  # what comes says enough of how it goes
    screen = _Screen(bytes_too=args.bytes, quiet=quiet, silent=args.json)

    def tell(said: Step) -> None:
        if isinstance(said, Chunk):
            chunks.append(said)
        screen.show(said)

    if not args.json:
        print(
            f"Listening to {args.url}.  Step on the platform, or show the reader a tag, every few seconds.", flush=True
        )
    started = datetime.now(UTC)
    try:
        heard = asyncio.run(_listen(args, tell, poll, progress))
    except KeyboardInterrupt:  # heard enough
        heard = judge(args.url, b"".join(chunk.data for chunk in chunks))
    except (LinkTrouble, ValueError) as error:
        print(error, file=sys.stderr)
        return 2 if isinstance(error, ValueError) else 1
    if args.save:
        save(args.save, started, chunks)
    if args.json:
        print(json.dumps(found_json(heard, poll), indent=2))
        return 0 if heard.finding.frames else 1
    if args.save:
        print(f"\nKept in {args.save}: {len(chunks)} records.")
    print("\n" + found_text(heard, poll))
    return 0 if heard.finding.frames else 1


async def _listen(args: argparse.Namespace, tell: Tell, poll: Poll | None, progress: Progress) -> Listened:
    return await progress.while_waiting(listen(args.url, args.seconds, tell, poll), args.seconds)


def save(file: Path, started: datetime, chunks: list[Chunk]) -> None:
    """Write what came as a capture of one link, called `device`."""
    lines = [spell_header(Header(started, "listen"))]
    lines += [spell_record(Bytes(chunk.t, "device", chunk.data)) for chunk in chunks]
    file.write_text("".join(json.dumps(line, separators=(",", ":")) + "\n" for line in lines), encoding="ascii")


class _Screen:
    """Prints what comes; a frame that says the same as the one before it is counted instead."""

    def __init__(self, *, bytes_too: bool, quiet: bool, silent: bool = False) -> None:
        self._silent = silent
        self._bytes_too = bytes_too and not quiet
        self._quiet = quiet
        self._last = b""
        self._again = 0

    def show(self, said: Step) -> None:
        """Print one thing."""
        if self._silent:
            return
        match said:
            case Tried():
                print(f"  {said.speed:>6} baud: {said.heard} bytes, {said.score:.0%} readable", flush=True)
            case Ended():
                print(f"  the link was lost: {said.text}")
            case Chunk() if self._bytes_too:
                print(f"{said.t:8.3f}  {said.data!r}", flush=True)
            case Frame() if not self._quiet:
                self._frame(said)

    def _frame(self, said: Frame) -> None:
        if said.frame == self._last and not self._bytes_too:
            self._again += 1
            return
        if self._again:
            print(f"          and {self._again} times more")
        self._last, self._again = said.frame, 0
        print(f"{said.t:8.3f}  {said.frame.decode('latin-1')!r:40} {outcome_text(said)}", flush=True)


def _poll(args: argparse.Namespace) -> Poll | None:
    """Make what the configuration would say of asking the device.  Raises ConfigError."""
    if args.send is None:
        return None
    table = {"send": args.send, "every_s": args.every}
    if problems := problems_of(Poll, table, Path("listen")):
        raise ConfigError(problems)
    return Poll.model_validate(table)


def outcome_text(said: Frame) -> str:
    """Return in a few words what a frame was read as."""
    match said.outcome:
        case TagRead(code):
            return f"tag {code}"
        case WeightReading() as reading:
            weight = f"{reading.value} {reading.unit}" if reading.value is not None else str(reading.condition)
            steady = {True: " stable", False: " moving", None: ""}[reading.stable]
            return f"weight {weight}{steady}"
        case Reject(reason, _):
            return f"not read: {reason}"


def found_json(heard: Listened, poll: Poll | None = None) -> dict[str, object]:
    """Return the same for a program: what it is, how sure, why, what to check, and the lines to write."""
    finding = heard.finding
    said = {"url": heard.url, "kind": finding.kind.value, "sure": finding.sure.value, "frames": finding.frames}
    grounds = {"why": list(finding.why), "doubts": list(finding.doubts), "layout": finding.layout}
    return {**said, **grounds, "toml": _toml(heard, poll) if finding.frames else []}


def _toml(heard: Listened, poll: Poll | None) -> list[str]:
    lines = heard.finding.toml(str(heard.finding.kind), heard.url).splitlines()
    if poll:
        lines.insert(2, f"poll = {{ send = '{poll.send}', every_s = {poll.every_s} }}")
    return lines


def found_text(heard: Listened, poll: Poll | None = None) -> str:
    """Return what was found, why, what to check, and what to write."""
    finding = heard.finding
    lines = [SURE[finding.sure], f"  a {finding.kind}" if finding.frames else "  nothing that could be read"]
    lines += [f"  {reason}" for reason in finding.why]
    lines += _columns(finding)
    lines += [f"  Check: {doubt}" for doubt in finding.doubts]
    if finding.frames:
        lines += ["", "Write in the configuration:", "", *_toml(heard, poll)]
    return "\n".join(lines)


def _columns(finding: Finding) -> list[str]:
    """Show where number, unit and status stand in a frame, and what the status words mean."""
    if not finding.parts:
        return []
    lines = [f"  A frame: {finding.example.decode('latin-1')!r}"]
    lines += [f"    columns {part.start}-{part.end - 1}: {part.name} {part.text!r}" for part in finding.parts]
    return lines + [f"    {_word(word)}, in {word.frames} frames" for word in finding.words]


def _word(word: Word) -> str:
    meaning = "is ignored" if word.meaning == Meaning.IGNORED else f"means {word.meaning}"
    return f"{word.where} {repr(word.text) if word.text else 'left blank'} {meaning}"
