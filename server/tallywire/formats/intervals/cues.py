"""Cues of intervals: who leads after each piece and by how much, who is first home in a piece, and who wins.

A piece is told once its window has closed and a correction has had a moment to come. In timed pieces a place is told as
soon as nobody can take it any more, which may be before the last window closes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from functools import partial
from typing import ClassVar

from tallywire.core.cues.cue import Cue, CueRules, Kind, Value
from tallywire.core.cues.finishes import finish_cues
from tallywire.core.cues.format_cues import FormatCues
from tallywire.core.cues.observation import Observation, Said
from tallywire.core.cues.wins import won
from tallywire.core.fold.heat import LaneState
from tallywire.core.formats.counting import finish_ms
from tallywire.core.model.workout import Workout
from tallywire.formats.intervals.after_piece import PIECE, after_piece, piece_times
from tallywire.formats.intervals.counting import piece_ms
from tallywire.formats.intervals.rules import Counts, IntervalRules, rules_of
from tallywire.formats.intervals.tally import pieces_of
from tallywire.formats.intervals.words import counting


class IntervalCues(FormatCues):
    """The cues of the pieces: who leads after each, who is first home in it, and who wins."""

    kinds: ClassVar[tuple[Kind, ...]] = (PIECE,)

    def milestones(self, observation: Observation, rules: CueRules, lanes: list[LaneState]) -> Iterator[Cue]:
        """Give the cues of the pieces, and the finishes of timed ones."""
        intervals = rules_of(observation.state.event.workout)
        yield from _piece_cues(observation, intervals, rules, lanes)
        decided_ms = partial(_decided_ms, observation, intervals, lanes)
        first = ("finish_first_pieces", {"counts": counting(intervals)})
        yield from finish_cues(observation, rules, lanes, decided_ms=decided_ms, first=first)

    def leads_are_live(self, workout: Workout) -> bool:
        """There is no leader at every moment where only whole pieces can be compared."""
        intervals = rules_of(workout)
        return not intervals.timed and intervals.counts is not Counts.SLOWEST

    def lead_words(self, observation: Observation, _leader: LaneState) -> Said:
        """Say that it was in the piece that began last, counted from 1."""
        intervals = rules_of(observation.state.event.workout)
        begun = 1 + observation.clock_ms // (intervals.work_ms + intervals.rest_ms)
        return "piece_lead", {"piece": min(intervals.pieces, begun)}

    def home_at_ms(self, observation: Observation, lane: LaneState) -> int | None:
        """When the last piece was completed, because the result of timed pieces is not a time on the heat clock."""
        return _home_at_ms(observation, lane)


def _piece_cues(
    observation: Observation, intervals: IntervalRules, rules: CueRules, lanes: Sequence[LaneState]
) -> Iterator[Cue]:
    """The cues of one division, best lane first, except the finishes of timed pieces."""
    if len(lanes) < 2:
        return
    settled_ms = observation.clock_ms - rules.finish_settles_ms
    for count in range(1, intervals.pieces):
        end_ms = intervals.end_ms(count - 1)
        if intervals.timed:
            yield from _first_home(observation, intervals, lanes, count, settled_ms)
        if end_ms <= min(settled_ms, observation.end_ms) and observation.clock_ms < end_ms + PIECE.ttl_ms:
            yield from after_piece(observation, intervals, lanes, count)
    if not intervals.timed:
        yield from _win(observation, intervals, lanes, settled_ms)


def _home_at_ms(observation: Observation, lane: LaneState) -> int | None:
    return None if lane.finish_ms is None else finish_ms(observation.state.plan, pieces_of(lane.tally)[-1])


def _decided_ms(observation: Observation, intervals: IntervalRules, lanes: Sequence[LaneState], lane: LaneState) -> int:
    """The time on the heat clock from which nobody can take a finished lane's place any more."""
    home_ms = _home_at_ms(observation, lane) or 0
    better = [_home_at_ms(observation, each) or 0 for each in lanes if each.place <= lane.place]
    behind = [_safe_ms(observation, intervals, each, lane) for each in lanes if each.place > lane.place]
    return max([home_ms, *better, *behind])


def _safe_ms(observation: Observation, intervals: IntervalRules, behind: LaneState, ahead: LaneState) -> int:
    """The time from which a lane behind cannot draw level with one ahead: the end of its last window at the latest."""
    earlier = piece_times(observation.state, behind, intervals.pieces - 1, intervals)
    if not behind.status.has_result or None in earlier:
        return 0
    known, last = [each for each in earlier if each is not None], intervals.pieces - 1
    spare_ms, home_ms = (ahead.finish_ms or 0) - behind.conduct.penalty_ms, _home_at_ms(observation, behind)
    latest_ms = min(intervals.end_ms(last), observation.end_ms) if home_ms is None else home_ms
    if intervals.counts is Counts.SLOWEST and max(known, default=0) > spare_ms:
        return 0
    if intervals.counts is Counts.BEST and min(known, default=spare_ms + 1) <= spare_ms:
        return latest_ms
    if intervals.counts is Counts.SUM:
        spare_ms -= sum(known)
    return min(latest_ms, intervals.start_ms(last) + max(0, spare_ms) + 1)


def _first_home(
    observation: Observation, intervals: IntervalRules, lanes: Sequence[LaneState], count: int, settled_ms: int
) -> Iterator[Cue]:
    """The first lane to complete a timed piece; no cue where two got there together."""
    times = sorted(
        (time_ms, lane.lane)
        for lane in lanes
        if lane.status.has_result
        and (time_ms := piece_ms(observation.state.plan, pieces_of(lane.tally)[count - 1], count - 1, intervals))
        is not None
    )
    if not times or (len(times) > 1 and times[0][0] == times[1][0]):
        return
    lane, home_ms = observation.state.lanes[times[0][1]], intervals.start_ms(count - 1) + times[0][0]
    if home_ms <= settled_ms:
        yield observation.cue(
            Kind.ROUND_FIRST,
            "piece_first",
            f"{lane.entry.division}/piece/{count}",
            (lane,),
            at_ms=home_ms,
            name=lane.entry.short,
            piece=count,
            time_ms=times[0][0],
        )


def _win(
    observation: Observation, intervals: IntervalRules, lanes: Sequence[LaneState], settled_ms: int
) -> Iterator[Cue]:
    """Who has won by reps, once the last window has closed."""
    at_ms = min(intervals.end_ms(intervals.pieces - 1), observation.end_ms)
    if at_ms > settled_ms:
        return
    reps: dict[str, Value] = {"reps": lanes[0].outcome.score, "counts": counting(intervals)}
    ahead: dict[str, Value] = {"ahead_by": lanes[0].outcome.score - lanes[1].outcome.score}
    yield from won(
        observation,
        lanes,
        at_ms=at_ms,
        alone=("finish_pieces", {**reps, **ahead}),
        level=("finish_pieces_level", reps),
    )
