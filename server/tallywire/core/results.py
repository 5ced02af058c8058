"""The result of a heat as rows, ready to print or to write as JSON."""

from __future__ import annotations

from dataclasses import asdict, dataclass

from tallywire.core.fold import HeatState, LaneState


@dataclass(frozen=True, slots=True, kw_only=True)
class ResultRow:
    """One line of a result. `result_ms` is None for who has no time."""

    place: int
    entry: str
    name: str
    division: str
    lane: int
    result: str
    result_ms: int | None
    scored_reps: int
    status: str
    no_reps: int
    points: int

    def as_data(self) -> dict[str, object]:
        """Give the row as plain data."""
        return asdict(self)


def result_rows(state: HeatState) -> list[ResultRow]:
    """Give the heat's lanes as rows: by division in the order of the file, then place, then lane."""
    divisions = list(dict.fromkeys(lane.entry.division for lane in state.lanes.values()))
    lanes = sorted(state.lanes.values(), key=lambda lane: (divisions.index(lane.entry.division), lane.place, lane.lane))
    return [_row(lane) for lane in lanes]


def _row(lane: LaneState) -> ResultRow:
    return ResultRow(
        place=lane.place,
        entry=lane.entry.id,
        name=lane.entry.name,
        division=lane.entry.division,
        lane=lane.lane,
        result=lane.outcome.result,
        result_ms=lane.outcome.result_ms,
        scored_reps=lane.scored_reps,
        status=lane.status.value,
        no_reps=lane.tally.no_reps,
        points=lane.points,
    )
