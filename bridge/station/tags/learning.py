"""What each stay teaches of the readers: once when it has ended, once when its tag is final.

Only a pair that is clearly ahead teaches how much of a stay a reader hears: what pairing guessed must not teach it to
guess so again.  What order teaches (places, slips) waits until the pair is final.
"""

from collections.abc import Mapping, Sequence

from neckyoke.bridge.station.tags.assignment import Assigned
from neckyoke.bridge.station.tags.readers.detections import BEFORE_S, Pass, Span, during
from neckyoke.bridge.station.tags.readers.hand import off_s
from neckyoke.bridge.station.tags.readers.panel import heard_slots, slots
from neckyoke.bridge.station.tags.readers.race import begun_between, last_passage
from neckyoke.bridge.station.tags.readers.reader_model import ReaderModel
from neckyoke.bridge.station.tags.scores import Scores
from neckyoke.bridge.station.tags.stays import OpenStay, ReaderLink
from neckyoke.bridge.station.tags.verdict import CLEAR

Models = Mapping[str, ReaderModel]
Readers = Mapping[str, ReaderLink]


def learn_pair(
    models: Models, readers: Readers, stay: OpenStay, span: Span, passes: Sequence[Pass], got: Assigned
) -> None:
    """Teach the readers what a pair shows of their share, neighbours and lag, once, when its stay has ended.

    One that a person has spoken of teaches when their word is taken back.
    """
    if got.tag is None or stay.off is None or stay.taught:
        return
    one = passes[got.tag]
    for link, reader in readers.items():
        ahead = [heard for heard in one.heard if heard.link == link and reader.position == "ahead"]
        if ahead and (lag_s := span.on - last_passage(ahead)) > 0:
            models[link].lag.learn(lag_s)
    for link, reader in readers.items() if one.near else ():
        detections = [heard for heard in one.heard if heard.link == link]
        if reader.position != "platform" or not detections:
            continue
        if got.margin >= CLEAR:
            models[link].learn_share(heard_slots(during(detections, span), span) / slots(span))
            if span.on <= detections[0].t + BEFORE_S and detections[0].t <= span.off:
                models[link].learn_entry(detections[0].t - span.on)
        models[link].once.learn_again(again=len(detections) > 1 or detections[0].reads > 1)
        others = (heard for other in passes if other is not one for heard in during(other.heard, span, slack=False))
        models[link].learn_beside(others=any(heard.link == link for heard in others))


def note_order(readers: Readers, stay: OpenStay, span: Span, one: Pass | None, began: Sequence[float]) -> None:
    """Note what a stay's tag would teach of lags and slips, if it stays with it.  `began`: when the last stays did."""
    stay.lags, stay.slips = {}, {}
    for link, reader in readers.items():
        detections = [heard for heard in one.heard if heard.link == link] if one else []
        if detections and reader.position == "ahead":
            stay.lags[link] = begun_between(last_passage(detections), span.on, began)
        elif reader.position == "hand":
            stay.slips[link] = off_s(detections, span) if detections else None


def note_turns(
    models: Models, readers: Readers, stay: OpenStay, at: int, passes: Sequence[Pass], scores: Scores
) -> None:
    """Note what the stay at a place would teach of a reader that says each tag once."""
    stay.turns = {
        link: [
            (score.chance, heard[0])
            for (place, of), score in scores.items()
            if place == at and score.chance and (heard := [one.t for one in passes[of].heard if one.link == link])
        ]
        for link, reader in readers.items()
        if reader.position == "platform" and models[link].once.known
    }


def learn_final(models: Models, readers: Readers, stay: OpenStay) -> None:
    """Teach the readers what a stay shows of them whose tag is final: once, whatever is said of it when it was."""
    if stay.reopened:
        return
    for link, reader in readers.items():
        if reader.position == "platform" and reader.heard is not None and not stay.word:
            models[link].learn_missed(missed=stay.verdict is None or stay.verdict.code is None)
    for link, lag in stay.lags.items():
        if lag < stay.turn:  # else it came while the race was filling
            models[link].learn_queue(lag)
    for link, likely in stay.turns.items():
        models[link].once.learn_turn(likely, stay.span(None))
    for link, off in stay.slips.items():
        models[link].habit.learn(off)
        if off is not None:
            models[link].learn_slip(slipped=off != 0)
