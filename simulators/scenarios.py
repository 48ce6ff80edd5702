"""The named scenarios: regimes for the weight, regimes for the tag, and the mob of the demonstration.

Every range is an assumption (no spectrum of a standing animal in a crush is published) and wide on purpose.
"""

from dataclasses import replace

from neckyoke.simulators.crush.body import Manner
from neckyoke.simulators.crush.hearing import Hearing
from neckyoke.simulators.crush.indicator import Indicator
from neckyoke.simulators.crush.reader import Reader
from neckyoke.simulators.scenario import Bother, Gaps, Mob, Scenario
from neckyoke.simulators.spelling.frames import Style

CALM = Manner(sway_percent=(0.3, 1.0), shifts_per_s=0.05, entry_extra=(0.2, 1.0))
TYPICAL = Manner(sway_percent=(1.0, 3.0), shifts_per_s=0.1)
RESTLESS = Manner(sway_percent=(3.0, 6.0), kicks_per_s=0.15, shifts_per_s=0.2)
SHEEP = replace(TYPICAL, entry_s=(0.5, 1.2), stay_median_s=3.5, stay_s=(1.5, 12.0), leave_s=(0.3, 0.8))

_typical = Scenario("typical", manner=TYPICAL)

WEIGHT: tuple[Scenario, ...] = (
    Scenario("calm", manner=CALM),
    _typical,
    Scenario("restless", manner=RESTLESS),
    Scenario("half-on", manner=replace(TYPICAL, pause_chance=0.4)),
    Scenario("leaning", manner=replace(TYPICAL, lean_chance=0.3)),
    Scenario("crowded", manner=TYPICAL, gaps=Gaps(overlap=0.25, together=0.05)),
    Scenario("short-stay", manner=replace(TYPICAL, stay_median_s=2.5, stay_s=(0.8, 6.0))),
    Scenario("no-gap", manner=TYPICAL, gaps=Gaps(none=1.0)),
    Scenario(
        "sheep",
        mob=Mob(kg=(30.0, 90.0)),
        manner=SHEEP,
        gaps=Gaps(median_s=2.0, s=(0.8, 20.0)),
        indicator=Indicator(interval_kg=0.1, capacity_kg=300.0, noise_kg=0.02),
        smallest_kg=10.0,
    ),
    Scenario("slow", manner=TYPICAL, indicator=Indicator(rate_hz=5.0)),
    Scenario("coarse", manner=TYPICAL, indicator=Indicator(interval_kg=5.0), style=Style(decimals=0)),
    Scenario("frozen", manner=TYPICAL, indicator=Indicator(freezes_per_s=0.1)),
    Scenario("residue", manner=replace(TYPICAL, residue_chance=0.3), bother=Bother(cleaned_every=20)),
    Scenario("person", manner=TYPICAL, bother=Bother(person_on=0.15, person_leans=0.1, gate=0.1)),
    Scenario("came-back", manner=TYPICAL, bother=Bother(came_back=0.15, false_start=0.1)),
)

PANEL = Hearing(reader=Reader(repeat_s=0.2))
AHEAD = replace(PANEL, position="ahead", link="race", reader=Reader(repeat_s=0.2, turn_chance=0.05))
HAND = Hearing(link="stick", position="hand", spelling="space")


def _pairing(name: str, *readers: Hearing, mob: Mob | None = None, gaps: Gaps | None = None) -> Scenario:
    return replace(_typical, name=name, readers=readers, mob=mob or _typical.mob, gaps=gaps or _typical.gaps)


_outages = tuple((300.0 * n, 30.0) for n in range(1, 100))

PAIRING: tuple[Scenario, ...] = (
    _pairing("tags-clean", PANEL),
    _pairing("tags-missed", replace(PANEL, missed=0.05)),
    _pairing("tags-next", replace(PANEL, next_read=0.2)),
    _pairing("tags-last", replace(PANEL, last_read=0.2)),
    _pairing("tags-both-missed", replace(PANEL, next_read=0.2, last_read=0.2, missed=0.05), mob=Mob(dead=0.02)),
    _pairing("tags-no-gap", replace(PANEL, next_read=0.2, last_read=0.2), gaps=Gaps(none=1.0)),
    _pairing("tags-ahead", AHEAD),
    _pairing("tags-ahead-faults", replace(AHEAD, stops=0.05, backs=0.02, jumps=0.01, missed=0.01)),
    _pairing("tags-hand", HAND),
    _pairing("tags-hand-slips", replace(HAND, early=0.1, late=0.1, wrong=0.01, missed=0.02)),
    _pairing("tags-stray", replace(PANEL, strays_per_hour=6.0)),
    _pairing("tags-again", PANEL, mob=Mob(rounds=2)),
    _pairing("tags-outage", replace(PANEL, outages=_outages)),
    _pairing("tags-two-readers", PANEL, replace(AHEAD, missed=0.02)),
)

LARKMOOR = Scenario(
    "larkmoor",
    mob=Mob(kg=(255.0, 390.0), mean_kg=318.0, sd_kg=24.0),
    manner=replace(TYPICAL, stay_median_s=3.6, stay_spread=0.3, stay_s=(2.4, 8.0), pause_chance=0.1),
    gaps=Gaps(median_s=1.8, spread=0.3, s=(1.0, 5.0)),
    readers=(replace(PANEL, next_read=0.1, last_read=0.05, spelling="space"),),
)

LARKMOOR_UNTAGGED = replace(
    LARKMOOR,
    name="larkmoor-untagged",
    mob=replace(LARKMOOR.mob, bare=(5,)),
    manner=replace(LARKMOOR.manner, stay_median_s=4.2, stay_spread=0.2, stay_s=(3.4, 8.0)),
    gaps=replace(LARKMOOR.gaps, median_s=1.5),
)
"""The demonstration's: one wears no tag, and each stands for as long as it takes to read its dose and give it."""

ROUGH = Scenario(
    "rough",
    mob=Mob(untagged=0.01, dead=0.01),
    manner=replace(RESTLESS, pause_chance=0.2, lean_chance=0.1, residue_chance=0.1, stay_s=(1.0, 20.0)),
    gaps=Gaps(none=0.1, overlap=0.05, together=0.02),
    bother=Bother(person_on=0.03, person_leans=0.03, gate=0.03, false_start=0.03, came_back=0.03, cleaned_every=25),
    indicator=Indicator(freezes_per_s=0.01, jitter=0.5, lost=0.01),
    readers=(
        replace(PANEL, missed=0.1, next_read=0.1, last_read=0.1, strays_per_hour=2.0),
        replace(AHEAD, missed=0.05, stops=0.05, backs=0.02, jumps=0.02),
        replace(HAND, missed=0.7, early=0.1, late=0.1, wrong=0.01),
    ),
)
"""Everything at once: no bench, but a day on which nothing may be lost and nothing may break."""

SCENARIOS: dict[str, Scenario] = {
    scenario.name: scenario for scenario in (*WEIGHT, *PAIRING, LARKMOOR, LARKMOOR_UNTAGGED, ROUGH)
}
"""Every scenario by its name."""
