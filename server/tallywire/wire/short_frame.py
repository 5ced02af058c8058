"""What a frame need not say on the wire, because it follows from the rest of the frame (docs/frames.md lists it).

A tap changes what a lane has done, and with it a dozen numbers that anybody can work out from the workout and the
other lanes. The rules that depend on other lanes or on the format leave a value out only where they give that very
value, so a frame that is made whole again by the same rules is the frame that was shortened.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from typing import Any, NamedTuple

Frame = Mapping[str, Any]

_FROM_DONE = frozenset({"movement", "unit", "credit", "station_amount", "station_done", "next_mark", "round_mark"})
"""Where a lane is in the work follows from the units it has done."""
_TIMES = frozenset({"splits"})
_WITH_TIMES = "gaps"
"""The one view that has the time of every station end."""


class _Around(NamedTuple):
    """What the other lanes say of the lanes at one place: the scored reps of the best of all, and of those ahead."""

    shared: bool
    best: int | None
    ahead: int | None


class Shortener:
    """Shortens the frames of one view of one heat. A lane that is the same object as before is shortened once."""

    def __init__(self) -> None:
        self._lanes: dict[str, tuple[Frame, _Around, int | None, Frame]] = {}

    def shorten(self, frame: Frame) -> Frame:
        """Give the frame without what follows from the rest of it; one without lanes at work as it is."""
        lanes = frame.get("lanes")
        if not lanes or "event" not in frame:
            return frame
        away = _FROM_DONE if frame["view"] == _WITH_TIMES else _FROM_DONE | _TIMES
        total, around = frame["event"].get("total_scored"), _around(lanes.values())
        before, self._lanes = self._lanes, {}
        for name, lane in lanes.items():
            known, beside = before.get(name), around[lane["division"], lane["place"]]
            if known is None or known[0] is not lane or known[1] != beside or known[2] != total:
                known = (lane, beside, total, _short_lane(lane, beside, total, away))
            self._lanes[name] = known
        return {**frame, "lanes": {name: known[3] for name, known in self._lanes.items()}}


def _around(lanes: Iterable[Frame]) -> dict[tuple[str, int], _Around]:
    """Look round from each place of each division. Nothing is measured to a lane that is held."""
    scores: dict[tuple[str, int], list[int]] = {}
    for lane in lanes:
        at = scores.setdefault((lane["division"], lane["place"]), [0, -1])
        at[0] += 1
        if lane["scored_reps"] > at[1] and not lane.get("held"):
            at[1] = lane["scored_reps"]
    found: dict[tuple[str, int], _Around] = {}
    division, best, ahead = "", None, None
    for key in sorted(scores):
        if key[0] != division:
            division, best, ahead = key[0], None, None
        count, most = scores[key]
        found[key] = _Around(count > 1, best, ahead)
        if most >= 0:
            best, ahead = most if best is None else best, most
    return found


def _short_lane(lane: Frame, around: _Around, total: int | None, away: frozenset[str]) -> Frame:
    own = lane["scored_reps"]
    short = dict(lane)
    for name in away:
        del short[name]
    if lane["shared"] == around.shared:
        del short["shared"]
    if lane["result"] == f"{own} reps":
        del short["result"]
    if lane["gap_leader"] == _behind(around.best, own):
        del short["gap_leader"]
    if lane["gap_next"] == _behind(around.ahead, own):
        del short["gap_next"]
    if total is not None and lane.get("reps_to_go") == total - own:
        del short["reps_to_go"]
    if "in_event" in lane:
        short["in_event"] = _short_place(lane["in_event"], lane)
    return short


def _behind(scored: int | None, own: int) -> int:
    return 0 if scored is None or scored < own else scored - own


def _short_place(place: Frame, lane: Frame) -> Frame:
    """The place in the event says of `place` and `shared` only what differs from the heat."""
    return {name: value for name, value in place.items() if name not in ("place", "shared") or lane[name] != value}
