"""Made-up heats go the way of real ones: over the wire, through every rule, and into a rehearsal."""

from __future__ import annotations

from random import SystemRandom

import pytest

from shell.rehearsed import SCENARIOS, Rehearsed, live_of
from shell.stage import START_UNIX_MS, joined, journalled, recording
from tallywire.cli.simulate import simulated
from tallywire.core.rehearsal.placing import place
from tallywire.shell.clock import FakeClock
from tallywire.shell.files import load_competition
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.web.client import Client
from wire.talk import facts, hello


@pytest.mark.parametrize("world", ["clean", "rough"])
async def test_the_server_takes_every_fact(world: str, request: pytest.FixtureRequest) -> None:
    """Every fact of a made-up heat is taken when it arrives, and in rehearsal the heat ends with the same counts.

    One heat at random, so any format; all with `--long`.
    """
    seed = SystemRandom().randrange(10**6)
    work = load_competition(SCENARIOS / "estuary.toml")
    heats = [heat for heat in work.heats.values() if heat.lanes]
    for heat in heats if request.config.getoption("--long") else [heats[seed % len(heats)]]:
        placed = place(work, [list(simulated(work, [heat], world=world, seed=seed))], begin_ms=START_UNIX_MS)
        clock, journal = FakeClock(unix_ms=START_UNIX_MS), MemoryJournal()
        live, clients = live_of(work, clock, journal), dict[str, Client]()
        async with recording(live):
            for each in placed:
                clock.jump(max(0, each.at_ms - clock.unix_ms()) / 1000)
                sender = each.fact.sender
                clients[sender] = clients.get(sender) or joined(live, hello(sender))[0]
                clients[sender].hear(facts(each.fact))
                await journalled(live)
        refused = [line.refusal for line in journal.read() if line.refusal is not None]
        assert (refused, live.lines) == ([], len(placed)), (seed, heat.id)
        on = Rehearsed(work, placed, views=("heat",))
        on.playback.to(on.playback.length_ms)
        ends = [each.books.snapshot().heats[heat.id] for each in (on.live, live)]
        lanes = [{lane: end.tally(lane).done for lane in heat.lanes} for end in ends]
        assert lanes[0] == lanes[1], (seed, heat.id)
        live.close()
        on.live.close()
