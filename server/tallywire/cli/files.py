"""Commands that read files and print: check, schema, results."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import orjson

from tallywire.cli.tables import results_json, results_table
from tallywire.core.competition import Competition
from tallywire.core.errors import BadFile, Problem
from tallywire.core.facts import Fact
from tallywire.core.fold import HeatState, fold
from tallywire.shell.files import load_competition, load_recording
from tallywire.wire.competition_file import competition_schema
from tallywire.wire.fact_lines import facts_schema
from tallywire.wire.problems import shown

_SCHEMAS = {"competition": competition_schema, "events": facts_schema}


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add check, schema and results."""
    check = commands.add_parser("check", help="say everything that is wrong with a competition file")
    check.add_argument("competition", type=Path, metavar="FILE")
    check.set_defaults(run=run_check)
    schema = commands.add_parser("schema", help="print a JSON Schema")
    schema.add_argument("name", choices=sorted(_SCHEMAS))
    schema.set_defaults(run=run_schema)
    results = commands.add_parser("results", help="print the ranked result of a recorded heat")
    results.add_argument("competition", type=Path, metavar="COMPETITION")
    results.add_argument("recording", type=Path, metavar="RECORDING")
    results.add_argument("--heat", help="which heat, when the recording holds several")
    results.add_argument("--json", action="store_true", help="print JSON")
    results.set_defaults(run=run_results)


def run_check(arguments: argparse.Namespace) -> int:
    """Print the problems of a competition file, or that there are none."""
    competition = load_competition(arguments.competition)
    counts = f"{len(competition.entries)} entries, {len(competition.events)} events, {len(competition.heats)} heats"
    print(f"{arguments.competition}: no problems ({counts})")
    return 0


def run_schema(arguments: argparse.Namespace) -> int:
    """Print a JSON Schema."""
    print(orjson.dumps(_SCHEMAS[arguments.name](), option=orjson.OPT_INDENT_2).decode())
    return 0


def run_results(arguments: argparse.Namespace) -> int:
    """Print the result of one heat."""
    competition = load_competition(arguments.competition)
    facts = load_recording(arguments.recording)
    state = result_state(competition, facts, str(arguments.recording), arguments.heat)
    if arguments.json:
        sys.stdout.write(results_json(competition, state))
    else:
        print(results_table(competition, state))
    return 0


def result_state(competition: Competition, facts: list[Fact], name: str, heat: str | None) -> HeatState:
    """Fold a recording of one heat, checking that the competition has what it names. Raises BadFile."""
    heats = list(dict.fromkeys(fact.heat for fact in facts))
    if heat is None and len(heats) > 1:
        raise BadFile(name, [Problem("heat", ", ".join(heats), "one heat, or --heat to choose")])
    chosen = heat or heats[0]
    problems = strangers(competition, facts)
    if chosen not in heats:
        problems.append(Problem("--heat", shown(chosen), f"a heat of the recording: {', '.join(heats)}"))
    if problems:
        raise BadFile(name, problems)
    return fold(competition, chosen, facts)


def strangers(competition: Competition, facts: Sequence[Fact]) -> list[Problem]:
    """Give what the facts name that the competition does not have: heats, lanes; each once."""
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
