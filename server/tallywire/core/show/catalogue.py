"""The on-air views: what each is called, what it takes, and what it needs before it may go to programme.

A view that lacks something is refused with the reason, which the desk shows beside it. To add a view, add a line to
`CATALOGUE` and a file of that name in overlay/air/views; a test holds the two together.

Every view takes `heat` (a heat's id; without it, whichever heat is on the floor). A view about somebody takes `who`:
one or more subjects with commas between (see `core/show/subjects.py`); a view of a whole heat may take it to mark
somebody. A view of a whole event takes `part`, one of its scores (without it, the first).
"""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from dataclasses import dataclass, replace

from tallywire.core.errors import Problem
from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.formats.base import Status
from tallywire.core.show.subjects import Subject, parse_subject, subject_lanes
from tallywire.core.show.surroundings import Surroundings

Reason = str | None
EVERYTHING = Surroundings()
"""Nothing is known to be missing around the heat."""


def _nothing(_state: HeatState, _around: Surroundings) -> Reason:
    return None


def _no_lane_need(_lane: LaneState) -> Reason:
    return None


@dataclass(frozen=True, slots=True, kw_only=True)
class OnAirView:
    """One view. It is about `least` to `most` lanes (0: the whole heat; 0 to 1: one lane may be named).

    `parts` says that it may show one of several scores. `needs` and `needs_of` say what a heat, or one of those lanes,
    lacks; None when it may go on the air.
    """

    name: str
    title: str
    least: int = 0
    most: int = 0
    parts: bool = False
    needs: Callable[[HeatState, Surroundings], Reason] = _nothing
    needs_of: Callable[[LaneState], Reason] = _no_lane_need


@dataclass(frozen=True, slots=True, kw_only=True)
class Known:
    """The names a rundown may use: the entries by lane of each heat, the divisions, and the parts of events."""

    heats: Mapping[str, Mapping[int, str]]
    divisions: frozenset[str]
    parts: frozenset[str] = frozenset()


def _lanes(state: HeatState, _around: Surroundings) -> Reason:
    return None if state.lanes else "nobody is on a lane of this heat"


def _started(state: HeatState, _around: Surroundings) -> Reason:
    return None if state.started else "the heat has not started"


def _running(state: HeatState, around: Surroundings) -> Reason:
    return _started(state, around) or ("the heat is over" if state.over else None)


def _over(state: HeatState, around: Surroundings) -> Reason:
    return _lanes(state, around) or _started(state, around) or (None if state.over else "the heat still runs")


def _raced(_state: HeatState, around: Surroundings) -> Reason:
    return None if around.raced else "no heat of the event has started"


def _exact(_state: HeatState, around: Surroundings) -> Reason:
    return None if around.exact else "what is needed has no exact answer here"


def _next(_state: HeatState, around: Surroundings) -> Reason:
    return None if around.next else "no heat comes after this one"


def _finished(lane: LaneState) -> Reason:
    return None if lane.status is Status.FINISHED else f"lane {lane.lane} has not finished"


def _in_the_heat(lane: LaneState) -> Reason:
    gone = {Status.WITHDRAWN: "withdrew", Status.DID_NOT_START: "did not start", Status.DISQUALIFIED: "is disqualified"}
    return f"lane {lane.lane} {gone[lane.status]}" if lane.status in gone else None


CATALOGUE: Mapping[str, OnAirView] = {
    each.name: each
    for each in (
        OnAirView(name="heat", title="Heat standing", needs=_lanes),
        OnAirView(name="athlete", title="One athlete", least=1, most=1, needs_of=_in_the_heat),
        OnAirView(name="finish", title="Finish card", least=1, most=1, needs=_started, needs_of=_finished),
        OnAirView(name="duel", title="Two athletes", least=2, most=2, needs_of=_in_the_heat),
        OnAirView(name="pace", title="Pace chart", least=1, most=4, needs=_started, needs_of=_in_the_heat),
        OnAirView(name="track", title="Track", needs=_lanes),
        OnAirView(name="workout", title="Workout card"),
        OnAirView(name="clock", title="Clock corner", needs=_started),
        OnAirView(name="runin", title="Cap run-in", needs=_running),
        OnAirView(name="result", title="Heat result", needs=_over),
        OnAirView(name="event", title="Event result", most=1, parts=True, needs=_raced),
        OnAirView(name="standings", title="Standings before and after", most=1, needs=_raced),
        OnAirView(name="needed", title="What is needed", least=1, most=1, needs=_exact, needs_of=_in_the_heat),
        OnAirView(name="lineup", title="Lane introductions", most=1, needs=_lanes),
        OnAirView(name="next", title="Next heat", needs=_next),
    )
}


def missing(view: str, params: Mapping[str, str], state: HeatState, around: Surroundings = EVERYTHING) -> Reason:
    """Say what a known view with sound parameters lacks in this state of its heat; None when it may be taken."""
    known = CATALOGUE[view]
    reason = known.needs(state, around) or _no_part(params, state)
    if reason is not None or "who" not in params:
        return reason
    found = subject_lanes(state)
    lanes: list[int] = []
    for subject in params["who"].split(","):
        if subject not in found:
            return _nobody(subject, state)
        lanes += [lane for lane in found[subject] if lane not in lanes]
    if len(lanes) < known.least:
        return f"found {len(lanes)} lanes, expected {known.least}: two of the subjects are the same now"
    return next((reason for reason in (known.needs_of(state.lanes[lane]) for lane in lanes) if reason), None)


def _no_part(params: Mapping[str, str], state: HeatState) -> Reason:
    if "part" not in params or params["part"] in {part.id for part in state.event.parts}:
        return None
    return f"the event of this heat has no score {params['part']}"


def missing_by_lane(state: HeatState, around: Surroundings = EVERYTHING) -> dict[str, dict[str, str]]:
    """Give what every view lacks now: under `heat` for any lane, under a lane's number for that lane alone."""
    table: dict[str, dict[str, str]] = {}
    for view in CATALOGUE.values():
        reasons = {"heat": view.needs(state, around)}
        if view.most and reasons["heat"] is None:
            reasons |= {str(lane): view.needs_of(each) for lane, each in state.lanes.items()}
        present = {name: reason for name, reason in reasons.items() if reason is not None}
        if present:
            table[view.name] = present
    return table


def problems(path: str, view: str, params: Mapping[str, str], known: Known) -> Iterator[Problem]:
    """Give what is wrong with a view's name and parameters, whatever the state of the heat."""
    if view not in CATALOGUE:
        yield Problem(f"{path}.view", f'"{view}"', f"a view: {', '.join(CATALOGUE)}")
        return
    takes = ["heat"] + (["who"] if CATALOGUE[view].most else []) + (["part"] if CATALOGUE[view].parts else [])
    for name in params:
        if name not in takes:
            yield Problem(f"{path}.{name}", f'"{params[name]}"', f"only what {view} takes: {', '.join(takes)}")
    if "part" in takes and params.get("part", "") not in {"", *known.parts}:
        expected = f"a scored part of an event: {', '.join(sorted(known.parts)) or 'this file has none'}"
        yield Problem(f"{path}.part", f'"{params["part"]}"', expected)
    heat = params.get("heat")
    if heat is not None and heat not in known.heats:
        yield Problem(f"{path}.heat", f'"{heat}"', f"a heat of this file: {', '.join(known.heats)}")
    elif "who" in takes:
        yield from _who_problems(f"{path}.who", params.get("who"), CATALOGUE[view], _places(known, heat))


def _places(known: Known, heat: str | None) -> Known:
    return known if heat is None else replace(known, heats={heat: known.heats[heat]})


def _who_problems(path: str, who: str | None, view: OnAirView, known: Known) -> Iterator[Problem]:
    if who is None:
        if view.least:
            yield Problem(path, "nothing", 'who the view is about, such as "lane:4" or "leader"')
        return
    lanes = 0
    for text in who.split(","):
        subject = parse_subject(text)
        if subject is None:
            yield Problem(path, f'"{text[:40]}"', "lane:N, entry:ID, place:N, leader, battle:N, finisher or fastest")
            return
        lanes += subject.lanes
        yield from _name_problems(path, text, subject, known)
    least = max(view.least, 1)
    if not least <= lanes <= view.most:
        span = str(least) if least == view.most else f"{least} to {view.most}"
        yield Problem(path, f"{lanes} lanes", f"{span} for {view.name}")


def _name_problems(path: str, text: str, subject: Subject, known: Known) -> Iterator[Problem]:
    heats = list(known.heats.values())
    if subject.kind == "lane" and not any(subject.number in lanes for lanes in heats):
        yield Problem(path, f'"{text}"', "a lane of the heat, or of any heat of this file")
    if subject.entry is not None and not any(subject.entry in lanes.values() for lanes in heats):
        yield Problem(path, f'"{text}"', "an entry on a lane of the heat, or of any heat of this file")
    if subject.division is not None and subject.division not in known.divisions:
        yield Problem(path, f'"{text}"', f"a division of this file: {', '.join(sorted(known.divisions))}")


def _nobody(subject: str, state: HeatState) -> str:
    parsed = parse_subject(subject)
    if parsed is not None and parsed.kind == "lane" and parsed.number in state.lanes:
        return f"lane {parsed.number} is under a medical hold"
    if parsed is not None and parsed.kind in ("lane", "entry"):
        return f"{subject.replace(':', ' ', 1)} is not in this heat"
    kind, number = ("", None) if parsed is None else (parsed.kind, parsed.number)
    return _NOBODY.get(kind, "nobody is meant").format(number=number)


_NOBODY = {
    "finisher": "nobody has come in yet",
    "leader": "nobody is the leader now",
    "fastest": "nobody is the fastest now",
    "place": "nobody is in place {number} now",
    "battle": "nobody fights for place {number} now",
}
