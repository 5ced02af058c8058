"""Ladder: rising bars with a window of time each; a lane that does not complete a bar inside its window is out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from tallywire.core.facts import AttemptFailed, AttemptMade, BlockCompleted, CountCorrected, Fact, RepCounted
from tallywire.core.formats.base import NEVER_MS, Limits, Outcome, Status, Tally, open_status
from tallywire.core.formats.counting import count_onto, tie_break_ms
from tallywire.core.formats.format import Counting
from tallywire.core.model.workout import Plan, Workout
from tallywire.formats.ladder.rules import rules_of


class LadderCounting(Counting):
    """Each bar is a station of the plan. Window k runs from k-1 to k windows on the heat clock."""

    one_count = False

    def tally(self, plan: Plan, facts: Sequence[Fact], *, until_ms: int) -> Tally:
        """Count lifts as repetitions until the lane is out; a failed attempt is a no-rep."""
        tally, window_ms = Tally(), rules_of(plan.workout).window_ms
        for fact in facts:
            end_ms = until_ms if isinstance(fact, CountCorrected) else min(until_ms, _closes_ms(plan, tally))
            if isinstance(fact, AttemptFailed):
                tally.no_reps_ms += [fact.at_ms] if fact.at_ms <= end_ms else []
            else:
                count_onto(plan, tally, _in_window(plan, tally, _as_rep(fact), window_ms), until_ms=end_ms)
        return tally

    def outcome(self, plan: Plan, tally: Tally, limits: Limits) -> Outcome:
        """By scored reps, then by the tie-break time."""
        scored = max(0, plan.scored(tally.done) - limits.penalty_reps)
        return Outcome(
            status=_status(plan, tally, limits),
            key=(1, -scored, tie_break_ms(plan, tally)),
            result=_text(plan, scored),
            score=scored,
            scored_reps=scored,
            reps_to_go=(plan.total_scored or 0) - scored,
        )

    def moments(self, workout: Workout) -> Iterable[int]:
        """The end of every bar's window."""
        window_ms = rules_of(workout).window_ms
        return (bar * window_ms for bar in range(1, sum(map(len, workout.rounds)) + 1))


def _status(plan: Plan, tally: Tally, limits: Limits) -> Status:
    """A lane that has not completed the bar when its window closes is out, without anybody saying so."""
    if tally.done == plan.total_done:
        return Status.FINISHED
    return Status.TIMED if limits.past(_closes_ms(plan, tally)) else open_status(limits, Status.TIMED)


def _bars(plan: Plan, done: int) -> int:
    return sum(leg.done_after <= done for leg in plan.legs)


def _closes_ms(plan: Plan, tally: Tally) -> int:
    """When the window of the bar that a lane is at closes: the lane is out unless the bar is complete by then.

    A failed attempt does not put it out by itself. A count that the table puts right brings it back: what the table
    says was done was done in time.
    """
    bars = _bars(plan, tally.done)
    return NEVER_MS if bars == len(plan.legs) else (bars + 1) * rules_of(plan.workout).window_ms


def _in_window(plan: Plan, tally: Tally, fact: Fact, window_ms: int) -> list[Fact]:
    """Give the fact, or as much of it as is on open bars; at the moment one window closes the next is open."""
    bar = min(fact.at_ms // window_ms, len(plan.legs) - 1)
    room = plan.legs[bar].done_after - tally.done
    early = isinstance(fact, RepCounted | BlockCompleted) and bar + 1 < len(plan.legs)
    asked = fact.n if isinstance(fact, RepCounted) else 1
    if not early or asked <= room:
        return [fact]
    opens = f"bar {_bars(plan, tally.done) + 1 + (room > 0)}"
    tally.remarks.append(f"before the window of {opens}: {type(fact).__name__} at {fact.at_ms} ms")
    return [replace(fact, n=room)] if isinstance(fact, RepCounted) and room > 0 else []


def _as_rep(fact: Fact) -> Fact:
    if not isinstance(fact, AttemptMade):
        return fact
    stamp = {"id": fact.id, "heat": fact.heat, "at_ms": fact.at_ms, "sender": fact.sender, "sequence": fact.sequence}
    return RepCounted(**stamp, lane=fact.lane)  # type: ignore[arg-type]


def _text(plan: Plan, scored: int) -> str:
    """Bars and lifts into the next, penalties taken off."""
    done = plan.done_for(scored)
    bars = _bars(plan, done)
    into = plan.position(done).station_done if bars < len(plan.legs) else 0
    return f"{bars} bar{'' if bars == 1 else 's'}" + (f" + {into}" if into else "")
