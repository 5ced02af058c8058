"""Pads go on counting while the server is flooded: short here, as large as docs/reliability.md says with `--long`."""

from __future__ import annotations

import pytest

from web.floods import FULL, LONG_S, SHORT_S, flooded

pytestmark = [pytest.mark.alone, pytest.mark.slow]
P99_MS = 100
MEMORY_MB = 192
"""A server with this competition and nobody there has about 66."""
JOURNAL_MB = 8
QUIET_TIMES = 3
"""So many times what the same machine takes without a flood, where that alone is near the goal."""
ROUNDS = 3
"""Another process of a shared machine makes a round slow, never fast: the best of three counts."""
SHORT = 5
KINDS = [kind for kind in FULL if kind != "none"]


@pytest.mark.parametrize("kind", KINDS)
async def test_pads_go_on_counting_in_a_flood(kind: str) -> None:
    """99 of 100 taps are acknowledged within 100 ms, and memory and journal stay within bounds."""
    await _holds(kind, FULL[kind] // SHORT, SHORT_S)


@pytest.mark.long
@pytest.mark.parametrize("kind", KINDS)
async def test_pads_go_on_counting_in_a_whole_flood(kind: str) -> None:
    """The same in the sizes of docs/reliability.md."""
    await _holds(kind, FULL[kind], LONG_S)


async def _holds(kind: str, size: int, seconds: float) -> None:
    for left in reversed(range(ROUNDS)):
        result = await flooded(kind, size, seconds)
        print(result)
        assert result.memory_mb < MEMORY_MB
        assert result.journal_mb < JOURNAL_MB
        assert result.done["tried"] > 0
        if result.within_ms(0.99) < P99_MS:
            return
        # On a machine that is busy with other work a server without a flood misses it too.
        quiet = await flooded("none", 0, seconds)
        print(quiet)
        if result.within_ms(0.99) < QUIET_TIMES * quiet.within_ms(0.99):
            return
        assert left, f"found 99 of 100 taps within {result.within_ms(0.99):.0f} ms, expected {P99_MS}"
