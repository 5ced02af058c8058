"""At once: two floors, a writer, an edge, cues in several languages, corrections, helper processes that are killed."""

from __future__ import annotations

import json
import os
import signal
import time
from contextlib import ExitStack, closing, suppress
from pathlib import Path
from random import Random
from typing import Any

import pytest
from websockets.sync.client import connect

from e2e.edges import asked, edge
from e2e.processes import Served, served
from e2e.test_full_disk import Pad, Small
from e2e.test_helper import children
from e2e.test_take_over import until
from shell.redis_servers import redis_server
from tallywire.wire.merge_patch import apply

pytestmark = pytest.mark.slow

FLOORS = ("east", "west")
LANES = (1, 2, 3)
TAPS = 90
VIEWS = ("heat", "gaps", "result", "event", "results", "next", "standings", "call")
SAID_WHEN = frozenset({"at_ms", "until_ms"})
"""A cue says when its server noticed: two servers look at different moments."""

_EVENT = """
[competition]
name = "Pruebas del Muelle"
language = "es"

[[division]]
id = "open"
name = "Open"

[[points]]
id = "table"
places = [60, 50, 40, 30, 20, 10]

[[event]]
id = "long"
name = "Long Count"

[event.workout]
format = "for_time"
time_cap = "10:00"

[[event.workout.station]]
movement = "Step-over"
amount = 60
touch_guard_ms = 0
"""


def competition(folder: Path) -> Path:
    """Write a competition of one event whose two heats run on two floors at the same time."""
    text = _EVENT
    for floor in FLOORS:
        on = {lane: f"{floor}-{lane}" for lane in LANES}
        text += f'[[floor]]\nid = "{floor}"\nname = "{floor.title()} hall"\n'
        for entry in on.values():
            text += f'[[entry]]\nid = "{entry}"\nname = "Entry {entry}"\ndivision = "open"\n'
        lanes = ", ".join(f'{lane} = "{entry}"' for lane, entry in on.items())
        text += f'[[heat]]\nid = "{floor}1"\nname = "Heat"\nevent = "long"\nfloor = "{floor}"\nlanes = {{ {lanes} }}\n'
    path = folder / "quay.toml"
    path.write_text(text, encoding="utf-8")
    return path


class Crew:
    """The table and a pad a lane, each at a server of its own choice."""

    def __init__(self, writer: Served, ports: tuple[int, int], random: Random, stack: ExitStack) -> None:
        self._random, self._said = random, list[tuple[str, str]]()
        self._zero_ms = time.time_ns() // 1_000_000

        def opened(name: str, page: str, **who: Any) -> Pad:
            server = Small(writer.process, random.choice(ports), {}, Path())
            return stack.enter_context(closing(Pad(server, name, writer.key(page), **who)))

        self.table = opened("table-a", "scoring table", role="table")
        for floor in FLOORS:
            self._send(self.table, floor, fact="heat_started", unix_ms=self._zero_ms, at_ms=0)
        self._pads = {
            (floor, lane): opened(
                f"lane-{lane}-{floor}-a", f"lane pad {lane}, {floor.title()} hall", role="lane", lane=lane, floor=floor
            )
            for floor in FLOORS
            for lane in LANES
        }

    def act(self) -> None:
        """Do what comes next: most often a tap, now and then what the table takes back or sets right."""
        (floor, lane), pad = self._random.choice(list(self._pads.items()))
        what = self._random.random()
        if what < 0.85 or not self._said:
            count = self._random.choice((1, 1, 2, 5))
            self._send(pad, floor, fact="rep_counted", lane=lane, n=count)
            self._said.append((floor, f"{pad.name}.{pad.sent}"))
        elif what < 0.95:
            where, voided = self._said.pop(self._random.randrange(len(self._said)))
            self._send(self.table, where, fact="fact_voided", voids=voided, reason="double touch")
        else:
            reps = self._random.randrange(60)
            self._send(self.table, floor, fact="count_corrected", lane=lane, scored_reps=reps, reason="recount")

    def end(self) -> None:
        """End both heats."""
        for floor in FLOORS:
            self._send(self.table, floor, fact="heat_ended")

    def _send(self, pad: Pad, floor: str, **fields: Any) -> None:
        at_ms = time.time_ns() // 1_000_000 - self._zero_ms
        pad.send(1, **{"heat": f"{floor}1", "at_ms": at_ms, **fields})
        pad.hear("acknowledged", lambda said: said["watermark"] >= pad.sent)


class Listener:
    """Watches the call of a floor in a language at one of the servers."""

    def __init__(self, port: int, floor: str, language: str, stack: ExitStack) -> None:
        self._port, self._floor, self._frame = port, floor, dict[str, Any]()
        self._socket = stack.enter_context(connect(f"ws://127.0.0.1:{port}/wire", compression=None, max_size=None))
        self._socket.send(json.dumps({"type": "watch", "view": "call", "heat": f"floor:{floor}", "language": language}))

    @property
    def lines(self) -> list[str]:
        """What it was told last."""
        return [cue["line"] for cue in self._frame["cues"]]

    def is_told_all(self) -> bool:
        """Take what has come, and tell whether it has the cues that its server has now."""
        with suppress(TimeoutError):
            while True:
                message = json.loads(self._socket.recv(timeout=0.2))
                whole = message["type"] == "snapshot"
                self._frame = message["frame"] if whole else apply(self._frame, message["patch"])
        now = shown(self._port, "call", self._floor)["cues"]
        return [cue["key"] for cue in self._frame["cues"]] == [cue["key"] for cue in now]


def shown(port: int, view: str, floor: str) -> dict[str, Any]:
    """Give a view of a floor, without what depends on the moment at which it was made."""
    frame: dict[str, Any] = asked(port, f"/snapshot/{view}?heat=floor:{floor}")["frame"]
    frame["cues"] = [{k: v for k, v in cue.items() if k not in SAID_WHEN} for cue in frame.get("cues", ())]
    return {name: value for name, value in frame.items() if name not in ("old_ms", "behind_ms")}


def test_an_edge_says_of_every_floor_what_the_writer_says(tmp_path: Path, request: pytest.FixtureRequest) -> None:
    """Taps, voids and corrections on two floors at once, at both servers, whose helper processes are killed twice: in
    the end each view of each floor is the same at both, and each watcher has heard the call in its own language.
    """
    times, seed = 20 if request.config.getoption("--long") else 1, Random().randrange(10**6)
    print(f"seeds {seed} to {seed + times - 1}")
    for number in range(seed, seed + times):
        folder = tmp_path / str(number)
        folder.mkdir()
        check(folder, Random(number))


def check(folder: Path, random: Random) -> None:
    """Play both heats, and compare what the two servers show."""
    with redis_server(folder / "redis") as redis, ExitStack() as stack:
        arguments = ("--data", str(folder / "data"), "--port", "0", "--redis", redis.url)
        writer = stack.enter_context(served("serve", str(competition(folder)), *arguments))
        at_edge = stack.enter_context(edge(redis.port))
        ports = (writer.port, at_edge.port)
        crew = Crew(writer, ports, random, stack)
        heard = {
            language: Listener(ports[at], floor, language, stack)
            for at, floor, language in ((1, "east", "ja"), (1, "west", "ar"), (0, "east", "es"), (0, "west", "fr"))
        }
        killed = 0
        for number in range(TAPS):
            crew.act()
            if number in (TAPS // 3, 2 * TAPS // 3):
                for pid in [*children(writer.process.pid), *children(at_edge.process.pid)]:
                    os.kill(pid, signal.SIGKILL)
                    killed += 1
        crew.end()
        for view in VIEWS:
            for floor in FLOORS:
                until(
                    lambda: shown(ports[0], view, floor) == shown(ports[1], view, floor),  # noqa: B023
                    lambda: f"{view} of {floor}",  # noqa: B023
                )
        assert killed
        for language, listener in heard.items():
            until(listener.is_told_all, lambda: language)  # noqa: B023
        said = {tuple(listener.lines) for listener in heard.values()}
        assert len(said - {()}) == len(heard), "each in its own words"
