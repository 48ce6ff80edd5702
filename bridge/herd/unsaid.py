"""What people said to the herd book, taken back: animals as they were, questions as they stood."""

from collections.abc import Iterable, Mapping
from datetime import date, datetime

from neckyoke.bridge.animal_event import Animal
from neckyoke.bridge.events import Event
from neckyoke.bridge.herd.keeper import Keeper
from neckyoke.bridge.herd.putting_back import Change, put_back
from neckyoke.bridge.herd.questions import Asked

WHY = "a person took back what was said"
UNDO = "undo"
"""The cause of these changes: no weighing, and no wish."""


def animals_back(keeper: Keeper, changes: Mapping[str, Change], at: datetime) -> list[Event]:
    """Take back what became of animals, by their ids, as far as it is still so."""
    animals = []
    for name, change in changes.items():
        if (now := keeper.book.get(name)) is None:
            continue
        before = now.model_dump(mode="json")
        if (body := put_back(before, change)) != before:
            how = {"revision": now.revision + 1, "change": "undone", "why": WHY}
            animals.append(Animal.model_validate({**body, **how}))
    return keeper.write(animals, at, UNDO)


def let_go(keeper: Keeper, name: str, at: datetime) -> list[Event]:
    """Ask something no more: what led to it was taken back."""
    asked = keeper.questions.get(name)
    if asked is None or asked.reply is not None:
        return []
    keeper.questions.forget(name)
    return keeper.over(asked, at)


def ask_again(keeper: Keeper, name: str, at: datetime) -> list[Event]:
    """Take back the reply to a question."""
    return [keeper.question(keeper.questions.close(name, None), at)] if keeper.questions.get(name) else []


def asked_back(keeper: Keeper, dropped: Iterable[tuple[int, Asked]], at: datetime) -> list[Event]:
    """Ask questions again that are asked no more, each in its turn, where nothing else is asked of its stay."""
    return [keeper.question(one, at) for turn, one in dropped if keeper.questions.put_back(one, turn)]


def take_as_new(keeper: Keeper, day: str | None) -> None:
    """Let every unknown tag of this day be held to be a new animal's; of none without one."""
    keeper.all_new_on = date.fromisoformat(day) if day else None
