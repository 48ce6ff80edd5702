"""Calls that may block, kept off the event loop.

asyncio's own executor will not do: its threads are joined when the program ends, so one driver that hangs in `close`
would keep a stopped daemon from stopping.  Here each call has a daemon thread of its own (they are rare), and a result
that comes after its waiter has gone is given back instead of being leaked.
"""

import asyncio
import contextlib
import threading
from collections.abc import Callable
from typing import Generic, TypeVar

T = TypeVar("T")


class _Parcel(Generic[T]):
    """A result on its way from a thread to its waiter: it ends with exactly one of them, however they race."""

    def __init__(self, give_back: Callable[[T], object] | None) -> None:
        self._give_back = give_back
        self._lock = threading.Lock()
        self._refused = False
        self._held: list[T] = []

    def put(self, result: T) -> None:
        """Hold the result for the waiter, or give it back at once if the waiter has gone (called in the thread)."""
        with self._lock:
            if not self._refused:
                self._held.append(result)
                return
        self._back(result)

    def refuse(self) -> None:
        """Note that the waiter goes without its result (called on the loop)."""
        with self._lock:
            self._refused = True
            held = self._held.copy()
        for result in held:
            threading.Thread(target=self._back, args=(result,), name="give-back", daemon=True).start()

    def _back(self, result: T) -> None:
        if self._give_back is not None:
            with contextlib.suppress(Exception):  # nobody is left to be told
                self._give_back(result)


async def off_loop(call: Callable[[], T], give_back: Callable[[T], object] | None = None) -> T:
    """Await `call()` in a thread.

    When the waiter is cancelled (a time-out cancels too) the call goes on, and its late result goes to `give_back`, in
    a thread: that closes a port that was opened too late.
    """
    loop = asyncio.get_running_loop()
    answer: asyncio.Future[T] = loop.create_future()
    parcel = _Parcel(give_back)

    def tell(settle: Callable[..., None], value: object) -> None:
        if not answer.done():
            settle(value)

    def work() -> None:
        settle: Callable[..., None] = answer.set_result
        value: object
        try:
            value = result = call()
            parcel.put(result)
        except Exception as error:  # noqa: BLE001  # it is handed to the waiter
            settle, value = answer.set_exception, error
        with contextlib.suppress(RuntimeError):  # the loop has ended meanwhile
            loop.call_soon_threadsafe(tell, settle, value)

    threading.Thread(target=work, name="off-loop", daemon=True).start()
    try:
        return await answer
    except asyncio.CancelledError:
        parcel.refuse()
        raise
