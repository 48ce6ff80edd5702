"""What people say of animals, at hand or long gone: what it does to tags, neighbours and the account.

A word on a tag goes to pairing while that still knows the stay; of an older one, whoever stands near by number and has
the tag loses it.  Each word is kept, with what it changed, so that it can be taken back.
"""

from dataclasses import replace

from neckyoke.bridge.events import Event, Flag, Stamper, Weighing
from neckyoke.bridge.station.account import Account
from neckyoke.bridge.station.amend import amended, claimed
from neckyoke.bridge.station.instructions import (
    TOO_MANY,
    AnimalInstruction,
    Dosed,
    Identify,
    Reply,
    Void,
    is_one_too_many,
    told,
)
from neckyoke.bridge.station.publisher import Publisher
from neckyoke.bridge.station.record import Record
from neckyoke.bridge.station.tags.pairing import Pairing
from neckyoke.bridge.station.tags.shared import are_shared, bare
from neckyoke.bridge.station.tags.verdict import SAID, Verdict, by_person
from neckyoke.bridge.station.words.takeback import WHY, Spoken, Words, apply, verdicts_of
from neckyoke.protocols.tagcode import TagCode

BESIDE = 3
"""A person who gives an old weighing the tag of one so near by number moves it; else the animal was weighed twice."""


class People:
    """What people say at one station.  Time has passed up to `t` before anything is said."""

    def __init__(self, pairing: Pairing, publisher: Publisher, account: Account, stamp: Stamper) -> None:
        self._pairing, self._publisher, self._account, self._stamp = pairing, publisher, account, stamp
        self._words = Words()
        self._beside: tuple[dict[int, Verdict | None], dict[int, Verdict | None]] = ({}, {})

    def undo(self, t: float, spoken: Spoken) -> tuple[Reply, list[Event]]:
        """Take a word on an animal at hand back, and what it did to the neighbours with it."""
        record = self._publisher.records[spoken.number]
        self._words.leave_out(spoken)
        was_another = record.is_another
        self._words.fold(record)
        codes = {record.code, *(one.code for of in spoken.verdicts for one in of.values() if one)}
        changed: list[Verdict] = []
        if isinstance(spoken.said, Identify) and spoken.said.of_tag:
            changed = self._unsaid(t, record, spoken)
        elif record.is_another is not was_another:
            known = self._pairing.knows(record.number)
            changed = self._apart(t, record) if known else self._unsaid_beside(spoken)
        events = self._publisher.changed(t, changed, (record.number, WHY))
        self._account.again(one for one in self._publisher.records.values() if one.code in codes)
        if record.off is None and record.settled is not None:
            events += self._publisher.settled(t, record)
        if record.off is not None and not any(verdict.number == record.number for verdict in changed):
            events += self._publisher.publish(t, record, WHY)
        events += self._publisher.released(t, {str(code) for code in codes if code is not None})
        text = f"Taken back: {told(spoken.said, record.job_number or record.number)[0]}"
        return Reply(done=True, text=text, weighing=record.weighing), events

    def spoken(self, asked: str) -> Spoken | None:
        """Return what was said in a request, while it can be taken back."""
        found = self._words.find(asked)
        at_hand = found is not None and (found.past or found.number in self._publisher.records)
        return found if at_hand else None

    def beside_back(self, t: float, spoken: Spoken) -> list[Event]:
        """Take back what a word on a stay that only the journal knows did to its neighbours at hand."""
        self._words.leave_out(spoken)
        return self._publisher.changed(t, self._unsaid_beside(spoken), (spoken.number, WHY))

    def put_back(self, t: float, past: Weighing, now: Weighing) -> list[Event]:
        """Publish the next revision of a stay that only the journal knows; `past` is the one before."""
        before, after = claimed(past), claimed(now)
        self._account.count(past.weighing, (), past.job)
        self._account.count(now.weighing, after, now.job)
        events = self._publisher.released(t, {*before, *after})
        return [*events, self._publisher.event(t, now, f"{now.weighing}/{now.revision}")]

    def amended(self, asked: str, said: AnimalInstruction, number: int) -> None:
        """Remember what a word on a stay that only the journal knows did to those beside it."""
        self._words.add(Spoken(asked, number, said, 0.0, self._beside, past=True))

    def amend(self, t: float, past: Weighing, said: AnimalInstruction) -> tuple[Reply, list[Event]]:
        """Do what a person asks of a weighing that is not at hand any more; `past` is its newest revision."""
        if is_one_too_many(said, past.notes):
            return Reply(done=False, text=TOO_MANY), []
        events: list[Event] = []
        text, why = told(said, past.job_number or past.number)
        at = self._stamp(t).time
        beside = verdicts_of(self._publisher.records.values())
        if isinstance(said, Identify) and said.tag is not None:
            events += self._publisher.changed(t, self._moved(past.number, said.tag), (past.number, why))
        self._beside = (beside, verdicts_of(self._publisher.records.values()))
        before, after = claimed(past), claimed(amended(past, said, {}, at))
        self._account.count(past.weighing, after, past.job)
        events += self._publisher.released(t, {*before} - {*after})
        now = amended(past, said, self._account.of(past.job), at)
        self._publisher.amended(now)
        if isinstance(said, Dosed | Void):
            events += self._publisher.beside(t, now.weighing, now.job_number or now.number)
        events.append(self._publisher.event(t, now, f"{now.weighing}/{now.revision}"))
        return Reply(done=True, text=text, weighing=now.weighing), events

    def _unsaid(self, t: float, record: Record, spoken: Spoken) -> list[Verdict]:
        """Take a word on a tag back; return the verdicts that this changes."""
        assert isinstance(spoken.said, Identify), "it is one on a tag"
        if spoken.stays is not None and self._pairing.knows(record.number):
            changed = self._pairing.unword(t, spoken.said.tag, *spoken.stays)
            gone = (one for one in self._unsaid_beside(spoken) if not self._pairing.knows(one.number))
            changed += gone  # it lost its tag then, and so many came since that pairing let go of it
            if record.off is None:
                record.verdict = self._pairing.believe(record.number, t)
            return changed
        return self._unsaid_beside(spoken)

    def _unsaid_beside(self, spoken: Spoken) -> list[Verdict]:
        """Return the verdicts of before a word, of those that are still as the word left them."""
        before, after = spoken.verdicts
        records = self._publisher.records
        return [
            was
            for number, was in before.items()
            if was is not None and number in records and records[number].verdict == after.get(number) != was
        ]

    def said(self, t: float, record: Record, said: AnimalInstruction, asked: str | None) -> list[Verdict]:
        """Do it; return the verdicts that changed."""
        spoken = Spoken(asked, record.number, said, t)
        self._words.add(spoken)
        was_another = record.is_another
        apply(record, said, t)
        if record.is_another is not was_another:
            held = verdicts_of(self._publisher.records.values())
            changed = self._apart(t, record)
            spoken.verdicts = (held, held | {one.number: one for one in changed})
            return changed
        if not isinstance(said, Identify) or not said.of_tag:
            return []
        held, stays = verdicts_of(self._publisher.records.values()), self._pairing.stays
        changed = self._word(t, record, said.tag)
        now = held | {one.number: one for one in changed} | {record.number: record.verdict or held[record.number]}
        now |= {one.number: one for one in changed}
        spoken.verdicts, spoken.stays = (held, now), (stays, self._pairing.stays)
        return changed

    def _apart(self, t: float, record: Record) -> list[Verdict]:
        """Take that it is another animal than the one before it, or no more; return the verdicts that this changes."""
        if not self._pairing.knows(record.number):
            held, one = record.verdict, self._publisher.records.get(record.number - 1)
            shared = held is not None and are_shared(one.verdict if one is not None else None, held)
            return [bare(held)] if held is not None and shared and record.is_another else []
        changed = self._pairing.apart(t, record.number, another=record.is_another)
        if record.off is None:
            record.verdict = self._pairing.believe(record.number, t)
        return changed

    def _word(self, t: float, record: Record, code: TagCode | None) -> list[Verdict]:
        """Take a person's word on a tag; return the verdicts that it changes."""
        if self._pairing.knows(record.number):
            changed = self._pairing.word(t, record.number, code)
            if record.off is None:
                record.verdict = self._pairing.believe(record.number, t)
            return changed
        said, held = by_person(record.number, code), record.verdict
        if held is not None and held.code == code:
            said = replace(said, link=held.link, reads=held.reads)  # what was heard of it was counted then
        return [*self._moved(record.number, code), said]

    def _moved(self, number: int, code: TagCode | None) -> list[Verdict]:
        """Take a tag that a person gave to another number from those beside it."""
        beside = [
            one
            for one in self._publisher.records.values()
            if code is not None and one.code == code and 0 < abs(one.number - number) <= BESIDE
        ]
        return [Verdict(one.number, None, flags=(Flag.NO_TAG, Flag.BY_PERSON), rule=SAID) for one in beside]
