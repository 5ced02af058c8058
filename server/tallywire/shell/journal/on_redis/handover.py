"""Moving the writer on purpose: the one that has the lease is asked to give it to a server that stands by."""

from __future__ import annotations

import time
from contextlib import closing

from tallywire.core.errors import JournalInUse, TallywireError
from tallywire.shell.journal.on_redis.client import Place, RedisClient
from tallywire.shell.journal.on_redis.follower import HANDOVER, STANDBY, STATE

PATIENCE_S = 15.0
_ASKED_MS = 5000
_LOOK_S = 0.1


def hand_over(place: Place) -> int:
    """Ask the writer to hand over, wait until another leads, and give its epoch.

    Raises TallywireError when no server stands by, JournalInUse when the writer goes on all the same, JournalAway.
    """
    with closing(RedisClient(place)) as client:
        if not client.ask("EXISTS", STANDBY):
            raise TallywireError(
                f"found no server that stands by at {place}: start one with tallywire serve FILE --redis URL --standby"
            )
        epoch = int(client.ask("HGET", STATE, "epoch") or 0)
        client.ask("SET", HANDOVER, epoch, "PX", _ASKED_MS)
        deadline = time.monotonic() + PATIENCE_S
        while time.monotonic() < deadline:
            now = int(client.ask("HGET", STATE, "epoch") or 0)
            if now > epoch:
                return now
            time.sleep(_LOOK_S)
    raise JournalInUse(f"found the writer at {place} still under epoch {epoch} after {PATIENCE_S:g} s: look at its log")
