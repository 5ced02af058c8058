"""Results as text: JSON for programs, a table for people."""

from __future__ import annotations

import orjson

from tallywire.core.competition import Competition
from tallywire.core.fold import HeatState
from tallywire.core.results import result_rows

_COLUMNS = ("place", "lane", "name", "result", "scored_reps", "no_reps", "points", "status")
_HEADINGS = ("place", "lane", "name", "result", "reps", "no-reps", "points", "status")


def results_json(competition: Competition, state: HeatState) -> str:
    """Give the result as one JSON object with `rows`, newline included."""
    data = {
        "competition": competition.name,
        "event": state.event.id,
        "heat": state.heat.id,
        "state": "unofficial",
        "rows": [row.as_data() for row in result_rows(state)],
    }
    return orjson.dumps(data, option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE).decode()


def results_table(competition: Competition, state: HeatState) -> str:
    """Give the result as a table with a heading line."""
    rows = [[str(row.as_data()[column]) for column in _COLUMNS] for row in result_rows(state)]
    title = f"{competition.name} · {state.event.name} · {state.heat.name} · UNOFFICIAL"
    return f"{title}\n{columns([list(_HEADINGS), *rows])}"


def columns(rows: list[list[str]]) -> str:
    """Align rows of text: numbers to the right, words to the left."""
    widths = [max(len(row[i]) for row in rows) for i in range(len(rows[0]))]
    numeric = [all(row[i].lstrip("-").isdigit() for row in rows[1:]) for i in range(len(widths))]
    return "\n".join(
        "  ".join(
            cell.rjust(width) if right else cell.ljust(width)
            for cell, width, right in zip(row, widths, numeric, strict=True)
        ).rstrip()
        for row in rows
    )
