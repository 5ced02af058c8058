"""How the state of a heat becomes the question for a forecast."""

from __future__ import annotations

from collections.abc import Mapping, Sequence

from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.forecast.model import History
from tallywire.core.forecast.scene import Runner, Scene
from tallywire.core.formats.counting import finish_ms


def scene_of(state: HeatState, *, worth: Sequence[float] = (), history: Mapping[str, History] | None = None) -> Scene:
    """Ask about a heat as of its clock.

    `worth` is what each place of the event earns (`points.worths`), `history` what is known of entries, by id. The
    rest of the event, the standing before it and what an earlier heat taught are added with `dataclasses.replace`.
    """
    known = history or {}
    return Scene(
        plan=state.plan,
        runners=[_runner(state, lane, known.get(lane.entry.id)) for lane in state.lanes.values()],
        now_ms=state.clock_ms,
        start_ms=0 if state.started is None else state.started.at_ms,
        ended_ms=state.ended_ms,
        worth=worth,
    )


def _runner(state: HeatState, lane: LaneState, history: History | None) -> Runner:
    return Runner(
        lane=lane.lane,
        entry=lane.entry.id,
        division=lane.entry.division,
        trail=lane.tally.trail,
        finish_ms=finish_ms(state.plan, lane.tally),
        out=not lane.status.has_result,
        penalty_ms=lane.conduct.penalty_ms,
        penalty_reps=lane.conduct.penalty_reps,
        history=history,
        place=lane.place,
        tally=lane.tally,
    )
