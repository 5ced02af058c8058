"""The columns of flat rows, by kind of row: what each is called, where in a frame it comes from, and what it says.

A column is there in every row of its kind, whatever the format and the state of the heat; where a frame has no value,
the row has None. Columns are only ever added, at the end. docs/outlets.md shows these tables to the integrator.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from typing import Literal

Kind = Literal["text", "whole", "number", "flag"]


@dataclass(frozen=True, slots=True)
class Column:
    """One column. `path` leads to its value in the frame, or, with `of_row`, in what is special to the row."""

    name: str
    kind: Kind
    path: tuple[str, ...]
    says: str
    of_row: bool = False


def _frame(name: str, kind: Kind, path: str, says: str) -> Column:
    return Column(name, kind, tuple(path.split(".")), says)


def _row(name: str, kind: Kind, says: str, path: str = "") -> Column:
    return Column(name, kind, tuple((path or name).split(".")), says, of_row=True)


SHARED = (
    _frame("view", "text", "view", "the view"),
    _frame("mode", "text", "mode", "`live` or `rehearsal`"),
    _frame("competition", "text", "competition.name", "the competition's name"),
    _frame("event", "text", "event.id", "the event's id"),
    _frame("event_name", "text", "event.name", "its name"),
    _frame("format", "text", "event.format", "its format"),
    _frame("heat", "text", "heat.id", "the heat's id"),
    _frame("heat_name", "text", "heat.name", "its name"),
    _frame("floor", "text", "heat.floor.id", "its floor, where floors have names"),
    _frame("heat_status", "text", "heat.status", "`waiting`, `running` or `over`"),
    _frame(
        "stage",
        "text",
        "result.stage",
        "how official: `live`, `provisional`, `official` or `amended`; in the views result, event, results, standings"
        " and table",
    ),
    _frame("cap_ms", "whole", "clock.cap_ms", "the time cap"),
    _frame("zero_unix_ms", "whole", "clock.zero_unix_ms", "when the heat clock stood at zero; empty before the start"),
    _frame("ended_ms", "whole", "clock.ended_ms", "at which time of its clock the heat ended"),
    _frame("speed", "number", "speed", "how fast the heat clock runs: 1, in a rehearsal perhaps faster"),
)
"""What every row of every view begins with."""

_PERSON = (
    _row("entry", "text", "the entry's id"),
    _row("name", "text", "its name"),
    _row("short", "text", "its name where there is little room"),
    _row("home", "text", "where it comes from"),
    _row("division", "text", "its division's id"),
    _row("division_name", "text", "its division's name"),
)

_LANES = (
    _row("lane", "whole", "the lane"),
    *_PERSON,
    _row("rank", "whole", "its turn in the order of the heat, 1 for the first; never shared"),
    _row("leads", "flag", "whether it leads the heat"),
    _row(
        "status",
        "text",
        "`ready`, `working`, `finished`, `capped`, `timed`, `withdrawn`, `did_not_start`, `disqualified`",
    ),
    _row("place", "whole", "its place in its division in this heat, as it stands"),
    _row("shared", "flag", "whether others have the same place"),
    _row("result", "text", "its result as it is printed"),
    _row("scored_reps", "whole", "its scored reps"),
    _row("reps_to_go", "whole", "scored reps to the end of the work, where that is known"),
    _row("done", "whole", "units done, scored or not"),
    _row("round", "whole", "the round it is in"),
    _row("station", "whole", "the station it is at"),
    _row("movement", "text", "that station's movement"),
    _row("unit", "text", "what is counted there"),
    _row("station_done", "whole", "units done there"),
    _row("station_amount", "whole", "units to be done there"),
    _row("next_mark", "whole", "scored reps at the end of the station"),
    _row("round_mark", "whole", "scored reps at the end of the round"),
    _row("gap_leader", "whole", "scored reps behind the leader of its division"),
    _row("gap_next", "whole", "scored reps behind the next better place"),
    _row("gap_leader_ms", "whole", "time behind the leader; in the views gaps and call", "behind.leader.ms"),
    _row("gap_next_ms", "whole", "time behind the next better place; in the views gaps and call", "behind.next.ms"),
    _row("no_reps", "whole", "no-reps called"),
    _row("reached_ms", "whole", "when it reached its count, on the heat clock"),
    _row("finish_ms", "whole", "when it finished"),
    _row("withdrawn_ms", "whole", "when it withdrew"),
    _row("penalty_ms", "whole", "penalty time in its result"),
    _row("event_place", "whole", "its place in the event, as it stands; not in the view table", "in_event.place"),
    _row(
        "event_shared",
        "flag",
        "whether others have the same place in the event; not in the view table",
        "in_event.shared",
    ),
    _row("event_of", "whole", "of how many; not in the view table", "in_event.of"),
    _row("points", "number", "what that place is worth; not in the view table"),
)

_RANKED = (
    _row("table", "text", "the division's id; behind the part's id and a slash where an event has several scores"),
    _row("part", "text", "the scored part's name, where there are several"),
    _row("table_stage", "text", "how official this table is; in the view results"),
    _row("heats", "whole", "heats of the table"),
    _row("raced", "whole", "how many of them have started"),
    *_PERSON,
    _row("in_heat", "text", "the name of its heat", "heat"),
    _row("lane", "whole", "its lane; in the view event only where it is in this heat"),
    _row("status", "text", "as in the rows of lanes"),
    _row("place", "whole", "its place in the event"),
    _row("shared", "flag", "whether others have the same place"),
    _row("heat_place", "whole", "its place in its heat; in the view results"),
    _row("result", "text", "its result as it is printed"),
    _row("result_ms", "whole", "its time, where it has one; in the view results"),
    _row("scored_reps", "whole", "its scored reps; in the view results"),
    _row("no_reps", "whole", "no-reps called; in the view results"),
    _row("points", "number", "its points"),
    _row("settled", "flag", "whether the place cannot change by counting any more; in the view event"),
)

_OVERALL = (
    *_PERSON,
    _row("lane", "whole", "its lane, where it is in this heat"),
    _row("place", "whole", "its place overall, as it stands"),
    _row("shared", "flag", "whether others have the same place"),
    _row("total", "number", "its points"),
    _row("gained", "number", "those of this event"),
    _row("before_place", "whole", "its place before this event", "before.place"),
    _row("before_total", "number", "its points before this event", "before.total"),
    _row("raced", "flag", "whether it has a result in this event"),
    _row("best_place", "whole", "its best place in an earlier event", "best.place"),
    _row("best_event", "text", "in which one", "best.event"),
)

_LINEUP = (
    _row("next_event", "text", "the id of the next heat's event"),
    _row("next_event_name", "text", "its name"),
    _row("next_heat", "text", "the id of the next heat"),
    _row("next_heat_name", "text", "its name"),
    _row("lane", "whole", "the lane"),
    *_PERSON,
)

_OUTPUTS = (
    _row("output", "text", "the output's id"),
    _row("name", "text", "its name"),
    _row("width", "whole", "its width in pixels"),
    _row("height", "whole", "its height in pixels"),
    _row("delay_ms", "whole", "by how much it is behind"),
    _row("automatic", "text", "`off`, `propose` or `take`"),
    _row("programme_view", "text", "the on-air view that is on; empty while clear", "programme.view"),
    _row("programme_who", "text", "whom it is about", "programme.params.who"),
    _row("programme_heat", "text", "which heat, where one was named", "programme.params.heat"),
    _row("programme_by", "text", "`operator` or `automatic`", "programme.by"),
)

_SUBJECTS = (
    _row("subject", "text", "whom a view can be about"),
    _row("lane", "whole", "the lane that is; a subject of two lanes has two rows"),
)


@dataclass(frozen=True, slots=True)
class RowKind:
    """What a row is called and is about, and its columns, in order."""

    name: str
    about: str
    columns: tuple[Column, ...]


LANES = RowKind("LaneRow", "a lane of the heat, by number", SHARED + _LANES)
RANKED = RowKind("RankedRow", "an entry in a table of the event, tables as in the file, best first", SHARED + _RANKED)
OVERALL = RowKind("OverallRow", "an entry in a division's overall standing, best first", SHARED + _OVERALL)
LINEUP = RowKind("LineupRow", "a lane of the next heat", SHARED + _LINEUP)
OUTPUTS = RowKind("OutputRow", "an output of the show", SHARED + _OUTPUTS)
SUBJECTS = RowKind("SubjectRow", "a lane of a subject", SHARED + _SUBJECTS)

ROW_KINDS: Mapping[str, RowKind] = {
    "heat": LANES,
    "gaps": LANES,
    "result": LANES,
    "event": RANKED,
    "results": RANKED,
    "next": LINEUP,
    "subjects": SUBJECTS,
    "table": LANES,
    "show": OUTPUTS,
    "call": LANES,
    "standings": OVERALL,
}
"""The kind of row that each view has."""
