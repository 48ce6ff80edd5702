"""What one table of a configuration says of another: names that lead nowhere, one thing used as two."""

from collections.abc import Iterator, Sequence
from typing import TYPE_CHECKING

from neckyoke.bridge.config.problems import Problem, Source, nearest
from neckyoke.bridge.events import Position

if TYPE_CHECKING:
    from neckyoke.bridge.config.model import Config

BESIDE_STATIONS = ("link", "status", "check")
"""Topics that stand beside those of the stations (outlets/topics)."""


def cross_check(config: "Config", source: Source) -> Iterator[Problem]:
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


def shared_urls(config: "Config") -> Iterator[tuple[str, str]]:
    """Yield each link that leads to the device of an earlier one, and that one's name."""
    first: dict[tuple[str, str, int], str] = {}
    for name, link in config.links.items():
        address = link.address
        other = first.setdefault((address.scheme, address.target, address.port), name)
        if other != name:
            yield name, other


def _check_urls(config: "Config", source: Source) -> Iterator[Problem]:
    """Refuse one device under two names where it can be opened but once; a TCP port may serve two."""
    for name, other in shared_urls(config):
        if config.links[name].address.scheme != "tcp":
            hint = "Each device has a url of its own; `neckyoke ports` shows those that are plugged in."
            yield source.problem(("links", name, "url"), f"is the url of link {other!r} already", hint)


def _check_readers(config: "Config", source: Source) -> Iterator[Problem]:
    """Refuse a reader that two stations hear, unless it is carried about: a tag would be at both at once."""
    first: dict[str, tuple[str, Position]] = {}
    for name, station in config.stations.items():
        for at, reader in enumerate(station.readers):
            other, position = first.setdefault(reader.link, (name, reader.position))
            if other != name and not position == reader.position == "hand":
                what = f"link {reader.link!r} is already a reader of {other}, and its tags would be at both"
                hint = 'Give each station its own reader; only one that is carried, position = "hand", may serve two.'
                yield source.problem(("stations", name, "readers", at, "link"), what, hint)


def _check_layouts(config: "Config", source: Source) -> Iterator[Problem]:
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
