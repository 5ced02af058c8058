"""Frames made up of a few small numbers, so that what may be left out of a lane often follows and often does not."""

from __future__ import annotations

from typing import Any

from hypothesis import strategies as st

Frame = dict[str, Any]

_SMALL, _PLACE, _POINTS = st.integers(0, 4), st.integers(1, 4), st.sampled_from([0, 40, 62.5, 100])
_WORTH: st.SearchStrategy[Frame] = st.sampled_from([{}, {"a": [100, 62.5, 40]}, {"a": [100, 40, 40, 0], "b": [40]}])
_VIEWS = st.sampled_from(["heat", "gaps", "table"])


@st.composite
def series(draw: st.DrawFn) -> list[Frame]:
    """Give the frames of one view, one after the other; a lane that does not change is the same object again."""
    view, total = draw(_VIEWS), draw(st.sampled_from([None, 4, 6]))
    event = _event(draw(st.sampled_from(["unit", "unit", "block"])), total)
    lanes = {str(number): _lane(draw, number, event) for number in range(1, 1 + draw(st.integers(1, 5)))}
    frames: list[Frame] = []
    for _ in range(draw(st.integers(1, 5))):
        worth = draw(_WORTH)
        lanes = {name: _later(draw, lane, event, worth) for name, lane in lanes.items()}
        frames.append({"view": view, "event": event, "lanes": lanes} | ({"worth": worth} if worth else {}))
    return frames


def _event(credit: str, total: int | None) -> Frame:
    """Give an event of one station, which is all the work: a long one, or a block that a lane may complete."""
    amount, scored = (100, 100) if credit == "unit" else (4, 1)
    leg = {"round": 1, "station": 1, "movement": "row", "amount": amount, "unit": "rep", "credit": credit}
    leg |= {"done_after": amount, "scored_after": scored}
    lap = {"rounds_a_lap": 1, "lap_done": amount, "lap_scored": scored, "legs": [leg]}
    event = lap | {"laps": 1, "total_done": amount}
    return event if total is None else event | {"total_scored": total}


def _later(draw: st.DrawFn, lane: Frame, event: Frame, worth: Frame) -> Frame:
    """Give a lane as it was, with the points of its place, or another one."""
    change = draw(st.sampled_from(["none", "points", "all"]))
    if change == "all":
        return _lane(draw, lane["lane"], event)
    place, listed = lane.get("in_event", {}).get("place", 0), worth.get(lane["division"], [])
    return lane | {"points": listed[place - 1]} if change == "points" and 0 < place <= len(listed) else lane


def _lane(draw: st.DrawFn, number: int, event: Frame) -> Frame:
    """Give a lane; as in a frame of the server it has `reps_to_go` where the work has an end, and points with a place
    in the event."""
    [leg], total = event["legs"], event.get("total_scored")
    done, scored = draw(_SMALL), draw(_SMALL)
    lane: Frame = {
        "lane": number,
        "division": draw(st.sampled_from("ab")),
        "place": draw(_PLACE),
        "shared": draw(st.booleans()),
        "scored_reps": scored,
        "done": done,
        "round": 1,
        "station": 1,
        "movement": "row",
        "unit": "rep",
        "station_done": done,
        "station_amount": leg["amount"],
        "credit": leg["credit"],
        "next_mark": leg["scored_after"],
        "round_mark": leg["scored_after"],
        "gap_leader": draw(_SMALL),
        "gap_next": draw(_SMALL),
        "result": draw(st.sampled_from([f"{scored} reps", "CAP+1", "0:41"])),
        "splits": {},
    }
    if total is not None:
        lane["reps_to_go"] = draw(st.sampled_from([total - scored, 0]))
    if draw(st.booleans()):
        lane["held"] = draw(st.booleans())
    if draw(st.booleans()):
        lane["in_event"] = {"place": draw(_PLACE), "shared": draw(st.booleans()), "of": 5}
        lane["points"] = draw(_POINTS)
    return lane
