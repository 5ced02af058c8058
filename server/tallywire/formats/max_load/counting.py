"""Max load: attempts are declared and judged; the heaviest good lift wins."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from tallywire.core.facts import AttemptDeclared, AttemptFailed, AttemptMade, Fact
from tallywire.core.formats.base import Limits, Outcome, Status, Tally, open_status
from tallywire.core.formats.format import Counting
from tallywire.core.model.loads import load_text
from tallywire.core.model.workout import Plan, Workout
from tallywire.formats.max_load.plates import plates_a_side
from tallywire.formats.max_load.rules import rules_of
from tallywire.formats.max_load.tally import Attempt, LiftTally, attempts_of


class LiftCounting(Counting):
    """Heaviest good lift. The plan counts attempts: its one station is the lift, its amount the attempts allowed."""

    one_count = False

    def plan(self, workout: Workout) -> Plan:
        """Plan one lap of attempts, or attempts without end."""
        return Plan(workout, laps=1 if rules_of(workout).attempts else None)

    def tally(self, plan: Plan, facts: Sequence[Fact], *, until_ms: int) -> Tally:
        """Collect the attempts. A lift judged after the end counts if it was declared before it."""
        tally = LiftTally()
        for fact in facts:
            handler = _HANDLERS.get(type(fact))
            late = fact.at_ms > until_ms and isinstance(fact, AttemptDeclared)
            if handler is None or late:
                tally.remarks.append(f"not counted: {type(fact).__name__} at {fact.at_ms} ms")
            else:
                handler(plan, tally, fact)
        return tally

    def outcome(self, plan: Plan, tally: Tally, limits: Limits) -> Outcome:
        """Rank by the heaviest good lift; equal loads share the place. Without a good lift the score is 0."""
        best = max((attempt.load_milli for attempt in attempts_of(tally) if attempt.made), default=0)
        all_taken = plan.total_done is not None and tally.done >= plan.total_done
        over = replace(limits, over=limits.over or all_taken)
        return Outcome(
            status=open_status(over, Status.TIMED),
            key=(1, -best),
            result=load_text(best, rules_of(plan.workout).unit) if best else "no lift",
            score=best,
            scored_reps=sum(attempt.made is True for attempt in attempts_of(tally)),
            reps_to_go=None if plan.total_done is None else plan.total_done - tally.done,
        )

    def awaits_call(self, _plan: Plan, tally: Tally) -> bool:
        """While a lift that was declared in time is not judged: that may come after the end."""
        return bool(attempts_of(tally)) and attempts_of(tally)[-1].made is None


def _declare(plan: Plan, tally: LiftTally, fact: AttemptDeclared) -> None:
    allowed = plan.total_done
    if allowed is not None and tally.done >= allowed:
        tally.remarks.append(f"past the last attempt at {fact.at_ms} ms")
        return
    if plates_a_side(rules_of(plan.workout), fact.load_milli) is None:
        tally.remarks.append(f"no plates for {fact.load_milli} thousandths at {fact.at_ms} ms")
    attempt = Attempt(at_ms=fact.at_ms, load_milli=fact.load_milli)
    if tally.attempts and tally.attempts[-1].made is None:
        tally.attempts[-1] = attempt
    else:
        tally.attempts.append(attempt)


def _judge(tally: LiftTally, fact: AttemptMade | AttemptFailed, *, made: bool) -> None:
    if not tally.attempts or tally.attempts[-1].made is not None:
        tally.remarks.append(f"no attempt declared at {fact.at_ms} ms")
        return
    tally.attempts[-1] = replace(tally.attempts[-1], made=made)
    tally.done += 1
    if not made:
        tally.no_reps_ms.append(fact.at_ms)
    tally.reached_ms = tally.counted_ms = fact.at_ms
    tally.trail.append((fact.at_ms, tally.done))


def _made(_plan: Plan, tally: LiftTally, fact: AttemptMade) -> None:
    _judge(tally, fact, made=True)


def _failed(_plan: Plan, tally: LiftTally, fact: AttemptFailed) -> None:
    _judge(tally, fact, made=False)


_HANDLERS: dict[type[Fact], Callable[[Plan, LiftTally, Any], None]] = {
    AttemptDeclared: _declare,
    AttemptMade: _made,
    AttemptFailed: _failed,
}
