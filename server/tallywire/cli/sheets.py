"""The command sheets: heat sheets and scoresheets, ready to print."""

from __future__ import annotations

import argparse
from pathlib import Path

from tallywire.cli.results import add_language_option, words_of
from tallywire.cli.sheet_pages import heat_sheet, scoresheets
from tallywire.core.errors import BadFile, Problem
from tallywire.core.model.competition import Competition, Heat
from tallywire.shell.files import load_competition, write_text
from tallywire.wire.problems import shown


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add sheets."""
    sheets = commands.add_parser("sheets", help="write heat sheets and judges' scoresheets to print")
    sheets.add_argument("competition", type=Path, metavar="COMPETITION")
    which = sheets.add_mutually_exclusive_group(required=True)
    which.add_argument("--heat", metavar="ID")
    which.add_argument("--event", metavar="ID", help="all heats of this event")
    sheets.add_argument("--out", type=Path, required=True, metavar="DIR", help="folder for the pages, made if missing")
    add_language_option(sheets, "the language of the pages")
    sheets.set_defaults(run=run_sheets)


def run_sheets(arguments: argparse.Namespace) -> int:
    """Write two pages for every heat."""
    competition = load_competition(arguments.competition)
    words = words_of(competition, arguments.language)
    for heat in _chosen(competition, arguments):
        name = heat.id.replace(":", "-")  # some file systems have no colons in names
        for kind, text in (("heat", heat_sheet), ("scoresheets", scoresheets)):
            path = arguments.out / f"{name}-{kind}.html"
            write_text(path, text(competition, heat, words))
            print(path)
    return 0


def _chosen(competition: Competition, arguments: argparse.Namespace) -> list[Heat]:
    if arguments.heat is not None:
        option, wanted, known = "--heat", arguments.heat, list(competition.heats)
        heats = [heat for heat in competition.heats.values() if heat.id == wanted]
    else:
        option, wanted, known = "--event", arguments.event, list(competition.events)
        heats = [heat for heat in competition.heats.values() if heat.event == wanted]
    if not heats:
        problem = Problem(option, shown(wanted), f"one of the competition with heats: {', '.join(known)}")
        raise BadFile(str(arguments.competition), [problem])
    return heats
