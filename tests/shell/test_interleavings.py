"""Senders that repeat, skip, reconnect and are connected twice: nothing is lost and nothing doubled."""

from __future__ import annotations

import asyncio

from hypothesis import given
from hypothesis import strategies as st

from core.samples import Pad
from shell.stage import (
    GatedJournal,
    facts_of,
    joined,
    journalled,
    lines_of,
    live_on,
    recording,
)
from tallywire.core.facts import Fact
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.live import LiveCompetition
from wire.talk import facts, hello, text


async def test_a_repeat_in_flight_waits_for_the_disk() -> None:
    """What the old connection has on its way is answered on the new one only when it is durable."""
    journal = GatedJournal()
    live = live_on(journal)
    message = facts(Pad("lane-1-a", 1).reps(1))
    async with recording(live):
        joined(live, hello("lane-1-a"), message)
        _, new = joined(live, hello("lane-1-a"), message)
        for _ in range(20):
            await asyncio.sleep(0)
        assert new.of_type("acknowledged") == []
        journal.gate.set()
        await journalled(live)
    assert [answer["watermark"] for answer in new.of_type("acknowledged")] == [1]
    assert lines_of(journal) == [("lane-1-a", 1)]


@given(st.data())
def test_two_senders_however_interleaved(data: st.DataObject) -> None:
    """Whatever two senders send, repeat, skip and reconnect, each is in the journal once, in the sender's order."""

    async def run() -> None:
        journal = MemoryJournal()
        live = live_on(journal)
        senders = [_Sender(live, Pad(f"lane-{n}-a", n)) for n in (1, 2)]
        async with recording(live):
            for _ in range(data.draw(st.integers(0, 25))):
                step = data.draw(st.sampled_from("sssrgcd-"))
                await data.draw(st.sampled_from(senders)).step(step, data)
            for sender in senders:
                sender.finish()
            await journalled(live)
        assert not [line for line in journal.read() if line.refusal is not None]
        for sender in senders:
            written = [fact for fact in facts_of(journal) if fact.sender == sender.name]
            assert written == sender.facts
            assert live.senders.watermark(sender.name) == len(sender.facts)

    asyncio.run(run())


class _Sender:
    """A pad that behaves badly: it repeats, skips numbers, reconnects and leaves old connections open."""

    def __init__(self, live: LiveCompetition, pad: Pad) -> None:
        self.live = live
        self.name = pad.sender
        self.facts: list[Fact] = [pad.reps(at_ms) for at_ms in range(1, 13)]
        self.clients = [joined(live, hello(self.name))]

    async def step(self, kind: str, data: st.DataObject) -> None:
        """Do one thing: send, repeat or skip (a slice), say garbage, connect again, disconnect, or let others run."""
        client, transport = data.draw(st.sampled_from(self.clients))
        if kind in "sr":
            first = data.draw(st.integers(0, len(self.facts) - 1))
            client.hear(facts(*self.facts[first : data.draw(st.integers(first + 1, len(self.facts)))]))
        elif kind == "g":
            client.hear(data.draw(st.sampled_from(["", "{}", text(type="facts", facts=[{}])])))
        elif kind == "c":
            self.clients.append(joined(self.live, hello(self.name)))
        elif kind == "d" and len(self.clients) > 1:
            self.clients.remove((client, transport))
            transport.close()
            client.leave()
        else:
            await asyncio.sleep(0)

    def finish(self) -> None:
        """Connect once more and send everything above the watermark, as the protocol asks."""
        client, transport = joined(self.live, hello(self.name))
        watermark = transport.of_type("welcome")[0]["watermark"]
        if self.facts[watermark:]:
            client.hear(facts(*self.facts[watermark:]))
