"""JSON Schemas of what the outlets hand out, made from the columns."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

from tallywire.core.outlets.columns import ROW_KINDS, Column, Kind, RowKind

Data = dict[str, Any]
_TYPES: Mapping[Kind, str] = {"text": "string", "whole": "integer", "number": "number", "flag": "boolean"}
FRAME: Data = {
    "type": "object",
    "description": "a frame, as docs/frames.md has it",
    "properties": {"view": {"enum": list(ROW_KINDS)}, "mode": {"enum": ["live", "rehearsal"]}},
    "required": ["view", "mode", "speed"],
}


def row_schemas() -> Data:
    """Give the schema of each kind of row by its name: every column is there, and may be null; there are no others."""
    return {kind.name: _row(kind) for kind in ROW_KINDS.values()}


def rows_schema(components: str) -> Data:
    """Give the schema of a list of rows, all of one kind; `components` is where the schemas of rows stand."""
    lists = [{"type": "array", "items": {"$ref": f"{components}{name}"}} for name in row_schemas()]
    return {"anyOf": lists}


def _row(kind: RowKind) -> Data:
    return {
        "type": "object",
        "description": kind.about,
        "properties": {column.name: _value(column) for column in kind.columns},
        "required": [column.name for column in kind.columns],
        "additionalProperties": False,
    }


def _value(column: Column) -> Data:
    return {"type": [_TYPES[column.kind], "null"], "description": column.says}
