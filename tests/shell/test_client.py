"""One client: its answers, its allowance, and what it cannot do to the others."""

from __future__ import annotations

import asyncio

import pytest

from core.samples import HEAT, Pad, full_round
from shell.stage import (
    START_UNIX_MS,
    WATCH,
    GatedJournal,
    joined,
    journalled,
    lines_of,
    live_on,
    recording,
)
from tallywire.shell.clock import FakeClock
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.web.client import MESSAGES_A_SECOND
from wire.talk import facts, hello, text


async def test_a_pad_is_told_its_count() -> None:
    """The answer to a lane's facts carries the lane's count with those facts in it."""
    live = live_on(MemoryJournal())
    table, pad = Pad("table-a"), Pad("lane-1-a", 1)
    async with recording(live):
        joined(live, hello("table-a"), facts(table.start()))
        _, transport = joined(live, hello("lane-1-a"), facts(*full_round(pad, 0)))
        await journalled(live)
    [answer] = transport.of_type("acknowledged")
    assert answer["tally"] == {
        "heat": HEAT, "lane": 1, "done": 61, "scored_reps": 22, "no_reps": 0, "status": "working"
    }  # fmt: skip


async def test_who_left_is_not_answered_and_loses_nothing() -> None:
    """Facts of a client that is gone are written all the same."""
    journal = GatedJournal()
    live = live_on(journal)
    async with recording(live):
        client, transport = joined(live, hello("lane-1-a"), facts(Pad("lane-1-a", 1).reps(1)))
        transport.close()
        client.leave()
        journal.gate.set()
        await journalled(live)
    assert lines_of(journal) == [("lane-1-a", 1)]
    assert live.clients == 0


async def test_too_many_messages_end_the_connection() -> None:
    """A client that says more than its allowance is told so and is to be closed; it is not heard any further."""
    live = live_on(MemoryJournal())
    client, transport = joined(live)
    for _ in range(2 * MESSAGES_A_SECOND):
        client.hear(text(type="ping", t1=1))
    assert client.parting is None
    client.hear(text(type="ping", t1=1))
    assert (transport.messages[-1]["code"], len(transport.of_type("pong"))) == ("too_fast", 2 * MESSAGES_A_SECOND)
    assert client.parting is not None


async def test_a_pong_names_the_servers_clock() -> None:
    """Receiving and answering times are Unix milliseconds of the server, the client's time comes back."""
    clock = FakeClock(unix_ms=START_UNIX_MS)
    clock.jump(2)
    _, transport = joined(live_on(MemoryJournal(), clock=clock), text(type="ping", t1=7))
    assert transport.messages == [{"type": "pong", "t1": 7, "t2": START_UNIX_MS + 2000, "t3": START_UNIX_MS + 2000}]


async def test_one_clients_garbage_harms_nobody_else() -> None:
    """While one client sends rubbish another one's facts are taken and a third one's picture goes on."""
    live = live_on(MemoryJournal())
    rubbish, _ = joined(live)
    _, viewer = joined(live, WATCH)
    pad = Pad("lane-1-a", 1)
    async with recording(live):
        client, _ = joined(live, hello("lane-1-a"))
        for at_ms in range(1, 11):
            rubbish.hear('{"type": "facts", "facts": [[[')
            client.hear(facts(pad.reps(at_ms)))
        await journalled(live)
    assert viewer.shown()["lanes"]["1"]["done"] == 10


async def test_a_full_queue_holds_senders_back(monkeypatch: pytest.MonkeyPatch) -> None:
    """While too many facts wait for the disk a client's next message waits too, and nothing overtakes it."""
    monkeypatch.setattr("tallywire.shell.recorder.QUEUE_BOUND", 10)
    monkeypatch.setattr("tallywire.shell.recorder.COMMIT_MOST", 10)
    journal, table = GatedJournal(), Pad("table-a")
    live = live_on(journal)
    client, _ = joined(live, hello("table-a"))
    async with recording(live):
        for _ in range(30):
            client.hear(facts(table.correct(1, 1, lane=1)))
        waiting = asyncio.create_task(client.take_in_turn(facts(table.correct(1, 1, lane=1))))
        for _ in range(20):
            await asyncio.sleep(0)
        blocked = not waiting.done()
        overtaking = client.take(facts(table.correct(1, 1, lane=1)))
        journal.gate.set()
        await waiting
        await journalled(live)
    assert (blocked, overtaking) == (True, False)
    assert live.lines == 31
