"""A job sheet's text changed in one place, all else left as the person wrote it: comments, order, spacing (tomlkit)."""

from datetime import date

import tomlkit

from neckyoke.bridge.config.words import treatment_meant


def with_batch(
    text: str, treatment: str, *, batch: str | None, expires: date | None = None, product: str | None = None
) -> tuple[str, str]:
    """Return the sheet with another batch or product of one treatment, and the treatment's name before.

    A new batch without a date has none: the old one's is not its own.  Raises ValueError that says which treatments
    there are.
    """
    sheet = tomlkit.parse(text)
    tables = sheet.get("treatments", ())
    found = treatment_meant(treatment, [str(one["name"]) for one in tables] if isinstance(tables, list) else ())
    one = next(table for table in tables if str(table["name"]) == found)
    if batch is not None:
        one["batch"] = batch
        one.pop("expires", None)
    if expires is not None:
        one["expires"] = expires
    if product is not None:
        one["name"] = product
    return tomlkit.dumps(sheet), found
