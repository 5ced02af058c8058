"""Malformed messages by the thousand: typed errors only, memory flat, and nobody else is harmed."""

from __future__ import annotations

import logging
import tracemalloc
from collections import Counter
from collections.abc import Callable
from random import Random
from unittest.mock import patch

import pytest

from core.samples import Pad, competition
from shell.stage import WATCH, FakeTransport, call_all, joined, journalled, live_on, recording, settled
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.live import LiveCompetition
from tallywire.web.client import Client
from tallywire.wire import session
from wire.malformed import malformed
from wire.talk import facts, hello, text

ANSWERS = {"error", "welcome", "pong", "gap", "acknowledged", "snapshot", "patch"}
CODES = {"bad_message", "not_allowed", "too_fast", "sequence_gap", "fact_refused"}
EVERY = 250
"""After so many messages a pad taps, and must be answered and shown as if nothing were."""
A_LINE_BYTES, BESIDE_BYTES = 6_000, 1_000_000
"""What a fact that was refused may take, for it is kept; and what all the rest may grow by."""


class Hostile:
    """A client that is let in again whenever it is sent away; now and then it says who it is first."""

    def __init__(self, live: LiveCompetition, dice: Random) -> None:
        self.counts: Counter[str] = Counter()
        self._live, self._dice = live, dice
        self._client: Client | None = None
        self._transport = FakeTransport()

    def send(self, message: bytes) -> None:
        """Send one message and look at every answer."""
        if self._client is None:
            greeting = self._dice.choice(((), (hello("lane-3-x"),), (text(type="hello", role="viewer"),)))
            self._client, self._transport = joined(self._live, *greeting)
        self._client.hear(message if self._dice.random() < 0.5 else message.decode(errors="surrogateescape"))
        for answer in self._transport.messages:
            assert answer["type"] in ANSWERS, answer
            self.counts[answer.get("code", answer["type"])] += 1
        self._transport.frames.clear()
        if self._client.parting is not None or self._dice.random() < 0.01:
            self._transport.close()
            self._client.leave()
            self._client = None


async def flooded(messages: int, seed: int) -> tuple[Counter[str], int, int]:
    """Send malformed messages beside a pad and a page; give the answers, the growth in bytes, and the facts kept."""
    journal, dice = MemoryJournal(), Random(seed)
    live = live_on(journal, work=competition(lanes=3))
    call_all(live.books)
    hostile, pad = Hostile(live, dice), Pad("lane-1-a", 1)
    tapping, answers = joined(live, hello("lane-1-a"))
    _, page = joined(live, WATCH)
    before = lines = 0
    async with recording(live):
        for number in range(1, messages + 1):
            hostile.send(malformed(dice))
            live.clock.jump(0.02)  # type: ignore[attr-defined]
            if number % EVERY == 0:
                taps = number // EVERY
                tapping.hear(facts(pad.reps(taps * 1000)))
                await journalled(live)
                assert answers.of_type("acknowledged")[-1]["watermark"] == taps
                answers.frames.clear()
                live.clock.jump(0.1)  # type: ignore[attr-defined]
                assert page.messages[-1]["type"] in ("snapshot", "patch")
            if number == messages // 4:
                before, lines = tracemalloc.get_traced_memory()[0], len(list(journal.read()))
        await settled(lambda: not live.recorder.is_busy)
    return hostile.counts, tracemalloc.get_traced_memory()[0] - before, len(list(journal.read())) - lines


@pytest.fixture
def traced_memory() -> Callable[[], None]:
    """Trace the memory that Python takes while a test runs."""
    tracemalloc.start()
    return tracemalloc.stop


@pytest.mark.parametrize("messages", [4_000, pytest.param(200_000, marks=pytest.mark.long)])
async def test_malformed_messages_harm_nobody(
    messages: int, traced_memory: Callable[[], None], caplog: pytest.LogCaptureFixture
) -> None:
    """Only typed errors come back, none is logged, memory stays flat, and a pad counts on beside them."""
    try:
        counts, grown, kept = await flooded(messages, messages)
    finally:
        traced_memory()
    print(f"{messages} malformed messages: {dict(counts)}; {grown} bytes more, {kept} refused facts kept")
    assert counts["bad_message"] > messages // 2
    assert [record for record in caplog.records if record.levelno >= logging.ERROR] == []
    assert set(counts) <= ANSWERS | CODES
    assert grown < BESIDE_BYTES + kept * A_LINE_BYTES


async def test_the_check_finds_a_session_that_lets_an_error_through() -> None:
    """The check above is able to fail: a reader that raises what it met instead of naming it is found."""
    with patch.object(session, "read_message", side_effect=KeyError("type")), pytest.raises(KeyError):
        await flooded(10, 1)
