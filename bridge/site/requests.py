"""What people and programs ask of a site: which station and animal is meant, in which words, and what is done."""

from collections.abc import Iterable
from dataclasses import replace
from typing import TYPE_CHECKING, TypeVar

from neckyoke.bridge.asking.dose_requests import Several, WithheldRequest
from neckyoke.bridge.asking.herd_requests import HerdRequest, OfAnimal, ReplyRequest
from neckyoke.bridge.asking.job_requests import JOB_REQUESTS, UndoRequest
from neckyoke.bridge.asking.parts import Animal, Base
from neckyoke.bridge.asking.requests import Answer, ReloadRequest, Request, StatusRequest, to_ask
from neckyoke.bridge.asking.sheet_requests import SHELF_REQUESTS
from neckyoke.bridge.events import Attention, Event, Weighing, make_id
from neckyoke.bridge.herd.change import facts_of, without_id
from neckyoke.bridge.job.afterwards import Afterwards
from neckyoke.bridge.job.doses.given import is_asked_of_another, struck_out
from neckyoke.bridge.job.meaning import in_words_of
from neckyoke.bridge.site.herding import ask_herd, asked_of_long_ago, looked_up
from neckyoke.bridge.site.taking_back import TakingBack
from neckyoke.bridge.site.undoing import Owed, Undoable, Undos
from neckyoke.bridge.station.instructions import About, Dosed, Identify, Instruction, NewJob, Reply, Void, Zero

if TYPE_CHECKING:
    from neckyoke.bridge.site.site import Site

LATE_S = 15.0
"""A note or a finding may come so long after its animal has left, without a number."""
MOVED = "the job that it belongs to, or its sheet, is another now"
R = TypeVar("R", bound=Base)


class SiteRequests:
    """Does what is asked of one site."""

    def __init__(self, site: "Site", undos: Undos) -> None:
        self.site, self.undos = site, undos
        self.back = TakingBack(site, self, undos)
        self._at = (0.0, 0)  # when something was asked last, and how often at that very moment

    def request(self, t: float, request: Request, past: Weighing | None = None) -> tuple[Answer, list[Event]]:
        """Do what is asked, or say why not.  Status and reloading are the service's.

        `past` is the newest revision of the weighing that it is about, where that is not at hand (`lacks`).  A replay
        has no journal to read it from: there such a request finds nobody, and the amendment is not made again.
        """
        if isinstance(request, (StatusRequest, ReloadRequest, WithheldRequest, *SHELF_REQUESTS)):
            return Answer(id=request.id, done=False, text="Only the running daemon can do that."), []
        if isinstance(request, HerdRequest):
            return self._of_herd(t, request, past)
        name = self.station_of(request)
        if isinstance(request, UndoRequest) and (name or self.undos.find(request.asked, None)):
            return self.back.do(t, name, request)
        if name is None:
            known = ", ".join(sorted(self.site.stations))
            wrong = f"There is no station {request.station!r} here; known: {known}."
            text = wrong if request.station else f"Say which station: {known}."
            return Answer(id=request.id, done=False, text=text), []
        named = self._numbered(name, request)
        refused = named if isinstance(named, str) else self._who_left(t, name, named)
        if isinstance(named, str) or refused:
            return Answer(id=request.id, done=False, text=str(refused)), []
        return self._do(t, name, named, past)

    def _do(self, t: float, name: str, request: Request, past: Weighing | None) -> tuple[Answer, list[Event]]:
        """Do what is asked of a station."""
        asked, station, jobs = self._asked(t, request), self.site.stations[name], self.site.jobs[name]
        self.undos.begin(past)
        stood = station.open_stay
        if isinstance(request, JOB_REQUESTS):
            events = self.site.filled_all(t, station.advance(t))
            whole, stands = station.open_stay, station.view.number
            done, moved = jobs.ask(t, request, asked, stands if whole and whole.number != stands else None)
            events += self.moved(t, name, moved) + self.site.take_rosters(t)
            self.undos.drop()
            if done.done:
                self.undos.note(Undoable(asked, self.undos.turn(), name, done.text), (), (None, None))
            answer = Answer(
                id=request.id, done=done.done, text=done.text, asked=asked if done.done else None, job=done.job
            )
            return answer, events
        ask = to_ask(request)
        assert ask is not None, "only status is no station's"
        reply, events = self._ask(t, name, ask, past, asked)
        if reply.done and not isinstance(ask, Zero):
            said = reply.text.partition("  ")[0]  # what follows from it holds no more once it is taken back
            one = Undoable(asked, self.undos.turn(), name, said, reply.weighing)
            one.whole = request.whole if isinstance(request, Several) else None
            one.teaches = request.kind in {"identify", "correct", "finding"}
            self.undos.note(one, events, (stood, station.open_stay))
        self.undos.drop()
        question = next((e.data.question for e in events if isinstance(e.data, Attention) and e.data.question), None)
        answer = Answer(
            id=request.id,
            done=reply.done,
            text=f"{reply.text}  {question.text}" if question else reply.text,
            asked=asked if reply.done and not isinstance(ask, Zero) else None,
            weighing=reply.weighing,
            question=question,
        )
        return answer, events

    def _asked(self, t: float, request: Base) -> str:
        """Return by what a request is taken back: its id, or one that is made for it."""
        self._at = (t, self._at[1] + 1) if self._at[0] == t else (t, 0)
        return request.id or make_id(self.site.config.site, self.site.run, "asked", f"{t:.6f}", self._at[1])

    def moved(self, t: float, name: str, numbers: Iterable[int]) -> list[Event]:
        """Publish anew the stays that a word on the job has moved; those that are not at hand are owed."""
        station, jobs = self.site.stations[name], self.site.jobs[name]
        places = {number: place for number in numbers if (place := jobs.jobs.place(number)) is not None}
        lacking = (About(number=number) for number in places if station.number_of(About(number=number)) is None)
        self.site.owed[name] = tuple(Owed(about) for about in lacking)
        return self.site.filled_all(t, station.move(t, places, MOVED))

    def move_past(self, t: float, past: Weighing, owed: Owed) -> list[Event]:
        """Publish anew a stay that is owed (`owed`), from its newest revision."""
        if owed.back is not None:
            return self.back.past(t, past, owed)
        if owed.anew:
            return self.back.anew(t, past)
        station, place = self.site.stations[past.station], self.site.jobs[past.station].jobs.place(past.number)
        if place is None:
            return []
        who = self.site.keeper.book.find(str((past.animal or {}).get("id")))
        known = facts_of(who) if who else {}
        return self.site.filled_all(t, [station.move_past(t, past, place, MOVED, known)])

    def lacks(self, request: Request) -> tuple[str, About] | None:
        """Return the station and animal that a request is about, when that is not at hand; else None."""
        if isinstance(request, ReplyRequest):
            return asked_of_long_ago(self.site, request)
        if isinstance(request, OfAnimal) and request.words:
            return None
        name = self.station_of(request)
        named = self._numbered(name, request) if name is not None else request
        if name is None or not isinstance(named, Animal) or self.site.stations[name].number_of(named.about) is not None:
            return None
        return name, named.about

    def _numbered(self, name: str, request: R) -> R | str:
        """Return a request with the station's number of its animal; or that there is none."""
        if not isinstance(request, Animal) or request.job_number is None or request.number is not None:
            return request
        jobs = self.site.jobs[name].jobs
        job = jobs.which(request.job) if request.job else jobs.last
        number = jobs.number_of(request.job_number, job) if job else None
        if number is None:
            return f"{f'Job {job.turn}' if job else 'No job here'} has no number {request.job_number}."
        return request.model_copy(update={"number": number})

    def _who_left(self, t: float, name: str, request: Request) -> str | None:
        """Return which animal a word without a number would change though it has left; None when it may."""
        if not isinstance(request, Animal) or request.is_named or request.yes:
            return None
        left = self.site.stations[name].left(t)
        if left is None or (request.kind in {"note", "finding"} and left.ago_s <= LATE_S):
            return None
        place = self.site.jobs[name].jobs.place(left.number)
        told = place.job_number if place and place.job_number else left.number
        who = f"number {told}{f' ({left.tag})' if left.tag else ''}"
        return f"Nobody stands there now.  Is {who} meant, which has left?  Say --number {told}, or --yes."

    def _of_herd(self, t: float, request: HerdRequest, past: Weighing | None) -> tuple[Answer, list[Event]]:
        name = self.station_of(request)
        named = self._numbered(name, request) if name and isinstance(request, OfAnimal) else request
        if isinstance(named, str):
            return Answer(id=request.id, done=False, text=named), []
        assert isinstance(named, HerdRequest), "a number changes no kind"
        asked = self._asked(t, request)
        self.undos.begin(past)
        answer, events = ask_herd(self.site, t, named, past)
        if answer.done:
            one = Undoable(asked, self.undos.turn(), name, answer.text, answer.weighing)
            self.undos.note(one, events, (None, None))
            answer = answer.model_copy(update={"asked": asked})
        self.undos.drop()
        return answer, events

    def station_of(self, request: Base) -> str | None:
        """Return the station that a request is to; None when it names none and there are several."""
        name = request.station or (next(iter(self.site.stations)) if len(self.site.stations) == 1 else None)
        return name if name in self.site.stations else None

    def _ask(
        self, t: float, name: str, ask: Instruction, past: Weighing | None, asked: str
    ) -> tuple[Reply, list[Event]]:
        """Ask a station, in the words of its sheet and roster."""
        station, clerk = self.site.stations[name], self.site.clerks[name]
        if isinstance(ask, Zero | NewJob):
            reply, events = station.ask(t, ask)
            return reply, self.site.filled_all(t, events)
        number = station.number_of(ask.about)
        past = past if number is None else None
        known = past or self.site.newest(name, station.known_of(ask.about)[0])
        if number or past:
            sheet = clerk.sheet_of(number) if number else clerk.sheet_called(past.sheet) if past else None
            try:
                ask = in_words_of(sheet, ask, known.treatments if known else ())
            except ValueError as error:
                return Reply(done=False, text=str(error)), []
        if isinstance(ask, Dosed) and (ask.given or ask.amount is not None):
            ask = replace(ask, another=known is not None and is_asked_of_another(ask.treatment, known))
        if isinstance(ask, Identify):
            tag = (past.tag.id if past.tag else None) if past else station.known_of(ask.about)[1]
            ask = looked_up(self.site.keeper.book, clerk.roster, ask, tag)
            past = past and past.model_copy(update={"animal": without_id(past.animal)})
        if past is None:
            reply, events = station.ask(t, ask, asked)
            events = self.site.filled_all(t, events)
        else:
            reply, events = station.amend(t, past, ask)
            if not reply.done:
                return reply, self.site.filled_all(t, events)
            last = self.site.filled_all(t, events[-1:], Afterwards(clerk, other=isinstance(ask, Identify)))
            station.amended(asked, ask, past.number)
            events = [*self.site.filled_all(t, events[:-1]), *last]
        if reply.done and isinstance(ask, Void) and (struck := self.site.newest(name, reply.weighing)) is not None:
            told = struck_out(struck, struck.job_number or struck.number)
            reply = replace(reply, text=f"{reply.text}  {told}" if told else reply.text)
        if reply.done and isinstance(ask, Identify) and ask.visual and clerk.roster is not None:
            unknown = clerk.roster.by_visual(ask.visual) is None
            reply = replace(reply, text=f"{reply.text}  {ask.visual} is not on the roster.") if unknown else reply
        return reply, events
