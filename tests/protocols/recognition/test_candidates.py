"""Decoders tried on a sample."""

from neckyoke.protocols.readings import Reject, RejectReason, WeightReading
from neckyoke.protocols.recognition.candidates import try_layout
from neckyoke.protocols.scale.builtin import layout_from_table


def test_frames_of_fixed_length_are_found_before_a_unit_is_named() -> None:
    table = {"pattern": "=(?P<value>[0-9.]{7})(?P<unit>kg|lb|  )", "framing": "fixed:10"}
    blank, named = b"=00412.5  ", b"=00412.5lb"
    trial = try_layout(b"12.5  " + 2 * blank + named + blank, layout_from_table("own", table))
    assert [frame for frame, _ in trial.frames[-4:]] == [blank, blank, named, blank]
    first, second, third, last = (outcome for _, outcome in trial.frames[-4:])
    assert first == second == Reject(RejectReason.UNKNOWN_UNIT, blank)
    assert isinstance(third, WeightReading)
    assert third == last
    assert third.unit == "lb"
