"""What a day in the yards is like, as data: the mob, its manners, the platform, the indicator and the readers."""

from dataclasses import dataclass, field

from neckyoke.simulators.crush.body import Manner, Range
from neckyoke.simulators.crush.hearing import Hearing
from neckyoke.simulators.crush.indicator import Indicator
from neckyoke.simulators.spelling.frames import Style


@dataclass(frozen=True, slots=True)
class Mob:
    """The animals.  Weights are normal about `mean_kg` within `kg`; with no `sd_kg`, even over the whole range.

    `untagged` and `dead` are shares: no tag at all, and one that no reader hears.  The animals numbered in `bare`, from
    1 in their order, wear none for certain.  `rounds`: how often they all go through.
    """

    kg: Range = (150.0, 700.0)
    mean_kg: float = 0.0
    sd_kg: float = 0.0
    untagged: float = 0.0
    dead: float = 0.0
    bare: tuple[int, ...] = ()
    rounds: int = 1


@dataclass(frozen=True, slots=True)
class Gaps:
    """The time from one animal's last foot off to the next one's first foot on, log-normal within `s`.

    Shares of stays: `none`, the next follows at once (within `none_s`); `overlap`, it steps on before the other is
    off, by `overlap_s`; `together`, it steps on while the other stands, and they stand there together for a while.
    """

    median_s: float = 4.0
    spread: float = 0.6
    s: Range = (1.5, 40.0)
    none: float = 0.0
    none_s: Range = (0.0, 0.4)
    overlap: float = 0.0
    overlap_s: Range = (0.2, 1.2)
    together: float = 0.0
    together_s: Range = (1.0, 4.0)


@dataclass(frozen=True, slots=True)
class Bother:
    """What else touches the platform.  Shares are of stays, and of the gaps after them.

    `person_on`: a person stands on the empty platform; `person_leans`: one leans on it while an animal stands; `gate`:
    a gate rests against it; `false_start`: an animal puts its front feet on, backs off, and then comes.
    `came_back`: the animal backs right off in mid-stay and comes on again after `back_s`.  The platform is scraped
    clean after every `cleaned_every` stays (0: never).
    """

    person_on: float = 0.0
    person_kg: Range = (55.0, 105.0)
    person_leans: float = 0.0
    lean_kg: Range = (3.0, 35.0)
    gate: float = 0.0
    gate_kg: Range = (-12.0, 15.0)
    false_start: float = 0.0
    came_back: float = 0.0
    back_s: Range = (1.0, 8.0)
    cleaned_every: int = 0


@dataclass(frozen=True, slots=True)
class Scenario:
    """All of it.  `shape` and `style` spell the indicator's frames; `indicator` is a pattern, copied for each yard."""

    name: str
    mob: Mob = field(default_factory=Mob)
    manner: Manner = field(default_factory=Manner)
    gaps: Gaps = field(default_factory=Gaps)
    bother: Bother = field(default_factory=Bother)
    indicator: Indicator = field(default_factory=Indicator)
    shape: str = "words"
    style: Style = field(default_factory=Style)
    scale: str = "indicator"
    readers: tuple[Hearing, ...] = (Hearing(),)
    smallest_kg: float = 25.0
