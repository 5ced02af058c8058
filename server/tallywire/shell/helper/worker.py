"""A thread beside the event loop, for work that takes a while."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from typing import Protocol, TypeVar

T = TypeVar("T")
_log = logging.getLogger(__name__)


class Worker(Protocol):
    """Runs work elsewhere and gives its answer to `done` on the event loop; None when the work failed."""

    def run(self, work: Callable[[], T], done: Callable[[T | None], None]) -> None:
        """Take one piece of work, which must not touch anything that others change."""
        ...

    def close(self) -> None:
        """Take no more work."""
        ...


class ThreadWorker:
    """One thread for the calls and standings of all heats: two would take a core from the taps."""

    def __init__(self) -> None:
        self._pool = ThreadPoolExecutor(max_workers=1, thread_name_prefix="background")

    def run(self, work: Callable[[], T], done: Callable[[T | None], None]) -> None:
        """Take one piece of work."""
        asyncio.get_running_loop().run_in_executor(self._pool, work).add_done_callback(
            lambda future: done(_answer_of(future))
        )

    def close(self) -> None:
        """Take no more work, and wait for the piece that is being done."""
        self._pool.shutdown(cancel_futures=True)


def _answer_of(future: asyncio.Future[T]) -> T | None:
    if future.cancelled():
        return None
    error = future.exception()
    if error is not None:
        _log.error("a call or standing could not be worked out", exc_info=error)
        return None
    return future.result()
