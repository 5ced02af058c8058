"""What the server counts of itself, against numpy's own counting."""

from __future__ import annotations

import asyncio

import numpy as np
import pytest
from hypothesis import given
from hypothesis import strategies as st

from tallywire.core.facts import RepCounted
from tallywire.shell.lateness import watch_lateness
from tallywire.shell.meters import BOUNDS_S, RECENT_S, Meters, Timings, at_share
from tallywire.wire.senders import Received

seconds = st.one_of(st.floats(0, 10), st.sampled_from(BOUNDS_S))


@given(st.lists(seconds, min_size=1), st.sampled_from([0.5, 0.9, 0.99, 1.0]))
def test_a_share_is_the_nearest_rank(times: list[float], share: float) -> None:
    """As numpy's inverted empirical distribution (numpy.quantile, "inverted_cdf")."""
    assert at_share(sorted(times), share) == pytest.approx(np.quantile(times, share, method="inverted_cdf"))


@given(st.lists(seconds))
def test_each_time_is_in_one_bucket(times: list[float]) -> None:
    """As numpy.searchsorted says: a time on a bound belongs below it (OpenMetrics 1.0: "le" is less or equal)."""
    timings = Timings()
    for each in times:
        timings.add(each, now=0)
    expected = np.bincount(np.searchsorted(BOUNDS_S, times, side="left"), minlength=len(BOUNDS_S) + 1)
    assert timings.buckets == expected.tolist()
    assert timings.count == len(times)
    assert timings.total_s == pytest.approx(sum(times))


def test_the_last_minute_is_what_is_recent() -> None:
    """What is older than a minute is in the buckets alone; without anything there is no share."""
    timings = Timings()
    timings.add(3, now=0)
    timings.add(2, now=1)
    timings.add(1, now=RECENT_S + 1)
    assert timings.recent(now=RECENT_S + 1) == [1, 2]
    assert timings.count == 3
    assert at_share([], 0.5) is None


def test_a_flood_keeps_the_newest() -> None:
    """More in a minute than is kept of it: the memory stays bounded, and the newest are there."""
    timings = Timings()
    for n in range(30_000):
        timings.add(n, now=1)
    assert timings.recent(now=1) == list(range(20_000, 30_000))


def test_what_was_taken_and_refused_is_told_apart() -> None:
    """A message with one of each: the kinds and the codes are counted, and one answer."""
    fact = RepCounted(id="a.1", heat="h", at_ms=1, sender="a", sequence=1, lane=1)
    entries = [
        Received(sender="a", sequence=1, body=b"{}", fact=fact),
        Received(sender="a", sequence=2, body=b"{}", refusal=b'{"code":"fact_refused"}'),
    ]
    meters = Meters()
    meters.answered(entries, since_s=1, now=1.5)
    assert dict(meters.facts) == {RepCounted: 1}
    assert dict(meters.refused) == {"fact_refused": 1}
    assert meters.answers.recent(now=2) == [0.5]


async def test_a_loop_that_is_kept_from_its_work_is_late(monkeypatch: pytest.MonkeyPatch) -> None:
    """A look that is due during a blocking call comes after it."""
    monkeypatch.setattr("tallywire.shell.lateness.EVERY_S", 0.01)
    meters, loop = Meters(), asyncio.get_running_loop()
    task = asyncio.create_task(watch_lateness(meters))
    await asyncio.sleep(0)
    until = loop.time() + 0.1
    while loop.time() < until:
        pass
    await asyncio.sleep(0.02)
    task.cancel()
    assert max(meters.late.recent(now=loop.time())) >= 0.08
