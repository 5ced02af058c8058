"""What the forecast said while heats ran: one line a minute of a heat, in a file of the data folder.

It is kept for the scorecard alone: a file that cannot be written, or is full, ends the log and disturbs nothing else.
"""

from __future__ import annotations

import logging
import os
from contextlib import suppress
from pathlib import Path

import orjson

from tallywire.core.call.kept import Mark, SaidThen, kept_line, kept_of, mark_of
from tallywire.core.call.steps import Sight
from tallywire.core.forecast.answer import Forecast
from tallywire.shell.data_folder import FORECASTS

MOST_BYTES = 32 * 1024 * 1024
"""About 10,000 lines of twenty lanes: a competition of 500 heats of twenty minutes."""
_log = logging.getLogger(__name__)


class ForecastLog:
    """The open log. It goes on where it ended: a line that a crash has cut off is closed and stays unreadable."""

    def __init__(self, file: Path, *, most_bytes: int = MOST_BYTES) -> None:
        self._file = file
        self._most_bytes = most_bytes
        self._kept: set[Mark] = set()
        self._closed = False

    def wants(self, sight: Sight) -> bool:
        """Tell whether the minute that a heat has come to is not kept yet."""
        mark = mark_of(sight)
        return not self._closed and mark is not None and mark not in self._kept

    def keep(self, sight: Sight, outlook: Forecast) -> None:
        """Keep a forecast, unless its minute has one."""
        mark = mark_of(sight)
        if mark is None or not self.wants(sight):
            return
        self._kept.add(mark)
        try:
            self._write(orjson.dumps(kept_line(sight, outlook)) + b"\n")
        except OSError:
            self._closed = True
            _log.exception("forecasts are not kept any more: %s cannot be written", self._file)

    def _write(self, line: bytes) -> None:
        descriptor = os.open(self._file, os.O_RDWR | os.O_CREAT | os.O_APPEND, 0o600)
        with os.fdopen(descriptor, "rb+") as file:
            size = file.seek(0, os.SEEK_END)
            if size + len(line) > self._most_bytes:
                self._closed = True
                _log.warning("forecasts are not kept any more: %s has %d bytes", self._file, size)
                return
            if size and _last_byte(file.fileno(), size) != b"\n":
                line = b"\n" + line
            file.write(line)


def load_forecasts(folder: Path) -> list[SaidThen]:
    """Read what a server has kept in its data folder. Lines that cannot be read are passed over; no file, no lines."""
    try:
        with (folder / FORECASTS).open("rb") as file:
            lines = file.read(MOST_BYTES).splitlines()
    except FileNotFoundError:
        return []
    found = []
    for line in lines:
        with suppress(KeyError, TypeError, ValueError, AttributeError):
            found.append(kept_of(orjson.loads(line)))
    return found


def _last_byte(descriptor: int, size: int) -> bytes:
    return os.pread(descriptor, 1, size - 1)
