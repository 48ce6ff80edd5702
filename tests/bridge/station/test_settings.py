"""What a station takes for granted, where nobody said otherwise: what the configuration says that it does."""

import pytest
from pydantic import ValidationError

from neckyoke.bridge.config.model import Config
from neckyoke.bridge.site.wires import settings_of
from neckyoke.bridge.station.settings import DOUBT_PERCENT, MOST_PLACES, Memory, Needs, Place, Settings


def configured(**station: object) -> Settings:
    links = {name: {"url": f"tcp://127.0.0.1:{port}"} for name, port in (("indicator", 4001), ("panel", 4002))}
    table = {"scale": "indicator", **station}
    config = Config.model_validate({"site": "larkmoor", "links": links, "stations": {"crush": table}})
    return settings_of(config, "crush", "")


def test_a_bare_station_is_what_a_bare_configuration_makes() -> None:
    bare = Settings("larkmoor", "crush", "indicator")
    assert bare == configured()
    assert (bare.capacity_kg, bare.interval_kg, bare.smallest_kg) == (2000.0, 0.5, 25.0), "as pages/keys.md shows"
    assert not bare.require_tag, "an untagged animal is not held unless somebody wants it"
    assert bare.doubt_percent == DOUBT_PERCENT == 0.5


def test_as_many_as_nine_animals_may_be_between_a_reader_ahead_and_the_platform() -> None:
    def ahead(places: int) -> Settings:
        return configured(readers=[{"link": "panel", "position": "ahead", "places": places}])

    assert ahead(MOST_PLACES).places == {"panel": 9}
    for places in (0, 10):
        with pytest.raises(ValidationError, match="places"):
            ahead(places)


def test_nothing_is_held_of_what_is_not_known() -> None:
    assert Place() == (None, None, False)
    assert Needs() == (None, ())
    assert (Memory().number, Memory().zero_kg, Memory().away_s, Memory().interrupted) == (0, None, None, None)
