"""Whether the journal takes facts, and everyone who has to be told."""

from __future__ import annotations

import asyncio
from collections.abc import Callable
from dataclasses import dataclass


@dataclass(frozen=True, slots=True, kw_only=True)
class StorageState:
    """`ok`; `low`: the reserve is in use, facts are still taken; `held`: nothing is taken until there is room.

    A journal on a server of its own is `held` while that does not answer. `key` is that of its text in table `said`.
    """

    state: str
    key: str
    message: str


OK = StorageState(state="ok", key="disk_room", message="the server's disk has room again: everything is taken")
LOW = StorageState(
    state="low",
    key="disk_low",
    message="the server's disk is almost full, its reserve is in use: ask for room on it now",
)
HELD = StorageState(
    state="held",
    key="disk_full",
    message="the server's disk is full: touches are kept on this device and taken as soon as there is room",
)


AWAY = StorageState(
    state="held",
    key="journal_away",
    message="the journal's server does not answer: touches are kept on this device and taken as soon as it is back",
)
BACK = StorageState(state="ok", key="journal_back", message="the journal's server is back: everything is taken")


class Storage:
    """The present state, told to those who asked to hear: at once when it is not ok, and at each change."""

    def __init__(self) -> None:
        self.now = OK
        self.epoch: int | None = None
        """The epoch of the journal's writer, None where there is only one."""
        self.given_up = asyncio.Event()
        self.behind_ms: int | None = None
        """How old a follower's picture is beyond a second, None for the writer itself."""
        self._at_epoch: list[Callable[[], None]] = []
        self._told: dict[object, Callable[[StorageState], None]] = {}

    def at_epoch(self, act: Callable[[], None]) -> None:
        """Do something whenever this writer goes on under a new epoch, perhaps on a server that has lost something."""
        self._at_epoch.append(act)

    def lead(self, epoch: int | None) -> None:
        """Go on under this epoch."""
        self.epoch = epoch
        for act in self._at_epoch:
            act()

    def subscribe(self, who: object, tell: Callable[[StorageState], None]) -> None:
        """Tell somebody from now on; subscribing again changes nothing."""
        if who in self._told:
            return
        self._told[who] = tell
        if self.now.state != OK.state:
            tell(self.now)

    def unsubscribe(self, who: object) -> None:
        """Stop telling somebody."""
        self._told.pop(who, None)

    def change(self, state: StorageState) -> None:
        """Tell everyone, if the state is a new one."""
        if state == self.now:
            return
        self.now = state
        for tell in tuple(self._told.values()):
            tell(state)

    def give_up(self) -> None:
        """Stop waiting for room, because the server is to stop."""
        self.given_up.set()
