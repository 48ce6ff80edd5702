"""Who is found by what is typed, whatever has become of the book since it was last looked at.

The order is our own (`bridge/page/animals/finding.py`); the reference asks each animal's words one by one.
"""

from hypothesis import given, settings
from hypothesis import strategies as st

from neckyoke.bridge.animal_event import Animal, WornTag
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.page.animals.finding import Finder, in_order

NAMES = st.sampled_from([f"a{at}" for at in range(5)])
NUMBERS = st.lists(st.text("019A", min_size=1, max_size=3), max_size=2, unique=True)
TAGS = st.lists(st.integers(0, 11).map(lambda at: f"9990000001{at * 1011:05d}"), max_size=2, unique=True)


def key(text: str) -> str:
    """Spell a number as it is compared: no case, spaces or leading zeros."""
    return text.replace(" ", "").casefold().lstrip("0") or "0"


def words(one: Animal) -> list[str]:
    return [*(key(visual) for visual in reversed(one.visuals)), *(tag.id for tag in reversed(one.tags))]


def rank(one: Animal, word: str) -> int | None:
    """Whole, at the beginning, at the end, anywhere; None where nothing has it."""
    each = words(one)
    if not any(word in name for name in each):
        return None
    if word in each:
        return 0
    if any(name.startswith(word) for name in each):
        return 1
    return 2 if any(name.endswith(word) for name in each) else 3


@settings(max_examples=60)
@given(
    st.lists(
        st.one_of(
            st.tuples(NAMES, NUMBERS, TAGS, st.one_of(st.none(), NAMES)), st.text("0129 A", min_size=1, max_size=5)
        ),
        max_size=10,
    )
)
def test_what_is_found_is_what_fits_the_best_first(
    steps: list[tuple[str, list[str], list[str], str | None] | str],
) -> None:
    book, known = Book(), dict[str, Animal]()
    finder = Finder(book)
    for at, step in enumerate([*steps, "1", "9", "0000"]):
        if not isinstance(step, str):
            name, visuals, tags, into = step
            worn = tuple(WornTag(id=tag) for tag in tags)
            merged = into if into != name else None
            known[name] = Animal(animal=name, revision=at + 1, visuals=tuple(visuals), tags=worn, merged_into=merged)
            book.fold(known[name])
            continue
        for _ in finder.renew():
            pass
        for typed in (step[:end] for end in range(1, len(step) + 1) if step[:end].strip()):  # letter by letter
            fits = wanted(known, key(typed))
            roots = list(dict.fromkeys(book.root(one.animal) for _, one in fits))
            found, count = finder.find(typed)
            assert (set(found), count) == (set(roots), len(roots))
            places = {root: min(place for place, one in fits if book.root(one.animal) == root) for root in roots}
            assert [places[root] for root in found] == sorted(places.values())
            assert finder.find(typed, 1, 2) == (found[1:3], count)
    everybody = dict.fromkeys(book.root(one.animal) for one in known.values())
    assert set(finder.find(" ")[0]) == set(everybody)


def test_numbers_stand_in_the_order_in_which_a_person_counts() -> None:
    """Common practice, no source: figures by what they count, letters before figures, none last."""
    stand = ["A2", "A2b", "A10", "AB1", "B", "1", "9", "9a", "10", "10a2", "10a10", "99999999999999999999", ""]
    assert sorted({*stand}, key=in_order) == stand


def wanted(known: dict[str, Animal], word: str) -> list[tuple[int, Animal]]:
    """Return those that fit with their ranks, the best first, in the order of their numbers."""
    order = sorted(known.values(), key=lambda one: in_order(key(one.visual) if one.visual else ""))
    ranked = [(place, one) for one in order if (place := rank(one, word)) is not None]
    return sorted(ranked, key=lambda one: one[0])


def test_many_at_once_and_few_at_a_time_come_to_the_same() -> None:
    """A roster of hundreds makes the order anew, one weighed is put in its place: both by numbers."""
    book, slow = Book(), Book()
    finder, other = Finder(book), Finder(slow)
    for at in range(1200):
        number = str(at * 7 % 1200)
        one = Animal(animal=f"a{at}", visuals=(number,), tags=(WornTag(id=f"999{at:012d}"),))
        book.fold(one)
        slow.fold(one)
        if at % 100 == 0:
            for _ in other.renew():
                pass
    for each in (finder, other):
        for _ in each.renew():
            pass
    assert finder.find("")[0] == other.find("")[0] == [f"a{at * 343 % 1200}" for at in range(1200)]  # 7 x 343 = 2401
    assert finder.find("99") == other.find("99")


def test_what_broke_off_half_way_is_begun_again() -> None:
    book = Book(Animal(animal=f"a{at}", visuals=(str(at),)).model_dump_json() for at in range(1200))
    finder = Finder(book)
    next(finder.renew())
    for _ in finder.renew():
        pass
    assert len(finder.find("")[0]) == 1200
    assert finder.find("1199") == (["a1199"], 1)
