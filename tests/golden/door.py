"""The one door to the product: facts go in as a client sends them, frames come out. Only this file knows internals.

When the inside of the server is renamed or replaced, this file changes and nothing else in this folder.
"""

from __future__ import annotations

import asyncio
import heapq
import io
from collections.abc import AsyncIterator, Callable, Iterable, Mapping
from contextlib import asynccontextmanager, redirect_stdout
from dataclasses import replace
from itertools import count
from pathlib import Path
from typing import Any, TypeVar

import orjson
import pytest

from shell.stage import FakeTransport, frame_now, journalled, recording
from tallywire.cli.main import main
from tallywire.formats.ladder.counting import LadderCounting
from tallywire.shell.files import load_competition
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.keys import make_keys
from tallywire.shell.links import Links
from tallywire.shell.live import LiveCompetition, RunOptions
from tallywire.shell.read_model import VIEW_NAMES
from tallywire.web.client import Client
from wire.talk import text

Data = dict[str, Any]
T = TypeVar("T")

VIEWS = tuple(VIEW_NAMES)
"""Every view on the wire."""
_IN_A_MESSAGE = 64
_TICK_S = 0.25
"""Longer than the server lets a call or a standing wait for its next refresh."""


class Door:
    """A competition as it runs. Wall time stands still between calls of `reach`."""

    def __init__(self, live: LiveCompetition, clock: _Clock) -> None:
        self._live = live
        self._clock = clock
        self._clients: dict[str, tuple[Client, FakeTransport]] = {}

    async def reach(self, unix_ms: int, facts: Iterable[Mapping[str, Any]]) -> None:
        """Let it be this wall time, and take these facts, each as its sender sends it. Every one must be counted."""
        self._clock.reach(unix_ms)
        for run in _runs(facts):
            client, transport = self._client(run[0]["sender"])
            transport.frames.clear()
            client.hear(text(type="facts", facts=run))
            await journalled(self._live)
            answers = transport.messages
            assert answers, f"no answer to {run[0]['id']}"
            assert all(each["type"] == "acknowledged" and not each["refused"] for each in answers), answers
        self._clock.run()

    async def frame(self, view: str, heat: str) -> Data:
        """Give the full frame of a view of a heat now, as JSON has it."""
        asked = asyncio.ensure_future(self._live.prepared(view, heat))
        for _ in range(100):
            await asyncio.sleep(0)
            if asked.done():
                break
            self._clock.tick(_TICK_S)
        assert asked.done(), f"view {view} of heat {heat} was not made"
        await asked
        frame: Data = orjson.loads(orjson.dumps(frame_now(self._live, view, heat)))
        return frame

    def _client(self, sender: str) -> tuple[Client, FakeTransport]:
        if sender not in self._clients:
            transport = FakeTransport()
            client = Client(self._live, transport)
            role, _, rest = sender.partition("-")
            where, keys = self._where(rest) if role == "lane" else {}, self._live.keys
            key = {"table": keys.table, "desk": keys.desk}.get(role) or keys.lane(where["lane"], where.get("floor", ""))
            client.hear(text(type="hello", role=role, key=key, sender=sender, **where))
            assert transport.messages[-1]["type"] == "welcome", transport.messages
            self._clients[sender] = client, transport
        return self._clients[sender]

    def _where(self, name: str) -> Data:
        """The lane in the name of a pad, and the floor after it where floors have names."""
        lane, floor = [*name.split("-"), ""][:2]
        return {"lane": int(lane)} | ({"floor": floor} if floor in self._live.competition.floors else {})


@asynccontextmanager
async def opened(competition: Path, *, unix_ms: int) -> AsyncIterator[Door]:
    """Run a competition from this wall time on, with nothing in its journal and a worker that works at once."""
    clock, rules = _Clock(unix_ms), load_competition(competition)
    links = Links(now_ms=clock.unix_ms)
    links.begin(make_keys(rules.places))
    options = RunOptions(make_worker=_AtOnce)
    live = LiveCompetition(rules, journal=MemoryJournal(), clock=clock, links=links, options=options)
    live.replay()
    async with recording(live):
        yield Door(live, clock)
    live.close()


def printed(*arguments: str) -> str:
    """Give what the command line prints."""
    out = io.StringIO()
    with redirect_stdout(out):
        code = main(arguments)
    assert code == 0, f"found exit code {code} of {' '.join(arguments)}, expected 0"
    return out.getvalue()


def plant_one_rep_more(monkeypatch: pytest.MonkeyPatch) -> None:
    """Let every outcome of a ladder have one rep too many: a fault for the comparison to find."""
    right = LadderCounting.outcome

    def outcome(self: LadderCounting, *asked: Any) -> Any:
        given = right(self, *asked)
        return replace(given, scored_reps=given.scored_reps + 1)

    monkeypatch.setattr(LadderCounting, "outcome", outcome)


def _runs(facts: Iterable[Mapping[str, Any]]) -> Iterable[list[Data]]:
    """Facts in their order, those of one sender that follow each other together."""
    run: list[Data] = []
    for fact in facts:
        if run and (fact["sender"] != run[0]["sender"] or len(run) == _IN_A_MESSAGE):
            yield run
            run = []
        run.append(dict(fact))
    if run:
        yield run


class _AtOnce:
    """A worker that does its work while it is asked."""

    def run(self, work: Callable[[], T], done: Callable[[T | None], None]) -> None:
        done(work())

    def close(self) -> None:
        """Nothing waits."""


class _Timer:
    def __init__(self, act: Callable[[], None]) -> None:
        self.act: Callable[[], None] | None = act

    def cancel(self) -> None:
        self.act = None


class _Clock:
    """Wall time that goes where it is told, and deadlines that are met only then.

    However far it goes, what is due is done once, at the end: how often the server looks meanwhile must not matter.
    """

    def __init__(self, unix_ms: int) -> None:
        self._unix_ms = unix_ms
        self._now = 0.0
        self._tie = count()
        self._due: list[tuple[float, int, _Timer]] = []

    def unix_ms(self) -> int:
        return self._unix_ms

    def now(self) -> float:
        return self._now

    def call_at(self, when: float, act: Callable[[], None]) -> _Timer:
        timer = _Timer(act)
        heapq.heappush(self._due, (when, next(self._tie), timer))
        return timer

    def reach(self, unix_ms: int) -> None:
        """Go to a wall time, a second ahead at least on the clock of deadlines; meet none yet."""
        assert unix_ms >= self._unix_ms, "wall time runs forwards"
        self._now += max(1.0, (unix_ms - self._unix_ms) / 1000)
        self._unix_ms = unix_ms

    def tick(self, seconds: float) -> None:
        """Let deadlines come nearer while wall time stands, and meet those due."""
        self._now += seconds
        self.run()

    def run(self) -> None:
        """Meet the deadlines that are due."""
        for _ in range(10_000):
            if not self._due or self._due[0][0] > self._now:
                return
            timer = heapq.heappop(self._due)[2]
            if timer.act is not None:
                timer.act()
        raise AssertionError("deadlines are set again and again")
