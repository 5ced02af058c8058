"""One view of one heat as a numbered series of frames: a client that has one of them can be brought to the newest."""

from __future__ import annotations

from collections import deque
from collections.abc import Mapping
from typing import Any

from tallywire.wire import replies
from tallywire.wire.merge_patch import diff
from tallywire.wire.packing import pack
from tallywire.wire.short_frame import Shortener

HISTORY_PATCHES = 512
HISTORY_BYTES = 256 * 1024


class Channel:
    """The newest frame, its number and when it was made, and the patches that led to it, each encoded once.

    `frame` is whole; what is sent is shorter (`wire/short_frame.py`). `epoch` names this series of numbers: a client of
    an earlier run of the server has another one and gets a snapshot.
    """

    def __init__(self, *, view: str, heat: str, epoch: str, frame: Mapping[str, Any], unix_ms: int = 0) -> None:
        self.view = view
        self.heat = heat
        self.epoch = epoch
        self.number = 1
        self.frame = frame
        self.unix_ms = unix_ms
        self._shortener = Shortener()
        self._short = self._shortener.shorten(frame)
        self._snapshots: dict[bool, bytes] = {}
        self._patches: deque[bytes] = deque()
        self._bytes = 0

    def publish(self, frame: Mapping[str, Any], *, unix_ms: int = 0) -> bytes | None:
        """Take a newer frame, made at this wall time.

        Gives the patch message for those who have the last one; None when nothing changed. The patch is empty where
        only what is not sent has changed, so that whoever reads the whole frame hears of it.
        """
        if frame is self.frame or frame == self.frame:
            return None
        before, self._short = self._short, self._shortener.shorten(frame)
        change = diff(before, self._short)
        self.frame = frame
        self.unix_ms = unix_ms
        self.number += 1
        self._snapshots.clear()
        message = replies.patch(self._stamp(), change=change)
        self._remember(message)
        return message

    def begin_anew(self, *, epoch: str) -> None:
        """Begin another series of numbers, from the frame as it is: whoever has an earlier one gets a snapshot."""
        self.epoch = epoch
        self.number += 1
        self._snapshots.clear()
        self._patches.clear()
        self._bytes = 0

    def snapshot(self, *, packed: bool = False) -> bytes:
        """Give the whole newest frame; packed: its tables without repeated keys (`wire/packing.py`)."""
        if packed not in self._snapshots:
            frame, columns = pack(self._short) if packed else (self._short, None)
            self._snapshots[packed] = replies.snapshot(self._stamp(), epoch=self.epoch, frame=frame, columns=columns)
        return self._snapshots[packed]

    def catch_up(self, epoch: str | None, number: int | None, *, packed: bool = False) -> list[bytes]:
        """Give the messages that bring a client to the newest frame: the patches it missed, or a snapshot.

        Empty for those who have the newest. A snapshot is also given when it is shorter than the patches.
        """
        missed = self.number - number if epoch == self.epoch and number is not None else -1
        if not 0 <= missed <= len(self._patches):
            return [self.snapshot(packed=packed)]
        patches = list(self._patches)[len(self._patches) - missed :]
        whole = self.snapshot(packed=packed)
        return patches if sum(map(len, patches)) < len(whole) else [whole]

    def _stamp(self) -> replies.Stamp:
        return replies.Stamp(view=self.view, heat=self.heat, number=self.number, unix_ms=self.unix_ms)

    def _remember(self, message: bytes) -> None:
        self._patches.append(message)
        self._bytes += len(message)
        while len(self._patches) > HISTORY_PATCHES or self._bytes > HISTORY_BYTES:
            self._bytes -= len(self._patches.popleft())
