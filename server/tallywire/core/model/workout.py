"""The workout: stations in order, rounds, and the arithmetic between work done and scored reps.

Work is counted in units of the station (`done`: repetitions, metres, calories, seconds). Scored reps are what the
ranking counts: a station credits one for every unit, or one for the whole block once it is complete.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from enum import StrEnum
from itertools import accumulate


class Credit(StrEnum):
    """How a station is credited in scored reps."""

    UNIT = "unit"
    BLOCK = "block"


@dataclass(frozen=True, slots=True, kw_only=True)
class Station:
    """One movement of a round with its amount.

    `expected_ms` is the expected time for the whole station; `touch_guard_ms` is the shortest time between two
    units that a person can do, so that a quicker second touch is a double touch (default 150 ms: common practice,
    no source). `loads` names the load per division, as printed.
    """

    movement: str
    amount: int
    unit: str = "reps"
    credit: Credit = Credit.UNIT
    expected_ms: int = 30_000
    touch_guard_ms: int = 150
    loads: Mapping[str, str] = field(default_factory=dict)

    @property
    def scored(self) -> int:
        """Scored reps the complete station is worth."""
        return 1 if self.credit is Credit.BLOCK else self.amount


@dataclass(frozen=True, slots=True, kw_only=True)
class Mark:
    """A named point of the work: the end of station `station` of round `round` (both count from 1)."""

    round: int
    station: int


class TeamForm(StrEnum):
    """How a team works: one after the other, all together on every repetition, or as they like."""

    RELAY = "relay"
    SYNCHRO = "synchro"
    SHARED = "shared"


@dataclass(frozen=True, slots=True, kw_only=True)
class Team:
    """A pair or a team of `members` on one lane."""

    form: TeamForm
    members: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Workout:
    """What is done and how it is scored. `rounds` lists each round's stations; a format may repeat the list.

    `minimum_reps` is the work below which a place earns no points. `decimals` and `round_up` say how a time is shown,
    never how it is ranked. `rules` are the format's own rules; only the format knows what they are.
    """

    format: str
    rounds: tuple[tuple[Station, ...], ...]
    time_cap_ms: int
    tie_break: Mark | None = None
    minimum_reps: int = 0
    decimals: int = 3
    round_up: bool = False
    rules: object | None = None
    team: Team | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Leg:
    """One station of one round with the numbers at its two ends, counted from the start of the lap."""

    round: int
    number: int
    station: Station
    done_before: int
    done_after: int
    scored_before: int
    scored_after: int
    expected_before_ms: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Position:
    """Where a count stands: round and station (both from 1), units done of the station, and the next marks.

    `next_mark` and `round_mark` are the cumulative numbers at the end of the station and of the round in progress.
    At the end of fixed work the position is the last station, complete.
    """

    round: int
    number: int
    station: Station
    station_done: int
    scored: int
    next_mark: int
    round_mark: int


class Plan:
    """The arithmetic of one workout: between `done` (units) and scored reps, and where a count stands.

    A lap is the whole list of rounds. `laps=1` is fixed work; `laps=None` repeats without end.
    """

    def __init__(self, workout: Workout, *, laps: int | None) -> None:
        self.workout = workout
        self.laps = laps
        self.legs = _legs(workout)
        self.rounds_a_lap = len(workout.rounds)
        self.lap_done = self.legs[-1].done_after
        self.lap_scored = self.legs[-1].scored_after
        self.lap_expected_ms = self.legs[-1].expected_before_ms + self.legs[-1].station.expected_ms
        self.total_done = None if laps is None else laps * self.lap_done
        self.total_scored = None if laps is None else laps * self.lap_scored
        self._done_ends = [leg.done_after for leg in self.legs]
        self._scored_ends = [leg.scored_after for leg in self.legs]
        self._ends: tuple[tuple[Mark, int], ...] = ()
        self._round_ends = {leg.round: leg.scored_after for leg in self.legs}

    def clamp(self, done: int) -> int:
        """Keep `done` inside the work there is."""
        return max(0, done) if self.total_done is None else min(max(0, done), self.total_done)

    def leg_at(self, done: int) -> tuple[int, Leg]:
        """Give the number of complete laps and the leg in progress after `done` units."""
        lap, within = divmod(done, self.lap_done)
        if self.laps is not None and lap >= self.laps:
            return self.laps - 1, self.legs[-1]
        return lap, self.legs[bisect_right(self._done_ends, within)]

    def position(self, done: int) -> Position:
        """Tell where `done` units stand."""
        lap, leg = self.leg_at(done)
        into = done - lap * self.lap_done - leg.done_before
        base = lap * self.lap_scored
        return Position(
            round=lap * self.rounds_a_lap + leg.round,
            number=leg.number,
            station=leg.station,
            station_done=into,
            scored=base + leg.scored_before + _credited(leg.station, into),
            next_mark=base + leg.scored_after,
            round_mark=base + self._round_ends[leg.round],
        )

    def scored(self, done: int) -> int:
        """Scored reps that `done` units are worth."""
        lap, leg = self.leg_at(done)
        into = done - lap * self.lap_done - leg.done_before
        return lap * self.lap_scored + leg.scored_before + _credited(leg.station, into)

    def done_for(self, scored: int) -> int:
        """The fewest units that are worth `scored` reps (clamped to the work there is)."""
        if self.total_scored is not None and scored >= self.total_scored:
            return self.lap_done * (self.laps or 1)
        lap, within = divmod(max(0, scored), self.lap_scored)
        leg = self.legs[bisect_right(self._scored_ends, within)]
        into = within - leg.scored_before
        return lap * self.lap_done + leg.done_before + into

    def block_end(self, done: int) -> int | None:
        """Units at the end of the block in progress after `done`, or None when the station is not a block."""
        lap, leg = self.leg_at(done)
        complete = done >= lap * self.lap_done + leg.done_after
        if leg.station.credit is not Credit.BLOCK or complete:
            return None
        return lap * self.lap_done + leg.done_after

    def done_at(self, mark: Mark) -> int:
        """Units done at the named mark. Raises KeyError when the workout has no such mark."""
        lap, round_in_lap = divmod(mark.round - 1, self.rounds_a_lap)
        if mark.round < 1 or (self.laps is not None and lap >= self.laps):
            raise KeyError(mark)
        for leg in self.legs:
            if (leg.round, leg.number) == (round_in_lap + 1, mark.station):
                return lap * self.lap_done + leg.done_after
        raise KeyError(mark)

    def station_ends(self, done: int) -> Sequence[tuple[Mark, int]]:
        """Name every station end reached with `done` units, and the units at it.

        Marks are made once, because many lanes pass them. A plan is shared with a thread: the kept ends are replaced by
        longer ones and never changed, so that every reader sees whole laps.
        """
        ends, laps = self._ends, done // self.lap_done + 1 if self.laps is None else self.laps
        if len(ends) < laps * len(self.legs):
            ends = (*ends, *self._ends_of(range(len(ends) // len(self.legs), laps)))
            self._ends = ends
        return ends[: bisect_right(ends, done, key=lambda each: each[1])]

    def _ends_of(self, laps: Iterable[int]) -> Iterator[tuple[Mark, int]]:
        for lap in laps:
            for leg in self.legs:
                mark = Mark(round=lap * self.rounds_a_lap + leg.round, station=leg.number)
                yield mark, lap * self.lap_done + leg.done_after


def _credited(station: Station, into: int) -> int:
    if station.credit is Credit.UNIT:
        return into
    return 1 if into >= station.amount else 0


def _legs(workout: Workout) -> tuple[Leg, ...]:
    flat = [
        (round_number, number, station)
        for round_number, stations in enumerate(workout.rounds, start=1)
        for number, station in enumerate(stations, start=1)
    ]
    done = [0, *accumulate(station.amount for _, _, station in flat)]
    scored = [0, *accumulate(station.scored for _, _, station in flat)]
    expected_ms = [0, *accumulate(station.expected_ms for _, _, station in flat)]
    return tuple(
        Leg(
            round=round_number,
            number=number,
            station=station,
            done_before=done[i],
            done_after=done[i + 1],
            scored_before=scored[i],
            scored_after=scored[i + 1],
            expected_before_ms=expected_ms[i],
        )
        for i, (round_number, number, station) in enumerate(flat)
    )
