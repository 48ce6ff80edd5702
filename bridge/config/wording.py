"""What the readers of TOML and of values complain of, in the words of a person who writes a file by hand."""

import re
from collections.abc import Mapping, Sequence
from typing import Any, TypeAlias

Wording: TypeAlias = tuple[str, str]
"""What is wrong, and what would be right (or nothing)."""

TOML_MISTAKES: Sequence[tuple[str, str]] = (
    ("[“”„‘’]", 'Straight quotes are needed, "like these"; these are a word processor\'s.'),  # noqa: RUF001
    (r"=\s*-?\d+,\d", "Numbers have a point, and nothing between thousands: 5.0, 2000."),
    (r"=\s*\d{1,2}[/.]\d{1,2}[/.]\d{2,4}", "A date is written year first, as in 2026-03-28."),
    (r"=\s*\d{4}-\d{1,2}-\d{1,2}", "There is no such day; a date is written as in 2026-03-28."),
    (r"=\s*-?[\d.]+\s*[A-Za-z%]", "A number stands alone; its unit is in the key's name."),
    (r"=\s*(#.*)?$", "Nothing stands behind the =; without a value, leave the key out."),
    (r"=\s*[A-Za-z_]", 'Text goes in double quotes, as in layout = "auto".'),
    (r'=\s*"[^"]*$', "The closing double quote is missing."),
    (r"^\s*\[[^\]]*$", "The closing bracket is missing, as in [links.indicator]."),
    (r"^\s*[\w.-]+\s*(#.*)?$", "A heading stands in brackets, as in [links.indicator]; a key has = and a value."),
    (r"^\s*[\w.-]+\s*:", "Between key and value stands =."),
)
"""Patterns of a line that TOML does not take, and what would be right; the first that fits is told."""


NUMBER = ("must be a number", "Write it alone, with a point and without a unit or quotes.")
WHOLE = ("must be a whole number", "Write it alone, without a unit or quotes.")
LIST = ("must be a list", "Write it in brackets, as in {key} = [ … ].")
TABLE = ("must be a table", "Write its keys below a heading in brackets, or in braces: {{ key = … }}.")
DATE = ("must be a date", "Write it year first and without quotes, as in 2026-03-28.")
VALUES: Mapping[str, Wording] = {
    "string_type": ("must be text", 'Write it in double quotes, as in {key} = "…".'),
    "bool_type": ("must be true or false", "Write it without quotes."),
    "bool_parsing": ("must be true or false", "Write it without quotes."),
    **dict.fromkeys(["int_parsing", "int_type", "int_from_float", "int_parsing_size"], WHOLE),
    **dict.fromkeys(["float_parsing", "float_type", "decimal_parsing", "decimal_type", "finite_number"], NUMBER),
    **dict.fromkeys(["tuple_type", "list_type"], LIST),
    **dict.fromkeys(["model_type", "model_attributes_type", "dict_type"], TABLE),
    **dict.fromkeys(["date_type", "date_parsing", "date_from_datetime_parsing", "date_from_datetime_inexact"], DATE),
    "greater_than": ("must be more than {gt:g}", ""),
    "greater_than_equal": ("must be at least {ge:g}", ""),
    "less_than": ("must be less than {lt:g}", ""),
    "less_than_equal": ("must be at most {le:g}", ""),
    "literal_error": ("must be {expected}", ""),
    "string_too_long": ("must be at most {max_length} letters", ""),
}
"""What pydantic's errors (their types are documented as stable) mean to a person."""
EMPTY = frozenset({"string_too_short", "too_short"})


def of_toml(message: str, text: str) -> tuple[int, str, str]:
    """Explain why a text is no TOML, from tomllib's message: in which line, what, and what would be right."""
    found = re.search(r"at line (\d+)", message)
    number = int(found[1]) if found else len(text.splitlines())
    lines = text.splitlines()
    line = lines[number - 1].strip() if 0 < number <= len(lines) else ""
    if message.startswith(("Cannot declare", "Cannot overwrite", "Cannot mutate", "Cannot redefine")):
        hint = "One of a kind has a name of its own; several without a name have double brackets, as in [[draft]]."
        return number, f"{line} is there twice", hint
    hint = next((hint for pattern, hint in TOML_MISTAKES if re.search(pattern, line)), "")
    what = f"this line cannot be read: {line}" if line else "something is not closed at the end of the file"
    return number, what, hint


def _given(value: Any) -> str:
    """Spell a value as it was written, shortened."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, Mapping):
        return "a table"
    if isinstance(value, list):
        return "a list"
    text = f"'{value}'" if isinstance(value, str) else str(value)
    return text if len(text) <= 60 else text[:57] + "…"


def of_value(error: Mapping[str, Any], key: str) -> Wording:
    """Explain what is wrong with a value, from one of pydantic's errors, and what would be right."""
    kind, given = error["type"], error["input"]
    if kind in EMPTY:
        return "must not be empty", "Write something, or leave the key out."
    if VALUES.get(kind) is LIST and isinstance(given, Mapping):
        return "must be a list, not a table", f"Write [[{key}]] with double brackets, or {key} = [{{ … }}]."
    wanted, hint = VALUES.get(kind, (f"{error['msg'][0].lower()}{error['msg'][1:]}", ""))
    if kind in VALUES:
        values = {"key": key, **error.get("ctx", {})}
        wanted, hint = wanted.format_map(values), hint.format_map(values)
    return f"{wanted}, not {_given(given)}", hint
