"""What is wrong with a file a person wrote, said so that they can mend it: file, line, key, what would be right."""

import difflib
import tomllib
import typing
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError


class Problem(BaseModel):
    """One thing wrong in one file: where, what, and what would be right."""

    file: str
    where: str
    what: str
    hint: str = ""

    def __str__(self) -> str:
        """Say it in one line."""
        hint = f"  {self.hint}" if self.hint else ""
        stop = "" if self.what.endswith((".", "?")) else "."
        return f"{self.file}: {self.where}: {self.what}{stop}{hint}"


class ConfigError(ValueError):
    """A file cannot be used.  `problems` says why, one line each."""

    def __init__(self, problems: Sequence[Problem]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = tuple(problems)


def nearest(word: str, known: Iterable[str]) -> str:
    """Name the known word nearest to an unknown one, or all of them."""
    words = sorted(known)
    close = difflib.get_close_matches(word, words, n=1, cutoff=0.6)
    if close:
        return f"Did you mean {close[0]!r}?"
    return f"Known: {', '.join(words)}." if words else ""


def read_toml(path: Path) -> dict[str, Any]:
    """Read a TOML file.  Raises ConfigError when it is missing, unreadable or no TOML."""
    try:
        return tomllib.loads(path.read_bytes().decode())
    except FileNotFoundError:
        raise ConfigError([_whole(path, "there is no such file", "Give the path of an existing file.")]) from None
    except OSError as error:
        raise ConfigError([_whole(path, f"cannot be read: {error.strerror}")]) from None
    except UnicodeDecodeError:
        raise ConfigError([_whole(path, "is not UTF-8 text", "Save it as UTF-8.")]) from None
    except tomllib.TOMLDecodeError as error:
        hint = 'Text goes in double quotes, as in layout = "auto".'
        raise ConfigError([_whole(path, f"is not valid TOML: {error}", hint)]) from None


def _whole(path: Path, what: str, hint: str = "") -> Problem:
    return Problem(file=str(path), where="file", what=what, hint=hint)


def problems_of(model: type[BaseModel], table: Mapping[str, Any], path: Path) -> list[Problem]:
    """Check a table against a model and say every problem in plain words; an empty list when there is none."""
    try:
        model.model_validate(table)
    except ValidationError as error:
        lines = path.read_text(encoding="utf-8").splitlines() if path.is_file() else []
        return [_plain(model, one, str(path), lines) for one in error.errors(include_url=False)]
    return []


def _plain(model: type[BaseModel], error: Any, file: str, lines: Sequence[str]) -> Problem:
    """Turn one pydantic error into a problem."""
    loc: tuple[Any, ...] = tuple(part for part in error["loc"] if part != "[key]")
    kind, key = error["type"], str(loc[-1]) if loc else ""
    where = _where(loc, lines)
    if kind == "extra_forbidden":
        hint = nearest(key, _known_keys(model, loc[:-1]))
        return Problem(file=file, where=where, what=f"unknown key {key!r}", hint=hint)
    if kind == "missing":
        return Problem(file=file, where=where, what=f"the key {key!r} is missing", hint=f"Add {key} = …")
    if kind == "string_pattern_mismatch":
        shape = "small letters, digits, - and _" if "{0,31}" in error["ctx"]["pattern"] else error["ctx"]["pattern"]
        return Problem(file=file, where=where, what=f"{error['input']!r} has the wrong form", hint=f"Use {shape}.")
    if kind == "value_error":
        return Problem(file=file, where=where, what=str(error["ctx"]["error"]))
    what = f"{error['msg'][0].lower()}{error['msg'][1:]}, not {error['input']!r}"
    return Problem(file=file, where=where, what=what)


def _where(loc: Sequence[Any], lines: Sequence[str]) -> str:
    """Spell a place as a table and a key, with its line when it can be found."""
    names = [str(part) for part in loc if not isinstance(part, int)]
    place = next((part for part in loc if isinstance(part, int)), 0)  # which of several [[tables]] of one name
    tables, key = names[:-1], names[-1] if names else ""
    spelled = f"[{'.'.join(tables)}] {key}" if tables else key or "file"
    inside = not tables
    seen: Counter[str] = Counter()
    for number, line in enumerate(lines, 1):
        text = line.strip()
        if text.startswith("["):
            head = text.strip("[] ").split("]")[0].replace('"', "")
            seen[head] += 1
            inside = head == ".".join(tables[: head.count(".") + 1]) and bool(tables) and seen[head] > place
            if head == ".".join(names) and seen[head] > place:
                return f"line {number}, [{head}]"
        elif inside and text.split("=")[0].strip() == key:
            return f"line {number}, {spelled}"
    return spelled


def _known_keys(model: Any, loc: Sequence[Any]) -> list[str]:
    """List the keys that the table at a place may have."""
    here, by_name = model, False
    for part in (name for name in loc if not isinstance(name, int)):
        if by_name:  # the name of a link or a station, not a key
            by_name = False
        elif isinstance(here, type) and issubclass(here, BaseModel) and str(part) in here.model_fields:
            annotation = here.model_fields[str(part)].annotation
            here, by_name = _inner(annotation), typing.get_origin(annotation) is dict
    return list(here.model_fields) if isinstance(here, type) and issubclass(here, BaseModel) else []


def _inner(annotation: Any) -> Any:
    """Find the model inside Optional[M], dict[str, M] or tuple[M, ...]; plain M is itself."""
    if isinstance(annotation, type) and not typing.get_args(annotation):
        return annotation
    for inner in typing.get_args(annotation):
        found = _inner(inner)
        if isinstance(found, type) and issubclass(found, BaseModel):
            return found
    return None
