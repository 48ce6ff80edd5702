"""What is wrong with a file a person wrote, said so that they can mend it: file, line, key, what would be right."""

import difflib
import re
import tomllib
import typing
from collections import Counter
from collections.abc import Iterable, Mapping, Sequence
from pathlib import Path
from typing import Any

from pydantic import BaseModel, ValidationError

from neckyoke.bridge.config.wording import of_toml, of_value

TOML_MAX = 4_000_000
"""Bytes of a file that a person writes."""
MEANT = {"password": "A password does not stand here: write it into a file of its own, and name that: password_file."}
"""Keys that people write where there is none of the name."""


class Problem(BaseModel):
    """One thing wrong in one file: where, what, and what would be right."""

    file: str
    where: str
    what: str
    hint: str = ""

    def __str__(self) -> str:
        """Return it in one line."""
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
    text = ""
    try:
        with path.open("rb") as file:
            body = file.read(TOML_MAX + 1)
        if len(body) > TOML_MAX:
            raise ConfigError([_whole(path, f"is larger than {TOML_MAX // 1_000_000} MB", "Is it the right file?")])
        text = body.decode("utf-8-sig")  # some editors put a mark in front
        return tomllib.loads(text)
    except RecursionError:
        raise ConfigError([_whole(path, "is nested too deeply", "Take some of the brackets out.")]) from None
    except FileNotFoundError:
        raise ConfigError([_whole(path, "there is no such file", "Give the path of an existing file.")]) from None
    except IsADirectoryError:
        raise ConfigError([_whole(path, "is a folder", "Give the path of a file.")]) from None
    except PermissionError:
        raise ConfigError([_whole(path, "this user may not read it", "Run it with sudo.")]) from None
    except OSError as error:
        raise ConfigError([_whole(path, f"cannot be read: {error.strerror}")]) from None
    except UnicodeDecodeError:
        raise ConfigError([_whole(path, "is not UTF-8 text", "Save it as UTF-8.")]) from None
    except tomllib.TOMLDecodeError as error:
        number, what, hint = of_toml(str(error), text)
        raise ConfigError([Problem(file=str(path), where=f"line {number}", what=what, hint=hint)]) from None


def _whole(path: Path, what: str, hint: str = "") -> Problem:
    return Problem(file=str(path), where="file", what=what, hint=hint)


class Source:
    """A file as its problems name it: a place in it by its line, its table and its key."""

    def __init__(self, path: Path) -> None:
        self.path = path
        self._lines = path.read_text(encoding="utf-8-sig").splitlines() if path.is_file() else []

    def problem(self, loc: Sequence[Any], what: str, hint: str = "") -> Problem:
        """Return what is wrong at a place: the names down to a key, and numbers where there are several of one name."""
        return Problem(file=str(self.path), where=self._where(loc), what=what, hint=hint)

    def _where(self, loc: Sequence[Any]) -> str:
        names = [str(part) for part in loc if not isinstance(part, int)]
        tables, key = names[:-1], names[-1] if names else ""
        number, whole = self._line(loc)
        spelled = f"[{'.'.join(names)}]" if whole else f"[{'.'.join(tables)}] {key}" if tables else key or "file"
        return f"line {number}, {spelled}" if number else spelled

    def _line(self, loc: Sequence[Any]) -> tuple[int, bool]:
        """Find the line of a place, or of what it stands in; 0 when there is none.  Tells whether it is a heading."""
        below: Sequence[Any] | None = loc
        nearest_heading = 0
        seen: Counter[str] = Counter()
        for number, line in enumerate(self._lines, 1):
            text = line.strip()
            if text.startswith("["):
                head = text.strip("[] ").split("]")[0].replace('"', "")
                seen[head] += 1
                below = _below(loc, head.split("."), seen[head])
                if below is not None:
                    nearest_heading = number
                    if not below:
                        return number, True
            elif below and re.split(r"[=.]", text)[0].strip(" \"'") == below[0]:
                return number, False
        return nearest_heading, False


def _below(loc: Sequence[Any], head: Sequence[str], nth: int) -> Sequence[Any] | None:
    """Return what of a place lies below the nth table with a heading; None when the place is elsewhere."""
    if list(loc[: len(head)]) != list(head):
        return None
    rest = loc[len(head) :]
    if rest and isinstance(rest[0], int):  # which of several [[tables]] of one name
        return rest[1:] if rest[0] == nth - 1 else None
    return rest


def problems_of(model: type[BaseModel], table: Mapping[str, Any], path: Path) -> list[Problem]:
    """Check a table against a model and say every problem in plain words; an empty list when there is none."""
    ours = [key for key in table if key in model.model_fields and model.model_fields[key].exclude]
    found = [_unknown(model, (key,), Source(path)) for key in ours]
    try:
        model.model_validate({key: value for key, value in table.items() if key not in ours})
    except ValidationError as error:
        source = Source(path)
        found += [_plain(model, one, source) for one in error.errors(include_url=False)]
    return found


def wrong_kind(table: Mapping[str, Any], lacking: str, has: str, path: Path, what: str, hint: str) -> None:
    """Refuse (ConfigError) a file that is plainly of another kind in one sentence, instead of all its keys one by one.

    It lacks what each file of the wanted kind must have, and `has` what only another kind has.
    """
    if lacking not in table and has in table:
        raise ConfigError([_whole(path, what, hint)])


def _plain(model: type[BaseModel], error: Any, source: Source) -> Problem:
    """Turn one pydantic error into a problem."""
    loc: tuple[Any, ...] = tuple(part for part in error["loc"] if part != "[key]")
    key = str(loc[-1]) if loc else ""
    match error["type"]:
        case "extra_forbidden":
            return _unknown(model, loc, source)
        case "missing":
            return source.problem(loc, f"the key {key!r} is missing", f"Add {key} = …")
        case "value_error":
            return source.problem(loc, str(error["ctx"]["error"]))
        case _:
            return source.problem(loc, *of_value(error, key))


def _unknown(model: type[BaseModel], loc: Sequence[Any], source: Source) -> Problem:
    key = str(loc[-1])
    return source.problem(loc, f"unknown key {key!r}", MEANT.get(key) or nearest(key, _known_keys(model, loc[:-1])))


def _known_keys(model: Any, loc: Sequence[Any]) -> list[str]:
    """List the keys that the table at a place may have."""
    here, by_name = model, False
    for part in (name for name in loc if not isinstance(name, int)):
        if by_name:  # the name of a link or a station, not a key
            by_name = False
        elif isinstance(here, type) and issubclass(here, BaseModel) and str(part) in here.model_fields:
            annotation = here.model_fields[str(part)].annotation
            here, by_name = _inner(annotation), typing.get_origin(annotation) is dict
    if not (isinstance(here, type) and issubclass(here, BaseModel)):
        return []
    return [name for name, field in here.model_fields.items() if not field.exclude]


def _inner(annotation: Any) -> Any:
    """Find the model inside Optional[M], dict[str, M] or tuple[M, ...]; plain M is itself."""
    if isinstance(annotation, type) and not typing.get_args(annotation):
        return annotation
    for inner in typing.get_args(annotation):
        found = _inner(inner)
        if isinstance(found, type) and issubclass(found, BaseModel):
            return found
    return None
