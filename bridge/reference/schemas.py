"""The JSON Schemas of what is published, made from the models, and each in two forms.

    open     what recorders validate with: fields may be added to data, and extension attributes to the envelope
    closed   what our own tests validate with: nothing is there that the models do not have

The envelope's schema ties `data` to `type`.  What is always written is required.  A title stands at each model and
nowhere else, so that generated code has the models' names; a time has the format date-time (RFC 3339).
"""

from typing import Any

from pydantic import BaseModel
from pydantic.json_schema import models_json_schema

from neckyoke.bridge.events import FLAG_TEXT, MODELS, VERSION, Event, Flag

DIALECT = "https://json-schema.org/draft/2020-12/schema"
NAMES = ("event", *(name.removeprefix("neckyoke.") for name in MODELS))
NOT_ALWAYS = frozenset({"subject", "sequence", "safe"})
"""Attributes that an event leaves out when there is nothing to say (Event.to_json)."""


def schema(name: str, *, closed: bool = False) -> dict[str, Any]:
    """Make the schema of the envelope (event), or of the data of one type of event."""
    if name == "event":
        return {"$schema": DIALECT, "$id": f"urn:neckyoke:event:{VERSION}", **_events(closed=closed)}
    model = MODELS[f"neckyoke.{name}"]
    made = tidy(model.model_json_schema(mode="serialization"), closed=closed)
    return {"$schema": DIALECT, "$id": f"urn:neckyoke:{name}:{VERSION}", **made}


def _events(*, closed: bool) -> dict[str, Any]:
    """Put the envelope of every type beside each other: each with its own data."""
    models: list[type[BaseModel]] = [Event, *MODELS.values()]
    written = models_json_schema([(model, "serialization") for model in models])[1]["$defs"]
    defs = tidy(written, closed=closed)
    envelope = defs.pop("Event")
    for name in NOT_ALWAYS:  # left out, never null
        said = [one for one in envelope["properties"][name]["anyOf"] if one.get("type") != "null"]
        (envelope["properties"][name],) = said
    kinds = {}
    for kind, model in MODELS.items():
        title = f"{model.__name__}Event"
        kinds[title] = {
            **envelope,
            "title": title,
            "description": f"An event of type {kind}.",
            "properties": {
                **envelope["properties"],
                "type": {"const": kind, "type": "string"},
                "dataschema": {"const": f"urn:neckyoke:{kind.removeprefix('neckyoke.')}:{VERSION}", "type": "string"},
                "data": {"$ref": f"#/$defs/{model.__name__}"},
            },
        }
    return {
        "title": "Event",
        "description": envelope["description"],
        "oneOf": [{"$ref": f"#/$defs/{title}"} for title in kinds],
        "$defs": {**kinds, **defs},
    }


def tidy(made: Any, *, closed: bool) -> Any:
    """Take away the titles of properties, and what closes a model; say what each flag means."""
    if isinstance(made, list):
        return [tidy(one, closed=closed) for one in made]
    if not isinstance(made, dict):
        return made
    out = {key: tidy(value, closed=closed) for key, value in made.items()}
    if isinstance(out.get("properties"), dict):
        for value in out["properties"].values():
            value.pop("title", None)
        if out.get("title") == "Event":
            out["required"] = [name for name in out["required"] if name not in NOT_ALWAYS]
        if not closed and out.get("additionalProperties") is False:
            del out["additionalProperties"]
    if out.get("title") == Flag.__name__:
        out["description"] = "  ".join(f"{flag.value}: {text}" for flag, text in FLAG_TEXT.items())
    return out
