"""Every key of a configuration or a job sheet, with what it takes and what holds without it, from the models."""

import types
import typing
from collections.abc import Iterator
from decimal import Decimal
from pathlib import Path
from typing import Any, Literal

from pydantic import BaseModel
from pydantic.fields import FieldInfo

WORDS: dict[Any, str] = {str: "text", bool: "true or false", int: "whole number", float: "number", Decimal: "number"}


def keys_of(model: type[BaseModel], heading: str = "") -> Iterator[str]:
    """Yield the lines of a table's keys, then those of the tables below it."""
    below: list[tuple[type[BaseModel], str]] = []
    if heading:
        yield heading
    for name, field in model.model_fields.items():
        if field.exclude:
            continue
        table, how = _table(field.annotation)
        if table is not None:
            place = heading.strip("[]")
            below.append((table, how.format(f"{place}.{name}" if place else name)))
        else:
            yield _line(field.alias or name, field, _takes(field.annotation))
    if model.model_config.get("extra") == "allow":
        layout = 'see DEVELOPERS.md, "Add a layout"' if "layouts" in heading else "as you like"
        yield f"  any other key        {layout}"
    for table, place in below:
        yield ""
        yield from keys_of(table, place)


def _line(name: str, field: FieldInfo, takes: str) -> str:
    default = field.get_default(call_default_factory=True)
    holds = "needed" if field.is_required() else "" if default in (None, ()) else f"else {_spelled(default)}"
    about = f"; {field.description}" if field.description else ""
    return f"  {name:20} {takes}{f', {holds}' if holds else ''}{about}"


def _spelled(value: Any) -> str:
    if isinstance(value, bool):
        return "true" if value else "false"
    return f'"{value}"' if isinstance(value, str) else f"{value:g}" if isinstance(value, float) else str(value)


def _table(annotation: Any) -> tuple[type[BaseModel] | None, str]:
    """Find the table a key holds, and how its heading is spelled; (None, "") for a plain value."""
    if isinstance(annotation, type) and issubclass(annotation, BaseModel):
        return annotation, "[{}]"
    origin, inside = typing.get_origin(annotation), typing.get_args(annotation)
    for one in inside:
        table, _ = _table(one)
        if table is not None:
            how = "[{}]" if origin in {typing.Union, types.UnionType, typing.Annotated} else "[[{}]]"
            return table, "[{}.NAME]" if origin is dict else how
    return None, ""


def _takes(annotation: Any) -> str:
    """Describe what a key takes, in words."""
    origin, inside = (
        typing.get_origin(annotation),
        [one for one in typing.get_args(annotation) if one is not type(None)],
    )
    if origin is typing.Annotated:
        return _takes(inside[0])
    if origin is Literal:
        return " or ".join(f'"{one}"' if isinstance(one, str) else str(one) for one in inside)
    if origin in {typing.Union, types.UnionType}:
        return " or ".join(dict.fromkeys(_takes(one) for one in inside))
    if origin in {tuple, list}:
        return f"list of {_takes(inside[0])}" if inside else "list"
    if annotation is Path:
        return "path"
    return WORDS.get(annotation, str(getattr(annotation, "__name__", "value")).casefold())
