"""Intervals: the same piece several times with rest between; the sum, the slowest or the best piece counts.

Piece k (from 0) runs from k x (work + rest) for `work` on the heat clock. Each starts at the first station. Timed
pieces are fixed work for time: a piece that is not completed counts its whole window, and lanes with more such pieces
are placed behind lanes with fewer. Other pieces count scored reps.

While the heat runs, the slowest piece is chosen among those whose window has closed (the first one until then): a
piece in progress would always be the slowest.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence

from tallywire.core.facts import CountCorrected, Fact, HeatStarted
from tallywire.core.formats.base import Limits, Outcome, Status, Tally, open_status, reps_text
from tallywire.core.formats.counting import finish_ms, is_called
from tallywire.core.formats.format import Counting
from tallywire.core.formats.teams import count_team
from tallywire.core.model.timetext import clock_text
from tallywire.core.model.workout import Plan, Workout
from tallywire.formats.intervals.rules import Counts, IntervalRules, rules_of
from tallywire.formats.intervals.tally import IntervalTally, pieces_of


class IntervalCounting(Counting):
    """Repeated scored pieces."""

    one_count = False

    def plan(self, workout: Workout) -> Plan:
        """The plan of one piece: fixed work when it is timed, otherwise the rounds without end."""
        return Plan(workout, laps=1 if rules_of(workout).timed else None)

    def tally(self, plan: Plan, facts: Sequence[Fact], *, until_ms: int) -> Tally:
        """Count each piece separately; the lane's own tally is that of the piece it last worked in."""
        rules = rules_of(plan.workout)
        pieces = [_piece(plan, facts, rules, number, until_ms) for number in range(rules.pieces)]
        current = next((piece for piece in reversed(pieces) if piece.trail), pieces[0])
        return IntervalTally(
            done=current.done,
            reached_ms=current.reached_ms,
            counted_ms=current.counted_ms,
            trail=current.trail,
            no_reps_ms=[at_ms for piece in pieces for at_ms in piece.no_reps_ms],
            remarks=[remark for piece in pieces for remark in piece.remarks] + _in_rest(facts, rules),
            pieces=pieces,
            member=current.member,
            members=current.members,
        )

    def outcome(self, plan: Plan, tally: Tally, limits: Limits) -> Outcome:
        """Rank by the time or the reps that count."""
        return (_by_time if rules_of(plan.workout).timed else _by_reps)(plan, tally, limits)

    def awaits_call(self, plan: Plan, tally: Tally) -> bool:
        """Of timed pieces until the judge's call of the last; the windows of the others are over by then."""
        return rules_of(plan.workout).timed and not is_called(pieces_of(tally)[-1])

    def moments(self, workout: Workout) -> Iterable[int]:
        """The beginning and the end of every piece."""
        rules = rules_of(workout)
        return (at_ms for number in range(rules.pieces) for at_ms in (rules.start_ms(number), rules.end_ms(number)))


def _piece(plan: Plan, facts: Sequence[Fact], rules: IntervalRules, number: int, until_ms: int) -> Tally:
    inside = [fact for fact in facts if _belongs(fact, rules, number, until_ms)]
    return count_team(plan, inside, until_ms=min(until_ms, rules.end_ms(number)))


def _belongs(fact: Fact, rules: IntervalRules, number: int, until_ms: int) -> bool:
    """Whether a fact belongs to a piece: one in its window does, and so does a correction before the next piece.

    A correction after the end of the heat is of the piece that ran then.
    """
    at_ms = min(fact.at_ms, until_ms) if isinstance(fact, CountCorrected) else fact.at_ms
    started = rules.start_ms(number) <= at_ms
    before_next = number == rules.pieces - 1 or at_ms < rules.start_ms(number + 1)
    return started and before_next and (isinstance(fact, CountCorrected) or fact.at_ms <= rules.end_ms(number))


def _in_rest(facts: Sequence[Fact], rules: IntervalRules) -> list[str]:
    windows = [(rules.start_ms(number), rules.end_ms(number)) for number in range(rules.pieces)]
    return [
        f"outside the pieces: {type(fact).__name__} at {fact.at_ms} ms"
        for fact in facts
        if not isinstance(fact, CountCorrected | HeatStarted) and not any(a <= fact.at_ms <= b for a, b in windows)
    ]


def chosen(values: list[int], counts: Counts, *, more_is_better: bool) -> int:
    """Give the sum, the slowest or the best of the pieces, as the workout counts."""
    if counts is Counts.SUM:
        return sum(values)
    best_is_max = (counts is Counts.BEST) == more_is_better
    return max(values) if best_is_max else min(values)


def _by_reps(plan: Plan, tally: Tally, limits: Limits) -> Outcome:
    rules = rules_of(plan.workout)
    scored = [plan.scored(piece.done) for piece in pieces_of(tally)]
    closed = [reps for number, reps in enumerate(scored) if limits.past(rules.end_ms(number))]
    among = (closed or scored[:1]) if rules.counts is Counts.SLOWEST else scored
    score = max(0, chosen(among, rules.counts, more_is_better=True) - limits.penalty_reps)
    return Outcome(
        status=open_status(limits, Status.TIMED),
        key=(1, -score),
        result=reps_text(score),
        score=score,
        scored_reps=max(0, sum(scored) - limits.penalty_reps),
    )


def _by_time(plan: Plan, tally: Tally, limits: Limits) -> Outcome:
    rules = rules_of(plan.workout)
    times = [piece_ms(plan, piece, number, rules) for number, piece in enumerate(pieces_of(tally))]
    scored = max(0, sum(plan.scored(piece.done) for piece in pieces_of(tally)) - limits.penalty_reps)
    to_go = (plan.total_scored or 0) * rules.pieces - scored
    missing = times.count(None)
    known = [
        rules.work_ms if time is None else time
        for number, time in enumerate(times)
        if time is not None or limits.past(rules.end_ms(number))
    ]
    total = chosen(known or [rules.work_ms], rules.counts, more_is_better=False) + limits.penalty_ms
    if missing == 0:
        shown = clock_text(total, decimals=plan.workout.decimals, round_up=plan.workout.round_up)
        return Outcome(
            status=Status.FINISHED,
            key=(0, total),
            result=shown,
            result_ms=total,
            score=scored,
            scored_reps=scored,
            reps_to_go=to_go,
        )
    return Outcome(
        status=open_status(limits, Status.CAPPED),
        key=(1, missing, -scored, total),
        result=f"CAP+{to_go}" if limits.over else reps_text(scored),
        score=scored,
        scored_reps=scored,
        reps_to_go=to_go,
    )


def piece_ms(plan: Plan, piece: Tally, number: int, rules: IntervalRules) -> int | None:
    """How long piece `number` (from 0) took from its start; None while it is not complete."""
    finish = finish_ms(plan, piece)
    return None if finish is None else finish - rules.start_ms(number)
