"""What a person says of a weighing that the station knows no more: from before a restart, or of long ago.

Its newest revision, as the journal has it, and what is said make the next revision.  Nothing but what they say is
changed, and what follows from it here; what the job knows follows in `Clerk.afterwards`.
"""

from collections.abc import Mapping
from datetime import datetime
from typing import Any

from neckyoke.bridge.events import DoseSaid, Finding, Flag, Weighing
from neckyoke.bridge.station.instructions import AnimalInstruction, Dosed, Found, Identify, Note, Void, told
from neckyoke.bridge.station.record import claims, code_flags, dose_said, in_order, not_given, over, tag
from neckyoke.bridge.station.settings import Place
from neckyoke.protocols.tagcode import TagCode

OF_TAG = frozenset(
    {
        Flag.NO_TAG,
        Flag.TWO_TAGS,
        Flag.REPEAT,
        Flag.TAG_DOUBTFUL,
        Flag.TAG_ELSEWHERE,
        Flag.NOT_ANIMAL,
        Flag.ODD_CODE,
        Flag.BY_PERSON,
        Flag.READER_LOST,
    }
)
"""Flags that go with the tag they were given for."""
OF_JOB = frozenset(
    {
        *(Flag.NOT_EXPECTED, Flag.ALREADY_WEIGHED, Flag.WEIGHT_UNLIKELY, Flag.WITHHELD),
        *(Flag.NOT_GIVEN, Flag.DOSE_DOUBTFUL),
    }
)
"""Flags that the job gives."""


def amended(past: Weighing, said: AnimalInstruction, weighed: Mapping[str, str], at: datetime) -> Weighing:
    """Return the next revision of a weighing.  `weighed`: tags in its job, and their weighings.

    `at`: when it is said.
    """
    change: dict[str, Any] = {}
    match said:
        case Note(text):
            change["notes"] = (*past.notes, text)
        case Found(finding, value):
            others = tuple(one for one in past.findings if one.name != finding)
            seen = Finding(name=finding, value=value, by="person", at=at)
            change["findings"] = others if value is None else (*others, seen)
        case Dosed():
            change["doses_said"] = doses = _with_dose(past.doses_said, said, at)
            change["skipped"] = not_given(doses)
            if said.another:
                change |= {"maybe_same": None, "flags": in_order({*past.flags} - {Flag.MAYBE_SAME})}
        case Void():
            for name in said.doses:
                given = Dosed(name, given=True)
                change["doses_said"] = _with_dose(change.get("doses_said", past.doses_said), given, at)
            change["none_given"] = said.given is False
            change["flags"] = in_order({*past.flags, Flag.VOIDED} - {Flag.REPEAT})
        case Identify(code, visual):
            known = (past.animal or {}) if not said.of_tag and past.tag is not None else {}
            change["animal"] = {**known, "visual": visual} if visual else None
            tells = past.maybe_same is not None and (code is not None or visual is not None)
            flags = {*past.flags} - ({Flag.MAYBE_SAME} if tells else set())
            change |= {"flags": in_order(flags), "maybe_same": None if tells else past.maybe_same}
            if said.of_tag:
                change["flags"] = in_order(flags - OF_TAG | _flags(past, code, weighed))
                same = past.tag is not None and past.tag.id == str(code)
                change["tag"] = past.tag if same else tag(code) if code else None
    _, why = told(said, past.number)
    return past.model_copy(
        update={**change, "revision": past.revision + 1, "final": True, "final_at": None, "why": why}
    )


def _with_dose(before: tuple[DoseSaid, ...], said: Dosed, at: datetime) -> tuple[DoseSaid, ...]:
    """Return what is said of doses with one word more, which leaves what was said of the same one and it says not."""
    known = next((one for one in before if one.name == said.treatment), None)
    if known is not None:
        said = over(Dosed(said.treatment, known.given, known.amount, batch=known.batch), said)
    return (*(one for one in before if one.name != said.treatment), dose_said(said, at))


def moved(past: Weighing, place: Place, weighed: Mapping[str, str], why: str, known: Mapping[str, Any]) -> Weighing:
    """Return the next revision of a weighing that belongs elsewhere now, or is under another sheet there.

    What the job knew of it is left out: it is to be filled in again.  `weighed`: tags in its new job, and their
    weighings; `known`: what the herd book has of its animal.
    """
    flags = {*past.flags} - {Flag.PAUSED, Flag.REPEAT, *OF_JOB}
    if place.paused:
        flags.add(Flag.PAUSED)
    elif past.tag and weighed.get(past.tag.id, past.weighing) != past.weighing and Flag.VOIDED not in past.flags:
        flags.add(Flag.REPEAT)
    own = {name: value for name, value in (past.animal or {}).items() if name in {"id", "known_as", "visual"}}
    animal = {**known, **own}
    return past.model_copy(
        update={
            "revision": past.revision + 1,
            "job": place.job,
            "job_number": place.job_number,
            "flags": in_order(flags),
            "sheet": None,
            "treatments": (),
            "pen": None,
            "animal": animal or None,
            "final": True,
            "final_at": None,
            "why": why,
        }
    )


def known_anew(past: Weighing, weighed: Mapping[str, str], why: str) -> Weighing:
    """Return the next revision of a weighing whose animal other things are known of now; they are to be filled in.

    What a person said of it stands.  `weighed`: tags in its job, and their weighings; of a job long ago, nothing.
    """
    said = past.tag is None or Flag.WHICH_ANIMAL in past.flags
    visual = (past.animal or {}).get("visual") if said else None
    flags = {*past.flags} - ({Flag.REPEAT} if weighed else set())
    if past.tag and claimed(past) and weighed.get(past.tag.id, past.weighing) != past.weighing:
        flags.add(Flag.REPEAT)
    return past.model_copy(
        update={
            "revision": past.revision + 1,
            "animal": {"visual": visual} if visual else None,
            "findings": tuple(one for one in past.findings if one.by == "person"),
            "flags": in_order(flags),
            "final": True,
            "final_at": None,
            "why": why,
        }
    )


def claimed(weighing: Weighing) -> tuple[str, ...]:
    """Return what a weighing is counted by in its job: see `Record.claims`."""
    if {Flag.VOIDED, Flag.PAUSED} & {*weighing.flags}:
        return ()
    visual = (weighing.animal or {}).get("visual")
    return claims(weighing.weighing, weighing.tag.id if weighing.tag else None, visual and str(visual))


def _flags(past: Weighing, code: TagCode | None, weighed: Mapping[str, str]) -> set[Flag]:
    """Return the flags of a tag that a person gave."""
    if code is None:
        return {Flag.NO_TAG, Flag.BY_PERSON}
    again = weighed.get(str(code), past.weighing) != past.weighing and not {Flag.VOIDED, Flag.PAUSED} & {*past.flags}
    return {Flag.BY_PERSON, *code_flags(code), *({Flag.REPEAT} if again else ())}
