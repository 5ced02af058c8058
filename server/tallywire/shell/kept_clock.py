"""The server's clock over a restart: in mid-heat it goes on as it was, though the machine's was set meanwhile.

A file in the data folder says how far wall time stood apart from the machine's time since it was switched on, which
nobody sets and which goes on in its sleep. It counts until the machine is switched on again, or until an hour after the
last fact: then a start takes the machine's clock as it is.
"""

from __future__ import annotations

import logging
import time
from collections.abc import Callable
from contextlib import suppress
from pathlib import Path

import orjson

from tallywire.shell.clock import SystemClock
from tallywire.shell.data_folder import write_private

RECENT_MS = 3_600_000
_TOLD_NS = 1_000_000_000
_BOOT = Path("/proc/sys/kernel/random/boot_id")
_log = logging.getLogger(__name__)


def _boot() -> str | None:
    """Name the time since the machine was switched on (random(4)); None where the system has no name for it."""
    try:
        return _BOOT.read_text(encoding="ascii").strip()
    except (OSError, UnicodeError):
        return None


def _since_boot_ns() -> int:
    """Give the nanoseconds since then, sleep included (clock_gettime(2))."""
    return time.clock_gettime_ns(time.CLOCK_BOOTTIME)


class KeptClock:
    """What the file at `path` says, and the clock that follows it."""

    def __init__(
        self,
        path: Path,
        clock: SystemClock,
        *,
        boot: Callable[[], str | None] = _boot,
        since_boot_ns: Callable[[], int] = _since_boot_ns,
    ) -> None:
        self._path = path
        self._clock = clock
        self._boot = boot()
        self._since_boot_ns = since_boot_ns

    def settle(self, last_ms: int | None) -> None:
        """Set the clock, and keep how it is. `last_ms` is when the last fact came in by the clock of that time."""
        if self._boot is None:
            return
        apart_ns = self._kept_ns()
        if apart_ns is not None and last_ms is not None:
            self._go_on(apart_ns, last_ms)
        now = {"boot": self._boot, "apart_ns": self._clock.unix_ns() - self._since_boot_ns()}
        try:
            write_private(self._path, orjson.dumps(now))
        except OSError as exc:
            # A heat is worth more than a clock that is set while it runs.
            _log.warning("cannot keep the clock in %s (%s): do not set the machine's clock today", self._path, exc)

    def _kept_ns(self) -> int | None:
        with suppress(OSError, ValueError, TypeError, KeyError):
            kept = orjson.loads(self._path.read_bytes())
            if kept["boot"] == self._boot and isinstance(kept["apart_ns"], int):
                return int(kept["apart_ns"])
        return None

    def _go_on(self, apart_ns: int, last_ms: int) -> None:
        unix_ns = apart_ns + self._since_boot_ns()
        if not 0 <= unix_ns // 1_000_000 - last_ms < RECENT_MS:
            return
        step_ns = self._clock.unix_ns() - unix_ns
        if abs(step_ns) >= _TOLD_NS:
            _log.warning(
                "found the machine's clock set by %+.0f s since the last start, so heats go on by the time before: "
                "a start an hour after the last fact takes the new time",
                step_ns / 1e9,
            )
        self._clock.set_ns(unix_ns)
