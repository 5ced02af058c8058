"""What a frame need not say on the wire, because it follows from the rest of the frame (docs/frames.md lists it).

A tap changes what a lane has done, and with it a dozen numbers that anybody can work out from the workout and the
other lanes. The rules that depend on other lanes or on the format leave a value out only where they give that very
value, so a frame that is made whole again by the same rules is the frame that was shortened.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from typing import Any, NamedTuple

from tallywire.core.model.workout import Credit

Frame = Mapping[str, Any]

_FROM_DONE = frozenset({"movement", "unit", "credit", "station_amount", "station_done", "next_mark", "round_mark"})
"""Where a lane is in the work follows from the units it has done."""
_BY_UNITS = Credit.UNIT.value
_TIMES = frozenset({"splits"})
_WITH_TIMES = "gaps"
"""The one view that has the time of every station end."""
_Around = tuple[bool, int | None, int | None]
"""What the other lanes say of the lanes at one place: whether they share it, and the scored reps of the best of all and
of those ahead."""


class _Rest(NamedTuple):
    """What a frame says besides its lanes: the scored reps of all the work, and by division what a place is worth."""

    total: int | None
    worth: Mapping[str, Sequence[float]]


class Shortener:
    """Shortens the frames of one view of one heat. A lane that is the same object as before is shortened once."""

    def __init__(self) -> None:
        self._lanes: dict[str, tuple[Frame, _Around, int, Frame]] = {}
        self._rest: _Rest | None = None

    def shorten(self, frame: Frame) -> Frame:
        """Give the frame without what follows from the rest of it; one without lanes at work as it is."""
        lanes = frame.get("lanes")
        if not lanes or "event" not in frame:
            return frame
        away = _FROM_DONE if frame["view"] == _WITH_TIMES else _FROM_DONE | _TIMES
        rest = _Rest(frame["event"].get("total_scored"), frame.get("worth", {}))
        before = self._lanes if rest == self._rest else {}
        self._lanes, self._rest = {}, rest
        around, counts = _around(lanes.values()), _counts(lanes.values())
        for name, lane in lanes.items():
            known, division = before.get(name), lane["division"]
            beside, place = around[division, lane["place"]], counts[division].index(lane["scored_reps"]) + 1
            if known is None or known[0] is not lane or known[1] != beside or known[2] != place:
                known = (lane, beside, place, _short_lane(lane, beside, place, rest, away))
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
        found[key] = (count > 1, best, ahead)
        if most >= 0:
            best, ahead = most if best is None else best, most
    return found


def _counts(lanes: Iterable[Frame]) -> dict[str, list[int]]:
    """Give the scored reps of the lanes of each division, the most first: a count stands behind those that are more."""
    found: dict[str, list[int]] = {}
    for lane in lanes:
        found.setdefault(lane["division"], []).append(lane["scored_reps"])
    for each in found.values():
        each.sort(reverse=True)
    return found


def _short_lane(lane: Frame, around: _Around, place: int, rest: _Rest, away: frozenset[str]) -> Frame:
    """Give what a lane has to say; `place` is the one that its scored reps give."""
    short = dict(lane)
    for name in away:
        del short[name]
    _drop_of_its_count(short, lane, rest.total)
    _drop_of_the_others(short, lane, around, place)
    if "in_event" in lane:
        if lane["points"] == _worth(lane, rest.worth):
            del short["points"]
        short["in_event"] = _short_place(lane["in_event"], lane)
    return short


def _drop_of_its_count(short: dict[str, Any], lane: Frame, total: int | None) -> None:
    own = lane["scored_reps"]
    left = lane["station_amount"] - lane["station_done"]
    if own == lane["next_mark"] - (left if lane["credit"] == _BY_UNITS else left > 0):
        del short["scored_reps"]
    if lane["result"] == f"{own} reps":
        del short["result"]
    if total is not None and lane.get("reps_to_go") == total - own:
        del short["reps_to_go"]


def _drop_of_the_others(short: dict[str, Any], lane: Frame, around: _Around, place: int) -> None:
    own, (shared, best, ahead) = lane["scored_reps"], around
    if lane["place"] == place:
        del short["place"]
    if lane["shared"] == shared:
        del short["shared"]
    if lane["gap_leader"] == _behind(best, own):
        del short["gap_leader"]
    if lane["gap_next"] == _behind(ahead, own):
        del short["gap_next"]


def _behind(scored: int | None, own: int) -> int:
    return 0 if scored is None or scored < own else scored - own


def _worth(lane: Frame, worth: Mapping[str, Sequence[float]]) -> float | None:
    """What the lane's place in the event is worth by the list of its division; None beyond its end."""
    place, listed = lane["in_event"]["place"], worth.get(lane["division"], ())
    return listed[place - 1] if place <= len(listed) else None


def _short_place(place: Frame, lane: Frame) -> Frame:
    """The place in the event says of `place` and `shared` only what differs from the heat."""
    return {name: value for name, value in place.items() if name not in ("place", "shared") or lane[name] != value}
