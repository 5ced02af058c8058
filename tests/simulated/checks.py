"""What must hold in every world after every step. Each invariant has its name, and a mutant that it catches."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

import orjson

from shell.stage import call_all
from simulated.network import Connection
from simulated.time import WorldClock
from tallywire.core.fold.snapshot import Snapshot
from tallywire.core.model.competition import Competition
from tallywire.shell.books import Books, Change
from tallywire.shell.clock import Timer
from tallywire.shell.helper.port import Asked, Tools
from tallywire.shell.helper.recipes import recipes
from tallywire.shell.journal.port import Line
from tallywire.shell.read_model import ReadModel
from tallywire.shell.worked_out import CALL, STANDINGS, WorkedOut
from tallywire.wire.merge_patch import apply
from tallywire.wire.short_frame import Shortener
from tallywire.wire.trusted_lines import trusted_fact

Item = dict[str, Any]
LOST, DOUBLED, ORDER, ALTERED, FRAMES, SILENT = "lost", "doubled", "order", "altered", "frames", "silent"
INVARIANTS = (LOST, DOUBLED, ORDER, ALTERED, FRAMES, SILENT)
"""No acknowledged fact lost; none doubled; each sender's order kept; nothing altered without a word; frames equal the
fold of the journal; at rest everything has arrived and no error was logged."""
WORKED_OUT = (CALL, STANDINGS)
"""Views that a worker makes beside the taps."""


def of_facts(frame: Any) -> Any:
    """Leave out of a frame what is no fold of facts: which pads are connected or waited for, and the cues of a call.

    Those depend on when the desk heard of a fact.
    """
    return {name: value for name, value in (frame or {}).items() if name not in ("pads", "waiting_for_pad", "cues")}


class _At:
    """The clock of a fold: it shows what it is set to."""

    def __init__(self) -> None:
        self.ms = 0

    def unix_ms(self) -> int:
        return self.ms

    def now(self) -> float:
        return 0.0

    def call_at(self, when: float, act: object) -> Timer:
        raise AssertionError(f"a fold asked to be called at {when}: {act}")


class Fold:
    """The fold of the journal's lines, made beside the server from the same lines and nothing else."""

    def __init__(self, competition: Competition) -> None:
        self._clock = _At()
        self._books = Books(competition, clock=self._clock)
        call_all(self._books)
        worked = {heat: WorkedOut() for heat in competition.heats}
        self._read = ReadModel(self._books, worked, mode="live")
        self._recipes = recipes(Tools(competition=competition))
        self.last = 0

    def add(self, lines: Sequence[Line]) -> None:
        """Take lines that follow."""
        for line in lines:
            self.last = line.number
            if line.refusal is None:
                self._books.add(trusted_fact(line.body), Change())

    def frame(self, view: str, heat: str, unix_ms: int) -> Any:
        """Give a frame as JSON has it on the wire, at a wall time."""
        self._clock.ms = unix_ms
        snapshot = self._books.snapshot()
        frame = self._worked_out(view, heat, snapshot) if view in self._recipes else None
        whole = frame or self._read.frame(view, heat, snapshot)
        return orjson.loads(orjson.dumps(Shortener().shorten(whole)))

    def _worked_out(self, view: str, heat: str, snapshot: Snapshot) -> Any:
        recipe = self._recipes[view]
        seen = recipe.see(snapshot, snapshot.heats[self._books.heat_of(heat)])
        made = recipe.work_out(seen, Asked(what=view, heat=heat)).frame
        return {"speed": 1, "mode": "live", **(made or {})}


class Checks:
    """What was sent and acknowledged, what the journal has, and everything found broken."""

    def __init__(self, competition: Competition, clock: WorldClock) -> None:
        self.broken: list[str] = []
        self.sent: dict[tuple[str, int], tuple[Item, bool]] = {}
        self.acknowledged: dict[str, int] = {}
        self.lines: list[Line] = []
        self.counts: dict[str, int] = {}
        self._competition = competition
        self._clock = clock
        self._ids: set[bytes] = set()
        self._next: dict[str, int] = {}
        self.fold = Fold(competition)
        self._made: dict[tuple[str, str, int], object] = {}

    def broke(self, invariant: str, what: str) -> None:
        """Note that an invariant does not hold."""
        self.broken.append(f"{invariant}: {what}")

    def count(self, what: str) -> None:
        """Count what happened in this world."""
        self.counts[what] = self.counts.get(what, 0) + 1

    def will_send(self, sender: str, sequence: int, item: Item, *, is_refused: bool) -> None:
        """Note what a device is about to send, and how it must stand in the journal."""
        self.sent[sender, sequence] = (item, is_refused)

    def committed(self, lines: Sequence[Line]) -> None:
        """Look at lines that have been committed since."""
        for line in lines:
            self._look(line)
            self.lines.append(line)

    def _look(self, line: Line) -> None:
        who = f"line {line.number}, {line.sender} {line.sequence}"
        if line.number != len(self.lines) + 1:
            self.broke(ORDER, f"{who} stands on place {len(self.lines) + 1}")
        if line.body in self._ids:
            self.broke(DOUBLED, f"{who} was there before")
        elif line.sequence != self._next.get(line.sender, 1):
            self.broke(ORDER, f"{who} came where {self._next.get(line.sender, 1)} was next")
        elif (orjson.loads(line.body), line.refusal is not None) != self.sent.get((line.sender, line.sequence)):
            self.broke(ALTERED, f"{who} is {line.body!r} {line.refusal!r}")
        self._ids.add(line.body)
        self._next[line.sender] = line.sequence + 1

    def restarted(self, lines: Sequence[Line]) -> None:
        """Look at what a start found."""
        promised = self.acknowledged
        must = max((line.number for line in self.lines if line.sequence <= promised.get(line.sender, 0)), default=0)
        if len(lines) < must:
            self.broke(LOST, f"{must} lines were acknowledged, {len(lines)} are there")
        if list(lines[: len(self.lines)]) != self.lines[: len(lines)]:
            self.broke(ALTERED, "a start found other lines than were committed")
        self.lines, self._ids, self._next = [], set(), {}
        self.fold, self._made = Fold(self._competition), {}
        self.committed(lines)

    def said(self, connection: Connection, payload: bytes) -> None:
        """Look at a message as it leaves the server."""
        message = orjson.loads(payload)
        self.count(message["type"])
        if message["type"] in ("welcome", "acknowledged") and "sender" in message:
            self._promised(message)
        elif message["type"] in ("snapshot", "patch"):
            self._shown(connection, message)

    def _promised(self, message: Item) -> None:
        sender, watermark = message["sender"], message["watermark"]
        if self._next.get(sender, 1) <= watermark:
            self.broke(LOST, f"{sender} {watermark} was acknowledged before it was in the journal")
        self.acknowledged[sender] = max(watermark, self.acknowledged.get(sender, 0))

    def _shown(self, connection: Connection, message: Item) -> None:
        view, heat, number = message["view"], message["heat"], message["number"]
        before, frame = connection.shown.get((view, heat), (number - 1, self._made.get((view, heat, number - 1))))
        if message["type"] == "patch" and number != before + 1:
            self.broke(FRAMES, f"frame {number} of {view} followed {before}")
        if message["type"] == "patch" and frame is None:
            # Of a page that comes back with a frame that it alone was sent.
            return
        frame = message["frame"] if message["type"] == "snapshot" else apply(frame, message["patch"])
        connection.shown[view, heat] = (number, frame)
        self.fold.add(self.lines[self.fold.last : self.answered])
        # What was made before, and is sent now to a page that comes late, was right when it was made.
        is_new = message["unix_ms"] == self._clock.unix_ms() and frame != self._made.get((view, heat, number))
        self._made[view, heat, number] = frame
        # What a worker makes beside the taps is the fold of a moment ago: it is looked at when all is at rest.
        if (
            is_new
            and view not in WORKED_OUT
            and of_facts(frame) != of_facts(self.fold.frame(view, heat, message["unix_ms"]))
        ):
            self.broke(FRAMES, f"frame {number} of {view} is not the fold of {self.fold.last} lines")

    answered = 0
    """How many lines the journal has answered: the server counts no others."""
