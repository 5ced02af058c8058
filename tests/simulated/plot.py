"""What happens in a world: who taps when, and what goes wrong when."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from functools import partial
from typing import TYPE_CHECKING, Any

from core.samples import HEAT, competition, workout
from simulated.checks import FRAMES, LOST, SILENT, WORKED_OUT, of_facts
from simulated.devices import Around, Page, Sender
from simulated.time import START_UNIX_MS
from tallywire.core.model.competition import Competition
from tallywire.core.model.workout import Credit, Station

if TYPE_CHECKING:
    from simulated.world import World

VIEWS = ("heat", "table", "result", "event", "next", "show")
"""Views that are made of a snapshot alone."""
CAP_MS = 6_000
SMALLEST, MOST_FACTS = 1, 9
SMALL_SHARE = 0.85
IOERR_WRITE, IOERR_SYNC, FULL = 778, 1034, 13
"""SQLite's result codes for what a disk may answer."""


def practice() -> Competition:
    """Two heats of two lanes, few reps, and a cap that comes while the world still runs."""
    stations = (Station(movement="haul", amount=3), Station(movement="touch", amount=5, credit=Credit.BLOCK))
    base = competition(workout(rounds=(stations,) * 2, cap_ms=CAP_MS), lanes=2)
    return replace(base, heats={**base.heats, "h2": replace(base.heats[HEAT], id="h2", name="Heat 2")})


class Plot:
    """Sets everything up on the world's clock, by its dice."""

    def __init__(self, world: World, around: Around) -> None:
        self.world = world
        self.dice = world.dice
        self._was_set_back = False
        # Most worlds are small: what goes wrong needs few facts and one fault, and so more worlds are seen.
        is_small = self.dice.random() < SMALL_SHARE
        facts, faults = (MOST_FACTS // 2, 3) if is_small else (MOST_FACTS, 5)
        self.end_s = 3.0 if is_small else self.dice.choice((3.0, 6.0, 12.0))
        self.senders = [Sender(name, around) for name in ("table-a", "lane-1-a", "lane-2-b")]
        self.pages = [Page(self.dice.sample(VIEWS, number), around) for number in ((2,) if is_small else (1, 2))]
        if world.is_worked_out:
            world.checks.count("worked out")
            self.pages.append(Page(WORKED_OUT, around))
        world.clock.after(0.05, self._start)
        for sender in self.senders:
            for _ in range(self.dice.randrange(SMALLEST, facts)):
                self._some_time(partial(self._add_some, sender))
        for _ in range(self.dice.randrange(1, faults)):
            self._some_time(self.dice.choice(self._faults()))

    def _some_time(self, act: Callable[[], None]) -> None:
        self.world.clock.after(self.dice.random() * self.end_s, act)

    def _start(self) -> None:
        self._add(self.senders[0], {"fact": "heat_started", "unix_ms": self.world.clock.unix_ms(), "at_ms": 0})

    def _add_some(self, sender: Sender) -> None:
        self._add(sender, self._kind(sender))

    def _kind(self, sender: Sender) -> dict[str, Any]:
        lane = int(sender.name[5]) if sender.name.startswith("lane") else self.dice.choice((1, 2))
        return self.dice.choice(_TABLE if sender.name == "table-a" else _PAD) | {"lane": lane}

    def _add(self, sender: Sender, fields: dict[str, Any]) -> None:
        """Have a sender note a fact, and say how it must stand in the journal."""
        sequence = len(sender.items) + 1
        heat = self.dice.choice((HEAT, HEAT, HEAT, "h2"))
        at_ms = max(0, self.world.clock.unix_ms() - START_UNIX_MS)
        item = {"fact": "rep_counted", "id": f"{sender.name}.{sequence}", "heat": heat, "at_ms": at_ms}
        item |= {"sender": sender.name, "sequence": sequence, **fields}
        if item["fact"] in ("heat_started", "heat_ended", "fact_voided"):
            item.pop("lane", None)
        if item["fact"] == "fact_voided":
            item["voids"] = f"lane-{self.dice.choice(('1-a', '2-b'))}.{self.dice.randrange(1, 9)}"
        is_refused = bool(item.pop("refused", False))
        self.world.checks.will_send(sender.name, sequence, item, is_refused=is_refused)
        sender.add(item)

    def _faults(self) -> list[Callable[[], None]]:
        world = self.world
        return [
            self._then_boot(world.kill),
            self._then_boot(world.power_cut),
            self._then_boot(world.power_cut),
            self._then_boot(world.stop),
            self._then_boot(world.flip),
            self._break_disk,
            self._break_connection,
            self._set_clock,
            self._leave_connection,
        ]

    def _then_boot(self, end: Callable[[], None]) -> Callable[[], None]:
        def act() -> None:
            end()
            self.world.clock.after(self.dice.choice((0.1, 0.7, 2.0)), self.world.boot)

        return act

    def _break_disk(self) -> None:
        """Let the disk fail now and then, until the server has ended and starts again on a whole one."""
        kind, code = self.dice.choice((("write", IOERR_WRITE), ("sync", IOERR_SYNC), ("write", FULL)))
        left = self.dice.randrange(6)

        def fault(asked: str, path: str) -> int:
            nonlocal left
            left -= asked == kind and path.endswith("-wal")
            return code if left < 0 and asked == kind and path.endswith("-wal") else 0

        self.world.checks.count("disk full" if code == FULL else "disk broken")
        self.world.layer.fault, self.world.disk_fault = fault, "full" if code == FULL else "broken"
        self.world.clock.after(1.5, self._mend)

    def _mend(self) -> None:
        self.world.mend_disk()
        self.world.clock.after(0.1, self.world.boot)

    def _break_connection(self) -> None:
        server = self.world.server
        connections = [each for each in server.connections if each.is_open] if server is not None else []
        if connections:
            self.world.checks.count("connection broken")
            self.dice.choice(connections).close()

    def _leave_connection(self) -> None:
        """Let a sender turn to a new connection while the old one still brings what is under way."""
        self.world.checks.count("connection left")
        self.dice.choice(self.senders).connect()

    def _set_clock(self) -> None:
        self.world.checks.count("clock set")
        step_ms = self.dice.choice((-3_600_000, -2_000, -40, 40, 2_000, 3_600_000))
        self._was_set_back = self._was_set_back or step_ms < 0
        self.world.clock.set_by(step_ms)

    def look_at_rest(self) -> None:
        """When all is quiet everything sent is in the journal and acknowledged, and pages show its fold."""
        checks, server = self.world.checks, self.world.server
        if checks.broken or server is None:
            return
        there = {(line.sender, line.sequence) for line in checks.lines}
        if missing := sorted(set(checks.sent) - there):
            checks.broke(LOST, f"{missing} never came into the journal")
        for sender in self.senders:
            if sender.watermark != len(sender.items):
                checks.broke(SILENT, f"{sender.name} knows of {sender.watermark} of {len(sender.items)}")
        if server.mirror is not None and not server.mirror.is_whole():
            checks.broke(LOST, "the mirror has other lines than the journal, at rest")
        if server.live.storage.now.state == "held":
            checks.broke(SILENT, "the journal is held on a disk that has room")
        checks.fold.add(checks.lines[checks.fold.last :])
        for page in self.pages:
            self._look_at_page(page)

    def _look_at_page(self, page: Page) -> None:
        checks = self.world.checks
        for fault in page.faults:
            checks.broke(FRAMES, fault)
        for view in page.views:
            times = [self.world.clock.unix_ms()]
            if self._was_set_back:
                # A heat that its cap had ended runs again by a clock set back: pages hear of it with the next fact.
                times.append(page.made_unix_ms.get(view, 0))
            if view in WORKED_OUT:
                times.append(page.made_unix_ms.get(view, 0))
            shown = of_facts(page.frames.get(view))
            if all(shown != of_facts(checks.fold.frame(view, "floor", unix_ms)) for unix_ms in times):
                checks.broke(FRAMES, f"a page shows another {view} than the fold, at rest")


_REFUSED = {"refused": True}
_PAD: tuple[dict[str, Any], ...] = (
    *({"fact": "rep_counted"},) * 6,
    {"fact": "rep_counted", "n": 2},
    {"fact": "block_completed"},
    {"fact": "no_rep_called", "reason": "depth"},
    {"fact": "fact_voided", "refused": True},
    {"fact": "withdrawn"},
    {"fact": "rep_counted", "heat": "nowhere", **_REFUSED},
    {"fact": "rep_counted", "n": 0, **_REFUSED},
    {"fact": "heat_ended", **_REFUSED},
    {"fact": "count_corrected", "scored_reps": 3, "reason": "sheet", **_REFUSED},
)
_TABLE: tuple[dict[str, Any], ...] = (
    {"fact": "count_corrected", "scored_reps": 2, "reason": "sheet"},
    {"fact": "count_corrected", "scored_reps": -1, "reason": "sheet", **_REFUSED},
    {"fact": "fact_voided"},
    {"fact": "hold_placed"},
    {"fact": "hold_released"},
    {"fact": "penalty_given", "reason": "lane", "reps": 1},
    {"fact": "no_rep_called", "reason": "depth"},
    {"fact": "heat_ended"},
)
