"""The result view: one heat with what its places are worth, and how official its result is."""

from __future__ import annotations

from collections.abc import Mapping

from tallywire.core.fold.heat import HeatState
from tallywire.core.fold.result_status import Stage
from tallywire.core.model.competition import Competition
from tallywire.core.standings.in_event import InEvent
from tallywire.core.views.heat import Frame, heat_frame


def result_frame(competition: Competition, state: HeatState, stage: Stage, in_event: Mapping[int, InEvent]) -> Frame:
    """Give the heat view with the stage of its result, which says how every picture of it must be marked."""
    return heat_frame(competition, state, in_event) | {"view": "result", "result": {"stage": stage.value}}
