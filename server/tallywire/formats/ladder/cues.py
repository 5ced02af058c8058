"""Cues of a ladder: who is out at which bar, who is the last one in, and whose bar is still open near the end of its
window.

All lanes do the same bar in the same window, so the lane that happens to lift first has not taken a lead, and there is
no cue for it.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from typing import ClassVar

from tallywire.core.cues.cue import Cue, CueRules, Kind, Value
from tallywire.core.cues.format_cues import FormatCues
from tallywire.core.cues.observation import Observation, Said
from tallywire.core.cues.wins import won
from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.formats.base import Status
from tallywire.core.model.workout import Workout
from tallywire.formats.ladder.rules import rules_of

LAST_LEFT = Kind("last_left", weight=78, ttl_ms=30_000)
OUT = Kind("out", weight=65, ttl_ms=20_000)
BAR_OPEN = Kind("bar_open", weight=48, ttl_ms=15_000)
BAR_OPEN_MS = 15_000
"""How long before its window closes an open bar is told; of a short window, half (common practice, no source)."""


class LadderCues(FormatCues):
    """The cues of the bars: who is out, who is left, and whose window is closing."""

    kinds: ClassVar[tuple[Kind, ...]] = (LAST_LEFT, OUT, BAR_OPEN)
    has_run_in: ClassVar[bool] = False

    def milestones(self, observation: Observation, rules: CueRules, lanes: list[LaneState]) -> Iterator[Cue]:
        """Give the cues of the bars. A cue that a late lift could change waits a moment."""
        return _ladder_cues(observation, rules, lanes)

    def leads_are_live(self, _workout: Workout) -> bool:
        """There is no such leader: all do the same bar in the same window, and lifting first is no lead."""
        return False

    def misses(self, observation: Observation, lane: LaneState) -> Said | None:
        """Tell of missed lifts, and at which bar."""
        return "no_lifts", bar_values(observation.state, lane)


def _ladder_cues(observation: Observation, rules: CueRules, lanes: Sequence[LaneState]) -> Iterator[Cue]:
    settled_ms = observation.clock_ms - rules.finish_settles_ms
    if len(lanes) < 2:
        return
    if any(lane.status in (Status.WORKING, Status.READY) for lane in lanes):
        yield from _outs(observation, lanes, settled_ms)
        yield from _last_left(observation, lanes, settled_ms)
        yield from _completed(observation, lanes, settled_ms)
        yield from _open_bars(observation, lanes)
    else:
        yield from _win(observation, lanes, settled_ms)


def bars_done(state: HeatState, lane: LaneState) -> int:
    """How many whole bars a lane has made."""
    return sum(leg.done_after <= lane.tally.done for leg in state.plan.legs)


def bar_values(state: HeatState, lane: LaneState) -> dict[str, Value]:
    """The bar a lane is at, counted from 1, and its load as the competition file writes it, if it has one."""
    number = min(bars_done(state, lane) + 1, len(state.plan.legs))
    load = state.plan.legs[number - 1].station.loads.get(lane.entry.division)
    return {"bar": number} if load is None else {"bar": number, "load": load}


def _window_ms(state: HeatState) -> int:
    return rules_of(state.event.workout).window_ms


def _out_ms(observation: Observation, lane: LaneState) -> int | None:
    """When a lane went out on an open bar; None while it is still in, or if the end of the heat stopped it."""
    closes_ms = (bars_done(observation.state, lane) + 1) * _window_ms(observation.state)
    return closes_ms if lane.status is Status.TIMED and closes_ms <= observation.end_ms else None


def _outs(observation: Observation, lanes: Sequence[LaneState], settled_ms: int) -> Iterator[Cue]:
    """One cue for all who went out at the same bar."""
    state, shown = observation.state, [lane for lane in lanes if not lane.conduct.held]
    by_bar: dict[int, list[LaneState]] = {}
    for lane in shown:
        at_ms = _out_ms(observation, lane)
        if at_ms is not None and at_ms <= settled_ms:
            by_bar.setdefault(bars_done(state, lane), []).append(lane)
    for bars, out in by_bar.items():
        left = sum(lane.status.has_result and bars_done(state, lane) > bars for lane in shown)
        if left:
            yield _out(observation, out, bars, left)


def _out(observation: Observation, out: Sequence[LaneState], bars: int, left: int) -> Cue:
    first, state = out[0], observation.state
    names, numbers = {"name": first.entry.short}, {**bar_values(state, first), "left": left}
    if len(out) == 1:
        template, position = "out_one", first.position
        numbers |= {"lifts": position.station_done, "of": position.station.amount}
    elif len(out) == 2:
        template, names["other"] = "out_two", out[1].entry.short
    else:
        template, numbers["count"] = "out_some", len(out)
    return observation.cue(
        OUT,
        template,
        f"{first.entry.division}/{bars}",
        tuple(out),
        at_ms=(bars + 1) * _window_ms(state),
        behind=first.place - 1,
        **names,
        **numbers,
    )


def _last_left(observation: Observation, lanes: Sequence[LaneState], settled_ms: int) -> Iterator[Cue]:
    """The only lane still in, if it has more bars than anybody, so that it cannot be caught."""
    first, others = lanes[0], lanes[1:]
    outs = [at_ms for lane in others if (at_ms := _out_ms(observation, lane)) is not None]
    gone = [lane.conduct.withdrawn_ms or 0 for lane in others if not lane.status.has_result]
    alone = first.status is Status.WORKING and not first.place_shared and len(outs) + len(gone) == len(others)
    if alone and outs and max(outs + gone) <= settled_ms:
        yield observation.cue(
            LAST_LEFT,
            "last_left",
            f"{first.entry.division}/{first.entry.id}",
            (first,),
            at_ms=max(outs + gone),
            behind=0,
            name=first.entry.short,
            **bar_values(observation.state, first),
        )


def _completed(observation: Observation, lanes: Sequence[LaneState], settled_ms: int) -> Iterator[Cue]:
    """The lanes that have made every bar while others are still in."""
    done = [lane for lane in lanes if lane.status is Status.FINISHED]
    for earlier, lane in enumerate(sorted(done, key=lambda lane: (lane.tally.reached_ms, lane.lane))):
        at_ms = lane.tally.reached_ms
        if at_ms <= settled_ms:
            yield observation.cue(
                Kind.FINISH,
                "ladder_complete",
                f"{lane.entry.division}/{lane.entry.id}/complete",
                (lane,),
                at_ms=at_ms,
                behind=earlier,
                name=lane.entry.short,
                bars=bars_done(observation.state, lane),
                time_ms=at_ms,
            )


def _open_bars(observation: Observation, lanes: Sequence[LaneState]) -> Iterator[Cue]:
    """The lanes whose bar is still open in the last seconds of its window, where they are few."""
    state, window_ms = observation.state, _window_ms(observation.state)
    number = observation.clock_ms // window_ms
    closes_ms, left_ms = (number + 1) * window_ms, min(BAR_OPEN_MS, window_ms // 2)
    inside = [lane for lane in lanes if lane.status is Status.WORKING and not lane.conduct.held]
    late = [lane for lane in inside if bars_done(state, lane) == number]
    in_time = closes_ms - left_ms <= observation.clock_ms and closes_ms <= observation.end_ms
    if not in_time or not 1 <= len(late) <= max(1, len(inside) // 2):
        return
    last = min(late, key=lambda lane: (lane.tally.done, lane.lane))
    more: Mapping[str, Value] = {"count": len(late)} if len(late) > 1 else {}
    yield observation.cue(
        BAR_OPEN,
        "bar_open_some" if more else "bar_open",
        f"{last.entry.division}/{number}",
        tuple(late),
        at_ms=closes_ms - left_ms,
        behind=last.place - 1,
        name=last.entry.short,
        to_go=last.position.station.amount - last.position.station_done,
        left_ms=left_ms,
        **bar_values(state, last),
        **more,
    )


def _win(observation: Observation, lanes: Sequence[LaneState], settled_ms: int) -> Iterator[Cue]:
    """Who has won, once nobody is in any more, in whole bars and lifts on the next."""
    state, first, second = observation.state, lanes[0], lanes[1]
    placed = [lane for lane in lanes if lane.status.has_result]
    at_ms = max((_decided_ms(observation, lane) for lane in placed), default=0)
    if at_ms > settled_ms:
        return
    lifts = 0 if first.status is Status.FINISHED else first.position.station_done
    done: dict[str, Value] = {"bars": bars_done(state, first)}
    ending = "_lifts" if lifts else ""
    if lifts:
        done["lifts"] = lifts
    ahead = first.outcome.score - second.outcome.score
    yield from won(
        observation,
        lanes,
        at_ms=at_ms,
        alone=(f"finish_bars{ending}", {**done, "ahead_by": ahead}),
        level=(f"finish_bars_level{ending}", done),
    )


def _decided_ms(observation: Observation, lane: LaneState) -> int:
    if lane.status is Status.FINISHED:
        return lane.tally.reached_ms
    out_ms = _out_ms(observation, lane)
    return observation.end_ms if out_ms is None else out_ms
