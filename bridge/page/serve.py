"""Serves the page when the configuration has a table for it; weighing goes on without it when it cannot be served."""

import time
from collections.abc import Callable
from datetime import datetime
from typing import TYPE_CHECKING

from neckyoke.bridge.config.model import Config
from neckyoke.bridge.events import Attention
from neckyoke.bridge.herd.book import Book
from neckyoke.bridge.page.doors import Ask, AskStatus, Memory
from neckyoke.bridge.telling.alerts import Say
from neckyoke.bridge.telling.fanout import Hub

if TYPE_CHECKING:
    from neckyoke.bridge.page.app import Page


async def serve(
    config: Config,
    hub: Hub,
    journal: Memory,
    ask: Ask,
    status: AskStatus,
    say: Say,
    book: Book,
    monotonic: Callable[[], float] = time.monotonic,
) -> "Page | None":
    """Start the page; None when there is to be none, or when it cannot be had, which is said.

    `monotonic` counts the seconds of its limits.
    """
    if config.page is None:
        return None
    try:
        from neckyoke.bridge.page.app import Page, PageError
    except ImportError:
        say(_cannot("The page needs two more packages: pip install 'neckyoke[page]'."))
        return None
    page = Page(
        config.page.listen,
        hub=hub,
        journal=journal,
        ask=ask,
        status=status,
        code_file=config.state_path(config.page.code_file),
        book=book,
        place=config.property_name,
        hosts=config.page.hosts,
        now=lambda: datetime.now(config.zone),
        monotonic=monotonic,
        say=say,
    )
    try:
        await page.start()
    except PageError as error:
        say(_cannot(str(error)))
        return None
    return page


def _cannot(text: str) -> Attention:
    return Attention(station=None, about="page", text=text)
