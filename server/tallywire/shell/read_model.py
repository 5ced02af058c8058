"""The books of every heat, and which heat is on the floor."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from tallywire.core.facts import Fact, FactVoided, HoldPlaced, HoldReleased, ShowFact, ViewTaken
from tallywire.core.fold.book import CompetitionBook, heat_clock_ms
from tallywire.core.fold.floor import FLOOR
from tallywire.core.fold.heat import HeatState
from tallywire.core.fold.result_status import ResultStatus, result_status
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.model.competition import Competition
from tallywire.core.show.catalogue import missing
from tallywire.core.show.surroundings import Surroundings, surroundings_of
from tallywire.core.standings.in_event import InEvent, in_event
from tallywire.core.views.event import event_frame
from tallywire.core.views.gaps import gap_frame
from tallywire.core.views.heat import heat_frame
from tallywire.core.views.next import next_frame
from tallywire.core.views.own_rules import work_data
from tallywire.core.views.result import result_frame
from tallywire.core.views.show import show_frame, subjects_frame
from tallywire.core.views.table import table_frame
from tallywire.shell.clock import Clock, wall_ms_until

Frame = dict[str, Any]
SHOW = "show"
CALL = "call"
STANDINGS = "standings"


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One heat of a snapshot, as the views of a heat see it. `exact`: see `Surroundings`."""

    snapshot: Snapshot
    heat: HeatSnapshot
    exact: bool = True

    @property
    def competition(self) -> Competition:
        """The competition."""
        return self.snapshot.competition

    @property
    def state(self) -> HeatState:
        """The heat as of its clock."""
        return self.heat.state

    @property
    def life(self) -> ResultStatus:
        """How far the heat's result is."""
        return result_status(self.heat)

    @property
    def places(self) -> Mapping[int, InEvent]:
        """Each lane's place in the event."""
        return in_event(self.snapshot, self.heat)

    @property
    def around(self) -> Surroundings:
        """What stands around the heat."""
        return surroundings_of(self.snapshot, self.heat, exact=self.exact)


VIEWS: Mapping[str, Callable[[Look], Frame]] = {
    "heat": lambda look: heat_frame(look.competition, look.state, look.places),
    "gaps": lambda look: gap_frame(look.competition, look.state, look.places),
    "result": lambda look: result_frame(look.competition, look.state, look.life.stage, look.places),
    "event": lambda look: event_frame(look.snapshot, look.heat),
    "next": lambda look: next_frame(look.snapshot, look.heat),
    "subjects": lambda look: subjects_frame(look.state, look.life.stage, look.around),
    "table": lambda look: table_frame(look.competition, look.state, look.life) | {"floor": look.snapshot.floor},
}
"""Every view of a heat that is made from the book at once. To add one, write it in core/views and name it here."""
VIEW_NAMES = (*VIEWS, SHOW, CALL, STANDINGS)
"""Every view on the wire."""
FOR_SENDERS = frozenset({"table"})
"""Views that only roles table and lane may watch."""


_EVERYWHERE = (HoldPlaced, HoldReleased, FactVoided)
"""Facts that may change who must not be seen: every picture with names of other heats is to hear of them."""


class ReadModel:
    """What the facts so far add up to. `mode` and `speed` go into every frame."""

    def __init__(self, competition: Competition, *, clock: Clock, mode: str, speed: float) -> None:
        self.competition = competition
        self.book = CompetitionBook(competition)
        self.mode = mode
        self.speed = speed
        self.exact: Callable[[str], bool] = lambda _heat: True
        """Whether what is needed overall has an exact answer in a heat: set by who works its call out."""
        self._clock = clock
        self._concerned = {
            event: frozenset(
                heat.id for heat in competition.heats.values() if heat.event in competition.concerns(event)
            )
            for event in competition.events
        }

    def shown_in(self, heats: Iterable[str]) -> set[str]:
        """Give every heat whose frames a change in these may change, the floor among them: places run over heats."""
        events = {self.competition.heats[heat].event for heat in heats}
        found = {heat for event in events for heat in self._concerned[event]}
        return {*found, FLOOR} if self.floor in found else found

    def add(self, fact: Fact) -> set[str]:
        """Take a fact and give what it may change: its heat, and `floor` when that is on the floor now or was."""
        was = self.floor
        self.book.add(fact)
        if isinstance(fact, (ShowFact, *_EVERYWHERE)):
            return {*self.book.heats, FLOOR}
        if was != self.floor:
            return {fact.heat, was, self.floor, FLOOR}
        return {fact.heat, FLOOR} if fact.heat == self.floor else {fact.heat}

    @property
    def floor(self) -> str:
        """The heat on the floor."""
        return self.book.floor

    def snapshot(self) -> Snapshot:
        """Freeze the competition now."""
        return self.book.at(unix_ms=self._clock.unix_ms(), speed=self.speed)

    def heat_now(self, heat: str) -> HeatSnapshot:
        """Freeze one heat now."""
        book = self.book.heats[heat]
        return book.at(heat_clock_ms(book.started, unix_ms=self._clock.unix_ms(), speed=self.speed))

    def wall_ms_until(self, heat: str, moment_ms: int) -> float:
        """Give the wall milliseconds until the clock of a heat that has started shows a moment."""
        started = self.book.heats[heat].started
        if started is None:
            raise ValueError(f"found heat {heat} not started, expected its clock to run")
        return wall_ms_until(started, moment_ms, unix_ms=self._clock.unix_ms(), speed=self.speed)

    def frame(self, view: str, heat: str, snapshot: Snapshot | None = None) -> Frame:
        """Give the newest frame of a view; `heat` is an id or `floor`."""
        now = snapshot or self.snapshot()
        if view == SHOW:
            return {**show_frame(self.competition, now.outputs, held=now.held), **self.stamp}
        return {**VIEWS[view](self._look(now, heat)), **self.stamp}

    @property
    def stamp(self) -> Frame:
        """What goes into every frame."""
        return {"mode": self.mode, "speed": self.speed}

    def lacking(self, fact: ViewTaken) -> str | None:
        """Say what the view lacks now that this fact would take; None when it may go to programme."""
        look = self._look(self.snapshot(), fact.params.get("heat", FLOOR))
        return missing(fact.view, fact.params, look.state, look.around)

    def _look(self, snapshot: Snapshot, name: str) -> Look:
        heat = snapshot.heat(name)
        return Look(snapshot=snapshot, heat=heat, exact=self.exact(heat.heat.id))

    def tally(self, heat: str, lane: int) -> Frame | None:
        """Give a lane's count for the pad that sent it; None when the competition has no such lane."""
        if heat not in self.book.heats or lane not in self.book.heats[heat].heat.lanes:
            return None
        now = self.heat_now(heat)
        outcome, tally = now.outcome(lane), now.tally(lane)
        return {
            "heat": heat,
            "lane": lane,
            "done": tally.done,
            "scored_reps": outcome.scored_reps,
            "no_reps": tally.no_reps,
            "status": outcome.status.value,
            **work_data(tally, now.event.workout),
        }
