"""`neckyoke replay`: what the daemon would have made of a capture."""

import argparse
import json
import sqlite3
import sys
from collections.abc import Iterator
from datetime import date, datetime, timedelta
from pathlib import Path

from neckyoke.bridge.asking.requests import Refusal, parse_request
from neckyoke.bridge.capture.format import Asked, Bytes, CaptureError, LinkChange, read_memory
from neckyoke.bridge.capture.read import Capture, read_capture, read_runs
from neckyoke.bridge.commands.daemon import add_config
from neckyoke.bridge.config.model import Config, load_config
from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.events import Animal, Clock, Event, Flag, Stamp, Weighing, read_event
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.herd.keeper import Keeper
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.find import FoundSheets
from neckyoke.bridge.job.past import Past, by_tag
from neckyoke.bridge.journal.reading import StoreError, read_only
from neckyoke.bridge.site.site import Site
from neckyoke.bridge.site.station_jobs import StationJobs
from neckyoke.bridge.station.explain import fold, sum_up
from neckyoke.bridge.telling.progress import Progress


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.add_argument("capture", type=Path, nargs="+", help="a capture, its parts in order, or the folder of a ring")
    add_config(parser)
    parser.add_argument("--out", "-o", type=Path, help="where the events go; standard output without it")
    parser.add_argument("--journal", type=Path, help="a journal, for the gains, withholding and weighings it knows of")
    parser.add_argument("--json", action="store_true", help="with --explain: for a program (events are JSON already)")
    parser.add_argument("--explain", metavar="WEIGHING", help="say why a weighing came out as it did: its id or number")


def run(args: argparse.Namespace) -> int:
    """Replay and write one event a line."""
    config = load_config(args.config)
    try:
        if args.explain is not None:
            return _explain(args, config)
        capture = read_capture(*args.capture)
        lines = (event.to_json() + "\n" for event in replay(capture, config, args.journal))
        if args.out is None:
            sys.stdout.writelines(lines)
        else:
            with args.out.open("w", encoding="utf-8") as out:
                out.writelines(Progress("events").along(lines))
    except CaptureError as error:
        print(error, file=sys.stderr)
        return 1
    for note in capture.notes:
        print(f"note: {note}", file=sys.stderr)
    return 0


def _explain(args: argparse.Namespace, config: Config) -> int:
    """Print why a weighing came out as it did; of a ring, search every run, the newest first."""
    ring = args.capture[0] if len(args.capture) == 1 and args.capture[0].is_dir() else None
    runs = read_runs(ring) if ring else [read_capture(*args.capture)]
    journal = args.journal or config.state_path(config.journal.path)
    for run in runs:
        past, keeper = known_of(args.journal, config, run.header.started, run.header.herd)
        other = _other_book(run, keeper)
        pages = [*_pages(run, site_for(run, config, past, keeper), args.explain, journal)]
        if pages and other is not None:
            print(f"note: {other}", file=sys.stderr)
        for page in () if args.json else pages:
            print("\n".join(page))
        if pages and args.json:
            print(json.dumps({"weighing": args.explain, "run": _spell(run), "pages": pages}, indent=2))
        elif pages and len(runs) > 1:
            print("\n".join(fold(f"In the run begun {_spell(run)}, one of {len(runs)} in {ring}.")))
        if pages:
            return 0
    where = f"None of the {len(runs)} runs in {ring}, since {_spell(runs[-1])}," if len(runs) > 1 else "Nothing here"
    told = _published(args.explain, journal)
    hint = "Give its id, or its number such as 17."
    if told is not None:
        hint = f"It was published: {sum_up(told)}.  What the devices sent then was not recorded, or is too old."
    print(f"{where} has a weighing {args.explain}.  {hint}", file=sys.stderr)
    return 1


def _pages(run: Capture, site: Site, which: str, journal: Path) -> Iterator[list[str]]:
    """Yield the page of the weighing of that id or number, of each station that has one."""
    for station in site.stations.values():
        station.keep_traces()
    found: dict[str, Weighing] = {}
    for event in Progress("events").along(events_of(run, site)):
        if isinstance(event.data, Weighing) and which in {event.data.weighing, str(event.data.number)}:
            found[event.data.station] = event.data
    for name, weighing in found.items():
        page = site.stations[name].explain(weighing.weighing)
        assert page is not None, "it was traced"
        if Flag.INTERRUPTED in weighing.flags:
            told = _published(weighing.weighing, journal)
            said = f"published: {sum_up(told)}" if told else "what was published may differ"
            page[page.index("") : 0] = fold(f"The capture ends while it stood there; {said}.")
        yield page


def _published(which: str, journal: Path) -> Weighing | None:
    """Return the latest weighing of that id or number in a journal; None when that has none, or cannot be looked at."""
    needle = f'"number":{which},' if which.isdecimal() else which
    last = None
    try:
        with read_only(journal) as reading:
            for body in reading.latest():
                last = body if needle in body else last
    except (StoreError, sqlite3.Error):
        return None
    data = read_event(last).data if last else None
    return data if isinstance(data, Weighing) and which in {data.weighing, str(data.number)} else None


def _spell(run: Capture) -> str:
    return f"{run.header.started:%Y-%m-%d %H:%M:%S} UTC"


def known_of(journal: Path | None, config: Config, started: datetime, herd: str | None = None) -> tuple[Past, Keeper]:
    """Read from a journal what was known of each animal when a capture began: its past, and the herd book.

    `herd` is the digest of the book as it was then: the journal's book is taken as of when it had that, or where it
    never had, as of `started`.
    """
    book = Book()
    keeper = Keeper(config.site, book, today=lambda moment: moment.astimezone(config.zone).date())
    past = Past(lambda data: _owner(book, data), book.group)
    if journal is None:
        return past, keeper
    try:
        with read_only(journal) as reading:
            events = [read_event(body) for body in reading.herd.events()]
            same = _folded(events, herd)
            for event in events if same is None else same:
                if isinstance(event.data, Animal) and (same is not None or event.time < started):
                    book.fold(event.data)
            for event in (read_event(body) for body in reading.latest()):
                if isinstance(event.data, Weighing) and event.data.on < started:
                    if same is None:
                        keeper.adopt(event.data)
                    keeper.held.add(event.data)
                past.add(event)
    except (StoreError, sqlite3.Error) as error:
        raise ConfigError([Problem(file=str(journal), where="journal", what=str(error))]) from None
    return past, keeper


def _folded(events: list[Event], herd: str | None) -> list[Event] | None:
    """Return the first events of animals that make the book of that digest; None where none do."""
    book = Book()
    for count, event in enumerate(events):
        if book.digest == herd:
            return events[:count]
        if isinstance(event.data, Animal):
            book.fold(event.data)
    return events if book.digest == herd else None


def _other_book(capture: Capture, keeper: Keeper) -> str | None:
    """Say that the herd book is another than the capture was recorded beside; None when it is not, or nobody knows."""
    if capture.header.herd in {None, keeper.book.digest}:
        return None
    text = "The box knew other animals when this was recorded: here they may be named, expected and withheld otherwise."
    return f"{text}  Give the journal that was written beside it: --journal FILE."


def _owner(book: Book, data: Weighing) -> str | None:
    """Return whose a weighing is that names no animal: of a version that had no herd book."""
    tag = by_tag(data)
    who = book.by_tag(tag, at=data.on) if tag else None
    return who.animal if who else tag


def site_for(capture: Capture, config: Config, past: Past, keeper: Keeper | None = None) -> Site:
    """Make the site as it stood when the capture began."""
    header = capture.header

    def stamp(t: float) -> Stamp:
        return Stamp(header.started + timedelta(seconds=t), Clock.UNKNOWN)

    def today() -> date:
        return header.started.astimezone(config.zone).date()

    def clerk(jobs: StationJobs) -> Clerk:
        return Clerk(jobs, history=past.weights, doses=past.doses, shown=past.shown, had=past.had, zone=config.zone)

    memories = {name: read_memory(kept) for name, kept in header.stations.items() if name in config.stations}
    sheets = FoundSheets(config, today, lasting=False)
    site = Site(
        config,
        started=header.started,
        stamp=stamp,
        memories=memories,
        clerk=clerk,
        past=past,
        sheets=sheets,
        keeper=keeper,
    )
    for name, table in config.stations.items():
        if table.sheet is not None:
            site.jobs[name].configured(*sheets.find(name, None))
    return site


def replay(capture: Capture, config: Config, journal: Path | None = None) -> Iterator[Event]:
    """Yield the events of a capture, each with its sequence.  `journal` knows the animals' pasts."""
    past, keeper = known_of(journal, config, capture.header.started, capture.header.herd)
    other = _other_book(capture, keeper)
    site = site_for(capture, config, past, keeper)
    for sequence, event in enumerate(events_of(capture, site), 1):
        yield event.model_copy(update={"sequence": f"{sequence:010d}"})
    if other is not None:
        capture.note(other, always=True)


def events_of(capture: Capture, site: Site) -> Iterator[Event]:
    """Yield the events that a site makes of a capture."""
    t = 0.0
    yield from site.begin()
    for record in capture:
        t = record.t
        match record:
            case Bytes(_, link, data) if link in site.config.links:
                yield from site.data(t, link, data)
            case LinkChange(_, link, state) if link in site.config.links:
                yield from site.link(t, link, state)
            case Asked(_, raw):
                request = parse_request(raw)
                if isinstance(request, Refusal):
                    capture.note(f"t = {t}: {request.text}")
                else:
                    yield from site.request(t, request)[1]
            case _:
                capture.note(f"t = {t}: link {record.link!r} is not in the configuration")
    yield from site.finish(t)
