"""The commands results and standings: what the results desk prints and hands out."""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence
from pathlib import Path

import orjson

from tallywire.cli.files import strangers
from tallywire.cli.html_report import html_report
from tallywire.cli.report import Report
from tallywire.cli.result_report import RESULT_COLUMNS, result_report
from tallywire.cli.standing_report import standing_report
from tallywire.cli.tables import text_report
from tallywire.core.errors import BadFile, Problem
from tallywire.core.facts import Fact
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.fold.snapshot import Snapshot
from tallywire.core.model.competition import Competition
from tallywire.core.outlets.csv_text import csv_text
from tallywire.core.reports.results import Choice
from tallywire.shell.files import load_competition, load_recording
from tallywire.wire.catalogue import LANGUAGES, Catalogue, catalogue
from tallywire.wire.problems import shown

FORMATS = ("table", "json", "csv", "html")


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add results and standings."""
    results = commands.add_parser("results", help="print results of recorded heats")
    results.add_argument("competition", type=Path, metavar="COMPETITION")
    results.add_argument("recordings", type=Path, nargs="+", metavar="RECORDING", help="recordings or data folders")
    results.add_argument("--event", metavar="ID", help="only this event")
    results.add_argument("--heat", metavar="ID", help="only this heat")
    add_print_options(results)
    results.set_defaults(run=run_results)
    standings = commands.add_parser("standings", help="print the overall standing of each division")
    standings.add_argument("competition", type=Path, metavar="COMPETITION")
    standings.add_argument("recordings", type=Path, nargs="+", metavar="RECORDING", help="recordings or data folders")
    add_print_options(standings)
    standings.set_defaults(run=run_standings)


def add_print_options(command: argparse.ArgumentParser) -> None:
    """Add the options for the division, the output format and the line up to which facts count."""
    command.add_argument("--division", metavar="ID", help="only this division")
    command.add_argument("--format", choices=FORMATS, default="table", help="default: %(default)s")
    command.add_argument("--json", action="store_const", dest="format", const="json", help="the same as --format json")
    add_language_option(command, "the language of HTML")
    command.add_argument("--as-of", type=int, metavar="LINE", help="as it stood after this line of the recording")


def add_language_option(command: argparse.ArgumentParser, whose: str) -> None:
    """Add the option for the language of what is printed."""
    command.add_argument("--language", choices=LANGUAGES, help=f"{whose}; default: the competition's")


def words_of(competition: Competition, asked: str | None) -> Catalogue:
    """Give the words of what is printed: in the language that is asked for, else the competition's."""
    return catalogue(asked or competition.language)


def run_results(arguments: argparse.Namespace) -> int:
    """Print results."""
    competition = load_competition(arguments.competition)
    facts = load_all(competition, arguments.recordings, as_of=arguments.as_of)
    choice = Choice(event=arguments.event, heat=arguments.heat, division=arguments.division)
    check_names(competition, facts, ", ".join(map(str, arguments.recordings)), choice)
    snapshot = CompetitionBook(competition, facts).at_last_facts()
    told = {"form": arguments.format, "as_of": arguments.as_of, "language": arguments.language}
    sys.stdout.write(results_text(snapshot, choice, **told))
    return 0


def run_standings(arguments: argparse.Namespace) -> int:
    """Print standings."""
    competition = load_competition(arguments.competition)
    facts = load_all(competition, arguments.recordings, as_of=arguments.as_of)
    check_names(competition, facts, str(arguments.competition), Choice(division=arguments.division))
    snapshot = CompetitionBook(competition, facts).at_last_facts()
    words = form_words(competition, arguments.format, arguments.language)
    report = standing_report(snapshot, arguments.division, words, as_of=arguments.as_of)
    sys.stdout.write(printed(report, arguments.format, words))
    return 0


def form_words(competition: Competition, form: str, language: str | None) -> Catalogue:
    """Give the words of a report: a page is in the competition's language, what goes to a terminal in English."""
    return words_of(competition, language) if form == "html" else catalogue(LANGUAGES[0])


def results_text(
    snapshot: Snapshot, choice: Choice, *, form: str, as_of: int | None = None, language: str | None = None
) -> str:
    """Give results in one of the formats, line break included."""
    words = form_words(snapshot.competition, form, language)
    report = result_report(snapshot, choice, words, as_of=as_of)
    return csv_text(report.records, RESULT_COLUMNS) if form == "csv" else printed(report, form, words)


def printed(report: Report, form: str, words: Catalogue) -> str:
    """Give a report as text, JSON, CSV or HTML."""
    if form == "json":
        return orjson.dumps(report.data, option=orjson.OPT_INDENT_2 | orjson.OPT_APPEND_NEWLINE).decode()
    if form == "csv":
        return csv_text(report.records)
    return html_report(report, words) if form == "html" else text_report(report)


def load_all(competition: Competition, paths: Sequence[Path], *, as_of: int | None = None) -> list[Fact]:
    """Read several recordings as one, each checked against the competition. Raises BadFile."""
    if as_of is not None and len(paths) > 1:
        found = f"{len(paths)} recordings"
        raise BadFile(str(paths[0]), [Problem("--as-of", found, "one recording: its lines are what is counted")])
    facts: list[Fact] = []
    for path in paths:
        own = load_recording(path, until_line=as_of)
        check_names(competition, own, str(path), Choice())
        facts += own
    return facts


def check_names(competition: Competition, facts: Sequence[Fact], name: str, choice: Choice) -> None:
    """Check that the competition has everything that the facts and the choice name. Raises BadFile."""
    problems = strangers(competition, facts)
    raced = {fact.heat: None for fact in facts if fact.heat in competition.heats}
    known = {
        "event": list(dict.fromkeys(competition.heats[heat].event for heat in raced)),
        "heat": list(raced),
        "division": list(competition.divisions),
    }
    for option, names in known.items():
        wanted = getattr(choice, option)
        if wanted is not None and wanted not in names:
            where = "the competition" if option == "division" else "the recording"
            problems.append(Problem(f"--{option}", shown(wanted), f"one of {where}: {', '.join(names)}"))
    if problems:
        raise BadFile(name, problems)
