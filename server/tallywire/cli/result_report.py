"""Results as a report: every table says what its places count and how official it is."""

from __future__ import annotations

from collections import Counter
from dataclasses import fields

from tallywire.cli.report import Data, Report, Section, place_text
from tallywire.core.facts import AppealDecided
from tallywire.core.fold.result_status import ResultStatus, Stage, weakest
from tallywire.core.fold.snapshot import Snapshot
from tallywire.core.formats.base import reps_text
from tallywire.core.model.competition import Competition
from tallywire.core.model.timetext import clock_text
from tallywire.core.ranking.points import points_text
from tallywire.core.reports.results import (
    Choice,
    HeatReport,
    ResultRow,
    ResultTable,
    heat_reports,
    result_tables,
)

_COLUMNS = (
    "place in event",
    "entry",
    "result",
    "reps",
    "points",
    "heat",
    "place in heat",
    "lane",
    "no-reps",
    "status",
)


def result_report(snapshot: Snapshot, choice: Choice, *, as_of: int | None = None) -> Report:
    """Give the chosen results. `as_of` is the line of the recording up to which the book was filled."""
    tables, heats = result_tables(snapshot, choice), heat_reports(snapshot, choice)
    stage = weakest([table.stage for table in tables])
    rows = [row for table in tables for row in table.rows]
    return Report(
        title=f"{snapshot.competition.name}: results",
        lines=[stage_text(stage), *([] if as_of is None else [f"as it stood after line {as_of} of the recording"])],
        sections=[_section(table, heats, snapshot) for table in tables],
        data={
            "competition": snapshot.competition.name,
            "state": stage.value,
            "official": stage.is_official,
            **({} if as_of is None else {"as_of_line": as_of}),
            "heats": [_heat_data(each, snapshot) for each in heats],
            "rows": [row.as_data() for row in rows],
        },
        records=[row.as_data() for row in rows],
    )


RESULT_COLUMNS = tuple(each.name for each in fields(ResultRow))
"""The columns of a result in CSV."""


def stage_text(stage: Stage) -> str:
    """Say how official something is."""
    return stage.value if stage.is_official else f"UNOFFICIAL ({stage.value})"


def _section(table: ResultTable, heats: list[HeatReport], snapshot: Snapshot) -> Section:
    own = [heat for heat in heats if heat.event.id == table.event.id and table.division.id in heat.divisions]
    named = table.event.name if table.part.name == table.event.name else f"{table.event.name}: {table.part.name}"
    level = Counter((row.heat, row.heat_place) for row in table.rows)
    after = "" if table.raced == table.heats else f", places in the event after {table.raced} of {table.heats} heats"
    return Section(
        heading=f"{named}, {table.division.name}",
        state=stage_text(table.stage) + after,
        columns=_COLUMNS,
        rows=[_cells(row, snapshot, level[row.heat, row.heat_place]) for row in table.rows],
        notes=[line for heat in own for line in _heat_lines(heat, snapshot)],
    )


def _cells(row: ResultRow, snapshot: Snapshot, level: int) -> list[str]:
    """The cells of a row; `level` is how many of the division share its place in the heat, the row included."""
    return [
        place_text(row.place, shared=row.shared),
        row.name,
        row.result,
        str(row.scored_reps),
        points_text(row.points),
        snapshot.competition.heat_name(snapshot.competition.heats[row.heat]),
        place_text(row.heat_place, shared=level > 1),
        str(row.lane),
        str(row.no_reps),
        row.status.replace("_", " "),
    ]


def _heat_lines(report: HeatReport, snapshot: Snapshot) -> list[str]:
    """How official the heat is, who signed it, and what the appeals and penalties were."""
    work = snapshot.competition
    name = work.heat_name(report.heat)
    if not report.started:
        return [f"{name}: not started"]
    lines = [f"{name}: {_life_text(report.life)}"]
    lines += [f"  lane {each.lane}, {_name(report, work, each.lane)}: {_appeal(each)}" for each in report.life.appeals]
    for lane in report.heat.lanes:
        conduct = snapshot.heats[report.heat.id].conduct(lane)
        taken = [(_penalty(each.reps, each.ms), each.reason) for each in conduct.penalties]
        taken += [(f"{each.points} points off the standing", each.reason) for each in conduct.deductions]
        lines += [f"  lane {lane}, {_name(report, work, lane)}: {what} ({reason})" for what, reason in taken]
    return lines


def _life_text(life: ResultStatus) -> str:
    text = stage_text(life.stage)
    if life.signed_by is not None and life.stage.is_official:
        return f"{text}, signed by {life.signed_by}"
    if life.changed:
        return f"{text}, changed since it was signed: to be signed again"
    waiting = ", ".join(map(str, life.unchecked))
    return f"{text}, scoresheets to be checked: lane {waiting}" if waiting else text


def _appeal(fact: AppealDecided) -> str:
    return f"appeal {'upheld' if fact.upheld else 'refused'} by {fact.by} ({fact.reason})"


def _penalty(reps: int, ms: int) -> str:
    given = [f"{reps_text(reps)} off"] if reps else []
    return "penalty of " + " and ".join(given + ([f"{clock_text(ms)} added"] if ms else []))


def _name(report: HeatReport, competition: Competition, lane: int) -> str:
    return competition.entry_on(report.heat, lane).name


def _heat_data(report: HeatReport, snapshot: Snapshot) -> Data:
    life = report.life
    return {
        "heat": report.heat.id,
        "event": report.event.id,
        "started": report.started,
        "state": life.stage.value,
        "signed_by": life.signed_by,
        "changed_since_signed": life.changed,
        "unchecked_lanes": list(life.unchecked),
        "digest": life.digest,
        "appeals": [
            {
                "lane": each.lane,
                "entry": snapshot.competition.entry_on(report.heat, each.lane).id,
                "upheld": each.upheld,
                "reason": each.reason,
                "by": each.by,
                "at_ms": each.at_ms,
            }
            for each in life.appeals
        ],
    }
