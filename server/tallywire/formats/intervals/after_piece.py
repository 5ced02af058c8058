"""What is told once a piece is over: who leads and by how much, who has taken the lead, and who did the most in it."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass

from tallywire.core.cues.cue import Cue, Kind, Value
from tallywire.core.cues.observation import Observation, Said
from tallywire.core.fold.heat import HeatState, LaneState
from tallywire.formats.intervals.counting import chosen, piece_ms
from tallywire.formats.intervals.rules import Counts, IntervalRules, rules_of
from tallywire.formats.intervals.tally import pieces_of
from tallywire.formats.intervals.words import counting

PIECE = Kind("piece", weight=70, ttl_ms=20_000)


@dataclass(frozen=True, slots=True, kw_only=True)
class After:
    """A lane after some pieces: timed pieces it has not completed, scored reps, and what counts, in ms or reps."""

    lane: LaneState
    missing: int
    scored: int
    counted: int
    timed: bool

    @property
    def key(self) -> tuple[int, ...]:
        """The sort key that the format uses: smaller is better."""
        return (self.missing, -self.scored, self.counted) if self.timed else (-self.counted,)


def _standing(
    observation: Observation, intervals: IntervalRules, lanes: Sequence[LaneState], count: int
) -> list[After]:
    """The lanes with a result after a number of pieces, the best first."""
    placed = sorted((lane for lane in lanes if lane.status.has_result), key=lambda lane: lane.lane)
    return sorted(
        (_lane_after(observation.state, intervals, lane, count) for lane in placed), key=lambda each: each.key
    )


def _lane_after(state: HeatState, intervals: IntervalRules, lane: LaneState, count: int) -> After:
    reps, taken = [state.plan.scored(piece.done) for piece in pieces_of(lane.tally)[:count]], lane.conduct.penalty_reps
    times = piece_times(state, lane, count, intervals) if intervals.timed else []
    if intervals.timed:
        shown = [intervals.work_ms if each is None else each for each in times]
        counted = chosen(shown, intervals.counts, more_is_better=False) + lane.conduct.penalty_ms
    else:
        counted = max(0, chosen(reps, intervals.counts, more_is_better=True) - taken)
    scored = max(0, sum(reps) - taken)
    return After(lane=lane, missing=times.count(None), scored=scored, counted=counted, timed=intervals.timed)


def _leaders(standing: Sequence[After]) -> list[After]:
    return [each for each in standing if each.key == standing[0].key]


def after_piece(
    observation: Observation, intervals: IntervalRules, lanes: Sequence[LaneState], count: int
) -> Iterator[Cue]:
    """Tell who leads after a piece, and who has taken the lead with it where that was not told while the piece ran."""
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
    """The lane that lost a sole lead to another's sole lead, where that was not told while the piece ran."""
    seen = not intervals.timed and intervals.counts is not Counts.SLOWEST
    taken = len(leaders) == len(before) == 1 and before[0].lane is not leaders[0].lane
    return None if seen or not taken or before[0].lane.conduct.held else before[0].lane


def _said(intervals: IntervalRules, standing: Sequence[After], count: int, *, taken: bool) -> Said | None:
    """The words and numbers for a single leader; None where no number says by how much it leads."""
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
    """The words and numbers for two or more level in front."""
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
    """The lane that did the most in a piece, where it is not one of the leaders."""
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


def piece_times(state: HeatState, lane: LaneState, count: int, intervals: IntervalRules) -> list[int | None]:
    """Give how long a lane took for each of its first pieces; None for one that was not completed."""
    return [
        piece_ms(state.plan, piece, number, intervals) for number, piece in enumerate(pieces_of(lane.tally)[:count])
    ]
