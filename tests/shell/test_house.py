"""The house: durable, then acknowledged, then shown; and the same after a restart."""

from __future__ import annotations

import asyncio
from dataclasses import replace

import pytest
from hypothesis import given

from core.samples import HEAT, Pad, Script, competition, scripts
from shell.stage import (
    WATCH,
    FakeSink,
    GatedJournal,
    house_on,
    joined,
    journalled,
    recording,
    two_heats,
)
from tallywire.core.errors import JournalFailed
from tallywire.shell.client import Client
from tallywire.shell.house import RunOptions
from tallywire.shell.journal.memory import MemoryJournal
from wire.talk import changed, facts, hello


async def test_durable_then_acknowledged_then_shown() -> None:
    """While the journal has not written there is no answer and no picture; afterwards the answer comes first."""
    journal, log = GatedJournal(), list[str]()
    house = house_on(journal)
    viewer, table = _LoggingSink(log), _LoggingSink(log)
    Client(house, viewer).hear(WATCH)
    client = Client(house, table)
    client.hear(hello("table-a"))
    log.clear()
    async with recording(house):
        client.hear(facts(Pad("table-a").start()))
        for _ in range(20):
            await asyncio.sleep(0)
        assert log == []
        journal.gate.set()
        await journalled(house)
    assert log == ["acknowledged", "patch"]


class _LoggingSink(FakeSink):
    def __init__(self, log: list[str]) -> None:
        super().__init__()
        self._log = log

    def write(self, frame: bytes) -> None:
        super().write(frame)
        self._log.append(self.messages[-1]["type"])


async def test_a_failed_journal_acknowledges_nothing() -> None:
    """When the journal fails, the recorder ends with its error and no fact is answered or shown."""
    journal = GatedJournal()
    journal.fails = True
    house = house_on(journal)
    client, sink = joined(house, hello("table-a"), WATCH)
    client.hear(facts(Pad("table-a").start()))
    journal.gate.set()
    with pytest.raises(JournalFailed, match="the disk is gone"):
        await house.recorder.run()
    assert sink.of_type("acknowledged") == []
    assert sink.of_type("patch") == []


async def test_a_refused_fact_is_named_and_not_counted() -> None:
    """A pad's fact for a foreign lane is in the journal with its error, is named in the answer and counts nowhere."""
    journal = MemoryJournal()
    house = house_on(journal)
    pad = Pad("lane-1-a", 1)
    async with recording(house):
        _, sink = joined(house, hello("lane-1-a"), facts(pad.reps(1), changed(pad.reps(2), lane=2)))
        await journalled(house)
    [answer] = sink.of_type("acknowledged")
    assert (answer["watermark"], [each["sequence"] for each in answer["refused"]]) == (2, [2])
    assert [line.refusal is not None for line in journal.read()] == [False, True]
    assert house.scorebook.book.heats[HEAT].at(0).tally(2).done == 0


@given(scripts())
def test_a_restart_comes_to_the_same(script: Script) -> None:
    """A house that replays a journal shows the same frames, knows the same watermarks and refuses the same ids."""

    async def run() -> None:
        journal = MemoryJournal()
        house = house_on(journal)
        async with recording(house):
            for sender, sent in script.items():
                joined(house, hello(sender), *(facts(fact) for fact in sent))
            await journalled(house)
        again = house_on(journal)
        assert again.scorebook.frame("heat", "floor") == house.scorebook.frame("heat", "floor")
        assert again.scorebook.frame("gaps", HEAT) == house.scorebook.frame("gaps", HEAT)
        for sender, sent in script.items():
            assert again.senders.watermark(sender) == house.senders.watermark(sender) == len(sent)
            assert all(again.senders.owner(fact.id) == house.senders.owner(fact.id) for fact in sent)

    asyncio.run(run())


def test_a_journal_of_another_mode_is_not_used() -> None:
    """A rehearsal's journal is never opened live."""
    journal = MemoryJournal()
    house_on(journal, options=RunOptions(mode="rehearsal"))
    with pytest.raises(JournalFailed, match="found mode 'rehearsal' in the journal, expected 'live'"):
        house_on(journal)


def test_a_journal_of_another_competition_is_not_used() -> None:
    """The competition's name has to be the one the journal began with."""
    journal = MemoryJournal()
    house_on(journal)
    with pytest.raises(JournalFailed, match="found competition 'Test Trials' in the journal"):
        house_on(journal, work=replace(competition(), name="Other Trials"))


async def test_a_heat_that_is_gone_is_named() -> None:
    """A journal with facts of a heat that the competition file has no longer is not read with that file."""
    journal = MemoryJournal()
    house = house_on(journal, work=two_heats())
    async with recording(house):
        joined(house, hello("table-a"), facts(changed(Pad("table-a").start(), heat="h2")))
        await journalled(house)
    with pytest.raises(JournalFailed, match='facts of heat "h2"'):
        house_on(journal)
