"""A reader of the wire, written from docs/frames.md ("What the wire leaves out") alone: it shares no code with ours."""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

Frame = dict[str, Any]
Lane = dict[str, Any]


def whole(frame: Frame) -> Frame:
    """Give a frame with what was left out of its lanes, row for row of the page's table; the times are not in it."""
    if not frame.get("lanes") or "event" not in frame:
        return frame
    lanes = {name: dict(lane) for name, lane in frame["lanes"].items()}
    made = {**frame, "lanes": lanes}
    for fill in _ROWS:
        for lane in lanes.values():
            fill(made, lane)
    return made


def _scored(_: Frame, lane: Lane) -> None:
    left = lane["station_amount"] - lane["station_done"]
    off = min(left, 1) if lane["credit"] == "block" else left
    lane.setdefault("scored_reps", lane["next_mark"] - off)


def _place(frame: Frame, lane: Lane) -> None:
    more = [each for each in _division(frame, lane) if each["scored_reps"] > lane["scored_reps"]]
    lane.setdefault("place", 1 + len(more))


def _where(frame: Frame, lane: Lane) -> None:
    event = frame["event"]
    laps = (lane["round"] - 1) // event["rounds_a_lap"]
    own_round = [leg for leg in event["legs"] if leg["round"] == (lane["round"] - 1) % event["rounds_a_lap"] + 1]
    [leg] = [each for each in own_round if each["station"] == lane["station"]]
    scored = laps * event["lap_scored"]
    for name in ("movement", "unit", "credit"):
        lane.setdefault(name, leg[name])
    lane.setdefault("station_amount", leg["amount"])
    done = lane["done"] - laps * event["lap_done"]
    lane.setdefault("station_done", done - (leg["done_after"] - leg["amount"]))
    lane.setdefault("next_mark", scored + leg["scored_after"])
    lane.setdefault("round_mark", scored + max(each["scored_after"] for each in own_round))


def _shared(frame: Frame, lane: Lane) -> None:
    level = [each for each in _division(frame, lane) if each["place"] == lane["place"]]
    lane.setdefault("shared", len(level) > 1)


def _gaps(frame: Frame, lane: Lane) -> None:
    ahead = [each for each in _division(frame, lane) if each["place"] < lane["place"] and not each.get("held")]
    for name, choose in (("gap_leader", min), ("gap_next", max)):
        at = choose((each["place"] for each in ahead), default=0)
        most = max((each["scored_reps"] for each in ahead if each["place"] == at), default=0)
        lane.setdefault(name, max(0, most - lane["scored_reps"]) if ahead else 0)


def _result(frame: Frame, lane: Lane) -> None:
    if "total_scored" in frame["event"]:
        lane.setdefault("reps_to_go", frame["event"]["total_scored"] - lane["scored_reps"])
    lane.setdefault("result", f"{lane['scored_reps']} reps")


def _in_event(frame: Frame, lane: Lane) -> None:
    if "in_event" in lane:
        lane["in_event"] = {"place": lane["place"], "shared": lane["shared"], **lane["in_event"]}
        if "points" not in lane:
            lane["points"] = frame["worth"][lane["division"]][lane["in_event"]["place"] - 1]


def _division(frame: Frame, lane: Lane) -> list[Lane]:
    return [each for each in frame["lanes"].values() if each["division"] == lane["division"]]


_ROWS: tuple[Callable[[Frame, Lane], None], ...] = (_where, _scored, _place, _shared, _gaps, _result, _in_event)
