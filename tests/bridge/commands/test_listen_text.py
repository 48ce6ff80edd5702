"""What `neckyoke listen` says in the end: where things stand, what the words mean, what to check and what to paste."""

from neckyoke.bridge.commands.listen import found_text
from neckyoke.bridge.links.listen import judge
from tests.protocols.spelling import Shown
from tests.protocols.streams import crossing, spelled


def spell(shown: Shown) -> bytes:
    return f"{'ST' if shown.stable else 'US'} kg {abs(shown.tenths):07d}\r\n".encode()


def test_what_was_found_is_told_so_that_it_can_be_followed() -> None:
    shows = list(crossing(10, 20, 1))
    stable = sum(shown.stable for shown in shows[1:])
    lines = found_text(judge("tcp://127.0.0.1:4001", b"".join(spelled(spell, iter(shows))))).splitlines()
    assert lines[0] == "This is likely; see what to check:"
    assert f"    status 'ST' means stable, in {stable} frames" in lines
    assert f"    status 'US' means moving, in {len(shows) - 1 - stable} frames" in lines
    assert any(line.startswith("  Check: No decimal point is sent") and "# from decimals = 1" in line for line in lines)
    assert lines[lines.index("[layouts.own]") + 3] == "# decimals = 1"
