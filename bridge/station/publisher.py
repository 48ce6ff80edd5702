"""The weighings at hand, and how each is published: first, as it settles, and in every later revision."""

from collections import deque
from collections.abc import Callable
from collections.abc import Set as AbstractSet
from math import inf
from typing import Any, TypeAlias

from neckyoke.bridge.events import Clock, Data, Event, Flag, Stamper, Weighing, wrap
from neckyoke.bridge.station.account import Account
from neckyoke.bridge.station.again import Before
from neckyoke.bridge.station.amend import OF_JOB, claimed
from neckyoke.bridge.station.explain import CURVE, Trace
from neckyoke.bridge.station.instructions import About
from neckyoke.bridge.station.reasons import reason
from neckyoke.bridge.station.record import Record, in_order, placed
from neckyoke.bridge.station.settings import Memory, Needs, Place, Settings
from neckyoke.bridge.station.stops.joined import joined
from neckyoke.bridge.station.stops.same import ANOTHER, SAME, Between, odds_another
from neckyoke.bridge.station.stops.visits import WHY, Visit, Visits
from neckyoke.bridge.station.tags.verdict import Verdict

KEPT = 300
"""Weighings at hand for requests; older ones are in the journal only, and are amended from there."""

NOT_THE_SAME = "another animal stood there when the box was back, as its tag shows"
CANNOT_TELL = "whether it still stood there when the box was back cannot be told any more"

Needed: TypeAlias = Callable[[int], Needs]
"""Tells what the animal of a number needs before it may leave."""


def nothing_needed(_number: int) -> Needs:
    """Need nothing but what the settings say."""
    return Needs()


class Publisher:
    """Keeps the records of the last stays and makes events of them.

    `is_final` says of a stay's number whether nothing but a person can change its tag.  `interrupted` is the weighing
    that an earlier run left unfinished, until it is known whether the first stay of this one goes on with it; it was
    last seen `away_s` before this run began.  `needed` tells what holds an animal.  `traces` collects what
    an explanation needs, when it is not None.
    """

    def __init__(
        self,
        settings: Settings,
        stamp: Stamper,
        account: Account,
        is_final: Callable[[int], bool],
        memory: Memory,
        needed: Needed = nothing_needed,
    ) -> None:
        self._needed = needed
        self._settings, self._stamp, self._account, self._is_final = settings, stamp, account, is_final
        self.interrupted = Weighing.model_validate(memory.interrupted) if memory.interrupted else None
        self.away_s = memory.away_s
        self.stood_kg, self.leaves = memory.stood_kg, memory.leaves
        self.visits = Visits(Visit(*one) for one in memory.visits)
        self._before = Before.read(memory.before, memory.before_ago_s) if memory.before else None
        self._number = memory.number  # of the last stay before this run
        self._first: Record | None = None  # the first stay of this run, where something was left,
        self._known: Visits | None = None  # and the visits that were known as it had ended
        self.records: dict[int, Record] = {}
        self.traces: dict[int, Trace] | None = None
        self.curve: deque[tuple[float, float]] = deque(maxlen=CURVE)  # (t, kg shown) of the last readings

    def add(self, record: Record) -> None:
        """Take the record of a stay that begins."""
        if (before := self.records.get(record.number - 1)) is not None:
            self.visits.came(before, record, self.unseen_s(before))
        self.records[record.number] = record
        if len(self.records) > KEPT:
            del self.records[next(iter(self.records))]

    def find(self, about: About, latest: int) -> Record | None:
        """Return the record that is meant; None when it is not at hand.  `latest`: the last stay's number."""
        if about.weighing is not None:
            return next((one for one in self.records.values() if about.weighing in {one.weighing, one.own[0]}), None)
        if about.number is not None:
            resumed = (one for one in self.records.values() if one.resumes and one.resumes.number == about.number)
            return self.records.get(about.number) or next(resumed, None)
        return self.records.get(latest)

    def event(self, t: float, data: Data, key: str) -> Event:
        """Put data in its envelope; `key` tells it from every other of its source."""
        return wrap(data, site=self._settings.site, time=self._stamp(t).time, key=key)

    def missing(self, record: Record) -> tuple[str, ...]:
        """Return what an animal that stands there still lacks before it may leave."""
        verdict = record.verdict
        unknown = verdict is None or (verdict.code is None and Flag.BY_PERSON not in verdict.flags)
        unknown = unknown and record.visual is None  # a person who read the ear's number has named the animal
        needs = self._needed(record.number)
        tag = ("tag",) if unknown and (self._settings.require_tag if needs.tag is None else needs.tag) else ()
        return (*tag, *(name for name in needs.findings if name not in record.findings))

    def settled(self, t: float, record: Record) -> list[Event]:
        """Publish the first trustworthy weight, once more when what is missing or believed has changed."""
        record.told += 1
        self._follow(record)
        settled = record.as_settled(self._stamp, self._account.of(record.job), self.missing(record))
        return [self.event(t, settled, f"{record.weighing}/{record.told}")]

    def _follow(self, record: Record) -> None:
        record.follows(self.before(record.number), self._stamp(record.on))

    def before(self, number: int) -> Before | None:
        """Return what a stay of that number is held against, to tell whether an animal comes on again."""
        last = self.records.get(number - 1)
        if last is None:  # not at hand any more, or of the run before
            return self._before if number == self._number + 1 else None
        before = last.as_before
        return before.or_before(last.before) if before is not None else None

    def comes_again(self, record: Record) -> tuple[bool, bool]:
        """Return whether it may be the animal of the stay just before, by weight, and is known to weigh the same."""
        last = self.records.get(record.number - 1)
        before = last.as_before if last is not None else None
        may_be = before is not None and before.may_weigh(record.weight)
        return may_be, record.is_again(before, self._stamp(record.on))

    def beside(self, t: float, weighing: str, called: int) -> list[Event]:
        """Publish anew the stay that may be this one's animal, come on again: what it had may be said now."""
        record = next((one for one in self.records.values() if one.former and one.former.weighing == weighing), None)
        if record is None:
            return []
        if record.off is None:
            return self.settled(t, record)
        if record.maybe_same is None and (record.published is None or record.published.maybe_same is None):
            return []  # it is told by its tag
        return self.publish(t, record, f"a person spoke of number {called}, which it may be")

    def publish(self, t: float, record: Record, why: str | None) -> list[Event]:
        """Publish a weighing, or its next revision."""
        record.revision += 1
        self._follow(record)
        self._resume(record)
        self._account.take(record)
        weighing = self._spell(record, why)
        past = record.resumes
        record.published = joined(past, weighing, self.unseen_s(record)) if past else weighing
        if self.traces is not None:
            trace = self.traces.setdefault(record.number, Trace(list(self.curve), record.settled))
            trace.revisions.append((t, record.published))
            trace.reckoned = record.reckoned
        return [self.event(t, record.published, f"{record.weighing}/{record.published.revision}")]

    def changed(self, t: float, verdicts: list[Verdict], said: tuple[int, str] | None = None) -> list[Event]:
        """Publish what changed, and whatever that changes in turn; `said`: the number a person spoke of, and what."""
        changed: list[tuple[Record, Verdict | None]] = []
        for verdict in verdicts:
            record = self.records.get(verdict.number)
            if record is not None and record.off is not None:
                changed.append((record, record.verdict if record.revision else None))
                record.verdict = verdict
        moved = [(record, before.code) for record, before in changed if before and before.code != record.code]
        for record, _ in moved:  # before anything is published, or whoever has the tag now would pass for a repeat
            self._account.free(record)
        events: list[Event] = []
        for record, before in changed:
            why = reason(record, before, said, self.records.values())
            events += self._judged_again(t, record)
            events += self.publish(t, record, why)
        return events + self.released(t, {str(code) for _, code in moved})

    def released(self, t: float, tags: AbstractSet[str | None]) -> list[Event]:
        """Publish anew what is no repeat any more, since an earlier weighing has lost these tags."""
        events: list[Event] = []
        for record in self.records.values():
            if record.code is None or record.published is None or str(record.code) not in tags:
                continue
            if record.flags(self._account.of(record.job)) != record.published.flags:
                events += self.publish(t, record, "an earlier weighing no longer has this tag")
        return events

    def again(self, t: float, weighings: AbstractSet[str], why: str) -> list[Event]:
        """Publish these weighings anew, each counted in its turn."""
        events: list[Event] = []
        self._account.again(one for one in self.records.values() if one.weighing in weighings and one.published)
        for record in self.records.values():
            if record.weighing in weighings and record.published is not None:
                events += self.publish(t, record, why)
            elif record.weighing in weighings and record.settled is not None:
                events += self.settled(t, record)
        return events

    def restamped(self, t: float) -> list[Event]:
        """Amend every weighing that was published before the wall clock was known: its times are right now."""
        events: list[Event] = []
        for record in self.records.values():
            if record.published is not None and record.published.clock is not Clock.SYNCHRONISED:
                events += self.publish(t, record, "the clock is known now")
        return events

    def _resume(self, record: Record) -> None:
        """Let the first stay of a run go on as the one that the last run left open, if it is the same."""
        past, self.interrupted = self.interrupted, None
        if past is None:
            return
        self._first, record.left = record, past
        self._known = Visits(self.visits.lately)
        self._judge(record)
        if record.resumes is not None:
            record.own, record.weighing = (record.weighing, 0), past.weighing
            self._place_whole(record, past)

    def _judge(self, record: Record) -> None:
        """Judge by all that is known whether what the last run left was this animal."""
        past = record.left
        assert past is not None, "the last run left one"
        odds = self._odds_another(past, record, self._spell(record, None))
        record.resumes = past if odds <= SAME else None
        record.may_be = past if SAME < odds < ANOTHER else None

    def _place_whole(self, record: Record, past: Weighing) -> None:
        """Let the whole stay belong where its first part does."""
        record.alone = Place(record.job, record.job_number, record.paused)
        self._account.part(record.number, past.number, apart=False)
        own = Place(past.job, past.job_number, Flag.PAUSED in past.flags)
        record.move(self._account.place(past.number) or own)

    def _judged_again(self, t: float, record: Record) -> list[Event]:
        """Judge anew, its tag having become another: two weighings may be one animal's after all, or one two animals'.

        The outcome is as though it had been known at once.  What a person struck out or named stays as it is.
        """
        by_person = record.verdict is not None and Flag.BY_PERSON in record.verdict.flags
        if record.left is None or record.published is None or record.voided or by_person:
            return []
        went_on = record.resumes
        self._judge(record)
        if (went_on is None) == (record.resumes is None):
            return []
        return self._parted(t, record, went_on) if went_on is not None else self._met(t, record, record.left)

    def _met(self, t: float, record: Record, past: Weighing) -> list[Event]:
        """Strike out the weighing of a second part: it is told in that of the first from now on."""
        self._account.free(record)
        record.revision += 1
        struck = self._spell(record, f"it is the animal of number {past.number}, and is told there: {WHY}")
        flags = in_order({*struck.flags, Flag.VOIDED} - {Flag.REPEAT})
        told = {"told_in": past.weighing, "maybe_same": None}
        struck = struck.model_copy(update={"flags": flags, "final": True, "final_at": None, **told})
        record.own, record.weighing = (record.weighing, record.revision), past.weighing
        record.revision = 0
        self._place_whole(record, past)
        return [self.event(t, struck, f"{struck.weighing}/{struck.revision}")]

    def _parted(self, t: float, record: Record, past: Weighing) -> list[Event]:
        """Let the first part's weighing be as it was; the second is told by itself from now on."""
        self._account.free(record)
        self._account.part(record.number, past.number, apart=True)
        why = NOT_THE_SAME if record.may_be is None else CANNOT_TELL
        if (place := self._account.place(past.number)) is not None:
            past = placed(past, place)
        back = past.model_copy(update={"revision": past.revision + record.revision + 1, "why": why})
        record.left = back
        record.may_be = back if record.may_be is not None else None
        (record.weighing, record.revision), record.own = record.own, ("", 0)
        if (own := self._account.place(record.number) or record.alone) is not None:
            record.move(own)
        self._account.count(back.weighing, claimed(back), back.job)
        return [self.event(t, back, f"{back.weighing}/{back.revision}")]

    def rest_of(self, weighing: str) -> str | None:
        """Return the id that the second part of a stay would have by itself; None where it has none of this run."""
        first = self._first
        return first.own[0] if first is not None and first.resumes and first.weighing == weighing else None

    def resumed_back(self, weighing: str, back: Callable[[Weighing], Weighing]) -> None:
        """Put back what was said of a stay in the run before, where it goes on in this one."""
        for record in self.records.values():
            if record.weighing == weighing and record.resumes is not None:
                record.left = record.resumes = back(record.resumes)

    def amended(self, now: Weighing) -> None:
        """Take a later revision of a weighing that an earlier run left, where this run may go on with it."""
        before = self._before
        if before is not None and before.weighing == now.weighing:
            self._before = Before.of(now, before.off)
        now = now.model_copy(update={"flags": tuple(flag for flag in now.flags if flag not in OF_JOB)})
        if self.interrupted is not None and _is_later(now, self.interrupted):
            self.interrupted = now
        first = self._first
        if first is None or first.left is None:
            return
        if first.resumes is None and _is_later(now, first.left):
            first.left, first.may_be = now, now if first.may_be is not None else None
        elif first.resumes is not None and first.published is not None and _is_later(now, first.published):
            more = now.revision - first.published.revision  # the next one of ours comes after it
            revision = first.resumes.revision + more
            first.left = first.resumes = first.resumes.model_copy(update={"revision": revision})

    @property
    def kept(self) -> dict[str, Any]:
        """What to carry on of the last stays: some of `Memory`.

        What an earlier run left until it is known whether it goes on, and what the next one is held against.
        """
        ended = [one.number for one in self.records.values() if one.off is not None]
        before = self.before(ended[-1] + 1) if ended else self._before
        kept: dict[str, Any] = {}
        if before is not None:
            off = self._stamp(before.off) if ended and before.off is not None and before.off >= 0 else None
            if off is not None and off.clock is Clock.SYNCHRONISED:
                before = before.model_copy(update={"off_at": off.time})
            kept = {"before": before.spell(), "before_ago_s": None if before.off is None else -before.off}
        if (past := self.interrupted) is not None:
            told = past.model_dump(mode="json")
            kept |= {"interrupted": told, "away_s": self.away_s, "stood_kg": self.stood_kg, "leaves": self.leaves}
        return kept

    def whole(self, record: Record, weighing: Weighing) -> Weighing:
        """Return the weighing of an open stay; one with what an earlier run left unfinished, if that goes on in it."""
        past = self.interrupted
        odds = inf if past is None else self._odds_another(past, record, weighing)
        if past is not None and odds <= SAME:
            return joined(past, weighing, self.unseen_s(record))
        unsure = {Flag.MAYBE_SAME} if odds < ANOTHER else set()
        return weighing.model_copy(update={"flags": in_order({*weighing.flags} | unsure)})

    def _odds_another(self, past: Weighing, record: Record, now: Weighing) -> float:
        stood = record.stood
        between = Between(self.unseen_s(record), stood.steps_on, (self.stood_kg, stood.first_kg), self.leaves)
        return odds_another(past, now, between, self._known or self.visits)

    def unseen_s(self, record: Record) -> float | None:
        """Return for how long what an earlier run left unfinished was unseen when this stay began."""
        return None if self.away_s is None else self.away_s + record.on

    def leave(self, record: Record) -> None:
        """Leave a stay unfinished that ended with the run: its animal may still stand there when the next begins."""
        if record.off is not None and Flag.INTERRUPTED in record.platform_flags:
            self.interrupted, self.away_s = record.published, -record.off
            self.stood_kg, self.leaves = record.stood.last_kg, record.stood.leaves

    def _spell(self, record: Record, why: str | None) -> Weighing:
        return record.as_weighing(
            self._stamp,
            self._account.of(record.job),
            why if record.revision > 1 else None,
            final=self._is_final(record.number),
        )


def _is_later(now: Weighing, known: Weighing) -> bool:
    return now.weighing == known.weighing and now.revision > known.revision
