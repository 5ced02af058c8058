"""Start lists in CSV (RFC 4180): the columns heat, lane and entry, in any order; other columns are passed over, but for
those that tell the booth of an entry.

Where the header has semicolons and no comma, fields are parted by semicolons, as spreadsheets write them in countries
with a decimal comma.
"""

from __future__ import annotations

import csv
import io
from collections.abc import Mapping
from dataclasses import dataclass, field

from tallywire.core.errors import Problem
from tallywire.wire.problems import shown

COLUMNS = ("heat", "lane", "entry")
FACTS = "facts"
BOOTH_COLUMNS = ("say", "ipa", "age_class", "caution", FACTS)
FACTS_PARTED_BY = "|"


@dataclass(frozen=True, slots=True, kw_only=True)
class LaneRow:
    """One line of a start list; `where` names it in errors, `told` has what it says to the booth, by column."""

    heat: str
    lane: int
    entry: str
    where: str
    told: Mapping[str, str | list[str]] = field(default_factory=dict)


def read_start_list(name: str, text: str) -> tuple[list[LaneRow], list[Problem]]:
    """Read a start list and give its rows and everything that is wrong with it, line by line."""
    reader = csv.DictReader(io.StringIO(text, newline=""), strict=True, delimiter=_parting(text.partition("\n")[0]))
    missing = [column for column in COLUMNS if column not in (reader.fieldnames or [])]
    if missing:
        found = ", ".join(reader.fieldnames or []) or "no header"
        return [], [Problem(f"{name} line 1", found, f"a header with {', '.join(COLUMNS)}")]
    rows: list[LaneRow] = []
    problems: list[Problem] = []
    try:
        for row in reader:
            where = f"{name} line {reader.line_num}"
            heat, lane, entry = ((row[column] or "").strip() for column in COLUMNS)
            if _is_lane(lane):
                rows.append(LaneRow(heat=heat, lane=int(lane), entry=entry, where=where, told=_told(row)))
            else:
                problems.append(Problem(f"{where}, lane", shown(lane), "a whole number from 1 to 99"))
    except csv.Error as exc:
        problems.append(Problem(f"{name} line {reader.reader.line_num}", str(exc), "CSV as in RFC 4180"))
    return rows, problems


def _told(row: Mapping[str, str | None]) -> dict[str, str | list[str]]:
    told: dict[str, str | list[str]] = {}
    for column in BOOTH_COLUMNS:
        text = (row.get(column) or "").strip()
        if text:
            facts = [fact.strip() for fact in text.split(FACTS_PARTED_BY) if fact.strip()]
            told[column] = facts if column == FACTS else text
    return told


def _parting(header: str) -> str:
    return ";" if ";" in header and "," not in header else ","


def _is_lane(text: str) -> bool:
    return text.isascii() and text.isdigit() and 1 <= int(text) <= 99
