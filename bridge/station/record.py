"""One stay's weighing in the making, and after: what is known of it, and how it is published."""

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, replace
from datetime import datetime

from neckyoke.bridge.events import DoseSaid, Finding, Flag, Former, Settled, Stamp, Stamper, Tag, Weighing, Weight
from neckyoke.bridge.station.again import HEARD_WELL, Before
from neckyoke.bridge.station.instructions import Dosed, Found, Value
from neckyoke.bridge.station.platform.happenings import NOT_RECKONED, UNSEEN, Reckoned, Stood
from neckyoke.bridge.station.settings import Place
from neckyoke.bridge.station.tags.verdict import Verdict
from neckyoke.protocols.tagcode import TEST_COUNTRY, TagCode

NONE = Weight(kg=None, grade="none")
ORDER = {flag: at for at, flag in enumerate(Flag)}


@dataclass(slots=True)
class Record:
    """What a station knows of one stay.  Times are monotonic seconds; `told` counts the times it was said to settle."""

    station: str
    number: int
    weighing: str
    on: float
    job: str | None = None
    job_number: int | None = None
    paused: bool = False
    settled: float | None = None
    off: float | None = None
    weight: Weight = NONE
    platform_flags: tuple[Flag, ...] = ()
    in_sight: bool = True  # its first foot was seen; else:
    stood: Stood = UNSEEN
    reckoned: Reckoned = NOT_RECKONED
    verdict: Verdict | None = None
    passed: bool = False  # it was recorded while the job was paused, and counted in
    before: Before | None = None  # the stay before this one,
    soon: bool = False  # and whether this followed it soon
    visual: str | None = None
    voided: bool = False
    none_given: bool = False  # struck out, and none of its doses was given
    notes: list[str] = field(default_factory=list)
    findings: dict[str, tuple[Value, float]] = field(default_factory=dict)  # by name: what a person saw, and when
    doses: dict[str, tuple[Dosed, float]] = field(default_factory=dict)  # by treatment: what a person said, and when
    revision: int = 0
    told: int = 0
    published: Weighing | None = None
    left: Weighing | None = None  # what the last run left, where this is the first stay since
    resumes: Weighing | None = None  # the same, where that was this animal
    may_be: Weighing | None = None  # the same, where nobody can tell
    own: tuple[str, int] = ("", 0)  # its own id and newest revision, while it is told under that of what it resumes,
    alone: Place | None = None  # and where it belongs by itself

    @property
    def called(self) -> int:
        """The number that people call it by."""
        first = self.resumes or self
        return first.job_number or first.number

    @property
    def code(self) -> TagCode | None:
        """The tag held to be its animal's."""
        return self.verdict.code if self.verdict else None

    @property
    def tag(self) -> Tag | None:
        """The tag as published."""
        verdict = self.verdict
        if verdict is None or verdict.code is None:
            return None
        return tag(verdict.code, reads=verdict.reads, link=verdict.link, sure_percent=verdict.sure_percent)

    @property
    def claims(self) -> tuple[str, ...]:
        """What its animal is counted by; one struck out does not count, nor one while the job was paused."""
        code = str(self.code) if self.code is not None else None
        return () if self.voided or self.paused else claims(self.weighing, code, self.visual)

    def move(self, place: Place) -> None:
        """Let it belong elsewhere, and what it resumes with it."""
        self.passed = self.passed or self.paused
        self.job, self.job_number, self.paused = place
        if self.resumes is not None:
            self.left = self.resumes = placed(self.resumes, place)

    def flags(self, weighed: Mapping[str, str]) -> tuple[Flag, ...]:
        """Return all flags, in the order of their list.  `weighed`: tags in its job, and their weighings."""
        flags = {*self.platform_flags, *(self.verdict.flags if self.verdict else ())}
        if self.code is not None and self.before is not None and self.before.code not in {None, self.code}:
            flags.discard(Flag.CAME_BACK)  # the weights are alike, but another animal stood there before
        if self.is_another:
            flags.discard(Flag.CAME_BACK)
        if self._may_be_same or self.maybe_same is not None:
            flags.add(Flag.MAYBE_SAME)
        if self.voided:
            flags.add(Flag.VOIDED)
        if self.paused:
            flags.add(Flag.PAUSED)
        if self.code is not None:
            flags.update(code_flags(self.code))
            if weighed.get(str(self.code), self.weighing) != self.weighing and self.claims:
                flags.add(Flag.REPEAT)
        return in_order(flags)

    def follows(self, before: Before | None, stamp: Stamp) -> None:
        """Note whose stay was before this one, by what is held of it now; None: it is not at hand any more.

        `stamp` is of the moment when this one began.
        """
        held = self.before if self.told else None  # what was shown with it
        counted_in = before is not None and before.passed and held is not None and held.weighing != before.weighing
        if before is not None and not counted_in:
            self.before, self.soon = before, before.within(self.on, stamp, in_sight=self.in_sight)

    def is_again(self, before: Before | None, stamp: Stamp) -> bool:
        """Return whether it follows another stay soon and is known to weigh the same."""
        if before is None or not before.settled or not before.counts or self.settled is None:
            return False
        return before.within(self.on, stamp, in_sight=self.in_sight) and before.weighs_as(self.weight)

    @property
    def former(self) -> Former | None:
        """The stay before, where by time and weights this may be its animal, come on again."""
        before = self.before
        if before is None or not before.counts or not before.settled or not self.soon or self.settled is None:
            return None
        may_be = before.may_weigh(self.weight) if self.off is None else before.is_near(self.weight)
        return before.former if may_be else None

    @property
    def as_before(self) -> Before | None:
        """What the next stay is held against; None while it stands there."""
        if self.off is None:
            return None
        first, verdict = self.resumes, self.verdict
        whole = self.published if first is not None and self.published is not None else None
        return Before(
            weighing=self.weighing,
            called=self.called,
            weight=whole.weight if whole else self.weight,
            off=self.off,
            code=self.code,
            sure=self.is_sure,
            reads=verdict.reads if verdict is not None and verdict.code is not None else 0,
            settled=self.settled is not None or (first is not None and first.settled is not None),
            counts=not self.none_given and not self.paused,
            passed=self.passed,
        )

    @property
    def maybe_same(self) -> Former | None:
        """The stay before, where nobody can tell whether this is its animal, come on again.

        its tag              the one before    it may be the same
        none                 any               yes; but if two fit here, no if that was heard well and is neither
        a person said it                       no; nor where they read the number on its ear, or said "another"
        the same             the same          where it is in doubt at either: else it is the same
        another              another, or none  where it is in doubt, not the only one heard, and both weigh alike
        """
        verdict, before = self.verdict, self.before
        if before is None or self.visual is not None or self.voided or self.paused or self.resumes is not None:
            return None
        if self.is_another:
            return None
        if verdict is None or verdict.code is None:
            others = verdict is not None and verdict.both and before.code not in verdict.both
            return None if others and before.reads >= HEARD_WELL else self.former
        if Flag.BY_PERSON in verdict.flags:
            return None
        if verdict.code == before.code:
            return None if self.is_sure and before.sure else self.former
        alike = before.weighs_as(self.weight)
        return self.former if alike and not self.is_sure and verdict.seen != 1 else None

    @property
    def is_another(self) -> bool:
        """Whether a person said that it is not the animal before it: asked that, they gave it a dose."""
        return any(said.another for said, _ in self.doses.values())

    @property
    def is_sure(self) -> bool:
        """Whether its tag is not in doubt."""
        return self.verdict is None or Flag.TAG_DOUBTFUL not in self.verdict.flags

    @property
    def _may_be_same(self) -> bool:
        """Whether it may be the animal that the last run left: a person's word on its tag may have told."""
        past, verdict = self.may_be, self.verdict
        told = verdict is not None and Flag.BY_PERSON in verdict.flags and verdict.code is not None
        return past is not None and not (told and past.tag is not None and past.tag.id != str(self.code))

    def as_weighing(self, stamp: Stamper, weighed: Mapping[str, str], why: str | None, *, final: bool) -> Weighing:
        """Return the weighing as published; the stay has ended."""
        assert self.off is not None, "a weighing is published when its stay has ended"
        final_at = None if final or self.verdict is None else self.verdict.final_at
        return Weighing(
            weighing=self.weighing,
            revision=self.revision,
            station=self.station,
            number=self.number,
            tag=self.tag,
            weight=self.weight,
            on=stamp(self.on).time,
            settled=stamp(self.settled).time if self.settled is not None else None,
            off=stamp(self.off).time,
            clock=stamp(self.off).clock,
            flags=self.flags(weighed),
            job=self.job,
            job_number=self.job_number,
            animal=self._animal,
            notes=tuple(self.notes),
            skipped=not_given(self._doses_said(stamp)),
            findings=self._findings(stamp),
            doses_said=self._doses_said(stamp),
            final=final_at is None,
            final_at=stamp(final_at).time if final_at is not None else None,
            why=why,
            maybe_same=self.maybe_same,
            none_given=self.none_given,
        )

    def as_settled(self, stamp: Stamper, weighed: Mapping[str, str], missing: tuple[str, ...]) -> Settled:
        """Return the first trustworthy weight as published; the animal still stands there."""
        assert self.settled is not None, "it has settled"
        return Settled(
            weighing=self.weighing,
            station=self.station,
            number=self.number,
            tag=self.tag,
            tags_seen=self.verdict.seen if self.verdict else 0,
            weight=self.weight,
            on=stamp(self.on).time,
            settled=stamp(self.settled).time,
            clock=stamp(self.settled).clock,
            flags=self.flags(weighed),
            job=self.job,
            job_number=self.job_number,
            animal=self._animal,
            findings=self._findings(stamp),
            doses_said=self._doses_said(stamp),
            may_leave=not missing,
            missing=missing,
            maybe_same=self.maybe_same,
        )

    def find(self, said: Found, t: float) -> None:
        """Take what a person saw, or that they take it back."""
        self.findings.pop(said.finding, None)
        if said.value is not None:
            self.findings[said.finding] = (said.value, t)

    def dose(self, said: Dosed, t: float) -> None:
        """Take what a person said of a dose, beside what they said of it before."""
        before = self.doses.get(said.treatment)
        self.doses[said.treatment] = (said if before is None else over(before[0], said), t)

    def _findings(self, stamp: Stamper) -> tuple[Finding, ...]:
        found = self.findings.items()
        return tuple(Finding(name=name, value=value, by="person", at=stamp(t).time) for name, (value, t) in found)

    def _doses_said(self, stamp: Stamper) -> tuple[DoseSaid, ...]:
        return tuple(dose_said(said, stamp(t).time) for said, t in self.doses.values())

    @property
    def _animal(self) -> dict[str, str] | None:
        return {"visual": self.visual} if self.visual else None


def over(before: Dosed, said: Dosed) -> Dosed:
    """Lay what is said of a dose now over what was said before: who gives an amount says that it was given."""
    given = said.given if said.given is not None else True
    amount = said.amount if said.amount is not None else before.amount
    another = said.another or (before.another and given)
    return replace(said, given=given, amount=amount, batch=said.batch or before.batch, another=another)


def dose_said(said: Dosed, at: datetime) -> DoseSaid:
    """Return what was said of a dose as published."""
    return DoseSaid(name=said.treatment, given=said.given, amount=said.amount, batch=said.batch, at=at)


def not_given(said: Iterable[DoseSaid]) -> tuple[str, ...]:
    """Return the treatments that a person said were not given."""
    return tuple(one.name for one in said if one.given is False)


def claims(weighing: str, tag: str | None, visual: str | None) -> tuple[str, ...]:
    """Return what an animal is counted by: its tag and the number in its ear, the weighing's own id without either."""
    return tuple(name for name in (tag, visual and f"visual {visual_key(visual)}") if name) or (weighing,)


def visual_key(text: str) -> str:
    """Spell a visual number for comparison: no case, spaces or leading zeros."""
    return "".join(text.split()).casefold().lstrip("0") or "0"


def code_flags(code: TagCode) -> Iterator[Flag]:
    """Yield the flags that a code earns by itself."""
    if not code.animal:
        yield Flag.NOT_ANIMAL
    if code.country == 0 or code.country > TEST_COUNTRY:
        yield Flag.ODD_CODE


def placed(weighing: Weighing, place: Place) -> Weighing:
    """Return a weighing as it is where it belongs now."""
    flags = {*weighing.flags} - {Flag.PAUSED} | ({Flag.PAUSED} if place.paused else set())
    update = {"job": place.job, "job_number": place.job_number, "flags": in_order(flags)}
    return weighing.model_copy(update=update)


def in_order(flags: Iterable[Flag]) -> tuple[Flag, ...]:
    """Put flags in the order of their list."""
    return tuple(sorted(flags, key=ORDER.__getitem__))


def tag(code: TagCode, *, reads: int = 0, link: str | None = None, sure_percent: float | None = None) -> Tag:
    """Make a tag as published."""
    return Tag(
        id=str(code),
        code=f"{code.country:03d}",
        national=f"{code.national:012d}",
        animal=code.animal,
        reads=reads,
        link=link,
        sure_percent=sure_percent,
        remarks=tuple(code.remarks()),
    )
