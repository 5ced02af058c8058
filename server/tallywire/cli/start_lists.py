"""The command seed: the next event's heats and lanes from the standing, as a start list."""

from __future__ import annotations

import argparse
import sys
from pathlib import Path

from tallywire.cli.results import load_all
from tallywire.core.errors import BadFile, Problem
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.snapshot import Snapshot
from tallywire.core.model.competition import Competition
from tallywire.core.outlets.csv_text import csv_text
from tallywire.core.ranking.seeding import SeedRules, Uneven, heat_sizes, seed
from tallywire.core.standings.overall import cuts_are_made, may_hold, still_in
from tallywire.shell.files import load_competition
from tallywire.wire.problems import shown


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add seed."""
    command = commands.add_parser("seed", help="print the next event's start list, seeded from the standing")
    command.add_argument("competition", type=Path, metavar="COMPETITION")
    command.add_argument("recordings", type=Path, nargs="*", metavar="RECORDING", help="recordings or data folders")
    command.add_argument("--event", required=True, metavar="ID", help="the event to seed")
    command.add_argument(
        "--lanes", type=_lanes, required=True, metavar="N", help="how many lanes, or which: 2,3,5,8 from side to side"
    )
    command.add_argument("--division", metavar="ID", help="needed when there are several")
    command.add_argument("--heats", metavar="ID,ID", help="the heats to fill, weakest first; default: the division's")
    command.add_argument("--uneven", choices=[each.value for each in Uneven], default=Uneven.FIRST_SHORT.value)
    command.add_argument("--least", type=int, default=1, metavar="N", help="fewest entries in a short first heat")
    command.set_defaults(run=run_seed)


def run_seed(arguments: argparse.Namespace) -> int:
    """Print a start list from the standing after the events that stand before this one in the file."""
    competition = load_competition(arguments.competition)
    name = str(arguments.competition)
    division = _one_of(name, "--division", arguments.division or _only(competition), list(competition.divisions))
    event = _one_of(name, "--event", arguments.event, list(competition.events))
    facts = load_all(competition, arguments.recordings)
    earlier = list(competition.events)[: list(competition.events).index(event)]
    book = CompetitionBook(competition, [fact for fact in facts if competition.heats[fact.heat].event in earlier])
    snapshot = book.at_last_facts()
    _check_cut(name, snapshot, event, division)
    rules = _rules(name, arguments)
    order = still_in(snapshot, division, before=event)
    heats = _heats(name, competition, event, division, arguments.heats)
    needed = len(heat_sizes(len(order), rules))
    if len(heats) != needed:
        found = f"{len(heats)} heats ({', '.join(heats) or 'none'})"
        expected = f"{needed} for {len(order)} entries on {len(rules.lanes)} lanes: name them with --heats"
        raise BadFile(name, [Problem(f"heats of {event}", found, expected)])
    sys.stdout.write(_start_list(competition, dict(zip(heats, seed(order, rules), strict=True))))
    return 0


def _check_cut(name: str, snapshot: Snapshot, event: str, division: str) -> None:
    """Refuse to seed while an event before the cut is incomplete: nobody knows yet who goes on."""
    if cuts_are_made(snapshot, event, division):
        return
    raced = [heat for each in snapshot.events_before(event) for heat in snapshot.heats_of(each)]
    still = [heat for heat in raced if may_hold(heat, division) and not heat.over]
    found = f"heats that are not over: {', '.join(heat.heat.id for heat in still) or 'none'}"
    raise BadFile(name, [Problem(f"the cut before {event}", found, "all heats before it: only then is it made")])


def _start_list(competition: Competition, seeded: dict[str, dict[int, str]]) -> str:
    rows = [
        {"heat": heat, "lane": lane, "entry": entry, "name": competition.entries[entry].name}
        for heat, lanes in seeded.items()
        for lane, entry in lanes.items()
    ]
    return csv_text(rows, ("heat", "lane", "entry", "name"))


def _heats(name: str, competition: Competition, event: str, division: str, named: str | None) -> list[str]:
    """The heats named in the arguments, or else those of the event whose lanes are free or hold only this division."""
    own = [heat for heat in competition.heats.values() if heat.event == event]
    if named is None:
        return [
            heat.id for heat in own if all(competition.entry_on(heat, lane).division == division for lane in heat.lanes)
        ]
    return [_one_of(name, "--heats", each.strip(), [heat.id for heat in own]) for each in named.split(",")]


def _only(competition: Competition) -> str:
    """The division if there is just one; otherwise an empty name, which is refused with the list of divisions."""
    return next(iter(competition.divisions)) if len(competition.divisions) == 1 else ""


def _one_of(name: str, option: str, wanted: str, known: list[str]) -> str:
    if wanted not in known:
        found = shown(wanted) if wanted else "nothing"
        raise BadFile(name, [Problem(option, found, f"one of {', '.join(known) or 'none'}")])
    return wanted


def _rules(name: str, arguments: argparse.Namespace) -> SeedRules:
    try:
        return SeedRules(lanes=arguments.lanes, uneven=Uneven(arguments.uneven), least=arguments.least)
    except ValueError as exc:
        found, _, expected = str(exc).partition(", expected ")
        raise BadFile(name, [Problem("--lanes or --least", found.removeprefix("found "), expected)]) from exc


def _lanes(text: str) -> tuple[int, ...]:
    numbers = [int(each) for each in text.split(",") if each.isascii() and each.isdigit() and 1 <= int(each) <= 99]
    if len(numbers) != text.count(",") + 1:
        raise argparse.ArgumentTypeError(f'found "{text}", expected a number from 1 to 99, or lanes such as 2,3,5,8')
    return tuple(range(1, numbers[0] + 1)) if len(numbers) == 1 else tuple(numbers)
