"""Who has won a heat in which fixed time or attempts decide, and who leads it alone or with others."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence

from tallywire.core.cues.cue import Cue, Kind, Value
from tallywire.core.cues.observation import Observation, Said
from tallywire.core.fold.heat import LaneState
from tallywire.core.formats.base import Status
from tallywire.core.formats.counting import tie_break_ms


def won(observation: Observation, lanes: Sequence[LaneState], *, at_ms: int, alone: Said, level: Said) -> Iterator[Cue]:
    """Tell who has won a division, best lane first: alone, two `level`, or several.

    A win that the tie-break decided is told as such. Where the second is on a medical hold, or has nothing to compare,
    only the winner is named.
    """
    first = [lane for lane in lanes if lane.place == 1 and lane.status.has_result]
    if len(lanes) < 2 or not first or first[0].outcome.score <= 0:
        return
    if len(first) == 1:
        named, (template, values) = _alone(observation, first[0], lanes[1], alone)
    else:
        named, (template, values) = _level(first, level)
    names = {"name": named[0].entry.short} | ({"other": named[1].entry.short} if len(named) == 2 else {})
    key = f"{first[0].entry.division}/{'+'.join(sorted(lane.entry.id for lane in first))}"
    yield observation.cue(Kind.FINISH, template, key, tuple(named), at_ms=at_ms, behind=0, **names, **values)


def _alone(
    observation: Observation, winner: LaneState, second: LaneState, alone: Said
) -> tuple[Sequence[LaneState], Said]:
    """The lanes of the cue about one winner, and what is said."""
    if not _compares(second):
        return [winner], ("finish_won", {})
    return [winner, second], _by_tie_break(observation, winner, second) or alone


def _level(first: Sequence[LaneState], level: Said) -> tuple[Sequence[LaneState], Said]:
    """The lanes of the cue about those who share the win, and what is said."""
    return first, level if len(first) == 2 else ("finish_shared", {"count": len(first)})


def timed(observation: Observation, lanes: Sequence[LaneState]) -> Iterator[Cue]:
    """Tell who wins when fixed time is up, by scored reps."""
    first, second = lanes[0], lanes[1] if len(lanes) > 1 else None
    if first.status is not Status.TIMED or second is None:
        return
    reps: Mapping[str, Value] = {"reps": first.outcome.scored_reps}
    ahead: Mapping[str, Value] = {"ahead_by": first.outcome.score - second.outcome.score}
    yield from won(
        observation,
        lanes,
        at_ms=observation.end_ms,
        alone=("finish_timed", {**reps, **ahead}),
        level=("finish_timed_level", reps),
    )


def _compares(second: LaneState) -> bool:
    return second.status.has_result and second.outcome.score > 0 and not second.conduct.held


def _by_tie_break(observation: Observation, first: LaneState, second: LaneState) -> Said | None:
    plan = observation.state.plan
    if first.outcome.score != second.outcome.score or plan.workout.tie_break is None:
        return None
    return "finish_tie_break", {"time_ms": tie_break_ms(plan, first.tally)}
