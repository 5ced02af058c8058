"""The log of a server: bounded for each kind of line, and written beside the event loop, so that no reader holds that
up.
"""

from __future__ import annotations

import logging
import os
import queue
import threading
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress

from tallywire.shell.log_forms import LOG_FORMS
from tallywire.wire.allowance import Allowance

_OF_A_KIND_A_SECOND, _OF_A_KIND_AT_ONCE = 0.1, 10
_WAITING_MOST = 256
_STANDARD_ERROR = 2
_LAST_WORDS_S = 0.5


class BoundedLog(logging.Handler):
    """Writes to a file descriptor from a thread of its own. Lines that find no room are counted; nobody waits for room.

    Ten lines of one kind (from one place in the program) may come at once, then one every ten seconds, which says how
    many were left out. The thread writes to the descriptor itself: if it hangs there, it holds no lock that is needed
    to stop.
    """

    def __init__(self, descriptor: int = _STANDARD_ERROR, *, form: str = "text") -> None:
        super().__init__(logging.WARNING)
        self.setFormatter(LOG_FORMS[form]())
        self._descriptor = descriptor
        self._kinds: dict[tuple[str, int], Allowance] = {}
        self._left_out: dict[tuple[str, int], int] = {}
        self._waiting: queue.Queue[bytes | None] = queue.Queue(_WAITING_MOST)
        self._thread = threading.Thread(target=self._write, name="log", daemon=True)
        self._thread.start()

    def emit(self, record: logging.LogRecord) -> None:
        """Queue a record, or count it."""
        kind = (record.pathname, record.lineno)
        bucket = self._kinds.setdefault(kind, Allowance(rate=_OF_A_KIND_A_SECOND, burst=_OF_A_KIND_AT_ONCE))
        left_out = self._left_out.get(kind, 0)
        try:
            if not bucket.spend(time.monotonic()):
                raise queue.Full
            record.left_out = left_out
            self._waiting.put_nowait(f"{self.format(record)}\n".encode(errors="replace"))
            self._left_out[kind] = 0
        except queue.Full:
            self._left_out[kind] = left_out + 1

    def close(self) -> None:
        """Write the rest, if that can be done without waiting."""
        with suppress(queue.Full):
            self._end()
        self._thread.join(_LAST_WORDS_S)
        super().close()

    def _end(self) -> None:
        with suppress(queue.Empty):
            if self._waiting.full():
                self._waiting.get_nowait()
        self._waiting.put_nowait(None)

    def _write(self) -> None:
        while (line := self._waiting.get()) is not None:
            with suppress(OSError):
                os.write(self._descriptor, line)


@contextmanager
def bounded_log(form: str) -> Iterator[None]:
    """Log in this way while the block runs, in a form of LOG_FORMS."""
    handler = BoundedLog(form=form)
    logging.getLogger().addHandler(handler)
    try:
        yield
    finally:
        logging.getLogger().removeHandler(handler)
        handler.close()
