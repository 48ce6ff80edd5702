"""The configuration file: TOML in, checked values out, and errors that say what to write instead.

Times are seconds, weights kilograms.  Unknown keys are refused with the nearest known one named.  Paths are relative to
the folder of the configuration file.
"""

import os
import re
from collections.abc import Iterator, Sequence
from functools import cached_property
from pathlib import Path
from typing import Annotated, ClassVar, Literal, Self
from zoneinfo import ZoneInfo

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, model_validator

from neckyoke.bridge.config.address import Address, parse_address
from neckyoke.bridge.config.escapes import spelled_bytes
from neckyoke.bridge.config.problems import ConfigError, Problem, Source, nearest, problems_of, read_toml, wrong_kind
from neckyoke.bridge.config.zone import machine_zone, zone_named
from neckyoke.bridge.events import Position
from neckyoke.bridge.station.settings import MOST_PLACES

LARGEST_PORT = 65535
BROKER = re.compile(r"mqtts?://(\[[0-9A-Fa-f:.]+\]|[^/:?#\s]+)(:[0-9]{1,5})?")


def _shaped(pattern: str, shape: str) -> AfterValidator:
    """Take only text of a form, which `shape` says in words."""

    def check(text: str) -> str:
        if re.fullmatch(pattern, text) is None:
            raise ValueError(f"{text!r} has the wrong form: write {shape}")
        return text

    return AfterValidator(check)


def _spelled(text: str) -> str:
    if not spelled_bytes(text):
        raise ValueError("nothing would be sent: write what the device takes, or leave the key out")
    return text


def _real_port(url: str) -> str:
    """Refuse a port that no computer has."""
    port = url.rpartition(":")[2]
    if port.isdecimal() and int(port) > LARGEST_PORT:
        raise ValueError(f"{url!r}: ports end at {LARGEST_PORT}")
    return url


def _zone(name: str) -> str:
    return zone_named(name).key


Name = Annotated[str, _shaped(r"[a-z0-9][a-z0-9_-]{0,31}", "up to 32 small letters, digits, - and _")]
"""Names of sites, links, stations and outlets: they become parts of topics and sources."""
ToSend = Annotated[str, AfterValidator(_spelled)]
r"""What to send a device, with \r \n \x05 and the like spelled out."""
Prefix = Annotated[str, _shaped(r"[a-z0-9_-]+(/[a-z0-9_-]+)*", "small letters, as in neckyoke or farm/yards")]
Mode = Annotated[str, _shaped(r"0?[0-7]{3}", "an octal mode such as 0660")]
Listen = Annotated[
    str,
    _shaped(r"[^\s]+:[0-9]{1,5}", "an address of this box and a port, such as 0.0.0.0:8370"),
    AfterValidator(_real_port),
]

BESIDE_STATIONS = ("link", "status", "check")
"""Topics that stand beside those of the stations (`bridge/outlets/asyncapi.py`)."""
USUAL = Path("neckyoke.toml")
INSTALLED = Path("/etc/neckyoke")
"""Where the configuration of the daemon lies that systemd runs (`neckyoke service install`)."""


class Table(BaseModel):
    """Base of every table: closed, and read as TOML gives it."""

    model_config: ClassVar[ConfigDict] = ConfigDict(extra="forbid", frozen=True, ignored_types=(cached_property,))


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
    prefix: Prefix = "neckyoke"
    ca_file: str | None = None
    certificate_file: str | None = None
    key_file: str | None = None
    client_id: str | None = None
    keepalive_s: int = Field(default=15, ge=2, le=3600)

    @model_validator(mode="after")
    def _one_kind(self) -> Self:
        if (self.file is None) == (self.mqtt is None):
            raise ValueError('an outlet has either file = "events.jsonl" or mqtt = "mqtt://broker:1883"')
        if self.mqtt is not None and "@" in self.mqtt:
            raise ValueError("a login does not belong into mqtt, which is shown; give username and password_file")
        if self.mqtt is not None and not BROKER.fullmatch(self.mqtt):
            raise ValueError("mqtt is written mqtt://host:port, or mqtts://host:port for TLS")
        _real_port(self.mqtt or "")
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
    mode: Mode = "0660"


class PageTable(Table):
    """The page for the phone in the yard; off unless the table is there."""

    listen: Listen = "127.0.0.1:8370"
    hosts: tuple[str, ...] = Field(default=(), description="further names by which phones reach this box")
    code_file: str = Field(default="page.code", description="the access code's hash: neckyoke page code makes it")


class LayoutTable(Table):
    """A scale frame described by the user: see DEVELOPERS.md, "Add a layout".  Passed on as it is."""

    model_config: ClassVar[ConfigDict] = ConfigDict(extra="allow", frozen=True)


class Config(Table):
    """The whole file.  `folder` is where it lies; set by `load_config`."""

    site: Name
    timezone: Annotated[str, AfterValidator(_zone)] | None = Field(
        default=None, description="of all dates that people read, such as Pacific/Auckland; this machine's when absent"
    )
    links: dict[Name, LinkTable]
    stations: dict[Name, StationTable]
    outlets: dict[Name, OutletTable] = Field(default_factory=dict)
    layouts: dict[Name, LayoutTable] = Field(default_factory=dict)
    journal: JournalTable = JournalTable()
    capture: CaptureTable = CaptureTable()
    control: ControlTable = ControlTable()
    page: PageTable | None = None
    state: str | None = Field(
        default=None, description="the folder for what the daemon keeps, such as /var/lib/neckyoke"
    )
    folder: Path = Field(default=Path(), exclude=True)

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
    config = Config.model_validate(table).model_copy(update={"folder": path.resolve().parent})
    if problems := list(_cross_check(config, Source(path))):
        raise ConfigError(problems)
    return config


def _cross_check(config: Config, source: Source) -> Iterator[Problem]:
    """Check what one table says of another."""
    links = sorted(config.links)
    used: dict[str, str] = {}
    for name, station in config.stations.items():
        table = ("stations", name)
        roles: list[tuple[str, Sequence[str | int], str]] = [("scale", ("scale",), station.scale)]
        roles += [("reader", ("readers", at, "link"), reader.link) for at, reader in enumerate(station.readers)]
        for role, key, link in roles:
            if link not in config.links:
                yield source.problem((*table, *key), f"there is no link {link!r}", nearest(link, links))
            elif used.setdefault(link, role) != role:
                what = f"link {link!r} is already used as {used[link]}"
                yield source.problem((*table, *key), what, "A link is either a scale or a reader.")
        if name in BESIDE_STATIONS:
            what = f"a station cannot be called {name!r}: that part of the topics is taken"
            yield source.problem(table, what, "Call it after its place, as in [stations.crush].")
        if station.smallest_kg >= station.capacity_kg:
            yield source.problem((*table, "smallest_kg"), "is not below capacity_kg", "25 suits cattle and sheep.")
    if not config.stations:
        yield source.problem(("stations",), "there is none", 'Add [stations.crush] with scale = "…".')
    yield from _check_urls(config, source)
    yield from _check_readers(config, source)
    yield from _check_layouts(config, source)


def shared_urls(config: Config) -> Iterator[tuple[str, str]]:
    """Yield each link that leads to the device of an earlier one, and that one's name."""
    first: dict[tuple[str, str, int], str] = {}
    for name, link in config.links.items():
        address = link.address
        other = first.setdefault((address.scheme, address.target, address.port), name)
        if other != name:
            yield name, other


def _check_urls(config: Config, source: Source) -> Iterator[Problem]:
    """Refuse one device under two names where it can be opened but once; a TCP port may serve two."""
    for name, other in shared_urls(config):
        if config.links[name].address.scheme != "tcp":
            hint = "Each device has a url of its own; `neckyoke ports` shows those that are plugged in."
            yield source.problem(("links", name, "url"), f"is the url of link {other!r} already", hint)


def _check_readers(config: Config, source: Source) -> Iterator[Problem]:
    """Refuse a reader that two stations hear, unless it is carried about: a tag would be at both at once."""
    first: dict[str, tuple[str, Position]] = {}
    for name, station in config.stations.items():
        for at, reader in enumerate(station.readers):
            other, position = first.setdefault(reader.link, (name, reader.position))
            if other != name and not position == reader.position == "hand":
                what = f"link {reader.link!r} is already a reader of {other}, and its tags would be at both"
                hint = 'Give each station its own reader; only one that is carried, position = "hand", may serve two.'
                yield source.problem(("stations", name, "readers", at, "link"), what, hint)


def _check_layouts(config: Config, source: Source) -> Iterator[Problem]:
    from neckyoke.protocols.decoder import scale_decoder, tag_decoder
    from neckyoke.protocols.scale.builtin import LayoutError, layout_from_table

    made = {}
    for name, table in config.layouts.items():
        try:
            made[name] = layout_from_table(name, table.model_dump())
        except LayoutError as error:
            place, _, what = str(error).partition(": ")  # layouts.NAME.KEY: what is wrong
            yield source.problem(place.split("."), what)
    scales = {station.scale for station in config.stations.values()}
    for name, link in config.links.items():
        try:
            if name in scales:
                scale_decoder(link.layout, link.framing, made)
            else:
                tag_decoder(link.framing, link.hex_order)
        except LayoutError as error:
            if link.layout not in config.layouts or link.layout in made:  # else said above
                key = "framing" if str(error).startswith("framing") else "layout"
                yield source.problem(("links", name, key), str(error))
