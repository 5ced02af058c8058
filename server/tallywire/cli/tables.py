"""Reports as plain text: tables aligned for a terminal or printer whose letters are all equally wide."""

from __future__ import annotations

import re
from collections.abc import Sequence

from tallywire.cli.report import Report, Section

_NUMBER = re.compile(r"-?\d+(\.\d+)?|=\d+|–?")


def text_report(report: Report) -> str:
    """Give a report as text, with a line break at its end."""
    parts = ["\n".join([report.title, *report.lines]), *(_section(each) for each in report.sections)]
    return "\n\n".join(parts) + "\n"


def columns(rows: Sequence[Sequence[str]]) -> str:
    """Align rows of text, the first of which holds the headings: numbers and places to the right, words to the left."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    numeric = [all(_NUMBER.fullmatch(row[i]) for row in rows[1:]) for i in range(len(widths))]
    return "\n".join(
        "  ".join(
            cell.rjust(width) if right else cell.ljust(width)
            for cell, width, right in zip(row, widths, numeric, strict=True)
        ).rstrip()
        for row in rows
    )


def _section(section: Section) -> str:
    lines = [section.heading, section.state]
    return "\n".join([*filter(None, lines), columns([section.columns, *section.rows]), *section.notes])
