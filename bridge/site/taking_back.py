"""What was asked of a site, taken back: at its stations, their jobs, in the herd book, and in the journal.

what was said        taken back by
of a stay at hand    going through the other words on it again; what the herd book learned of it is unlearned first
of the job           going through what happened again; stays that only the journal knows are owed
of the herd book     putting back what is still as the request left it, and asking again what was replied to or dropped
of any other stay    the same, in its newest revision from the journal: owed
"""

from functools import partial
from typing import TYPE_CHECKING

from neckyoke.bridge.asking.job_requests import UndoRequest
from neckyoke.bridge.asking.requests import Answer
from neckyoke.bridge.events import Event, Flag, Weighing, wrap
from neckyoke.bridge.herd.putting_back import Change, put_back
from neckyoke.bridge.herd.questions import Asked
from neckyoke.bridge.herd.unsaid import animals_back, ask_again, asked_back, let_go, take_as_new
from neckyoke.bridge.job.afterwards import Afterwards
from neckyoke.bridge.job.doses.given import plain
from neckyoke.bridge.site.undoing import Owed, Undoable, Undos
from neckyoke.bridge.station.amend import claimed, known_anew
from neckyoke.bridge.station.instructions import About
from neckyoke.bridge.station.words.takeback import WHY

if TYPE_CHECKING:
    from neckyoke.bridge.site.requests import SiteRequests
    from neckyoke.bridge.site.site import Site

GONE = "That cannot be taken back any more, or was never asked here."


class TakingBack:
    """Takes back what was asked of one site."""

    def __init__(self, site: "Site", requests: "SiteRequests", undos: Undos) -> None:
        self._site, self._requests, self._undos = site, requests, undos

    def do(self, t: float, name: str | None, request: UndoRequest) -> tuple[Answer, list[Event]]:
        """Take back what is meant, or say that it cannot be."""
        one = self._undos.find(request.asked, name)
        name = (one.station if one else None) or name
        asked = one.asked if one else request.asked or ""
        events = self._site.advance(t)
        if one is not None:
            self._undos.take(one)
            for later, of in one.later.items():
                self._site.stations[of].account.forget(later)
            at = self._site.stamp(t).time
            events += animals_back(self._site.keeper, one.animals, at)
            events += [event for raised in one.raised for event in let_go(self._site.keeper, raised, at)]
            events += self._asked_back(t, one, at_hand=True)
        if name is not None and (spoken := self._site.stations[name].spoken(asked)) is not None:
            station = self._site.stations[name]
            if not spoken.past:
                reply, more = station.undo(t, spoken)
                events += self._site.filled_all(t, more) + (self._later(t, one) if one else [])
                return Answer(id=request.id, done=True, text=reply.text, weighing=reply.weighing), events
            events += self._site.filled_all(t, station.beside_back(t, spoken))
        elif name is not None and (taken := self._site.jobs[name].undo(asked)) is not None:
            word, moved = taken
            events += self._requests.moved(t, name, moved) + self._site.take_rosters(t)
            return Answer(id=request.id, done=True, text=word.text, job=word.job), events
        if one is None:
            return Answer(id=request.id, done=False, text=GONE), events
        events += self._herd_back(t, one)
        self._owe_later(one)
        text = f"Taken back: {one.text}"
        return Answer(id=request.id, done=True, text=text, weighing=one.main), events

    def _herd_back(self, t: float, one: Undoable) -> list[Event]:
        """Ask again what was replied to, and publish anew whoever is another's again; the rest is owed."""
        keeper, at = self._site.keeper, self._site.stamp(t).time
        events = [event for name in one.closed for event in ask_again(keeper, name, at)]
        if one.all_new:
            take_as_new(keeper, one.all_new[0])
        tags = {tag["id"] for change in one.animals.values() for side in change.get("tags", ()) for tag in side or ()}
        again = {
            *one.weighings,
            *self._now(one),
            *(str(asked["weighing"]) for _, asked in one.dropped),
            *(name for tag in tags for name in keeper.with_tag(tag)),
        }
        for name, station in self._site.stations.items():
            at_hand = {weighing for weighing in again if station.number_of(About(weighing)) is not None}
            for weighing in at_hand & one.weighings.keys():
                station.resumed_back(weighing, partial(_back, change=one.weighings[weighing]))
            events += self._site.filled_all(t, station.again(t, at_hand, WHY))
            owed = [
                Owed(About(weighing), change, one.open and weighing == one.main, _asks(one, weighing))
                for weighing, change in one.weighings.items()
                if one.of[weighing] == name and weighing not in at_hand and change
            ]
            self._site.owed[name] = (*self._site.owed.get(name, ()), *owed)
        return [*events, *self._asked_back(t, one, at_hand=False)]

    def _asked_back(self, t: float, one: Undoable, *, at_hand: bool) -> list[Event]:
        """Ask again what was dropped: of stays at hand before they are gone over, of owed ones when they are put back.

        Going over drops again what is still not to be asked; so a question keeps its turn among the others.
        """
        names = dict.fromkeys(str(asked["weighing"]) for _, asked in one.dropped)
        now = [name for name in names if any(self._at_hand(of, name) for of in self._site.stations)]
        meant = now if at_hand else [name for name in names if name not in now and not one.weighings.get(name)]
        at = self._site.stamp(t).time
        return [event for name in meant for event in asked_back(self._site.keeper, _asks(one, name), at)]

    def _later(self, t: float, one: Undoable) -> list[Event]:
        """Go over the stays since that are at hand: what is known of their animals may have come from the request."""
        events: list[Event] = []
        for station in self._site.stations.values():
            events += self._site.filled_all(t, station.again(t, self._now(one), WHY))
        self._owe_later(one)
        return events

    def _now(self, one: Undoable) -> set[str]:
        """Return the stays since that can be gone over at once: they come after the main one."""
        if one.main is not None and not any(self._at_hand(name, one.main) for name in self._site.stations):
            return set()
        return {weighing for weighing, of in one.later.items() if self._at_hand(of, weighing)}

    def _owe_later(self, one: Undoable) -> None:
        """Owe the others."""
        now = self._now(one)
        for weighing, of in one.later.items():
            if weighing not in now:
                self._site.owed[of] = (*self._site.owed.get(of, ()), Owed(About(weighing), anew=True))

    def _at_hand(self, name: str, weighing: str) -> bool:
        return self._site.stations[name].number_of(About(weighing)) is not None

    def anew(self, t: float, past: Weighing) -> list[Event]:
        """Fill in anew what is known of a stay's animal; `past` is its newest revision."""
        site, station = self._site, self._site.stations[past.station]
        if self._at_hand(past.station, past.weighing):
            return site.filled_all(t, station.again(t, {past.weighing}, WHY))
        station.account.count(past.weighing, claimed(past), past.job)
        now = known_anew(past, station.account.of(past.job), WHY)
        event = wrap(now, site=site.config.site, time=site.stamp(t).time, key=f"{now.weighing}/{now.revision}")
        return site.filled_all(t, [event], Afterwards(site.clerks[past.station], other=True))

    def past(self, t: float, past: Weighing, owed: Owed) -> list[Event]:
        """Put a weighing back that only the journal knows; `past` is its newest revision."""
        assert owed.back is not None, "it is to be put back"
        site, keeper = self._site, self._site.keeper
        now = _back(past, owed.back)
        asks = owed.asks if Flag.WHICH_ANIMAL in now.flags and Flag.VOIDED not in now.flags else ()
        if now == past:
            return asked_back(keeper, asks, site.stamp(t).time)
        now = now.model_copy(update={"revision": past.revision + 1, "why": WHY, "final": True, "final_at": None})
        if owed.stood and {"tag", "animal"} & owed.back.keys():  # whose it was came of the word: it is found anew
            now = now.model_copy(update={"animal": _by_number(now)})
        *beside, last = site.stations[past.station].put_back(t, past, now)
        events = site.filled_all(t, beside)
        if owed.stood:
            clerk = Afterwards(site.clerks[past.station], other=True, said_no_more=_doses(owed.back))
            events += site.filled_all(t, [last], clerk)
        else:
            site.jobs[past.station].saw(last)
            self._undos.saw(now)
            keeper.saw(now)
            events += [last, *site.jobs[past.station].events(t)]
        who = keeper.book.get(str((now.animal or {}).get("id")))
        events += asked_back(keeper, asks, site.stamp(t).time)
        return [*events, *(keeper.adopt(now) if who is not None and who.is_nobody else ())]


def _asks(one: Undoable, weighing: str) -> tuple[tuple[int, Asked], ...]:
    return tuple((turn, Asked(**asked)) for turn, asked in one.dropped if asked["weighing"] == weighing)


def _doses(change: Change) -> frozenset[str]:
    """Return the treatments, by plain name, of which what was said is changed."""
    before, after = ({plain(one["name"]): one for one in side or ()} for side in change.get("doses_said", (None, None)))
    return frozenset(name for name in {**before, **after} if before.get(name) != after.get(name))


def _by_number(data: Weighing) -> dict[str, str] | None:
    """Return what a person said of a weighing's animal where that is all that tells it; what the book knows is left."""
    visual = (data.animal or {}).get("visual") if data.tag is None else None
    return {"visual": str(visual)} if visual else None


def _back(now: Weighing, change: Change) -> Weighing:
    body = now.model_dump(mode="json")
    found = put_back(body, change)
    return now if found == body else Weighing.model_validate(found)
