"""Results as a report: every table says what its places count and how official it is."""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import fields

from tallywire.cli.report import Data, Report, Section, place_text
from tallywire.core.facts import AppealDecided
from tallywire.core.fold.result_status import ResultStatus, Stage, weakest
from tallywire.core.fold.snapshot import Snapshot
from tallywire.core.model.competition import Event
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
from tallywire.core.reports.scoresheet import result_text
from tallywire.wire.catalogue import Catalogue

_COLUMNS = (
    "place_in_event",
    "entry",
    "result",
    "reps",
    "points",
    "heat",
    "place_in_heat",
    "lane",
    "no_reps",
    "status",
)


def result_report(snapshot: Snapshot, choice: Choice, words: Catalogue, *, as_of: int | None = None) -> Report:
    """Give the chosen results. `as_of` is the line of the recording up to which the book was filled."""
    tables, heats = result_tables(snapshot, choice), heat_reports(snapshot, choice)
    stage = weakest([table.stage for table in tables])
    rows = [row for table in tables for row in table.rows]
    return Report(
        title=words.say("paper.results", competition=snapshot.competition.name),
        lines=[stage_text(stage, words), *as_of_lines(as_of, words)],
        sections=[_section(table, heats, snapshot, words) for table in tables],
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


def as_of_lines(line: int | None, words: Catalogue) -> list[str]:
    """Say up to which line of a recording facts count, where not all of them do."""
    return [] if line is None else [words.say("paper.as_of", line=line)]


def stage_text(stage: Stage, words: Catalogue) -> str:
    """Say how official something is."""
    text = words.say(f"paper.stage.{stage.value}")
    return text if stage.is_official else words.say("paper.unofficial", stage=text)


def columns_of(names: Sequence[str], words: Catalogue) -> tuple[str, ...]:
    """Give the heads of columns."""
    return tuple(words.say(f"paper.column.{name}") for name in names)


def _section(table: ResultTable, heats: list[HeatReport], snapshot: Snapshot, words: Catalogue) -> Section:
    own = [heat for heat in heats if heat.event.id == table.event.id and table.division.id in heat.divisions]
    part, event = table.part.name, table.event.name
    named = event if part == event else words.say("paper.colon", what=event, told=part)
    level = Counter((row.heat, row.heat_place) for row in table.rows)
    state = stage_text(table.stage, words)
    if table.raced != table.heats:
        state = words.say("paper.event_places", stage=state, raced=table.raced, heats=table.heats)
    return Section(
        heading=words.listed((named, table.division.name)),
        state=state,
        columns=columns_of(_COLUMNS, words),
        rows=[_cells(row, snapshot, words, level[row.heat, row.heat_place]) for row in table.rows],
        notes=[line for heat in own for line in _heat_lines(heat, snapshot, words)],
    )


def result_words(event: Event, result: str, words: Catalogue) -> str:
    """Give a result as it is printed."""
    return words.figures(result_text(event.workout, result, words.say))


def _cells(row: ResultRow, snapshot: Snapshot, words: Catalogue, level: int) -> list[str]:
    """The cells of a row; `level` is how many of the division share its place in the heat, the row included."""
    return [
        words.figures(place_text(row.place, shared=row.shared)),
        row.name,
        result_words(snapshot.competition.events[row.event], row.result, words),
        str(row.scored_reps),
        words.figures(points_text(row.points)),
        snapshot.competition.heat_name(snapshot.competition.heats[row.heat]),
        words.figures(place_text(row.heat_place, shared=level > 1)),
        str(row.lane),
        str(row.no_reps),
        words.say(f"paper.status.{row.status}"),
    ]


def _heat_lines(report: HeatReport, snapshot: Snapshot, words: Catalogue) -> list[str]:
    """How official the heat is, who signed it, and what the appeals and penalties were."""
    work = snapshot.competition
    name = work.heat_name(report.heat)
    if not report.started:
        return [words.say("paper.colon", what=name, told=words.say("paper.not_started"))]

    def line(lane: int, what: str, reason: str) -> str:
        told = words.say("paper.because", what=what, reason=reason)
        entry = work.entry_on(report.heat, lane).name
        return "  " + words.say("paper.lane_note", lane=lane, name=entry, what=told)

    lines = [words.say("paper.colon", what=name, told=_life_text(report.life, words))]
    lines += [line(each.lane, _appeal(each, words), each.reason) for each in report.life.appeals]
    for lane in report.heat.lanes:
        conduct = snapshot.heats[report.heat.id].conduct(lane)
        lines += [line(lane, _penalty(each.reps, each.ms, words), each.reason) for each in conduct.penalties]
        for taken in conduct.deductions:
            lines.append(line(lane, words.say("paper.points_off", points=str(taken.points)), taken.reason))
    return lines


def _life_text(life: ResultStatus, words: Catalogue) -> str:
    text = stage_text(life.stage, words)
    if life.signed_by is not None and life.stage.is_official:
        return words.say("paper.signed", stage=text, name=life.signed_by)
    if life.changed:
        return words.say("paper.changed", stage=text)
    waiting = ", ".join(map(str, life.unchecked))
    return words.say("paper.to_check", stage=text, lanes=waiting) if waiting else text


def _appeal(fact: AppealDecided, words: Catalogue) -> str:
    return words.say("paper.appeal_upheld" if fact.upheld else "paper.appeal_refused", by=fact.by)


def _penalty(reps: int, ms: int, words: Catalogue) -> str:
    off, added = words.say("shared.reps", n=reps), words.figures(clock_text(ms))
    if reps and ms:
        return words.say("paper.penalty_both", reps=off, time=added)
    return words.say("paper.penalty_time", time=added) if ms else words.say("paper.penalty_reps", reps=off)


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
