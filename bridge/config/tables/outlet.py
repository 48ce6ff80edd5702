"""The table of an outlet: where events go."""

import re
from typing import Literal, Self
from urllib.parse import parse_qsl, urlsplit

from pydantic import Field, model_validator

from neckyoke.bridge.config.tables.values import Prefix, Table, real_port

HOST = r"(\[[0-9A-Fa-f:.]+\]|[^/:?#\s]+)(:[0-9]{1,5})?"
FORMS = {
    "mqtt": (
        rf"(mqtts?://{HOST}|wss?://{HOST}(/\S*)?)",
        "mqtt://host:port, or mqtts://host:port for TLS; ws://, wss://",
    ),
    "http": (rf"https?://{HOST}(/\S*)?", "https://host/path"),
    "influx": (rf"https?://{HOST}/\S*", "http://host:8086/write?db=farm, or …/api/v2/write?org=farm&bucket=yards"),
    "sql": (rf"(sqlite:\S+|postgresql://([^@/\s]+@)?{HOST}/\S+)", "sqlite:farm.db or postgresql://user@host/farm"),
}
"""The kinds of outlet that have an address, and how it is written."""
KINDS = ("file", *FORMS)
OF_KIND = {
    "rotate_mb": {"file"},
    "rotate_daily": {"file"},
    "protocol": {"mqtt"},
    "prefix": {"mqtt"},
    "client_id": {"mqtt"},
    "keepalive_s": {"mqtt"},
    "discovery": {"mqtt"},
    "events": {"http"},
    "token_file": {"http", "influx"},
    "token_env": {"http", "influx"},
    "username": {"mqtt", "http", "influx", "sql"},
    "password_file": {"mqtt", "http", "influx", "sql"},
    "password_env": {"mqtt", "http", "influx", "sql"},
    "ca_file": {"mqtt", "http", "influx", "sql"},
    "certificate_file": {"mqtt", "http", "influx", "sql"},
    "key_file": {"mqtt", "http", "influx", "sql"},
}


class OutletTable(Table):
    """Where events go: exactly one of `file`, `mqtt`, `http`, `sql` and `influx`."""

    file: str | None = None
    rotate_mb: float = Field(default=50.0, gt=0)
    rotate_daily: bool = False

    mqtt: str | None = Field(default=None, description="mqtt:// or mqtts:// (TLS); over WebSocket ws:// or wss://")
    protocol: Literal["5", "3.1.1"] = "5"
    prefix: Prefix = "neckyoke"
    client_id: str | None = None
    keepalive_s: int = Field(default=15, ge=2, le=3600)
    discovery: Prefix | None = Field(
        default=None, description="the topic below which home automation looks for devices, such as homeassistant"
    )

    http: str | None = Field(default=None, description="https://… that takes CloudEvents by POST")
    events: Literal["structured", "binary", "batch"] = Field(
        default="structured", description="how CloudEvents are put into a request"
    )
    influx: str | None = Field(default=None, description="where InfluxDB line protocol is taken by POST")
    token_file: str | None = Field(default=None, description="a file with the bearer token")
    token_env: str | None = None

    sql: str | None = Field(default=None, description="sqlite:farm.db, or postgresql://user@host/farm (extra: sql)")

    username: str | None = None
    password_file: str | None = None
    password_env: str | None = None
    ca_file: str | None = None
    certificate_file: str | None = None
    key_file: str | None = None

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        kinds = [kind for kind in KINDS if getattr(self, kind) is not None]
        if len(kinds) != 1:
            raise ValueError(
                'an outlet has either file = "events.jsonl" or mqtt = "mqtt://broker:1883", or http, sql or influx'
            )
        kind = kinds[0]
        for key, kinds_of_key in OF_KIND.items():
            if key in self.model_fields_set and kind not in kinds_of_key:
                raise ValueError(f"{key} does not belong to an outlet with {kind}")
        if kind in FORMS:
            _address(kind, getattr(self, kind))
        return self


def _address(kind: str, url: str) -> None:
    """Refuse an address of the wrong form, and one with a secret in it, which is shown."""
    pattern, form = FORMS[kind]
    parts = urlsplit(url)
    if parts.password is not None or ("@" in parts.netloc and kind != "sql"):
        raise ValueError(f"a login does not belong into {kind}, which is shown; give username and password_file")
    if any(name in {"token", "p", "password"} for name, _ in parse_qsl(parts.query)):
        raise ValueError(f"a secret does not belong into {kind}, which is shown; give token_file or password_file")
    if not re.fullmatch(pattern, url):
        raise ValueError(f"{kind} is written {form}")
    real_port(f"{parts.scheme}://{parts.netloc.rpartition('@')[2]}")
