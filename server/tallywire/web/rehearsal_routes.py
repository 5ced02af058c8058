"""The routes by which the table and the graphics desk steer a rehearsal."""

from __future__ import annotations

from typing import TYPE_CHECKING

from starlette.requests import Request
from starlette.responses import Response

from tallywire.core.errors import BadMessage
from tallywire.shell.live import LiveCompetition
from tallywire.web.answers import json_answer, problem
from tallywire.web.bodies import read_body
from tallywire.web.http_routes import role_name, unauthorised
from tallywire.wire.catalogue import known_language
from tallywire.wire.steering import Steer

if TYPE_CHECKING:
    from tallywire.shell.steering import Steering

_MAY = ("table", "desk", "owner")


class RehearsalRoutes:
    """The endpoint /rehearsal; on a live server there is none."""

    def __init__(self, live: LiveCompetition, steering: Steering | None) -> None:
        self._live = live
        self._steering = steering

    async def told(self, request: Request) -> Response:
        """Say where the rehearsal is and what one can go to."""
        if not self._may(request):
            return _foreign()
        return _none() if self._steering is None else json_answer(self._steering.state(_language(request)))

    async def steer(self, request: Request) -> Response:
        """Do what is asked for, and say where the rehearsal is then."""
        if not self._may(request):
            return _foreign()
        if self._steering is None:
            return _none()
        try:
            self._steering.steer(await read_body(request, Steer))
        except BadMessage as exc:
            return json_answer(exc.as_data(), status=400)
        return json_answer({**self._steering.state(_language(request)), "said": self._steering.said()})

    def _may(self, request: Request) -> bool:
        return role_name(self._live, request) in _MAY


def _language(request: Request) -> str:
    """Give the language of the moments; empty, which is the competition's, where it is none of ours."""
    return known_language(request.query_params.get("lang"), "")


def _none() -> Response:
    return problem("no_rehearsal", "found a live server, expected a rehearsal to steer", status=404)


def _foreign() -> Response:
    return unauthorised("found no key of the table or of the graphics desk")
