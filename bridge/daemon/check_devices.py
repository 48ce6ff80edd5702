"""Tries everything that a configuration names: one frame from each device, one test event to each outlet.

While the daemon runs it holds the ports, so it is asked instead what it reads.  Otherwise each link is opened as the
daemon would (bridge/links/supervise.py), and each outlet is given an event marked as a test: beside the events file,
and on `PREFIX/SITE/check` at the broker, where nobody listens for weighings.
"""

import asyncio
import os
from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from functools import partial
from pathlib import Path

from neckyoke.bridge.asking.socket import ControlError, ask_status
from neckyoke.bridge.config.model import Config, LinkTable
from neckyoke.bridge.config.tables.outlet import OutletTable
from neckyoke.bridge.events import Attention, wrap
from neckyoke.bridge.links.make import make_link
from neckyoke.bridge.links.supervise import State, Supervisor
from neckyoke.bridge.many import many
from neckyoke.bridge.site.wires import make_decoders
from neckyoke.bridge.telling.status import Status
from neckyoke.protocols.decoder import Decoder
from neckyoke.protocols.readings import Reject, TagRead, WeightReading

ENOUGH_REJECTS = 10
"""Rejects without a reading after which more of them will say nothing new."""


@dataclass(frozen=True, slots=True)
class Found:
    """What was found of one thing: whether it works, and in words what it said or what to mend."""

    name: str
    good: bool
    text: str

    def __str__(self) -> str:
        """Spell it in a line."""
        return f"{'good' if self.good else 'MEND'}  {self.name}: {self.text}"


async def check_devices(config: Config, seconds: float) -> list[Found]:
    """Try every link for at most so many seconds, and every outlet."""
    try:
        status = await ask_status(config.socket_path)
    except ControlError:
        pass
    else:
        return list(_as_the_daemon_says(status))
    decoders = make_decoders(config)
    scales = {station.scale for station in config.stations.values()}
    links = [
        _Trial(name, table, decoders[name], scale=name in scales).run(seconds) for name, table in config.links.items()
    ]
    outlets = [_try_outlet(config, name, table) for name, table in config.outlets.items()]
    return list(await asyncio.gather(*links, *outlets))


def _as_the_daemon_says(status: Status) -> Iterator[Found]:
    """Read the status of the running daemon, which has the ports."""
    yield Found("neckyoke", good=True, text=f"is running (process {status.pid}) and holds the ports; it says:")
    for name, link in status.links.items():
        rejects = sum(link.rejects.values())
        if link.state != "up":
            yield Found(f"link {name}", good=False, text=f"{link.state or 'not open yet'}.  {link.text}".strip())
        else:
            text = f"open, {many(link.frames, 'frame')} read, {rejects} could not be"
            yield Found(f"link {name}", good=link.frames > 0, text=text)
    for name, outlet in status.outlets.items():
        trouble = "; ".join(outlet.trouble.values())
        yield Found(f"outlet {name}", good=not trouble, text=trouble or f"{many(outlet.backlog, 'event')} waiting")


class _Trial:
    """One link, kept open until a frame is understood or time is up."""

    def __init__(self, name: str, table: LinkTable, decoder: Decoder, *, scale: bool) -> None:
        self._name, self._table, self._decoder, self._scale = name, table, decoder, scale
        self._state: State | None = None
        self._trouble = ""
        self._bytes = 0
        self._rejects: list[Reject] = []
        self._read: WeightReading | TagRead | None = None
        self._done = asyncio.Event()

    async def run(self, seconds: float) -> Found:
        """Open it and listen."""
        supervisor = Supervisor(
            self._name,
            partial(make_link, self._table.address, self._table),
            on_bytes=self._took,
            on_state=self._changed,
            poll=self._table.poll,
        )
        listening = asyncio.create_task(supervisor.run())
        try:
            await asyncio.wait_for(self._done.wait(), seconds)
        except TimeoutError:
            pass
        finally:
            listening.cancel()
            await asyncio.gather(listening, return_exceptions=True)
        return Found(f"link {self._name}", good=self._read is not None, text=self._said(seconds))

    def _changed(self, _name: str, state: State, text: str, _lasted_s: float | None) -> None:
        self._state, self._trouble = state, text

    def _took(self, _name: str, data: bytes) -> None:
        self._bytes += len(data)
        for outcome in self._decoder.feed(data):
            if isinstance(outcome, Reject):
                self._rejects.append(outcome)
            else:
                self._read = outcome
        if self._read is not None or len(self._rejects) >= ENOUGH_REJECTS:
            self._done.set()

    def _said(self, seconds: float) -> str:
        """Return what was seen, or what is missing and what to do about it."""
        if self._read is not None:
            return _spelled(self._read)
        if self._rejects:
            last = self._rejects[-1]
            return (
                f"sends what cannot be read ({last.reason.value}: {last.frame[:40]!r}); "
                f"stop here and run: neckyoke listen '{self._table.url}'"
            )
        if self._bytes:
            return f"sent {self._bytes} bytes and no whole frame; is the speed right?  neckyoke listen finds it"
        if self._state != "up":
            return self._trouble or f"could not be opened within {seconds:.0f} s"
        return f"open, and nothing came in {seconds:.0f} s: " + (
            "is the indicator on, and set to send by itself?"
            if self._scale
            else "run this again and hold a tag to the reader"
        )


def _spelled(read: WeightReading | TagRead) -> str:
    if isinstance(read, TagRead):
        return f"read tag {read.code}"
    if read.kg is None:
        return f"says {read.condition.value}"
    sent = f" (sent as {read.value.strip()} {read.unit})" if read.value else ""
    return f"reads {read.kg:g} kg{sent}"


async def _try_outlet(config: Config, name: str, table: OutletTable) -> Found:
    text = "A test by neckyoke check; no animal was weighed."
    data = Attention(station=None, about="check", text=text, over=True, lasted_s=0.0)
    now = datetime.now(UTC)
    line = wrap(data, site=config.site, time=now, key=f"check/{now.isoformat()}").to_json()
    if table.file is not None:
        path = config.state_path(table.file)
        return await asyncio.to_thread(_try_file, name, path, line, of_state=path.parent == config.state_path("."))
    if table.mqtt is not None:
        return await _try_broker(config, name, table, line)
    return await _try_far_side(config, name, table, line)


async def _try_far_side(config: Config, name: str, table: OutletTable, line: str) -> Found:
    from neckyoke.bridge.outlets.follow import OutletError
    from neckyoke.bridge.outlets.make import far_side

    try:
        taker = far_side(table, config)
        try:
            await taker.try_out(line)
        finally:
            await taker.close(stopped=True)
    except OutletError as error:
        return Found(f"outlet {name}", good=False, text=str(error))
    return Found(f"outlet {name}", good=True, text=f"{taker.where} lets us in and took a test event")


def _try_file(name: str, path: Path, line: str, *, of_state: bool) -> Found:
    from neckyoke.bridge.outlets.files.file import remedy

    trial = path.with_name(f".{path.name}.check")
    try:
        if of_state and not path.parent.exists():
            return Found(f"outlet {name}", good=True, text=f"{path.parent} is made when neckyoke first runs")
        if path.is_dir():
            raise IsADirectoryError(21, "is a folder")
        with trial.open("w", encoding="utf-8") as out:
            out.write(line + "\n")
            out.flush()
            os.fsync(out.fileno())
        trial.unlink()
    except PermissionError:
        return Found(f"outlet {name}", good=False, text=f"this user may not write {path}; run it with sudo")
    except OSError as error:
        return Found(f"outlet {name}", good=False, text=remedy(path, error))
    return Found(f"outlet {name}", good=True, text=f"{path} can be written")


async def _try_broker(config: Config, name: str, table: OutletTable, line: str) -> Found:
    from neckyoke.bridge.outlets.mqtt.broker import BrokerError, broker_of, tls_context
    from neckyoke.bridge.outlets.mqtt.connection import Connection

    topic = f"{table.prefix}/{config.site}/check"
    try:
        broker = await asyncio.to_thread(broker_of, table, f"neckyoke-{config.site}-check", config.folder)
        connection = Connection(broker, topic, "", await asyncio.to_thread(tls_context, broker))
        await connection.enter()
        try:
            await connection.acknowledged(connection.post(topic, line))
            answers = await connection.hear(f"{table.prefix}/{config.site}/+/request")
        finally:
            await connection.leave("")  # nothing is to stay there
    except BrokerError as error:
        return Found(f"outlet {name}", good=False, text=str(error))
    deaf = "" if answers else f"; it refuses requests: let this user read {table.prefix}/{config.site}/+/request"
    return Found(f"outlet {name}", good=bool(answers), text=f"{broker} took a test event on {topic}{deaf}")
