"""How late the event loop comes to what it has planned: whatever keeps it from its work shows here."""

from __future__ import annotations

import asyncio

from tallywire.shell.meters import Meters

EVERY_S = 0.5


async def watch_lateness(meters: Meters) -> None:
    """Look twice a second, until cancelled."""
    loop = asyncio.get_running_loop()
    while True:
        due = loop.time() + EVERY_S
        await asyncio.sleep(EVERY_S)
        now = loop.time()
        meters.late.add(max(0.0, now - due), now=now)
