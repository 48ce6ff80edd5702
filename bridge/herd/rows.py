"""Reads a roster, or an export of a herd book, into the book: adds, fills gaps, and overwrites nothing.

    the row's tag          its number            then
    known                  fits, or is missing   gaps are filled
    known                  another's             told, and left
    unknown or none        of nobody             a new animal
    unknown                of one without a tag  that animal wears it now
    unknown                of one with another   told, and left; unless the row names that one as former
    former                 whoever's             told, and left
    any                    of several            told, and left

What a row says otherwise than the book (sex, birth, dam, number) is told, and left as it was until a person says.
"""

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from typing import Any

from neckyoke.bridge.animal_event import Animal, WornTag
from neckyoke.bridge.events import Event, make_id, wrap
from neckyoke.bridge.herd import change
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.herd.identity import label
from neckyoke.bridge.herd.table import read_row, row_of
from neckyoke.bridge.job.doses.withholding import longest
from neckyoke.bridge.job.roster.roster import Animal as Row
from neckyoke.bridge.job.roster.roster import Roster, roster_of
from neckyoke.bridge.job.roster.table import Csv
from neckyoke.bridge.job.roster.troubles import Troubles
from neckyoke.bridge.station.record import visual_key

FACTS = ("roster_id", "sex", "dam")
"""Columns that say something lasting of an animal, beside its birth."""
LASTING = frozenset({"breed", "colour", "color"})
"""Columns of the user's own that stay with an animal: others are the day's."""


def take_table(site: str, book: Book, table: Csv, at: datetime, today: date, troubles: Troubles) -> Iterator[Event]:
    """Take a table into the book, be it an export or a roster: yield what became of it.

    `today` is the farm's date.  What cannot be taken, or contradicts the book, is in `troubles` when all is read.
    """
    if "animal" in table.header:
        return read_export(site, book, table, at, troubles)
    return read_roster(site, book, roster_of(table, today, troubles), at, troubles)


def read_export(site: str, book: Book, table: Csv, at: datetime, troubles: Troubles) -> Iterator[Event]:
    """Take the rows of an export into the book: yield those it lacks.  Nothing that it has is overwritten."""
    for number, cells in table.numbered:
        row = {name: bare for name, text in zip(table.header, cells, strict=False) if (bare := text.strip())}
        if not row:
            continue
        try:
            animals = list(read_row(row))
        except (KeyError, ValueError) as error:
            hint = "Take the row as `neckyoke herd export` wrote it."
            troubles.say(number, "animal", f"cannot be read: {error}", hint, "cannot be read")
            continue
        for animal in animals:
            known = book.get(animal.animal)
            worn_by = next((one for tag in animal.tags if (one := book.by_tag(tag.id)) is not None), None)
            if known is not None:
                if row_of(known) != row_of(animal):
                    troubles.say(number, "animal", f"{label(known)} is otherwise here", "It stays as it is.", "known")
            elif worn_by is not None:
                what = f"a tag of {label(animal)} is that of {label(worn_by)} here"
                troubles.say(number, "tag", what, "This row is left out.  Are they one?  neckyoke tell merge", "worn")
            elif book.fold(animal):
                yield wrap(animal, site=site, time=at, key=f"{animal.animal}/{animal.revision}")


def read_roster(site: str, book: Book, roster: Roster, at: datetime, troubles: Troubles) -> Iterator[Event]:
    """Take a roster's animals into the book: yield what became of it.  What contradicts it is in `troubles`."""
    for one in Reader(site, book, troubles, at).read(roster.animals):
        yield wrap(one, site=site, time=at, key=f"{one.animal}/{one.revision}")


def spelled(roster: Roster) -> Csv:
    """Spell a roster so plainly that no row hangs on the rest: ISO dates, whole tags."""
    said = [{"tag": row.tag, "visual": row.visual, "former_tags": ";".join(row.former_tags)} for row in roster.animals]
    for known, row in zip(said, roster.animals, strict=True):
        known |= {"withheld_until": row.withheld_until, **_facts(row)}
    header = tuple(dict.fromkeys(name for known in said for name in known))
    rows = tuple([str(known.get(name) or "") for name in header] for known in said)
    return Csv(roster.path, header, rows, tuple(row.row for row in roster.animals))


@dataclass(slots=True)
class Reader:
    """Reads rows into a book: yields each animal as it is after its row, and takes it into the book."""

    site: str
    book: Book
    troubles: Troubles
    at: datetime

    def read(self, rows: Iterable[Row]) -> Iterator[Animal]:
        """Read rows.  What contradicts the book is in `troubles`."""
        for row in rows:
            now = self._row(row)
            if now is not None and self.book.fold(now):
                yield now

    def _say(self, row: Row, column: str, what: str, hint: str, kind: str) -> None:
        self.troubles.say(row.row, column, what, hint, kind)

    def _row(self, row: Row) -> Animal | None:
        found = self._find(row)
        if found is None:
            return None
        known = self.book.get(found.animal)
        facts = _facts(row)
        now = found
        if known is not None:
            self._contradictions(row, self.book.find(known.animal) or known, facts)
        now = change.filled(now, facts, "a roster says so")
        clear = longest((now.withheld_until, row.withheld_until))
        if clear != now.withheld_until:
            now = now.model_copy(update={"withheld_until": clear, "why": "a roster says until when it is withheld"})
        if known is None:
            return now.model_copy(update={"revision": 1, "change": "known", "why": "a roster names it"})
        same = now.model_copy(update={"revision": known.revision, "change": known.change, "why": known.why}) == known
        return None if same else now.model_copy(update={"revision": known.revision + 1})

    def _find(self, row: Row) -> Animal | None:
        """Return a row's animal, with the tag and number that it has from here; None where the book contradicts it."""
        owner = self.book.by_tag(row.tag) if row.tag else None
        having = self.book.by_visual(row.visual) if row.visual else []
        if owner is not None:
            return self._of_tag(row, owner, having)
        if not having:
            return self._new(row)
        if len(having) > 1:
            kind = "shared"
            what = f"{row.visual} is the number of {len(having)} animals here"
            self._say(row, "visual", what, "Say which: neckyoke tell name, or retag.", kind)
            return None
        one = self._own(having[0])
        if row.tag is None or having[0].tag == row.tag:
            return one
        if having[0].tag is None or having[0].tag in row.former_tags:
            return change.retagged(one, row.tag, self.at)
        what = f"{row.visual} wears {having[0].tag} here, and not {row.tag}"
        hint = f"Is it the new tag?  neckyoke tell retag {row.tag} --visual {row.visual}"
        self._say(row, "tag", what, hint, "another tag")
        return None

    def _of_tag(self, row: Row, owner: Animal, having: list[Animal]) -> Animal | None:
        own = self._own(owner)
        if owner.tag != row.tag:
            what = f"{row.tag} is a former tag of {label(owner)}"
            self._say(row, "tag", what, "Nothing of this row is taken.", "former tag")
            return None
        if row.visual is None or any(one.animal == owner.animal for one in having):
            return own
        if owner.visual is not None:
            what = f"{row.tag} is {owner.visual} here, and not {row.visual}"
            hint = f"Is it the new number?  neckyoke tell name {row.visual} --tag {row.tag}"
            self._say(row, "visual", what, hint, "another number")
            return own
        if having:
            what = f"{row.visual} is the number of {label(having[0])}"
            self._say(row, "visual", what, f"Are they one?  neckyoke tell name {row.visual} --tag {row.tag}", "taken")
            return own
        return change.named(own, row.visual)

    def _own(self, animal: Animal) -> Animal:
        own = self.book.get(animal.animal)
        assert own is not None, "it was found in the book"
        return own

    def _new(self, row: Row) -> Animal:
        """Make an animal of a row; its id is made from the first tag that is known of it, else from its number."""
        tags = tuple(WornTag(id=tag, until=self.at) for tag in row.former_tags if tag != row.tag)
        tags += (WornTag(id=row.tag),) if row.tag else ()
        name = tags[0].id if tags else f"visual {visual_key(row.visual or '')}"
        return Animal(animal=make_id(self.site, "animal", name), tags=tags, visuals=(row.visual,) if row.visual else ())

    def _contradictions(self, row: Row, known: Animal, facts: dict[str, Any]) -> None:
        has = change.facts_of(known)
        for name, value in facts.items():
            if name in has and name not in known.assumed and str(has[name]).casefold() != str(value).casefold():
                what = f"{label(known)} is {has[name]} here, and not {value}"
                hint = f"It stays as it is.  To change it: neckyoke tell name --{name} {value}" if name in FACTS else ""
                self._say(row, name, what, hint, "otherwise here")


def _facts(row: Row) -> dict[str, Any]:
    own = {name: getattr(row, name) for name in FACTS}
    born = row.born.isoformat() if row.born else None
    lasting = {name: text for name, text in row.other.items() if name in LASTING}
    return {name: value for name, value in {**own, "born": born, **lasting}.items() if value is not None}
