"""Heat sheets and judges' scoresheets as printable pages."""

from __future__ import annotations

from html import escape

from tallywire.cli.html_report import PAGE_CSS, page, table
from tallywire.core.model.competition import Competition, Entry, Event, Heat
from tallywire.core.model.timetext import clock_text
from tallywire.core.reports.format_sheet import Blank, SheetGrid, SheetLine, SheetPiece
from tallywire.core.reports.scoresheet import equipment, sheet_pieces, to_write

_SHEET_CSS = (
    PAGE_CSS
    + """
article { break-after: page; }
article:last-child { break-after: auto; }
td.number { font-weight: 700; font-size: 12pt; text-align: right; padding-right: 5mm; }
tr.end td { border-bottom: 0.5mm solid #000; }
.box { display: inline-block; width: 4.5mm; height: 4.5mm; border: 0.25mm solid #000; margin-right: 1mm; }
.write { display: inline-block; min-width: 26mm; border-bottom: 0.25mm solid #000; height: 5mm; }
.fields { display: grid; grid-template-columns: 1fr 1fr; gap: 5mm 8mm; margin-top: 5mm; break-inside: avoid; }
.fields .write { display: block; margin-top: 5mm; }
"""
)
_BOX = '<span class="box"></span>'
_BOXES = _BOX * 5
_WRITE = '<span class="write"></span>'
_BLANKS = {Blank.WRITE: _WRITE, Blank.BOX: _BOX}
_ENDS = ' class="end"'
_SIGNATURES = ("judge (name and signature)", "athlete (signature)")


def heat_sheet(competition: Competition, heat: Heat) -> str:
    """Give the page that says who stands on which lane of a heat."""
    event = competition.event_of(heat)
    rows = []
    for lane in heat.lanes:
        entry = competition.entry_on(heat, lane)
        rows.append([str(lane), entry.name, entry.home, competition.divisions[entry.division].name, ""])
    cap = clock_text(event.workout.time_cap_ms, decimals=0)
    head = (
        f"<h1>{escape(event.name)}, {escape(heat.name)}</h1>\n"
        f"<p>{escape(competition.name)}.{escape(_on(competition, heat))} Time cap {cap}</p>\n"
    )
    columns = ("lane", "entry", "from", "division", "judge")
    return page(f"{event.name}, {heat.name}", head + table(columns, rows), css=_SHEET_CSS)


def _on(competition: Competition, heat: Heat) -> str:
    return f" Floor: {competition.floors[heat.floor].name}." if heat.floor else ""


def scoresheets(competition: Competition, heat: Heat) -> str:
    """Give the scoresheets of a heat, one page a lane."""
    event = competition.event_of(heat)
    sheets = [_scoresheet(competition, event, heat, lane) for lane in heat.lanes]
    return page(f"{event.name}, {heat.name}: scoresheets", "\n".join(sheets), css=_SHEET_CSS)


def _scoresheet(competition: Competition, event: Event, heat: Heat, lane: int) -> str:
    entry = competition.entry_on(heat, lane)
    pieces = "\n".join(_piece(piece) for piece in sheet_pieces(event, entry.division))
    fields = "".join(f"<div>{escape(name)}{_WRITE}</div>" for name in (*to_write(event), *_SIGNATURES))
    return (
        f"<article>\n<h1>Lane {lane}: {escape(entry.name)}</h1>\n"
        f"<p>{escape(_where(competition, event, heat, entry))}</p>\n"
        f'{pieces}\n<div class="fields">{fields}</div>\n</article>'
    )


def _where(competition: Competition, event: Event, heat: Heat, entry: Entry) -> str:
    team = event.workout.team
    parts = [
        competition.name,
        event.name,
        heat.name,
        competition.floors[heat.floor].name if heat.floor else "",
        competition.divisions[entry.division].name,
        f"time cap {clock_text(event.workout.time_cap_ms, decimals=0)}",
        equipment(event.workout),
        "" if team is None else f"team of {team.members}, {team.form.value}",
    ]
    return " · ".join(part for part in parts if part)


def _piece(piece: SheetPiece) -> str:
    name = f"<h2>{escape(piece.name)}</h2>\n" if piece.name else ""
    if piece.grid is not None:
        return name + _grid(piece.grid)
    notes = any(line.note for line in piece.lines)
    heads = ["round", "work", "load", "number at the end", "no-reps", *(["write down"] if notes else [])]
    head = "".join(f'<th scope="col">{each}</th>' for each in heads)
    rows = "\n".join(_line(line, notes=notes) for line in piece.lines)
    return f"{name}<table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{rows}\n</tbody>\n</table>"


def _line(line: SheetLine, *, notes: bool) -> str:
    note = f"<td>{escape(line.note)} {_WRITE if line.note else ''}</td>" if notes else ""
    return (
        f"<tr{_ENDS if line.ends_round else ''}>"
        f"<td>{line.round}</td><td>{escape(line.work)}</td><td>{escape(line.load)}</td>"
        f'<td class="number">{line.cumulative}</td><td>{_BOXES}</td>{note}</tr>'
    )


def _grid(grid: SheetGrid) -> str:
    head = "".join(f'<th scope="col">{escape(each)}</th>' for each in grid.columns)
    rows = "\n".join(f"<tr>{''.join(f'<td>{_cell(each)}</td>' for each in row)}</tr>" for row in grid.rows)
    return f"<p>{escape(grid.title)}</p>\n<table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{rows}\n</tbody>\n</table>"


def _cell(cell: str | Blank) -> str:
    return _BLANKS[cell] if isinstance(cell, Blank) else escape(cell)
