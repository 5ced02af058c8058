"""Pushes: the newest state of an outlet is delivered whenever there is another one, and again until it is taken."""

from __future__ import annotations

import asyncio
import logging
import secrets
from collections.abc import Awaitable, Callable
from pathlib import Path
from typing import cast

from tallywire.core.errors import NotAllowed, TallywireError
from tallywire.shell.data_folder import write_private
from tallywire.shell.outlets import Form, Outlet, Outlets
from tallywire.shell.senders_out import NotTaken, Out
from tallywire.wire.push import Push

PAUSE_S = 0.1
"""Between two pushes of one outlet: at most ten a second."""
FIRST_S, MOST_S = 0.5, 30.0
"""How long it waits after a first failure, and at most; each time twice as long, less a random part of up to a half."""
KEY_LEAST = 32
_log = logging.getLogger(__name__)

Sleep = Callable[[float], Awaitable[None]]


def wait_s(failures: int, *, draw: float) -> float:
    """Give how long to wait after so many failures in a row; `draw` is random, from 0 to 1."""
    whole: float = min(FIRST_S * 2 ** min(failures - 1, 10), MOST_S)
    return whole * (1 - draw / 2)


def push_key(path: Path, *, makes: bool) -> bytes:
    """Read the key that signs pushes, made when missing if `makes`. Raises TallywireError."""
    try:
        if makes and not path.exists():
            write_private(path, f"{secrets.token_urlsafe(KEY_LEAST)}\n".encode())
        key = path.read_bytes().strip()
    except OSError as exc:
        raise TallywireError(f"cannot read the key for pushes at {path} ({exc.strerror}): see --push-key") from exc
    if len(key) < KEY_LEAST:
        raise TallywireError(f"found a key of {len(key)} bytes in {path}, expected {KEY_LEAST} or more: see --push-key")
    return key


class Pusher:
    """Keeps one receiver up to date. What came and went while it could not be reached is not sent."""

    def __init__(self, push: Push, out: Out, *, sleep: Sleep = asyncio.sleep) -> None:
        self._push = push
        self._out = out
        self._sleep = sleep
        self._changed = asyncio.Event()
        self._failures = 0
        self._taken = ""

    async def run(self, outlets: Outlets) -> None:
        """Push until cancelled, or until the receiver says that it wants no more."""
        outlet = await self._outlet(outlets)
        outlet.listeners.add(self._changed.set)
        try:
            while await self._step(outlet):
                pass
        except Exception:
            # An error here must not cost the others their pushes.
            _log.exception("pushes to %s have stopped", self._push.receiver)
        finally:
            outlet.listeners.discard(self._changed.set)
            self._out.close()

    async def _outlet(self, outlets: Outlets) -> Outlet:
        while True:
            try:
                return await outlets.outlet(self._push.view, self._push.heat)
            except NotAllowed:
                # The server has as many watchers as it takes.
                await self._sleep(MOST_S)

    async def _step(self, outlet: Outlet) -> bool:
        """Deliver the newest state, or wait for one; False when the receiver wants no more."""
        self._changed.clear()
        newest = outlet.newest(cast(Form, self._push.form))
        if newest.name == self._taken:
            await self._changed.wait()
            return True
        try:
            await self._out.send(newest.body)
        except NotTaken as exc:
            return await self._failed(exc)
        if self._failures:
            _log.warning("pushes to %s are taken again", self._push.receiver)
        self._failures, self._taken = 0, newest.name
        await self._sleep(PAUSE_S)
        return True

    async def _failed(self, reason: NotTaken) -> bool:
        self._failures += 1
        if reason.final:
            _log.warning("pushes to %s have ended: it answers that it is gone for good", self._push.receiver)
            return False
        if self._failures == 1:
            _log.warning("a push to %s was not taken (%s): it is tried again", self._push.receiver, reason)
        draw = secrets.randbelow(1000) / 1000
        await self._sleep(max(wait_s(self._failures, draw=draw), reason.wait_s))
        return True
