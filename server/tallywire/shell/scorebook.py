"""The books of every heat, and which heat is on the floor."""

from __future__ import annotations

from collections.abc import Callable, Mapping
from typing import Any

from tallywire.core.book import CompetitionBook
from tallywire.core.competition import Competition
from tallywire.core.facts import Fact
from tallywire.core.fold import HeatState
from tallywire.core.ledger import lane_of
from tallywire.core.views.gaps import gap_frame
from tallywire.core.views.heat import heat_frame
from tallywire.shell.clock import Clock, heat_clock_ms, wall_ms_until

Frame = dict[str, Any]
FLOOR = "floor"

VIEWS: Mapping[str, Callable[[Competition, HeatState], Frame]] = {"heat": heat_frame, "gaps": gap_frame}
"""Every view on the wire. To add one, write it in core/views and name it here."""


class Scorebook:
    """What the facts so far add up to. `mode` and `speed` go into every frame."""

    def __init__(self, competition: Competition, *, clock: Clock, mode: str, speed: float) -> None:
        self.competition = competition
        self.book = CompetitionBook(competition)
        self.floor = next(iter(competition.heats))
        self.mode = mode
        self.speed = speed
        self._clock = clock

    def add(self, fact: Fact) -> set[str]:
        """Take a fact and give what it may change: its heat, and `floor` when that is on the floor now or was."""
        self.book.add(fact)
        was = self.floor
        if lane_of(fact) is None:
            self.floor = self._newest_start()
        on_floor = fact.heat == self.floor or was != self.floor
        return {fact.heat, FLOOR} if on_floor else {fact.heat}

    def clock_ms(self, heat: str) -> int:
        """Give the heat's clock now, not held at the cap."""
        return heat_clock_ms(self.book.heats[heat].started, unix_ms=self._clock.unix_ms(), speed=self.speed)

    def ms_to_cap(self, heat: str) -> float | None:
        """Give the wall milliseconds until the heat is over by its time cap; None when it does not run."""
        book = self.book.heats[heat]
        if book.started is None or book.over(self.clock_ms(heat)):
            return None
        cap_ms = book.event.workout.time_cap_ms
        return wall_ms_until(book.started, cap_ms, unix_ms=self._clock.unix_ms(), speed=self.speed)

    def frame(self, view: str, heat: str) -> Frame:
        """Give the newest frame of a view; `heat` is an id or `floor`."""
        named = self.floor if heat == FLOOR else heat
        state = self.book.heats[named].state(self.clock_ms(named))
        return {**VIEWS[view](self.competition, state), "mode": self.mode, "speed": self.speed}

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
        }

    def _newest_start(self) -> str:
        starts = {heat: book.started.unix_ms for heat, book in self.book.heats.items() if book.started is not None}
        return max(starts, key=starts.__getitem__, default=next(iter(self.book.heats)))
