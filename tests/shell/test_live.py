"""The live: durable, then acknowledged, then shown; and the same after a restart."""

from __future__ import annotations

import asyncio
from dataclasses import replace

import pytest
from hypothesis import given

from core.samples import CAP_MS, HEAT, Pad, Script, competition, scripts
from shell.stage import (
    START_UNIX_MS,
    WATCH,
    FakeTransport,
    GatedJournal,
    frame_now,
    joined,
    journalled,
    live_on,
    recording,
    two_heats,
)
from tallywire.core.errors import JournalFailed
from tallywire.core.facts import Fact
from tallywire.shell.books import Change
from tallywire.shell.clock import FakeClock
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.live import RunOptions
from tallywire.web.client import Client
from wire.talk import changed, facts, hello, text


async def test_durable_then_acknowledged_then_shown() -> None:
    """While the journal has not written there is no answer and no picture; afterwards the answer comes first."""
    journal, log = GatedJournal(), list[str]()
    live = live_on(journal)
    viewer, table = _LoggingTransport(log), _LoggingTransport(log)
    Client(live, viewer).hear(WATCH)
    client = Client(live, table)
    client.hear(hello("table-a"))
    log.clear()
    async with recording(live):
        client.hear(facts(Pad("table-a").start()))
        for _ in range(20):
            await asyncio.sleep(0)
        assert log == []
        journal.gate.set()
        await journalled(live)
    assert log == ["acknowledged", "patch"]


class _LoggingTransport(FakeTransport):
    def __init__(self, log: list[str]) -> None:
        super().__init__()
        self._log = log

    def write(self, frame: bytes) -> None:
        super().write(frame)
        self._log.append(self.messages[-1]["type"])


async def test_whoever_looks_at_another_event_hears_that_a_heat_runs_and_that_it_is_over() -> None:
    """The list of heats at the table, and what is next, say it of every event's heats: at the start and at the cap."""
    work, clock = two_heats(), FakeClock(unix_ms=START_UNIX_MS)
    later = replace(work.events["event"], id="later")
    heats = {HEAT: work.heats[HEAT], "h2": replace(work.heats["h2"], event="later")}
    live = live_on(
        MemoryJournal(), clock=clock, work=replace(work, events={**work.events, "later": later}, heats=heats)
    )
    views = [text(type="watch", view=view, heat="h2") for view in ("table", "next")]
    _, transport = joined(live, hello("table-b"), *views)
    change = Change()
    live.books.add(Pad("table-a").start(), change)
    live.show(change, live.books.snapshot())
    clock.jump(1)
    assert [transport.shown("table")["heats"][0]["status"], transport.shown("next")["day"][0]["status"]] == [
        "running"
    ] * 2
    clock.jump(CAP_MS / 1000)
    assert [transport.shown("table")["heats"][0]["status"], transport.shown("next")["day"][0]["status"]] == ["over"] * 2


async def test_a_failed_journal_acknowledges_nothing() -> None:
    """When the journal fails, the recorder ends with its error and no fact is answered or shown."""
    journal = GatedJournal()
    journal.fails = True
    live = live_on(journal)
    client, transport = joined(live, hello("table-a"), WATCH)
    client.hear(facts(Pad("table-a").start()))
    journal.gate.set()
    with pytest.raises(JournalFailed, match="the disk is gone"):
        await live.recorder.run()
    assert transport.of_type("acknowledged") == []
    assert transport.of_type("patch") == []


async def test_a_refused_fact_is_named_and_not_counted(monkeypatch: pytest.MonkeyPatch) -> None:
    """A pad's fact for a foreign lane is in the journal with its error, is named in the answer and counts nowhere."""
    journal, helped = MemoryJournal(), list[Fact]()
    live = live_on(journal)
    monkeypatch.setattr(live.helper, "take", helped.extend)
    pad = Pad("lane-1-a", 1)
    async with recording(live):
        _, transport = joined(live, hello("lane-1-a"), facts(good := pad.reps(1), changed(pad.reps(2), lane=2)))
        await journalled(live)
    assert helped == [good], "what is worked out beside the taps hears of it too"
    [answer] = transport.of_type("acknowledged")
    assert (answer["watermark"], [each["sequence"] for each in answer["refused"]]) == (2, [2])
    assert [line.refusal is not None for line in journal.read()] == [False, True]
    assert live.books.heat_now(HEAT).tally(2).done == 0


@given(scripts())
def test_a_restart_comes_to_the_same(script: Script) -> None:
    """What is replayed from a journal shows the same frames, knows the same watermarks and refuses the same ids."""

    async def run() -> None:
        journal = MemoryJournal()
        live = live_on(journal)
        async with recording(live):
            for sender, sent in script.items():
                joined(live, hello(sender), *(facts(fact) for fact in sent))
            await journalled(live)
        again = live_on(journal)
        assert frame_now(again, "heat", "floor") == frame_now(live, "heat", "floor")
        assert frame_now(again, "gaps", HEAT) == frame_now(live, "gaps", HEAT)
        for sender, sent in script.items():
            assert again.senders.watermark(sender) == live.senders.watermark(sender) == len(sent)
            assert all(again.senders.owner(fact.id) == live.senders.owner(fact.id) for fact in sent)

    asyncio.run(run())


def test_a_journal_of_another_mode_is_not_used() -> None:
    """A rehearsal's journal is never opened live."""
    journal = MemoryJournal()
    live_on(journal, options=RunOptions(mode="rehearsal"))
    with pytest.raises(JournalFailed, match="found mode 'rehearsal' in the journal, expected 'live'"):
        live_on(journal)


def test_a_journal_of_another_competition_is_not_used() -> None:
    """The competition's name has to be the one the journal began with."""
    journal = MemoryJournal()
    live_on(journal)
    with pytest.raises(JournalFailed, match="found competition 'Test Trials' in the journal"):
        live_on(journal, work=replace(competition(), name="Other Trials"))


async def test_a_heat_that_is_gone_is_named() -> None:
    """A journal with facts of a heat that the competition file has no longer is not read with that file."""
    journal = MemoryJournal()
    live = live_on(journal, work=two_heats())
    async with recording(live):
        joined(live, hello("table-a"), facts(changed(Pad("table-a").start(), heat="h2")))
        await journalled(live)
    with pytest.raises(JournalFailed, match='facts of heat "h2"'):
        live_on(journal)
