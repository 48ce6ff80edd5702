"""A yard to look at: the real page, hub and journal on a loop of their own, and someone who obeys."""

import asyncio
import json
import threading
from collections.abc import Awaitable, Callable
from concurrent.futures import Future
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any, TypeVar

from neckyoke.bridge.asking.requests import Answer, Answered, parse_request
from neckyoke.bridge.events import (
    Attention,
    Clock,
    Data,
    Event,
    Flag,
    Gain,
    Settled,
    Tag,
    Treatment,
    Weighing,
    Weight,
    make_id,
    wrap,
)
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.journal.journal import Journal
from neckyoke.bridge.page import access
from neckyoke.bridge.page.app import Page
from neckyoke.bridge.telling.fanout import Hub, Live
from neckyoke.bridge.telling.status import PlatformView
from tests.bridge.page.browser import Browser
from tests.support.daemon import until
from tests.support.status import status_of, view_of

T = TypeVar("T")
CODE = "482913067"
STATION = "crush"
ALWAYS: dict[str, dict[str, Any]] = {
    "zero": {"done": False, "text": "Something stands on the platform; zero is set when it is empty."},
    "sheets": {"done": True, "text": "", "sheet": {"sheets": [], "offered": {}}},
}
"""What the stand-in says to some kinds of requests."""
SO_BE_IT = {"undo", "reply", "retag", "mark", "unmark", "name"}
"""Kinds of requests that the stand-in only says yes to, as to what is said of a dose."""
NOW = datetime(2026, 11, 24, 14, 20, tzinfo=UTC)
"""The yard's own clock stands still, but for tests that move `Yard.now`: a tally must not depend on when one runs."""


def tag(number: int) -> Tag:
    """Make a tag of the test manufacturer."""
    return Tag(id=f"999{number:012d}", code="999", national=f"{number:012d}", animal=True, reads=9, link="panel")


def followed(yard: "Yard", browser: Browser) -> None:
    """Wait until the page follows: what it was told before is news of animals that have gone, and makes no sound.

    The first of two may be what it found as it began; the second comes by the stream.
    """
    for kg in (1.5, 0.5):
        yard.show(view("empty", kg))
        browser.until("document.querySelector('#kg').textContent === arguments[0]", str(kg))


def weighing(number: int, kg: float | None, **more: Any) -> Weighing:
    """Make a weighing."""
    on = more.pop("on", NOW - timedelta(seconds=30))
    grade = more.pop("grade", "good" if kg is not None else "none")
    base = {
        "weighing": make_id("yard", number), "station": STATION, "number": number, "tag": tag(number),
        "weight": Weight(kg=kg, grade=grade, first_kg=kg, readings=80, span_s=8.0), "on": on,
        "settled": on + timedelta(seconds=4), "off": on + timedelta(seconds=9), "clock": Clock.SYNCHRONISED,
    }  # fmt: skip
    return Weighing(**{**base, **more})


def settled(one: Weighing, *, may_leave: bool = True) -> Settled:
    """Make the settled event of a weighing to come."""
    names = ("weighing", "station", "number", "tag", "weight", "on", "clock", "flags", "sheet", "animal", "treatments")
    given = {name: getattr(one, name) for name in (*names, "gain", "pen")}
    missing = () if may_leave else ("tag",)
    return Settled(**given, settled=one.settled or one.on, may_leave=may_leave, missing=missing)


def view(state: str, kg: float | None, number: int | None = None, **more: Any) -> PlatformView:
    """Make a live view."""
    return view_of(STATION, state, kg, number=number, **more)


class Yard:
    """The stand-in daemon.  `tell` and `show` may be called from the test's own thread."""

    def __init__(self, folder: Path) -> None:
        self.hub = Hub()
        self.code_file = folder / "page.code"
        self.asked: list[dict[str, Any]] = []
        self.held: list[dict[str, Any]] = []
        self.now = NOW
        self.book = Book()
        self.status: dict[str, Any] = {
            "site": "larkmoor",
            "stations": {
                STATION: {
                    "counts": {"animals": 0, "expected": 40}, "sheet": "Backgrounding induction",
                    "treatments": ["oral drench", "clostridial"], "sheets": ["autumn.toml", "weaners.toml"],
                }
            },
            "links": {"indicator": {"state": "up", "text": "", "frames": 8123, "rejects": {"bad-bytes": 2}},
                      "panel": {"state": "up", "text": "", "frames": 120}},
            "outlets": {"farm": {"kind": "mqtt", "connected": True, "backlog": 0, "trouble": {}}},
            "clock": {"state": "synchronised", "steps": 0}, "troubles": [], "journal": {"last": 0, "waiting": 0},
        }  # fmt: skip
        self._folder = folder
        self.loop = asyncio.new_event_loop()
        self._thread = threading.Thread(target=self.loop.run_forever, daemon=True)
        self._keys = 0
        self.journal: Journal
        self.page: Page
        self.port = 0

    def begin(self, *, make_code: bool = True, **options: Any) -> "Yard":
        """Start the page."""
        if make_code:
            access.keep(self.code_file, CODE)
        self._thread.start()
        self.wait(self._begin(options))
        return self

    async def _begin(self, options: dict[str, Any]) -> None:
        self.journal = await Journal.open(self._folder / "yard.db")
        self.page = Page(
            "127.0.0.1:0", hub=self.hub, journal=self.journal, ask=self.ask, status=lambda: status_of(**self.status),
            code_file=self.code_file, book=self.book, now=lambda: self.now, **options,
        )  # fmt: skip
        self.port = await self.page.start()

    def end(self) -> None:
        """Stop it all."""
        self.wait(self.page.stop())
        self.wait(self.journal.close())
        self.loop.call_soon_threadsafe(self.loop.stop)
        self._thread.join(10)
        self.loop.close()

    @property
    def url(self) -> str:
        """Where the page is."""
        return f"http://127.0.0.1:{self.port}/"

    def wait(self, work: Awaitable[T]) -> T:
        """Run something on the page's loop and wait for it."""

        async def done() -> T:
            return await work

        future: Future[T] = asyncio.run_coroutine_threadsafe(done(), self.loop)
        return future.result(30)

    def soon(self, act: Callable[[], object]) -> None:
        """Do something on the page's loop."""
        self.loop.call_soon_threadsafe(act)

    def tell(self, *data: Data) -> list[Event]:
        """Let events happen: journalled, then shown, as the daemon does."""
        return self.wait(self._tell(data))

    async def _tell(self, data: tuple[Data, ...]) -> list[Event]:
        self._keys += 1
        events = [wrap(one, site="larkmoor", time=NOW, key=f"{self._keys}/{at}") for at, one in enumerate(data)]
        written = await self.journal.append(events)
        for event in written:
            self.hub.put(event)
        return written

    def show(self, shown: PlatformView) -> None:
        """Show what the platform shows now; a phone that comes later is given it too."""
        self.status["stations"][STATION]["view"] = shown
        self.soon(lambda: self.hub.put(Live(STATION, shown)))

    def request(self, count: int) -> dict[str, Any]:
        """Wait until so many requests were put; return the last of them without its id."""
        until(lambda: len(self.asked) >= count, f"request number {count}")
        return {key: value for key, value in self.asked[count - 1].items() if key != "id"}

    async def ask(self, request: dict[str, Any]) -> dict[str, Any]:
        """Do what a request asks, as far as the tests need it."""
        self.asked.append(request)
        if request["kind"] in ALWAYS:
            return ALWAYS[request["kind"]]
        if request["kind"] == "withheld":
            text = f"{len(self.held)} withheld for meat on {request['on']}:\n…\nlocal rules decide."
            return {"done": True, "text": text, "withheld": self.held}
        if request["kind"] == "finding":
            answer = {"done": True, "text": f"{request['name']}: said.", "weighing": request["weighing"]}
            return await self._kept(request, answer)
        if request["kind"] in SO_BE_IT or (request["kind"] == "skip" and "given" in request):
            text = f"{request.get('choice', request['kind'])}: so be it."
            return await self._kept(request, {"done": True, "text": text})
        rows = [event.data for event in await self.journal.weighings() if isinstance(event.data, Weighing)]
        fits = [
            row for row in rows if request.get("weighing", row.weighing) == row.weighing
            and request.get("number", row.number) == row.number
        ]  # fmt: skip
        if not fits:
            return {"done": False, "text": "There is no such weighing."}
        one = fits[0]
        change: dict[str, Any] = {"revision": one.revision + 1}
        if request["kind"] == "note":
            change["notes"] = (*one.notes, request["text"])
        if request["kind"] == "void":
            change["flags"] = (*one.flags, Flag.VOIDED)
        answer = {"done": True, "text": f"Done for no. {one.number}.", "weighing": one.weighing}
        kept = await self._kept(
            request, answer
        )  # the daemon writes both at once: who hears of it may ask what was said
        await self._tell((one.model_copy(update=change),))
        return kept

    async def _kept(self, request: dict[str, Any], answer: dict[str, Any]) -> dict[str, Any]:
        """Give an answer by which its request can be taken back, and remember both as the daemon does."""
        if request["kind"] not in {"undo", "reply"} and "id" in request:
            answer |= {"asked": request["id"]}
        told = Answered().keep(parse_request(request), Answer.model_validate(answer), NOW)  # type: ignore[arg-type]
        (body,) = told.values()
        self._keys += 1
        turn = json.loads(body) | {"turn": self._keys}
        await self.journal.append(values={f"asked/{self._keys}": json.dumps(turn)})
        return answer


def a_mob(yard: Yard, count: int = 14) -> None:
    """Let a small mob have been weighed, with what a day brings."""
    treatments = (
        Treatment(name="oral drench", dose_ml=35.0, exact_ml=31.9, withheld_until="2026-12-23"),
        Treatment(name="clostridial", dose_ml=2.0, exact_ml=2.0, withheld_until="2026-11-24"),
    )
    start = NOW - timedelta(minutes=count)
    for number in range(1, count + 1):
        kg = 262.0 + (number * 37) % 118 + (number % 2) * 0.5
        pen = "heavy" if kg >= 340 else "light" if kg < 300 else "middle"
        more: dict[str, Any] = {
            "pen": pen, "treatments": treatments, "sheet": "Backgrounding induction",
            "animal": {"visual": str(200 + number)},
            "gain": Gain(kg=40.0, days=45, since="2026-10-10", kg_per_day=0.6 + (number % 5) * 0.12),
            "on": start + timedelta(minutes=number - 1), "details": {"breed": "dairy cross"},
        }  # fmt: skip
        if number == count - 1:
            more |= {"tag": None, "flags": (Flag.NO_TAG,), "animal": None}
        if number == count - 3:
            more |= {"grade": "poor", "flags": (Flag.SHORT, Flag.LEANING), "pen": None, "notes": ("lame, near hind",)}
        if number == count - 4:
            more |= {"grade": "fair"}
        if number == count - 5:
            more |= {"flags": (Flag.VOIDED,)}
        yard.tell(weighing(number, kg, **more))
    yard.status["stations"][STATION]["counts"] = {"animals": count, "expected": 40}


def a_trouble() -> Attention:
    """Make a trouble."""
    text = "The platform reads 6.5 kg when empty. Clean it, then set zero."
    return Attention(station=STATION, about="zero-off", text=text)
