"""What the competition file says of a heat."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from functools import cached_property

from tallywire.core.fold.moments import clock_moments
from tallywire.core.formats.registry import format_of
from tallywire.core.model.competition import Competition, Entry, Heat
from tallywire.core.model.workout import Plan


class HeatSetup:
    """What the competition file says of a heat, looked up once."""

    def __init__(self, competition: Competition, heat: Heat) -> None:
        self.competition = competition
        self.heat = heat
        self.event = competition.event_of(heat)
        self.counting = format_of(self.event.workout).counting

    @cached_property
    def plan(self) -> Plan:
        """The arithmetic of the workout."""
        return self.counting.plan(self.event.workout)

    @cached_property
    def moments(self) -> tuple[int, ...]:
        """The times on the heat clock at which the heat may change without a fact."""
        return clock_moments(self.event)

    @cached_property
    def entries(self) -> Mapping[int, Entry]:
        """The entries by lane."""
        return {lane: self.competition.entry_on(self.heat, lane) for lane in self.heat.lanes}

    @cached_property
    def divisions(self) -> Mapping[str, Sequence[int]]:
        """The lanes of each division on the floor; the division of the first lane comes first."""
        groups: dict[str, list[int]] = {}
        for lane, entry in self.entries.items():
            groups.setdefault(entry.division, []).append(lane)
        return groups
