"""Counting work through a plan, which every format made of stations and rounds shares."""

from __future__ import annotations

from bisect import bisect_left
from collections.abc import Callable, Sequence
from dataclasses import replace
from operator import itemgetter
from typing import Any

from tallywire.core.facts import (
    BlockCompleted,
    CountCorrected,
    Fact,
    Finished,
    NoRepCalled,
    RepCounted,
)
from tallywire.core.formats.base import NEVER_MS, Tally
from tallywire.core.model.workout import Plan

_REACHED = itemgetter(1)
"""Takes the count out of one step of a trail."""


def count_work(plan: Plan, facts: Sequence[Fact], *, until_ms: int) -> Tally:
    """Fold one lane's standing facts, in order, into a tally.

    What a judge sent after `until_ms` is not counted but becomes a remark; a correction by the table always counts.
    """
    tally = Tally()
    count_onto(plan, tally, facts, until_ms=until_ms)
    return tally


def count_onto(plan: Plan, tally: Tally, facts: Sequence[Fact], *, until_ms: int) -> None:
    """Fold further facts into a tally, which is changed.

    What a correction after the end adds was done by then, so it counts as done at the end.
    """
    handlers = _HANDLERS
    for fact in facts:
        if fact.at_ms > until_ms and isinstance(fact, CountCorrected):
            _correct(plan, tally, fact, at_ms=until_ms)
        elif fact.at_ms > until_ms:
            tally.remarks.append(f"after the end: {type(fact).__name__} at {fact.at_ms} ms")
        elif handler := handlers.get(type(fact)):
            handler(plan, tally, fact)
        else:
            tally.remarks.append(f"not a fact of this format: {type(fact).__name__} at {fact.at_ms} ms")


def counted_on(plan: Plan, tally: Tally, facts: Sequence[Fact], *, until_ms: int) -> Tally:
    """Give a new tally: this one with further facts, which all come after those it was folded from."""
    further = replace(
        tally,
        trail=[*tally.trail],
        no_reps_ms=[*tally.no_reps_ms],
        finish_calls_ms=[*tally.finish_calls_ms],
        remarks=[*tally.remarks],
    )
    count_onto(plan, further, facts, until_ms=until_ms)
    return further


def finish_ms(plan: Plan, tally: Tally) -> int | None:
    """When the work was complete, or None.

    The judge's call counts if no repetition was counted after it; without a call, the moment the count was full.
    So a call that came while one tap was missing still holds once the table has corrected the count.
    """
    if plan.total_done is None or tally.done < plan.total_done:
        return None
    return min((call for call in tally.finish_calls_ms if call >= tally.counted_ms), default=tally.reached_ms)


def judged_trail(plan: Plan, tally: Tally) -> Sequence[tuple[int, int]]:
    """Give the trail that results use: it ends with the last unit at the finish, and leaves out later corrections."""
    finish = finish_ms(plan, tally)
    if finish is None or finish == tally.reached_ms:
        return tally.trail
    before = [(min(at_ms, finish), done) for at_ms, done in tally.trail[:-1]]
    return [*before, (finish, tally.done)]


def is_called(tally: Tally) -> bool:
    """Tell whether the judge called the end of work that was complete by then: the time is the call's (`finish_ms`)."""
    return any(call >= tally.counted_ms for call in tally.finish_calls_ms)


def tie_break_ms(plan: Plan, tally: Tally) -> int:
    """When the lane passed the workout's tie-break mark; NEVER_MS if it has not, or there is none."""
    mark = plan.workout.tie_break
    return NEVER_MS if mark is None else passed_ms(tally.trail, plan.done_at(mark))


def passed_ms(trail: Sequence[tuple[int, int]], done: int) -> int:
    """When a trail of (at_ms, done), rising in both, first had `done` units, for good; NEVER_MS if it has not."""
    reached = bisect_left(trail, done, key=_REACHED)
    return trail[reached][0] if reached < len(trail) else NEVER_MS


def done_at(trail: Sequence[tuple[int, int]], at_ms: int) -> int:
    """Units done at a time on the heat clock, by a trail of (at_ms, done) rising in both."""
    return next((done for reached_ms, done in reversed(trail) if reached_ms <= at_ms), 0)


def _advance(plan: Plan, tally: Tally, to: int, at_ms: int) -> bool:
    """Raise the count to `to`, as far as there is work, and tell whether it went up."""
    total = plan.total_done
    if total is not None and to > total:
        to = total
    if to <= tally.done:
        tally.remarks.append(f"past the end of the work at {at_ms} ms")
        return False
    tally.reached_ms = max(tally.reached_ms, at_ms)
    tally.trail.append((tally.reached_ms, to))
    tally.done = to
    return True


def _count(plan: Plan, tally: Tally, fact: RepCounted) -> None:
    at_ms, to = fact.at_ms, tally.done + fact.n
    if at_ms < tally.reached_ms or (plan.total_done is not None and to > plan.total_done):
        if _advance(plan, tally, to, at_ms):
            tally.counted_ms = at_ms
        return
    # The same as `_advance`, written out here because nearly every fact of a heat takes this path.
    tally.done, tally.reached_ms, tally.counted_ms = to, at_ms, at_ms
    tally.trail.append((at_ms, to))


def _complete_block(plan: Plan, tally: Tally, fact: BlockCompleted) -> None:
    end = plan.block_end(tally.done)
    if end is None:
        tally.remarks.append(f"no block in progress at {fact.at_ms} ms")
        return
    _advance(plan, tally, end, fact.at_ms)
    tally.counted_ms = fact.at_ms


def _correct(plan: Plan, tally: Tally, fact: CountCorrected, *, at_ms: int | None = None) -> None:
    """Set the count as of the fact, or of `at_ms`; what was reached before keeps the time at which it was."""
    to = plan.clamp(plan.done_for(fact.scored_reps))
    if to > tally.done:
        _advance(plan, tally, to, fact.at_ms if at_ms is None else at_ms)
    elif plan.scored(tally.done) != fact.scored_reps:
        past_ms = passed_ms(tally.trail, to)
        tally.trail = [(reached_ms, done) for reached_ms, done in tally.trail if done <= to]
        if to > 0 and (not tally.trail or tally.trail[-1][1] < to):
            tally.trail.append((past_ms, to))
        tally.done = to
        tally.reached_ms = tally.trail[-1][0] if tally.trail else 0


def _no_rep(_plan: Plan, tally: Tally, fact: NoRepCalled) -> None:
    tally.no_reps_ms.append(fact.at_ms)


def _finish(_plan: Plan, tally: Tally, fact: Finished) -> None:
    tally.finish_calls_ms.append(fact.at_ms)


_HANDLERS: dict[type[Fact], Callable[[Plan, Tally, Any], None]] = {
    RepCounted: _count,
    BlockCompleted: _complete_block,
    CountCorrected: _correct,
    NoRepCalled: _no_rep,
    Finished: _finish,
}
