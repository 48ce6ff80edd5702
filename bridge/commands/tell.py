"""`neckyoke tell`: ask something of the running daemon, as a person at the crush would."""

import argparse
import asyncio
import base64
import json
import re
import sys
import tomllib
from pathlib import Path
from typing import Any

from neckyoke.bridge.asking.requests import Refusal, parse_request
from neckyoke.bridge.commands.daemon import add_daemon, socket_of
from neckyoke.bridge.config.model import load_config

KINDS = {
    "zero": "take what the platform shows now, empty and quiet, as its zero",
    "note": "put a note on the animal standing now, or the last one",
    "identify": "say which tag it has (or --visual), or that it has none",
    "correct": "put another tag on an earlier weighing (with --number or --weighing)",
    "void": "strike a weighing out (--given, --not-given: whether its doses were given)",
    "skip": "say that a treatment was not given (--given: that it was after all)",
    "give": "say that a treatment was given after all",
    "dose": "say that another amount was given (--amount), or from another batch (--batch)",
    "batch": "use another batch from the next animal on (--batch, --expires), or another product (--product)",
    "finding": "say what was seen: its name, then =, then the value",
    "retag": "say that a tag takes the place of an animal's (--visual, or --was its old tag)",
    "name": "say an animal's visual number (--tag, or --was its old number), --sex, --born, --dam",
    "mark": "put a mark on an animal, to be looked out for (--visual or --tag; --from, --until)",
    "unmark": "take a mark off, by its words; without words, all",
    "merge": "say that two are one animal: the other's tag or number (--visual or --tag of the one that stays)",
    "split": "say that two that were made one are two",
    "reply": "reply to what was asked: a choice, or its beginning",
    "begin": "begin a job: under this sheet, the one named last, or none (--bare)",
    "pause": "count nothing from now on: a person on the platform is no animal",
    "resume": "go on with the paused job, or one that has ended; --from counts in from a number on",
    "end": "end the job",
    "keep": "keep a job sheet on the box, where the page lists it; one of the same title is replaced",
    "sheet": "take a job sheet from the next animal on, or read the present one again",
    "undo": "take back what was told last, or what is named",
    "reload": "take over what has changed in the configuration and its sheets",
}

VALUE = {
    "note": "text",
    "identify": "tag",
    "correct": "tag",
    "void": "reason",
    "skip": "treatment",
    "give": "treatment",
    "dose": "treatment",
    "batch": "treatment",
    "sheet": "file",
    "begin": "file",
    "keep": "file",
    "resume": "job",
    "pause": "why",
    "undo": "asked",
    "retag": "tag",
    "name": "visual",
    "mark": "text",
    "unmark": "text",
    "merge": "other",
    "split": "other",
    "reply": "choice",
}
"""Which key of the request the words after the kind fill."""

TREATMENT = "the treatment's name"
LACKING = {
    "note": ("what to note", "lame, near hind"),
    "skip": (TREATMENT, "oral drench"),
    "give": (TREATMENT, "oral drench"),
    "dose": (TREATMENT, "oral drench --amount 40"),
    "batch": (TREATMENT, "oral drench --batch B8"),
    "keep": ("the path of a job sheet", "sheet.toml"),
    "retag": ("the new tag's 15 digits", "999 000000112233 --visual 105"),
    "mark": ("what to look out for", "keep back --visual 105"),
    "merge": ("the other's tag or number", "999 000000112233 --visual 105"),
    "reply": ("what you choose, or its beginning", "new"),
}
"""What must stand behind the kind: what it is, and an example."""

OPTIONS = (
    *("station", "number", "job", "to", "weighing", "visual", "amount", "batch", "expires", "product"),
    *("tag", "animal", "was", "begins", "until", "sex", "born", "dam", "question"),
)
"""Options that are keys of a request, but for those in `KEYS`."""

KEYS = {"begins": "from", "number": "job_number"}
"""Options that are other keys of a request."""
NUMBER = re.compile(r"[A-Za-z]{0,3}[ -]?[0-9]{1,8}")
"""A number on an ear, not a tag's."""


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.epilog = "what to tell:\n" + "\n".join(f"  {kind:9} {text}" for kind, text in KINDS.items())
    parser.add_argument("kind", choices=KINDS, metavar="WHAT", help="see below")
    parser.add_argument("words", nargs="*", default=[], help="the note's text, the tag's digits, a treatment, …")
    parser.add_argument("--station", help="which station, when there are several")
    parser.add_argument("--number", type=int, help="which weighing, by its number in the job")
    parser.add_argument("--to", type=int, help="with dose and skip: all from --number up to this one")
    parser.add_argument("--job", help="which job: its number or id; without it the open, or the last one")
    parser.add_argument("--weighing", help="which weighing, by its id")
    parser.add_argument("--visual", help="the visual number on the animal's ear")
    parser.add_argument("--amount", type=float, help="with dose: how much, in the treatment's unit")
    parser.add_argument("--batch", help="with dose: which batch")
    parser.add_argument("--bare", action="store_true", help="with begin: under no sheet")
    parser.add_argument("--yes", action="store_true", help="the animal that has left is meant")
    parser.add_argument("--expires", metavar="DATE", help="with batch: the last day on which it may be used")
    parser.add_argument("--product", help="with batch: another product takes the treatment's place")
    parser.add_argument(
        "--given", action="store_true", help="with skip: it was given after all; with void: its doses were given"
    )
    parser.add_argument("--not-given", action="store_true", help="with void: none of its doses was given")
    herd = parser.add_argument_group("of the animals that the box knows")
    herd.add_argument("--tag", help="the animal with this tag")
    herd.add_argument("--animal", help="the animal with this id in the herd book")
    herd.add_argument("--was", help="the tag, or the number, that it had")
    herd.add_argument("--from", dest="begins", metavar="DATE|N", help="with mark: the first day; with resume: a number")
    herd.add_argument("--until", metavar="DATE", help="with mark: the last day")
    herd.add_argument("--sex", help="with name: steer, heifer, …")
    herd.add_argument("--born", metavar="DATE", help="with name: the date of its birth")
    herd.add_argument("--dam", help="with name: its dam")
    herd.add_argument("--question", help="with reply: which question, when there are several")
    parser.add_argument("--json", action="store_true", help="the answer as a program takes it")
    add_daemon(parser)


def request_of(args: argparse.Namespace, folder: Path) -> dict[str, Any]:
    """Make the request.  Raises ValueError saying what is wrong with what was typed."""
    if args.kind in LACKING and not " ".join(args.words).strip():
        what, example = LACKING[args.kind]
        raise ValueError(f"write {what}, as in: neckyoke tell {args.kind} {example}")
    request: dict[str, Any] = {"kind": "skip", "given": True} if args.kind == "give" else {"kind": args.kind}
    if args.kind == "finding":
        request |= _finding(" ".join(args.words))
    elif args.words:
        key = VALUE.get(args.kind)
        if key is None:
            raise ValueError(f"{args.kind} takes no words")
        request[key] = " ".join(args.words)
    request = _with_sheet(request, folder)
    for option in OPTIONS:
        if (value := getattr(args, option)) is not None:
            request[KEYS.get(option, option)] = value
    request |= {option: True for option in ("given", "bare", "yes") if getattr(args, option)}
    request |= {"given": False} if args.not_given else {}
    if args.kind == "resume" and str(request.get("from", "")).isdecimal():
        request["from"] = int(request["from"])
    if VALUE.get(args.kind) == "tag" and args.words and NUMBER.fullmatch(word := " ".join(args.words)):
        raise ValueError(f"{word} is too short for a tag.  The number on the ear is told so: --visual {word}")
    if isinstance(read := parse_request(request), Refusal):
        raise ValueError(read.text)  # noqa: TRY004 -- as all that is wrong with what was typed
    return request


def _finding(text: str) -> dict[str, Any]:
    """Read `condition = 3`; several values are apart by commas, and `condition =` takes it back."""
    name, sign, value = text.partition("=")
    if not sign or not name.strip():
        raise ValueError("write the finding's name, = and the value, as in: neckyoke tell finding condition = 3")
    parts = [part.strip() for part in value.split(",") if part.strip()]
    return {"name": name.strip(), "value": parts[0] if len(parts) == 1 else parts or None}


def _with_sheet(request: dict[str, Any], folder: Path) -> dict[str, Any]:
    """Bring the sheet along that a request names."""
    if request["kind"] == "keep":
        brought = _content(Path(request.get("file", "")), folder)
        if "text" not in brought:
            raise ValueError(f"{brought['file']} cannot be read: run it with sudo")
        return {"kind": "sheet-save", **{key: value for key, value in brought.items() if key != "file"}}
    if request["kind"] in {"sheet", "begin"} and "file" in request:
        return request | _content(Path(request["file"]), folder)
    return request


def _content(sheet: Path, folder: Path) -> dict[str, Any]:
    """Bring a sheet and its roster along: the daemon checks and keeps them.  One that only it can read is named."""
    found = next((path for path in (sheet, folder / sheet) if path.is_file()), None)
    if found is None and sheet.parts[:1] == ("sheets",):
        return {"file": str(sheet)}  # one that the box keeps
    if found is None:
        raise ValueError(f"{sheet} is neither here nor in {folder}: give the path of a job sheet")
    try:
        text = found.read_text(encoding="utf-8-sig")
    except UnicodeDecodeError:
        raise ValueError(f"{found} is not UTF-8 text: save it as UTF-8") from None
    except PermissionError:
        return {"file": str(found.relative_to(folder)) if found.is_relative_to(folder) else str(found)}
    brought: dict[str, Any] = {"file": found.name, "text": text}
    roster = _roster_of(found)
    if roster is not None:
        brought |= {"roster": base64.b64encode(roster.read_bytes()).decode(), "roster_name": roster.name}
    return brought


def _roster_of(sheet: Path) -> Path | None:
    """Return where the roster lies that a sheet names; what is wrong with the sheet is the daemon's to say."""
    try:
        named = tomllib.loads(sheet.read_text(encoding="utf-8-sig")).get("roster")
    except ValueError:
        return None
    path = sheet.parent / named if isinstance(named, str) else None
    return path if path is not None and path.is_file() else None


def _replaced(request: dict[str, Any], listed: dict[str, Any]) -> dict[str, Any]:
    """Name the sheet of the box's own with the same title, if there is one, as it is now."""
    try:
        title = tomllib.loads(request["text"]).get("title")
    except ValueError:
        return {}
    sheets = (listed.get("sheet") or {}).get("sheets", [])
    found = [one for one in sheets if one["title"] == title and one["file"].startswith("sheets/")]
    return {"file": found[0]["file"], "was": found[0]["digest"]} if found else {}


def run(args: argparse.Namespace) -> int:
    """Ask, and say what was answered."""
    from neckyoke.bridge.asking.socket import ControlError, ask

    config = load_config(args.config)
    try:
        request = request_of(args, config.folder)
        if args.kind == "keep":
            request |= _replaced(request, asyncio.run(ask(socket_of(args, config), {"kind": "sheets"})))
        answer = asyncio.run(ask(socket_of(args, config), request))
    except (ControlError, ValueError) as error:
        print(error, file=sys.stderr)
        return 1
    if args.json:
        print(json.dumps(answer, indent=2))
        return 0 if answer["done"] else 1
    print(answer["text"], file=sys.stdout if answer["done"] else sys.stderr)
    if (question := answer.get("question")) is not None:
        print(
            "\n".join(f"  neckyoke tell reply '{choice}' --question {question['id']}" for choice in question["choices"])
        )
    return 0 if answer["done"] else 1
