"""Who a view is about: a lane, an entry, a place, or somebody it follows. This is worked out here, so that every page
agrees.

A subject is text: `lane:4`, `entry:w07`, `place:3`, `leader`, `battle:3` (the fight for third: the lane on that place
and the one behind it), `finisher` (who came in last) or `fastest` (most work in the last half minute). With several
divisions in a heat, `leader`, `place:N` and `battle:N` speak of the division of the lowest lane; `@men` after them
names another.
"""

from __future__ import annotations

import re
from bisect import bisect_right
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import lru_cache

from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.formats.base import Status
from tallywire.core.model.workout import Plan

FASTEST_MS = 30_000
"""How far back `fastest` looks."""
_ID = r"[A-Za-z0-9][A-Za-z0-9._:-]{0,63}"
_FORMS = (
    re.compile(r"(?P<kind>fastest|finisher)"),
    re.compile(r"(?P<kind>lane):(?P<number>[1-9][0-9]?)"),
    re.compile(rf"(?P<kind>entry):(?P<entry>{_ID})"),
    re.compile(rf"(?P<kind>leader)(?:@(?P<division>{_ID}))?"),
    re.compile(rf"(?P<kind>place|battle):(?P<number>[1-9][0-9]?)(?:@(?P<division>{_ID}))?"),
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Subject:
    """A subject taken apart: its `kind`, and what it names."""

    kind: str
    number: int | None = None
    entry: str | None = None
    division: str | None = None

    @property
    def lanes(self) -> int:
        """How many lanes the subject is: a battle is two."""
        return 2 if self.kind == "battle" else 1


def parse_subject(text: str) -> Subject | None:
    """Take a subject apart; None when it is not one."""
    for form in _FORMS:
        match = form.fullmatch(text)
        if match is not None:
            found = match.groupdict()
            number = found.get("number")
            return Subject(
                kind=found["kind"],
                number=int(number) if number else None,
                entry=found.get("entry"),
                division=found.get("division"),
            )
    return None


def subject_lanes(state: HeatState) -> dict[str, list[int]]:
    """Give the lanes of every subject there is in this heat now; a subject with nobody is missing.

    A lane under a medical hold is nobody's subject: it may not go on the air by name or by place.
    """
    found: dict[str, list[int]] = {}
    for lane, each in state.lanes.items():
        if not each.conduct.held:
            found[f"lane:{lane}"] = found[f"entry:{each.entry.id}"] = [lane]
    for index, (division, order) in enumerate(_orders(state).items()):
        for name, lanes in _by_place(state, order):
            found[f"{name}@{division}"] = lanes
            if index == 0:
                found[name] = lanes
    for name, somebody in (("fastest", _fastest(state)), ("finisher", _finisher(state))):
        if somebody is not None:
            found[name] = [somebody]
    return found


def held_lanes(state: HeatState) -> list[int]:
    """Give the lanes under a medical hold."""
    return [lane for lane, each in state.lanes.items() if each.conduct.held]


def _orders(state: HeatState) -> Mapping[str, list[int]]:
    """Lanes from the best to the last, by division; first the division of the lowest lane."""
    orders: dict[str, list[int]] = {each.entry.division: [] for each in state.lanes.values()}
    for lane in state.order:
        if not state.lanes[lane].conduct.held:
            orders[state.lanes[lane].entry.division].append(lane)
    return orders


def _by_place(state: HeatState, order: list[int]) -> Iterator[tuple[str, list[int]]]:
    """Give the lanes of subjects that go by place. Before the first rep places mean nothing, so there are none."""
    shown = [lane for lane in state.order if not state.lanes[lane].conduct.held]
    if not shown or not state.lanes[shown[0]].tally.done:
        return
    if order and _counts(state.lanes[order[0]]):
        yield "leader", [order[0]]
    for index, lane in enumerate(order):
        if _counts(state.lanes[lane]):
            yield f"place:{index + 1}", [lane]
        if index + 1 < len(order) and _counts(state.lanes[order[index + 1]]):
            yield f"battle:{index + 1}", [lane, order[index + 1]]


def _counts(lane: LaneState) -> bool:
    return lane.status not in (Status.WITHDRAWN, Status.DID_NOT_START, Status.DISQUALIFIED)


def _finisher(state: HeatState) -> int | None:
    home = [lane for lane, each in state.lanes.items() if each.status is Status.FINISHED and not each.conduct.held]
    return max(home, key=lambda lane: state.lanes[lane].tally.reached_ms, default=None)


def _fastest(state: HeatState) -> int | None:
    """Give the working lane that did the largest share of its work in the last half minute; of two equal ones the
    better placed.

    Work is measured by the time it is expected to take, because a heavy lift and a light one count one rep each.
    """
    pace = {
        lane: _recent_work(state, state.lanes[lane])
        for lane in state.order
        if state.lanes[lane].status is Status.WORKING and not state.lanes[lane].conduct.held
    }
    best = max(pace, key=pace.__getitem__, default=None)
    return best if best is not None and pace[best] > 0 else None


def _recent_work(state: HeatState, lane: LaneState) -> int:
    trail = lane.tally.trail
    since = bisect_right(trail, state.clock_ms - FASTEST_MS, key=lambda point: point[0])
    before = trail[since - 1][1] if since else 0
    return _expected_ms(state.plan, lane.tally.done) - _expected_ms(state.plan, before)


@lru_cache(maxsize=4096)
def _expected_ms(plan: Plan, done: int) -> int:
    """The time that `done` units are expected to take, in milliseconds. Kept: every lane passes the same counts."""
    laps, rest = divmod(done, plan.lap_done)
    total = laps * plan.lap_expected_ms
    for leg in plan.legs:
        amount = leg.done_after - leg.done_before
        total += leg.station.expected_ms * min(max(rest - leg.done_before, 0), amount) // max(1, amount)
    return total
