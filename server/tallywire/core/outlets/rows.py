"""Frames as flat rows: nothing is worked out here, values are only taken from where they stand in the frame."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Mapping
from typing import Any

from tallywire.core.outlets.columns import LANES, LINEUP, OUTPUTS, OVERALL, RANKED, ROW_KINDS, SUBJECTS, Column, RowKind

Frame = Mapping[str, Any]
Value = str | int | float | bool | None


def flat_rows(frame: Frame) -> list[dict[str, Value]]:
    """Give a frame as rows of its view's kind, each with every column of it.

    Who is not in the frame, because of a medical hold, is in no row.
    """
    kind = ROW_KINDS[frame["view"]]
    shared = {column.name: _value(frame, column) for column in kind.columns if not column.of_row}
    own = [column for column in kind.columns if column.of_row]
    return [shared | {column.name: _value(row, column) for column in own} for row in _SOURCES[kind](frame)]


def handed_out(frame: Frame) -> dict[str, Any]:
    """Give a frame as outlets hand it out: without the list of who is under a medical hold.

    Our own pages need that list, to take somebody off a picture that is on the air; elsewhere nobody is told why a lane
    is missing.
    """
    return {name: value for name, value in frame.items() if name != "held"}


def _value(source: Frame, column: Column) -> Value:
    found: Any = source
    for name in column.path:
        found = found.get(name) if isinstance(found, Mapping) else None
    return found if isinstance(found, (str, int, float)) else None


def _lanes(frame: Frame) -> Iterator[Frame]:
    ranks = {lane: rank for rank, lane in enumerate(frame["order"], start=1)}
    leader = frame["leader"].get("lane")
    for lane in sorted(frame["lanes"].values(), key=lambda each: int(each["lane"])):
        number = lane["lane"]
        own = {"rank": ranks.get(number), "leads": number == leader}
        yield {**lane, **own, **_division(frame["divisions"], lane["division"])}


def _ranked(frame: Frame) -> Iterator[Frame]:
    for table, ranking in frame["ranking"].items():
        about = {"table": table, "table_stage": ranking.get("stage"), **_picked(ranking, "part", "heats", "raced")}
        division = _division(frame["divisions"], table.rpartition("/")[2])
        for entry in ranking["order"]:
            yield {**about, **division, **ranking["rows"][entry]}


def _overall(frame: Frame) -> Iterator[Frame]:
    for division, standing in frame.get("standings", {}).items():
        for entry in standing["order"]:
            yield {**_division(frame["divisions"], division), **standing["rows"][entry]}


def _lineup(frame: Frame) -> Iterator[Frame]:
    coming = frame.get("next")
    if coming is None:
        return
    event, heat = coming["event"], coming["heat"]
    named = {
        "next_event": event["id"],
        "next_event_name": event["name"],
        "next_heat": heat["id"],
        "next_heat_name": heat["name"],
    }
    for lane in coming["lanes"].values():
        yield {**named, **lane, **_division(coming["divisions"], lane["division"])}


def _outputs(frame: Frame) -> Iterator[Frame]:
    for output, state in frame["outputs"].items():
        yield {**state, "output": output}


def _subjects(frame: Frame) -> Iterator[Frame]:
    for subject, lanes in frame["subjects"].items():
        for lane in lanes:
            yield {"subject": subject, "lane": lane}


def _division(divisions: Frame, division: str) -> Frame:
    return {"division": division, "division_name": divisions.get(division, {}).get("name")}


def _picked(source: Frame, *names: str) -> Frame:
    return {name: source.get(name) for name in names}


_SOURCES: Mapping[RowKind, Callable[[Frame], Iterator[Frame]]] = {
    LANES: _lanes,
    RANKED: _ranked,
    OVERALL: _overall,
    LINEUP: _lineup,
    OUTPUTS: _outputs,
    SUBJECTS: _subjects,
}
