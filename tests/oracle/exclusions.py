"""What the random run leaves out until it is mended or decided, each with its reason: one table.

An exclusion looks at a drawn case and gives the lines that may stay, and may change the competition in place. Every one
of them has a case in `known/`, so that the day it is mended a strict xfail turns red and the line below is taken out.
"""

from __future__ import annotations

from collections.abc import Callable
from typing import Any

from oracle.counted import (
    Fact,
    clock_ms,
    full_count,
    order_of,
    piece_at,
    standing_facts,
    story,
)
from oracle.whole import is_complete

Competition = dict[str, Any]


def workout_of(competition: Competition, fact: Fact) -> dict[str, Any]:
    """Give the workout a fact is about."""
    event = next(heat["event"] for heat in competition["heat"] if heat["id"] == fact["heat"])
    return next(dict(each["workout"]) for each in competition["event"] if each["id"] == event)


def event_of(competition: Competition, fact: Fact) -> dict[str, Any]:
    """Give the event a fact is about."""
    event = next(heat["event"] for heat in competition["heat"] if heat["id"] == fact["heat"])
    return next(dict(each) for each in competition["event"] if each["id"] == event)


def no_penalty_seconds_where_open(competition: Competition, lines: list[Fact]) -> list[Fact]:
    """Leave out penalties in seconds where a time is ranked that is not a finisher's: at a mark, or the cap."""
    return [
        line
        for line in lines
        if not line.get("ms")
        or not (
            workout_of(competition, line)["format"] == "for_time_with_penalty"
            or any(part["measure"] == "time_at" for part in event_of(competition, line).get("part", []))
        )
    ]


def has_ended_before(competition: Competition, lines: list[Fact], line: Fact) -> bool:
    """Tell whether a heat was over when a fact was sent."""
    ends = [each["at_ms"] for each in lines if each["fact"] == "heat_ended" and each["heat"] == line["heat"]]
    return bool(line["at_ms"] > min([clock_ms(workout_of(competition, line)["time_cap"]), *ends]))


def no_late_full_correction(competition: Competition, lines: list[Fact]) -> list[Fact]:
    """Leave out corrections to all of the work after the cap."""
    return [
        line
        for line in lines
        if line["fact"] != "count_corrected"
        or not has_ended_before(competition, lines, line)
        or line["scored_reps"] < full_count(workout_of(competition, line))
        or workout_of(competition, line)["format"] == "amrap"
    ]


def no_correction_into_a_jump(competition: Competition, lines: list[Fact]) -> list[Fact]:
    """Leave out corrections below what a lane or a member had by a tap of several, where times of the way count."""
    kept = []
    facts = standing_facts(lines)
    for line in lines:
        if line["fact"] == "count_corrected" and looks_back(event_of(competition, line)):
            mine = [f for f in facts if f["heat"] == line["heat"] and order_of(f) < order_of(line)]
            told = story(workout_of(competition, line), mine, line["lane"])
            most = max((sum(each["pieces"]) for each in told), default=0)
            jumped = any(each["fact"].get("n", 1) > 1 or each["fact"]["fact"] == "count_corrected" for each in told)
            ahead = workout_of(competition, line).get("team", {}).get("form") == "synchro"
            if jumped and (ahead or line["scored_reps"] < most):
                continue
        kept.append(line)
    return kept


def looks_back(event: dict[str, Any]) -> bool:
    """Tell whether the times at which numbers were reached decide anything in an event."""
    return "tie_break" in event["workout"] or "part" in event


def no_correction_on_the_bars(competition: Competition, lines: list[Fact]) -> list[Fact]:
    """Leave out corrections in a ladder while it runs."""
    return [
        line
        for line in lines
        if line["fact"] != "count_corrected"
        or workout_of(competition, line)["format"] != "ladder"
        or line["at_ms"] > clock_ms(workout_of(competition, line)["time_cap"])
    ]


def no_race_while_a_cut_is_pending(competition: Competition, lines: list[Fact]) -> list[Fact]:
    """Leave out the events after a cut that could not be made yet."""
    events = [each["id"] for each in competition["event"]]
    for cut in competition.get("cut", []):
        facts = standing_facts(lines)
        event = competition["event"][events.index(cut["after"])]
        divisions = [cut["division"]] if "division" in cut else [each["id"] for each in competition["division"]]
        if not all(is_complete(competition, facts, event, division) for division in divisions):
            later = events[events.index(cut["after"]) + 1 :]
            lines = [line for line in lines if event_of(competition, line)["id"] not in later]
    return lines


def no_full_correction_of_a_piece_that_is_over(competition: Competition, lines: list[Fact]) -> list[Fact]:
    """Leave out corrections to all of a timed piece in the rest after it."""
    return [
        line
        for line in lines
        if line["fact"] != "count_corrected"
        or not workout_of(competition, line).get("intervals", {}).get("timed")
        or piece_at(workout_of(competition, line), line["at_ms"]) is not None
        or line["scored_reps"] < full_count(workout_of(competition, line))
    ]


def no_least_work_where_open(competition: Competition, lines: list[Fact]) -> list[Fact]:
    """Leave out the least of work under mean ties, and repetitions taken where there is a least of work."""
    for event in competition["event"]:
        if event.get("ties") == "mean":
            event["workout"].pop("minimum_reps", None)
    return [line for line in lines if not line.get("reps") or "minimum_reps" not in workout_of(competition, line)]


LeaveOut = Callable[[Competition, list[Fact]], list[Fact]]

EXCLUDED: dict[str, tuple[str, LeaveOut]] = {
    "penalty-seconds-on-a-capped-lane": ("added to a time that is not a finisher's", no_penalty_seconds_where_open),
    "penalty-seconds-at-a-mark": ("added to the time at a mark: no rule says", no_penalty_seconds_where_open),
    "correction-down-into-a-jump": ("restamps what was reached before", no_correction_into_a_jump),
    "tie-break-after-a-correction-into-a-jump": ("the same, and the order turns", no_correction_into_a_jump),
    "lift-after-a-correction-on-the-bars": ("lifts after a correction do not count", no_correction_on_the_bars),
    "race-while-a-cut-is-pending": ("results and standings pay differently", no_race_while_a_cut_is_pending),
    "cut-event-that-nobody-has-had": ("results take the lanes for the field", no_race_while_a_cut_is_pending),
    "full-correction-of-a-piece-in-the-rest": (
        "a piece takes longer than its window: no rule says",
        no_full_correction_of_a_piece_that_is_over,
    ),
    "penalised-finisher-under-the-least-work": ("no rule says, nor of mean ties", no_least_work_where_open),
    "full-correction-after-the-cap": ("reads CAP+0: no rule says", no_late_full_correction),
}
"""By the name of the case in `known/`: why, and what leaves it out of the random run."""

READ_AS_THE_PROGRAM_DOES = {
    "call-before-the-count-was-full": "a call holds where a correction filled the count after it",
    "second-call-after-a-tap-that-counts-nothing": "a tap that counts nothing is no tap after the call",
    "correction-in-intervals-is-of-the-piece": "the number is that of the piece that had begun",
    "relay-work-out-of-turn": "work counts whoever is named",
    "penalty-reps-on-a-ladder-are-not-printed": "the printed bars are without the penalty",
    "guest-in-the-place-in-the-heat": "not compared where a guest is in the heat",
    "unraced-event-is-dropped-first": "what is dropped is not compared where a score is still to come",
}
"""Where docs/scoring.md says otherwise or little, and leaving it out would leave out too much: the oracle goes along.

Besides these: taps and no-reps after a withdrawal do not count; `block_completed` does nothing at a station of units;
`n` runs on into the next station; a correction to the number that stands keeps a block begun; a lower number takes
what was reached before away from `reps_at`; a heat is over when it was ended or its recording is past the cap; who
was cut is compared by the last event it was in; at max load attempts beyond the number allowed are passed over; a
disqualification stands before a did-not-start, and that before a withdrawal.
"""


def left_out(competition: Competition, lines: list[Fact]) -> list[Fact]:
    """Give a case without what is excluded."""
    for _, leave_out in EXCLUDED.values():
        lines = leave_out(competition, lines)
    return lines
