"""Workouts of the competition file: every format is read, and every impossible rule refused by name."""

from __future__ import annotations

import pytest

from tallywire.core.errors import BadFile
from tallywire.core.model.competition import Measure
from tallywire.core.model.workout import Mark, Team, TeamForm, Workout
from tallywire.formats.intervals.rules import Counts, IntervalRules
from tallywire.formats.max_load.rules import LiftingRules
from tallywire.wire.competition_file import read_competition

HEAD = """
[competition]
name = "Test Trials"
time_decimals = 2
time_rounding = "up"

[[division]]
id = "open"
name = "Open"

[[points]]
id = "table"
places = [100, 90]

[[entry]]
id = "a"
name = "A"
division = "open"

[[heat]]
id = "h"
name = "H"
event = "e"
lanes = { 1 = "a" }

[[event]]
id = "e"
name = "E"

"""
STATION = """
[[event.workout.station]]
movement = "Lift"
amount = 3
"""
LIFTING = """
[event.workout]
format = "max_load"
time_cap = "9:00"

[event.workout.lifting]
unit = "kg"
bar = 20
collar = 2.5
plates = [0.5, 25, 10]
attempts = 3
"""
INTERVALS = """
[event.workout]
format = "intervals"
time_cap = "4:00"

[event.workout.intervals]
pieces = 3
work = "1:00"
rest = "0:30"
counts = "best"
"""
LADDER = """
[event.workout]
format = "ladder"
time_cap = "2:00"

[event.workout.ladder]
window = "1:00"
"""
FOR_TIME = """
[event.workout]
format = "for_time"
time_cap = "4:00"
"""


def workout(text: str) -> Workout:
    """Read the workout of a file with this event."""
    return read_competition("c.toml", HEAD + text, lambda _: b"").events["e"].workout


def problems(text: str) -> list[str]:
    """Give the problems of a file with this event."""
    with pytest.raises(BadFile) as caught:
        workout(text)
    return [str(problem).removeprefix("event[1].") for problem in caught.value.problems]


def test_lifting_rules_arrive_in_thousandths() -> None:
    """Bar, collars and plates, heaviest first, in thousandths of the unit; the display rules come along."""
    found = workout(LIFTING + STATION)
    assert found.rules == LiftingRules(
        unit="kg", bar_milli=20_000, collar_milli=2_500, plates_milli=(25_000, 10_000, 500), attempts=3
    )
    assert (found.decimals, found.round_up) == (2, True)


def test_intervals_arrive() -> None:
    """Pieces, work and rest in milliseconds, and what counts."""
    rules = IntervalRules(pieces=3, work_ms=60_000, rest_ms=30_000, counts=Counts.BEST, timed=False)
    assert workout(INTERVALS + STATION).rules == rules


def test_teams_and_rounds_arrive() -> None:
    """A team's form, and rounds with stations of their own."""
    team = '[event.workout.team]\nform = "relay"\nmembers = 2\n'
    rounds = "".join(
        f'[[event.workout.round]]\n[[event.workout.round.station]]\nmovement = "M"\namount = {n}\n' for n in (21, 15, 9)
    )
    found = workout(FOR_TIME + team + rounds)
    assert found.team == Team(form=TeamForm.RELAY, members=2)
    assert [[station.amount for station in stations] for stations in found.rounds] == [[21], [15], [9]]


def test_parts_arrive() -> None:
    """Scored parts keep their order, measure, mark and time; points fall back to the event's."""
    parts = """
[[event.part]]
id = "early"
name = "Early"
measure = "time_at"
mark = { round = 1, station = 1 }

[[event.part]]
id = "minute"
name = "Minute"
measure = "reps_at"
at = "1:00"
"""
    event = read_competition("c.toml", HEAD + FOR_TIME + STATION + parts, lambda _: b"").events["e"]
    assert [(part.id, part.measure, part.mark, part.at_ms, part.points) for part in event.parts] == [
        ("early", Measure.TIME_AT, Mark(round=1, station=1), None, "table"),
        ("minute", Measure.REPS_AT, None, 60_000, "table"),
    ]


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        (
            LIFTING.replace("25, 10", "25, 11") + STATION,
            "workout.lifting.plates[3]: found 11 kg, expected one of 25 kg, 20 kg, 15 kg, 10 kg, 5 kg, 2.5 kg, 2 kg, "
            "1.5 kg, 1 kg, 0.5 kg",
        ),
        (
            LIFTING.replace("bar = 20", "bar = 18") + STATION,
            "workout.lifting.bar: found 18 kg, expected one of 20 kg, 15 kg",
        ),
        (
            FOR_TIME.replace("for_time", "max_load") + STATION,
            "workout.lifting: found nothing, expected a value: the format max_load needs it",
        ),
        (
            LIFTING.replace("max_load", "for_time") + STATION,
            "workout.lifting: found a value, expected nothing: only the format max_load has it",
        ),
        (
            FOR_TIME.replace("for_time", "for_time_with_penalty") + STATION,
            "workout.cap_penalty_seconds: found nothing, expected a value: the format for_time_with_penalty needs it",
        ),
        (
            INTERVALS.replace('"4:00"', '"3:00"') + STATION,
            "workout.time_cap: found 180000 ms, expected at least 240000 ms: all pieces and rests",
        ),
        (
            LADDER.replace('"2:00"', '"1:30"') + STATION + STATION,
            "workout.time_cap: found 90000 ms, expected at least 120000 ms: all windows",
        ),
        (
            LIFTING + STATION.replace("3", "5"),
            "workout.station[1].amount: found 5, expected 3: as many as the attempts",
        ),
        (LIFTING + STATION + STATION, "workout.station: found 2 stations, expected one: the lift"),
        (
            LIFTING.replace("time_cap", "tie_break = { round = 1, station = 1 }\ntime_cap") + STATION,
            "workout.tie_break: found a mark, expected no tie-break: max_load does not use one",
        ),
        (
            LIFTING + '[event.workout.team]\nform = "relay"\nmembers = 2\n' + STATION,
            "workout.team: found relay, expected no team: max_load is for one athlete",
        ),
        (
            FOR_TIME + "minimum_reps = 4\n" + STATION,
            "workout.minimum_reps: found 4, expected at most 3: the work has no more",
        ),
        (
            FOR_TIME + STATION + '[[event.part]]\nid = "p"\nname = "P"\nmeasure = "reps_at"\nat = "4:01"\n',
            "part[1].at: found 241000 ms, expected at most the time cap, 240000 ms",
        ),
        (
            INTERVALS + STATION + '[[event.part]]\nid = "p"\nname = "P"\nmeasure = "reps_at"\nat = "1:00"\n',
            "part[1].measure: found reps_at of intervals, expected result: this is not one count to the end",
        ),
        (
            FOR_TIME,
            "workout.station: found neither station and round, expected one of them: stations, or rounds of stations",
        ),
        (
            FOR_TIME.replace("time_cap", "tie_break = { round = 1, station = 2 }\ntime_cap") + STATION,
            "workout.tie_break.station: found 2, expected a station from 1 to 1",
        ),
        (
            FOR_TIME + STATION + '[[event.part]]\nid = "p"\nname = "P"\nmeasure = "time_at"\n',
            "part[1].mark: found nothing, expected a value: time_at needs it",
        ),
        (
            FOR_TIME + STATION + '[[event.part]]\nid = "p"\nname = "P"\nmeasure = "result"\nat = "1:00"\n',
            "part[1].at: found a value, expected nothing: result has none",
        ),
        (
            FOR_TIME + STATION + '[[event.part]]\nid = "p"\nname = "P"\nmeasure = "result"\npoints = "tabel"\n',
            'part[1].points: found "tabel", expected a points table of this file: table',
        ),
    ],
)
def test_an_impossible_rule_is_refused_by_name(text: str, problem: str) -> None:
    """What cannot be is named with its path, what was found and what was expected."""
    assert problem in problems(text)


def test_a_misspelt_format_brings_no_false_alarms() -> None:
    """Where the format cannot be read, nothing is said about what formats need."""
    found = problems(LIFTING.replace("max_load", "max_lod") + STATION)
    assert len(found) == 1
    assert found[0].startswith('workout.format: found "max_lod"')
