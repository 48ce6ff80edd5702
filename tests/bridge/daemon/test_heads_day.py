"""The heaviest so many go, told while the mob passes; the box may stop in between."""

from pathlib import Path

import pytest

from neckyoke.bridge.events import Weighing
from neckyoke.bridge.job.pens.heads import cut_after
from neckyoke.simulators.yard import Yard
from tests.support.by_hand import by_hand
from tests.support.running import run

YARD = Yard.named("calm", seed=5, animals=12)
WANTED = 4
SHEET = f"""
title = "sale draft"
roster = "roster.csv"
[[draft]]
pen = "sale"
heads = {WANTED}
heaviest = true
[[draft]]
pen = "home"
"""


def prepare(folder: Path) -> None:
    """Write sheet and roster: last weights twenty days ago, 16 kg less than today, spread by a few."""
    rows = [f"{stay.tag},{100 + n},{stay.kg - 16 + (n % 5 - 2):.1f},2026-11-04" for n, stay in enumerate(YARD.truth)]
    (folder / "roster.csv").write_text("\n".join(["tag,visual,last_kg,last_date", *rows]) + "\n")
    (folder / "sheet.toml").write_text(SHEET)


@pytest.mark.parametrize("stopped", [False, True])
def test_exactly_so_many_go_and_nearly_the_heaviest(tmp_path: Path, *, stopped: bool) -> None:
    prepare(tmp_path)
    middle, end = YARD.truth[5].off_t + 4.0, YARD.truth[-1].off_t + 60

    async def day() -> dict[int, Weighing]:
        async with by_hand(tmp_path) as box:
            (before,) = box.service.status().stations["crush"].places
            assert (before.left, before.to_come, before.shortfall) == (WANTED, len(YARD.truth), 0)
            assert before.cut_kg is not None
            await box.to(YARD, middle)
            (half,) = box.service.status().stations["crush"].places
            gone = sum(one.pen == "sale" for one in (await box.weighings()).values())
            assert half.left == WANTED - gone
            assert half.to_come == len(YARD.truth) - len(await box.weighings())
            if not stopped:
                await box.to(YARD, end)
                return await box.weighings()
        async with by_hand(tmp_path, begins_s=middle) as again:
            await again.to(YARD, end)
            (after,) = again.service.status().stations["crush"].places
            assert after.left == 0
            return await again.weighings()

    found = run(day())
    weights = {number: one.weight.kg for number, one in found.items() if one.weight.kg is not None}
    took = {number for number, one in found.items() if one.pen == "sale"}
    assert len(found) == len(YARD.truth)
    assert len(took) == WANTED
    best = sorted(weights, key=lambda number: -weights[number])[:WANTED]
    assert len(took & set(best)) >= WANTED - 1
    cut = cut_after(weights.values(), WANTED)
    assert cut is not None
    assert min(weights[number] for number in took) >= cut[1] - 10
