"""What the helper makes of a snapshot: the call and the standings of a heat, and when its lanes have stalled."""

from __future__ import annotations

import logging
from collections.abc import Callable, Mapping
from dataclasses import dataclass
from functools import partial
from typing import Any, Generic, TypeVar

from tallywire.core.call.steps import Sight, see
from tallywire.core.call.whole import listen, look_ahead, make_call, wants_outlook
from tallywire.core.fold.heat import HeatState
from tallywire.core.fold.snapshot import HeatSnapshot, Snapshot
from tallywire.core.forecast.answer import Forecast
from tallywire.core.forecast.format_forecast import model_of
from tallywire.core.forecast.of_heat import scene_of
from tallywire.core.model.competition import Competition
from tallywire.core.standings.change import StandingSight, sight_of
from tallywire.core.views.standings import standings_frame
from tallywire.shell.helper.port import Answer, Asked, Tools
from tallywire.shell.worked_out import CALL, STALLS, STANDINGS
from tallywire.wire.cue_wording import default_wording

S = TypeVar("S")
_log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True, kw_only=True)
class Recipe(Generic[S]):
    """`see` reads a snapshot, at once. `work_out` makes an answer from what was seen, and may run in another thread."""

    see: Callable[[Snapshot, HeatSnapshot], S]
    work_out: Callable[[S, Asked], Any]


def recipes(tools: Tools) -> dict[str, Recipe[Any]]:
    """Give every recipe by the name of what it makes."""
    return {
        CALL: Recipe(see=see, work_out=partial(_call, tools)),
        STANDINGS: Recipe(see=sight_of, work_out=partial(_standings, tools.competition)),
        STALLS: Recipe(see=lambda _snapshot, heat: heat.state, work_out=_stalls),
    }


def _call(tools: Tools, sight: Sight, asked: Asked) -> Answer:
    competition, log, desk = tools.competition, tools.log, asked.desk
    wording = default_wording(competition.language)
    kept = log is not None and log.wants(sight)
    outlook = _outlook(competition, sight) if asked.wanted or kept or wants_outlook(sight, desk) else None
    if log is not None and outlook is not None:
        log.keep(sight, outlook)
    listened = listen(competition, desk, sight, outlook)
    frame = make_call(competition, sight, outlook, desk=listened, wording=wording) if asked.wanted else None
    return Answer(desk=listened, frame=frame)


def _outlook(competition: Competition, sight: Sight) -> Forecast | None:
    """Give the forecast; None where it fails as well, because a call without a forecast is worth more than none."""
    try:
        return look_ahead(competition, sight)
    except Exception:
        # At the edge of the forecast: whatever is wrong in it, what is counted and what is needed stay on the page.
        _log.exception("the call of heat %s goes on without a forecast", sight.state.heat.id)
        return None


def _standings(competition: Competition, sight: StandingSight, asked: Asked) -> Answer:
    return Answer(desk=asked.desk, frame=standings_frame(competition, sight))


def _stalls(state: HeatState, _asked: Asked) -> Mapping[int, int]:
    """By lane, after how many milliseconds without a fact it has stalled."""
    return model_of(state.event.workout).stalls(scene_of(state))
