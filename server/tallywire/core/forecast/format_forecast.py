"""How the forecast sees a format: the facet that a format fills if the rest of its heat can be played out."""

from __future__ import annotations

from collections.abc import Mapping
from typing import ClassVar

from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.forecast.ends import NOT_PASSED, Ends, capped_scale, play_out, stands, tie_break_part
from tallywire.core.forecast.scene import Result, Scene, ScoredPart, parts_of
from tallywire.core.forecast.stall import stalls
from tallywire.core.formats.base import NEVER_MS
from tallywire.core.formats.counting import done_at, passed_ms, tie_break_ms
from tallywire.core.formats.registry import format_of
from tallywire.core.model.workout import Plan, Workout


class FormatForecast:
    """The questions that the forecast asks a format, answered for a format without a model.

    `has_model` says that `play` knows more than the places as they stand, `has_parts` that it also draws scores at a
    mark and at a time. `tells_finishes`: cues look at finish times
    from the second half of the heat on, because the cap is near.
    """

    has_model: ClassVar[bool] = False
    has_parts: ClassVar[bool] = False
    tells_finishes: ClassVar[bool] = False

    def play(self, scene: Scene, *, seed: int, draws: int) -> Ends:
        """Play the rest of the heat many times over; the same scene, seed and draws end the same."""
        del seed, draws
        return stands(scene)

    def stalls(self, _scene: Scene) -> Mapping[int, int]:
        """Give, by lane, after how many ms without a fact it has stalled; by default nothing is known of that."""
        return {}

    def result(self, _state: HeatState, lane: LaneState) -> Result:
        """Give what a lane of another heat has, to rank it among the draws: by default nothing comparable."""
        return Result(entry=lane.entry.id, division=lane.entry.division)

    def key(self, _scene: Scene, result: Result) -> float:
        """Give the sort key of such a result as the draws have it."""
        return 0.0 if result.key is None else result.key


class KeyedForecast(FormatForecast):
    """A format with a model of its own, whose results are ranked by one number that does not depend on the heat."""

    has_model = True

    def result(self, state: HeatState, lane: LaneState) -> Result:
        """Give the result by its key, and the keys of the event's scores."""
        return Result(
            entry=lane.entry.id,
            division=lane.entry.division,
            scored_reps=lane.scored_reps,
            key=self.key_now(state.plan, lane),
            part_keys=tuple(_part_key(state.plan, lane, part) for part in parts_of(state)) if self.has_parts else (),
        )

    def key_now(self, _plan: Plan, lane: LaneState) -> float:
        """Give the sort key of a lane as the draws have it: by default the key by which its outcome is sorted."""
        return float(lane.outcome.key[1])


class CountedForecast(FormatForecast):
    """Work that is one count from start to end: the model of `model`, `outlook` and `draws`."""

    has_model = True
    has_parts = True

    def cap_penalty_ms(self, _workout: Workout) -> int | None:
        """Give what each scored rep left at the cap adds to it; None where those capped stand behind all finishers."""
        return None

    def play(self, scene: Scene, *, seed: int, draws: int) -> Ends:
        """Learn from what has been done, look ahead, and play the rest."""
        return play_out(scene, seed=seed, draws=draws, cap_penalty_ms=self.cap_penalty_ms(scene.plan.workout))

    def stalls(self, scene: Scene) -> Mapping[int, int]:
        """Give it from the wait for the next fact."""
        return stalls(scene)

    def result(self, state: HeatState, lane: LaneState) -> Result:
        """Give time, scored reps, the time at the tie-break mark, and the keys of the event's scores."""
        passed = tie_break_ms(state.plan, lane.tally)
        return Result(
            entry=lane.entry.id,
            division=lane.entry.division,
            finish_ms=lane.finish_ms,
            scored_reps=lane.scored_reps,
            tie_break_ms=None if passed >= NEVER_MS else passed,
            part_keys=tuple(_part_key(state.plan, lane, part) for part in parts_of(state)),
        )

    def key(self, scene: Scene, result: Result) -> float:
        """Give the time, or a key later than every time, by what is left."""
        reps, penalty_ms = result.scored_reps or 0, self.cap_penalty_ms(scene.plan.workout)
        part = 0.0 if penalty_ms is not None else tie_break_part(scene, result.tie_break_ms)
        if scene.plan.total_done is None:
            return part - float(reps)
        if result.finish_ms is not None:
            return float(result.finish_ms)
        capped_from, step = capped_scale(scene, penalty_ms)
        return part + float(capped_from + step * ((scene.plan.total_scored or 0) - reps))


def model_of(workout: Workout) -> FormatForecast:
    """Give how the forecast sees a workout's format."""
    return format_of(workout).facet(FormatForecast)


def _part_key(plan: Plan, lane: LaneState, part: ScoredPart) -> float:
    """The sort key of one of several scores, as the draws have it; 0 for the whole result, which has its own."""
    if part.mark_units is not None:
        passed = passed_ms(lane.tally.trail, part.mark_units)
        return NOT_PASSED - lane.scored_reps if passed >= NEVER_MS else float(passed + lane.conduct.penalty_ms)
    if part.at_ms is None:
        return 0.0
    return -float(max(0, plan.scored(done_at(lane.tally.trail, part.at_ms)) - lane.conduct.penalty_reps))
