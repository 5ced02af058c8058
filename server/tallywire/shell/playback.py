"""Playing a recording into a server over the same websocket as live senders, each fact when its time has come."""

from __future__ import annotations

import asyncio
from collections import defaultdict
from collections.abc import Callable, Iterable, Mapping, Sequence
from contextlib import AsyncExitStack
from dataclasses import dataclass, field, replace
from itertools import groupby
from typing import Any

import orjson
from websockets.asyncio.client import ClientConnection, connect

from tallywire.core.errors import BadMessage
from tallywire.core.facts import ASIDE, Fact, HeatCalled, HeatRecalled, HeatStarted
from tallywire.core.facts.ledger import lane_of, standing
from tallywire.core.facts.recalls import Recalls
from tallywire.core.model.competition import Competition
from tallywire.shell.clock import Clock
from tallywire.wire.fact_lines import fact_data

_IN_A_MESSAGE = 64
OF_THE_CREW = ("desk", "commentator", "spotter")
"""Roles whose facts are played with a link of their own; every other sender but a lane's is played as the table."""


def floors_of(facts: Iterable[Fact], competition: Competition) -> dict[str, str]:
    """Give the floor on which each lane's sender counted, by its name; nothing where there is one without a name."""
    counted = (fact for fact in facts if fact.sender.startswith("lane-"))
    floors = {fact.sender: competition.heats[fact.heat].floor for fact in counted}
    return {sender: floor for sender, floor in floors.items() if floor}


@dataclass(frozen=True, slots=True, kw_only=True)
class PlayTarget:
    """Where to play: the server's websocket address, the key for a sender, the clock and how fast it runs.

    `floors` gives the floor of the senders that count on one of several.
    Everything before `from_ms` on the heat clock is played at once, and the clock goes on from there.
    """

    url: str
    key_of: Callable[[str], str]
    floors: Mapping[str, str] = field(default_factory=dict)
    clock: Clock
    speed: float
    from_ms: int = 0


class Playback:
    """Plays facts in their order. `zero_unix_ms` is when each heat's clock stood at 0, for heats already started."""

    def __init__(self, stage: PlayTarget, facts: Sequence[Fact], zero_unix_ms: dict[str, int]) -> None:
        self._stage = stage
        self._facts = _restarted(facts, stage.speed)
        self._zero = dict(zero_unix_ms)
        self.sent = 0
        self.at_ms = 0

    async def run(self) -> None:
        """Play to the end; returns when every fact is acknowledged. Facts the journal already has are passed over."""
        async with AsyncExitStack() as stack:
            senders: dict[str, Voice] = {}
            for name in dict.fromkeys(fact.sender for fact in self._facts):
                socket = await stack.enter_async_context(connect(self._stage.url, compression=None))
                floor = self._stage.floors.get(name, "")
                senders[name] = await Voice.open(socket, name, self._stage.key_of(name), floor=floor)
            await self._play(senders)

    async def _play(self, senders: dict[str, Voice]) -> None:
        position = 0
        while position < len(self._facts):
            await self._wait_for(self._facts[position])
            due: list[Fact] = []
            while position < len(self._facts) and self._due_ms(self._facts[position]) <= self._stage.clock.unix_ms():
                fact = self._started(self._facts[position])
                due.append(fact)
                self.at_ms = fact.at_ms
                position += 1
            await _say_all(due, senders)
            self.sent = position

    async def _wait_for(self, fact: Fact) -> None:
        await asyncio.sleep(max(0.0, (self._due_ms(fact) - self._stage.clock.unix_ms()) / 1000))

    def _due_ms(self, fact: Fact) -> float:
        zero = self._zero.get(fact.heat)
        return 0.0 if zero is None else zero + fact.at_ms / self._stage.speed

    def _started(self, fact: Fact) -> Fact:
        """Let a heat start, the show change, or a note come, now: a recording's own times lie in the past."""
        if isinstance(fact, ASIDE):
            return replace(fact, unix_ms=self._stage.clock.unix_ms())
        if isinstance(fact, HeatRecalled):
            self._zero.pop(fact.heat, None)
        if not isinstance(fact, HeatStarted):
            return fact
        begin_ms = max(fact.at_ms, self._stage.from_ms)
        began = round(self._stage.clock.unix_ms() - begin_ms / self._stage.speed)
        zero = self._zero.setdefault(fact.heat, began)
        return replace(fact, unix_ms=round(zero + fact.at_ms / self._stage.speed))


def _restarted(facts: Sequence[Fact], speed: float) -> list[Fact]:
    """Make touches of false starts fit for any speed: wall time tells later which of them count, and it runs slower."""
    heats: defaultdict[str, list[Fact]] = defaultdict(list)
    for fact in facts:
        if lane_of(fact) is None and not isinstance(fact, ASIDE):
            heats[fact.heat].append(fact)
    recalls = {heat: Recalls(standing(sorted(found, key=lambda each: each.order))) for heat, found in heats.items()}
    return [_at_speed(fact, recalls[fact.heat], speed) if fact.heat in recalls else fact for fact in facts]


def _at_speed(fact: Fact, recalls: Recalls, speed: float) -> Fact:
    if isinstance(fact, ASIDE):
        return fact
    return recalls.by_good_clock(fact) or replace(fact, at_ms=int(fact.at_ms / speed))


async def _say_all(facts: Sequence[Fact], senders: Mapping[str, Voice]) -> None:
    """Say facts, those of many senders at once; a call or a start is taken before what follows is said."""
    for _, group in groupby(facts, key=lambda fact: isinstance(fact, HeatCalled | HeatStarted)):
        by_sender: defaultdict[str, list[Fact]] = defaultdict(list)
        for fact in group:
            by_sender[fact.sender].append(fact)
        await asyncio.gather(*(senders[name].say(found) for name, found in by_sender.items()))


class Voice:
    """One sender's connection."""

    def __init__(self, socket: ClientConnection, name: str, watermark: int) -> None:
        self._socket = socket
        self._name = name
        self._watermark = watermark

    @classmethod
    async def open(cls, socket: ClientConnection, name: str, key: str, *, floor: str = "") -> Voice:
        """Say hello as this sender and learn what the journal already has of it."""
        own = name.partition("-")[0]
        role: dict[str, Any] = {"role": own if own in OF_THE_CREW else "table"}
        if name.startswith("lane-"):
            role = {"role": "lane", "lane": int(name.split("-")[1])} | ({"floor": floor} if floor else {})
        await socket.send(orjson.dumps({"type": "hello", "sender": name, "key": key, **role}).decode())
        welcome = await _answer(socket, "welcome")
        return cls(socket, name, int(welcome["watermark"]))

    async def say(self, facts: Sequence[Fact]) -> None:
        """Send facts and wait until they are acknowledged."""
        new = [fact_data(fact) for fact in facts if fact.sequence > self._watermark]
        for start in range(0, len(new), _IN_A_MESSAGE):
            piece = new[start : start + _IN_A_MESSAGE]
            await self._socket.send(orjson.dumps({"type": "facts", "facts": piece}).decode())
            while self._watermark < piece[-1]["sequence"]:
                answer = await _answer(self._socket, "acknowledged")
                self._watermark = int(answer["watermark"])


async def _answer(socket: ClientConnection, kind: str) -> dict[str, Any]:
    """Give the next message, which must be of this kind. Raises BadMessage with what came instead.

    A message that the server's disk is full is not the answer, which comes when there is room.
    """
    message: dict[str, Any] = {"type": "storage"}
    while message.get("type") == "storage":
        message = orjson.loads(await socket.recv())
    if message.get("type") != kind:
        raise BadMessage(f"found {message}, expected {kind}")
    return message
