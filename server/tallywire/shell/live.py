"""The competition as it runs: facts are durable in the journal, then acknowledged, then shown.

Everything goes one way: journal and recorder, the books, the read model, the fan-out. In the background, views that
take a while are worked out from the books, and go to the fan-out as well. Each stage knows those before it, and none of
them calls back.
"""

from __future__ import annotations

import logging
import secrets
from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from functools import partial

from tallywire.core.cues import CueDesk
from tallywire.core.facts import Fact
from tallywire.core.fold.snapshot import Snapshot
from tallywire.core.model.competition import Competition
from tallywire.shell.ahead import AheadWatch
from tallywire.shell.background import BackgroundViews, Stages
from tallywire.shell.books import Books, Change
from tallywire.shell.clock import Clock, Timer
from tallywire.shell.crew import Crew
from tallywire.shell.fan_out import FanOut, Subscriber
from tallywire.shell.forecast_log import ForecastLog
from tallywire.shell.helper.own_process import OwnProcess
from tallywire.shell.helper.port import Helper, Tools, Where
from tallywire.shell.helper.scopes import call_scope, standings_scope
from tallywire.shell.helper.worker import ThreadWorker, Worker
from tallywire.shell.journal.port import Journal, Line
from tallywire.shell.keys import Keys
from tallywire.shell.links import Links
from tallywire.shell.log_forms import about_entry
from tallywire.shell.meters import Meters
from tallywire.shell.pace import Pace
from tallywire.shell.pads import Pads
from tallywire.shell.public_feed import PublicFeed
from tallywire.shell.public_tape import Tape
from tallywire.shell.read_model import (
    BEYOND_LANES,
    FOR_SENDERS,
    OF_MISSED_PADS,
    OF_THE_BOOTH,
    OF_THE_CLOCK,
    OF_THE_DAY,
    OF_THE_PADS,
    OF_THE_SHOW,
    VIEW_NAMES,
    WORDED,
    ReadModel,
)
from tallywire.shell.recorder import Job, Recorder
from tallywire.shell.restoring import OldLines, Restoring, add, entry_of
from tallywire.shell.stalls import Stalls
from tallywire.shell.storage import Storage
from tallywire.shell.worked_out import WorkedOut
from tallywire.wire.intake import as_it_is
from tallywire.wire.messages import Watch
from tallywire.wire.senders import Received, Senders
from tallywire.wire.session import Terms, view_name

_LOOK_AGAIN_S = 1.0
"""A heat that runs is looked at this often: gaps grow with its clock while nobody taps, and deadlines do not follow the
wall clock when that is set."""
_NONE: frozenset[str] = frozenset()
_MOVED = {
    (show, beyond_lanes): frozenset(VIEW_NAMES)
    - (_NONE if show else OF_THE_SHOW)
    - (_NONE if beyond_lanes else BEYOND_LANES)
    for show in (False, True)
    for beyond_lanes in (False, True)
}
"""The views that a change may move, by whether it is one of the show and whether it goes beyond the counts of lanes."""
_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class RunOptions:
    """How the competition is run: live or in rehearsal, how fast time passes in it, how many watches there may be.

    Calls and standings are worked out in a `helper` of their own process, or beside the taps by what `make_worker`
    makes; `storage` tells senders when the journal's disk is full; `forecasts` keeps what the forecast said.
    `settle_clock` is told when the last fact came in, before anything is timed.
    """

    mode: str = "live"
    speed: float = 1
    watch_limit: int = 20_000
    helper: Where = "thread"
    make_worker: Callable[[], Worker] = ThreadWorker
    storage: Storage = field(default_factory=Storage)
    settle_clock: Callable[[int | None], None] = lambda _last_ms: None
    forecasts: ForecastLog | None = None


def _pace(options: RunOptions, clock: Clock) -> Pace:
    """Give the pace that begins now: live it is that of wall time."""
    now_ms = clock.unix_ms()
    return Pace() if options.speed == 1 else Pace(unix_ms=now_ms, recorded_ms=now_ms, rate=options.speed)


class LiveCompetition:
    """Puts the stages in order and lets facts run through them. It must be made inside an event loop."""

    def __init__(
        self, competition: Competition, *, journal: Journal, clock: Clock, links: Links, options: RunOptions
    ) -> None:
        self.competition = competition
        self.journal = journal
        self.clock = clock
        self.crew = Crew(links, clock=clock)
        self.mode = options.mode
        self.storage = options.storage
        self._settle_clock = options.settle_clock
        self.lines = 0
        self.clients = 0
        self.senders = Senders()
        self.meters, self.began_s = Meters(), clock.now()
        self.recorder = Recorder(journal, clock=clock, durable=self._durable, meters=self.meters)
        self.books = Books(competition, clock=clock, pace=_pace(options, clock))
        self._worked = {heat: WorkedOut() for heat in competition.heats}
        self.helper = self._made_helper(options)
        self._stalls = Stalls(self.helper)
        self.pads = Pads(clock=clock, changed=self._look_at_pads, silences=self._stalls.of)
        self.read_model = ReadModel(self.books, self._worked, mode=options.mode, pads=self.pads)
        self.fan_out = FanOut(
            self.read_model,
            clock=clock,
            make_epoch=partial(secrets.token_hex, 6),
            watch_limit=options.watch_limit,
            meters=self.meters,
        )
        self._tape = Tape(self.books, clock=clock)
        self._restoring = Restoring(self.books, self.senders, self._tape)
        self.public = {
            floor: PublicFeed(self._tape, self.books, clock=clock, stamp=self.read_model.stamp, floor=floor)
            for floor in competition.floor_ids
        }
        stages = Stages(
            books=self.books,
            worked=self._worked,
            fan_out=self.fan_out,
            clock=clock,
            helper=self.helper,
            meters=self.meters,
        )
        self._background = (
            BackgroundViews(call_scope(self.books), stages),
            BackgroundViews(standings_scope(competition), stages),
        )
        self.terms = Terms(
            competition=competition,
            senders=self.senders,
            views=VIEW_NAMES,
            for_senders=FOR_SENDERS,
            worded=WORDED,
            mode=options.mode,
            speed=options.speed,
            authorise=links.authorise,
            lacking=self.read_model.lacking,
            closed=self.books.closed,
            timed=self.books.timed if options.mode == "rehearsal" else as_it_is,
        )
        self._timers: dict[str, Timer] = {}
        self._ahead = AheadWatch()

    def _made_helper(self, options: RunOptions) -> Helper:
        tools = Tools(competition=self.competition, log=options.forecasts)
        if options.helper == "process":
            return OwnProcess(self.books, tools, clock=self.clock)
        # With a process of its own for that, the server does without all that works forecasts out.
        from tallywire.shell.helper.in_place import InPlace
        from tallywire.shell.helper.recipes import recipes

        return InPlace(self.books, recipes(tools), options.make_worker())

    @property
    def behind_s(self) -> dict[str, float]:
        """How old each background view is beyond what is known, for those who watch."""
        return {views.view: views.behind_s() for views in self._background}

    @property
    def keys(self) -> Keys:
        """The plain keys of this start."""
        return self.crew.links.start

    def replay(self, read: OldLines | None = None) -> None:
        """Take what the journal holds, and was not restored yet, through the same door as live facts. Blocks.

        `read` is what was read of it when it was opened. Raises JournalFailed when the journal is of another mode or
        competition, or a fact is of a heat that is gone.
        """
        self.journal.set_note("mode", self.mode)
        self.journal.set_note("competition", self.competition.name)
        if read is not None:
            self._restoring.take_read(read)
            self.lines = self._restoring.lines
        self.restore(self.journal.read(after=self.lines))
        self._settle_clock(self._restoring.last_ms)
        self._tape.begin()
        snapshot = self.books.snapshot()
        self._arm(self.competition.heats, snapshot)
        for views in self._background:
            views.wake(snapshot)

    def restore(self, lines: Iterable[Line]) -> None:
        """Take lines that another writer, or this one in an earlier start, has written. Raises JournalFailed."""
        before = self._restoring.lines
        try:
            self._restoring.take(lines)
        finally:
            self.lines += self._restoring.lines - before
            self.helper.begin_anew()

    def follow(self, lines: Sequence[Line]) -> None:
        """Take lines that the writer has just written, and show them; without any, how old the picture is by now."""
        change = Change()
        for line in lines:
            entry = entry_of(line)
            self._tape.pass_lines(line.received_unix_ms)
            self.senders.restore(entry)
            self._take(entry, change)
        was_ms, self.books.behind_ms = self.books.behind_ms, self.storage.behind_ms or 0
        if was_ms or self.books.behind_ms:
            change = Change(heats=set(self.competition.heats), beyond_lanes=True, show=True)
        if lines or change.heats:
            self.show(change, self.books.snapshot())

    def play(self, facts: Sequence[Fact]) -> None:
        """Count and show facts to which a rehearsal has come."""
        change = Change()
        self._tape.pass_lines(self.clock.unix_ms(), count=len(facts))
        for fact in facts:
            self._take(Received(sender=fact.sender, sequence=fact.sequence, body=b"", fact=fact), change)
        self.show(change, self.books.snapshot())

    def jump(self, facts: Sequence[Fact], pace: Pace, *, lines: int, desks: Mapping[str, CueDesk]) -> None:
        """Be at another moment of a rehearsal: with these facts, which are that many lines of its journal.

        `desks` are the cue desks of heats that were listened to until then. Nothing stays of what was counted, noticed,
        worked out or shown before.
        """
        self.books.begin_anew(facts)
        self.helper.begin_anew()
        self.lines = lines
        self.read_model.jumps += 1
        started = self.books.started
        for heat in self._worked:
            self._worked[heat] = WorkedOut(desk=desks.get(heat, CueDesk()), started=started.get(heat))
        self._stalls.begin_anew()
        self.pads.begin_anew()
        snapshot = self._go_on_at(pace)
        for views in self._background:
            views.begin_anew(snapshot)
        self.fan_out.begin_anew(snapshot)

    def keep_pace(self, pace: Pace) -> None:
        """Go on at another pace from where the rehearsal is."""
        self.fan_out.mark(self.books.names(self.competition.heats), views=VIEW_NAMES, snapshot=self._go_on_at(pace))

    def _go_on_at(self, pace: Pace) -> Snapshot:
        self.books.pace = pace
        self._tape.begin_anew()
        for feed in self.public.values():
            feed.begin_anew()
        snapshot = self.books.snapshot()
        self._arm(self.competition.heats, snapshot)
        return snapshot

    def _durable(self, jobs: Sequence[Job], received_unix_ms: int) -> None:
        """Facts that were written are counted, then acknowledged, then shown, all from one snapshot."""
        change = Change()
        self._tape.pass_lines(received_unix_ms, count=sum(len(job.entries) for job in jobs))
        for job in jobs:
            for entry in job.entries:
                self.senders.settle(entry.sender, entry.sequence)
                self._take(entry, change)
        snapshot = self.books.snapshot()
        for job in jobs:
            self._finish(job, snapshot)
            self._look_at(job, snapshot)
            for entry in job.entries:
                self.pads.counted(entry.fact, snapshot)
            self.meters.answered(job.entries, since_s=job.since_s, now=self.clock.now())
        self.show(change, snapshot)

    def _take(self, entry: Received, change: Change) -> None:
        self.lines += 1
        add(self.books, entry, change)
        if entry.fact is not None:
            self.helper.take((entry.fact,))

    def _look_at(self, job: Job, snapshot: Snapshot) -> None:
        """Say what somebody has to know of what came in."""
        for entry in job.entries:
            ahead = self._ahead.look(entry, snapshot, rate=self.books.pace.rate)
            if ahead is not None:
                _log.warning("%s", ahead, extra=about_entry(entry))
                self.crew.tell_managers(ahead)
            if entry.refusal is not None:
                _log.warning("a fact of %s was refused", entry.sender, extra=about_entry(entry))

    @staticmethod
    def _finish(job: Job, snapshot: Snapshot) -> None:
        try:
            job.done(snapshot)
        except Exception:
            # An error in one client's answer must not cost the others theirs: the facts are on disk.
            _log.exception("an answer was not sent")

    def show(self, change: Change, snapshot: Snapshot) -> None:
        """Tell every view whose frames may show it of a change.

        A count of a lane does not move the moments of its heat.
        """
        if change.beyond_lanes:
            self._arm(change.heats, snapshot)
        for views in self._background:
            views.changed(change.heats, snapshot)
        heats = self.books.names(change.heats | self.books.concerned(change.heats))
        self.fan_out.mark(heats, views=_MOVED[change.show, change.beyond_lanes], snapshot=snapshot)
        if change.booth:
            self.fan_out.mark(self.books.names(change.booth), views=OF_THE_BOOTH, snapshot=snapshot)
        if change.show:
            for feed in self.public.values():
                feed.expire()
        moved = OF_THE_SHOW if change.show else _NONE
        moved |= FOR_SENDERS if change.floor_moved else _NONE
        moved |= OF_THE_DAY if change.beyond_lanes else _NONE
        if moved:
            self.fan_out.mark(self.books.names(self.competition.heats), views=moved, snapshot=snapshot)

    def _look_at_pads(self, missed: bool) -> None:
        """What the table is told of pads may have changed, which lanes have stalled, and, if `missed`, which of them
        are missing their pads."""
        self._stalls.look(self.books.snapshot())
        views = OF_MISSED_PADS if missed else OF_THE_PADS
        self.fan_out.mark(self.books.names(self.competition.heats), views=views)

    def _arm(self, heats: Iterable[str], snapshot: Snapshot) -> None:
        """Wait for the next moment at which each heat changes without a fact."""
        for name in heats:
            timer = self._timers.pop(name, None)
            if timer is not None:
                timer.cancel()
            heat = snapshot.heats[name]
            at, rate = heat.next_moment, self.books.pace.rate
            if at is not None and rate:
                left_s = (at - heat.clock_ms) / 1000 / rate
                wait_s = min(max(left_s, 0) + 0.001, _LOOK_AGAIN_S)
                self._timers[name] = self.clock.call_at(self.clock.now() + wait_s, partial(self._look, name, at))

    def _look(self, heat: str, moment_ms: int) -> None:
        """Look at a heat when it changes without a fact: at the cap, at the end of a window, at a mark in time."""
        snapshot = self.books.snapshot()
        if snapshot.heats[heat].clock_ms >= moment_ms:
            self._tape.look()
            self.show(Change(heats={heat}, beyond_lanes=True), snapshot)
        else:
            self.fan_out.mark(self.books.names({heat}), views=OF_THE_CLOCK, snapshot=snapshot)
            self._arm({heat}, snapshot)

    def watch(self, subscriber: Subscriber, message: Watch) -> None:
        """Let a client watch a view. Raises NotAllowed when it, or all of them together, watch too many."""
        subscriber.watch(message.view, message.heat, epoch=message.epoch, number=message.number, packed=message.packed)
        for views in self._background:
            if views.view == view_name(message.view):
                views.watch(self.books.heat_of(message.heat))

    async def prepared(self, view: str, heat: str) -> None:
        """Wait for the frame of a view that takes a while."""
        for views in self._background:
            if views.view == view_name(view):
                await views.full(self.books.heat_of(heat))

    def close(self) -> None:
        """Cancel everything that is still to come."""
        for views in self._background:
            views.close()
        self.helper.close()
        for timer in self._timers.values():
            timer.cancel()
        self.crew.close()
        self.pads.close()
