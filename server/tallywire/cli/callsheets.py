"""The command callsheet: the call sheet of a heat, one page to print before it."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

from tallywire.cli.callsheet_report import booth_sections, callsheet_report
from tallywire.cli.html_report import PAGE_CSS, html_report
from tallywire.cli.report import Section
from tallywire.cli.results import add_language_option, load_all, words_of
from tallywire.cli.scorecard_report import summed_up, told_of
from tallywire.core.errors import BadFile, Problem
from tallywire.core.facts import Fact
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.competition import Competition, Heat
from tallywire.shell.files import load_competition, write_text
from tallywire.wire.catalogue import Catalogue
from tallywire.wire.problems import shown

# Ten lanes with their needs, the work and the results to beat go on one sheet of A4.
_CSS = (
    PAGE_CSS
    + """
body { font-size: 9.5pt; }
h2 { margin-top: 4.5mm; font-size: 11.5pt; }
th, td { padding-block: 0.6mm; overflow-wrap: break-word; }
td:last-child { width: 52%; }
section:not(:first-of-type) td:last-child { width: auto; }
"""
)
_BACK_CSS = """section:nth-last-of-type({}) {{ break-before: page; }}
section:nth-last-of-type(-n + {}) td:nth-child(2) {{ overflow-wrap: break-word; }}
"""


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add callsheet."""
    sheet = commands.add_parser("callsheet", help="write the call sheet of a heat: one page to print before it")
    sheet.add_argument("competition", type=Path, metavar="COMPETITION")
    sheet.add_argument("recordings", type=Path, nargs="*", metavar="RECORDING", help="of the heats raced so far")
    # Recordings may also come after --heat, where argparse would report them as unknown arguments.
    sheet.add_argument("--heat", required=True, nargs="+", metavar=("ID", "RECORDING"))
    sheet.add_argument("--out", type=Path, required=True, metavar="FILE", help="the page, HTML for A4")
    add_language_option(sheet, "the language of the page")
    sheet.set_defaults(run=run_callsheet)


def _back(competition: Competition, facts: Sequence[Fact], heat: Heat, words: Catalogue) -> list[Section]:
    """Give the back of the sheet: what the booth is told, and how good the forecast was in the event's heats so far."""
    raced = [each for each in dict.fromkeys(fact.heat for fact in facts) if competition.heats[each].event == heat.event]
    found = {each: told_of(competition, facts, each) for each in raced}
    card = [summed_up(competition, found, words)] if any(found.values()) else []
    return booth_sections(competition, heat, words) + card


def run_callsheet(arguments: argparse.Namespace) -> int:
    """Write the call sheet."""
    competition = load_competition(arguments.competition)
    heat, *behind = arguments.heat
    if heat not in competition.heats:
        problem = Problem("--heat", shown(heat), f"one of {', '.join(competition.heats)}")
        raise BadFile(str(arguments.competition), [problem])
    recordings = [*arguments.recordings, *map(Path, behind)]
    facts = [fact for fact in load_all(competition, recordings) if fact.heat != heat]
    words = words_of(competition, arguments.language)
    report = callsheet_report(CompetitionBook(competition, facts), competition.heats[heat], words)
    back = _back(competition, facts, competition.heats[heat], words)
    report = replace(report, sections=[*report.sections, *back])
    write_text(
        arguments.out, html_report(report, words, css=_CSS + (_BACK_CSS.format(len(back), len(back)) if back else ""))
    )
    print(arguments.out)
    return 0
