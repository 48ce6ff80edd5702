"""How what a person writes in a sheet or a roster is understood: column names, values, words for an animal's sex."""

import re
from collections.abc import Iterable
from datetime import date
from typing import Any, Literal

from neckyoke.bridge.config.problems import nearest

MALE = ("bull", "steer", "ram", "wether", "buck", "boar", "barrow", "male", "castrate")
FEMALE = ("cow", "heifer", "ewe", "doe", "gilt", "sow", "female")
OTHER = ("calf", "lamb", "kid", "mixed")
SHORT = {"m": "male", "f": "female", "c": "castrate"}


def column_name(text: str) -> str:
    """Spell a column or key in one way: small letters, with _ for anything between words."""
    return re.sub(r"\W+", "_", text.casefold()).strip("_") or text.strip()


def spell_value(value: Any) -> Any:
    """Spell a value as JSON can carry it: a date as YYYY-MM-DD, all else as it is."""
    return value.isoformat() if isinstance(value, date) else value


def known_sex(text: str) -> str:
    """Return the word for a sex in small letters.  Raises ValueError with the nearest known word."""
    word = text.strip().casefold()
    word = SHORT.get(word, word)
    known = (*MALE, *FEMALE, *OTHER)
    if word not in known:
        raise ValueError(f"{text!r} is no sex known here. {nearest(word, known)}")
    return word


def male_or_female(sex: str | None) -> Literal["male", "female"] | None:
    """Return which of the two a word stands for; None when it does not tell."""
    return "male" if sex in MALE else "female" if sex in FEMALE else None


def treatment_meant(text: str, names: Iterable[str]) -> str:
    """Find the treatment of a sheet that a person names, whole or by a part that no other has.

    Raises ValueError saying what there is.
    """
    word, known = text.strip().casefold(), list(names)
    whole = [name for name in known if name.strip().casefold() == word]
    found = whole or [name for name in known if word in name.casefold()]
    if len(found) == 1:
        return found[0]
    if not known:
        raise ValueError("There is no job sheet with treatments for this animal, so there is none to skip.")
    if found:
        raise ValueError(f"{text!r} may be any of these: {', '.join(found)}.")
    raise ValueError(f"No treatment {text!r} on this sheet; there is: {', '.join(known)}.")
