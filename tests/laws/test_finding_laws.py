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
        if not step.strip():
            continue
        for _ in finder.renew():
            pass
        word = key(step)
        order = sorted(known.values(), key=lambda one: in_order(key(one.visual) if one.visual else ""))
        fits = sorted((place, at, one) for at, one in enumerate(order) if (place := rank(one, word)) is not None)
        roots = list(dict.fromkeys(book.root(one.animal) for _, _, one in fits))
        found = finder.find(step)
        assert set(found) == set(roots)
        places = {root: min(place for place, _, one in fits if book.root(one.animal) == root) for root in roots}
        assert [places[root] for root in found] == sorted(places.values())
