"""The standing as a report: one table a division, with every event's place and points."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from fractions import Fraction

from tallywire.cli.report import Data, Report, Section, place_text
from tallywire.cli.result_report import as_of_lines, columns_of, stage_text
from tallywire.core.fold.result_status import weakest
from tallywire.core.fold.snapshot import Snapshot
from tallywire.core.ranking.points import points_text
from tallywire.core.ranking.standing import StandingRow
from tallywire.core.ranking.tie_rules import EventCell, TieRule
from tallywire.core.reports.results import number
from tallywire.core.standings.overall import DivisionStanding, division_standing, scored_parts
from tallywire.wire.catalogue import Catalogue

Level = Counter[tuple[str, int | None]]
"""How many entries share a place of an event, by both."""


def standing_report(snapshot: Snapshot, division: str | None, words: Catalogue, *, as_of: int | None = None) -> Report:
    """Give the standing of a division, or of all of them."""
    found = [division_standing(snapshot, each) for each in snapshot.competition.divisions if division in (None, each)]
    stage = weakest([each.stage for each in found if each.parts])
    return Report(
        title=words.say("paper.standing", competition=snapshot.competition.name),
        lines=[stage_text(stage, words), *as_of_lines(as_of, words)],
        sections=[_section(snapshot, each, words) for each in found],
        data={
            "competition": snapshot.competition.name,
            "state": stage.value,
            "official": stage.is_official,
            **({} if as_of is None else {"as_of_line": as_of}),
            "divisions": [_data(snapshot, each) for each in found],
        },
        records=[_record(snapshot, each, row) for each in found for row in each.series.rows],
    )


def _section(snapshot: Snapshot, each: DivisionStanding, words: Catalogue) -> Section:
    rows = each.series.rows
    brought = any(row.before for row in rows)
    level: Level = Counter((cell.event, cell.place) for row in rows for cell in row.cells)
    printed = _Printed(words=words, level=level, brought=brought)
    names = {entry.id: entry.name for entry in snapshot.competition.entries.values()}
    before = columns_of(("place", "entry", "points", *(["brought"] if brought else [])), words)
    heads = [*before, *each.parts.values(), *columns_of(("less", "decided"), words)]
    return Section(
        heading=words.say("paper.colon", what=each.division.name, told=_progress(snapshot, each, words)),
        state=stage_text(each.stage, words) if each.parts else "",
        columns=tuple(heads),
        rows=[_cells(names, each, row, printed) for row in rows],
        notes=_notes(snapshot, each, words),
    )


def _progress(snapshot: Snapshot, each: DivisionStanding, words: Catalogue) -> str:
    scored = len(list(scored_parts(snapshot.competition)))
    if each.final:
        return words.say("paper.final_standing")
    return words.say("paper.running_standing", begun=len(each.parts), scores=scored)


@dataclass(frozen=True, slots=True, kw_only=True)
class _Printed:
    """How rows are printed: their words, how many share a place, and whether anybody brought points."""

    words: Catalogue
    level: Level
    brought: bool


def _cells(names: Mapping[str, str], each: DivisionStanding, row: StandingRow, printed: _Printed) -> list[str]:
    words = printed.words
    cells = {cell.event: cell for cell in row.cells}
    taken = sum((one.points for one in row.deductions), Fraction(0))
    return [
        words.figures(place_text(row.place, shared=row.shared)),
        names[row.entry],
        words.figures(points_text(row.total)),
        *([words.figures(points_text(row.before))] if printed.brought else []),
        *[_cell(cells.get(part), printed.level, words) for part in each.parts],
        words.figures(points_text(taken)) if taken else "",
        "" if row.decided_by is None else rule_text(row.decided_by, words),
    ]


def _cell(cell: EventCell | None, level: Level, words: Catalogue) -> str:
    """The points and place of one event: dropped scores are in brackets, and those not in the event have a dash."""
    if cell is None:
        return "–"
    text = points_text(cell.points)
    if cell.place is not None:
        text += f" ({place_text(cell.place, shared=level[cell.event, cell.place] > 1)})"
    return words.figures(f"[{text}]" if cell.dropped else text)


def rule_text(rule: TieRule, words: Catalogue) -> str:
    """Name a tie rule."""
    return words.say(f"paper.rule.{rule.value}")


def _notes(snapshot: Snapshot, each: DivisionStanding, words: Catalogue) -> list[str]:
    names, rows = snapshot.competition.entries, each.series.rows
    lines = []
    for event, decisions in each.series.cuts.items():
        on = sum(decision.goes_on for decision in decisions)
        lines.append(words.say("paper.cut_after", event=each.parts[event], on=on, of=len(decisions)))
    for row in rows:
        for one in row.deductions:
            off = words.say("paper.off", points=words.figures(points_text(one.points)))
            told = words.say("paper.because", what=off, reason=one.reason)
            lines.append(words.say("paper.colon", what=names[row.entry].name, told=told))
    if any(cell.dropped for row in rows for cell in row.cells):
        lines.append(words.say("paper.dropped"))
    return lines


def _data(snapshot: Snapshot, each: DivisionStanding) -> Data:
    return {
        "division": each.division.id,
        "name": each.division.name,
        "state": each.stage.value,
        "final": each.final,
        "events": list(each.parts),
        "still_in": list(each.series.field),
        "cuts": {
            event: [
                {"entry": one.entry, "goes_on": one.goes_on, "reason": one.reason.value, "rule": one.rule}
                for one in decisions
            ]
            for event, decisions in each.series.cuts.items()
        },
        "rows": [_row_data(snapshot, row) for row in each.series.rows],
    }


def _row_data(snapshot: Snapshot, row: StandingRow) -> Data:
    return {
        **_common(snapshot, row),
        "deductions": [
            {"points": number(each.points), "reason": each.reason, "event": each.event} for each in row.deductions
        ],
        "scores": {
            cell.event: {
                "place": cell.place,
                "points": number(cell.points),
                "has_result": cell.has_result,
                "dropped": cell.dropped,
            }
            for cell in row.cells
        },
    }


def _common(snapshot: Snapshot, row: StandingRow) -> Data:
    return {
        "place": row.place,
        "shared": row.shared,
        "entry": row.entry,
        "name": snapshot.competition.entries[row.entry].name,
        "points": number(row.total),
        "brought": number(row.before),
        "deducted": number(sum((each.points for each in row.deductions), Fraction(0))),
        "cuts_survived": row.survived,
        "decided_by": row.decided_by,
    }


def _record(snapshot: Snapshot, each: DivisionStanding, row: StandingRow) -> Data:
    """One flat line, whose columns are the same for every division, whatever has been raced."""
    cells = {cell.event: cell for cell in row.cells}
    record: Data = {"division": each.division.id, **_common(snapshot, row), "state": each.stage.value}
    for _, _, part in scored_parts(snapshot.competition):
        cell = cells.get(part)
        record[f"{part} place"] = None if cell is None else cell.place
        record[f"{part} points"] = None if cell is None else number(cell.points)
        record[f"{part} dropped"] = None if cell is None else cell.dropped
    return record
