"""The table view, for senders only: what the scoring table and the lane pads need and no picture shows."""

from __future__ import annotations

from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.fold.result_status import ResultStatus
from tallywire.core.model.competition import Competition
from tallywire.core.model.workout import Workout
from tallywire.core.views.heat import Frame, heat_frame, lane_data
from tallywire.core.views.own_rules import work_data


def table_frame(competition: Competition, state: HeatState, life: ResultStatus) -> Frame:
    """Give the heat view with every lane, including those on medical hold, and how official the result is.

    `remarks` are for the scoring table to look at; `digest` is what a signature names.
    """
    heat = heat_frame(competition, state)
    return heat | {
        "view": "table",
        "order": list(state.order),
        "lanes": {str(lane.lane): _for_the_table(lane, state.event.workout) for lane in state.lanes.values()},
        "result": _result_data(life),
    }


def own_lane_frame(table: Frame, lane: int) -> Frame:
    """Give what a lane's link sees of the table view: its own lane alone, and of the result how far it is.

    Whether another lane is on medical hold, and why somebody has a penalty, is between table and head judge.
    """
    own = table["lanes"].get(str(lane))
    shown = {} if own is None else {str(lane): {name: value for name, value in own.items() if name != "penalties"}}
    order = [each for each in table["order"] if each == lane]
    rest = {name: value for name, value in table.items() if name not in ("too_close", "pads")}
    return {**rest, "order": order, "lanes": shown, "result": {"stage": table["result"]["stage"]}}


def _for_the_table(lane: LaneState, workout: Workout) -> Frame:
    if "table" not in lane.kept:
        lane.kept["table"] = _table_lane(lane, workout)
    data: Frame = lane.kept["table"]
    return data


def _table_lane(lane: LaneState, workout: Workout) -> Frame:
    conduct = lane.conduct
    return {
        **lane_data(lane),
        **work_data(lane.tally, workout),
        "held": conduct.held,
        "checked": conduct.checked,
        "remark_list": lane.tally.remarks[-20:],
        "penalties": [{"reps": each.reps, "ms": each.ms, "reason": each.reason} for each in conduct.penalties],
    }


def _result_data(life: ResultStatus) -> Frame:
    data: Frame = {
        "stage": life.stage.value,
        "digest": life.digest,
        "unchecked": list(life.unchecked),
        "changed": life.changed,
        "appeals": [
            {"lane": each.lane, "by": each.by, "reason": each.reason, "upheld": each.upheld} for each in life.appeals
        ],
    }
    return data if life.signed_by is None else data | {"signed_by": life.signed_by}
