"""What the pages show of intervals: the windows, and the work piece by piece."""

from __future__ import annotations

from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.formats.base import Status, Tally
from tallywire.core.gaps.pace import rate_now
from tallywire.core.model.workout import Plan, Workout
from tallywire.core.views.format_views import FormatViews, Frame
from tallywire.core.views.lane_work import misses_data, totals_data
from tallywire.formats.intervals.counting import piece_ms
from tallywire.formats.intervals.rules import rules_of
from tallywire.formats.intervals.tally import pieces_of


class IntervalViews(FormatViews):
    """Pieces are counted from 1."""

    def rules(self, workout: Workout) -> Frame:
        """Give `intervals`: how many pieces, how long they and the rests are, and which of them count."""
        rules = rules_of(workout)
        return {
            "intervals": {
                "piece_count": rules.pieces,
                "work_ms": rules.work_ms,
                "rest_ms": rules.rest_ms,
                "counts": rules.counts.value,
                "timed": rules.timed,
            }
        }

    def work(self, tally: Tally, _workout: Workout) -> Frame:
        """Give the units done by piece."""
        return {"pieces": [piece.done for piece in pieces_of(tally)]}

    def call(self, state: HeatState, lane: LaneState) -> Frame:
        """Give totals, what was done in each piece that has begun, and the rate inside the present piece."""
        pieces = [
            _piece(state.plan, number, piece) for number, piece in enumerate(pieces_of(lane.tally)) if piece.trail
        ]
        return {
            "totals": totals_data(state.plan, lane, pieces_of(lane.tally)),
            "piece_list": pieces,
            "pace": _pace(state, lane),
        }


def _piece(plan: Plan, number: int, piece: Tally) -> Frame:
    data: Frame = {"number": number + 1, "reps": plan.scored(piece.done)}
    took_ms = piece_ms(plan, piece, number, rules_of(plan.workout))
    return data if took_ms is None else data | {"ms": took_ms}


def _pace(state: HeatState, lane: LaneState) -> Frame:
    """The rate inside a piece; in the rest between two there is none."""
    rules, clock_ms = rules_of(state.event.workout), state.clock_ms
    works = clock_ms % (rules.work_ms + rules.rest_ms) < rules.work_ms
    rate = rate_now(lane.tally, clock_ms) if works and lane.status is Status.WORKING else None
    return misses_data(lane) | ({} if rate is None else {"rate": round(rate, 1)})
