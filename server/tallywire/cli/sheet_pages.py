"""Heat sheets and judges' scoresheets as printable pages."""

from __future__ import annotations

from html import escape

from tallywire.cli.html_report import PAGE_CSS, page, table
from tallywire.cli.result_report import columns_of
from tallywire.core.model.competition import Competition, Entry, Event, Heat
from tallywire.core.model.timetext import clock_text
from tallywire.core.reports.format_sheet import Blank, SheetGrid, SheetLine, SheetPiece
from tallywire.core.reports.scoresheet import equipment, sheet_pieces, to_write
from tallywire.wire.catalogue import Catalogue

_SHEET_CSS = (
    PAGE_CSS
    + """
article { break-after: page; }
article:last-child { break-after: auto; }
td.number { font-weight: 700; font-size: 12pt; text-align: end; padding-inline-end: 5mm; }
tr.end td { border-bottom: 0.5mm solid #000; }
.box { display: inline-block; width: 4.5mm; height: 4.5mm; border: 0.25mm solid #000; margin-inline-end: 1mm; }
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


def heat_sheet(competition: Competition, heat: Heat, words: Catalogue) -> str:
    """Give the page that says who stands on which lane of a heat."""
    event = competition.event_of(heat)
    rows = []
    for lane in heat.lanes:
        entry = competition.entry_on(heat, lane)
        rows.append([str(lane), entry.name, entry.home, competition.divisions[entry.division].name, ""])
    title = words.listed((event.name, heat.name))
    head = f"<h1>{escape(title)}</h1>\n<p>{escape(_heat_note(competition, heat, words))}</p>\n"
    columns = columns_of(("lane", "entry", "from", "division", "judge"), words)
    return page(title, head + table(columns, rows), words, css=_SHEET_CSS)


def _heat_note(competition: Competition, heat: Heat, words: Catalogue) -> str:
    named = {"competition": competition.name, "cap": _cap(competition.event_of(heat))}
    if heat.floor:
        return words.say("paper.heat_floor_note", floor=competition.floors[heat.floor].name, **named)
    return words.say("paper.heat_note", **named)


def _cap(event: Event) -> str:
    return clock_text(event.workout.time_cap_ms, decimals=0)


def scoresheets(competition: Competition, heat: Heat, words: Catalogue) -> str:
    """Give the scoresheets of a heat, one page a lane."""
    event = competition.event_of(heat)
    sheets = [_scoresheet(competition, event, heat, lane, words) for lane in heat.lanes]
    title = words.say("paper.scoresheets", heat=words.listed((event.name, heat.name)))
    return page(title, "\n".join(sheets), words, css=_SHEET_CSS)


def _scoresheet(competition: Competition, event: Event, heat: Heat, lane: int, words: Catalogue) -> str:
    entry = competition.entry_on(heat, lane)
    pieces = "\n".join(_piece(piece, words) for piece in sheet_pieces(event, entry.division, words.say))
    signatures = (words.say("paper.judge_signs"), words.say("paper.athlete_signs"))
    fields = "".join(f"<div>{escape(name)}{_WRITE}</div>" for name in (*to_write(event, words.say), *signatures))
    return (
        f"<article>\n<h1>{escape(words.say('paper.lane_of', lane=lane, name=entry.name))}</h1>\n"
        f"<p>{escape(_where(competition, event, heat, entry, words))}</p>\n"
        f'{pieces}\n<div class="fields">{fields}</div>\n</article>'
    )


def _where(competition: Competition, event: Event, heat: Heat, entry: Entry, words: Catalogue) -> str:
    team = event.workout.team
    parts = [
        competition.name,
        event.name,
        heat.name,
        competition.floors[heat.floor].name if heat.floor else "",
        competition.divisions[entry.division].name,
        words.say("paper.time_cap", cap=_cap(event)),
        equipment(event.workout, words.say),
        "" if team is None else words.say(f"paper.team.{team.form.value}", members=team.members),
    ]
    return " · ".join(part for part in parts if part)


def _piece(piece: SheetPiece, words: Catalogue) -> str:
    name = f"<h2>{escape(piece.name)}</h2>\n" if piece.name else ""
    if piece.grid is not None:
        return name + _grid(piece.grid)
    notes = any(line.note for line in piece.lines)
    heads = columns_of(("round", "work", "load", "at_end", "no_reps", *(["write"] if notes else [])), words)
    head = "".join(f'<th scope="col">{escape(each)}</th>' for each in heads)
    rows = "\n".join(_line(line, words, notes=notes) for line in piece.lines)
    return f"{name}<table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{rows}\n</tbody>\n</table>"


def _line(line: SheetLine, words: Catalogue, *, notes: bool) -> str:
    note = f"<td>{escape(line.note)} {_WRITE if line.note else ''}</td>" if notes else ""
    return (
        f"<tr{_ENDS if line.ends_round else ''}>"
        f"<td>{line.round}</td><td>{escape(line.work)}</td><td>{escape(words.figures(line.load))}</td>"
        f'<td class="number">{line.cumulative}</td><td>{_BOXES}</td>{note}</tr>'
    )


def _grid(grid: SheetGrid) -> str:
    head = "".join(f'<th scope="col">{escape(each)}</th>' for each in grid.columns)
    rows = "\n".join(f"<tr>{''.join(f'<td>{_cell(each)}</td>' for each in row)}</tr>" for row in grid.rows)
    return f"<p>{escape(grid.title)}</p>\n<table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{rows}\n</tbody>\n</table>"


def _cell(cell: str | Blank) -> str:
    return _BLANKS[cell] if isinstance(cell, Blank) else escape(cell)
