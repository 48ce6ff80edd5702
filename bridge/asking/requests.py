"""What can be asked of the running daemon: checked on the way in, answered in plain words on the way out.

    {"kind": "note", "station": "crush", "text": "lame, near hind"}

One shape on every way in: the local socket, the broker's request topic, a capture.  `id` comes back in the answer; a
request whose id was answered before is not done again.  An animal is meant by `weighing` (its id) or `number`; with
neither, the one standing now, or the last one.
"""

import json
from collections import OrderedDict
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import datetime
from types import MappingProxyType
from typing import Annotated, Any, ClassVar, Literal, Self, TypeAlias

from pydantic import AfterValidator, BaseModel, ConfigDict, Field, StringConstraints, ValidationError, model_validator

from neckyoke.bridge.asking.dose_requests import DoseRequest, FindingRequest, SkipRequest, WithheldRequest
from neckyoke.bridge.asking.herd_requests import (
    ImportRequest,
    MarkRequest,
    MergeRequest,
    NameRequest,
    ReplyRequest,
    RetagRequest,
    SplitRequest,
    UnmarkRequest,
)
from neckyoke.bridge.asking.job_requests import (
    BatchRequest,
    BeginRequest,
    EndRequest,
    JobRequest,
    PauseRequest,
    ResumeRequest,
    SheetRequest,
    UndoRequest,
)
from neckyoke.bridge.asking.parts import Animal, Base, Short, TagText, Words, plain, read_tag
from neckyoke.bridge.asking.sheet_requests import BULKY, DropSheet, OpenSheet, SaveSheet, SheetsRequest, TrySheet
from neckyoke.bridge.config.problems import nearest
from neckyoke.bridge.events import Question, spell_time
from neckyoke.bridge.station.instructions import Dosed, Found, Identify, Instruction, Note, Void, Zero
from neckyoke.bridge.telling.status import Status

LARGEST, LARGEST_SHEET = 16384, 3_000_000
"""Bytes of one request, and of one that brings a sheet and its roster."""
REMEMBERED = 256
"""Requests and answers kept."""
ASKED = "asked/"


class ZeroRequest(Base):
    """Take what the platform shows now, empty and quiet, as its zero."""

    kind: Literal["zero"] = "zero"


class NoteRequest(Animal):
    """Put a note on a weighing."""

    kind: Literal["note"] = "note"
    text: Words


class IdentifyRequest(Animal):
    """Say which tag or visual number an animal has; neither means that it has none."""

    kind: Literal["identify"] = "identify"
    tag: TagText | None = None
    visual: Short | None = None


class CorrectRequest(Animal):
    """Put another tag or visual number on a weighing that has been; it must be named by id or number."""

    kind: Literal["correct"] = "correct"
    tag: TagText | None = None
    visual: Short | None = None

    @model_validator(mode="after")
    def _named(self) -> Self:
        if not self.is_named:
            raise ValueError("say which weighing: give weighing (its id) or number")
        if self.tag is None and self.visual is None:
            raise ValueError("say what is right: give tag or visual (identify with neither says that it has none)")
        return self


class VoidRequest(Animal):
    """Strike a weighing out.  `given`: whether its doses were given; unsaid, they stand as they are."""

    kind: Literal["void"] = "void"
    given: bool | None = None
    reason: Annotated[str, StringConstraints(max_length=500, strip_whitespace=True), AfterValidator(plain)] = ""


class ReloadRequest(Base):
    """Take over what has changed in the configuration and its sheets; what cannot be is said."""

    kind: Literal["reload"] = "reload"


class StatusRequest(Base):
    """Say how the daemon is."""

    kind: Literal["status"] = "status"


Request: TypeAlias = (
    ZeroRequest
    | NoteRequest
    | IdentifyRequest
    | CorrectRequest
    | VoidRequest
    | SkipRequest
    | DoseRequest
    | FindingRequest
    | WithheldRequest
    | ReloadRequest
    | JobRequest
    | UndoRequest
    | StatusRequest
    | RetagRequest
    | NameRequest
    | MarkRequest
    | UnmarkRequest
    | MergeRequest
    | SplitRequest
    | ReplyRequest
    | SheetsRequest
    | OpenSheet
    | TrySheet
    | SaveSheet
    | DropSheet
    | ImportRequest
)

KINDS: dict[str, type[Request]] = {
    "zero": ZeroRequest,
    "note": NoteRequest,
    "identify": IdentifyRequest,
    "void": VoidRequest,
    "correct": CorrectRequest,
    "skip": SkipRequest,
    "dose": DoseRequest,
    "finding": FindingRequest,
    "withheld": WithheldRequest,
    "batch": BatchRequest,
    "sheet": SheetRequest,
    "reload": ReloadRequest,
    "begin": BeginRequest,
    "pause": PauseRequest,
    "resume": ResumeRequest,
    "end": EndRequest,
    "undo": UndoRequest,
    "status": StatusRequest,
    "retag": RetagRequest,
    "name": NameRequest,
    "mark": MarkRequest,
    "unmark": UnmarkRequest,
    "merge": MergeRequest,
    "split": SplitRequest,
    "reply": ReplyRequest,
    "sheets": SheetsRequest,
    "sheet-open": OpenSheet,
    "sheet-try": TrySheet,
    "sheet-save": SaveSheet,
    "sheet-drop": DropSheet,
    "import": ImportRequest,
}


class Doubt(BaseModel):
    """What is wrong with one cell of a table that was sent; `kind` is the same for all of its kind."""

    model_config: ClassVar[ConfigDict] = ConfigDict(extra="forbid", frozen=True)

    row: int
    column: str
    what: str
    hint: str
    kind: str


class Answer(BaseModel):
    """What was done, or why not; `question` is to be replied to.  `status` holds the figures that status asked for."""

    model_config: ClassVar[ConfigDict] = ConfigDict(extra="forbid", frozen=True)

    id: str | None = None
    done: bool
    text: str
    asked: str | None = Field(default=None, description="by which it can be taken back (undo)")
    weighing: str | None = None
    question: Question | None = None
    job: str | None = None
    status: Status | None = None
    withheld: list[dict[str, Any]] | None = Field(default=None, description="who may not go, as was asked")
    sheet: dict[str, Any] | None = Field(default=None, description="what was asked of the shelf of job sheets")
    taken: int | None = Field(default=None, description="animals added or filled in by an import")
    size: int | None = Field(default=None, description="animals in the herd book after it")
    doubts: list[Doubt] | None = Field(default=None, description="of the rows of an import")


@dataclass(frozen=True, slots=True)
class Refusal:
    """A request that is none: why, and what would be right."""

    text: str
    id: str | None = None
    too_large: bool = False

    def answer(self) -> Answer:
        """Say so to whoever asked."""
        return Answer(id=self.id, done=False, text=self.text)


def parse_request(raw: str | bytes | Mapping[str, Any]) -> Request | Refusal:
    """Check a request.  Never raises on what came in."""
    if isinstance(raw, str | bytes):
        size = len(raw)
        read = _read_json(raw) if size <= LARGEST_SHEET else None
        brings = isinstance(read, Mapping) and read.get("kind") in BULKY
        if size > (LARGEST_SHEET if brings else LARGEST):
            return Refusal(f"A request has at most {LARGEST} bytes; one with a sheet {LARGEST_SHEET}.", too_large=True)
    else:
        read = raw
    if not isinstance(read, Mapping):
        return Refusal('A request is one JSON object, such as {"kind": "zero", "station": "crush"}.')
    name = read.get("id")
    known = name if isinstance(name, str) and len(name) <= 64 else None
    kind = read.get("kind")
    if kind is None:
        return Refusal(f"The key 'kind' is missing.  Known: {', '.join(sorted(KINDS))}.", known)
    if not isinstance(kind, str) or kind not in KINDS:
        return Refusal(f"Unknown kind {str(kind)[:40]!r}.  {nearest(str(kind)[:40], KINDS)}", known)
    try:
        return KINDS[kind].model_validate(read)
    except ValidationError as error:
        return Refusal(_say(KINDS[kind], error), known)


def _read_json(raw: str | bytes) -> Any:
    """Read JSON; None when it is none."""
    try:
        return json.loads(raw)
    except (ValueError, RecursionError):
        return None


def _say(model: type[Request], error: ValidationError) -> str:
    """Return the first thing wrong with a request."""
    one = error.errors(include_url=False)[0]
    key = str(one["loc"][0])[:40] if one["loc"] else ""
    kind = model.model_fields["kind"].default
    match one["type"]:
        case "extra_forbidden":
            return f"Unknown key {key!r} in {kind}.  {nearest(key, model.model_fields)}"
        case "missing":
            return f"The key {key!r} is missing in {kind}."
        case "value_error":
            text = str(one["ctx"]["error"])
            return f"{key}: {text}." if key else f"{kind}: {text}."
        case "string_pattern_mismatch":
            return f"{key}: small letters, digits, - and _, up to 32 of them."
        case _:
            return f"{key}: {one['msg'][0].lower()}{one['msg'][1:]}."


def to_ask(request: Request) -> Instruction | None:
    """Put a request in the station's words; None for those that are not about its platform or animals."""
    ask: Instruction | None = None
    match request:
        case ZeroRequest():
            ask = Zero()
        case NoteRequest():
            ask = Note(request.text, request.about)
        case IdentifyRequest() | CorrectRequest():
            code = read_tag(request.tag) if request.tag is not None else None
            assert not isinstance(code, str), "checked on the way in"
            ask = Identify(code, request.visual, request.about)
        case VoidRequest():
            ask = Void(request.reason, request.about, request.given)
        case SkipRequest():
            ask = Dosed(request.treatment, request.given, about=request.about)
        case DoseRequest():
            ask = Dosed(request.treatment, None, request.amount, batch=request.batch, about=request.about)
        case FindingRequest():
            value = tuple(request.value) if isinstance(request.value, list) else request.value
            ask = Found(request.name, value, request.about)
    return ask


class Answered:
    """What was asked and answered last: a request that comes twice is done once, after a restart too.

    The journal keeps them by turns: `keep` gives what to write together with what was done, `values` are what it had of
    the last run.
    """

    def __init__(self, values: Mapping[str, str] = MappingProxyType({}), kept: int = REMEMBERED) -> None:
        self._kept = kept
        self._answers: OrderedDict[str, Answer] = OrderedDict()
        before = sorted(
            (json.loads(body) for name, body in values.items() if name.startswith(ASKED)), key=lambda one: one["turn"]
        )
        self._turn: int = before[-1]["turn"] if before else 0
        for one in before:
            self._remember(Answer.model_validate(one["answer"]))

    def before(self, request: Request) -> Answer | None:
        """Return the answer this request had before, if it had one."""
        return self._answers.get(request.id) if request.id is not None else None

    def parts_before(self, request: Request) -> list[Answer]:
        """Return the answers that the parts of this request had before."""
        if request.id is None:
            return []
        whole = f"{request.id[:40]}/"
        return [one for name, one in self._answers.items() if name.startswith(whole) and name[len(whole) :].isdecimal()]

    def keep(self, request: Request, answer: Answer, time: datetime) -> dict[str, str]:
        """Remember an answer; return what the journal is to keep of it, by name."""
        self._remember(answer)
        self._turn += 1
        told = {"turn": self._turn, "time": spell_time(time)}
        said = {"request": request, "answer": answer}
        bulky = {"request": {"text", "roster", "form", "rows"}, "answer": {"doubts"}}  # kept elsewhere, or in the book
        told |= {
            name: one.model_dump(mode="json", exclude_none=True, by_alias=True, exclude=bulky[name])
            for name, one in said.items()
        }
        return {f"{ASKED}{self._turn % self._kept}": json.dumps(told)}

    def _remember(self, answer: Answer) -> None:
        if answer.id is not None:
            self._answers[answer.id] = answer
            while len(self._answers) > self._kept:
                self._answers.popitem(last=False)
