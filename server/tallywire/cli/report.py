"""A report: what is to be printed, before it becomes text, CSV or HTML."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass

Data = dict[str, object]


def place_text(place: int, *, shared: bool) -> str:
    """Write a place as every page writes it: 3, or =3 where it is shared."""
    return f"={place}" if shared else str(place)


@dataclass(frozen=True, slots=True, kw_only=True)
class Section:
    """One table with its heading and the lines above (`state`) and below (`notes`) it. Cells are ready to read."""

    heading: str
    state: str
    columns: tuple[str, ...]
    rows: Sequence[Sequence[str]]
    notes: Sequence[str] = ()


@dataclass(frozen=True, slots=True, kw_only=True)
class Report:
    """A title with its sections. Programs get `data` as JSON, and `records` (flat, all with the same keys) as CSV."""

    title: str
    lines: Sequence[str]
    sections: Sequence[Section]
    data: Data
    records: Sequence[Mapping[str, object]]
