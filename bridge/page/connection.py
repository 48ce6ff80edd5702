"""One connection to the page: it has a place, must ask soon, and gives way while it asks for nothing.

uvicorn takes every connection that comes and times only the wait for a next request.  Here a connection gets one of the
places (`neckyoke.bridge.asking.places`) or is cut at once, and whoever has begun to speak, or never does, is hung up on
after `HEADER_S` without a whole request.
"""

import asyncio
import ipaddress
from typing import Any

from uvicorn.protocols.http.h11_impl import H11Protocol

from neckyoke.bridge.asking.places import Place, Places

HEADER_S = 10.0
"""Seconds from connecting, or from a further request's first byte, to the end of the request's head."""


class Connection(H11Protocol):
    """uvicorn's, with a place of its own and a deadline for asking."""

    def __init__(self, places: Places, *args: Any, **options: Any) -> None:
        super().__init__(*args, **options)
        self._places = places
        self._place: Place | None = None
        self._deadline: asyncio.TimerHandle | None = None

    def connection_made(self, transport: asyncio.Transport) -> None:  # type: ignore[override]
        """Take a place, or hang up."""
        self._place = self._places.enter(whose(transport.get_extra_info("peername")), transport.abort)
        if self._place is None:
            transport.abort()
            return
        super().connection_made(transport)
        self._deadline = self.loop.call_later(HEADER_S, transport.abort)

    def connection_lost(self, exc: Exception | None) -> None:
        """Give the place back."""
        if self._place is None:
            return
        self._places.leave(self._place)
        self._meet_deadline()
        super().connection_lost(exc)

    def data_received(self, data: bytes) -> None:
        """Take bytes; those that make no request yet start the deadline."""
        super().data_received(data)
        self._look()
        if not self._busy:
            self._deadline = self._deadline or self.loop.call_later(HEADER_S, self.transport.abort)

    def on_response_complete(self) -> None:
        """Wait again, unless a next request is here already."""
        super().on_response_complete()
        self._look()

    @property
    def _busy(self) -> bool:
        """Whether a request is being answered."""
        return self.cycle is not None and not self.cycle.response_complete  # type: ignore[redundant-expr]

    def _look(self) -> None:
        assert self._place is not None
        self._place.waiting = not self._busy
        if self._busy:
            self._meet_deadline()

    def _meet_deadline(self) -> None:
        if self._deadline is not None:
            self._deadline.cancel()
            self._deadline = None


def whose(peer: tuple[Any, ...] | None) -> str:
    """Return whom a connection counts for: an IPv4 address, or the /64 that one machine has of IPv6 (RFC 6177)."""
    if not peer:
        return "?"
    address = ipaddress.ip_address(str(peer[0]).partition("%")[0])
    if isinstance(address, ipaddress.IPv6Address):
        if (mapped := address.ipv4_mapped) is not None:
            return str(mapped)
        return str(address if address.is_link_local else ipaddress.ip_network((address, 64), strict=False))
    return str(address)
