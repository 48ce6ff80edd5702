"""An outlet whose far side lies on a disk that really fills up: `python -m tests.support.full_far_side FOLDER KIND`.

FOLDER is a small file system of its own; the journal lies elsewhere.  All must be there in the end,
and it prints what a person was told of.
"""

import asyncio
import contextlib
import sys
import tempfile
from pathlib import Path

from tests.support import far_sides
from tests.support.far_side import FarSide, shed
from tests.support.running import until

HALF, ALL = 200, 400
TRIES = 3


async def weigh(far: FarSide, folder: Path, journal: Path) -> None:
    """Fill the disk, weigh on, make room, and look that everything is there, in order."""
    far.start()
    filler = folder / "filler"
    async with shed(journal, far.table) as one:
        await one.weigh(range(1, HALF + 1))
        await one.drained()
        with filler.open("wb", buffering=0) as file:
            try:
                while True:
                    file.write(bytes(4096))
            except OSError:
                pass
        await one.weigh(range(HALF + 1, ALL + 1))
        standing = one.outlet._troubles._standing
        await until(lambda: any(trouble.times > TRIES for trouble in standing.all()), "it is told, and tried again")
        assert one.outlet.health().backlog > 0
        filler.unlink()
        await asyncio.to_thread(far.put_right)
        await one.drained()
        numbers = [number for number, _ in far.held()]
        assert numbers == list(range(1, ALL + 1)), numbers
        for said in one.begun():
            print(said.text)


def main(folder: Path, kind: type[FarSide]) -> None:
    """Do so, and leave no server behind."""
    far = kind(folder)
    with tempfile.TemporaryDirectory() as elsewhere, contextlib.closing(far):
        asyncio.run(weigh(far, folder, Path(elsewhere)))


if __name__ == "__main__":
    main(Path(sys.argv[1]), getattr(far_sides, sys.argv[2]))
