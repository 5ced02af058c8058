"""The command scorecard: how good the forecasts of recorded heats were, to print."""

from __future__ import annotations

import argparse
from pathlib import Path

from tallywire.cli.html_report import html_report
from tallywire.cli.results import add_language_option, load_all, words_of
from tallywire.cli.scorecard_report import scorecard_report
from tallywire.core.errors import BadFile, Problem
from tallywire.shell.files import load_competition, write_text
from tallywire.shell.forecast_log import load_forecasts
from tallywire.wire.problems import shown


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add scorecard."""
    card = commands.add_parser("scorecard", help="write what the forecast said of recorded heats beside what came")
    card.add_argument("competition", type=Path, metavar="COMPETITION")
    card.add_argument("recordings", type=Path, nargs="+", metavar="RECORDING")
    card.add_argument("--heat", help="this heat alone")
    card.add_argument("--out", type=Path, required=True, metavar="FILE", help="the page, HTML for A4")
    add_language_option(card, "the language of the page")
    card.set_defaults(run=run_scorecard)


def run_scorecard(arguments: argparse.Namespace) -> int:
    """Write the scorecard of every heat on the recordings, or of one."""
    competition = load_competition(arguments.competition)
    facts = load_all(competition, arguments.recordings)
    raced = list(dict.fromkeys(fact.heat for fact in facts))
    if arguments.heat is not None and arguments.heat not in raced:
        problem = Problem("--heat", shown(arguments.heat), f"one of {', '.join(raced)}")
        raise BadFile(str(arguments.recordings[0]), [problem])
    heats = [competition.heats[heat] for heat in raced if arguments.heat in (None, heat)]
    words = words_of(competition, arguments.language)
    kept = [each for folder in arguments.recordings if folder.is_dir() for each in load_forecasts(folder)]
    write_text(arguments.out, html_report(scorecard_report(competition, facts, heats, words, kept), words))
    print(arguments.out)
    return 0
