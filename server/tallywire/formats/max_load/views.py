"""What the pages show of lifts: the bar, the collars, the plates at hand, and every attempt."""

from __future__ import annotations

from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.formats.base import Tally
from tallywire.core.model.workout import Workout
from tallywire.core.views.format_views import FormatViews, Frame
from tallywire.formats.max_load.rules import rules_of
from tallywire.formats.max_load.tally import Attempt, attempts_of


class LiftViews(FormatViews):
    """Loads are thousandths of their unit."""

    def rules(self, workout: Workout) -> Frame:
        """Give `lifting`: what is loaded, and how many attempts there are at most."""
        rules = rules_of(workout)
        data: Frame = {
            "load_unit": rules.unit,
            "bar_milli": rules.bar_milli,
            "collar_milli": rules.collar_milli,
            "plates_milli": list(rules.plates_milli),
        }
        return {"lifting": data if rules.attempts is None else data | {"attempts_most": rules.attempts}}

    def work(self, tally: Tally, _workout: Workout) -> Frame:
        """Give the `attempts`, an open one without `made`."""
        return {"attempts": [_attempt(each) for each in attempts_of(tally)]}

    def call(self, state: HeatState, lane: LaneState) -> Frame:
        """Give the attempts: no lane can be timed against another."""
        return self.work(lane.tally, state.event.workout)


def _attempt(attempt: Attempt) -> Frame:
    data: Frame = {"load_milli": attempt.load_milli}
    return data if attempt.made is None else data | {"made": attempt.made}
