"""The servers that are compared, each in a process of its own: how they are watched, and how they are tapped."""

from __future__ import annotations

import shutil
import subprocess
import sys
import time
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import AbstractContextManager, contextmanager
from dataclasses import dataclass
from functools import cache, partial
from importlib.util import find_spec
from itertools import count
from pathlib import Path

from tallywire.core.errors import TallywireError
from tallywire.measure.long_heat import HEAT, sender_of
from tallywire.measure.machine import let_run_anywhere
from tallywire.measure.peers import PAD
from tallywire.measure.plug import Crowd, Plug, message
from tallywire.measure.served import ServedHeat, child, served_heat

LANES = 10
EIGHT = ("heat", "gaps", "result", "event", "next", "subjects", "table", "show")
"""Every view that is made from the books at once."""
WATCH = message(type="watch", view="heat")
_NODE = Path(__file__).with_name("node_ws.cjs")
_ROOM = "/socket.io/?EIO=4&transport=websocket"
"""Where a client of a room connects; `40` joins and `42` is an event, by its published protocol, version 5."""


@dataclass(frozen=True, slots=True)
class Way:
    """A server that runs: its process, where and how one watches, and what makes it send everybody one frame."""

    pid: int
    port: int
    path: str
    asks: Sequence[str]
    tap: Callable[[], None]
    attend: Callable[[], object] = lambda: None
    """Answers the pings of whoever taps."""


class FloorPads:
    """The pads of a heat that has begun, which tap in turn, and a table that watches what it is told to."""

    def __init__(self, server: ServedHeat, views: Sequence[str] = ()) -> None:
        self._port = server.port
        self._crowd = Crowd(self._answered)
        self._sent: dict[Plug, deque[float]] = {}
        self.waits_ms: list[float] = []
        """How long each tap has waited for its answer."""
        table = self._greeted(role="table", key=server.table_key, sender="table-m")
        self._pads = {
            lane: self._greeted(role="lane", lane=lane, key=key, sender=sender_of(lane))
            for lane, key in server.lane_keys.items()
        }
        self._crowd.settle()
        self._sent = {pad: deque() for pad in self._pads.values()}
        self._number = count()
        self._began = time.time()
        self._say(table, "heat_started", "table-m", 1, at_ms=0, unix_ms=round(self._began * 1000))
        for view in views:
            # Each by somebody else: what one connection costs is another question.
            watcher = self._greeted(role="table", key=server.table_key, sender=f"table-{view}")
            watcher.say(message(type="watch", view=view))
        self._crowd.settle()

    def attend(self) -> None:
        """Read what has come. Raises TallywireError when somebody was sent away."""
        self._crowd.settle(0)
        if self._crowd.lost:
            raise TallywireError(f"found {self._crowd.lost} pads cut off by the server, expected none")

    def tap(self) -> None:
        """Count a rep on the next lane, after reading what has come for the last ones."""
        self.attend()
        number = next(self._number)
        lane, sequence = number % len(self._pads) + 1, number // len(self._pads) + 1
        at_ms = round((time.time() - self._began) * 1000)
        self._sent[self._pads[lane]].append(time.perf_counter())
        self._say(self._pads[lane], "rep_counted", sender_of(lane), sequence, at_ms=at_ms, lane=lane)

    @property
    def texts(self) -> int:
        """How many texts pads and watchers have been sent: answers and frames."""
        return self._crowd.texts

    def attend_until(self, when: float) -> None:
        """Read what comes until a moment of the monotonic clock."""
        self._crowd.hear_until(when)

    def close(self) -> None:
        """Cut every connection."""
        self._crowd.close()

    def _answered(self, plug: Plug, texts: int) -> None:
        """A pad is sent nothing but an answer to each tap, in their order."""
        now, sent = time.perf_counter(), self._sent.get(plug)
        if sent is not None:
            self.waits_ms += [(now - sent.popleft()) * 1000 for _ in range(min(texts, len(sent)))]

    def _greeted(self, **hello: str | int) -> Plug:
        plug = Plug(self._port, "/wire")
        plug.shake()
        plug.say(message(type="hello", **hello))
        self._crowd.take_in(plug)
        return plug

    @staticmethod
    def _say(plug: Plug, fact: str, sender: str, sequence: int, **fields: int) -> None:
        stamp = {"fact": fact, "id": f"{sender}.{sequence}", "heat": HEAT, "sender": sender, "sequence": sequence}
        plug.say(message(type="facts", facts=[{**stamp, **fields}]))


@contextmanager
def our_floor(folder: Path, *, taps: int, views: Sequence[str]) -> Iterator[FloorPads]:
    """Run our server with a heat that has begun, of which others watch these views, and give its pads."""
    with served_heat(folder, lanes=LANES, taps=taps) as server:
        pads = FloorPads(server, views)
        # The call is worked out beside the server: on its core the one would wait for the other.
        let_run_anywhere(server.pid)
        try:
            yield pads
        finally:
            pads.close()


@contextmanager
def ours(folder: Path, *, taps: int, guests: int, views: Sequence[str] = ()) -> Iterator[Way]:
    """Run our server with a heat that has begun, of which others watch these views."""
    with served_heat(folder, lanes=LANES, taps=taps, guests=guests) as server:
        pads = FloorPads(server, views)
        try:
            yield Way(server.pid, server.port, "/wire", (WATCH,), pads.tap, pads.attend)
        finally:
            pads.close()


def transport(size: int, journal: Path | None = None) -> AbstractContextManager[Way]:
    """Run what writes a frame to each transport and does nothing else, or appends to a journal before."""
    return _peer(_python("transport", size, *([] if journal is None else [str(journal)])))


def others(size: int) -> dict[str, AbstractContextManager[Way]]:
    """Give the ways of other libraries, of those that are installed."""
    found: dict[str, AbstractContextManager[Way]] = {
        "websockets.broadcast": _peer(_python("broadcast", size)),
        "starlette, a loop": _peer(_python("loop", size)),
    }
    if find_spec("socketio") is not None:
        room = _python("room", size)
        found["a socket.io room"] = _peer(room, path=_ROOM, pad_path=_ROOM, asks=("40",), tap='42["tap"]')
    node = _node_with_ws()
    if node is not None:
        found["Node's ws"] = _peer([node, str(_NODE), str(size)])
    return found


@contextmanager
def bare_polls(size: int) -> Iterator[Way]:
    """Run an application that does nothing but hand out so many bytes, on the server that ours runs on."""
    with child(_python("polls", size)) as (pid, printed):
        yield Way(pid, int(printed.readline()), "/", (), lambda: None)


@contextmanager
def _peer(
    command: Sequence[str], *, path: str = "/watch", pad_path: str = PAD, asks: Sequence[str] = (), tap: str = "tap"
) -> Iterator[Way]:
    with child(command) as (pid, printed):
        line = printed.readline()
        if not line.strip():
            raise TallywireError(f"found that {' '.join(command[-2:])} ended before it listened: see its message above")
        pad = Plug(int(line), pad_path)
        try:
            pad.shake()
            for text in asks:
                pad.say(text)
            yield Way(pid, int(line), path, asks, partial(pad.say, tap))
        finally:
            pad.socket.close()


def _python(name: str, size: int, *more: str) -> list[str]:
    return [sys.executable, "-m", "tallywire.measure.peers", name, str(size), *more]


@cache
def _node_with_ws() -> str | None:
    """Give Node where it finds `ws`: in a folder above this one, or in one of NODE_PATH."""
    node = shutil.which("node")
    if node is None:
        return None
    asked = subprocess.run([node, "-e", "require('ws')"], capture_output=True, check=False, cwd=_NODE.parent)  # noqa: S603
    return node if asked.returncode == 0 else None
