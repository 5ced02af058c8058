"""The command `bench`: what the server costs on this machine."""

from __future__ import annotations

import argparse
import json
import sys
import time
from pathlib import Path

from tallywire.core.errors import TallywireError
from tallywire.measure.catalogue import MEASURES, chosen
from tallywire.measure.machine import Machine, kept_on, load_core
from tallywire.measure.report import Taken, as_data, as_text, machine_data, written_into
from tallywire.measure.scale import Scale
from tallywire.shell.files import load_text, write_text

OK, NOT_ALL = 0, 2


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add bench."""
    command = commands.add_parser("bench", help="measure what the server costs on this machine")
    command.add_argument("--only", action="append", metavar="NAME", help="only this measure; may be repeated")
    command.add_argument("--list", action="store_true", help="name the measures, and about how long each takes")
    how = command.add_mutually_exclusive_group()
    how.add_argument("--quick", action="store_true", help="once and small, to see that it works: figures mean little")
    how.add_argument("--long", action="store_true", help="take the minutes too that some measures need")
    command.add_argument("--json", action="store_true", help="as data, with every value")
    command.add_argument("--write", type=Path, metavar="PAGE", help="write the tables between their markers in a page")
    command.set_defaults(run=run_bench)


def run_bench(arguments: argparse.Namespace) -> int:
    """Measure, and print each measure as soon as it is there."""
    entries = chosen(arguments.only or [])
    if arguments.list:
        print("\n".join(f"{each.name:10} {each.about_s:4} s  {each.says}" for each in MEASURES))
        return 0
    machine, scale = Machine.now(), Scale(quick=arguments.quick, long=arguments.long)
    _say(f"{machine.cores} cores, {machine.system}, Python {machine.python}, load {machine.load}")
    if machine.warning:
        _say(machine.warning)
    found, code = list[Taken](), OK
    for entry in entries:
        _say(f"{time.strftime('%H:%M:%S')} {entry.name}: {entry.says}, about {entry.about_s} s")
        try:
            with kept_on(load_core()):
                taken = Taken(name=entry.name, machine=Machine.now(), tables=entry.take(scale))
        except (TallywireError, OSError) as exc:
            # What went wrong in one measure, such as a busy machine that cuts somebody off, costs the others nothing.
            _say(f"{entry.name} was not measured: {exc}")
            code = NOT_ALL
            continue
        found.append(taken)
        if not arguments.json:
            print(as_text(taken), flush=True)
        if arguments.write is not None:
            _write(taken, arguments.write)
    if arguments.json:
        print(json.dumps({"machine": machine_data(machine), "measures": [as_data(each) for each in found]}, indent=1))
    return code


def _write(taken: Taken, page: Path) -> None:
    """Write a measure's tables into a page, and its pictures beside it."""
    write_text(page, written_into(load_text(page), taken))
    for table in taken.tables:
        if table.picture:
            write_text(page.parent / "pictures" / f"bench-{taken.name}.svg", table.picture)


def _say(text: str) -> None:
    print(f"tallywire: {text}", file=sys.stderr, flush=True)
