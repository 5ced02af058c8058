"""A snapshot without its repeated keys: what is alike in a table is named once, and each of its rows is a list."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any

Data = dict[str, Any]
Columns = dict[str, list[str]]

_LEAST = 2
"""So many rows are a table."""


def pack(frame: Mapping[str, Any]) -> tuple[Data, Columns]:
    """Give the frame with a list in place of each row of a table, and by table the names of what stands in the lists.

    A table is an object or a list that holds at least two objects and nothing else. It is named by its JSON Pointer
    (RFC 6901). What a row does not have is null in its list: a frame itself never holds null.
    """
    columns: Columns = {}
    return {name: _packed(value, f"/{_escaped(name)}", columns) for name, value in frame.items()}, columns


def _packed(value: Any, pointer: str, columns: Columns) -> Any:
    rows = _rows(value)
    if rows:
        names = list(dict.fromkeys(name for row in rows for name in row))
        columns[pointer] = names
        lists = [[row.get(name) for name in names] for row in rows]
        return dict(zip(value, lists, strict=True)) if isinstance(value, dict) else lists
    if isinstance(value, dict):
        return {name: _packed(each, f"{pointer}/{_escaped(name)}", columns) for name, each in value.items()}
    return value


def _rows(value: Any) -> list[Data]:
    """The rows of a table; none of anything else."""
    each = list(value.values()) if isinstance(value, dict) else value if isinstance(value, list) else []
    return each if len(each) >= _LEAST and all(isinstance(row, dict) for row in each) else []


def _escaped(name: str) -> str:
    return name.replace("~", "~0").replace("/", "~1")
