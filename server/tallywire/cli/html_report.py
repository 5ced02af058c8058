"""Reports as printable HTML: one file for A4, without scripts and without anything from elsewhere."""

from __future__ import annotations

from collections.abc import Sequence
from html import escape

from tallywire.cli.report import Report, Section
from tallywire.wire.catalogue import Catalogue

PAGE_CSS = """
@page { size: A4; margin: 14mm; }
* { box-sizing: border-box; }
body { margin: 0 auto; max-width: 182mm; padding: 6mm 0; font: 10.5pt/1.35 system-ui, sans-serif; color: #000;
  background: #fff; }
h1 { font-size: 16pt; margin: 0 0 1mm; }
h2 { font-size: 12.5pt; margin: 7mm 0 1mm; }
p { margin: 0 0 1.5mm; }
.state { font-weight: 700; }
table { border-collapse: collapse; width: 100%; font-variant-numeric: tabular-nums; }
th, td { text-align: start; vertical-align: top; padding-block: 1mm; padding-inline: 0 2mm;
  border-bottom: 0.2mm solid #888; }
td:nth-child(2) { overflow-wrap: anywhere; }
th { border-bottom: 0.4mm solid #000; word-break: keep-all; }
thead { display: table-header-group; }
tr { break-inside: avoid; }
h2, .state { break-after: avoid; }
@page wide { size: A4 landscape; margin: 12mm; }
.wide { page: wide; max-width: 273mm; }
.wide table { font-size: 8.5pt; }
.wide td:not(:nth-child(2)) { white-space: nowrap; }
.wide td:nth-child(2) { min-width: 38mm; }
@media print { body { max-width: none; padding: 0; } }
""".strip()

_UPRIGHT = 10
"""How many columns fit on an upright page; a page with more is printed in landscape."""

# The page fetches nothing and runs nothing, whatever a name contains.
_POLICY = "default-src 'none'; style-src 'unsafe-inline'"


def page(title: str, body: str, words: Catalogue, *, css: str = PAGE_CSS, columns: int = 0) -> str:
    """Give a whole HTML page in the language of its words.

    `body` is HTML whose widest table has `columns` columns; `title` is text.
    """
    kind = ' class="wide"' if columns > _UPRIGHT else ""
    return (
        f'<!doctype html>\n<html lang="{words.language}" dir="{words.direction}">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{_POLICY}">\n'
        '<meta name="viewport" content="width=device-width">\n'
        f"<title>{escape(title)}</title>\n<style>\n{css}\n</style>\n</head>\n<body{kind}>\n{body}\n</body>\n</html>\n"
    )


def table(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    """Give a table; all cells are text."""
    head = "".join(f'<th scope="col">{escape(each)}</th>' for each in columns)
    lines = ["<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows]
    return f"<table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n" + "\n".join(lines) + "\n</tbody>\n</table>"


def html_report(report: Report, words: Catalogue, *, css: str = PAGE_CSS) -> str:
    """Give a report as a page."""
    head = [f"<h1>{escape(report.title)}</h1>", *(f"<p>{escape(line)}</p>" for line in report.lines)]
    columns = max((len(each.columns) for each in report.sections), default=0)
    body = "\n".join([*head, *(_section(each) for each in report.sections)])
    return page(report.title, body, words, css=css, columns=columns)


def _section(section: Section) -> str:
    state = f'<p class="state">{escape(section.state)}</p>' if section.state else ""
    notes = [f"<p>{escape(note)}</p>" for note in section.notes]
    heading = f"<h2>{escape(section.heading)}</h2>"
    cells = [table(section.columns, section.rows)] if section.columns else []
    return "\n".join(["<section>", heading, state, *cells, *notes, "</section>"])
