"""A sheet as a form: the values of its text, changed by touch, and put back into the text that they came from.

The form has the sheet's own keys.  Each of several tables (a treatment, a finding, a pen) carries `was`, its place in
the text that was opened; one without it is new.  What a person wrote stays where the form says nothing else: comments,
order, spacing, how a number is spelled (tomlkit).
"""

import contextlib
import tomllib
from collections.abc import Iterable, Mapping
from datetime import date
from typing import Any, NamedTuple, TypeAlias

import tomlkit
from tomlkit.exceptions import TOMLKitError
from tomlkit.items import AoT, InlineTable, Item, Table

from neckyoke.bridge.asking.parts import plain
from neckyoke.bridge.config.problems import nearest
from neckyoke.bridge.config.words import spell_value
from neckyoke.bridge.job.making.blocks import Block, cut
from neckyoke.bridge.job.sheet import Sheet

Form: TypeAlias = Mapping[str, Any]
WAS = "was"
SEVERAL = ("treatments", "findings", "draft", "dam_ages")
"""Keys with a table for each of several."""
SINGLE = ("details", "limits")
ORDER = ("details", "treatments", "findings", "draft", "limits", "dam_ages")
"""In this order new tables come."""
DATES = ("expires", "born")
KEYS = tuple(key for key in Sheet.model_fields if key != "path")
MOST_TABLES, MOST_KEYS, MOST_VALUES = 100, 100, 200


def form_of(text: str) -> dict[str, Any]:
    """Return a sheet's text as a form, its dates spelled.  Raises ValueError when it is no TOML."""
    form: dict[str, Any] = _spelled(tomllib.loads(text))
    for key in SEVERAL:
        tables = form.get(key)
        if isinstance(tables, list):
            form[key] = [{**one, WAS: at} if isinstance(one, dict) else one for at, one in enumerate(tables)]
    return form


def _spelled(value: Any) -> Any:
    if isinstance(value, dict):
        return {key: _spelled(one) for key, one in value.items()}
    if isinstance(value, list):
        return [_spelled(one) for one in value]
    return spell_value(value)


def checked(form: Form) -> Form:
    """Return a form that has the shape of one.  Raises ValueError that says what is wrong with it."""
    for key, value in form.items():
        if key not in KEYS:
            raise ValueError(f"unknown key {key[:40]!r}. {nearest(key[:40], KEYS)}")
        if key in SEVERAL:
            if not isinstance(value, list) or len(value) > MOST_TABLES:
                raise ValueError(f"{key} is a list of at most {MOST_TABLES} tables")
            for one in value:
                _check_table(key, one)
                _check_place(key, one)
        elif key in SINGLE:
            _check_table(key, value)
        else:
            _check_value(key, value, deep=0)
    return form


def _check_table(key: str, table: Any) -> None:
    if not isinstance(table, Mapping) or len(table) > MOST_KEYS:
        raise ValueError(f"{key} has tables of at most {MOST_KEYS} keys")
    for name, value in table.items():
        plain(name)
        _check_value(f"{key}.{name[:40]}", value, deep=2)


def _check_place(key: str, table: Mapping[str, Any]) -> None:
    was = table.get(WAS, 0)
    if isinstance(was, bool) or not isinstance(was, int):
        raise ValueError(f"{key}: {WAS} is a whole number")  # noqa: TRY004  # one kind of error for what was sent


def _check_value(key: str, value: Any, *, deep: int) -> None:
    """Check that a value is one that TOML has, and not nested further than a sheet nests."""
    if isinstance(value, str):
        value.encode()
    elif isinstance(value, list | Mapping) and deep and len(value) <= MOST_VALUES:
        for name in value if isinstance(value, Mapping) else ():
            plain(name)
            name.encode()
        for one in value.values() if isinstance(value, Mapping) else value:
            _check_value(key, one, deep=deep - 1)
    elif not isinstance(value, bool | int | float) or (isinstance(value, int) and abs(value) >= 2**63):
        raise ValueError(f"{key}: one text, number or yes-or-no, or a short list of them")


def written(text: str, form: Form) -> str:
    """Put a form into the text that it came from (empty for a new sheet).  Raises ValueError for what is no form.

    The text returned reads as the form says; every table that is as it was stays as it was written.
    """
    form = checked(form)
    with contextlib.suppress(ValueError):
        if text and _same(form_of(text), form):
            return text
    try:
        made = _by_block(text, form)
    except (ValueError, TOMLKitError):
        made = None
    if made is None or not _says(made, form):
        made = _anew(form)
    if not _says(made, form):
        raise ValueError("it cannot be spelled as TOML")
    return made


def _says(text: str, form: Form) -> bool:
    """Return whether a text reads as a form does."""
    try:
        return _same(_spelled(tomllib.loads(text)), _bare(form))
    except tomllib.TOMLDecodeError:
        return False


def _bare(form: Form) -> dict[str, Any]:
    """Return a form as its text reads: without places, and without tables and lists that are empty."""
    bare: dict[str, Any] = {}
    for key, value in form.items():
        if key in SEVERAL:
            if value:
                bare[key] = [_without_was(one) for one in value]
        elif key not in SINGLE or value:
            bare[key] = value
    return bare


def _without_was(table: Mapping[str, Any]) -> dict[str, Any]:
    return {key: value for key, value in table.items() if key != WAS}


def _same(one: Any, other: Any) -> bool:
    """Return whether two values are the same; true is not 1."""
    if isinstance(one, Mapping) and isinstance(other, Mapping):
        return one.keys() == other.keys() and all(_same(one[key], other[key]) for key in one)
    if isinstance(one, list) and isinstance(other, list):
        return len(one) == len(other) and all(map(_same, one, other))
    both_nan = one != one and other != other  # noqa: PLR0124  # as only not-a-number does
    return isinstance(one, bool) == isinstance(other, bool) and (bool(one == other) or both_nan)


# -- block by block ----------------------------------------------------------------------------------------------------


def _by_block(text: str, form: Form) -> str:
    blocks = cut(text)
    head, rest = blocks[0], blocks[1:]
    own = {block.key for block in rest}
    in_head = {key: value for key, value in _bare(form).items() if key not in (*SEVERAL, *SINGLE)}
    there = tomllib.loads(head.text)
    for key in (*SEVERAL, *SINGLE):  # one spelled within a line of the head stays there for as long as it is as it was
        if key in there and key in _bare(form) and (key in SINGLE or _same(_spelled(there[key]), _bare(form)[key])):
            in_head[key] = _bare(form)[key]
    parts = [Part(_edited_head(head.text, in_head), loose=False)]
    done = set(in_head)
    for block in rest:
        if block.key in SEVERAL:
            if block.key not in done:
                parts += _tables(block.key, [one for one in rest if one.key == block.key], form)
                done.add(block.key)
        elif form.get(block.key):
            parts.append(Part(_edited(block, form[block.key]), loose=False))
            done.add(block.key)
    for key in ORDER:
        if key not in done and key not in own and form.get(key):
            parts += _tables(key, [], form) if key in SEVERAL else [Part(_new(key, form[key], several=False))]
    return _joined(parts)


class Part(NamedTuple):
    """A part of a text; a loose one has a blank line on both sides."""

    text: str
    loose: bool = True


def _joined(parts: Iterable[Part]) -> str:
    made, before = "", False
    for text, loose in parts:
        if made and (loose or before):
            made = f"{made.rstrip()}\n\n{text.lstrip()}" if made.strip() else text.lstrip()
        else:
            made += text
        if text and not made.endswith("\n"):
            made += "\n"
        before = loose and bool(text)
    return made


def _edited_head(text: str, values: Mapping[str, Any]) -> str:
    sheet = tomlkit.parse(text)
    _update(sheet, values)
    made = tomlkit.dumps(sheet)
    return made if not made or made.endswith("\n") else f"{made}\n"


def _tables(key: str, blocks: list[Block], form: Form) -> list[Part]:
    """Return all tables of one key in the form's order."""
    tables = form.get(key) or ()
    places = [one.get(WAS, -1) for one in tables]
    as_they_were = places == list(range(len(blocks)))
    return [
        Part(_edited(blocks[was], _without_was(one)), loose=not as_they_were)
        if 0 <= was < len(blocks)
        else Part(_new(key, _without_was(one), several=True))
        for was, one in zip(places, tables, strict=True)
    ]


def _edited(block: Block, values: Mapping[str, Any]) -> str:
    sheet = tomlkit.parse(block.text)
    found = sheet[block.key]
    table = found[0] if isinstance(found, AoT) else found
    if not isinstance(table, Table):
        raise ValueError("no table")  # noqa: TRY004  # the text is written anew then
    if _same(_spelled(table.unwrap()), values):
        return block.text
    _update(table, values)
    return tomlkit.dumps(sheet)


def _new(key: str, values: Mapping[str, Any], *, several: bool) -> str:
    table = tomlkit.table()
    _update(table, values)
    sheet = tomlkit.document()
    if several:
        tables = tomlkit.aot()
        tables.append(table)
        sheet[key] = tables
    else:
        sheet[key] = table
    return tomlkit.dumps(sheet)


def _update(table: Any, values: Mapping[str, Any]) -> None:
    """Make a table say other values, and leave those that are the same as they are spelled."""
    for key in [key for key in table if key not in values]:
        table.pop(key)
    for key, value in values.items():
        now = table.get(key)
        if now is not None and _same(_spelled(now.unwrap() if isinstance(now, Item) else now), value):
            continue
        if isinstance(now, Table | InlineTable) and isinstance(value, Mapping):
            _update(now, value)
        else:
            table[key] = _item(key, value)


def _item(key: str, value: Any) -> Item:
    if isinstance(value, Mapping):
        table = tomlkit.inline_table()
        for name, one in value.items():
            table[name] = _item(name, one)
        return table
    if key in DATES and isinstance(value, str):
        try:
            return tomlkit.item(date.fromisoformat(value))
        except ValueError:
            pass  # what is wrong with it is said when the sheet is checked
    item: Item = tomlkit.item(value)
    return item


def _anew(form: Form) -> str:
    """Write a sheet from nothing."""
    bare = _bare(form)
    parts = [Part(_edited_head("", {key: value for key, value in bare.items() if key not in (*SEVERAL, *SINGLE)}))]
    for key in ORDER:
        if key in bare:
            tables = bare[key] if key in SEVERAL else [bare[key]]
            parts += [Part(_new(key, one, several=key in SEVERAL)) for one in tables]
    return _joined(parts)
