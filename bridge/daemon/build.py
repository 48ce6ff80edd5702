"""Makes a service, whole, from its configuration: every part is given all it needs when it is made."""

import json
from collections.abc import AsyncIterator, Mapping
from dataclasses import asdict
from datetime import date, datetime
from functools import partial
from typing import Any

from neckyoke.bridge.asking.requests import Answered
from neckyoke.bridge.asking.socket import Control
from neckyoke.bridge.capture.write import CaptureWriter
from neckyoke.bridge.clock import Corrections, WallClock, boot_id
from neckyoke.bridge.config.escapes import spelled_bytes
from neckyoke.bridge.config.model import Config
from neckyoke.bridge.daemon.gather import Gather, Lag, platform
from neckyoke.bridge.daemon.herd import open_herd
from neckyoke.bridge.daemon.history_cache import Lookup
from neckyoke.bridge.daemon.pace import Pace
from neckyoke.bridge.daemon.pipeline import Pipeline
from neckyoke.bridge.daemon.reporter import Daybook
from neckyoke.bridge.daemon.request_handler import Desk, ZeroScale, recall
from neckyoke.bridge.daemon.service import Service
from neckyoke.bridge.daemon.sheets import SheetsOfDay
from neckyoke.bridge.events import Attention, Event
from neckyoke.bridge.herd.keeper import Keeper
from neckyoke.bridge.job.clerk import Clerk
from neckyoke.bridge.job.find import FoundSheets
from neckyoke.bridge.job.making.sheet_desk import SheetDesk
from neckyoke.bridge.job.making.shelf import Shelf
from neckyoke.bridge.job.making.who_comes import WhoComes
from neckyoke.bridge.journal.journal import DAY_S, Journal, JournalError
from neckyoke.bridge.journal.station_memory import Carried, Run
from neckyoke.bridge.links.make import make_link
from neckyoke.bridge.links.supervise import Supervisor
from neckyoke.bridge.moving.copy import foreign
from neckyoke.bridge.outlets.follower import Follower
from neckyoke.bridge.outlets.make import make_outlet
from neckyoke.bridge.site.site import Site
from neckyoke.bridge.site.station_jobs import StationJobs
from neckyoke.bridge.station.settings import Memory
from neckyoke.bridge.telling.alerts import Relay, Say, Troubles
from neckyoke.bridge.telling.fanout import Gap, Hub, Live
from neckyoke.bridge.telling.keep import Guard

SCALE_SILENT_S = 5.0
"""A scale that streams and has said nothing for so long is silent; a reader may be quiet as long as it likes."""


async def build(config: Config, clock: WallClock | None = None) -> Service:
    """Make the service and open its journal; what is said meanwhile, and the stays that were open, are in it first.

    Raises JournalError when the journal cannot be had.
    """
    clock = clock or WallClock()
    relay, hub = Relay(), Hub()
    troubles = Troubles(relay.say, clock.now)
    path = config.state_path(config.journal.path)
    path.parent.mkdir(parents=True, exist_ok=True)
    daybook = Daybook(config.state_path("."))
    before = daybook.kept.last()
    if (wrong := foreign(path, config.site)) is not None:
        raise JournalError(wrong)
    journal = await Journal.open(
        path,
        outlets=config.outlets,
        keep_days=config.journal.keep_days,
        keep_mb=config.journal.keep_mb,
        say=relay.say,
        now=clock.now,
        wall=clock.trusted,
        spare=config.state_path(config.journal.spare) if config.journal.spare else None,
        beside=[config.state_path(table.file) for table in config.outlets.values() if table.file is not None],
    )
    values = await journal.kept("value")
    keeper = await open_herd(config.site, journal, values, relay.say, config.zone)
    lookup, answered = Lookup(journal, keeper.book, troubles), Answered(values)
    carried = Carried(values, journal.open_stays, Run(boot_id(), clock.began_s))
    site = _site(config, clock, keeper, lookup, carried, relay.say)
    pipeline = Pipeline(
        clock=clock,
        site=site,
        journal=journal,
        lookup=lookup,
        answered=answered,
        carried=carried,
        corrections=Corrections(boot_id(), values),
        daybook=daybook,
        hub=hub,
        capture=_capture(config, site, relay.say),
        guard=Guard(troubles, clock.now),
    )
    relay.to(pipeline.say)
    pipeline.publish(site.begin())
    for jobs in site.jobs.values():
        await recall(jobs, journal, *jobs.to_recall)
    await lookup.of_left(one.weighing for one in carried.left.values())
    pipeline.end_interrupted()
    supervisors = {name: supervisor(pipeline, config, name) for name in config.links}
    outlets: dict[str, Follower] = {}  # they tell the status, and it tells of them
    lag = Lag()
    status = Gather(site, clock, journal, supervisors, outlets, daybook.standing, lag)
    desk = Desk(
        site,
        journal,
        lookup,
        answered,
        pipeline.do,
        pipeline.move,
        _zeroing(site, supervisors, relay.say),
        status,
        troubles,
        SheetDesk(
            Shelf(config),
            lambda: clock.stamp(clock.now()).time.astimezone(config.zone).date(),
            site.last_used,
            WhoComes(journal.path, keeper.book, config.zone),
        ),
    )

    def outlet(name: str, config: Config) -> Follower:
        return make_outlet(
            name, config.outlets[name], config, journal, say=relay.say, ask=partial(desk.ask, far=True), status=status
        )

    outlets |= {name: outlet(name, config) for name in config.outlets}

    def unsafe(event: Event) -> None:
        hub.put(event)
        for one in outlets.values():
            one.give_unsafe(event)

    journal.on_unsafe(unsafe)
    mode = int(config.control.mode, 8)
    return Service(
        config=config,
        pipeline=pipeline,
        supervisors=supervisors,
        outlets=outlets,
        make_outlet=outlet,
        make_supervisor=partial(supervisor, pipeline),
        desk=desk,
        pace=Pace(clock, pipeline, desk, outlets, lag),
        control=Control(config.socket_path, mode=mode, answer=desk.ask, watch=partial(_watch, site, hub)),
        status=status,
        before=before,
        troubles=troubles,
    )


def _site(
    config: Config,
    clock: WallClock,
    keeper: Keeper,
    lookup: Lookup,
    carried: Carried,
    say: Say,
) -> Site:
    memories = {name: carried.memory(name) for name in config.stations}

    def today() -> date:
        return clock.stamp(clock.now()).time.astimezone(config.zone).date()

    def clerk(jobs: StationJobs) -> Clerk:
        return Clerk(
            jobs,
            history=lookup.past.weights,
            doses=lookup.past.doses,
            shown=lookup.past.shown,
            had=lookup.past.had,
            zone=config.zone,
        )

    troubles = {name: Troubles(say, clock.now, name) for name in config.stations}

    def sweep() -> None:
        """Let go of sheets that no job at hand needs, once no event of their jobs need be there either."""
        if (now_s := clock.trusted()) is not None:
            found.kept.sweep(site.needed_sheets, now_s - config.journal.keep_days * DAY_S)

    found = FoundSheets(config, today)
    sheets = SheetsOfDay(found, troubles, sweep)
    site = Site(
        config,
        started=clock.stamp(0.0).time,
        stamp=clock.stamp,
        memories=memories,
        clerk=clerk,
        past=lookup.past,
        sheets=sheets,
        keeper=keeper,
    )
    for name in config.stations:
        if (first := sheets.first(name)) is not None:
            site.jobs[name].configured(*first)
    sweep()
    return site


def _capture(config: Config, site: Site, say: Say) -> CaptureWriter | None:
    if config.capture.folder is None:
        return None

    def memory() -> dict[str, dict[str, Any]]:
        """Return what a new part of the capture must begin with."""
        return {name: _memory_table(memory) for name, memory in site.memories.items()}

    def trouble(text: str | None) -> None:
        told = text or "The capture is being written again."
        say(Attention(station=None, about="capture", text=told, over=text is None))

    return CaptureWriter(
        config.state_path(config.capture.folder),
        site=config.site,
        started=datetime.fromisoformat(site.run),
        part_bytes=int(config.capture.part_mb * 1_000_000),
        parts=config.capture.parts,
        memory=memory,
        herd=lambda: site.keeper.book.digest,
        calm=lambda: site.is_calm,
        on_trouble=trouble,
    )


def _memory_table(memory: Memory) -> dict[str, Any]:
    return asdict(memory) | {"weighed": {job: dict(one) for job, one in memory.weighed.items()}}


def supervisor(pipeline: Pipeline, config: Config, name: str) -> Supervisor:
    """Make what keeps a link of the configuration open."""
    table = config.links[name]
    streams = any(station.scale == name for station in config.stations.values())
    return Supervisor(
        name,
        partial(make_link, table.address, table),
        on_bytes=pipeline.took,
        on_state=pipeline.changed,
        silent_s=table.silent_s or (SCALE_SILENT_S if streams else None),
        reopen_when_silent=table.reopen_when_silent,
        poll=table.poll,
    )


def _zeroing(site: Site, supervisors: Mapping[str, Supervisor], say: Say) -> ZeroScale:
    async def zero(station: str | None) -> str | None:
        """Send the indicator's own zero command as well, where the configuration has one; say when it did not go."""
        for name, table in site.config.stations.items():
            command = site.config.links[table.scale].zero_command
            if station in {None, name} and command is not None:
                try:
                    await supervisors[table.scale].write(spelled_bytes(command))
                except OSError as error:
                    text = f"The zero command was not sent: {error}.  Zero the indicator by hand."
                    say(Attention(station=name, about="zero-command", text=text, over=True, lasted_s=0.0))
                    return text
        return None

    return zero


async def _watch(site: Site, hub: Hub) -> AsyncIterator[str]:
    """Yield what became of each link last, then each event, and each platform that changes, as a line of JSON."""
    with hub.watch() as watcher:
        for event in hub.links.values():
            watcher.put(event)
        for name in site.stations:
            watcher.put(Live(name, platform(site, name)))
        async for item in watcher.items():
            match item:
                case Live():
                    yield json.dumps({"live": item.view.model_dump(mode="json")})
                case Gap():
                    yield json.dumps({"gap": True})
                case _:
                    yield item.to_json()
