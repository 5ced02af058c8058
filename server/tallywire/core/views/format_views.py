"""What a format adds to frames: the facet that a format fills where a count and its marks do not say everything."""

from __future__ import annotations

from typing import Any

from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.formats.base import Tally
from tallywire.core.model.workout import Workout

Frame = dict[str, Any]


class FormatViews:
    """The questions that views ask a format, answered for a format that adds nothing."""

    def rules(self, _workout: Workout) -> Frame:
        """Give the workout's own rules as the pages need them, under the name they have in the competition file."""
        return {}

    def work(self, _tally: Tally, _workout: Workout) -> Frame:
        """Give what a lane has done under the format's rules, besides its count."""
        return {}

    def call(self, _state: HeatState, _lane: LaneState) -> Frame:
        """Give what the call says of a lane's work where that is not one count from start to end."""
        return {}
