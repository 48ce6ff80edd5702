"""What is published of a job: when it begins, pauses, goes on and ends, and when a late word changes its tally."""

from typing import Literal

from pydantic import Field

from neckyoke.bridge.event_base import Model, Time


class UsedInJob(Model):
    """One treatment over a job: animals given it and not, and how much in all, by unit."""

    name: str
    given: int = 0
    skipped: int = 0
    totals: dict[str, float] = Field(default_factory=dict)


class JobTally(Model):
    """A job counted up.  Weights in kilograms, of grades good and fair; `gain_kg_per_day` is the mean."""

    animals: int = 0
    weighings: int = 0
    untagged: int = 0
    repeats: int = 0
    voided: int = 0
    paused: int = Field(default=0, description="recorded while it was paused; in no other figure")
    poor: int = 0
    no_weight: int = 0
    mean_kg: float | None = None
    min_kg: float | None = None
    max_kg: float | None = None
    total_kg: float | None = None
    gain_kg_per_day: float | None = None
    pens: dict[str, int] = Field(default_factory=dict)
    treatments: tuple[UsedInJob, ...] = ()


class JobState(Model):
    """One piece of work at one station.  Key on `job`; the highest `revision` is the truth."""

    job: str
    revision: int = 1
    station: str
    turn: int = Field(description="position among this station's jobs, from 1")
    state: Literal["open", "paused", "ended", "undone"] = Field(
        description="undone: a person took back that it was begun"
    )
    why: str = Field(description="what has happened to it")
    sheet: str | None = Field(default=None, description="title of the sheet that holds now, or held last")
    mob: str | None = Field(default=None, description="whom it is about: the sheet's mob, else its title")
    digest: str | None = Field(default=None, description="tells two versions of one sheet apart")
    by_itself: bool = Field(default=False, description="an animal opened it, no person")
    begun: Time
    ended: Time | None = None
    timezone: str = Field(description="the site's, by its IANA name: dates that people read are this zone's")
    property_name: str | None = Field(default=None, description="the farm's name as it stands on papers")
    tally: JobTally | None = Field(default=None, description="at its end")
    summary: tuple[str, ...] = Field(default=(), description="at its end: the day in a dozen plain lines")
