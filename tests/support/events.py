"""Events of our own scenario, for whoever needs some."""

from datetime import UTC, datetime, timedelta

from neckyoke.bridge.events import Clock, Event, LinkState, Tag, Weighing, Weight, make_id, wrap

SITE = "larkmoor"
DAY = datetime(2026, 11, 24, 2, 11, tzinfo=UTC)


def weighing(
    number: int, *, revision: int = 1, tag: str | None = None, kg: float = 318.5, run: str = "run"
) -> Weighing:
    """Make the weighing of a steer, one a minute from the scenario's morning on."""
    on = DAY + timedelta(minutes=number)
    code = tag or f"999{number:012d}"
    return Weighing(
        weighing=make_id(SITE, "crush", run, number),
        revision=revision,
        station="crush",
        number=number,
        tag=Tag(id=code, code=code[:3], national=code[3:], animal=True, reads=12, link="panel"),
        weight=Weight(kg=kg, grade="good", first_kg=kg, spread_kg=1.1, zero_kg=0.5, readings=84, span_s=8.4),
        on=on,
        settled=on + timedelta(seconds=4),
        off=on + timedelta(seconds=9),
        clock=Clock.SYNCHRONISED,
    )


def weighed(number: int, *, revision: int = 1, tag: str | None = None, kg: float = 318.5, run: str = "run") -> Event:
    """Make the event of such a weighing."""
    data = weighing(number, revision=revision, tag=tag, kg=kg, run=run)
    return wrap(data, site=SITE, time=data.off, key=f"{data.weighing}/{revision}")


def link_state(number: int, state: str = "up", link: str = "panel") -> Event:
    """Make a link's event."""
    data = LinkState.model_validate({"link": link, "state": state, "text": f"change {number}"})
    return wrap(data, site=SITE, time=DAY + timedelta(seconds=number), key=f"{link}/{number}")
