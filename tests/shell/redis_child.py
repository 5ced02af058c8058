"""A writer that makes sure of its lease, is stopped right there, and then appends. Run with the server's address.

With `unfenced` its append does not compare the epoch: the mutant that the test must catch.
"""

from __future__ import annotations

import asyncio
import os
import signal
import sys

from tallywire.core.errors import JournalFailed
from tallywire.shell.journal.on_redis import fence, lines
from tallywire.shell.journal.on_redis.client import Place
from tallywire.shell.journal.on_redis.journal import RedisJournal
from tallywire.shell.journal.port import Draft

FENCE = b"if state[1] ~= ARGV[1] then"


def without_fence(name: str) -> bytes:
    """Give a script whose comparison of epochs is never true."""
    script = _whole(name)
    assert name != "append" or FENCE in script
    return script.replace(FENCE, b"if false then")


_whole = fence.script


async def write(url: str) -> str:
    """Check the lease, stop, append; say what became of it."""
    journal = RedisJournal.open(Place(url=url, lease_ms=0), owner="child")
    journal.renew()
    print("checked", flush=True)
    os.kill(os.getpid(), signal.SIGSTOP)
    try:
        await journal.append([Draft(sender="late", sequence=1, body=b"{}")], received_unix_ms=0)
    except JournalFailed as exc:
        return exc.__class__.__name__
    return "appended"


if __name__ == "__main__":
    if sys.argv[2:] == ["unfenced"]:
        fence.script = lines.script = without_fence  # type: ignore[attr-defined]
    print(asyncio.run(write(sys.argv[1])), flush=True)
    os._exit(0)
