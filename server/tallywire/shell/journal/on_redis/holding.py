"""A journal on Redis that waits while its server is away, and says within a second that it does."""

from __future__ import annotations

import asyncio
import logging
from collections.abc import Awaitable, Callable, Iterable, Iterator, Sequence
from concurrent.futures import ThreadPoolExecutor
from contextlib import suppress
from functools import partial
from itertools import groupby
from operator import attrgetter
from time import monotonic
from typing import TypeVar

from tallywire.core.errors import JournalAway, JournalFailed, JournalInUse, JournalTaken
from tallywire.shell.journal.chain import GENESIS
from tallywire.shell.journal.on_redis.client import Place
from tallywire.shell.journal.on_redis.follower import Follower
from tallywire.shell.journal.on_redis.journal import RedisJournal
from tallywire.shell.journal.on_redis.lines import make_owner
from tallywire.shell.journal.on_redis.tail import Tail
from tallywire.shell.journal.port import Draft, Line, draft_of
from tallywire.shell.journal.reopening import ReopeningJournal
from tallywire.shell.storage import AWAY, BACK, Storage

BEAT_S = 0.3
"""So often the writer says that it is still there, which shows it too whether the server is."""
PATIENCE_S = 0.5
"""So long an answer may take before pads and table are told: with BEAT_S, within a second of the server's last one."""
LOOK_S = 0.25
BEHIND_S = 1.0
"""A follower whose server has answered this recently has everything."""
T = TypeVar("T")
Restore = Callable[[Iterable[Line]], None]
_log = logging.getLogger(__name__)


class RedisHoldingJournal(ReopeningJournal[RedisJournal]):
    """A Journal on Redis. While its server is away, `append` takes as long as it takes until the server is back.

    A server that comes back without the newest acknowledged lines is given them again, under a new epoch.
    """

    passing = JournalAway
    held = AWAY

    def __init__(self, place: Place, *, storage: Storage) -> None:
        """Connect as a reader. Raises JournalAway, or JournalFailed for a server that cannot be used."""
        self._place = place
        self._owner = make_owner()
        self._follower = Follower()
        self._stands_by = False
        self._has_met = False
        self._lease_s = LOOK_S
        self._tail = Tail(0, GENESIS)
        self._notes = dict[str, str]()
        read = RedisJournal.open(place, follower=self._follower)
        again = partial(RedisJournal.open, place, owner=self._owner, follower=self._follower)
        super().__init__(str(place), read, again, storage=storage, look_s=LOOK_S)

    async def lead(self, take: Restore, *, patience_ms: int = 0) -> None:
        """Become the writer; while another has the lease, follow, and hand on to `take` what it has written.

        With `patience_ms` the lease is left to others for so long, even if nobody has it; once another has been seen
        with it, its end alone counts. Raises JournalAway when the server is not there from the beginning,
        JournalDamaged, and whatever `take` raises.
        """
        due = monotonic() + patience_ms / 1000
        while not await self._has_led(take, due):
            await self._pause(min(LOOK_S, self._lease_s))
        self._last = await asyncio.to_thread(self._inner.last)
        self._tail = Tail(self._last, await asyncio.to_thread(self._inner.head_at, self._last))
        self._notes = dict(await asyncio.to_thread(self._inner.notes))
        self._leads_under(await asyncio.to_thread(lambda: self._inner.epoch))

    def set_note(self, key: str, value: str) -> None:
        """Keep `value` under `key`, durably, unless another value is there: JournalFailed."""
        super().set_note(key, value)
        self._notes[key] = value

    async def _has_led(self, take: Restore, due: float) -> bool:
        self._lease_s = LOOK_S
        try:
            await self._reopen_to_follow()
            await self.catch_up(take)
            left_ms, owner = await asyncio.to_thread(self._inner.lease)
            if left_ms > 0:
                # Not looked at again and again, but as soon as it ends.
                self._lease_s, self._has_met = left_ms / 1000, True
                await self._stand_by(f"{owner} has its lease for {left_ms} ms more")
            elif self._has_met or monotonic() >= due:
                await asyncio.to_thread(self._inner.lead, self._owner)
                return True
            else:
                await self._stand_by("for the other machine to begin")
        except JournalInUse as exc:
            await self._stand_by(str(exc))
        except JournalAway:
            if not self._stands_by:
                raise
            await self._close()
        return False

    async def catch_up(self, take: Restore) -> None:
        """Hand on all that was written, and remain a reader. Raises JournalAway, JournalDamaged."""
        first = await asyncio.to_thread(self._inner.follow)
        if first:
            take(self._all_from(first))

    def _all_from(self, lines: Sequence[Line]) -> Iterator[Line]:
        """Give lines and all that follow; while some are taken, the next are fetched."""
        with ThreadPoolExecutor(1, "tallywire-ahead") as ahead:
            while lines:
                fetched = ahead.submit(self._inner.follow)
                yield from lines
                lines = fetched.result()

    async def follow(self, take: Callable[[Sequence[Line]], None]) -> None:
        """Hand on what is written, until closed, and nothing now and then; say how far behind the newest line this is.

        While the server is away, that grows. Raises JournalDamaged when it comes back with other lines.
        """
        current = monotonic()
        while not self._storage.given_up.is_set():
            lines: Sequence[Line] = ()
            try:
                await self._reopen_to_follow()
                lines = await asyncio.to_thread(self._inner.wait)
                current = monotonic()
            except JournalAway as exc:
                if self._is_open:
                    _log.warning("%s", exc)
                    await self._close()
                await self._pause(LOOK_S)
            behind_s = monotonic() - current
            self._storage.behind_ms = round(1000 * behind_s) if behind_s >= BEHIND_S else 0
            take(lines)

    async def _reopen_to_follow(self) -> None:
        if not self._is_open:
            self._inner = await asyncio.to_thread(RedisJournal.open, self._place, follower=self._follower)
            self._is_open = True

    async def _stand_by(self, why: str) -> None:
        if not self._stands_by:
            _log.warning("standing by at the journal %s: %s", self._name, why)
        self._stands_by = True
        await asyncio.to_thread(self._inner.stand_by, self._owner)

    def _leads_under(self, epoch: int | None) -> None:
        _log.warning("the journal %s is written under epoch %d", self._name, epoch)
        self._storage.lead(epoch)

    async def _reopen(self) -> None:
        try:
            await super()._reopen()
        except JournalInUse as exc:
            raise JournalTaken(str(exc)) from exc

    async def keep(self) -> None:
        """Keep the lease until closed. Raises JournalTaken when another writer has taken over."""
        while not self._storage.given_up.is_set():
            async with self._one:
                try:
                    await self._patiently(asyncio.to_thread(self._inner.renew))
                except JournalAway:
                    await self._hold((), 0)
            await self._pause(BEAT_S)

    async def _pause(self, seconds: float) -> None:
        with suppress(TimeoutError):
            await asyncio.wait_for(self._storage.given_up.wait(), seconds)

    async def _written(self, drafts: Sequence[Draft], received_unix_ms: int) -> Sequence[Line]:
        return await self._patiently(super()._written(drafts, received_unix_ms))

    async def _patiently(self, answer: Awaitable[T]) -> T:
        """Wait for an answer, and say so when it takes long: the connection may yet turn out to be whole."""
        task = asyncio.ensure_future(answer)
        done, _ = await asyncio.wait({task}, timeout=PATIENCE_S)
        if not done:
            self._say(AWAY)
        value = await task
        self._end_holding()
        return value

    async def _appended(self, lines: Sequence[Line]) -> None:
        self._tail.add(lines)

    def _begin_to_hold(self) -> None:
        self._say(AWAY)

    async def _is_over(self) -> bool:
        """Give the server the acknowledged lines and the notes that it lacks."""
        try:
            missing = await asyncio.to_thread(lambda: self._tail.missing(self._inner.last(), self._inner.head_at))
            if missing:
                _log.warning(
                    "the journal %s came back without its last %d lines: written anew", self._name, len(missing)
                )
                await self._restore(missing)
            for key, value in self._notes.items():
                await asyncio.to_thread(self._inner.set_note, key, value)
            self._leads_under(await asyncio.to_thread(lambda: self._inner.epoch))
        except JournalFailed:
            await self._close()
            raise
        return True

    async def _restore(self, lines: Sequence[Line]) -> None:
        # In one commit: what queues while the thread is busy is written together.
        pieces = [
            self._inner.append([draft_of(line) for line in same], received_unix_ms=received)
            for received, same in groupby(lines, attrgetter("received_unix_ms"))
        ]
        await asyncio.gather(*pieces)

    def _end_holding(self) -> None:
        if self._storage.now is AWAY:
            self._say(BACK)

    def _gave_up(self) -> JournalFailed:
        return JournalAway(f"the journal's server {self._name} did not come back: start it, and start again")
