"""What the collector of cycles is left to do while taps come."""

from __future__ import annotations

import asyncio
import gc

from tallywire.measure.dry_run import dry_run
from tallywire.measure.long_heat import long_competition
from tallywire.measure.ways import EIGHT


def test_a_tap_leaves_nothing_for_the_collector() -> None:
    """What a tap makes and the next one replaces goes by itself: no ring of objects holds the lanes' facts."""

    async def left_by(taps: int) -> int:
        async with dry_run(long_competition(lanes=10, taps=200), facts=100, views=EIGHT) as run:
            await run.tap()
            gc.collect()
            gc.disable()
            for _ in range(taps):
                await run.tap()
            return gc.collect()

    try:
        assert asyncio.run(left_by(20)) == 0
    finally:
        gc.enable()
