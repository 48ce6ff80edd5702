"""What a person says of an animal, in the words of its job sheet: which treatment, which finding, which value."""

from collections.abc import Iterable
from dataclasses import replace

from neckyoke.bridge.config.words import treatment_meant
from neckyoke.bridge.events import Treatment
from neckyoke.bridge.job.doses.dosing import COUNTED, MILLILITRES, named_unit
from neckyoke.bridge.job.doses.given import plain
from neckyoke.bridge.job.findings import finding_meant
from neckyoke.bridge.job.sheet import Sheet
from neckyoke.bridge.station.instructions import AnimalInstruction, Dosed, Found, Void


def in_words_of(sheet: Sheet | None, said: AnimalInstruction, shown: Iterable[Treatment] = ()) -> AnimalInstruction:
    """Return what is said with names and values as the sheet spells them.

    `shown`: the treatments that the weighing has, also by another sheet, or by one that is not at hand any more.
    Raises ValueError that says what there is to say.
    """
    match said:
        case Dosed():
            return _dosed(sheet, said, shown)
        case Found(name, value):
            table = finding_meant(name, sheet.findings if sheet else ())
            read = None if value is None else table.read(value)
            return replace(said, finding=table.name, value=read)
        case Void(given=True):
            return replace(said, doses=tuple(one.name for one in shown if not one.skipped))
        case _:
            return said


def _dosed(sheet: Sheet | None, said: Dosed, shown: Iterable[Treatment]) -> Dosed:
    units = {one.name: one.rule.unit for one in sheet.treatments} if sheet else {}
    known = {plain(name) for name in units}
    units |= {one.name: one.unit or MILLILITRES for one in shown if plain(one.name) not in known}
    name = treatment_meant(said.treatment, units)
    unit = units[name]
    if said.amount is not None and unit in COUNTED and not said.amount.is_integer():
        raise ValueError(f"{name} is counted in {named_unit(2, unit)}: give a whole number.")
    return replace(said, treatment=name, unit=named_unit(said.amount or 0, unit))
