"""The route by which a machine source sends facts in one request, for a program that keeps no websocket open."""

from __future__ import annotations

import asyncio
from collections.abc import Sequence
from typing import Annotated, Any, Literal

import orjson
from pydantic import BaseModel, ConfigDict, Field
from starlette.requests import Request
from starlette.responses import Response

from tallywire.core.errors import BadMessage
from tallywire.core.fold.snapshot import Snapshot
from tallywire.shell.live import LiveCompetition
from tallywire.shell.recorder import Job
from tallywire.web.answers import json_answer, problem
from tallywire.web.bodies import read_body
from tallywire.web.http_routes import key_of, role_name, unauthorised
from tallywire.wire.intake import Batch
from tallywire.wire.messages import FACTS_LIMIT, Name
from tallywire.wire.session import Effect, Keep, Say, Session

MACHINE = "machine"


class MachineBatch(BaseModel):
    """Facts of one machine source, in its own order."""

    model_config = ConfigDict(extra="forbid", strict=True, frozen=True)
    type: Literal["facts"] = "facts"
    sender: Name
    facts: Annotated[list[Any], Field(min_length=1, max_length=FACTS_LIMIT)]


class BatchRoute:
    """The endpoint `/facts`: what it takes goes through a session of its own, as if it had come by the wire."""

    def __init__(self, live: LiveCompetition) -> None:
        self._live = live

    async def take(self, request: Request) -> Response:
        """Take facts of a machine source, and answer when they are on disk."""
        if role_name(self._live, request) != MACHINE:
            return unauthorised("found no key of a machine source")
        try:
            asked = await read_body(request, MachineBatch)
        except BadMessage as exc:
            return json_answer(exc.as_data(), status=400)
        session = Session(self._live.terms)
        refused = _problem(session.receive(self._hello(asked, key_of(request))))
        if refused is not None:
            return json_answer(refused, status=400)
        if session.allowance is not None and session.allowance.facts.wait_s(self._live.clock.now()) > 0:
            return problem("too_fast", "found more facts than a link may send, expected fewer: wait", status=429)
        return await self._send(session, orjson.dumps({"type": "facts", "facts": asked.facts}))

    def _hello(self, asked: MachineBatch, key: str) -> bytes:
        lane, floor = self._live.crew.links.lane_and_floor(key)
        named = ({} if lane is None else {"lane": lane}) | ({"floor": floor} if floor else {})
        return orjson.dumps({"type": "hello", "role": MACHINE, "key": key, "sender": asked.sender, **named})

    async def _send(self, session: Session, text: bytes) -> Response:
        await self._live.recorder.ready()
        effects = session.receive(text, now=self._live.clock.now())
        answers = [await self._kept(session, effect.batch) for effect in effects if isinstance(effect, Keep)]
        refused = _problem(effects)
        if refused is not None:
            return json_answer(refused, status=400 if "code" in refused and "expected" not in refused else 409)
        if session.sender is not None and session.link is not None:
            self._live.crew.links.used(session.link, session.sender.name)
        return Response(answers[0], media_type="application/json")

    async def _kept(self, session: Session, batch: Batch) -> bytes:
        """Wait until a batch is on disk and give its answer."""
        done: asyncio.Future[bytes] = asyncio.get_running_loop().create_future()

        def answer(_snapshot: Snapshot) -> None:
            if not done.done():
                done.set_result(session.acknowledge(batch, tally=None))

        self._live.recorder.keep(Job(batch.entries, answer, self._live.clock.now()))
        return await done


def _problem(effects: Sequence[Effect]) -> dict[str, Any] | None:
    """Give what a session said that is no welcome: an error, or where facts are missing."""
    for effect in effects:
        said = orjson.loads(effect.payload) if isinstance(effect, Say) else {"type": "welcome"}
        if said["type"] == "gap":
            message = f"found sequence {said['found']}, expected {said['expected']}: send again from there"
            return {"code": "sequence_gap", "message": message, "expected": said["expected"], "found": said["found"]}
        if said["type"] == "error":
            return {name: value for name, value in said.items() if name != "type"}
    return None
