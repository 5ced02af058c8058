"""The state of a heat: what its facts add up to at one moment, lane by lane."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any

from tallywire.core.facts import HeatStarted
from tallywire.core.fold.conduct import Conduct
from tallywire.core.formats.base import Outcome, Status, Tally
from tallywire.core.model.competition import Entry, Event, Heat
from tallywire.core.model.workout import Mark, Plan, Position


@dataclass(frozen=True, slots=True, kw_only=True)
class LaneState:
    """One lane as of now. Gaps are the scored reps by which it trails, never negative.

    `place` counts among the entries of the same division in this heat, as if the heat ended now.
    `gap_next` is to the nearest better place. Both gaps are 0 for a leader; neither is to a lane on medical hold.
    `splits` holds the time of every station end passed. `kept` holds what was worked out from the lane, by name: a lane
    that did not change is the same object in the next state. What depends on its own work and outcome alone is in
    `kept_of_work`, which stays while only the others move.
    """

    lane: int
    entry: Entry
    tally: Tally
    conduct: Conduct
    outcome: Outcome
    position: Position
    place: int
    place_shared: bool
    gap_leader: int
    gap_next: int
    splits: Mapping[Mark, int]
    kept_of_work: dict[str, Any] = field(compare=False, repr=False, default_factory=dict)
    kept: dict[str, Any] = field(init=False, compare=False, repr=False, default_factory=dict)

    @property
    def scored_reps(self) -> int:
        """What the ranking counts, penalties taken off."""
        return self.outcome.scored_reps

    @property
    def reps_to_go(self) -> int | None:
        """Scored reps left of fixed work; None where the work has no end."""
        return self.outcome.reps_to_go

    @property
    def finish_ms(self) -> int | None:
        """The time of the result, penalties added; None where there is none."""
        return self.outcome.result_ms

    @property
    def status(self) -> Status:
        """The lane's status."""
        return self.outcome.status


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatState:
    """The heat as of `clock_ms`. `order` lists lanes from the best to the last; `leader` is None before any work.

    `handed_on` holds what the next state may go on from, by name: see `FoldedHeat`.
    """

    heat: Heat
    event: Event
    plan: Plan
    started: HeatStarted | None
    ended_ms: int | None
    over: bool
    clock_ms: int
    leader: int | None
    order: tuple[int, ...]
    lanes: Mapping[int, LaneState]
    handed_on: dict[str, Any] = field(compare=False, repr=False, default_factory=dict)

    @property
    def round(self) -> int:
        """The round the leader is in; 0 before any work."""
        return 0 if self.leader is None else self.lanes[self.leader].position.round
