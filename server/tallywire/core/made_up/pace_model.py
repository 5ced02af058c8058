"""A model of pace and fatigue: when each unit of a workout is done by one athlete. Pure: same arguments, same moments.

What the numbers mean, and where they come from (all common practice, no source):

- `Effort`, one for each movement: the time of a unit for a fresh athlete of skill 1, how much single units differ, how
  many go unbroken, the rest between sets, and how often an attempt does not meet the standard. Light barbell-like work
  cycles at 20–35 units a minute.
- `Athlete`: `skill` divides every time. `fade` is how much slower the athlete is at the worst point than at the start;
  0.05–0.25 for most, less for the best. `strengths` multiply the time of a movement (0.95: five per cent faster).
  `mood` is how far the pace may wander at each unit; what it was before is remembered (`MEMORY`).
  A transition to the next station takes 3–10 s. `stalls` and `no_reps` are what is meant to happen to this athlete,
  beside what the dice bring.
- `TIREDNESS`: how much of the fade is felt after each part of the work. Pace breaks three quarters of the way, and
  the sight of the end brings a little of it back.

Only `random()` of the generator handed in is used, and no function of a maths library: the same seed gives the same
moments on every platform and every Python (its documentation promises as much for `random()` alone).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from itertools import count, cycle, pairwise
from typing import Protocol

from tallywire.core.formats.registry import format_of
from tallywire.core.model.workout import Station, Workout

TIREDNESS = ((0.0, 0.0), (0.25, 0.25), (0.5, 0.5), (0.75, 1.0), (1.0, 0.9))
"""Points (part of the work done, part of the fade felt), straight lines between them."""

HEAVIEST_FADE = 0.25
"""The fade at which an athlete's sets come down to half their fresh size."""

MEMORY = 0.985
"""So much of the mood of the last unit is left at the next one: half of it after some fifty."""


class Dice(Protocol):
    """Where chance comes from: a `random.Random`, of which only this is used."""

    def random(self) -> float:
        """Give a number from 0 up to 1."""
        ...


@dataclass(frozen=True, slots=True, kw_only=True)
class Effort:
    """How a movement goes for a fresh athlete of skill 1. `unbroken` is None where nobody breaks the work into sets."""

    unit_ms: float
    jitter: float = 0.1
    unbroken: int | None = None
    rest_ms: float = 3_000
    no_rep_chance: float = 0.0
    no_rep_reasons: tuple[str, ...] = ("standard not met",)


@dataclass(frozen=True, slots=True, kw_only=True)
class Point:
    """A unit of the work: the `unit`-th of station `station` in round `round`, all counted from 1."""

    round: int
    station: int
    unit: int


@dataclass(frozen=True, slots=True, kw_only=True)
class Stall:
    """The athlete stands still for `ms` before the unit at `at`."""

    at: Point
    ms: float


@dataclass(frozen=True, slots=True, kw_only=True)
class Athlete:
    """What makes one athlete differ from another; see the module's docstring."""

    skill: float = 1.0
    fade: float = 0.12
    strengths: Mapping[str, float] = field(default_factory=dict)
    transition_ms: tuple[float, float] = (3_700, 6_000)
    stalls: tuple[Stall, ...] = ()
    no_reps: Mapping[Point, str] = field(default_factory=dict)
    mood: float = 0.0


@dataclass(frozen=True, slots=True, kw_only=True)
class UnitDone:
    """At `at_ms` the unit at `at` was done, or tried in vain: then `no_rep` says why."""

    at_ms: float
    at: Point
    no_rep: str = ""


def tiredness(progress: float) -> float:
    """Give how much of the fade is felt (0 to 1) when `progress` (0 to 1) of the work is behind the athlete."""
    for (left, low), (right, high) in pairwise(TIREDNESS):
        if progress <= right:
            return low + (high - low) * (progress - left) / (right - left)
    return TIREDNESS[-1][1]


def perform(workout: Workout, efforts: Mapping[str, Effort], athlete: Athlete, dice: Dice) -> Iterator[UnitDone]:
    """Give the moments of one athlete in order: to the end of the rounds, or without end where they repeat."""
    at_ms, mood = 0.0, _Mood()
    for number, stations, progress in _rounds(workout):
        for at_station, station in enumerate(stations, start=1):
            tired = tiredness(progress if progress is not None else min(1.0, at_ms / workout.time_cap_ms))
            body = _AtStation(athlete, efforts[station.movement], station, tired, dice, mood)
            at_ms += body.transition()
            for at, took_ms, no_rep in body.attempts(number, at_station):
                at_ms += took_ms
                yield UnitDone(at_ms=at_ms, at=at, no_rep=no_rep)


def _rounds(workout: Workout) -> Iterable[tuple[int, tuple[Station, ...], float | None]]:
    """Number the rounds; the part of the work behind the athlete is None where only the clock tells it."""
    if format_of(workout).counting.plan(workout).total_done is None:
        return ((number, stations, None) for number, stations in zip(count(1), cycle(workout.rounds), strict=False))
    last = max(1, len(workout.rounds) - 1)
    return ((number, stations, (number - 1) / last) for number, stations in enumerate(workout.rounds, start=1))


@dataclass(slots=True)
class _Mood:
    """By how much somebody is off their pace now, a little more or less at each unit."""

    off: float = 0.0

    def next(self, step: float, dice: Dice) -> float:
        """Give what the next unit's time is multiplied by. Who has no moods needs no dice."""
        if not step:
            return 1.0
        self.off = MEMORY * self.off + step * (dice.random() + dice.random() - 1)
        return max(0.5, 1 + self.off)


@dataclass(frozen=True, slots=True)
class _AtStation:
    """One athlete at one station, as tired as they are."""

    athlete: Athlete
    effort: Effort
    station: Station
    tired: float
    dice: Dice
    mood: _Mood

    def transition(self) -> float:
        low, high = self.athlete.transition_ms
        return (low + (high - low) * self.dice.random()) * self._slowed()

    def attempts(self, number: int, at_station: int) -> Iterator[tuple[Point, float, str]]:
        """Give each attempt: the unit, the time since the last one, and why it failed ("": it did not)."""
        set_size = self._set_size()
        for unit in range(1, self.station.amount + 1):
            at = Point(round=number, station=at_station, unit=unit)
            waited = self._rest() if unit > 1 and (unit - 1) % set_size == 0 else 0.0
            waited += sum(stall.ms for stall in self.athlete.stalls if stall.at == at)
            for reason in self._failures(at):
                yield at, waited + self._unit(), reason
                waited = 0.0
            yield at, waited + self._unit(), ""

    def _slowed(self) -> float:
        return (1 + self.athlete.fade * self.tired) / self.athlete.skill

    def _about(self, ms: float, spread: float) -> float:
        """Scatter a time by up to `spread` either way, near its middle more often than at its ends."""
        return ms * (1 + spread * (self.dice.random() + self.dice.random() - 1))

    def _unit(self) -> float:
        strength = self.athlete.strengths.get(self.station.movement, 1.0)
        mood = self.mood.next(self.athlete.mood, self.dice)
        return self._about(self.effort.unit_ms, self.effort.jitter) * strength * mood * self._slowed()

    def _rest(self) -> float:
        return self._about(self.effort.rest_ms, 0.4) * self._slowed()

    def _set_size(self) -> int:
        """Give the size of the sets, as equal as they come: nobody does nine and then one."""
        if self.effort.unbroken is None:
            return self.station.amount
        spent = min(1.0, self.athlete.fade / HEAVIEST_FADE) * self.tired / 2
        longest = max(1, round(self.effort.unbroken * (1 - spent)))
        sets = -(-self.station.amount // longest)
        return -(-self.station.amount // sets)

    def _failures(self, at: Point) -> Iterator[str]:
        if at in self.athlete.no_reps:
            yield self.athlete.no_reps[at]
        while self.dice.random() < self.effort.no_rep_chance * (1 + self.tired):
            yield self.effort.no_rep_reasons[int(self.dice.random() * len(self.effort.no_rep_reasons))]
