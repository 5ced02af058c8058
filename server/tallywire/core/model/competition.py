"""The competition as the organiser describes it: divisions, entries, events, heats and what a place is worth."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from enum import StrEnum
from fractions import Fraction
from itertools import takewhile

from tallywire.core.model.outputs import Output, default_outputs
from tallywire.core.model.theme import Theme
from tallywire.core.model.workout import Mark, Workout
from tallywire.core.ranking.cuts import Cut
from tallywire.core.ranking.points import Table, TiePolicy
from tallywire.core.ranking.standing import StandingRules


@dataclass(frozen=True, slots=True, kw_only=True)
class Division:
    """Those who compete against each other; has its own loads and its own standing."""

    id: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class Entry:
    """An athlete, a pair or a team. `points_before` is the standing before the first event in the file.

    `left_after` is the event after which it left the competition, None while it is in it.
    """

    id: str
    name: str
    short: str
    division: str
    home: str = ""
    points_before: Fraction | int = 0
    left_after: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Briefing:
    """What the commentators' booth is told of an entry; empty where nothing is. None of it is ever on the air.

    `say` is the name as it sounds, in plain letters, `ipa` in those of the International Phonetic Alphabet; `facts` are
    worth telling, and what the `caution` names is not to be mentioned. It is apart from `Entry` so that no picture can
    show it by mistake.
    """

    say: str = ""
    ipa: str = ""
    age_class: str = ""
    facts: tuple[str, ...] = ()
    caution: str = ""


_NO_BRIEFING = Briefing()


class Measure(StrEnum):
    """What a scored part takes from the performance."""

    RESULT = "result"
    TIME_AT = "time_at"
    REPS_AT = "reps_at"


@dataclass(frozen=True, slots=True, kw_only=True)
class Part:
    """One of several scores from one performance, with places and points of its own.

    It takes the workout's own result, the time at a `mark`, or the scored reps at `at_ms` on the heat clock. Its places
    break no ties by count-back where it is not `in_count_back`. Nobody is given a place that is `vacant`, by division.
    """

    id: str
    name: str
    measure: Measure
    points: str
    mark: Mark | None = None
    at_ms: int | None = None
    in_count_back: bool = True
    vacant: tuple[tuple[str, int], ...] = ()

    def vacant_in(self, division: str) -> tuple[int, ...]:
        """Give the places of a division that nobody is given."""
        return tuple(place for own, place in self.vacant if own == division)


@dataclass(frozen=True, slots=True, kw_only=True)
class Record:
    """The best result known of an event, in the organiser's words; of one division, or of each if that is None."""

    result: str
    who: str
    when: str = ""
    division: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Event:
    """One scored test, run in one or more heats; `points` names the table for its result unless it has `parts`.

    `ties` says what those who share a place earn. `records` are for the commentator to tell. Nobody is given a `vacant`
    place (division, place); the parts have their own.
    """

    id: str
    name: str
    workout: Workout
    points: str
    parts: tuple[Part, ...] = ()
    ties: TiePolicy = TiePolicy.SHARE_BETTER
    records: tuple[Record, ...] = ()
    in_count_back: bool = True
    vacant: tuple[tuple[str, int], ...] = ()

    def scored_parts(self) -> tuple[Part, ...]:
        """Give the parts that are ranked: those named, or the one result."""
        return self.parts or (
            Part(
                id=self.id,
                name=self.name,
                measure=Measure.RESULT,
                points=self.points,
                in_count_back=self.in_count_back,
                vacant=self.vacant,
            ),
        )


@dataclass(frozen=True, slots=True, kw_only=True)
class Floor:
    """One of several places where heats run at the same time, each with lanes of its own."""

    id: str
    name: str


@dataclass(frozen=True, slots=True, kw_only=True)
class FloorLane:
    """A lane of a floor. `floor` is empty where the competition names none."""

    floor: str = ""
    lane: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Heat:
    """The group on the floor together: one entry a lane. `start_unix_ms` is when the timetable has it start.

    `floor` is the id of the floor it runs on, empty where the competition names none.
    """

    id: str
    name: str
    event: str
    lanes: Mapping[int, str] = field(default_factory=dict)
    start_unix_ms: int | None = None
    floor: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class CutAfter:
    """Who goes on after an event: in one division, or in each when `division` is None."""

    event: str
    cut: Cut
    division: str | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Competition:
    """Everything known before the first tap. Mappings are keyed by id, in the order of the file.

    `floors` is empty where everything runs on one floor, which then has no name. `language` is that of the words
    beside the names; spectators read their own unless `spectators_choose` is False.
    """

    name: str
    divisions: Mapping[str, Division]
    entries: Mapping[str, Entry]
    points: Mapping[str, Table]
    events: Mapping[str, Event]
    heats: Mapping[str, Heat]
    theme: Theme = field(default_factory=Theme)
    outputs: Mapping[str, Output] = field(default_factory=default_outputs)
    standing_rules: StandingRules = field(default_factory=StandingRules)
    drop_disqualified: bool = True
    cuts: tuple[CutAfter, ...] = ()
    floors: Mapping[str, Floor] = field(default_factory=dict)
    briefings: Mapping[str, Briefing] = field(default_factory=dict)
    language: str = "en"
    spectators_choose: bool = True

    def briefing_of(self, entry: str) -> Briefing:
        """Give what the booth is told of an entry, by its id."""
        return self.briefings.get(entry, _NO_BRIEFING)

    @property
    def lane_numbers(self) -> list[int]:
        """Every lane that some heat has, in order."""
        return sorted({lane for heat in self.heats.values() for lane in heat.lanes})

    @property
    def floor_ids(self) -> list[str]:
        """The id of every floor, in the order of the file: one empty id where none is named."""
        return list(self.floors) or [""]

    @property
    def places(self) -> list[FloorLane]:
        """Every lane that some heat has, floor by floor."""
        return [FloorLane(floor=floor, lane=lane) for floor in self.floor_ids for lane in self.lanes_of(floor)]

    def lanes_of(self, floor: str) -> list[int]:
        """Give every lane that some heat of a floor has, in order."""
        return sorted({lane for heat in self.heats.values() if heat.floor == floor for lane in heat.lanes})

    def event_of(self, heat: Heat) -> Event:
        """Give the event a heat belongs to."""
        return self.events[heat.event]

    def title_of(self, heat: Heat) -> str:
        """Name a heat so that it cannot be mistaken for another event's, with its floor where floors have names."""
        event, own = self.event_of(heat).name, self.heat_name(heat)
        return own if heat.name == event else f"{event} · {own}"

    def heat_name(self, heat: Heat) -> str:
        """Name a heat among those of its event, with its floor where floors have names."""
        return f"{heat.name} · {self.floors[heat.floor].name}" if heat.floor else heat.name

    def entry_on(self, heat: Heat, lane: int) -> Entry:
        """Give the entry on a lane. Raises KeyError for a lane that is not in the heat."""
        return self.entries[heat.lanes[lane]]

    def cut_after(self, event: str, division: str) -> Cut | None:
        """Give the cut a division has after an event, or None; its own cut takes precedence over one for all."""
        mine = [each for each in self.cuts if each.event == event and each.division in (division, None)]
        return min(mine, key=lambda each: each.division is None).cut if mine else None

    def is_cut_before(self, event: str, division: str) -> bool:
        """Tell whether a division has a cut after one of the events before this one."""
        events = list(self.events)
        return any(self.cut_after(each, division) for each in events[: events.index(event)])

    def concerns(self, event: str) -> frozenset[str]:
        """Name the events whose tables a result of this one may change: itself, and every event after its next cut."""
        events = list(self.events)
        after = events[events.index(event) :]
        cut_at = {each.event for each in self.cuts}
        before_cut = len(list(takewhile(lambda each: each not in cut_at, after))) + 1
        return frozenset([event, *after[before_cut:]])

    def listed(self, event: str) -> frozenset[str]:
        """Give the entries on the lanes of an event; empty while a heat of it is still to be seeded."""
        lanes = [heat.lanes for heat in self.heats.values() if heat.event == event]
        return frozenset(entry for each in lanes for entry in each.values()) if all(lanes) else frozenset()

    def field_size(self, event: str, division: str) -> int:
        """Give how many entries of a division an event is held for, including those who do not start.

        Before the first cut that is the whole division; after it, those on the start list of the event.
        """
        if not self.is_cut_before(event, division):
            return sum(entry.division == division for entry in self.entries.values())
        heats = [heat for heat in self.heats.values() if heat.event == event]
        return sum(self.entries[each].division == division for heat in heats for each in heat.lanes.values())
