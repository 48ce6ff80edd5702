"""The links of a site: the decoder of each, where its readings go, what was counted, and whether it can be read."""

from collections import Counter
from collections.abc import Iterator, Mapping
from collections.abc import Set as AbstractSet
from dataclasses import dataclass, field

from neckyoke.bridge.config.model import Config, LinkTable
from neckyoke.bridge.events import Attention, LinkState
from neckyoke.bridge.standing import Standing
from neckyoke.bridge.station.settings import Settings
from neckyoke.bridge.station.station import Station
from neckyoke.protocols.decoder import Decoder, scale_decoder, tag_decoder
from neckyoke.protocols.readings import Reject, TagRead, WeightReading
from neckyoke.protocols.scale.builtin import layout_from_table

UNREADABLE_AFTER = 20
"""More rejects than readings by so many: a person is told that the layout does not fit, until as many more readings
came; noise in which a number stands now and then is told of once."""


@dataclass(slots=True)
class Wire:
    """One link as the site sees it: its decoder, where its readings go, and what was counted."""

    table: LinkTable
    decoder: Decoder
    stations: list[Station]
    state: str = ""  # not known yet
    since: float = 0.0
    counts: Counter[str] = field(default_factory=Counter)
    unread: int = 0  # rejects that were not made up for by a reading since, at most `UNREADABLE_AFTER`


def settings_of(config: Config, name: str, run: str) -> Settings:
    """Make a station's settings from its table."""
    table = config.stations[name]
    return Settings(
        site=config.site,
        name=name,
        scale=table.scale,
        readers={reader.link: reader.position for reader in table.readers},
        places={reader.link: reader.places for reader in table.readers if reader.places is not None},
        capacity_kg=table.capacity_kg,
        interval_kg=table.interval_kg,
        smallest_kg=table.smallest_kg,
        require_tag=table.require_tag,
        doubt_percent=table.doubt_percent,
        run=run,
    )


def make_decoders(config: Config) -> dict[str, Decoder]:
    """Make the decoder of each link: of a scale where a station weighs by it, else of a tag reader."""
    layouts = {name: layout_from_table(name, table.model_dump()) for name, table in config.layouts.items()}
    scales = {station.scale for station in config.stations.values()}
    return {
        name: scale_decoder(table.layout, table.framing, layouts)
        if name in scales
        else tag_decoder(table.framing, table.hex_order)
        for name, table in config.links.items()
    }


def rewired(old: Config, new: Config) -> set[str]:
    """Return the links that came, went, or are read or opened another way in the second configuration."""
    names = {*old.links, *new.links}
    return {name for name in names if _makes(old, name) != _makes(new, name)}


def _makes(config: Config, link: str) -> object:
    """Return all that decides how a link is opened and read; None when there is no such link."""
    if (table := config.links.get(link)) is None:
        return None
    is_scale = any(station.scale == link for station in config.stations.values())
    return table, is_scale, config.layouts.get(table.layout or "")


class Wires:
    """The links by name."""

    def __init__(self, config: Config, stations: Mapping[str, Station], kept: Mapping[str, Wire] | None = None) -> None:
        """Make a wire of every link; those in `kept` go on with their decoder, state and counts."""
        decoders = make_decoders(config)
        self._wires = {
            name: (kept or {}).get(name) or Wire(table, decoders[name], []) for name, table in config.links.items()
        }
        for name, wire in self._wires.items():
            wire.stations = [station for station in stations.values() if name in station.links]
        self._standing = Standing(patient=True)

    def renewed(self, config: Config, stations: Mapping[str, Station], changed: AbstractSet[str]) -> "Wires":
        """Return the wires of another configuration; all but those that `changed` go on as they are."""
        wires = Wires(config, stations, {name: one for name, one in self._wires.items() if name not in changed})
        wires._standing = self._standing  # what is told goes on too
        return wires

    def __getitem__(self, link: str) -> Wire:
        return self._wires[link]

    def data(self, t: float, link: str, data: bytes) -> Iterator[WeightReading | TagRead | Attention]:
        """Yield what the bytes of a link say, and what is to be told of how it can be read."""
        wire = self._wires[link]
        for outcome in wire.decoder.feed(data):
            if isinstance(outcome, Reject):
                yield from self._rejected(t, link, wire, outcome)
                continue
            wire.counts["frames"] += 1
            wire.unread = max(0, wire.unread - 1)
            if self._standing and not wire.unread:
                yield from self._note(t, link, f"{link} can be read again.", over=True)
            yield outcome

    def changed(self, t: float, link: str, state: str, text: str) -> LinkState | None:
        """Take a link's change of state; None when it is none."""
        wire = self._wires[link]
        if state == wire.state:
            return None
        lasted = round(t - wire.since, 3)
        wire.state, wire.since = state, t
        if state == "up":
            wire.decoder.reset()
        return LinkState.model_validate({"link": link, "state": state, "text": text, "lasted_s": lasted})

    def _rejected(self, t: float, link: str, wire: Wire, reject: Reject) -> Iterator[Attention]:
        wire.counts[reject.reason.value] += 1
        wire.unread = min(UNREADABLE_AFTER, wire.unread + 1)
        if wire.unread >= UNREADABLE_AFTER:
            text = (
                f"What {link} sends cannot be read ({reject.reason.value}, last {reject.frame[:40]!r}). "
                f"Stop neckyoke, which holds the port, and run: neckyoke listen '{wire.table.url}'"
            )
            yield from self._note(t, link, text)

    def _note(self, t: float, link: str, text: str, *, over: bool = False) -> Iterator[Attention]:
        """Take that a link can or cannot be read; yield what is to be said of it."""
        said = self._standing.note(t, Attention(station=None, link=link, about="unreadable", text=text, over=over))
        if said:
            yield said
