"""A run of measures as text for a terminal, as data, and as blocks for a page of documentation."""

from __future__ import annotations

import re
from collections.abc import Iterator, Sequence
from dataclasses import asdict, dataclass
from typing import Any

from tallywire.core.errors import TallywireError
from tallywire.measure.figures import Cell, Figure, FigureTable, Goal
from tallywire.measure.machine import Machine


@dataclass(frozen=True, slots=True, kw_only=True)
class Taken:
    """What one measure found, and the machine when it began."""

    name: str
    machine: Machine
    tables: Sequence[FigureTable]


def as_text(taken: Taken) -> str:
    """Give a measure's tables with aligned columns, each under its title."""
    parts = [part for table in taken.tables for part in (table.title, _aligned(table), *_remarks(table), "")]
    return "\n".join([f"{taken.name} (load {taken.machine.load})", *parts])


def as_data(taken: Taken) -> dict[str, Any]:
    """Give a measure as plain data: figures with their median, smallest, largest and all values."""
    return {
        "name": taken.name,
        "load": taken.machine.load,
        "tables": [
            {
                "title": table.title,
                "columns": list(table.columns),
                "rows": [[_plain(cell) for cell in row] for row in table.rows],
                "goals": [_goal(goal) for goal in table.goals],
                "notes": list(table.notes),
            }
            for table in taken.tables
        ],
    }


def machine_data(machine: Machine) -> dict[str, Any]:
    """Give the machine as plain data."""
    return {**asdict(machine), "warning": machine.warning}


def as_markdown(taken: Taken) -> str:
    """Give a measure's tables for a page, under a line that says what they were measured on."""
    machine = taken.machine
    parts = [f"Measured on {machine.cores} cores, {machine.system}, Python {machine.python}, load {machine.load}."]
    for table in taken.tables:
        rows = [table.columns, tuple("---" for _ in table.columns), *table.rows]
        lines = "\n".join(f"| {' | '.join(map(str, row))} |" for row in rows)
        parts += [f"**{table.title}**", lines]
        remarks = "\n".join(f"- {remark}" for remark in _remarks(table))
        parts += [remarks] if remarks else []
    return "\n\n".join(parts)


def written_into(page: str, taken: Taken) -> str:
    """Give a page with a measure's block in place of what stands between its markers.

    Raises TallywireError for a page without them.
    """
    begin, end = f"<!-- bench: {taken.name} -->", "<!-- end of bench -->"
    block = re.compile(f"{re.escape(begin)}.*?{re.escape(end)}", re.DOTALL)
    if not block.search(page):
        raise TallywireError(f"--write: found no markers for {taken.name}, expected the lines {begin} and {end}")
    text = f"{begin}\n\n{as_markdown(taken)}\n\n{end}"
    return block.sub(lambda _found: text, page, count=1)


def _aligned(table: FigureTable) -> str:
    rows = [table.columns, *([str(cell) for cell in row] for row in table.rows)]
    widths = [max(len(row[i]) for row in rows) for i in range(len(table.columns))]
    return "\n".join("  " + "  ".join(map(str.ljust, row, widths)).rstrip() for row in rows)


def _remarks(table: FigureTable) -> Iterator[str]:
    yield from map(str, table.goals)
    yield from table.notes


def _plain(cell: Cell) -> Any:
    if not isinstance(cell, Figure):
        return cell
    return {"median": cell.middle, "least": cell.least, "most": cell.most, "values": list(cell.values)}


def _goal(goal: Goal) -> dict[str, Any]:
    return {
        "says": goal.says,
        "found": _plain(goal.found),
        "bound": goal.bound,
        "unit": goal.unit,
        "at_least": goal.at_least,
        "met": goal.is_met,
    }
