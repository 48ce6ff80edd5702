"""The configuration file: TOML in, checked values out, and errors that say what to write instead.

Times are seconds, weights kilograms.  Unknown keys are refused with the nearest known one named.  Paths are relative to
the folder of the configuration file.
"""

import os
from functools import cached_property
from pathlib import Path
from typing import ClassVar, Literal, Self
from zoneinfo import ZoneInfo

from pydantic import ConfigDict, Field, model_validator

from neckyoke.bridge.config.address import Address, parse_address
from neckyoke.bridge.config.crosscheck import cross_check
from neckyoke.bridge.config.problems import ConfigError, Problem, Source, problems_of, read_toml, wrong_kind
from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.config.tables.values import Listen, Mode, Name, Table, ToSend, Zone
from neckyoke.bridge.config.zone import machine_zone, zone_named
from neckyoke.bridge.events import Position
from neckyoke.bridge.station.settings import DOUBT_PERCENT, MOST_PLACES

USUAL = Path("neckyoke.toml")
INSTALLED = Path("/etc/neckyoke")
"""Where the configuration of the daemon lies that systemd runs (`neckyoke service install`)."""


class Poll(Table):
    """A device that speaks only when asked: `send` every `every_s`."""

    send: ToSend
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
    zero_command: ToSend | None = None

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
    places: int | None = Field(
        default=None, ge=1, le=MOST_PLACES, description="how many animals fit between a reader ahead and the platform"
    )

    @model_validator(mode="after")
    def _only_ahead(self) -> Self:
        if self.places is not None and self.position != "ahead":
            raise ValueError('places belongs to a reader whose position is "ahead": only there animals queue behind it')
        return self


class StationTable(Table):
    """One place where animals are weighed."""

    scale: Name
    readers: tuple[ReaderTable, ...] = ()
    capacity_kg: float = Field(default=2000.0, gt=0)
    interval_kg: float = Field(default=0.5, gt=0)
    smallest_kg: float = Field(default=25.0, gt=0)
    require_tag: bool = False
    doubt_percent: float = Field(
        default=DOUBT_PERCENT, gt=0, lt=50, description="a tag more likely wrong than this is flagged tag-doubtful"
    )
    sheet: str | None = None


class JournalTable(Table):
    """The durable store."""

    path: str = "neckyoke.db"
    spare: str | None = Field(default=None, description="file on another disk, for what the journal cannot be given")
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
    mode: Mode = "0660"


class PageTable(Table):
    """The page for the phone in the yard; off unless the table is there."""

    listen: Listen = "127.0.0.1:8370"
    hosts: tuple[str, ...] = Field(default=(), description="further names by which phones reach this box")
    code_file: str = Field(default="page.code", description="the access code's hash: neckyoke page code makes it")


class MetricsTable(Table):
    """The figures for a monitor on a port of their own, without the page; off unless the table is there."""

    listen: Listen = "127.0.0.1:9370"


class LayoutTable(Table):
    """A scale frame described by the user: see DEVELOPERS.md, "Add a layout".  Passed on as it is."""

    model_config: ClassVar[ConfigDict] = ConfigDict(extra="allow", frozen=True)


class Config(Table):
    """The whole file.  `folder` is where it lies, `source` its own path; set by `load_config`."""

    site: Name
    timezone: Zone | None = Field(
        default=None, description="of all dates that people read, such as Pacific/Auckland; this machine's when absent"
    )
    property_name: str | None = Field(
        default=None,
        min_length=1,
        max_length=80,
        description="the farm's name as it stands on papers, such as Larkmoor Downs; `site` when absent",
    )
    links: dict[Name, LinkTable]
    stations: dict[Name, StationTable]
    outlets: dict[Name, OutletTable] = Field(default_factory=dict)
    layouts: dict[Name, LayoutTable] = Field(default_factory=dict)
    journal: JournalTable = JournalTable()
    capture: CaptureTable = CaptureTable()
    control: ControlTable = ControlTable()
    page: PageTable | None = None
    metrics: MetricsTable | None = None
    state: str | None = Field(
        default=None, description="the folder for what the daemon keeps, such as /var/lib/neckyoke"
    )
    folder: Path = Field(default=Path(), exclude=True)
    source: Path = Field(default=Path(), exclude=True)

    @cached_property
    def zone(self) -> ZoneInfo:
        """The farm's time zone."""
        return zone_named(self.timezone) if self.timezone else machine_zone()

    def path(self, name: str) -> Path:
        """Resolve a path of the file against the folder the file lies in."""
        return self.folder / name

    def state_path(self, name: str) -> Path:
        """Resolve a path of what the daemon keeps: below `state`, else where systemd puts it, else like `path`."""
        return self.folder / (self.state or self._given("STATE_DIRECTORY", "/var/lib/neckyoke")) / name

    @property
    def socket_path(self) -> Path:
        """The path of the daemon's socket: where systemd puts what lasts as long as a run, else as `state_path`."""
        return self.folder / (self.state or self._given("RUNTIME_DIRECTORY", "/run/neckyoke")) / self.control.socket

    def _given(self, variable: str, installed: str) -> str:
        """Return the folder that systemd made for the daemon; for the commands, that of the installed one."""
        return os.environ.get(variable, "").split(":")[0] or (installed if self.folder == INSTALLED else "")


def usual_config() -> Path:
    """Return the configuration that is meant when none is named: the one here, else the installed one.

    Raises ConfigError when there is neither.
    """
    for path in (USUAL, INSTALLED / USUAL):
        if os.access(path, os.F_OK):
            return path
    what = f"is neither here nor in {INSTALLED}"
    raise ConfigError([Problem(file=str(USUAL), where="file", what=what, hint="Name another by --config FILE.")])


def load_config(path: Path | None) -> Config:
    """Read and check a configuration file, the usual one for None.  Raises ConfigError with every problem found."""
    path = path or usual_config()
    table = read_toml(path)
    hint = "Name a configuration, such as neckyoke.toml; a sheet is named in it, under its station."
    wrong_kind(table, "site", "title", path, "is a job sheet, not a configuration", hint)
    problems = problems_of(Config, table, path)
    if problems:
        raise ConfigError(problems)
    config = Config.model_validate(table).model_copy(update={"folder": path.resolve().parent, "source": path.resolve()})
    if problems := list(cross_check(config, Source(path))):
        raise ConfigError(problems)
    return config
