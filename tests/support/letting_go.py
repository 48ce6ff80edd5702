"""A process that shows an animal which may leave, until it is killed or stopped.

    python -m tests.support.letting_go FOLDER MQTT-URL PROTOCOL

It prints "shown" once the broker has seen it, and stops when a line comes in.
"""

import asyncio
import sys
from pathlib import Path

from tests.support.events import weighed
from tests.support.outlet import yard
from tests.support.status import view_of


async def show(folder: Path, url: str, protocol: str) -> None:
    """Show it."""
    async with yard(folder, url, protocol=protocol) as one:
        await one.journal.append([weighed(1)])
        one.outlet.show("crush", view_of(state="settled", kg=318.5, may_leave=True))
        print("shown", flush=True)
        await asyncio.to_thread(sys.stdin.readline)


if __name__ == "__main__":
    asyncio.run(show(Path(sys.argv[1]), *sys.argv[2:]))
