"""The route that gives a judge a lane to practise on: no key, and nothing that is counted there comes back."""

from __future__ import annotations

import asyncio
from functools import cached_property
from typing import TYPE_CHECKING

from starlette.requests import Request
from starlette.responses import Response

from tallywire.core.fold.floor import FLOOR
from tallywire.core.model.competition import Heat
from tallywire.shell.live import LiveCompetition
from tallywire.web.answers import json_answer, problem
from tallywire.wire.problems import shown

if TYPE_CHECKING:
    from tallywire.shell.made_up import Practice

SEED_MOST = 999_999
_CACHE = {"Cache-Control": "no-cache"}


class PracticeRoute:
    """The endpoint of the practice page."""

    def __init__(self, live: LiveCompetition) -> None:
        self._live = live

    @cached_property
    def _practice(self) -> Practice:
        # A start does not wait for this import: it follows on a thread (`_make_ready` in serving.py).
        from tallywire.shell.made_up import Practice

        return Practice(self._live.competition)

    async def lane(self, request: Request) -> Response:
        """Give a made-up lane: its frame before the start, and what its athlete will do."""
        query = request.query_params
        heat = self._heat(query.get("heat", FLOOR))
        if heat is None:
            text = f"found heat {shown(query.get('heat', FLOOR))}, expected one of the competition with lanes"
            return problem("unknown_heat", text, status=404)
        lane, seed = query.get("lane", str(min(heat.lanes))), query.get("seed", "1")
        if lane not in {str(each) for each in heat.lanes}:
            lanes = ", ".join(str(each) for each in heat.lanes)
            return problem("unknown_lane", f"found lane {shown(lane)}, expected one of {lanes}", status=404)
        if not (seed.isascii() and seed.isdigit() and len(seed) <= len(str(SEED_MOST))):
            text = f"found seed {shown(seed)}, expected a whole number from 0 to {SEED_MOST}"
            return problem("bad_seed", text, status=400)
        made = await asyncio.to_thread(lambda: self._practice.lane(heat.id, int(lane), int(seed)))
        return json_answer(made, headers=_CACHE)

    def _heat(self, asked: str) -> Heat | None:
        """The heat that was asked for; of a floor whose heat has no lanes, the first that has."""
        heats = {heat.id: heat for heat in self._live.competition.heats.values() if heat.lanes}
        named = self._live.books.heat_of(asked)
        found = heats.get(named or "")
        return found if found or named == asked else next(iter(heats.values()), None)
