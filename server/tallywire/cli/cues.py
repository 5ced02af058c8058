"""The commands `cues`, which prints the cues of a recorded heat, and `wording`, which prints the words they use."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from pathlib import Path

from tallywire.cli.files import strangers
from tallywire.cli.without_forecast import GoesOnWithout
from tallywire.core.cues.cue import Cue
from tallywire.core.cues.script import cue_script
from tallywire.core.cues.wording import Wording, script_lines
from tallywire.core.errors import BadFile, Problem
from tallywire.core.facts import Fact
from tallywire.core.fold.book import CompetitionBook
from tallywire.core.model.competition import Competition
from tallywire.shell.files import load_competition, load_recording, load_text
from tallywire.wire.catalogue import LANGUAGES
from tallywire.wire.cue_wording import default_wording, read_wording, wording_text


def add_commands(commands: argparse._SubParsersAction[argparse.ArgumentParser]) -> None:
    """Add cues and wording."""
    cues = commands.add_parser("cues", help="print the cues of a recorded heat with their times")
    cues.add_argument("competition", type=Path, metavar="COMPETITION")
    cues.add_argument("recording", type=Path, metavar="RECORDING")
    cues.add_argument("--heat", help="which heat, when the recording holds several")
    cues.add_argument(
        "--wording", type=Path, metavar="FILE", help="words of your own, as `tallywire wording` prints them"
    )
    cues.set_defaults(run=run_cues)
    wording = commands.add_parser("wording", help="print the words of the cues as one file, to be changed")
    wording.add_argument("--language", choices=LANGUAGES, default=LANGUAGES[0], help="those of this language")
    wording.set_defaults(run=run_wording)


def run_cues(arguments: argparse.Namespace) -> int:
    """Print one line a cue: heat clock, weight, words."""
    _, _, _, script, wording = heat_script(arguments)
    for line in script_lines(script, wording):
        print(line)
    return 0


def heat_script(
    arguments: argparse.Namespace,
) -> tuple[Competition, str, list[Fact], list[tuple[int, Cue]], Wording]:
    """Give the competition, the heat, the recording's facts, the heat's cues and their wording. Raises BadFile."""
    competition, facts = load_competition(arguments.competition), load_recording(arguments.recording)
    name, heats = str(arguments.recording), list(dict.fromkeys(fact.heat for fact in facts))
    problems = strangers(competition, facts)
    if (arguments.heat or heats[0]) not in heats or (arguments.heat is None and len(heats) > 1):
        problems.append(Problem("heat", arguments.heat or ", ".join(heats), f"one of {', '.join(heats)} with --heat"))
    if problems:
        raise BadFile(name, problems)
    path = arguments.wording
    wording = default_wording(competition.language) if path is None else read_wording(str(path), load_text(path))
    heat = arguments.heat or heats[0]
    earlier, guard = raced_before(competition, heat, facts), GoesOnWithout("cues", heat)
    script = cue_script(competition, heat, facts, earlier=earlier, guard=guard)
    return competition, heat, facts, script, wording


def raced_before(competition: Competition, heat: str, facts: Sequence[Fact]) -> list[Fact]:
    """Give the facts of the heats that started before a heat. For equal times, the order of the file decides."""
    books = CompetitionBook(competition, facts).heats.items()
    starts = {name: book.started.unix_ms for name, book in books if book.started is not None}
    by_time = sorted(starts, key=starts.__getitem__)
    earlier = set(by_time[: by_time.index(heat)] if heat in starts else ())
    return [fact for fact in facts if fact.heat in earlier]


def run_wording(arguments: argparse.Namespace) -> int:
    """Print the wording that comes with the program."""
    print(wording_text(arguments.language), end="")
    return 0
