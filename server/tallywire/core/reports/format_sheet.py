"""What a format prints on a judge's scoresheet: the facet it fills where lines for its stations are not enough."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from enum import Enum

from tallywire.core.formats.registry import format_of
from tallywire.core.model.competition import Event, Measure
from tallywire.core.model.workout import Credit, Leg, Mark, Plan, Station, Workout
from tallywire.core.reports.say import Saying

_MOST_LAPS = 30
_ROOM = 1.5
"""A sheet of repeating rounds has room for half as much again as fits into the time at the expected pace."""


class Blank(Enum):
    """A place on paper for a pen: a line to write on, or a box to tick."""

    WRITE = "write"
    BOX = "box"


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetLine:
    """One station of one round: the work, the division's load, and the cumulative number at its end.

    `ends_round` is True on the last station of a round. `note` says what else is written down there.
    """

    round: int
    work: str
    load: str
    cumulative: int
    ends_round: bool
    note: str = ""


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetGrid:
    """A table of a format's own, to be filled in."""

    title: str
    columns: tuple[str, ...]
    rows: Sequence[Sequence[str | Blank]]


@dataclass(frozen=True, slots=True, kw_only=True)
class SheetPiece:
    """The lines of one piece of work, or a grid instead; `name` is empty when there is only one.

    `summary` describes the work in one sentence, where the lines do not.
    """

    name: str = ""
    lines: tuple[SheetLine, ...] = ()
    grid: SheetGrid | None = None
    summary: str = ""


class FormatSheet:
    """The questions that a scoresheet asks a format, answered for stations counted in one piece.

    `say` gives the words in the language of the sheet; a format's own stand in table `paper` of its `languages/`.
    """

    def pieces(self, event: Event, division: str, say: Saying) -> list[SheetPiece]:
        """Give what is printed for a division in an event."""
        return [SheetPiece(lines=self.lines(event, division, say, until_ms=event.workout.time_cap_ms))]

    def to_write(self, _workout: Workout, say: Saying) -> list[str]:
        """Give what the judge writes at the foot of the sheet."""
        return [say("paper.final_count")]

    def equipment(self, _workout: Workout, _say: Saying) -> str:
        """Say what is at hand, for the head of the sheet."""
        return ""

    def note(self, _plan: Plan, _leg: Leg, _say: Saying) -> str:
        """Say what else is written at the end of a station."""
        return ""

    def result(self, result: str, _say: Saying) -> str:
        """Give a result of the format's own kind in words."""
        return result

    def lines(self, event: Event, division: str, say: Saying, *, until_ms: int) -> tuple[SheetLine, ...]:
        """Give a line for every station; for work without an end, as many as fit into a time."""
        plan = format_of(event.workout).counting.plan(event.workout)
        last = {leg.round: leg.number for leg in plan.legs}
        return tuple(
            SheetLine(
                round=lap * plan.rounds_a_lap + leg.round,
                work=_work(leg.station, say),
                load=leg.station.loads.get(division, ""),
                cumulative=lap * plan.lap_scored + leg.scored_after,
                ends_round=leg.number == last[leg.round],
                note=", ".join(filter(None, (_timed(event, plan, lap, leg, say), self.note(plan, leg, say)))),
            )
            for lap in range(_laps(plan, until_ms))
            for leg in plan.legs
        )


def _laps(plan: Plan, until_ms: int) -> int:
    if plan.laps is not None:
        return plan.laps
    lap_ms = plan.lap_expected_ms
    return max(1, min(_MOST_LAPS, int(until_ms * _ROOM / lap_ms) + 1))


def _work(station: Station, say: Saying) -> str:
    amount = str(station.amount) if station.unit == "reps" else say(f"shared.{station.unit}", n=station.amount)
    work = say("paper.amount_of", amount=amount, movement=station.movement)
    return say("paper.counts_one", work=work) if station.credit is Credit.BLOCK else work


def _timed(event: Event, plan: Plan, lap: int, leg: Leg, say: Saying) -> str:
    """Whether the judge writes a time at this mark, because places depend on it."""
    here = Mark(round=lap * plan.rounds_a_lap + leg.round, station=leg.number)
    return say("paper.time") if here in [*_marks(event), event.workout.tie_break] else ""


def _marks(event: Event) -> Iterable[Mark | None]:
    return (part.mark for part in event.parts if part.measure is Measure.TIME_AT)
