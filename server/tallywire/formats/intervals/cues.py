"""Cues of intervals: who leads after each piece and by what, first home in a piece, and the win.

A piece is told once its window has closed and a correction has had a moment to come. In timed pieces a place is told as
soon as nobody can take it any more, which may be before the last window closes.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import partial
from typing import ClassVar

from tallywire.core.cues.cue import Cue, CueRules, Kind, Value
from tallywire.core.cues.finishes import finish_cues
from tallywire.core.cues.format_cues import FormatCues
from tallywire.core.cues.observation import Observation, Said
from tallywire.core.cues.wins import won
from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.core.formats.counting import finish_ms
from tallywire.core.model.workout import Workout
from tallywire.formats.intervals.counting import chosen, piece_ms
from tallywire.formats.intervals.rules import Counts, IntervalRules, rules_of
from tallywire.formats.intervals.tally import pieces_of

PIECE = Kind("piece", weight=70, ttl_ms=20_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class After:
    """A lane after so many pieces: pieces not completed (timed), scored reps, and what counts, in ms or reps."""

    lane: LaneState
    missing: int
    scored: int
    counted: int
    timed: bool

    @property
    def key(self) -> tuple[int, ...]:
        """Sorts as the format does: smaller is better."""
        return (self.missing, -self.scored, self.counted) if self.timed else (-self.counted,)


class IntervalCues(FormatCues):
    """Pieces: who leads after each, who is home in it, and the win."""

    kinds: ClassVar[tuple[Kind, ...]] = (PIECE,)

    def milestones(self, observation: Observation, rules: CueRules, lanes: list[LaneState]) -> Iterator[Cue]:
        """Give the cues of the pieces, and the finishes of timed ones."""
        intervals = rules_of(observation.state.event.workout)
        yield from _piece_cues(observation, intervals, rules, lanes)
        decided_ms = partial(_decided_ms, observation, intervals, lanes)
        first = ("finish_first_pieces", {"counts": counting(intervals)})
        yield from finish_cues(observation, rules, lanes, decided_ms=decided_ms, first=first)

    def leads_are_live(self, workout: Workout) -> bool:
        """Not where only whole pieces compare."""
        intervals = rules_of(workout)
        return not intervals.timed and intervals.counts is not Counts.SLOWEST

    def lead_words(self, observation: Observation, _leader: LaneState) -> Said:
        """In the piece begun last, counted from 1."""
        intervals = rules_of(observation.state.event.workout)
        begun = 1 + observation.clock_ms // (intervals.work_ms + intervals.rest_ms)
        return "piece_lead", {"piece": min(intervals.pieces, begun)}

    def home_at_ms(self, observation: Observation, lane: LaneState) -> int | None:
        """When the last piece was complete: the result of timed pieces is no time of the heat clock."""
        return _home_at_ms(observation, lane)


def _piece_cues(
    observation: Observation, intervals: IntervalRules, rules: CueRules, lanes: Sequence[LaneState]
) -> Iterator[Cue]:
    """The cues of one division, best lane first, but for the finishes of timed pieces."""
    if len(lanes) < 2:
        return
    settled_ms = observation.clock_ms - rules.finish_settles_ms
    for count in range(1, intervals.pieces):
        end_ms = intervals.end_ms(count - 1)
        if intervals.timed:
            yield from _first_home(observation, intervals, lanes, count, settled_ms)
        if end_ms <= min(settled_ms, observation.end_ms) and observation.clock_ms < end_ms + PIECE.ttl_ms:
            yield from _after(observation, intervals, lanes, count)
    if not intervals.timed:
        yield from _win(observation, intervals, lanes, settled_ms)


def _home_at_ms(observation: Observation, lane: LaneState) -> int | None:
    return None if lane.finish_ms is None else finish_ms(observation.state.plan, pieces_of(lane.tally)[-1])


def _decided_ms(observation: Observation, intervals: IntervalRules, lanes: Sequence[LaneState], lane: LaneState) -> int:
    """From when on nobody can take a finished lane's place any more, on the heat clock."""
    home_ms = _home_at_ms(observation, lane) or 0
    better = [_home_at_ms(observation, each) or 0 for each in lanes if each.place <= lane.place]
    behind = [_safe_ms(observation, intervals, each, lane) for each in lanes if each.place > lane.place]
    return max([home_ms, *better, *behind])


def _safe_ms(observation: Observation, intervals: IntervalRules, behind: LaneState, ahead: LaneState) -> int:
    """From when on a lane behind cannot have as little as one ahead; its last window has closed at the latest."""
    earlier = _times(observation.state, behind, intervals.pieces - 1, intervals)
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


def _times(state: HeatState, lane: LaneState, count: int, intervals: IntervalRules) -> list[int | None]:
    return [
        piece_ms(state.plan, piece, number, intervals) for number, piece in enumerate(pieces_of(lane.tally)[:count])
    ]


def _standing(
    observation: Observation, intervals: IntervalRules, lanes: Sequence[LaneState], count: int
) -> list[After]:
    """Those with a result after so many pieces, the best first."""
    placed = sorted((lane for lane in lanes if lane.status.has_result), key=lambda lane: lane.lane)
    return sorted(
        (_lane_after(observation.state, intervals, lane, count) for lane in placed), key=lambda each: each.key
    )


def _lane_after(state: HeatState, intervals: IntervalRules, lane: LaneState, count: int) -> After:
    reps = [state.plan.scored(piece.done) for piece in pieces_of(lane.tally)[:count]]
    times = _times(state, lane, count, intervals) if intervals.timed else []
    if intervals.timed:
        shown = [intervals.work_ms if each is None else each for each in times]
        counted = chosen(shown, intervals.counts, more_is_better=False) + lane.conduct.penalty_ms
    else:
        counted = max(0, chosen(reps, intervals.counts, more_is_better=True) - lane.conduct.penalty_reps)
    return After(lane=lane, missing=times.count(None), scored=sum(reps), counted=counted, timed=intervals.timed)


def _leaders(standing: Sequence[After]) -> list[After]:
    return [each for each in standing if each.key == standing[0].key]


def _after(observation: Observation, intervals: IntervalRules, lanes: Sequence[LaneState], count: int) -> Iterator[Cue]:
    """Who leads after a piece; who has taken the lead with it, where nobody saw it come."""
    standing = _standing(observation, intervals, lanes, count)
    if len(standing) < 2 or not standing[0].scored:
        return
    leaders = _leaders(standing)
    before = _leaders(_standing(observation, intervals, lanes, count - 1)) if count > 1 else []
    lost = _lost_by(intervals, leaders, before)
    said = None if lost is None else _said(intervals, standing, count, taken=True)
    if said is not None:
        yield _after_cue(observation, said, count, standing, before=lost)
        return
    if len(leaders) == 1:
        said = _said(intervals, standing, count, taken=False)
        if said is not None:
            yield _after_cue(observation, said, count, standing)
    else:
        yield _level(observation, intervals, leaders, count)
    if not intervals.timed:
        yield from _most(observation, intervals, standing, count)


def _lost_by(intervals: IntervalRules, leaders: Sequence[After], before: Sequence[After]) -> LaneState | None:
    """Whose lead it was, where one alone has taken it from one alone and nobody saw it come."""
    seen = not intervals.timed and intervals.counts is not Counts.SLOWEST
    taken = len(leaders) == len(before) == 1 and before[0].lane is not leaders[0].lane
    return None if seen or not taken or before[0].lane.conduct.held else before[0].lane


def _said(intervals: IntervalRules, standing: Sequence[After], count: int, *, taken: bool) -> Said | None:
    """The words and numbers for one alone in front; None where no number tells by how much."""
    first, second = standing[0], standing[1]
    numbers: dict[str, Value] = {"piece": count, "pieces": intervals.pieces}
    ending = "taken" if taken else "leads"
    if second.lane.conduct.held:
        return f"piece_{ending}_plain", numbers
    if intervals.timed and not first.missing:
        if second.missing:
            return f"piece_{ending}_only", {**numbers, "time_ms": first.counted}
        ahead_ms = second.counted - first.counted
        counts = counting(intervals)
        return f"piece_{ending}_time", {**numbers, "time_ms": first.counted, "ahead_ms": ahead_ms, "counts": counts}
    ahead = first.scored - second.scored if intervals.timed else first.counted - second.counted
    if ahead <= 0:
        return None
    reps = first.scored if intervals.timed else first.counted
    return f"piece_{ending}", {**numbers, "reps": reps, "ahead_by": ahead, "counts": counting(intervals)}


def _after_cue(
    observation: Observation, said: Said, count: int, standing: Sequence[After], *, before: LaneState | None = None
) -> Cue:
    (template, values), first, second = said, standing[0].lane, standing[1].lane
    names, lanes = {"name": first.entry.short}, [first]
    if before is not None:
        names["before"] = before.entry.short
        lanes.append(before)
    elif not template.endswith(("_plain", "_only")):
        names["other"] = second.entry.short
        lanes.append(second)
    return observation.cue(
        PIECE if before is None else Kind.LEAD,
        template,
        f"{first.entry.division}/piece/{count}",
        tuple(lanes),
        at_ms=rules_of(observation.state.event.workout).end_ms(count - 1),
        behind=0,
        **names,
        **values,
    )


def _level(observation: Observation, intervals: IntervalRules, leaders: Sequence[After], count: int) -> Cue:
    """Two or more in front together."""
    numbers: dict[str, Value] = {"piece": count, "pieces": intervals.pieces}
    names = {"name": leaders[0].lane.entry.short}
    if len(leaders) == 2 and not intervals.timed:
        template, names["other"] = "piece_level", leaders[1].lane.entry.short
        numbers |= {"reps": leaders[0].counted, "counts": counting(intervals)}
    else:
        template, numbers["count"] = "piece_shared", len(leaders)
    return observation.cue(
        PIECE,
        template,
        f"{leaders[0].lane.entry.division}/piece/{count}",
        tuple(each.lane for each in leaders),
        at_ms=intervals.end_ms(count - 1),
        behind=0,
        **names,
        **numbers,
    )


def _most(observation: Observation, intervals: IntervalRules, standing: Sequence[After], count: int) -> Iterator[Cue]:
    """The one with the most in a piece, where it is none of those in front."""
    reps = {
        each.lane.lane: observation.state.plan.scored(pieces_of(each.lane.tally)[count - 1].done) for each in standing
    }
    most = [each.lane for each in standing if reps[each.lane.lane] == max(reps.values())]
    if intervals.pieces > 1 and len(most) == 1 and most[0] not in [each.lane for each in _leaders(standing)]:
        yield observation.cue(
            Kind.ROUND_FIRST,
            "piece_most",
            f"{most[0].entry.division}/piece/{count}",
            (most[0],),
            at_ms=intervals.end_ms(count - 1),
            name=most[0].entry.short,
            piece=count,
            reps=max(reps.values()),
        )


def _first_home(
    observation: Observation, intervals: IntervalRules, lanes: Sequence[LaneState], count: int, settled_ms: int
) -> Iterator[Cue]:
    """The first to complete a timed piece; nothing where two got there together."""
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


def counting(intervals: IntervalRules) -> str:
    """Which pieces count, as the wording names it: the slowest of pieces counted in reps is the lowest."""
    return "lowest" if intervals.counts is Counts.SLOWEST and not intervals.timed else intervals.counts.value
