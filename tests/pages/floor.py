"""A real server with a heat for every test, for the pages that send."""

from __future__ import annotations

import json
import urllib.request
from collections import defaultdict
from collections.abc import Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from itertools import count
from pathlib import Path
from time import time_ns
from typing import Any

from playwright.sync_api import Browser, BrowserContext, FloatRect, Locator, Page, expect

from e2e.processes import Served, served
from e2e.sender import Sender
from pages.reuse import device
from wire.reader import whole

HEATS = 30

# Pages, server and browser share what is often two busy cores.
expect.set_options(timeout=15_000)

_HEAD = """
[competition]
name = "Practice Trials"

[[division]]
id = "open"
name = "Open"

[[points]]
id = "table"
places = [100, 90, 80]

[[entry]]
id = "a"
name = "Asta Norwood"
division = "open"

[[entry]]
id = "b"
name = "Bo Ellingsen"
division = "open"

[[entry]]
id = "c"
name = "Wilhelmina Christodoulopoulou-Øster"
division = "open"
"""

_EVENT = """
[[event]]
id = "{id}"
name = "{name}"

[event.workout]
format = "for_time"
rounds = 2
time_cap = "60:00"
"""

_HEAT = """
[[heat]]
id = "{id}"
name = "Heat {id}"
event = "{event}"
lanes = {{ 1 = "a", 2 = "b", 3 = "c" }}
"""

_STATIONS = {
    # A round is worth 1 + 1 + 3 = 5, the whole work 10. No guard: a browser taps faster than a hand.
    "short": [
        ("Sled haul", 1, "reps", "unit", 0),
        ("Shuttle touch", 6, "reps", "block", 0),
        ("Swing", 3, "reps", "unit", 0),
    ],
    "plain": [("Sandbag over shoulder", 10, "reps", "unit", 0)],
    "guarded": [("Sandbag over shoulder", 10, "reps", "unit", 5_000)],
    "rowed": [("Row", 20, "calories", "unit", 0), ("Swing", 3, "reps", "unit", 0)],
}

_OWN = {
    "lift": (
        'format = "max_load"\ntime_cap = "60:00"\n[event.workout.lifting]\n'
        "bar = 20\nplates = [10, 2.5, 1]\nattempts = 2\n",
        ("Snatch", 2),
    ),
    "relay": ('format = "amrap"\ntime_cap = "60:00"\n[event.workout.team]\nform = "relay"\nmembers = 2\n', ("Sled", 4)),
    "synchro": (
        'format = "for_time"\ntime_cap = "60:00"\n[event.workout.team]\nform = "synchro"\nmembers = 2\n',
        ("Squat", 9),
    ),
    "ladder": ('format = "ladder"\ntime_cap = "60:00"\n[event.workout.ladder]\nwindow = "1:00"\n', ("Deadlift", 2)),
    "pieces": (
        'format = "intervals"\ntime_cap = "60:00"\n'
        '[event.workout.intervals]\npieces = 2\nwork = "1:00"\nrest = "20:00"\n',
        ("Jump", 5),
    ),
}
"""Formats with rules of their own: their part of the workout, and the one station."""
OWN_HEATS = 6


@dataclass(slots=True)
class Heat:
    """One heat of the running server, with the table's hand on it."""

    id: str
    table: Sender
    server: Served

    def start(self) -> None:
        """Start it now."""
        self.table.say("heat_started", heat=self.id, unix_ms=_unix_ms())

    def say(self, kind: str, **fields: Any) -> None:
        """Send a fact as the table."""
        self.table.say(kind, heat=self.id, **fields)

    def facts(self, kind: str | None = None) -> list[dict[str, Any]]:
        """The facts about this heat that the journal holds, in the order they came."""
        key = {"Authorization": f"Bearer {self.server.key('scoring table')}"}
        request = urllib.request.Request(f"{self.server.base}/recording", headers=key)
        with urllib.request.urlopen(request) as answer:
            lines = [json.loads(line) for line in answer.read().splitlines()]
        return [each for each in lines if each.get("heat") == self.id and kind in (None, each["fact"])]

    def frame(self) -> dict[str, Any]:
        """The newest frame, made whole."""
        with urllib.request.urlopen(f"{self.server.base}/snapshot/heat?heat={self.id}") as answer:
            return whole(json.load(answer)["frame"])

    def lane(self, number: int = 1) -> dict[str, Any]:
        """The lane in the newest frame."""
        lane: dict[str, Any] = self.frame()["lanes"][str(number)]
        return lane

    def pad_link(self, lane: int = 1) -> str:
        """The address of a lane's pad that stays with this heat."""
        return self.server.links[f"lane pad {lane}"].replace("#", f"&heat={self.id}#")

    def table_link(self) -> str:
        """The address of the table for this heat."""
        return self.server.links["scoring table"].replace("#", f"?heat={self.id}#")


@dataclass(slots=True)
class Floor:
    """A running server that hands out heats nobody has touched."""

    server: Served
    table: Sender
    _numbers: defaultdict[str, Iterator[int]] = field(default_factory=lambda: defaultdict(lambda: count(1)))

    def heat(self, kind: str = "short") -> Heat:
        """Give the next heat of a kind."""
        return Heat(f"{kind}-{next(self._numbers[kind])}", self.table, self.server)


@contextmanager
def open_floor(folder: Path, *, own_rules: bool = False) -> Iterator[Floor]:
    """Start a server, for plain counting or for the formats with rules of their own, and stop it in the end."""
    path = folder / "floor.toml"
    path.write_text(_own_competition() if own_rules else _competition(), encoding="utf-8")
    with served("serve", str(path), "--data", str(folder / "data"), "--port", "0") as server:
        table = Sender(server.port, "table-test", server.key("scoring table"))
        yield Floor(server, table)
        table.close()


def phone(browser: Browser, *, keeps: bool = False) -> BrowserContext:
    """A phone of its own: its storage is not shared with others."""
    return device(browser, size=(390, 844), touch=True, keeps=keeps)


def open_pad(context: BrowserContext, link: str, *, width: int = 390, height: int = 844) -> Page:
    """Open a pad on a screen of a size and wait until the table's number is on it."""
    page = context.new_page()
    page.set_viewport_size({"width": width, "height": height})
    page.goto(link)
    expect(part(page, "proof")).to_contain_text("table")
    return page


def part(page: Page | Locator, name: str) -> Locator:
    """A part of a page."""
    return page.locator(f"[data-part={name}]")


def box_of(page: Page, name: str) -> FloatRect:
    """Where a part is on the screen."""
    return box_around(part(page, name))


def box_around(found: Locator) -> FloatRect:
    """Where what was found is on the screen."""
    box = found.bounding_box()
    assert box is not None
    return box


def press(page: Page, name: str) -> None:
    """Put the finger down in the middle of a part, and leave it there."""
    box = box_of(page, name)
    page.mouse.move(box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.down()


def _unix_ms() -> int:
    return time_ns() // 1_000_000


def _competition() -> str:
    counts = {kind: 1 if kind == "plain" else HEATS for kind in _STATIONS}
    events = [(f"{kind}-{number}", kind) for kind, count in counts.items() for number in range(1, count + 1)]
    parts = [_HEAD]
    for event, kind in events:
        parts.append(_EVENT.format(id=event, name=kind.title()))
        parts += [_station(*each) for each in _STATIONS[kind]]
    return "".join([*parts, *(_HEAT.format(id=event, event=event) for event, _ in events)])


def _own_competition() -> str:
    events = [(f"{kind}-{number}", kind) for kind in _OWN for number in range(1, OWN_HEATS + 1)]
    parts = [_HEAD]
    for event, kind in events:
        parts.append(f'\n[[event]]\nid = "{event}"\nname = "{kind.title()}"\n\n[event.workout]\n{_OWN[kind][0]}')
        parts.append(_station(*_OWN[kind][1], "reps", "unit", 0))
    return "".join([*parts, *(_HEAT.format(id=event, event=event) for event, _ in events)])


def _station(movement: str, amount: int, unit: str, credit: str, guard_ms: int) -> str:
    return (
        f'\n[[event.workout.station]]\nmovement = "{movement}"\namount = {amount}\nunit = "{unit}"\n'
        f'credit = "{credit}"\ntouch_guard_ms = {guard_ms}\n'
    )
