"""What cues are made from: the state of the heat, and any numbers from a forecast and the overall standing."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, field

from tallywire.core.cues.cue import Cue, Kind, Value, weighed
from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.formats.base import Status
from tallywire.core.formats.registry import format_of

Said = tuple[str, Mapping[str, Value]]
"""A template, and its values besides the names."""


@dataclass(frozen=True, slots=True, kw_only=True)
class OverallNote:
    """The overall standing of a division as it stands: who leads alone (None: shared), by how many points, over whom.

    `clinched` leads whatever happens, where the lead is shared with `second`. Entries are named by their ids.
    """

    division: str
    leader: str | None
    second: str | None = None
    points: float = 0
    clinched: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Observation:
    """The heat at one moment. `expected_ms` is a forecast's finish time by lane; `names` are short names by entry."""

    state: HeatState
    overall: tuple[OverallNote, ...] = ()
    expected_ms: Mapping[int, int] = field(default_factory=dict)
    names: Mapping[str, str] = field(default_factory=dict)
    divisions: Mapping[str, str] = field(default_factory=dict)

    @property
    def clock_ms(self) -> int:
        """The heat clock."""
        return self.state.clock_ms

    @property
    def is_counted(self) -> bool:
        """Whether the work is one count from start to end."""
        return format_of(self.state.event.workout).counting.one_count

    @property
    def end_ms(self) -> int:
        """When the heat is over: its time cap, or its end if that came first."""
        cap_ms = self.state.event.workout.time_cap_ms
        return cap_ms if self.state.ended_ms is None else min(cap_ms, self.state.ended_ms)

    def ranked(self) -> dict[str, list[LaneState]]:
        """Give the lanes of each division from the best to the last."""
        found: dict[str, list[LaneState]] = {}
        for number in self.state.order:
            lane = self.state.lanes[number]
            found.setdefault(lane.entry.division, []).append(lane)
        return found

    def working(self) -> Iterator[LaneState]:
        """Give the lanes that are at work."""
        return (lane for lane in self.state.lanes.values() if lane.status is Status.WORKING)

    def name(self, entry: str) -> str:
        """The short name of an entry, on the floor or not."""
        for lane in self.state.lanes.values():
            if lane.entry.id == entry:
                return lane.entry.short
        return self.names.get(entry, entry)

    def lane_of(self, entry: str | None) -> tuple[int, ...]:
        """The lane that an entry is on; None if it is not on the floor."""
        return tuple(number for number, lane in self.state.lanes.items() if lane.entry.id == entry)

    def cue(  # noqa: PLR0913
        self,
        kind: Kind,
        template: str,
        key: object,
        lanes: tuple[LaneState, ...],
        *,
        at_ms: int | None = None,
        behind: int = 0,
        **values: Value,
    ) -> Cue:
        """Make a cue about lanes, lighter for every place `behind`; with several divisions, its values name one."""
        shown = {lane.entry.division for lane in self.state.lanes.values()}
        if len(shown) > 1 and lanes:
            values["division"] = self.divisions.get(lanes[0].entry.division, lanes[0].entry.division)
        return Cue(
            kind=kind,
            template=template,
            key=f"{kind}/{key}",
            lanes=tuple(lane.lane for lane in lanes),
            values=values,
            weight=weighed(kind, behind),
            at_ms=self.clock_ms if at_ms is None else at_ms,
            ttl_ms=kind.ttl_ms,
        )
