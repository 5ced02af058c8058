"""The commands `check` and `schema`, and the search for names in a recording that the competition does not have."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from itertools import combinations
from pathlib import Path

import orjson

from tallywire.core.errors import Problem
from tallywire.core.facts import Fact
from tallywire.core.model.competition import Competition, Entry, Heat
from tallywire.shell.files import load_competition
from tallywire.wire.competition_file import competition_schema
from tallywire.wire.competition_schema import SHORT_MOST
from tallywire.wire.fact_lines import facts_schema
from tallywire.wire.problems import shown

_SCHEMAS = {"competition": competition_schema, "events": facts_schema}


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add check and schema."""
    check = commands.add_parser("check", help="say everything that is wrong with a competition file")
    check.add_argument("competition", type=Path, metavar="FILE")
    check.set_defaults(run=run_check)
    schema = commands.add_parser("schema", help="print a JSON Schema")
    schema.add_argument("name", choices=sorted(_SCHEMAS))
    schema.set_defaults(run=run_schema)


def run_check(arguments: argparse.Namespace) -> int:
    """Print the problems of a competition file, or that there are none."""
    competition = load_competition(arguments.competition)
    held = (("entry", "entries", competition.entries), ("event", "events", competition.events))
    counted = (*held, ("heat", "heats", competition.heats))
    counts = ", ".join(f"{len(found)} {one if len(found) == 1 else many}" for one, many, found in counted)
    print(f"{arguments.competition}: no problems ({counts})")
    for entry in without_short(competition):
        print(
            f'  remark: "{entry.name}" ({entry.id}) has no short form and more than {SHORT_MOST} letters: it may be cut'
        )
    for name, heats in called_alike(competition).items():
        print(f'  remark: {" and ".join(heats)} have one name, "{name}": nobody can tell them apart on a picture')
    for one, other, entry in in_two_places(competition):
        print(
            f'  remark: "{entry.name}" ({entry.id}) is to race in {one.id} and, before that can be over, '
            f"on another floor in {other.id}"
        )
    return 0


def called_alike(competition: Competition) -> dict[str, list[str]]:
    """Give the heats by title where several of one event have the same: letters, large or small, and spaces aside."""
    alike: dict[tuple[str, str], list[Heat]] = {}
    for heat in competition.heats.values():
        alike.setdefault((heat.event, " ".join(heat.name.split()).casefold()), []).append(heat)
    return {heats[0].name: [each.id for each in heats] for heats in alike.values() if len(heats) > 1}


def in_two_places(competition: Competition) -> list[tuple[Heat, Heat, Entry]]:
    """Give the pairs of heats that the timetable has on two floors at the same time, with who is in both.

    A heat takes its time cap at most.
    """
    timed = [each for each in competition.heats.values() if each.floor and each.start_unix_ms is not None]
    timed.sort(key=lambda each: each.start_unix_ms or 0)
    pairs = [
        (one, other)
        for one, other in combinations(timed, 2)
        if one.floor != other.floor and (other.start_unix_ms or 0) < _ends_ms(competition, one)
    ]
    return [
        (one, other, competition.entries[entry])
        for one, other in pairs
        for entry in one.lanes.values()
        if entry in other.lanes.values()
    ]


def _ends_ms(competition: Competition, heat: Heat) -> int:
    return (heat.start_unix_ms or 0) + competition.event_of(heat).workout.time_cap_ms


def without_short(competition: Competition) -> list[Entry]:
    """Give the entries whose name is longer than a short form may be, and that have none."""
    return [each for each in competition.entries.values() if each.short == each.name and len(each.name) > SHORT_MOST]


def run_schema(arguments: argparse.Namespace) -> int:
    """Print a JSON Schema."""
    print(orjson.dumps(_SCHEMAS[arguments.name](), option=orjson.OPT_INDENT_2).decode())
    return 0


def strangers(competition: Competition, facts: Sequence[Fact]) -> list[Problem]:
    """Give each heat and lane that the facts name and the competition does not have, once."""
    problems = {}
    for fact in facts:
        heat, lane = competition.heats.get(fact.heat), getattr(fact, "lane", None)
        if heat is None:
            known = ", ".join(competition.heats)
            problems[fact.heat] = Problem(
                f"fact {fact.id}, heat", shown(fact.heat), f"a heat of the competition: {known}"
            )
        elif lane is not None and lane not in heat.lanes:
            lanes = ", ".join(map(str, heat.lanes))
            problems[f"{fact.heat} {lane}"] = Problem(
                f"fact {fact.id}, lane", str(lane), f"a lane of {heat.id}: {lanes}"
            )
    return list(problems.values())
