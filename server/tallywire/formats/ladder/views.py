"""What the pages show of a ladder: the window, and the next bar."""

from __future__ import annotations

from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.model.workout import Workout
from tallywire.core.views.format_views import FormatViews, Frame
from tallywire.core.views.lane_work import mark_data, misses_data, totals_data
from tallywire.formats.ladder.rules import rules_of


class LadderViews(FormatViews):
    """The bars themselves are the stations of the plan."""

    def rules(self, workout: Workout) -> Frame:
        """Give `ladder`: the window for each bar."""
        return {"ladder": {"window_ms": rules_of(workout).window_ms}}

    def call(self, state: HeatState, lane: LaneState) -> Frame:
        """Give the next bar, what was lifted so far, and how often a lift was missed."""
        pace: Frame = {"pace": misses_data(lane)} if lane.tally.done else {}
        return {**mark_data(state.plan, lane), "totals": totals_data(state.plan, lane, [lane.tally]), **pace}
