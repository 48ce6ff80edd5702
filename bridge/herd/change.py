"""What becomes of an animal: each change makes its next snapshot, and says in a word why."""

from collections.abc import Iterable, Mapping
from datetime import datetime
from typing import Any

from neckyoke.bridge.animal_event import Animal, Change, Mark, WornTag
from neckyoke.bridge.config.words import column_name
from neckyoke.bridge.events import Weighing
from neckyoke.bridge.station.record import visual_key

WISH = ""
"""The cause of a change that a person asked for, where a weighing is not."""
FACTS = ("roster_id", "born", "sex", "dam", "mob")
"""What is known of an animal in a field of its own; all else that lasts is in `lasting`."""


def _next(animal: Animal, change: Change, why: str, **update: Any) -> Animal:
    return animal.model_copy(update={"revision": animal.revision + 1, "change": change, "why": why, **update})


def _bare(tag: WornTag, until: datetime) -> WornTag:
    return tag if tag.until is not None else tag.model_copy(update={"until": until})


def retagged(animal: Animal, tag: str, at: datetime) -> Animal:
    """Let another tag take the place of the one it wears, from a moment on; the old one stays known as former."""
    if animal.tag == tag:
        return animal
    before = animal.tag
    why = f"{tag} took the place of {before}" if before else f"{tag} was put in"
    tags = (*(_bare(one, at) for one in animal.tags), WornTag(id=tag, since=at))
    return _next(animal, "retagged", why, tags=tags)


def untagged(animal: Animal, tag: str, at: datetime) -> Animal:
    """Let a tag be former, for another animal wears it now."""
    tags = tuple(_bare(one, at) if one.id == tag else one for one in animal.tags)
    return animal if tags == animal.tags else _next(animal, "retagged", f"another animal wears {tag}", tags=tags)


def named(animal: Animal, visual: str) -> Animal:
    """Give it a visual number; one that it had before stays known."""
    key = visual_key(visual)
    if animal.visual is not None and visual_key(animal.visual) == key:
        return animal
    others = tuple(one for one in animal.visuals if visual_key(one) != key)
    return _next(animal, "named", f"its visual number is {visual}", visuals=(*others, visual))


def facts_of(animal: Animal) -> dict[str, Any]:
    """Return what is known of an animal beside tags, numbers and marks, by name."""
    known = {name: getattr(animal, name) for name in FACTS}
    return {**{name: value for name, value in known.items() if value is not None}, **animal.lasting}


def filled(animal: Animal, facts: Mapping[str, Any], why: str, *, assumed: bool = False) -> Animal:
    """Fill the gaps of what is known; what only a sheet said of a whole mob (`assumed`) is a gap for anybody else."""
    known = facts_of(animal)
    gaps = {
        name: value
        for name, value in facts.items()
        if value is not None
        and (name not in known or (name in animal.assumed and not assumed and known[name] != value))
    }
    sure = {name for name in facts if not assumed and facts[name] is not None}
    if not gaps and not sure & {*animal.assumed}:
        return animal
    return _next(animal, "filled", why, **_facts(animal, gaps), assumed=_assumed(animal, gaps, sure, assumed=assumed))


def said(animal: Animal, facts: Mapping[str, Any]) -> Animal:
    """Take a person's word on what is known of it, whatever was known before."""
    if all(facts_of(animal).get(name) == value for name, value in facts.items()) and not {*facts} & {*animal.assumed}:
        return animal
    why = "a person said: " + ", ".join(f"{name.replace('_', ' ')} {value}" for name, value in facts.items())
    return _next(animal, "filled", why, **_facts(animal, facts), assumed=_assumed(animal, {}, {*facts}, assumed=False))


def lasting_of(data: Weighing) -> dict[str, Any]:
    """Return what a person saw of an animal that lasts, such as its colour, by name."""
    return {column_name(one.name): one.value for one in data.findings if one.keep and one.by == "person"}


def _facts(animal: Animal, facts: Mapping[str, Any]) -> dict[str, Any]:
    own = {name: value for name, value in facts.items() if name in FACTS}
    return {**own, "lasting": {**animal.lasting, **{name: facts[name] for name in facts if name not in FACTS}}}


def _assumed(animal: Animal, gaps: Iterable[str], sure: Iterable[str], *, assumed: bool) -> tuple[str, ...]:
    return tuple(sorted({*animal.assumed} - {*sure} | ({*gaps} if assumed else set())))


def marked(animal: Animal, mark: Mark) -> Animal:
    """Put a mark on it; one of the same words is replaced."""
    marks = (*(one for one in animal.marks if one.text != mark.text), mark)
    return animal if marks == animal.marks else _next(animal, "marked", f"marked: {mark.text}", marks=marks)


def unmarked(animal: Animal, text: str | None) -> Animal:
    """Take a mark off it by its words; without them, all."""
    marks = tuple(one for one in animal.marks if text is not None and one.text.casefold() != text.casefold())
    return animal if marks == animal.marks else _next(animal, "unmarked", f"unmarked: {text or 'all'}", marks=marks)


def merged(animal: Animal, into: Animal) -> Animal:
    """Let an animal have turned out to be another one."""
    return _next(animal, "merged", f"it is {_called(into)}", merged_into=into.animal)


def split(animal: Animal, root: Animal) -> Iterable[Animal]:
    """Take a merging back: yield both as they are by themselves again.

    A tag that the one took from the other goes back, and the one wears what it wore before.
    """
    yield _next(animal, "split", f"it is not {_called(root)}", merged_into=None)
    theirs = {tag.id for tag in animal.tags}
    taken = [tag for tag in root.tags if tag.id in theirs]
    if taken:
        kept = [tag for tag in root.tags if tag.id not in theirs]
        since = {tag.since for tag in taken}
        tags = tuple(tag.model_copy(update={"until": None}) if tag.until in since else tag for tag in kept)
        yield _next(root, "split", f"it is not {_called(animal)}", tags=tags)


def _called(animal: Animal) -> str:
    return animal.visual or animal.tag or animal.animal


def without_id(animal: Mapping[str, Any] | None) -> dict[str, Any] | None:
    """Return what a weighing says of its animal, but for whose it is: a person says that anew."""
    return {key: value for key, value in animal.items() if key not in {"id", "visual"}} if animal else None
