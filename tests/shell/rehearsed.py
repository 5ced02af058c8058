"""Recorded heats played live and in rehearsal: what somebody who watches is shown, at moments that can be compared."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from pathlib import Path
from typing import Any

from shell.stage import START_UNIX_MS, FakeTransport, joined, journalled, recording, sent_now
from shell.test_call_view import InlineWorker
from tallywire.core.cues import CueDesk
from tallywire.core.facts import Fact
from tallywire.core.model.competition import Competition, FloorLane
from tallywire.core.rehearsal.placing import Placed, place
from tallywire.shell.background import LEAST_S, STEP_S
from tallywire.shell.clock import FakeClock
from tallywire.shell.cue_search import CueSearch
from tallywire.shell.files import load_competition, load_recording
from tallywire.shell.helper.port import Asked, Tools
from tallywire.shell.helper.recipes import recipes
from tallywire.shell.journal.memory import MemoryJournal
from tallywire.shell.keys import Keys
from tallywire.shell.links import Links
from tallywire.shell.live import LiveCompetition, RunOptions
from tallywire.shell.playback import Playback, Script
from tallywire.shell.reel import Reel
from tallywire.shell.worked_out import CALL, STANDINGS
from tallywire.web.client import Client
from tallywire.wire.short_frame import Shortener
from wire.talk import facts, hello, text

SCENARIOS = Path(__file__).parents[2] / "scenarios"
VIEWS = ("heat", "gaps", "result", "event", "next", "subjects", "table", "show")
"""Every view that is made from the books at once."""
WORKED = (CALL, STANDINGS)
"""The views that are worked out beside, when there is time for it: they are compared where the rehearsal stands still.
"""
_OF_THE_RUN = frozenset({"speed", "jumps", "mode", "pads", "waiting_for_pad"})
_WALL = frozenset({"started_unix_ms", "unix_ms"})


class NoSearch(CueSearch):
    """Looks for no cues."""

    def begin(self, heats: Sequence[str], facts: Sequence[Fact]) -> None:
        """Do nothing."""


def recorded(*names: str) -> tuple[Competition, list[Placed]]:
    """The competition of shipped recordings, and their facts as they are told one after the other."""
    paths = [SCENARIOS / f"{name}.ndjson" for name in names]
    work = load_competition(SCENARIOS / f"{names[0].partition('-')[0]}.toml")
    return work, place(work, [load_recording(path) for path in paths], begin_ms=START_UNIX_MS)


class Rehearsed:
    """A rehearsal with a clock that stands until it is told to jump, and somebody who watches every view."""

    def __init__(self, work: Competition, placed: Sequence[Placed], views: Sequence[str] = VIEWS) -> None:
        self.clock = FakeClock(unix_ms=START_UNIX_MS)
        self.reel = Reel(placed, kept=MemoryJournal())
        self.live = live_of(work, self.clock, self.reel)
        cues = NoSearch(work, InlineWorker())
        self.playback = Playback(self.live, self.reel, Script(placed=placed, begin_ms=START_UNIX_MS), cues=cues)
        self.playback.begin(1)
        self.views = views
        self.watcher, self.transport = watching(self.live, views)

    def shown(self) -> dict[str, Any]:
        """What the watcher sees now."""
        return self.shown_to(self.transport)

    def shown_to(self, transport: FakeTransport) -> dict[str, Any]:
        """What somebody sees now who watches the same views."""
        unix_ms = self.clock.unix_ms()
        return {view: _plain(transport.shown(view), unix_ms) for view in self.views}

    def worked_out(self) -> dict[str, Any]:
        """What the helper has made for a newcomer of the moment at which the rehearsal stands, once it is there."""
        _, transport = watching(self.live, WORKED)
        self.clock.jump(STEP_S)
        found = {view: _plain(transport.shown(view), self.clock.unix_ms()) for view in WORKED}
        transport.close()
        return found

    def worked_out_after_a_jump(self) -> dict[str, Any]:
        """The same for somebody who watches already, when the rehearsal jumps to where it is: the cue desk is new."""
        _, transport = watching(self.live, WORKED)
        self.playback.to(self.playback.now_ms)
        self.clock.jump(LEAST_S / 2)
        found = {view: _plain(transport.shown(view), self.clock.unix_ms()) for view in WORKED}
        transport.close()
        return found

    def wait(self, moment_ms: int) -> None:
        """Let time pass until the rehearsal has come to a moment, and its pictures have gone out."""
        pace = self.reel.pace
        self.clock.jump((moment_ms - self.playback.now_ms) / 1000 / pace.rate)


def live_of(work: Competition, clock: FakeClock, journal: Any) -> LiveCompetition:
    """A competition in rehearsal."""
    options = RunOptions(mode="rehearsal", make_worker=InlineWorker)
    live = LiveCompetition(work, journal=journal, clock=clock, links=links(), options=options)
    live.replay()
    return live


def links() -> Links:
    """Links with the keys that `wire.talk.hello` shows, for twenty lanes."""
    found = Links(now_ms=lambda: START_UNIX_MS)
    found.begin(Keys("table-key", {FloorLane(lane=lane): f"key-{lane}" for lane in range(1, 21)}, "desk-key"))
    return found


def watching(live: LiveCompetition, views: Sequence[str], *, packed: bool = False) -> tuple[Client, FakeTransport]:
    """Somebody at the table who watches these views of the heat on the floor."""
    return joined(live, hello("table-watching"), *(text(type="watch", view=view, packed=packed) for view in views))


async def played_live(
    work: Competition, placed: Sequence[Placed], moments: Iterable[int], views: Sequence[str]
) -> dict[int, dict[str, Any]]:
    """The pictures of these moments when every fact comes over the wire, is kept and acknowledged, at its time."""
    clock = FakeClock(unix_ms=START_UNIX_MS)
    live = live_of(work, clock, MemoryJournal())
    clients: dict[str, Client] = {}
    found, coming = dict[int, dict[str, Any]](), list(placed)
    async with recording(live):
        for moment_ms in sorted(moments):
            while coming and coming[0].at_ms <= START_UNIX_MS + moment_ms:
                each = coming.pop(0)
                clock.jump(max(0, each.at_ms - clock.unix_ms()) / 1000)
                sender = each.fact.sender
                clients[sender] = clients.get(sender) or joined(live, hello(sender))[0]
                clients[sender].hear(facts(each.fact))
                await journalled(live)
            clock.jump((START_UNIX_MS + moment_ms - clock.unix_ms()) / 1000)
            sent = {
                view: _worked_out(live, view) if view in WORKED else sent_now(live, view, "floor") for view in views
            }
            found[moment_ms] = {view: _plain(frame, clock.unix_ms()) for view, frame in sent.items()}
    live.close()
    return found


def _worked_out(live: LiveCompetition, view: str) -> dict[str, Any]:
    """What the recipe of a view makes of this moment, for a cue desk that has heard nothing, as the wire has it."""
    snapshot = live.read_model.snapshot()
    heat = snapshot.heat("floor")
    recipe = recipes(Tools(competition=live.competition))[view]
    asked = Asked(what=view, heat=heat.heat.id, desk=CueDesk(), wanted=True)
    frame = recipe.work_out(recipe.see(snapshot, heat), asked).frame
    return dict(Shortener().shorten(frame | live.read_model.stamp()))


def _plain(frame: dict[str, Any], unix_ms: int) -> dict[str, Any]:
    plain = {name: _without_walls(value) for name, value in frame.items() if name not in _OF_THE_RUN}
    clock = frame.get("clock", {})
    if "zero_unix_ms" in clock:
        # What overlay/shared/clock.js makes of it.
        ran = clock["zero_at_ms"] + (unix_ms - clock["zero_unix_ms"]) * frame["speed"]
        plain["clock"] = {"reads": max(0, min(ran, clock["cap_ms"], clock.get("ended_ms", ran)))}
    return plain


def _without_walls(value: Any) -> Any:
    if isinstance(value, dict):
        return {name: _without_walls(each) for name, each in value.items() if name not in _WALL}
    return [_without_walls(each) for each in value] if isinstance(value, list) else value
