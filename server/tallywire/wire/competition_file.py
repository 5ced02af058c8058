"""The competition file: TOML written by hand by an organiser, checked all at once, turned into the core's terms."""

from __future__ import annotations

import tomllib
from collections.abc import Callable, Sequence
from dataclasses import replace
from typing import Any

from pydantic import ValidationError

from tallywire.core.errors import BadFile, Problem
from tallywire.core.model.competition import Competition, Division, Entry, Event, Floor, Heat, Measure, Part, Record
from tallywire.core.model.theme import Theme
from tallywire.core.ranking.points import TiePolicy
from tallywire.wire.briefing_file import briefings
from tallywire.wire.competition_checks import cross_checks
from tallywire.wire.competition_schema import (
    CompetitionFile,
    EntryTable,
    EventTable,
    PartTable,
    VacantTable,
    competition_model,
)
from tallywire.wire.plain_text import plain_text
from tallywire.wire.problems import problems_of
from tallywire.wire.repair import knock_on, repaired
from tallywire.wire.rundown_file import outputs_of
from tallywire.wire.standings_file import cuts_of, default_tables, exact, points_of, rules_of
from tallywire.wire.start_list import LaneRow, read_start_list
from tallywire.wire.theme_checks import theme_of
from tallywire.wire.workout_file import mark_of, workout_of

ReadBytes = Callable[[str], bytes]
"""Reads a file that the competition file names, relative to its folder, as bytes. Raises OSError when it cannot."""


def read_competition(name: str, text: str, read_bytes: ReadBytes) -> Competition:
    """Read a competition file. Raises BadFile with everything that is wrong with it."""
    try:
        data = tomllib.loads(text)
    except tomllib.TOMLDecodeError as exc:
        raise BadFile(name, [Problem("the file", str(exc), "TOML")]) from exc
    return competition_from(name, data, read_bytes)


def competition_from(name: str, data: dict[str, Any], read_bytes: ReadBytes) -> Competition:
    """Read what a competition file says. Raises BadFile with everything that is wrong with it."""
    try:
        table = competition_model().model_validate(data)
    except ValidationError as exc:
        shape = problems_of(exc)
        raise BadFile(name, [*shape, *_between_tables(data, shape, read_bytes)]) from exc
    rows, problems = _start_lists(table, read_bytes)
    theme, wrong = theme_of(table.theme, read_bytes)
    problems += [*cross_checks(table, rows), *wrong]
    if problems:
        raise BadFile(name, problems)
    return _competition(table, rows, theme)


def _between_tables(data: dict[str, Any], shape: list[Problem], read_bytes: ReadBytes) -> list[Problem]:
    """Check the tables against each other even where shapes are wrong, without problems that only follow from those."""
    table = repaired(competition_model(), data)
    if table is None:
        return []
    rows, problems = _start_lists(table, read_bytes)
    damaged = [problem.path for problem in shape]
    return [each for each in [*problems, *cross_checks(table, rows)] if not knock_on(each, damaged)]


def competition_schema() -> dict[str, Any]:
    """Give the JSON Schema (2020-12) of the competition file."""
    schema: dict[str, Any] = competition_model().model_json_schema(by_alias=True)
    return {"$schema": "https://json-schema.org/draft/2020-12/schema", **schema}


def _start_lists(table: CompetitionFile, read_bytes: ReadBytes) -> tuple[list[LaneRow], list[Problem]]:
    rows: list[LaneRow] = []
    problems: list[Problem] = []
    for index, file_name in enumerate(table.start_lists, start=1):
        found, wrong = _start_list(f"start_lists[{index}]", file_name, read_bytes)
        rows += found
        problems += wrong
    return rows, problems


def _start_list(path: str, name: str, read_bytes: ReadBytes) -> tuple[list[LaneRow], list[Problem]]:
    try:
        return read_start_list(name, plain_text(name, read_bytes(name)))
    except OSError as exc:
        return [], [Problem(path, f'"{name}" ({exc})', "a CSV file that can be read")]
    except BadFile as exc:
        return [], [replace(each, path=f"{name} {each.path}") for each in exc.problems]


def _competition(table: CompetitionFile, rows: list[LaneRow], theme: Theme) -> Competition:
    lanes: dict[str, dict[int, str]] = {
        heat.id: {int(lane): entry for lane, entry in heat.lanes.items()} for heat in table.heat
    }
    for row in rows:
        lanes[row.heat][row.lane] = row.entry
    return Competition(
        name=table.competition.name,
        divisions={each.id: Division(id=each.id, name=each.name) for each in table.division},
        entries={each.id: _entry(each) for each in table.entry},
        points={each.id: points_of(each) for each in table.points},
        events=_events(table),
        heats={
            each.id: Heat(
                id=each.id,
                name=each.name,
                event=each.event,
                lanes=dict(sorted(lanes[each.id].items())),
                start_unix_ms=None if each.start is None else round(each.start.timestamp() * 1000),
                floor=each.floor or "",
            )
            for each in table.heat
        },
        outputs=outputs_of(table),
        theme=theme,
        standing_rules=rules_of(table.standings),
        drop_disqualified=table.standings.drop_disqualified,
        cuts=cuts_of(table.cut),
        floors={each.id: Floor(id=each.id, name=each.name) for each in table.floor},
        briefings=briefings({each.id: each for each in table.entry}, rows),
        language=table.competition.language,
        spectators_choose=table.competition.spectators_choose,
    )


def _entry(each: EntryTable) -> Entry:
    return Entry(
        id=each.id,
        name=each.name,
        short=each.short or each.name,
        division=each.division,
        home=each.home,
        points_before=exact(each.points_before),
        left_after=each.left_after,
    )


def _events(table: CompetitionFile) -> dict[str, Event]:
    tables = default_tables(table.standings.tables_from, [each.id for each in table.event], table.points[0].id)
    return {each.id: _event(each, table, each.points or tables[each.id]) for each in table.event}


def _event(each: EventTable, table: CompetitionFile, default: str) -> Event:
    display = table.competition
    return Event(
        id=each.id,
        name=each.name,
        points=default,
        ties=TiePolicy(each.ties),
        workout=workout_of(each.workout, decimals=display.time_decimals, round_up=display.time_rounding == "up"),
        parts=tuple(_part(part, default, in_count_back=each.count_back) for part in each.part),
        in_count_back=each.count_back,
        vacant=_vacant(each.vacant),
        records=tuple(
            Record(result=record.result, who=record.who, when=record.when or "", division=record.division)
            for record in each.record
        ),
    )


def _part(each: PartTable, default: str, *, in_count_back: bool) -> Part:
    return Part(
        id=each.id,
        name=each.name,
        measure=Measure(each.measure),
        mark=mark_of(each.mark),
        at_ms=each.at,
        points=each.points or default,
        in_count_back=in_count_back if each.count_back is None else each.count_back,
        vacant=_vacant(each.vacant),
    )


def _vacant(tables: Sequence[VacantTable]) -> tuple[tuple[str, int], ...]:
    return tuple((each.division, each.place) for each in tables)
