"""How the server runs: for a monitor, for what stands in front of it, and for the person who runs it."""

from __future__ import annotations

import shutil
import sys
from contextlib import suppress
from dataclasses import asdict
from importlib.metadata import version
from pathlib import Path

from starlette.requests import Request
from starlette.responses import Response

from tallywire.shell.ailments import ailments, may_take, old_views, sentence
from tallywire.shell.inside import Inside, inside, inside_data
from tallywire.shell.live import LiveCompetition
from tallywire.web.answers import json_answer
from tallywire.web.http_routes import manages, role_name, unauthorised
from tallywire.wire.session import VIEWER


class InsideRoute:
    """The endpoints about the server itself. `data` is its data folder."""

    def __init__(self, live: LiveCompetition, data: Path) -> None:
        self._live = live
        self._data = data

    async def ready(self, _request: Request) -> Response:
        """Say whether facts are taken and shown now: 200, or 503 with the reason, for a proxy that chooses a server.

        A call that is old is said, and is no reason to choose another one.
        """
        now = self._now()
        why = may_take(now)
        message = why or " ".join(map(sentence, old_views(now)))
        return json_answer({"ready": not why, **({"message": message} if message else {})}, status=503 if why else 200)

    async def figures(self, request: Request) -> Response:
        """Give the server's figures, and what is wrong in words, to whoever has the table's key."""
        if not manages(self._live, request):
            return unauthorised("found no key of the table")
        now = self._now()
        wrong = ailments(now)
        said = {"wrong": [sentence(each) for each in wrong], "wrong_reasons": [asdict(each) for each in wrong]}
        return json_answer({"version": version("tallywire"), **said, **inside_data(now)})

    async def metrics(self, request: Request) -> Response:
        """Give the metrics in the Prometheus text format to whoever has a key: a display's is enough for a monitor."""
        if role_name(self._live, request) == VIEWER:
            return unauthorised("found no key of the crew")
        from tallywire.web.metrics import exposition

        text, media = exposition(self._now())
        return Response(text, media_type=media)

    def _now(self) -> Inside:
        return inside(self._live, disk_free=_disk_free(self._data), memory=_memory)


def _disk_free(folder: Path) -> int | None:
    with suppress(OSError):
        return shutil.disk_usage(folder).free
    return None


def _memory(pid: int | None) -> int | None:
    """Give the bytes that a process has in memory, this one for None (proc(5), statm); None where that is not known."""
    if sys.platform != "linux":
        return None
    import resource

    with suppress(OSError):
        return int(Path(f"/proc/{pid or 'self'}/statm").read_text(encoding="ascii").split()[1]) * resource.getpagesize()
    return None
