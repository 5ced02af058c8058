"""The command `simulate`: writes recordings of heats that nobody ran, for rehearsals, trials and load tests."""

from __future__ import annotations

import argparse
import secrets
import sys
from collections.abc import Iterator
from pathlib import Path

from tallywire.core.errors import BadFile, Problem
from tallywire.core.facts import Fact
from tallywire.core.made_up.heat import made_up_heat
from tallywire.core.made_up.worlds import WORLDS
from tallywire.core.model.competition import Competition, Heat
from tallywire.shell.files import load_competition, write_text
from tallywire.shell.made_up import seeded
from tallywire.wire.fact_lines import fact_line

FIRST_START_UNIX_MS = 1_817_629_200_000
"""Where the file gives no times; between heats there are five minutes."""
BETWEEN_MS = 300_000


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add simulate."""
    command = commands.add_parser("simulate", help="write a recording of heats that nobody ran")
    command.add_argument("competition", type=Path, metavar="COMPETITION")
    command.add_argument("--heat", action="append", metavar="ID", help="only this heat; may be repeated; default: all")
    command.add_argument("--world", choices=sorted(WORLDS), default="fade", help="how heats go; default: fade")
    command.add_argument("--seed", type=int, metavar="N", help="the same again; default: a new one, which is printed")
    command.add_argument("--out", type=Path, metavar="FILE", help="where to write; default: standard output")
    command.set_defaults(run=run_simulate)


def run_simulate(arguments: argparse.Namespace) -> int:
    """Write the recording."""
    competition = load_competition(arguments.competition)
    heats = _wanted(arguments, competition)
    seed = secrets.randbelow(10**9) if arguments.seed is None else arguments.seed
    if arguments.seed is None:
        print(f"tallywire: --seed {seed} gives the same again", file=sys.stderr)
    facts = simulated(competition, heats, world=arguments.world, seed=seed)
    text = b"".join(fact_line(fact) + b"\n" for fact in facts).decode()
    if arguments.out is None:
        print(text, end="")
    else:
        write_text(arguments.out, text)
    return 0


def _wanted(arguments: argparse.Namespace, competition: Competition) -> list[Heat]:
    wanted = arguments.heat or [heat.id for heat in competition.heats.values() if heat.lanes]
    unknown = [heat for heat in wanted if heat not in competition.heats]
    if unknown or not wanted:
        expected = f"one of {', '.join(competition.heats)}" if competition.heats else "a competition with heats"
        raise BadFile(str(arguments.competition), [Problem("--heat", ", ".join(unknown) or "none", expected)])
    return [competition.heats[heat] for heat in wanted]


def simulated(competition: Competition, heats: list[Heat], *, world: str, seed: int) -> Iterator[Fact]:
    """Give the facts of heats one after the other; a seed, a world and a file always give the same."""
    made = seeded(competition, world, seed)
    next_ms = FIRST_START_UNIX_MS
    for heat in heats:
        start_ms = heat.start_unix_ms or next_ms
        yield from made_up_heat(made, heat, start_unix_ms=start_ms)
        next_ms = start_ms + competition.event_of(heat).workout.time_cap_ms + BETWEEN_MS
