"""What a format has of its own: its rules as the pages need them, and what a lane has done by them."""

from __future__ import annotations

from typing import Any

from tallywire.core.formats.base import Attempt, Tally
from tallywire.core.model.workout import Intervals, Ladder, Lifting, Team, Workout

Frame = dict[str, Any]


def rules_data(workout: Workout) -> Frame:
    """Give the workout's `lifting`, `ladder`, `intervals` and `team`, those it has."""
    found: Frame = {}
    if workout.lifting is not None:
        found["lifting"] = _lifting(workout.lifting)
    if workout.ladder is not None:
        found["ladder"] = _ladder(workout.ladder)
    if workout.intervals is not None:
        found["intervals"] = _intervals(workout.intervals)
    if workout.team is not None:
        found["team"] = _team(workout.team)
    return found


def work_data(tally: Tally, workout: Workout) -> Frame:
    """Give a lane's `attempts`, units done by piece and by member, and the `member` whose turn it is."""
    found: Frame = {}
    if workout.lifting is not None:
        found["attempts"] = [_attempt(each) for each in tally.attempts]
    if workout.intervals is not None:
        found["pieces"] = [piece.done for piece in tally.pieces]
    if workout.team is not None:
        found["member"] = tally.member
        found["members"] = [tally.members.get(number, 0) for number in range(1, workout.team.members + 1)]
    return found


def _attempt(attempt: Attempt) -> Frame:
    data: Frame = {"load_milli": attempt.load_milli}
    return data if attempt.made is None else data | {"made": attempt.made}


def _lifting(rules: Lifting) -> Frame:
    data: Frame = {
        "load_unit": rules.unit,
        "bar_milli": rules.bar_milli,
        "collar_milli": rules.collar_milli,
        "plates_milli": list(rules.plates_milli),
    }
    return data if rules.attempts is None else data | {"attempts_most": rules.attempts}


def _ladder(rules: Ladder) -> Frame:
    return {"window_ms": rules.window_ms}


def _intervals(rules: Intervals) -> Frame:
    return {
        "piece_count": rules.pieces,
        "work_ms": rules.work_ms,
        "rest_ms": rules.rest_ms,
        "counts": rules.counts.value,
        "timed": rules.timed,
    }


def _team(rules: Team) -> Frame:
    return {"form": rules.form.value, "size": rules.members}
