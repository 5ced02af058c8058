"""The books of every heat, and which heat is on the floor."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass
from typing import Any

from tallywire.core.facts import Fact, FactVoided, HoldPlaced, HoldReleased, ShowFact, ViewTaken
from tallywire.core.facts.ledger import lane_of
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.floor import FLOOR, on_floor
from tallywire.core.fold.heat import HeatBook, HeatState
from tallywire.core.fold.result_status import ResultStatus, result_status
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
from tallywire.shell.clock import Clock, heat_clock_ms, wall_ms_until

Frame = dict[str, Any]
SHOW = "show"
CALL = "call"
STANDINGS = "standings"


@dataclass(frozen=True, slots=True, kw_only=True)
class Look:
    """One heat now, as the views of a heat see it. `floor` names the heat on the floor; `exact`: see `Surroundings`."""

    book: CompetitionBook
    heat: HeatBook
    floor: str
    clock_of: Callable[[HeatBook], int]
    exact: bool = True

    @property
    def competition(self) -> Competition:
        """The competition."""
        return self.book.competition

    @property
    def state(self) -> HeatState:
        """The heat as of its clock."""
        return self.heat.state(self.clock_of(self.heat))

    @property
    def life(self) -> ResultStatus:
        """How far the heat's result is."""
        return result_status(self.heat, self.clock_of(self.heat))

    @property
    def places(self) -> Mapping[int, InEvent]:
        """Each lane's place in the event."""
        return in_event(self.book, self.heat, clock_of=self.clock_of)

    @property
    def around(self) -> Surroundings:
        """What stands around the heat."""
        return surroundings_of(self.book, self.heat, exact=self.exact)


VIEWS: Mapping[str, Callable[[Look], Frame]] = {
    "heat": lambda look: heat_frame(look.competition, look.state, look.places),
    "gaps": lambda look: gap_frame(look.competition, look.state, look.places),
    "result": lambda look: result_frame(look.competition, look.state, look.life.stage, look.places),
    "event": lambda look: event_frame(look.book, look.heat, look.state, clock_of=look.clock_of),
    "next": lambda look: next_frame(look.book, look.heat, look.state),
    "subjects": lambda look: subjects_frame(look.state, look.life.stage, look.around),
    "table": lambda look: table_frame(look.competition, look.state, look.life) | {"floor": look.floor},
}
"""Every view of a heat that is made from the book at once. To add one, write it in core/views and name it here."""
VIEW_NAMES = (*VIEWS, SHOW, CALL, STANDINGS)
"""Every view on the wire."""
FOR_SENDERS = frozenset({"table"})
"""Views that only roles table and lane may watch."""


_EVERYWHERE = (HoldPlaced, HoldReleased, FactVoided)
"""Facts that may change who must not be seen: every picture with names of other heats is to hear of them."""


class Scorebook:
    """What the facts so far add up to. `mode` and `speed` go into every frame."""

    def __init__(self, competition: Competition, *, clock: Clock, mode: str, speed: float) -> None:
        self.competition = competition
        self.book = CompetitionBook(competition)
        self.floor = next(iter(competition.heats))
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
        self.book.add(fact)
        if isinstance(fact, (ShowFact, *_EVERYWHERE)):
            self.floor = self._now_on_floor()
            return {*self.book.heats, FLOOR}
        was = self.floor
        if lane_of(fact) is None:
            self.floor = self._now_on_floor()
        if was != self.floor:
            return {fact.heat, was, self.floor, FLOOR}
        return {fact.heat, FLOOR} if fact.heat == self.floor else {fact.heat}

    def _now_on_floor(self) -> str:
        return on_floor(self.book.heats.values()) or next(iter(self.book.heats))

    def _held(self) -> set[str]:
        """The entries under a medical hold, whichever heat it was called in."""
        heats = self.book.heats.values()
        return {entry for each in heats for lane, entry in each.heat.lanes.items() if each.conduct(lane).held}

    def clock_ms(self, heat: str) -> int:
        """Give the heat's clock now, not held at the cap."""
        return self.clock_of(self.book.heats[heat])

    def clock_of(self, book: HeatBook) -> int:
        """Give the clock of a heat's book now, not held at the cap."""
        return heat_clock_ms(book.started, unix_ms=self._clock.unix_ms(), speed=self.speed)

    def next_moment(self, heat: str) -> int | None:
        """Give the next time on the heat clock at which the heat changes without a fact; None when it does not run."""
        book, clock_ms = self.book.heats[heat], self.clock_ms(heat)
        if book.started is None or book.over(clock_ms):
            return None
        return next((moment for moment in book.moments if moment > clock_ms), None)

    def wall_ms_until(self, heat: str, moment_ms: int) -> float:
        """Give the wall milliseconds until the clock of a heat that has started shows a moment."""
        started = self.book.heats[heat].started
        if started is None:
            raise ValueError(f"found heat {heat} not started, expected its clock to run")
        return wall_ms_until(started, moment_ms, unix_ms=self._clock.unix_ms(), speed=self.speed)

    def frame(self, view: str, heat: str) -> Frame:
        """Give the newest frame of a view; `heat` is an id or `floor`."""
        if view == SHOW:
            return {**show_frame(self.competition, self.book.show.outputs(), held=self._held()), **self.stamp}
        return {**VIEWS[view](self._look(heat)), **self.stamp}

    @property
    def stamp(self) -> Frame:
        """What goes into every frame."""
        return {"mode": self.mode, "speed": self.speed}

    def lacking(self, fact: ViewTaken) -> str | None:
        """Say what the view lacks now that this fact would take; None when it may go to programme."""
        look = self._look(fact.params.get("heat", FLOOR))
        return missing(fact.view, fact.params, look.state, look.around)

    def _look(self, heat: str) -> Look:
        book = self._heat(heat)
        exact = self.exact(book.heat.id)
        return Look(book=self.book, heat=book, floor=self.floor, clock_of=self.clock_of, exact=exact)

    def _heat(self, heat: str) -> HeatBook:
        return self.book.heats[self.floor if heat == FLOOR else heat]

    def tally(self, heat: str, lane: int) -> Frame | None:
        """Give a lane's count for the pad that sent it; None when the competition has no such lane."""
        book = self.book.heats.get(heat)
        if book is None or lane not in book.heat.lanes:
            return None
        outcome, tally = book.outcome(lane, self.clock_ms(heat)), book.tally(lane)
        return {
            "heat": heat,
            "lane": lane,
            "done": tally.done,
            "scored_reps": outcome.scored_reps,
            "no_reps": tally.no_reps,
            "status": outcome.status.value,
            **work_data(tally, book.event.workout),
        }
