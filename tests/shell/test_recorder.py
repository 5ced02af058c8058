"""The recorder's queue: as long as it is short, senders go on."""

from __future__ import annotations

import asyncio

from core.samples import Pad
from tallywire.shell.clock import FakeClock
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.meters import Meters
from tallywire.shell.recorder import QUEUE_BOUND, Job, Recorder
from tallywire.wire.fact_lines import fact_line
from tallywire.wire.senders import Received


def job(pad: Pad, facts: int) -> Job:
    """So many facts of one sender, with nobody who waits for an answer."""
    made = [pad.reps(n) for n in range(facts)]
    entries = [Received(sender=each.sender, sequence=each.sequence, body=fact_line(each), fact=each) for each in made]
    return Job(entries=entries, done=lambda _snapshot: None, since_s=0.0)


async def test_senders_wait_once_more_than_the_bound_is_queued_and_go_on_when_it_is_written() -> None:
    """The bound itself still has room."""
    recorder = Recorder(MemoryJournal(), clock=FakeClock(), durable=lambda _jobs, _at_ms: None, meters=Meters())
    pad = Pad("lane-1-a", 1)
    recorder.keep(job(pad, QUEUE_BOUND))
    assert (recorder.is_ready, recorder.waiting) == (True, QUEUE_BOUND)
    recorder.keep(job(pad, 1))
    assert (recorder.is_ready, recorder.waiting) == (False, QUEUE_BOUND + 1)
    running = asyncio.create_task(recorder.run())
    await recorder.ready()
    recorder.close()
    await running
    assert (recorder.is_ready, recorder.waiting, recorder.is_busy) == (True, 0, False)
