"""A correction shows everywhere within one frame: in every view of every heat it concerns, at the next tick."""

from __future__ import annotations

from dataclasses import replace
from typing import Any

import pytest

from core.samples import CAP_MS, HEAT, Pad, competition, full_round
from shell.stage import START_UNIX_MS, FakeTransport, joined, journalled, live_on, recording
from tallywire.core.facts import Fact
from tallywire.core.model.competition import Competition, CutAfter
from tallywire.core.ranking.cuts import Cut
from tallywire.shell.clock import FakeClock
from tallywire.shell.fan_out import TICK_S
from tallywire.shell.journal.memory import MemoryJournal
from wire.reader import whole as made_whole
from wire.talk import facts, hello, text


def two_heats() -> Competition:
    """Entries 1 and 2 race first, 3 and 4 in the heat after them, all in one event."""
    base = competition(lanes=4)
    first = replace(base.heats[HEAT], lanes={1: "e1", 2: "e2"})
    return replace(base, heats={HEAT: first, "later": replace(first, id="later", lanes={1: "e3", 2: "e4"})})


def whole(pad: Pad, step_ms: int, heat: str) -> list[Fact]:
    """All five rounds at a pace."""
    work = [fact for n in range(5) for fact in full_round(pad, n * 22 * step_ms, step_ms=step_ms)]
    return [replace(fact, heat=heat) for fact in work]


def rows(transport: FakeTransport, view: str) -> dict[str, Any]:
    """Every lane of a view's frame, made whole."""
    lanes: dict[str, Any] = made_whole(transport.shown(view))["lanes"]
    return lanes


@pytest.mark.parametrize("view", ["heat", "gaps", "table"])
async def test_a_correction_is_in_the_very_next_frame(view: str) -> None:
    """A count corrected after the heat is in the next frame of its views, a twenty-fifth of a second later at most."""
    clock = FakeClock(unix_ms=START_UNIX_MS + CAP_MS + 1000)
    live = live_on(MemoryJournal(), work=two_heats(), clock=clock)
    table = Pad("table-a")
    async with recording(live):
        client, transport = joined(
            live, hello("table-a"), facts(table.start()), text(type="watch", view=view, heat=HEAT)
        )
        await journalled(live)
        clock.jump(1)
        before = len(transport.messages)
        client.hear(facts(table.correct(CAP_MS + 1, 44, lane=2)))
        await journalled(live)
        clock.jump(TICK_S)
    patches = [message for message in transport.messages[before:] if message["type"] == "patch"]
    assert len(patches) == 1
    lane = rows(transport, view)["2"]
    assert (lane["scored_reps"], lane["place"], lane["result"]) == (44, 1, "CAP+66")


async def test_a_correction_in_one_heat_is_in_the_frames_of_the_others() -> None:
    """The first heat is corrected while the second one is watched: places, points and time to beat change at once."""
    clock = FakeClock(unix_ms=START_UNIX_MS + CAP_MS + 1000)
    live = live_on(MemoryJournal(), work=two_heats(), clock=clock)
    table, one, three = Pad("table-a"), Pad("lane-1-a", 1), Pad("lane-1-b", 1)
    start = replace(table.start(), heat="later")
    async with recording(live):
        client, transport = joined(live, hello("table-a"), text(type="watch", view="heat", heat="later"))
        client.hear(facts(start, table.start()))
        joined(live, hello("lane-1-a"), facts(*whole(one, 1000, HEAT)))
        joined(live, hello("lane-1-b"), facts(*whole(three, 1100, "later")))
        await journalled(live)
        clock.jump(1)
        first = rows(transport, "heat")["1"]
        assert (first["in_event"]["place"], first["in_event"]["to_beat"], first["points"]) == (2, "1:50.000", 90)
        client.hear(facts(replace(table.correct(CAP_MS + 1, 100, lane=1), sequence=3)))
        await journalled(live)
        clock.jump(TICK_S)
    then = rows(transport, "heat")["1"]
    assert (then["in_event"]["place"], then["in_event"]["to_beat"], then["points"]) == (1, "CAP+10", 100)


async def test_a_correction_before_a_cut_is_in_the_frames_of_the_event_after_it() -> None:
    """The survivors change with event one: the heat of event two that is watched is for other entries at once."""
    base = two_heats()
    second = replace(base.events["event"], id="second")
    heats = {HEAT: base.heats[HEAT], "later": replace(base.heats[HEAT], id="later", event="second")}
    cut = CutAfter(event="event", cut=Cut(size=1))
    entries = {name: base.entries[name] for name in ("e1", "e2")}
    work = replace(base, events={**base.events, "second": second}, heats=heats, entries=entries, cuts=(cut,))
    clock = FakeClock(unix_ms=START_UNIX_MS + CAP_MS + 1000)
    live = live_on(MemoryJournal(), work=work, clock=clock)
    table = Pad("table-a")
    first = [table.start(), table.correct(1000, 44, lane=1)]
    start = replace(table.start(), heat="later")
    async with recording(live):
        client, transport = joined(live, hello("table-a"), text(type="watch", view="heat", heat="later"))
        client.hear(facts(*first, start))
        await journalled(live)
        clock.jump(1)
        assert [lane for lane, each in rows(transport, "heat").items() if "in_event" in each] == ["1"]
        client.hear(facts(table.correct(CAP_MS + 1, 66, lane=2)))
        await journalled(live)
        clock.jump(TICK_S)
    assert [lane for lane, each in rows(transport, "heat").items() if "in_event" in each] == ["2"]
