"""Ladder: rising bars with a window of time each; a lane that does not complete a bar inside its window is out."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace

from tallywire.core.facts import AttemptFailed, AttemptMade, BlockCompleted, Fact, RepCounted
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
        out_ms = min(until_ms, _out_ms(plan, facts))
        tally = _count(plan, facts, until_ms=out_ms)
        failed = [fact.at_ms for fact in facts if isinstance(fact, AttemptFailed) and fact.at_ms <= out_ms]
        tally.no_reps_ms = sorted([*tally.no_reps_ms, *failed])
        return tally

    def outcome(self, plan: Plan, tally: Tally, limits: Limits) -> Outcome:
        """By scored reps, then by the tie-break time."""
        scored = max(0, plan.scored(tally.done) - limits.penalty_reps)
        return Outcome(
            status=_status(plan, tally, limits),
            key=(1, -scored, tie_break_ms(plan, tally)),
            result=_text(plan, tally),
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
    closes_ms = (_bars(plan, tally) + 1) * rules_of(plan.workout).window_ms
    return Status.TIMED if limits.past(closes_ms) else open_status(limits, Status.TIMED)


def _bars(plan: Plan, tally: Tally) -> int:
    return sum(leg.done_after <= tally.done for leg in plan.legs)


def _count(plan: Plan, facts: Sequence[Fact], *, until_ms: int) -> Tally:
    """Count what is lifted on bars whose window is open; what comes before it opens is remarked."""
    tally, window_ms = Tally(), rules_of(plan.workout).window_ms
    for fact in _as_reps(facts):
        count_onto(plan, tally, _in_window(plan, tally, fact, window_ms), until_ms=until_ms)
    return tally


def _in_window(plan: Plan, tally: Tally, fact: Fact, window_ms: int) -> list[Fact]:
    """Give the fact, or as much of it as is on open bars; at the moment one window closes the next is open."""
    bar = min(fact.at_ms // window_ms, len(plan.legs) - 1)
    room = plan.legs[bar].done_after - tally.done
    early = isinstance(fact, RepCounted | BlockCompleted) and bar + 1 < len(plan.legs)
    asked = fact.n if isinstance(fact, RepCounted) else 1
    if not early or asked <= room:
        return [fact]
    opens = f"bar {_bars(plan, tally) + 1 + (room > 0)}"
    tally.remarks.append(f"before the window of {opens}: {type(fact).__name__} at {fact.at_ms} ms")
    return [replace(fact, n=room)] if isinstance(fact, RepCounted) and room > 0 else []


def _as_reps(facts: Sequence[Fact]) -> list[Fact]:
    return [_as_rep(fact) for fact in facts if not isinstance(fact, AttemptFailed)]


def _as_rep(fact: Fact) -> Fact:
    if not isinstance(fact, AttemptMade):
        return fact
    stamp = {"id": fact.id, "heat": fact.heat, "at_ms": fact.at_ms, "sender": fact.sender, "sequence": fact.sequence}
    return RepCounted(**stamp, lane=fact.lane)  # type: ignore[arg-type]


def _out_ms(plan: Plan, facts: Sequence[Fact]) -> int:
    """When the lane went out: the end of the first window that closed on an open bar; NEVER_MS if none did.

    A failed attempt does not put a lane out by itself: it may lift again while its window is open.
    """
    window_ms = rules_of(plan.workout).window_ms
    unbounded = _count(plan, facts, until_ms=NEVER_MS)
    for bar, leg in enumerate(plan.legs, start=1):
        deadline = bar * window_ms
        completed = next((at_ms for at_ms, done in unbounded.trail if done >= leg.done_after), NEVER_MS)
        if completed > deadline:
            return deadline
    return NEVER_MS


def _text(plan: Plan, tally: Tally) -> str:
    bars = _bars(plan, tally)
    into = plan.position(tally.done).station_done if tally.done != plan.total_done else 0
    return f"{bars} bar{'' if bars == 1 else 's'}" + (f" + {into}" if into else "")
