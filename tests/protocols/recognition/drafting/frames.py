"""Frames that a made-up scale sends while animals come and go, for the drafts of its layout."""

from collections.abc import Callable, Iterator
from dataclasses import replace

from tests.protocols.spelling import Shown
from tests.protocols.streams import crossing

Spell = Callable[[int, Shown], str]


def shows() -> Iterator[Shown]:
    """Show animals on a scale that does not return to nought."""
    for at, shown in enumerate(crossing(10, 20, 1)):
        yield replace(shown, tenths=-15, stable=True) if at % 80 < 12 and shown.tenths == 0 else shown


def frames_of(spell: Spell) -> list[bytes]:
    return [spell(at, shown).encode("latin-1") for at, shown in enumerate(shows())]


def word(shown: Shown) -> str:
    return "ST" if shown.stable else "US"
