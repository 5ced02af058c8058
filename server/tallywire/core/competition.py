"""The competition as the organiser describes it: divisions, entries, events, heats and what a place is worth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from tallywire.core.points import PointsTable
from tallywire.core.workout import Workout


@dataclass(frozen=True, slots=True, kw_only=True)
class Division:
    """Those who compete against each other; has its own loads and its own standing."""

    id: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """An athlete, a pair or a team. `points_before` is the standing before the first event in the file."""

    id: str
    name: str
    short: str
    division: str
    home: str = ""
    points_before: int = 0


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One scored test, run in one or more heats."""

    id: str
    name: str
    workout: Workout
    points: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Heat:
    """The group on the floor together: one entry a lane."""

    id: str
    name: str
    event: str
    lanes: Mapping[int, str] = field(default_factory=dict)


@dataclass(frozen=True, slots=True, kw_only=True)
class Competition:
    """Everything known before the first tap. Mappings are keyed by id, in the order of the file."""

    name: str
    divisions: Mapping[str, Division]
    entries: Mapping[str, Entry]
    points: Mapping[str, PointsTable]
    events: Mapping[str, Event]
    heats: Mapping[str, Heat]

    def event_of(self, heat: Heat) -> Event:
        """Give the event a heat belongs to."""
        return self.events[heat.event]

    def entry_on(self, heat: Heat, lane: int) -> Entry:
        """Give the entry on a lane. Raises KeyError for a lane that is not in the heat."""
        return self.entries[heat.lanes[lane]]
