"""`neckyoke herd`: the animals that the box knows, listed, shown, written out, read in, and made anew from events."""

import argparse
import asyncio
import json
import sys
from collections.abc import Iterator
from datetime import UTC, datetime, timedelta
from pathlib import Path

from neckyoke.bridge.commands.daemon import add_config
from neckyoke.bridge.config.model import Config, load_config
from neckyoke.bridge.config.problems import ConfigError, Problem
from neckyoke.bridge.events import Animal, Weighing, read_event
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.herd.held import own_id
from neckyoke.bridge.herd.identity import label
from neckyoke.bridge.job.doses.withholding import longest
from neckyoke.bridge.many import many

DOES = {
    "list": "every animal, a line each",
    "show": "one animal's whole story, by its visual number, a tag that it wears or wore, or its id",
    "export": "the book as CSV, on standard output or into FILE",
    "import": "take the animals of FILE, CSV or .xlsx, into the book; nothing that it has is overwritten",
    "rebuild": "make the book anew from the journal's events, and say whether it was right",
}


def arguments(parser: argparse.ArgumentParser) -> None:
    """Declare the command's arguments."""
    parser.formatter_class = argparse.RawDescriptionHelpFormatter
    parser.epilog = "what to do:\n" + "\n".join(f"  {name:8} {text}" for name, text in DOES.items())
    parser.add_argument("do", choices=DOES, metavar="WHAT", nargs="?", default="list", help="see below")
    parser.add_argument("which", nargs="?", metavar="ANIMAL|FILE", help="which animal, or which file")
    parser.add_argument("--json", action="store_true", help="for a program")
    add_config(parser)


def run(args: argparse.Namespace) -> int:
    """Do it."""
    config = load_config(args.config)
    if args.do in {"show", "import"} and args.which is None:
        what = "an animal" if args.do == "show" else "a file"
        raise ConfigError([Problem(file="herd", where=args.do, what=f"say {what}", hint=DOES[args.do])])
    from neckyoke.bridge.asking.socket import ControlError
    from neckyoke.bridge.journal.journal import JournalError
    from neckyoke.bridge.journal.reading import StoreError

    try:
        match args.do:
            case "list":
                code = _list(config, as_json=args.json)
            case "show":
                code = _show(config, args.which, as_json=args.json)
            case "export":
                code = _export(config, Path(args.which) if args.which else None, as_json=args.json)
            case "import":
                from neckyoke.bridge.commands.herd_import import take_in

                code = asyncio.run(take_in(config, Path(args.which), as_json=args.json))
            case _:
                code = asyncio.run(_rebuild(config, as_json=args.json))
    except (StoreError, JournalError, ControlError) as error:
        print(error, file=sys.stderr)
        code = 1
    return code


def _book(config: Config) -> Book:
    """Read the book, whether or not the daemon runs."""
    from neckyoke.bridge.journal.reading import read_only

    with read_only(config.state_path(config.journal.path)) as journal:
        return _fold(journal.herd.animals())


def _fold(bodies: list[str]) -> Book:
    book = Book()
    for body in bodies:
        data = read_event(body).data
        if isinstance(data, Animal):
            book.fold(data)
    return book


def _list(config: Config, *, as_json: bool) -> int:
    from neckyoke.bridge.journal.reading import read_only

    with read_only(config.state_path(config.journal.path)) as journal:
        book = _fold(journal.herd.animals())
        clear: dict[str, str | None] = {}
        for _, _, animal, tag, meat in journal.herd.withheld():
            worn_by = book.by_tag(tag) if tag and not animal else None
            root = book.root(animal) if animal else worn_by.animal if worn_by else ""
            clear[root] = longest((clear.get(root), meat))
    today = datetime.now(config.zone).date().isoformat()
    if as_json:
        animals = ({**one.model_dump(mode="json"), "clear": clear.get(one.animal)} for one in book)
        print(json.dumps(list(animals), indent=2))
        return 0
    print("visual    tag              sex       born        withheld until  marks")
    for one in sorted(book, key=lambda one: (one.visual is None, (one.visual or "").rjust(12), one.tag or "")):
        until = longest((clear.get(one.animal), one.withheld_until))
        until = until if until is not None and until > today else None
        marks = "; ".join(mark.text for mark in one.marks if mark.holds(today))
        known = f"{one.visual or '':8}  {one.tag or '':15}  {one.sex or '':8}  {one.born or '':10}"
        print(f"{known}  {until or '':14}  {marks}".rstrip())
    return 0


def _show(config: Config, word: str, *, as_json: bool) -> int:
    from neckyoke.bridge.job.roster.tags import digits
    from neckyoke.bridge.journal.reading import read_only
    from neckyoke.bridge.reports.history import page_of

    with read_only(config.state_path(config.journal.path)) as journal:
        book = _fold(journal.herd.animals())
        by_tag = book.by_tag(digits(word))
        found = [one for one in (book.find(word) or by_tag,) if one] or book.by_visual(word)
        if len(found) != 1:
            said = f"{word} is the number of {', '.join(map(label, found))}: show one by its tag" if found else ""
            print(said or f"nobody here is called {word}", file=sys.stderr)
            return 1
        group = book.group(found[0].animal)
        tags = [tag.id for tag in found[0].tags]
        bodies = journal.weighings(animals=group, tags=tags)
    events = [data for body in bodies if isinstance(data := read_event(body).data, Weighing)]
    mine = [data for data in events if _is_of(data, book, group)]
    if as_json:
        weighings = [data.model_dump(mode="json") for data in mine]
        print(json.dumps({"animal": found[0].model_dump(mode="json"), "weighings": weighings}, indent=2))
        return 0
    print("\n".join(_story(found[0], config)))
    print(page_of((data.model_dump(mode="json") for data in mine), zone=config.zone) or "not weighed yet")
    return 0


def _is_of(data: Weighing, book: Book, group: tuple[str, ...]) -> bool:
    own = own_id(data)
    if own is None and data.tag is not None:
        worn_by = book.by_tag(data.tag.id, at=data.on)
        own = worn_by.animal if worn_by else None
    return own in group


def _story(animal: Animal, config: Config) -> Iterator[str]:
    """Yield what the book knows of an animal, its tags in time first."""
    for tag in animal.tags:
        moments = (tag.since, tag.until)
        since, until = (one.astimezone(config.zone).date().isoformat() if one else "" for one in moments)
        worn = f"from {since or 'the first'} to {until}" if tag.until else f"since {since or 'the first'}"
        yield f"tag {tag.id} {worn}"
    if len(animal.visuals) > 1:
        yield f"was called {', '.join(animal.visuals[:-1])}"
    for mark in animal.marks:
        days = [f"from {mark.begins}" if mark.begins else "", f"until {mark.until}" if mark.until else ""]
        yield " ".join(["marked:", mark.text, *filter(None, days)])
    if animal.withheld_until:
        yield f"withheld until {animal.withheld_until}, as a roster says"
    yield ""


def _export(config: Config, path: Path | None, *, as_json: bool) -> int:
    from neckyoke.bridge.herd.table import write

    book = _book(config)
    if path is None:
        write(book, sys.stdout)
        return 0
    with path.open("w", encoding="utf-8", newline="") as out:
        count = write(book, out)
    print(json.dumps({"animals": count, "file": str(path)}) if as_json else f"{many(count, 'animal')} in {path}")
    return 0


async def _rebuild(config: Config, *, as_json: bool) -> int:
    from neckyoke.bridge.journal.journal import Journal

    today = (datetime.now(UTC) - timedelta(days=1)).date().isoformat()
    journal = await Journal.open(config.state_path(config.journal.path), outlets=config.outlets)
    try:
        wrong = await journal.rebuild_herd(today)
    finally:
        await journal.close()
    if as_json:
        print(json.dumps({"mended": wrong}))
        return 0
    print("The book was right." if not wrong else f"{wrong} rows of the book were not as the events say; they are now.")
    return 0
