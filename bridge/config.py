"""The configuration file: TOML in, checked values out, and errors that say what to write instead.

Times are seconds, weights kilograms.  Unknown keys are refused with the nearest known one named.  Paths are relative to
the folder of the configuration file.
"""

import difflib
import os
import re
import tomllib
from pathlib import Path
from typing import Annotated, Any, ClassVar, Literal, Self

from pydantic import BaseModel, ConfigDict, Field, SecretStr, StringConstraints, ValidationError, model_validator

from bridge.events import Position
from bridge.links.address import Address, parse_address
from bridge.station.settings import Settings

Name = Annotated[str, StringConstraints(pattern=r"^[a-z0-9][a-z0-9_-]{0,31}$")]
"""Names of sites, links, stations and outlets: they become parts of topics and sources."""


class Problem(BaseModel):
    """One thing wrong in one file: where, what, and what would be right."""

    file: str
    where: str
    what: str
    hint: str = ""

    def __str__(self) -> str:
        """Say it in one line."""
        hint = f"  {self.hint}" if self.hint else ""
        return f"{self.file}: {self.where}: {self.what}.{hint}"


class ConfigError(ValueError):
    """The configuration cannot be used.  `problems` says why, one line each."""

    def __init__(self, problems: list[Problem]) -> None:
        super().__init__("\n".join(str(problem) for problem in problems))
        self.problems = problems


class Table(BaseModel):
    """Base of every table: closed, and read as TOML gives it."""

    model_config: ClassVar[ConfigDict] = ConfigDict(extra="forbid", frozen=True)


class Poll(Table):
    """A device that speaks only when asked: `send` every `every_s`."""

    send: str = Field(description=r"what to send, with \r \n \x05 and the like spelled out")
    every_s: float = Field(default=0.2, ge=0.02, le=60)


class LinkTable(Table):
    """One wire or radio to one device."""

    url: str
    layout: str = "auto"
    framing: str | None = Field(default=None, description="line, stx-etx or fixed:N; taken from the layout when absent")
    hex_order: Literal["value", "air"] = "value"
    silent_s: float | None = Field(default=None, gt=0, description="no bytes for so long means silent; a scale: 5 s")
    reopen_when_silent: bool = False
    poll: Poll | None = None
    zero_command: str | None = None
    tare_command: str | None = None

    @model_validator(mode="after")
    def _address(self) -> Self:
        parse_address(self.url)
        return self

    @property
    def address(self) -> Address:
        """The URL taken apart."""
        return parse_address(self.url)


class ReaderTable(Table):
    """A tag reader of a station and where it stands."""

    link: Name
    position: Position = "platform"


class StationTable(Table):
    """One place where animals are weighed."""

    scale: Name
    readers: tuple[ReaderTable, ...] = ()
    capacity_kg: float = Field(default=2000.0, gt=0)
    interval_kg: float = Field(default=0.5, gt=0)
    smallest_kg: float = Field(default=25.0, gt=0)
    require_tag: bool = False
    sheet: str | None = None


class OutletTable(Table):
    """Where events go: exactly one of `file` and `mqtt`."""

    file: str | None = None
    rotate_mb: float = Field(default=50.0, gt=0)
    rotate_daily: bool = False

    mqtt: str | None = None
    username: str | None = None
    password_file: str | None = None
    password_env: str | None = None
    protocol: Literal["5", "3.1.1"] = "5"
    prefix: Annotated[str, StringConstraints(pattern=r"^[a-z0-9_-]+(/[a-z0-9_-]+)*$")] = "neckyoke"
    ca_file: str | None = None
    certificate_file: str | None = None
    key_file: str | None = None
    client_id: str | None = None
    keepalive_s: int = Field(default=15, ge=2, le=3600)

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        if (self.file is None) == (self.mqtt is None):
            raise ValueError('an outlet has either file = "events.jsonl" or mqtt = "mqtt://broker:1883"')
        if self.mqtt is not None and not re.match(r"^mqtts?://[^/]+$", self.mqtt):
            raise ValueError("mqtt is written mqtt://host:port, or mqtts://host:port for TLS")
        return self


class JournalTable(Table):
    """The durable store."""

    path: str = "neckyoke.db"
    keep_days: float = Field(default=400.0, gt=0)
    keep_mb: float = Field(default=500.0, gt=1)


class CaptureTable(Table):
    """Recording of what the devices send, for replay: a ring of gzip files."""

    folder: str | None = None
    part_mb: float = Field(default=5.0, gt=0)
    parts: int = Field(default=20, ge=2)


class ControlTable(Table):
    """The local socket for requests and status."""

    socket: str = "neckyoke.sock"
    mode: str = Field(default="0660", pattern=r"^0?[0-7]{3}$")


class PageTable(Table):
    """The page for the phone in the yard; off unless the table is there."""

    listen: str = Field(default="127.0.0.1:8370", pattern=r"^\[?[^\s]+\]?:[0-9]{1,5}$")


class LayoutTable(Table):
    """A scale frame described by the user: see DEVELOPERS.md, "Add a layout".  Passed to protocols.layouts as it is."""

    model_config: ClassVar[ConfigDict] = ConfigDict(extra="allow", frozen=True)


class Config(Table):
    """The whole file.  `folder` is where it lies; set by `load_config`."""

    site: Name
    links: dict[Name, LinkTable]
    stations: dict[Name, StationTable]
    outlets: dict[Name, OutletTable] = Field(default_factory=dict)
    layouts: dict[Name, LayoutTable] = Field(default_factory=dict)
    journal: JournalTable = JournalTable()
    capture: CaptureTable = CaptureTable()
    control: ControlTable = ControlTable()
    page: PageTable | None = None
    folder: Path = Field(default=Path(), exclude=True)

    def path(self, name: str) -> Path:
        """Resolve a path of the file against the folder the file lies in."""
        return self.folder / name

    def state_path(self, name: str) -> Path:
        """Resolve a path of what the daemon keeps: below $STATE_DIRECTORY (systemd) when set, else beside the file."""
        return Path(os.environ.get("STATE_DIRECTORY", "").split(":")[0] or self.folder) / name
