"""Flat rows and CSV: every column in every row, nothing that the frame does not say, and any name comes back."""

from __future__ import annotations

import csv
import io
import json
import subprocess
from dataclasses import replace
from pathlib import Path
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from core.samples import CAP_MS, HEAT, Pad, competition, full_round
from docs.test_frames_page import ENTRIES, calls, facts, frames
from tallywire.core.facts import HoldPlaced
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.competition import Competition
from tallywire.core.outlets.columns import ROW_KINDS
from tallywire.core.outlets.csv_text import csv_text
from tallywire.core.outlets.rows import flat_rows, handed_out
from tallywire.core.standings.change import sight_of
from tallywire.core.standings.in_event import in_event
from tallywire.core.views.event import event_frame
from tallywire.core.views.heat import heat_frame
from tallywire.core.views.next import next_frame
from tallywire.core.views.result import result_frame
from tallywire.core.views.results import results_frame
from tallywire.core.views.standings import standings_frame
from tallywire.shell.read_model import VIEW_NAMES

OVERLAY = Path(__file__).parents[1] / "overlay"
NASTY = st.text(alphabet=st.one_of(st.sampled_from("\",;\r\n\t =+-@'＝\x00"), st.characters(exclude_categories=["Cs"])))


def all_frames(work: Competition = ENTRIES, said: list[Any] | None = None) -> dict[str, dict[str, Any]]:
    """One frame of every view."""
    now = CompetitionBook(work, facts() if said is None else said).at_clocks({HEAT: CAP_MS})
    heat = now.heats[HEAT]
    places = in_event(now, heat)
    return frames() | {
        "heat": heat_frame(work, heat.state, places),
        "result": result_frame(work, heat.state, next(iter(sight_of(now, heat).changes.values())).sight.stage, places),
        "event": event_frame(now, heat),
        "results": results_frame(now, heat),
        "next": next_frame(now, heat),
        "standings": standings_frame(work, sight_of(now, heat)),
        "call": calls()[0],
    }


@pytest.mark.parametrize("view", [view for view in VIEW_NAMES if view != "booth"])
def test_every_row_has_every_column(view: str) -> None:
    """Each view has a kind of row, and each of its rows the same columns in the same order, of the kind they name."""
    kinds: dict[str, tuple[type, ...]] = {"text": (str,), "whole": (int,), "number": (int, float), "flag": (bool,)}
    columns = {column.name: kinds[column.kind] for column in ROW_KINDS[view].columns}
    assert len(columns) == len(ROW_KINDS[view].columns)
    rows = flat_rows(all_frames()[view])
    assert rows or view == "next"
    for row in rows:
        assert list(row) == list(columns)
        assert [name for name, value in row.items() if value is not None and type(value) not in columns[name]] == []


@pytest.mark.parametrize(
    ("column", "views"),
    [
        ("home", {"heat", "gaps", "result", "table", "call", "event", "results", "standings"}),
        ("stage", {"result", "event", "results", "standings", "table"}),
        ("event_place", {"heat", "gaps", "result", "call"}),
    ],
)
def test_a_column_is_empty_where_its_view_does_not_know_it(column: str, views: set[str]) -> None:
    """It has a value in the views that docs/outlets.md names for it, and in no other."""
    found = {view: flat_rows(frame) for view, frame in all_frames().items() if view in ROW_KINDS}
    assert {view for view, rows in found.items() if any(row.get(column) is not None for row in rows)} == views


def test_rows_say_what_the_frame_says() -> None:
    """A lane's row has the lane's own values; lanes come by number, and their rank is their turn in the order."""
    frame = all_frames()["heat"]
    rows = flat_rows(frame)
    assert [row["lane"] for row in rows] == [1, 2, 3]
    for row in rows:
        lane = frame["lanes"][str(row["lane"])]
        same = {name for name in row if name in lane}
        assert {"place", "result", "scored_reps", "name", "gap_leader"} <= same
        assert {name: row[name] for name in same} == {name: lane[name] for name in same}
        assert frame["order"][int(row["rank"] or 0) - 1] == row["lane"]
        assert row["event_place"] == lane["in_event"]["place"]
    assert [row["lane"] for row in rows if row["leads"]] == [frame["leader"]["lane"]]


def test_results_are_those_of_the_event() -> None:
    """The results view and the event view give each entry the same place, result and points."""
    found = all_frames()
    same = ("table", "entry", "place", "shared", "result", "points", "status")
    results = [[row[name] for name in same] for row in flat_rows(found["results"])]
    assert results == [[row[name] for name in same] for row in flat_rows(found["event"])]
    assert [row["result_ms"] for row in flat_rows(found["results"])] == [110_000, None, None]


@pytest.mark.parametrize("view", ["heat", "result", "event", "results", "standings"])
def test_a_held_lane_has_no_row(view: str) -> None:
    """A medical hold takes the entry out of every row, whose other rows keep their places; no list says who it is."""
    held = Pad("table-b", 1).conduct(HoldPlaced, 8000)
    rows = flat_rows(all_frames(said=[*facts(), held])[view])
    assert [row["entry"] for row in rows] == ["e2", "e3"]
    assert [row["place"] for row in rows] == [2, 3]
    assert "held" not in handed_out(frames()["show"]) | handed_out(frames()["subjects"])


def _named(name: str) -> list[dict[str, Any]]:
    work = competition(lanes=1)
    entry = replace(work.entries["e1"], name=name, home=name)
    book = CompetitionBook(replace(work, entries={"e1": entry}), [Pad("starter").start(), *full_round(Pad("a", 1), 0)])
    heat = book.heats[HEAT].at(CAP_MS)
    return [dict(row) for row in flat_rows(heat_frame(book.competition, heat.state))]


def _plain(text: str) -> str:
    """Take off the apostrophe in front of what a spreadsheet would take for a formula."""
    return text.removeprefix("'")


@given(NASTY)
def test_any_name_comes_back_by_csv(name: str) -> None:
    """Python's own reader gives every field back, whatever is in a name. Source: RFC 4180 and the csv module."""
    rows = _named(name)
    read = list(csv.DictReader(io.StringIO(csv_text(rows), newline=""), strict=True))
    assert len(read) == len(rows)
    for found, row in zip(read, rows, strict=True):
        assert list(found) == list(row)
        assert _plain(found["name"]) == name
        assert found["name"][:1] not in tuple("=+-@\t\r")
        assert found["lane"] == str(row["lane"])


HOSTILE = [
    'Quill "the Gull" Marsh',
    "Fennel, Yard",
    "two\r\nlines",
    "one\nline",
    "=1+1",
    "+CMD|' /C calc'!A0",
    "-2+3",
    "@SUM(A1)",
    "  =1+1",
    "'quoted",
    "Łucja 李 😀",
    "",
]


def test_hostile_names_come_back_by_another_reader() -> None:
    """A reader of another language, strict by default, reads the same fields. Source: csv-parse 5.6.0 from npm."""
    rows = [row for name in HOSTILE for row in _named(name)]
    script = """
      import { parse } from "csv-parse/sync";
      import { readFileSync } from "node:fs";
      process.stdout.write(JSON.stringify(parse(readFileSync(0), { columns: true, record_delimiter: "\\r\\n" })));"""
    command = ["node", "--input-type=module", "-e", script]
    done = subprocess.run(command, cwd=OVERLAY, input=csv_text(rows).encode(), capture_output=True, check=True)
    records = json.loads(done.stdout)
    assert [_plain(record["name"]) for record in records] == HOSTILE
    assert {len(record) for record in records} == {len(rows[0])}


def test_a_heat_without_rows_still_has_its_header() -> None:
    """CSV of nothing is the header line alone, so that an import finds its columns."""
    columns = [column.name for column in ROW_KINDS["next"].columns]
    assert csv_text([], columns) == ",".join(columns) + "\r\n"
